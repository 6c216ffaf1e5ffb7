"""Boxes to tick and places for notes on a page, which the browser keeps to itself."""

from __future__ import annotations

import hashlib
from typing import Final

POLICY: Final = "script-src 'unsafe-inline'"


def remembering(body: str) -> str:
    """Return what stands between a page's body tags with a script that remembers ticks and notes.

    Another page, or this one with other words, has ticks of its own.
    """
    key = hashlib.sha256(body.encode()).hexdigest()[:12]
    return f'{_PROGRESS}\n{body}\n<script data-page="{key}">\n{_SCRIPT}</script>'


STYLE: Final = """\
body { max-width: 44rem; }
h3 { font-size: 1.05rem; margin: 0 0 0.25rem; }
.tasks { list-style: none; margin: 0; padding: 0; }
.tasks > li { border-top: 1px solid #bbb; padding: 0.6rem 0; break-inside: avoid; }
.tasks .strips { width: 100%; max-width: 28rem; }
.strips th { overflow-wrap: normal; }
.tasks .strips th, .tasks .strips td:not(.tone) { display: none; }
.faint, .under, footer, h2 small, small { font-size: 1rem; }
.boxes, .ticks { display: flex; flex-wrap: wrap; align-items: center; gap: 0.25rem 1rem; }
.boxes label { display: inline-flex; align-items: center; gap: 0.4rem; min-height: 2.75rem; }
input[type=checkbox] { width: 1.75rem; height: 1.75rem; margin: 0; }
button { font: inherit; padding: 0.5rem 0.75rem; min-height: 2.75rem; }
.place { display: block; border: 2px dashed #777; padding: 0.5rem; margin-top: 0.5rem; min-height: 6rem; }
textarea { display: block; width: 100%; font: inherit; }
@media print { .ticks, textarea { display: none; } }
"""

_PROGRESS: Final = """\
<p class="ticks"><output id="progress" aria-live="polite">Tick what is done.</output>
<button type="button" id="clear">Clear all ticks</button></p>"""

# No character here needs escaping in XML: no ampersand, no less-than sign.
_SCRIPT: Final = """\
(function () {
  "use strict";
  var key = "ticks " + document.currentScript.dataset.page;
  var fields = Array.from(document.querySelectorAll("input[type=checkbox], textarea"));
  var boxes = fields.filter(function (field) { return field.type === "checkbox"; });
  var said = document.getElementById("progress");
  var kept = [];
  try { kept = JSON.parse(localStorage.getItem(key)) || []; } catch (fault) { kept = []; }
  function show() {
    var done = boxes.filter(function (box) { return box.checked; }).length;
    said.textContent = done + " of " + boxes.length + " done";
  }
  function keep() {
    show();
    var now = fields.map(function (f) { return f.type === "checkbox" ? f.checked : f.value; });
    try { localStorage.setItem(key, JSON.stringify(now)); } catch (fault) {
      said.textContent = "This browser does not remember ticks.";
    }
  }
  fields.forEach(function (field, place) {
    if (field.type === "checkbox") { field.checked = kept[place] === true; }
    else if (typeof kept[place] === "string") { field.value = kept[place]; }
    field.addEventListener("input", keep);
  });
  document.getElementById("clear").addEventListener("click", function () {
    if (!window.confirm("Clear all ticks on this page?")) { return; }
    boxes.forEach(function (box) { box.checked = false; });
    keep();
  });
  show();
}());
"""
