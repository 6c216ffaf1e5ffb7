"""What a prediction says: the finish first, then every stage, and what is in doubt."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layersim import colour
from layersim.chance import COVERED
from layersim.decide.eye import GREY_CHROMA
from layersim.decide.targets import PLACE_WORDS
from layersim.optics.flakes import TURNED
from layersim.scheme.prediction import AreaPrediction, AtAngle, Prediction
from layersim.spectra import FloatArray
from layersim.views import metal
from layersim.views.metal import look_words
from layersim.views.parts import Cell, Heading, Part, Row, Strips, TablePart, Tone, View, Words
from layersim.views.words import SCALE, joined, lamp_words, towards

ENDS = ("deepest shadow", "full highlight")


def view(first: Prediction, *others: Prediction) -> View:
    """Return the page of one scheme, under one light or several; the stages are shown for the first."""
    predictions = [first, *others]
    light = lamp_words(first.viewing.light)
    parts: list[Part] = []
    if len(first.areas) > 1:
        rows = [
            Row(area.name, tones(area.lab[-1]), after=metal.usual_words(area), judged=True)
            for area in first.areas
        ]
        done = "finished, " if all(area.finished for area in first.areas) else ""
        parts += [Heading("All areas", f"{done}from shadow to light"), Strips(rows)]
    for index, area in enumerate(first.areas):
        parts += _area(area, first.viewing)
        if len(predictions) > 1:
            parts += _lights([one.areas[index] for one in predictions], predictions)
    return View(
        title=first.scheme.name,
        aside=f"Predicted under {light}, {first.viewing.observer}° observer. Not measured.",
        parts=[*parts, Words([*_FOOT, *metal.explained(first.areas)], kind="faint")],
        notices=first.notices,
        viewing=first.viewing,
    )


def tones(lab: FloatArray) -> list[Cell]:
    """Return blocks of some colours, shape (tones, 3), with their lightness on them."""
    return [Tone(value, lightness_words(value[0])) for value in lab]


def ticks(area: AreaPrediction) -> list[str]:
    """Return what stands along an area's shade axis."""
    return [lightness_words(value) for value in area.shade]


def lightness_words(L: float) -> str:
    """Return a lightness as a whole number; the same twice is the same number, whatever rounding left of it.

    >>> lightness_words(73.5), lightness_words(73.4999999)
    ('74', '74')
    """
    return f"{round(float(L), 4):.0f}"


def axis_words(*, has_preshade: bool, viewing: colour.Viewing) -> str:
    """Return what the scale over the tones is; it is daylight's under any light.

    >>> axis_words(has_preshade=True, viewing=colour.Viewing("A"))
    'preshade L* (D65)'
    """
    if not has_preshade:
        return "facing the light, %"
    return "preshade L*" if viewing == colour.Viewing() else "preshade L* (D65)"


def _area(area: AreaPrediction, viewing: colour.Viewing) -> list[Part]:
    axis = axis_words(has_preshade=area.has_preshade, viewing=viewing)
    parts: list[Part] = [Heading(area.name, "deepest shadow on the left, full highlight on the right")]
    parts += _finish(area, axis, viewing)
    stages = [
        Row(stage.name, _ranged(area, i), after=sure_words(area, i), under=stage.recipe)
        for i, stage in enumerate(area.stages)
    ]
    parts.append(Strips(stages, axis=axis, ticks=ticks(area), ends=ENDS))
    parts += _filter(area)
    lines = [*metal.under_coats_words(area), *doubt_words(area)]
    return [*parts, Words(lines)] if lines else parts


def doubt_words(area: AreaPrediction) -> list[str]:
    """Return what leaves an area most in doubt; nothing where no range was worked out."""
    if not area.main_causes:
        return []
    worst = (f"{cause.what} (ΔE00 {cause.delta_e:.1f}): {cause.advice}" for cause in area.main_causes)
    return [f"Most in doubt: {'; '.join(worst)}."]


def _finish(area: AreaPrediction, axis: str, viewing: colour.Viewing) -> list[Part]:
    """Return the finish with its targets below it, and its colours in numbers."""
    what = "finish" if area.finished else f"after {area.stages[-1].name}"
    misses = area.target_misses()
    parts: list[Part] = []
    if area.angles:
        turned = [Row(look_words(one.degrees), tones(one.lab[-1]), judged=True) for one in area.angles]
        turned.append(Row(metal.FLOP, metal.flop_cells(area)))
        parts = [
            Words([f"{what[0].upper()}{what[1:]}, turned in the light"], kind="strong"),
            Strips(turned, axis=axis, ticks=ticks(area), ends=ENDS),
        ]
    rows = [Row(what, tones(area.lab[-1]), after=metal.usual_words(area), judged=True)]
    if misses:
        wanted: list[Cell] = [""] * len(area.shade)
        apart: list[Cell] = [""] * len(area.shade)
        for tone, lab, miss in misses.values():
            wanted[tone], apart[tone] = Tone(lab, lightness_words(lab[0])), f"{miss:.1f}"
        rows += [Row("target", wanted, judged=True), Row("ΔE00 between them", apart)]
    last = len(area.shade) - 1
    numbers = []
    places = {last // 2: "mid", 0: "shadow", last: "light"}
    for tone, key in sorted(places.items()):
        for one in area.angles or (area,):
            is_usual = not isinstance(one, AtAngle) or one.degrees == TURNED
            lab = one.lab[-1, tone]
            away = f"target ΔE00 {misses[key][2]:.1f} away" if key in misses and is_usual else ""
            within = (
                f", ΔE00 within {area.reach[-1, tone]:.1f}" if area.reach is not None and is_usual else ""
            )
            numbers.append(
                [
                    PLACE_WORDS[key],
                    *([look_words(one.degrees)] if isinstance(one, AtAngle) else []),
                    screen_words(lab, viewing),
                    lab_words(lab),
                    _range_words(one, tone) + within,
                    away,
                ]
            )
    if misses or not area.angles:
        parts.append(Strips(rows, axis=axis, ticks=ticks(area), ends=ENDS))
    return [*parts, TablePart([""] * len(numbers[0]), numbers)]


def _range_words(area: AreaPrediction | AtAngle, tone: int) -> str:
    if area.lab_low is None or area.lab_high is None:
        return ""
    return f"L* {area.lab_low[-1, tone, 0]:.0f} to {area.lab_high[-1, tone, 0]:.0f}"


def screen_words(lab: FloatArray, viewing: colour.Viewing) -> str:
    """Return what a screen shows of a colour, with a star where it shows less chroma."""
    shown = colour.lab_on_screen(lab, viewing)
    return colour.hex_of(shown.rgb) + ("" if shown.shown else "*")


def lab_words(lab: FloatArray) -> str:
    """Return L*a*b* to one digit."""
    # Adding zero turns a rounded -0.0 into 0.0.
    L, a, b = np.round(lab, 1) + 0.0
    return f"Lab {L:.1f} {a:.1f} {b:.1f}"


def _ranged(area: AreaPrediction, stage: int) -> list[Cell]:
    """Return a stage's tones with the range of their lightness."""
    if area.lab_low is None or area.lab_high is None:
        return tones(area.lab[stage])
    cells: list[Cell] = []
    for lab, low, high in zip(
        area.lab[stage], area.lab_low[stage, :, 0], area.lab_high[stage, :, 0], strict=True
    ):
        wide = high - low >= 0.5
        small = f"{low:.0f}–{high:.0f}" if wide else ""
        cells.append(Tone(lab, lightness_words(lab[0]), small, (low, high) if wide else None))
    return cells


def sure_words(area: AreaPrediction, stage: int) -> str:
    """Return how sure a stage's tones are, and how blotchy; empty where no range was worked out."""
    if area.reach is None:
        return ""
    reach, mottle = float(area.reach[stage].mean()), float(area.mottle[stage].mean())
    said = f"±{reach:.1f}" if area.reach[stage].max() > 0.05 else ""
    said = f"{said}, mottle {mottle:.1f}" if said and mottle >= 0.05 else said
    flop = 0.0 if area.flop_index is None else float(area.flop_index[stage].mean())
    return f"{said}, flop {flop:.1f}" if said and flop >= 0.05 else said


def _filter(area: AreaPrediction) -> list[Part]:
    span = area.filter_span
    if span is None:
        return []
    before, after = (area.lab[i] for i in span)
    still = f" alone, before {joined(area.after_filter)}" if area.after_filter else ""
    rows: list[Row] = []
    for one in area.angles or (area,):
        look = f", {look_words(one.degrees)}" if isinstance(one, AtAngle) else ""
        apart = colour.delta_e_2000(one.lab[span[0]], one.lab[span[1]])
        rows += [
            Row(f"before the filter{look}", tones(one.lab[span[0]]), judged=True),
            Row("after it", tones(one.lab[span[1]]), judged=True),
            Row("ΔE00", [f"{d:.1f}" for d in apart]),
        ]
    turned = f" ({look_words(TURNED)})" if area.angles else ""
    return [Strips(rows), Words([f"The filter{still}{turned}: {shift_words(before, after)}"])]


def shift_words(before: FloatArray, after: FloatArray) -> str:
    """Return in words what a step does to the tones' mean lightness, chroma and hue; (tones, 3) each, L*a*b*.

    >>> shift_words(np.array([[50.0, 0.0, 10.0]]), np.array([[45.0, 0.0, 20.0]]))
    'on the whole 5.0 L* darker, chroma up 10.0.'
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
    return "on the whole " + ", ".join(words) + "."


def _lights(areas: Sequence[AreaPrediction], predictions: Sequence[Prediction]) -> list[Part]:
    """Return the finish under each light, as an eye used to that light sees it."""
    first = predictions[0].viewing
    rows: list[Row] = []
    for area, prediction in zip(areas, predictions, strict=True):
        light = prediction.viewing.light
        lab = colour.lab_alike(area.xyz[-1], under=prediction.viewing, to=first)
        rows.append(Row(f"{light}: {colour.LIGHTS[light].split(';')[0]}", tones(lab), judged=True))
        if light != first.light:
            shift = colour.delta_e_2000(areas[0].lab[-1], lab)
            rows.append(Row(f"ΔE00 from {first.light}", [f"{d:.1f}" for d in shift]))
    what = "The finish" if areas[0].finished else f'"{areas[0].stages[-1].name}"'
    what += f", {look_words(TURNED)}," if areas[0].angles else ""
    return [Words([f"{what} under each light, for an eye used to it"], kind="strong"), Strips(rows)]


_FOOT = [
    f"Numbers on blocks are lightness L*. Smaller ones and bars below, where there is room for them, are the "
    f"range of L* that holds {100 * COVERED:.0f} % of what may come out by your hand, your bottles and the "
    "model's own error; ± is the colour difference ΔE00 that holds as many, averaged over the tones. Mottle: "
    "how far sprayed spots differ from their average, close up.",
    f"ΔE00: {SCALE}.",
]
