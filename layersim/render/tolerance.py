"""How forgiving a scheme is, as a picture: slips ranked by what they do, and what a batch comes to."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from layersim.decide import words
from layersim.decide.tolerance import (
    AreaTolerance,
    Gain,
    Slip,
    Tolerance,
    batch_words,
    chance_words,
    hand_words,
    offered_gains,
)
from layersim.writers.sheet import FAINT, MARGIN, WIDTH, Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SHOWN: Final = 14
"""Slips in the picture of each area; the rest do less."""
HABITS: Final = 4

# Inches.
_LABELS: Final = 3.35
_BARS: Final = 2.00
_BAR: Final = 0.20
_RIGHT: Final = 6.95
_HISTOGRAM: Final = 1.75
_LINE: Final = 0.15
_BINS: Final = 36
# Colours that differ in lightness, too, so that nothing rests on hue alone.
_KINDS: Final = {
    "coats": ("#1f3b63", "coats"),
    "film": ("#3f7cac", "film"),
    "mix": ("#8c5a2b", "mix"),
    "drop": ("#c98b4e", "drops"),
    "bottle": ("#5d6f52", "bottle"),
    "sheen": ("#b9b2a6", "sheen"),
    "light": ("#e0c15a", "lamp"),
}


def tolerance_figure(result: Tolerance) -> Figure:
    """Return the picture of how forgiving a scheme is.

    Parameters
    ----------
    result : Tolerance

    Returns
    -------
    matplotlib.figure.Figure
    """
    foot = [piece for line in foot_words(result) for piece in textwrap.wrap(line, 176)]
    height = 0.62 + 2 * MARGIN + 0.15 + _LINE * len(foot)
    height += sum(_area_height(area, result) for area in result.areas)
    sheet = Sheet(WIDTH, height, result.scheme.viewing)
    y = MARGIN
    sheet.text(MARGIN, y + 0.16, result.scheme.name, size=15, weight="bold")
    said = (
        f"How forgiving it is, and how alike a batch of {result.models} comes out. Predicted, not measured."
    )
    sheet.text(MARGIN, y + 0.42, said, size=8, ink=FAINT)
    y += 0.62
    for area in result.areas:
        _draw_area(sheet, area, result, y)
        y += _area_height(area, result)
    sheet.line(MARGIN, WIDTH - MARGIN, y)
    for row, line in enumerate(foot):
        sheet.text(MARGIN, y + 0.14 + _LINE * row, line, size=6.8, ink=FAINT)
    return sheet.finish()


def foot_words(result: Tolerance) -> list[str]:
    """Return what the figures rest on, in sentences.

    Parameters
    ----------
    result : Tolerance

    Returns
    -------
    list of str
    """
    mean, most = (max(area.fit_error[i] for area in result.areas) for i in (2, 3))
    return [
        f"The hand: {hand_words(result.scheme.hand)}. Edit these under [hand] in the scheme; the defaults "
        "are common practice, no source.",
        f"{result.batches} batches, seed {result.seed}. Models are worked out by a fit to the full model, "
        f"which puts pairs of models off by ΔE00 {mean:.2f} on average, {most:.2f} at most, where it was "
        f"checked. Visible is ΔE00 {result.visible:g} on some tone; {words.SCALE}.",
    ]


def _area_height(area: AreaTolerance, result: Tolerance) -> float:
    bars = 0.62 + _BAR * len(area.slips[:SHOWN])
    beside = 0.62 + _HISTOGRAM + 0.34 + _LINE * len(_batch_lines(area, result))
    return max(bars, beside) + 0.20


def _batch_lines(area: AreaTolerance, result: Tolerance) -> list[tuple[str, bool]]:
    lines: list[tuple[str, bool]] = []
    for sentence in batch_words(area, result.models, result.visible):
        bold = sentence.startswith("What would help")
        lines += [(piece, bold) for piece in textwrap.wrap(_kept(sentence), 58 if bold else 66)]
    for gain in offered_gains(area)[1:HABITS]:
        pieces = textwrap.wrap(_kept(f"Or: {_gain_words(gain)}"), 66, subsequent_indent="   ")
        lines += [(piece, False) for piece in pieces]
    return lines


def _kept(sentence: str) -> str:
    """Return a sentence whose figures are not parted from their units by the end of a line."""
    return sentence.replace(" %", "\u00a0%").replace("ΔE00 ", "ΔE00\u00a0")


def _gain_words(gain: Gain) -> str:
    return f"{gain.habit}: {chance_words(gain.chance)}, ΔE00 {gain.typical:.1f}."


def _draw_area(sheet: Sheet, area: AreaTolerance, result: Tolerance, y: float) -> None:
    sheet.line(MARGIN, WIDTH - MARGIN, y)
    sheet.text(MARGIN, y + 0.22, area.name, size=12, weight="bold")
    _draw_slips(sheet, area, y + 0.40)
    _draw_histogram(sheet, area, result, y + 0.40)


def _draw_slips(sheet: Sheet, area: AreaTolerance, y: float) -> None:
    left = MARGIN + _LABELS
    key = "bar: mean over the tones; thin line: on to the tone that changes most"
    sheet.text(left - 0.08, y + 0.07, key, size=6.5, ink=FAINT, align="right")
    sheet.text(left, y - 0.16, "What one slip does to the finish, mean ΔE00", size=8.5, weight="bold")
    x = left
    for kind in dict.fromkeys(slip.kind for slip in area.slips[:SHOWN]):
        fill, name = _KINDS[kind]
        sheet.block(x, y + 0.02, 0.09, 0.09, fill)
        sheet.text(x + 0.13, y + 0.07, name, size=6.5, ink=FAINT)
        x += 0.24 + 0.058 * len(name)
    y += 0.22
    slips = area.slips[:SHOWN]
    longest = max((slip.most for slip in slips), default=1.0)
    scale = _BARS / max(longest, 1e-9)
    for row, slip in enumerate(slips):
        top = y + _BAR * row
        step = textwrap.shorten(slip.step, 22, placeholder=" …")
        sheet.text(MARGIN, top + 0.5 * _BAR, step, size=7.5, weight="bold")
        # What a slip of light is compared with stands in the scheme, and there is no room for it here.
        said = textwrap.shorten(slip.what.split(" instead of ")[0], 40, placeholder=" …")
        sheet.text(left - 0.08, top + 0.5 * _BAR, said, size=7.5, align="right")
        sheet.block(left, top + 0.02, scale * slip.delta_e, _BAR - 0.05, _KINDS[slip.kind][0])
        # A thin line on to the tone that changes most.
        sheet.block(left, top + 0.5 * _BAR - 0.008, scale * slip.most, 0.008, "#888888")
        sheet.text(left + scale * slip.most + 0.06, top + 0.5 * _BAR, _numbers(slip), size=6.5, ink=FAINT)


def _numbers(slip: Slip) -> str:
    return f"{slip.delta_e:.1f}, at most {slip.most:.1f}{_lightness(slip)}"


def _lightness(slip: Slip) -> str:
    if abs(slip.darker) < words.LEAST_LIGHTNESS:
        return ""
    return f", {'darker' if slip.darker < 0 else 'lighter'}"


def _draw_histogram(sheet: Sheet, area: AreaTolerance, result: Tolerance, y: float) -> None:
    x, wide = _RIGHT, WIDTH - MARGIN - _RIGHT
    title = f"The worst pair in a batch of {result.models}, ΔE00"
    sheet.text(x, y - 0.16, title, size=8.5, weight="bold")
    top = float(np.quantile(area.worst, 0.995)) * 1.05
    beyond_all = max(top, result.visible * 1.3, 0.5)
    tick = _tick(beyond_all)
    # The scale ends on a tick; one bar after it is for all that lies beyond.
    limit = tick * float(np.ceil(beyond_all / tick))
    edges = np.linspace(0.0, limit, _BINS)
    counts = np.histogram(area.worst, bins=[*edges, np.inf])[0]
    end = limit * _BINS / (_BINS - 1)
    tallest = max(int(counts.max()), 1)
    base = y + 0.10 + _HISTOGRAM
    step = wide / _BINS
    for i, count in enumerate(counts):
        tall = (_HISTOGRAM - 0.12) * count / tallest
        beyond = end * (i + 0.5) / _BINS > result.visible
        sheet.block(x + step * i, base - tall, step * 0.92, tall, "#a3533f" if beyond else "#9fb0bd")
    sheet.line(x, x + wide, base, ink="#888888")
    mark = x + wide * result.visible / end
    sheet.block(mark - 0.006, y + 0.06, 0.012, _HISTOGRAM + 0.04, "#222222")
    said = f"visible {result.visible:g}"
    right = mark > x + 0.7 * wide
    sheet.text(mark + (-0.06 if right else 0.06), y + 0.10, said, size=7, align="right" if right else "left")
    for value in np.linspace(0.0, limit, round(limit / tick) + 1)[:-1]:
        sheet.text(x + wide * value / end, base + 0.10, f"{value:.3g}", size=6.5, ink=FAINT, align="center")
    last = f"{limit:.3g}+"
    sheet.text(x + wide * (1.0 - 0.5 / _BINS), base + 0.10, last, size=6.5, ink=FAINT, align="center")
    for row, (line, bold) in enumerate(_batch_lines(area, result)):
        weight = "bold" if bold else "normal"
        sheet.text(x, base + 0.34 + _LINE * row, line, size=7.5, weight=weight)


def _tick(end: float) -> float:
    return next(step for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0) if end / step <= 9.0)


def tolerance_text(result: Tolerance) -> str:
    """Return how forgiving a scheme is as text for a terminal.

    Parameters
    ----------
    result : Tolerance

    Returns
    -------
    str
    """
    rows = [
        f"{result.scheme.name}: how forgiving it is",
        "One slip at a time: mean ΔE00 over the finished tones, and on the tone that changes most.",
    ]
    for area in result.areas:
        rows += ["", area.name]
        wide = max((len(slip.step) for slip in area.slips[:SHOWN]), default=0)
        for slip in area.slips[:SHOWN]:
            numbers = f"{slip.delta_e:5.1f} {slip.most:6.1f}"
            rows.append(f"  {numbers}   {slip.step:<{wide}}  {slip.what}{_lightness(slip)}")
        hidden = len(area.slips) - SHOWN
        if hidden > 0:
            rows.append(f"  {hidden} more slips do less.")
        rows += [f"  {sentence}" for sentence in batch_words(area, result.models, result.visible)]
        rows += [f"  Or: {_gain_words(gain)}" for gain in offered_gains(area)[1:HABITS]]
    if len(result.areas) > 1:
        rows += [
            "",
            f"Over all areas together, the worst pair of a batch differs visibly with a chance of "
            f"{chance_words(result.chance)}.",
        ]
    return "\n".join([*rows, "", *foot_words(result)])
