"""The swatch strip: stages down, shade axis across, before and after the filter side by side.

Each tone is a block in its predicted colour with its lightness written on it, so that nothing
rests on colour alone. The narrow bar under a block runs through the 90 % range from its darkest
to its lightest. A dog-ear marks a colour that the screen cannot show.
"""

from __future__ import annotations

import dataclasses
import re
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from layersim import colour
from layersim.chance import COVERED
from layersim.decide.words import GREY_CHROMA, PLACE_WORDS, SCALE, joined, towards
from layersim.render.saving import save_figures, save_sheet
from layersim.render.sheet import FAINT, MARGIN, OVERLAP, WIDTH, Sheet
from layersim.render.terminal import axis_words, lightness_words
from layersim.scheme.prediction import AreaPrediction, Prediction
from layersim.spectra import FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Inches.
_LABELS: Final = 3.15
_RIGHT: Final = 0.95
_BLOCK: Final = 0.40
_BAR: Final = 0.09
_ROW: Final = 0.60


def strip_figure(predictions: Sequence[Prediction]) -> Figure:
    """Return the strip of a prediction, or of one scheme under several lights, as a figure.

    The stages are drawn for the first light; the finish is then shown under each.

    Parameters
    ----------
    predictions : sequence of Prediction

    Returns
    -------
    matplotlib.figure.Figure
    """
    return _strip(predictions).finish()


def _strip(predictions: Sequence[Prediction]) -> Sheet:
    first = predictions[0]
    lights = _lights_height(predictions)
    height = 0.62 + 2 * MARGIN + _foot_height(first)
    height += sum(_area_height(area) + lights for area in first.areas)
    sheet = Sheet(WIDTH, height, first.viewing)
    y = MARGIN
    sheet.text(MARGIN, y + 0.16, _cut(first.scheme.name, 80), size=15, weight="bold")
    light = f"{first.viewing.light} ({colour.LIGHTS[first.viewing.light].split(';')[0]})"
    words = f"Predicted tones under {light}, {first.viewing.observer}° observer. Not measured."
    sheet.text(MARGIN, y + 0.42, words, size=8, ink=FAINT)
    y += 0.62
    for index, area in enumerate(first.areas):
        _draw_area(sheet, area, y)
        y += _area_height(area)
        if lights:
            _draw_lights(sheet, [prediction.areas[index] for prediction in predictions], predictions, y)
            y += lights
    _draw_foot(sheet, first, y)
    return sheet


def save_strips(predictions: Sequence[Prediction], path: Path) -> None:
    """Write the strip as PNG or SVG, or as PDF with a page an area, by the ending of the path.

    Parameters
    ----------
    predictions : sequence of Prediction
        One a light.
    path : Path

    Raises
    ------
    OutputError
        If the ending is none of these or the file cannot be written.
    """
    if path.suffix.lower() != ".pdf":
        save_sheet(_strip(predictions), path)
        return
    pages = []
    for index in range(len(predictions[0].areas)):
        alone = [dataclasses.replace(p, areas=(p.areas[index],)) for p in predictions]
        pages.append(strip_figure(alone))
    save_figures(pages, path)


def _area_height(area: AreaPrediction) -> float:
    panels = 0.0
    if area.filter_span is not None:
        panels = 1.40
    if area.target_misses():
        panels = 1.40
    return 0.66 + _ROW * len(area.stages) + panels + 0.25


def _tone_width(area: AreaPrediction) -> float:
    return (WIDTH - 2 * MARGIN - _LABELS - _RIGHT) / len(area.shade)


def _draw_area(sheet: Sheet, area: AreaPrediction, y: float) -> None:
    left, width, tones = MARGIN + _LABELS, _tone_width(area), len(area.shade)
    right = left + width * tones
    sheet.line(MARGIN, WIDTH - MARGIN, y)
    sheet.text(MARGIN, y + 0.22, _cut(area.name, 30), size=12, weight="bold")
    sheet.text(left, y + 0.20, "◀ deepest shadow", size=7.5)
    sheet.text(right, y + 0.20, "full highlight ▶", size=7.5, align="right")
    axis = axis_words(has_preshade=area.has_preshade, viewing=sheet.viewing)
    sheet.text(left - 0.08, y + 0.42, axis, size=6.5, ink=FAINT, align="right")
    every = max(1, int(np.ceil(0.32 / width)))
    for tone in range(0, tones, every):
        sheet.text(
            left + width * (tone + 0.5),
            y + 0.42,
            lightness_words(area.shade[tone]),
            size=6.5,
            ink=FAINT,
            align="center",
        )
    sheet.text(right + 0.12, y + 0.42, "90 % within", size=6.5, ink=FAINT)
    y += 0.54
    for index, stage in enumerate(area.stages):
        top = y + _ROW * index
        _draw_labels(sheet, stage.name, stage.recipe, top)
        _draw_tones(sheet, area, index, left, top, width)
        if area.reach[index].max() > 0.05:
            _draw_ranges(sheet, area, index, left, top + _BLOCK, width)
            sheet.text(right + 0.12, top + 0.15, f"ΔE00 {area.reach[index].mean():.1f}", size=7.5)
            sheet.text(
                right + 0.12, top + 0.34, f"mottle {area.mottle[index].mean():.1f}", size=6.5, ink=FAINT
            )
    y += _ROW * len(area.stages) + 0.14
    if area.filter_span is not None:
        _draw_filter(sheet, area, left, y, width)
    if area.target_misses():
        _draw_targets(sheet, area, y)


def _draw_labels(sheet: Sheet, name: str, recipe: str, top: float) -> None:
    sheet.text(MARGIN, top + 0.10, _cut(name, 38), size=9, weight="bold")
    lines = recipe_lines(recipe, 58)
    if len(lines) > 2:
        lines = [lines[0], textwrap.shorten(" ".join(lines[1:]), 58, placeholder=" …")]
    for row, line in enumerate(lines):
        sheet.text(MARGIN, top + 0.26 + 0.14 * row, line, size=6.5, ink=FAINT)


def recipe_lines(recipe: str, letters: int) -> list[str]:
    """Return a recipe in lines of so many letters, no number parted from what it counts.

    Parameters
    ----------
    recipe : str
    letters : int

    Returns
    -------
    list of str

    Examples
    --------
    >>> recipe_lines("3 coats, 2.4 µm dry", 13)
    ['3 coats,', '2.4 µm dry']
    """
    kept = re.sub(r"(?<=\d) | (?=dry\b)", "\u00a0", recipe)
    return [line.replace("\u00a0", " ") for line in textwrap.wrap(kept, letters)]


def _cut(words: str, most: int) -> str:
    """Return words that leave room for what stands beside them."""
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def _draw_tones(
    sheet: Sheet, area: AreaPrediction, index: int, left: float, top: float, width: float
) -> None:
    for tone, value in enumerate(area.lab[index]):
        low, high = area.lab_low[index, tone, 0], area.lab_high[index, tone, 0]
        words = lightness_words(value[0]) if width > 0.25 else ""
        small = f"{low:.0f}–{high:.0f}" if width > 0.4 and high - low >= 0.5 else ""
        sheet.tone(left + width * tone, top, width, _BLOCK, value, words, small)
        if index == len(area.stages) - 1 and width > 0.5:
            name = colour.hex_of(sheet.screen(value).rgb)
            sheet.text(left + width * (tone + 0.5), top + _ROW - 0.01, name, size=6.5, align="center")


def _draw_ranges(
    sheet: Sheet, area: AreaPrediction, index: int, left: float, top: float, width: float
) -> None:
    for tone in range(len(area.shade)):
        # Lightness runs through its range; hue and chroma stay the prediction's.
        ends = np.repeat(area.lab[index, tone][np.newaxis], 3, axis=0)
        ends[0, 0], ends[2, 0] = area.lab_low[index, tone, 0], area.lab_high[index, tone, 0]
        third = (width - 0.06) / 3
        for i, fill in enumerate(sheet.screen(ends).rgb):
            sheet.block(
                left + width * tone + 0.03 + third * i, top + 0.03, third + OVERLAP, _BAR, fill.tolist()
            )


def _draw_filter(sheet: Sheet, area: AreaPrediction, left: float, y: float, width: float) -> None:
    span, shift = area.filter_span, area.filter_shift()
    if span is None or shift is None:
        return
    before, after = area.lab[span[0]], area.lab[span[1]]
    still = f"; {joined(area.after_filter)} still to come" if area.after_filter else ""
    sheet.text(left, y + 0.10, _cut(f"The filter, before and after{still}", 90), size=8.5, weight="bold")
    for row, (lab, word) in enumerate(((before, "before"), (after, "after"))):
        for tone, value in enumerate(lab):
            sheet.tone(left + width * tone, y + 0.24 + 0.36 * row, width, 0.36, value)
        sheet.text(left - 0.08, y + 0.42 + 0.36 * row, word, size=7.5, align="right")
    every = max(1, int(np.ceil(0.32 / width)))
    for tone in range(0, len(shift), every):
        sheet.text(left + width * (tone + 0.5), y + 1.05, f"{shift[tone]:.1f}", size=7, align="center")
    sheet.text(left - 0.08, y + 1.05, "ΔE00", size=7, ink=FAINT, align="right")
    sheet.text(left, y + 1.23, shift_words(before, after), size=7.5)


def shift_words(before: FloatArray, after: FloatArray) -> str:
    """Return in words what a step does to the tones' mean lightness, chroma and hue.

    Parameters
    ----------
    before, after : ndarray, shape (tones, 3)
        L*a*b*.

    Returns
    -------
    str

    Examples
    --------
    >>> shift_words(np.array([[50.0, 0.0, 10.0]]), np.array([[45.0, 0.0, 20.0]]))
    'On the whole: 5.0 L* darker, chroma up 10.0.'
    """
    one, two = colour.lch(before), colour.lch(after)
    dL, dC = (two - one)[..., :2].mean(axis=0)
    turn = (two[..., 2] - one[..., 2] + 180.0) % 360.0 - 180.0
    weight = np.sqrt(one[..., 1] * two[..., 1])
    words = [
        f"{abs(dL):.1f} L* {'darker' if dL < 0 else 'lighter'}"
        if abs(dL) >= 0.05
        else "no change of lightness",
        f"chroma {'up' if dC > 0 else 'down'} {abs(dC):.1f}" if abs(dC) >= 0.05 else "chroma unchanged",
    ]
    # The hue of a grey means nothing; of colours it is weighted by how much colour there is.
    if weight.mean() > GREY_CHROMA:
        degrees = float((turn * weight).sum() / weight.sum())
        mean_hue = float(np.degrees(np.arctan2(after[..., 2].mean(), after[..., 1].mean())) % 360.0)
        if abs(degrees) >= 1.0:
            words.append(f"hue turned {abs(degrees):.0f}° towards {towards(mean_hue, degrees)}")
    return "On the whole: " + ", ".join(words) + "."


def _draw_targets(sheet: Sheet, area: AreaPrediction, y: float) -> None:
    sheet.text(MARGIN, y + 0.10, "Finished tones against the targets", size=8.5, weight="bold")
    for column, (key, (tone, wanted, miss)) in enumerate(area.target_misses().items()):
        x = MARGIN + 0.82 * column
        sheet.tone(x, y + 0.24, 0.72, 0.36, area.lab[-1, tone], "finish")
        sheet.tone(x, y + 0.60, 0.72, 0.36, wanted, "target")
        sheet.text(x + 0.36, y + 1.05, f"ΔE00 {miss:.1f}", size=7, align="center")
        sheet.text(x + 0.36, y + 1.23, PLACE_WORDS[key], size=7.5, align="center")


def _lights_height(predictions: Sequence[Prediction]) -> float:
    return 0.0 if len(predictions) == 1 else 0.52 + 0.36 * len(predictions)


def _draw_lights(
    sheet: Sheet, areas: Sequence[AreaPrediction], predictions: Sequence[Prediction], y: float
) -> None:
    left, width = MARGIN + _LABELS, _tone_width(areas[0])
    what = "The finish" if areas[0].finished else f"“{areas[0].stages[-1].name}”"
    sheet.text(left, y + 0.10, f"{what} under each light, for an eye used to it", size=8.5, weight="bold")
    for row, (area, prediction) in enumerate(zip(areas, predictions, strict=True)):
        light, top = prediction.viewing.light, y + 0.24 + 0.36 * row
        shift = colour.delta_e_2000(areas[0].lab[-1], area.lab[-1])
        for tone, value in enumerate(area.lab[-1]):
            words = f"{shift[tone]:.1f}" if row and width > 0.25 else ""
            sheet.tone(left + width * tone, top, width, 0.36, value, words)
        words = f"{light}: {colour.LIGHTS[light].split(';')[0]}"
        sheet.text(left - 0.08, top + 0.18, words, size=7.5, align="right")
    words = f"Numbers: ΔE00 from the same tone under {predictions[0].viewing.light}."
    sheet.text(left, y + 0.36 + 0.36 * len(areas), words, size=6.5, ink=FAINT)


def _foot_lines(prediction: Prediction) -> list[str]:
    lines = [
        "Small numbers, and the bars below them (darkest, predicted, lightest), give the range of lightness "
        f"that holds {100 * COVERED:.0f} % of what may come out, by hand, bottles and the model's own error; "
        "“90 % within” is the colour difference that holds as many, averaged over the tones. "
        "Mottle: how far sprayed sites differ from their average, close up.",
        f"A dog-ear marks a colour outside what screens can show (drawn with less chroma). ΔE00: {SCALE}.",
    ]
    for area in prediction.areas:
        if worst := area.main_causes:
            parts = "; ".join(f"{cause.what} (ΔE00 {cause.delta_e:.1f}: {cause.advice})" for cause in worst)
            lines.append(f"{area.name}, what leaves it most in doubt: {parts}.")
    lines += [f"Note: {notice}." for notice in prediction.notices]
    return [piece for line in lines for piece in textwrap.wrap(line, 178)]


def _foot_height(prediction: Prediction) -> float:
    return 0.15 + 0.15 * len(_foot_lines(prediction))


def _draw_foot(sheet: Sheet, prediction: Prediction, y: float) -> None:
    sheet.line(MARGIN, WIDTH - MARGIN, y)
    for row, line in enumerate(_foot_lines(prediction)):
        sheet.text(MARGIN, y + 0.14 + 0.15 * row, line, size=6.8, ink=FAINT)
