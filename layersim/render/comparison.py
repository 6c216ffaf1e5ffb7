"""Choices side by side as a picture: stages down, a column a choice, and the ends edge to edge.

Colours are judged where they touch, so before the filter and finished every tone stands right
under the same tone of the other choices, without a gap between them.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from layersim import colour
from layersim.chance import COVERED
from layersim.decide import words
from layersim.decide.choices import Choice
from layersim.decide.compare import (
    NO_DIFFERENCE,
    AreaComparison,
    ChoiceInArea,
    Comparison,
    difference_words,
    target_words,
)
from layersim.render.sheet import FAINT, MARGIN, WIDTH, Sheet
from layersim.render.strip import recipe_lines
from layersim.render.terminal import axis_words, lightness_words, swatch
from layersim.spectra import FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Inches.
_LABELS: Final = 1.45
_GAP: Final = 0.22
_BLOCK: Final = 0.34
_ROW: Final = 0.54
_EDGE: Final = 0.34
_SMALL: Final = 0.11
_NARROW: Final = 1.6
_LINE: Final = 0.15
_LETTERS: Final = 176
_PAGE: Final = 158
_TERMINAL: Final = 100
_SAME: Final = "same recipe"


def letter(index: int) -> str:
    """Return the letter that a choice goes by: A, B, C.

    Parameters
    ----------
    index : int

    Returns
    -------
    str
    """
    return "ABCDEFGH"[index]


def comparison_figure(comparison: Comparison) -> Figure:
    """Return the picture of a comparison.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    matplotlib.figure.Figure
    """
    foot = _foot_lines(comparison)
    heading = _heading_lines(comparison)
    height = 0.70 + _LINE * len(heading) + 2 * MARGIN + 0.15 + _LINE * len(foot)
    height += sum(_area_height(area) for area in comparison.areas)
    viewing = comparison.choices[0].scheme.viewing
    sheet = Sheet(WIDTH, height, viewing)
    y = MARGIN
    sheet.text(MARGIN, y + 0.16, comparison.choices[0].scheme.name, size=15, weight="bold")
    light = f"{viewing.light} ({colour.LIGHTS[viewing.light].split(';')[0]})"
    count = len(comparison.choices)
    sheet.text(MARGIN, y + 0.42, f"{count} choices under {light}. Predicted, not measured.", ink=FAINT)
    y += 0.62
    for row, line in enumerate(heading):
        sheet.text(MARGIN, y + _LINE * row, line, size=8)
    y += _LINE * len(heading) + 0.08
    for area in comparison.areas:
        _draw_area(sheet, area, y)
        y += _area_height(area)
    sheet.line(MARGIN, WIDTH - MARGIN, y)
    for row, line in enumerate(foot):
        sheet.text(MARGIN, y + 0.14 + _LINE * row, line, size=6.8, ink=FAINT)
    return sheet.finish()


def _heading_lines(comparison: Comparison) -> list[str]:
    lines = []
    for index, choice in enumerate(comparison.choices):
        said = "; ".join(choice.changes)
        text = f"{letter(index)}  {choice.name}"
        lines += textwrap.wrap(f"{text}  ({said})" if said and said != choice.name else text, 150)
    return lines


def _foot_lines(comparison: Comparison) -> list[str]:
    lines = [
        f"Ranges hold {100 * COVERED:.0f} % of outcomes if the same hand sprays both choices from the same "
        f"bottles. ΔE00: {words.SCALE}. A dog-ear marks a colour outside what screens can show.",
    ]
    if comparison.same:
        lines.append(f"The same in every choice: {words.joined(comparison.same)}.")
    lines += [f"Note: {notice}." for notice in comparison.notices]
    return [piece for line in lines for piece in textwrap.wrap(line, _LETTERS)]


def _sentences(area: AreaComparison, letters: int) -> list[tuple[str, bool]]:
    """Return what is said under an area in lines of so many letters, and which are headings."""
    lines: list[tuple[str, bool]] = []
    for difference in area.differences:
        if lines:
            lines.append(("", False))
        one, two = area.choices[difference.first].name, area.choices[difference.second].name
        lines.append(
            (f"{letter(difference.second)} ({two}) instead of {letter(difference.first)} ({one}):", True)
        )
        for sentence in difference_words(area, difference):
            lines += [(piece, False) for piece in textwrap.wrap(sentence, letters, subsequent_indent="    ")]
    targets = [
        (piece, True)
        for sentence in target_words(area)
        # Bold letters are wider.
        for piece in textwrap.wrap(sentence, int(0.85 * letters), subsequent_indent="    ")
    ]
    return lines + [("", False)] * bool(targets) + targets


def _area_height(area: AreaComparison) -> float:
    return 0.78 + sum(_row_heights(area)) + _panel_height(area) + _LINE * len(_sentences(area, _PAGE)) + 0.30


def _row_heights(area: AreaComparison) -> list[float]:
    """Return how tall each stage's row is: as its longest recipe asks for."""
    return [_ROW + _SMALL * max(0, max(map(len, recipes)) - 1) for recipes in _recipes(area)]


def _recipes(area: AreaComparison) -> list[list[list[str]]]:
    """Return what stands under each choice's blocks, in lines, for every stage."""
    wide, _ = _columns(area)
    rows = []
    for row in area.rows:
        stages = [
            None if own is None else choice.area.stages[own].recipe
            for choice, own in zip(area.choices, row.stages, strict=True)
        ]
        known = next(i for i, recipe in enumerate(stages) if recipe is not None)
        lines: list[list[str]] = []
        for index, recipe in enumerate(stages):
            if recipe is None:
                lines.append([])
            elif index > known and recipe == stages[known]:
                lines.append([_SAME])
            elif wide > _NARROW:
                lines.append(recipe_lines(recipe, int(wide * 22)))
            else:
                lines.append(["changed"] if index > known else [])
        rows.append(lines)
    return rows


def _axis(area: AreaComparison, viewing: colour.Viewing) -> str:
    """Return what the scale is, which is said of all choices if the light of one calls for it."""
    views = (colour.Viewing(choice.light, viewing.observer) for choice in area.choices)
    other = next((view for view in views if view != colour.Viewing()), viewing)
    return axis_words(has_preshade=area.choices[0].area.has_preshade, viewing=other)


def _over_filter(area: AreaComparison) -> str:
    """Return in words what lies over the filter when all is finished; empty where nothing does."""
    after = dict.fromkeys(name for choice in area.choices for name in choice.area.after_filter)
    return f"{words.joined(list(after))} included" if after else ""


def _panel_height(area: AreaComparison) -> float:
    return 0.40 + _EDGE * len(area.choices) + 0.16 * len(area.differences) + 0.18


def _columns(area: AreaComparison) -> tuple[float, float]:
    """Return the width of a choice's column, and of one tone in it."""
    count = len(area.choices)
    wide = (WIDTH - 2 * MARGIN - _LABELS - _GAP * (count - 1)) / count
    return wide, wide / len(area.choices[0].area.shade)


def _draw_area(sheet: Sheet, area: AreaComparison, y: float) -> None:
    wide, tone_width = _columns(area)
    left = MARGIN + _LABELS
    sheet.line(MARGIN, WIDTH - MARGIN, y)
    sheet.text(MARGIN, y + 0.22, area.name, size=12, weight="bold")
    for index, choice in enumerate(area.choices):
        x = left + (wide + _GAP) * index
        light = "" if choice.light == area.choices[0].light else f"  under {choice.light}"
        # In a narrow column the name stands at the top of the page only.
        title = f"{letter(index)}  {choice.name}{light}" if wide > _NARROW else letter(index)
        title = textwrap.shorten(title, int(wide * 11), placeholder=" …")
        sheet.text(x, y + 0.24, title, size=9, weight="bold")
        if tone_width > 0.2:
            for tone, shade in enumerate(choice.area.shade):
                middle = x + tone_width * (tone + 0.5)
                sheet.text(middle, y + 0.48, lightness_words(shade), size=6, ink=FAINT, align="center")
    axis = _axis(area, sheet.viewing) if tone_width > 0.2 else ""
    sheet.text(left - 0.08, y + 0.48, axis, size=6.5, ink=FAINT, align="right")
    y += 0.60
    for stage, recipes, tall in zip(area.rows, _recipes(area), _row_heights(area), strict=True):
        top = y
        y += tall
        for offset, piece in enumerate(textwrap.wrap(stage.name, 17)[:2]):
            sheet.text(MARGIN, top + 0.12 + 0.16 * offset, piece, size=8.5, weight="bold")
        for index, (choice, own) in enumerate(zip(area.choices, stage.stages, strict=True)):
            x = left + (wide + _GAP) * index
            if own is None:
                sheet.text(x, top + 0.5 * _BLOCK, "left out", size=7.5, ink=FAINT)
                continue
            for tone, lab in enumerate(choice.area.lab[own]):
                number = lightness_words(lab[0]) if tone_width > 0.22 else ""
                sheet.tone(x + tone_width * tone, top, tone_width, _BLOCK, lab, number)
            for line, said in enumerate(recipes[index]):
                ink = "#999999" if said == _SAME else FAINT
                sheet.text(x, top + _BLOCK + 0.08 + _SMALL * line, said, size=6, ink=ink)
    y += 0.18
    _draw_ends(sheet, area, y)
    y += _panel_height(area)
    for row, (sentence, heading) in enumerate(_sentences(area, _PAGE)):
        sheet.text(MARGIN, y + 0.10 + _LINE * row, sentence, size=7.5, weight="bold" if heading else "normal")


def _draw_ends(sheet: Sheet, area: AreaComparison, y: float) -> None:
    """Draw before the filter and finished, every choice right under the one before."""
    filters = all(choice.area.filter_span is not None for choice in area.choices)
    left, whole = MARGIN + _LABELS, WIDTH - 2 * MARGIN - _LABELS
    half = 0.5 * (whole - _GAP)
    included = _over_filter(area)
    finished = textwrap.shorten(f"Finished, {included}" if included else "Finished", 60, placeholder=" …")
    if not filters:
        _draw_panel(sheet, area, finished, left, y, whole, before=False)
        return
    _draw_panel(sheet, area, "Just before the filter", left, y, half, before=True)
    _draw_panel(sheet, area, finished, left + half + _GAP, y, half, before=False)


def _draw_panel(
    sheet: Sheet, area: AreaComparison, title: str, x: float, y: float, wide: float, *, before: bool
) -> None:
    sheet.text(x, y + 0.08, title, size=8.5, weight="bold")
    labs = [_lab_of(choice, before) for choice in area.choices]
    width = wide / len(labs[0])
    beside = x < MARGIN + _LABELS + 0.01
    for row, lab in enumerate(labs):
        top = y + 0.22 + _EDGE * row
        for tone, value in enumerate(lab):
            sheet.tone(x + width * tone, top, width, _EDGE + 0.004, value)
        if beside:
            sheet.text(x - 0.08, top + 0.5 * _EDGE, letter(row), size=7.5, align="right")
    y += 0.22 + _EDGE * len(labs) + 0.10
    for row, difference in enumerate(area.differences):
        shifts = colour.delta_e_2000(labs[difference.first], labs[difference.second])
        if beside:
            pair = f"ΔE00 {letter(difference.first)} to {letter(difference.second)}"
            sheet.text(x - 0.08, y + 0.16 * row, pair, size=6.5, ink=FAINT, align="right")
        if shifts.max() < NO_DIFFERENCE:
            sheet.text(x, y + 0.16 * row, "the same", size=7, ink=FAINT)
            continue
        every = max(1, int(np.ceil(0.26 / width)))
        for tone in range(0, len(shifts), every):
            weight = "bold" if not before and difference.matters[tone] else "normal"
            middle = x + width * (tone + 0.5)
            sheet.text(middle, y + 0.16 * row, f"{shifts[tone]:.1f}", size=7, weight=weight, align="center")
    if not before:
        y += 0.16 * len(area.differences)
        said = "bold: more than what two sprayings of the same, or two spots of one, differ by"
        sheet.text(x, y, said, size=6.5, ink=FAINT)


def _lab_of(choice: ChoiceInArea, before: bool) -> FloatArray:
    span = choice.area.filter_span
    return np.asarray(choice.area.lab[span[0] if before and span is not None else -1])


def comparison_text(comparison: Comparison, *, in_colour: bool) -> str:
    """Return a comparison as text for a terminal.

    Parameters
    ----------
    comparison : Comparison
    in_colour : bool

    Returns
    -------
    str
    """
    first = comparison.choices[0].scheme
    rows = [
        f"{first.name}: {len(comparison.choices)} choices under {first.viewing.light} "
        f"({colour.LIGHTS[first.viewing.light]})",
        *(f"  {line}" for line in _heading_lines(comparison)),
    ]
    for index, area in enumerate(comparison.areas):
        rows += ["", *_area_rows(area, comparison.choices, in_colour=in_colour, explained=index == 0)]
    if comparison.same:
        rows += ["", f"The same in every choice: {words.joined(comparison.same)}."]
    return "\n".join(rows)


def _area_rows(
    area: AreaComparison, choices: Sequence[Choice], *, in_colour: bool, explained: bool
) -> list[str]:
    wide = 19
    shade = area.choices[0].area.shade
    axis = _axis(area, choices[0].scheme.viewing)
    rows = [
        f"{area.name}    (deepest shadow on the left, full highlight on the right)",
        f"  {axis:<{wide}} " + "".join(lightness_words(value).center(6) for value in shade),
    ]

    def blocks(lab: FloatArray, index: int) -> str:
        view = choices[index].scheme.viewing
        return "".join(swatch(v, view, lightness_words(v[0]).center(6), in_colour=in_colour) for v in lab)

    def numbers(values: Sequence[float] | FloatArray) -> str:
        return "".join(f"{value:^6.1f}" for value in values)

    filters = all(choice.area.filter_span is not None for choice in area.choices)
    for before, title in ((True, "before filter L*"), (False, "finished L*")):
        if filters or not before:
            for index, choice in enumerate(area.choices):
                label = f"{title if index == 0 else '':<{wide - 2}}{letter(index):>2}"
                rows.append(f"  {label} {blocks(_lab_of(choice, before), index)}")
    for difference in area.differences:
        pair = f"ΔE00 {letter(difference.first)} to {letter(difference.second)}"
        if difference.delta_e.max() < NO_DIFFERENCE:
            rows.append(f"  {pair:<{wide}} the same")
            continue
        rows.append(f"  {pair:<{wide}} {numbers(difference.delta_e)}")
        rows.append(f"  {'   from':<{wide}} {numbers(difference.low)}")
        rows.append(f"  {'   to':<{wide}} {numbers(difference.high)}")
        rows.append(f"  {'   happens anyway':<{wide}} {numbers(difference.own)}")
    for index, choice in enumerate(area.choices):
        misses = choice.area.target_misses()
        if misses:
            said = ", ".join(f"{key} {miss:.1f}" for key, (_, _, miss) in misses.items())
            rows.append(f"  {'ΔE00 to targets' if index == 0 else '':<{wide - 2}}{letter(index):>2} {said}")
    if included := _over_filter(area):
        rows.append(f"  {'Before filter: just before it. ' if filters else ''}Finished: {included}.")
    if explained:
        rows += [
            f"  From, to: {100 * COVERED:.0f} % of outcomes, the same hand and bottles for both choices.",
            "  Happens anyway: what two sprayings of the same choice, or two spots of one, differ by.",
        ]
    return rows + [f"  {sentence}".rstrip() for sentence, _ in [("", False), *_sentences(area, _TERMINAL)]]
