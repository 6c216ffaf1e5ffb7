"""The bench card as one file for a phone: no request goes out, and ticks stay in the browser's own storage.

Plain text templates with every word escaped; the page is well-formed XML, too, so that a strict parser
proves it. A policy inside it forbids whatever would be fetched.
"""

from __future__ import annotations

import unicodedata
from html import escape
from typing import Final

from layersim.bench.content import NOT_MEASURED, SCALES, BenchCard, CardArea, CardStep, Tone, caution_rows

_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'"
_TONE_WIDTH: Final = 60
_STRIP_HEIGHT: Final = 44


def bench_html(card: BenchCard) -> str:
    """Return the card as one HTML file.

    Parameters
    ----------
    card : BenchCard

    Returns
    -------
    str
    """
    count = "one model" if card.models == 1 else f"{card.models} models"
    areas = "\n".join(_area(area, number) for number, area in enumerate(card.areas, start=1))
    notices = "".join(f"<p>Note: {_text(notice)}.</p>\n" for notice in card.notices)
    care = "".join(f"<li>{_text(row)}</li>\n" for row in caution_rows(card))
    note = f"<p>{_text(card.note)}</p>\n" if card.note else ""
    return f"""\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta http-equiv="Content-Security-Policy" content="{_POLICY}"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<meta name="color-scheme" content="light"/>
<title>{_text(card.name)}: bench card</title>
<style>
{_STYLE}</style>
</head>
<body data-card="{card.key}">
<header>
<h1>{_text(card.name)}</h1>
<p>Bench card for {count}. Tones predicted under {_text(card.light)}, deepest shadow on the left.</p>
{note}<p class="warn">{_text(NOT_MEASURED)}</p>
<p class="ticks"><output id="progress" aria-live="polite">Tick what is done.</output>
<button type="button" id="clear">Clear all ticks</button></p>
</header>
<main>
{areas}
<section aria-labelledby="care">
<h2 id="care">Take care</h2>
<ul class="care">
{care}</ul>
</section>
</main>
<footer>
{notices}<p>{_text(SCALES)}</p>
<p>Drops, drying times and tolerances are estimates: common practice and a model, no substitute for a
test piece.</p>
</footer>
<script>
{_SCRIPT}</script>
</body>
</html>
"""


def _area(area: CardArea, number: int) -> str:
    steps = "\n".join(_step(step, f"a{number}s{place}") for place, step in enumerate(area.steps, start=1))
    targets = "".join(_target(key, wanted, miss) for key, wanted, miss in area.targets)
    listed = f'<ul class="targets">\n{targets}</ul>\n' if targets else ""
    sure = f"<p>{_text(area.surest)}.</p>\n" if area.surest else ""
    own = f"a{number}"
    return f"""\
<section aria-labelledby="{own}">
<h2 id="{own}">{_text(area.name)}</h2>
{sure}{listed}<ol class="steps">
{steps}
</ol>
<div class="chip"><p>Real chip of {_text(area.name)}: keep it here when this page is printed, or write down
what you measured and did.</p>
<label for="{own}note">Notes on {_text(area.name)}</label>
<textarea id="{own}note" rows="2"></textarea></div>
</section>"""


def _step(step: CardStep, own: str) -> str:
    rows = [
        (step.recipe, "recipe"),
        (step.mixed_with, ""),
        (step.how, ""),
        (f"Dry: {step.drying}", ""),
        (f"If it slips: {step.tolerance}" if step.tolerance else "", ""),
    ]
    rows += [(warning, "warn") for warning in step.warnings]
    lines = "".join(
        f'<p class="{kind}">{_text(words)}</p>\n' if kind else f"<p>{_text(words)}</p>\n"
        for words, kind in rows
        if words
    )
    boxes = "".join(_box(step, own, place) for place in range(1, step.boxes + 1))
    return f"""\
<li>
<h3>{_text(step.name)}</h3>
{_strip(f"{step.name}, predicted tones from shadow to light", step.tones)}
{lines}<p class="boxes">{boxes}</p>
</li>"""


def _box(step: CardStep, own: str, place: int) -> str:
    words = "done" if step.boxes == 1 else f"coat {place}"
    name = _attribute(f"{step.name}, {words}")
    return (
        f'<label><input type="checkbox" id="{own}c{place}" aria-label="{name}"/><span>{words}</span></label>'
    )


def _target(key: str, wanted: Tone, miss: float) -> str:
    strip = _strip(f"target for {key}", (wanted,))
    return f"<li>{strip}<span>Target for {_text(key)}: finish ΔE00 {miss:.1f} away</span></li>\n"


def _strip(name: str, tones: tuple[Tone, ...]) -> str:
    """Return a row of tones as a picture with a name that tells what it shows."""
    told = ", ".join(f"L* {tone.lab[0]:.0f} {tone.hex}" for tone in tones)
    wide = _TONE_WIDTH * len(tones)
    shapes = []
    for place, tone in enumerate(tones):
        x = _TONE_WIDTH * place
        # A hairline more, so that no seam shows between tones.
        shapes.append(
            f'<rect x="{x}" y="0" width="{_TONE_WIDTH + 1}" height="{_STRIP_HEIGHT}" fill="{tone.hex}"/>'
        )
        ink = "#000" if tone.lab[0] > 55.0 else "#fff"
        if not tone.shown:
            shapes.append(f'<path d="M{x + _TONE_WIDTH - 12} 0h12v12z" fill="#fff"/>')
        at = f'x="{x + _TONE_WIDTH / 2:g}" y="27" text-anchor="middle"'
        shapes.append(f'<text {at} fill="{ink}">{tone.lab[0]:.0f}</text>')
    return (
        f'<svg role="img" aria-label="{_attribute(f"{name}: {told}")}" viewBox="0 0 {wide} {_STRIP_HEIGHT}">'
        f"{''.join(shapes)}</svg>"
    )


def _text(words: str) -> str:
    return escape(_printable(words), quote=False)


def _attribute(words: str) -> str:
    return escape(_printable(words), quote=True)


def _printable(words: str) -> str:
    """Return words without what no page may hold: control characters and halves of pairs."""
    return "".join("\ufffd" if unicodedata.category(letter) in ("Cc", "Cs") else letter for letter in words)


_STYLE: Final = """\
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 44rem; padding: 0.75rem; background: #fff; color: #1d1d1d;
  font: 1rem/1.45 system-ui, sans-serif; overflow-wrap: anywhere; }
h1 { font-size: 1.4rem; margin: 0 0 0.25rem; }
h2 { font-size: 1.2rem; margin: 1.5rem 0 0.25rem; border-top: 2px solid #1d1d1d; padding-top: 0.5rem; }
h3 { font-size: 1.05rem; margin: 0 0 0.25rem; }
p { margin: 0.2rem 0; }
ol.steps { list-style: none; margin: 0; padding: 0; }
ol.steps > li { border-top: 1px solid #bbb; padding: 0.6rem 0; }
svg { display: block; width: 100%; max-width: 28rem; height: auto; border: 1px solid #777;
  font: 16px sans-serif; }
.targets { list-style: none; margin: 0.25rem 0; padding: 0; }
.targets li { display: flex; align-items: center; gap: 0.5rem; margin: 0.25rem 0; }
.targets svg { flex: 0 0 4rem; width: 4rem; }
.recipe { font-weight: 600; }
.warn { background: #fff3d6; border-left: 4px solid #a86a00; padding: 0.25rem 0.5rem; }
.boxes { display: flex; flex-wrap: wrap; gap: 0.25rem 1rem; }
.boxes label { display: inline-flex; align-items: center; gap: 0.4rem; min-height: 2.75rem; }
input[type=checkbox] { width: 1.75rem; height: 1.75rem; margin: 0; }
button { font: inherit; padding: 0.5rem 0.75rem; min-height: 2.75rem; }
.ticks { display: flex; flex-wrap: wrap; align-items: center; gap: 0.5rem 1rem; }
.chip { border: 2px dashed #777; padding: 0.5rem; margin-top: 0.5rem; min-height: 6rem; }
.chip label { display: block; font-weight: 600; }
textarea { width: 100%; font: inherit; }
.care { padding-left: 1.2rem; }
@media print { .ticks, .chip textarea, .chip label { display: none; } ol.steps > li { break-inside: avoid; } }
"""

# No character here needs escaping in XML: no ampersand, no less-than sign.
_SCRIPT: Final = """\
(function () {
  "use strict";
  var key = "bench card " + document.body.dataset.card;
  var fields = Array.from(document.querySelectorAll("input[type=checkbox], textarea"));
  var boxes = fields.filter(function (field) { return field.type === "checkbox"; });
  var said = document.getElementById("progress");
  var kept = {};
  try { kept = JSON.parse(localStorage.getItem(key)) || {}; } catch (fault) { kept = {}; }
  function show() {
    var done = boxes.filter(function (box) { return box.checked; }).length;
    said.textContent = done + " of " + boxes.length + " done";
  }
  function keep() {
    var now = {};
    fields.forEach(function (field) {
      now[field.id] = field.type === "checkbox" ? field.checked : field.value;
    });
    try { localStorage.setItem(key, JSON.stringify(now)); } catch (fault) {
      said.textContent = "This browser does not remember ticks.";
      return;
    }
    show();
  }
  fields.forEach(function (field) {
    if (field.type === "checkbox") { field.checked = kept[field.id] === true; }
    else if (typeof kept[field.id] === "string") { field.value = kept[field.id]; }
    field.addEventListener("input", keep);
  });
  document.getElementById("clear").addEventListener("click", function () {
    if (!window.confirm("Clear all ticks on this card?")) { return; }
    boxes.forEach(function (box) { box.checked = false; });
    keep();
  });
  show();
}());
"""
