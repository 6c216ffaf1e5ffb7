"""Choices side by side: what differs, how sure that is, and whether it matters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.chance import COVERED
from layersim.decide.compare import (
    NO_DIFFERENCE,
    SURE,
    AreaComparison,
    ChoiceInArea,
    Comparison,
    Difference,
)
from layersim.decide.eye import GREY_CHROMA, SEEN
from layersim.decide.targets import PLACE_WORDS
from layersim.optics.flakes import TURNED
from layersim.scheme.prediction import AreaPrediction
from layersim.spectra import FloatArray
from layersim.views import metal, words
from layersim.views.metal import look_words
from layersim.views.parts import Heading, Part, Row, Strips, TablePart, View, Words
from layersim.views.preview import ENDS, axis_words, ticks, tones


def view(comparison: Comparison) -> View:
    """Return the page of a comparison."""
    viewing = comparison.choices[0].scheme.viewing
    lamps = [choice.scheme.viewing.light for choice in comparison.choices]
    light = words.lamp_words(viewing.light)
    for i, lamp in enumerate(lamps):
        light += f", {letter(i)} under {words.lamp_words(lamp)}" if lamp != viewing.light else ""
    named = []
    for index, choice in enumerate(comparison.choices):
        said = "; ".join(choice.changes)
        named.append([letter(index), choice.name, said if said != choice.name else ""])
    parts: list[Part] = [TablePart(["", "", ""], named)]
    for area in comparison.areas:
        parts += _area(area, viewing)
    return View(
        title=comparison.choices[0].scheme.name,
        aside=f"{len(comparison.choices)} choices, judged under {light}. Predicted, not measured.",
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
    looks = area.differences[0].looks
    for k, look in enumerate(looks or (None,)):
        what = "finished" if look is None else look_words(look.degrees)
        rows = [
            Row(
                f"{what}  {letter(i)}",
                tones(c.area.lab[-1] if look is None else c.area.looks()[k]),
                judged=True,
            )
            for i, c in enumerate(area.choices)
        ]
        for difference in area.differences:
            if look is None or look.degrees == TURNED:
                rows += _numbers(difference)
            else:
                rows.append(Row(_pair(difference), _one_digit(difference.looks[k].delta_e)))
        parts.append(Strips(rows, axis=axis, ticks=ticks(first), ends=ENDS))
    if looks:
        flop = [(f"{metal.FLOP}  {letter(i)}", c.area) for i, c in enumerate(area.choices)]
        parts.append(Strips([Row(name, metal.flop_cells(one)) for name, one in flop]))
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
    pair = _pair(difference)
    if difference.delta_e.max() < NO_DIFFERENCE:
        return [Row(pair, ["the same", *[""] * (len(difference.delta_e) - 1)])]
    return [
        Row(pair, _one_digit(difference.delta_e), strong=difference.matters.tolist()),
        Row("from", _one_digit(difference.low)),
        Row("to", _one_digit(difference.high)),
        Row("happens anyway", _one_digit(difference.own)),
    ]


def _pair(difference: Difference) -> str:
    return f"ΔE00 {letter(difference.first)} to {letter(difference.second)}"


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
    return [Words(["What differs"], kind="strong"), TablePart(["", "", ""], rows)] if rows else []


def _foot(comparison: Comparison) -> Sequence[str]:
    lines = [
        f"From and to hold {100 * COVERED:.0f} % of outcomes where the same hand sprays both choices from "
        "the same bottles. Happens anyway: by how much two sprayings of one choice, or two spots of it, "
        f"differ. In pictures and on pages, bold differences are seen in {100 * SURE:.0f} % of outcomes. "
        f"ΔE00: {words.SCALE}."
    ]
    if comparison.same:
        lines.append(f"The same in every choice: {words.joined(comparison.same)}.")
    lines += metal.explained([choice.area for area in comparison.areas for choice in area.choices])
    return lines


def places_of(tones: int) -> dict[str, int]:
    """Return the tones that words are said of: the first, the middle and the last."""
    middle = {"mid-tone": tones // 2} if tones > 2 else {}
    return {"shadow": 0, **middle, PLACE_WORDS["light"]: tones - 1}


def difference_words(area: AreaComparison, difference: Difference) -> list[str]:
    """Return what a difference amounts to, in sentences for a painter.

    Returns first whether it matters; then a line each for shadow, mid-tone and light, the filter, the
    lights.
    """
    one, two = area.choices[difference.first], area.choices[difference.second]
    rows = [verdict_words(area, difference)]
    for word, tone in places_of(len(difference.delta_e)).items():
        rows.append(_place_words(word, tone, one, two, difference))
    rows += _look_words(area, difference)
    if difference.before_delta_e is not None:
        rows += _filter_words(difference)
    for light, shift in difference.under.items():
        name = words.lamp_words(light)
        rows.append(f"Under {name}: ΔE00 {shift.mean():.1f} on average, at most {shift.max():.1f}.")
    return rows


def _place_words(word: str, tone: int, one: ChoiceInArea, two: ChoiceInArea, difference: Difference) -> str:
    d, low, high = (float(v[tone]) for v in (difference.delta_e, difference.low, difference.high))
    start = f"{word[0].upper()}{word[1:]}: ΔE00 {d:.1f}"
    if d < NO_DIFFERENCE:
        return f"{start}, the same."
    if high - low >= 0.1:
        start += f" ({low:.1f} to {high:.1f})"
    text = f"{start}, {words.size_words(d)}"
    if d < SEEN:
        return f"{text}."
    text = f"{text}: {words.change_words(one.area.lab[-1, tone], two.area.lab[-1, tone])}"
    before, after = _chroma_losses(one, two, tone)
    if before is not None and after is not None:
        said = words.given_back_words(before, after, step="the filter")
        text += f"; {said}" if said else ""
    return f"{text}."


def _look_words(area: AreaComparison, difference: Difference) -> list[str]:
    """Return how two choices with metal differ from the other sides: on the tone that differs most."""
    said = []
    one, two = (area.choices[i].area.looks() for i in (difference.first, difference.second))
    for k, look in enumerate(difference.looks):
        if look.degrees == TURNED:
            continue
        tone, name = int(look.delta_e.argmax()), look_words(look.degrees)
        start = f"{name[0].upper()}{name[1:]}: ΔE00 {look.delta_e.min():.1f} to {look.delta_e.max():.1f}"
        if look.delta_e.max() < 0.05:
            start = f"{name[0].upper()}{name[1:]}: ΔE00 0.0, the same"
        elif look.delta_e[tone] >= SEEN:
            start += f", at most {words.change_words(one[k, tone], two[k, tone])}"
        said.append(f"{start}.")
    return said


def _worst(difference: Difference) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return ΔE00 of each tone and its range, of metal from the side that shows most of it."""
    each = difference.looks or (difference,)
    values = np.stack([(one.delta_e, one.low, one.high) for one in each])
    found = np.take_along_axis(values, values[:, :1].argmax(axis=0)[np.newaxis], axis=0)[0]
    return found[0], found[1], found[2]


def _chroma_losses(one: ChoiceInArea, two: ChoiceInArea, tone: int) -> tuple[float | None, float | None]:
    """Return the relative change of chroma just before the filter, and at the finish."""
    spans = one.area.filter_span, two.area.filter_span
    if spans[0] is None or spans[1] is None or one.light != two.light:
        return None, None
    ends = []
    for first, second in ((spans[0][0], spans[1][0]), (-1, -1)):
        chroma = colour.lch([one.area.lab[first, tone], two.area.lab[second, tone]])[:, 1]
        if chroma[0] < GREY_CHROMA:
            return None, None
        ends.append(float(chroma[1] / chroma[0] - 1.0))
    return ends[0], ends[1]


def _filter_words(difference: Difference) -> list[str]:
    before, after = difference.before_delta_e, difference.delta_e
    if before is None or max(before.max(), after.max()) < SEEN:
        return []
    if before.max() < NO_DIFFERENCE:
        return ["Up to the filter the two are the same."]
    closer = after.mean() / max(before.mean(), NO_DIFFERENCE)
    if closer < 0.9:
        does = "The filter brings the two closer"
    elif closer > 1.1:
        does = "The filter drives the two further apart"
    else:
        does = "The filter leaves the two as far apart"
    return [f"{does}: on average ΔE00 {before.mean():.1f} before it, {after.mean():.1f} with every coat on."]


def verdict_words(area: AreaComparison, difference: Difference) -> str:
    """Return whether a choice matters, in one sentence."""
    (d, low, high), own = _worst(difference), difference.own
    matters, untold = difference.matters, difference.untold
    pre = area.choices[difference.first].area
    if max(d.max(), high.max()) < NO_DIFFERENCE:
        return "The choice does not matter: the finished tones are the same."
    if not (matters | untold).any():
        return (
            f"The choice does not matter: nobody will see it (ΔE00 {d.max():.1f} at most; half of all people "
            f"see {SEEN:g} side by side)."
        )
    if not matters.any():
        most = int(d.argmax())
        return (
            f"It can't be told whether the choice matters: it makes ΔE00 {low[most]:.1f} to "
            f"{high[most]:.1f} on the tone that changes most, and half of all people see "
            f"{SEEN:g} side by side."
        )
    if matters.all():
        return (
            f"The choice matters on every tone: it makes ΔE00 {d.min():.1f} to {d.max():.1f}, and spraying "
            f"the same twice {own.min():.1f} to {own.max():.1f}."
        )
    rest = (
        f"{words.joined(_runs(untold, pre))} it can't be told"
        if untold.any()
        else "nobody will see it elsewhere"
    )
    return f"The choice matters {words.joined(_runs(matters, pre))}; {rest}."


def _runs(matters: npt.NDArray[np.bool_], area: AreaPrediction) -> list[str]:
    """Return the runs of tones that matter, by the lightness of their preshade."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], matters, [False]]).astype(int)))
    what = "preshade is L*" if area.has_preshade else "share facing the light, in per cent, is"
    runs = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        low, high = area.shade[start], area.shade[end - 1]
        if end - start == 1:
            runs.append(f"where the {what} {low:.0f}")
        elif end == len(matters):
            runs.append(f"from where the {what} {low:.0f} up")
        elif start == 0:
            runs.append(f"up to where the {what} {high:.0f}")
        else:
            runs.append(f"where the {what} {low:.0f} to {high:.0f}")
    return runs


def target_words(area: AreaComparison) -> list[str]:
    """Return how far each choice is from the targets, and which is nearest; empty without targets."""
    means = area.from_targets
    if not means:
        return []
    tones = [miss[0] for miss in area.choices[0].area.target_misses().values()]
    own = float(np.mean([max(c.repeat[t], c.area.mottle[-1, t]) for c in area.choices for t in tones]))
    near = [i for i, mean in enumerate(means) if mean - min(means) <= max(0.5 * own, 0.05)]
    far = [f'"{choice.name}" {mean:.1f}' for choice, mean in zip(area.choices, means, strict=True)]
    if len(near) == len(means):
        return [f"About equally far from the targets, all of them (mean ΔE00: {', '.join(far)})."]
    ranked = sorted(range(len(far)), key=lambda i: means[i])
    nearest = words.joined([far[i] for i in ranked if i in near])
    others = ", ".join(far[i] for i in ranked if i not in near)
    return [f"Nearest to the targets (mean ΔE00): {nearest}; others: {others}."]
