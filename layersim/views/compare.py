"""Choices side by side: what differs, how sure that is, and whether it matters."""

from __future__ import annotations

from collections.abc import Sequence

from layersim import colour
from layersim.chance import COVERED
from layersim.decide import words
from layersim.decide.compare import (
    NO_DIFFERENCE,
    AreaComparison,
    ChoiceInArea,
    Comparison,
    Difference,
    difference_words,
    target_words,
)
from layersim.spectra import FloatArray
from layersim.views.parts import Heading, Part, Row, Strips, Table, View, Words
from layersim.views.preview import ENDS, axis_words, ticks, tones


def view(comparison: Comparison) -> View:
    """Return the page of a comparison."""
    viewing = comparison.choices[0].scheme.viewing
    light = f"{viewing.light} ({colour.LIGHTS[viewing.light].split(';')[0]})"
    named = []
    for index, choice in enumerate(comparison.choices):
        said = "; ".join(choice.changes)
        named.append([letter(index), choice.name, said if said != choice.name else ""])
    parts: list[Part] = [Table(["", "", ""], named)]
    for area in comparison.areas:
        parts += _area(area, viewing)
    return View(
        title=comparison.choices[0].scheme.name,
        aside=f"{len(comparison.choices)} choices under {light}. Predicted, not measured.",
        parts=[*parts, Words(_foot(comparison), kind="faint")],
        notices=comparison.notices,
        viewing=viewing,
    )


def letter(index: int) -> str:
    """Return the letter that a choice goes by: A, B, C."""
    return "ABCDEFGH"[index]


def _area(area: AreaComparison, viewing: colour.Viewing) -> list[Part]:
    first = area.choices[0].area
    other = next((c.light for c in area.choices if c.light != viewing.light), viewing.light)
    axis = axis_words(has_preshade=first.has_preshade, viewing=colour.Viewing(other, viewing.observer))
    after = list(dict.fromkeys(name for choice in area.choices for name in choice.area.after_filter))
    parts: list[Part] = [Heading(area.name, "deepest shadow on the left, full highlight on the right")]
    finish = [
        Row(f"finished  {letter(i)}", tones(c.area.lab[-1]), judged=True) for i, c in enumerate(area.choices)
    ]
    numbers = [row for difference in area.differences for row in _numbers(difference)]
    parts.append(Strips([*finish, *numbers], axis=axis, ticks=ticks(first), ends=ENDS))
    if all(choice.area.filter_span is not None for choice in area.choices):
        before = [
            Row(f"before the filter  {letter(i)}", tones(_before(choice)), judged=True)
            for i, choice in enumerate(area.choices)
        ]
        parts.append(Strips(before))
        if after:
            parts.append(
                Words(
                    [f"Between these and the finish come the filter and {words.joined(after)}."], kind="faint"
                )
            )
    for difference in area.differences:
        one, two = area.choices[difference.first].name, area.choices[difference.second].name
        title = f"{letter(difference.second)} ({two}) instead of {letter(difference.first)} ({one})"
        verdict, *rest = difference_words(area, difference)
        parts += [Words([title], kind="strong"), Words([verdict, *rest])]
    if targets := target_words(area):
        parts.append(Words(targets, kind="strong"))
    return [*parts, *_recipes(area)]


def _numbers(difference: Difference) -> list[Row]:
    pair = f"ΔE00 {letter(difference.first)} to {letter(difference.second)}"
    if difference.delta_e.max() < NO_DIFFERENCE:
        return [Row(pair, ["the same", *[""] * (len(difference.delta_e) - 1)])]
    return [
        Row(pair, _one_digit(difference.delta_e), strong=difference.matters.tolist()),
        Row("from", _one_digit(difference.low)),
        Row("to", _one_digit(difference.high)),
        Row("happens anyway", _one_digit(difference.own)),
    ]


def _one_digit(values: FloatArray) -> list[str]:
    return [f"{value:.1f}" for value in values]


def _before(choice: ChoiceInArea) -> FloatArray:
    span = choice.area.filter_span
    lab: FloatArray = choice.area.lab[-1 if span is None else span[0]]
    return lab


def _recipes(area: AreaComparison) -> list[Part]:
    """Return the recipes of the stages in which the choices differ."""
    rows = []
    for row in area.rows:
        recipes = [
            "left out" if own is None else choice.area.stages[own].recipe
            for choice, own in zip(area.choices, row.stages, strict=True)
        ]
        if len(set(recipes)) > 1:
            rows += [
                [row.name if i == 0 else "", letter(i), "the same" if i and recipe == recipes[0] else recipe]
                for i, recipe in enumerate(recipes)
            ]
    return [Words(["What differs"], kind="strong"), Table(["", "", ""], rows)] if rows else []


def _foot(comparison: Comparison) -> Sequence[str]:
    lines = [
        f"From, to: hold {100 * COVERED:.0f} % of outcomes if the same hand sprays both choices from the "
        "same "
        "bottles. Happens anyway: what two sprayings of the same choice, or two spots of one, differ by; "
        f"differences in bold are more than that. ΔE00: {words.SCALE}."
    ]
    if comparison.same:
        lines.append(f"The same in every choice: {words.joined(comparison.same)}.")
    return lines
