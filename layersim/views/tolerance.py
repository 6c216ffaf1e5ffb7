"""How forgiving a scheme is: what one slip does, and how alike the models of a batch will be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from layersim.decide.tolerance import ROUGH, AreaTolerance, Gain, Slip, Tolerance
from layersim.optics.flakes import TURNED
from layersim.scheme.records import Hand
from layersim.views import words
from layersim.views.parts import Bar, Bars, Beside, Heading, Histogram, Part, View, Words

SHOWN: Final = 14
"""Slips shown of each area; the others do less."""
HABITS: Final = 4
"""Better habits that are told of each area."""
_KINDS: Final = {"drop": "drops", "light": "lamp", "greys": "film", "passes": "coats", "left out": "coats"}


def view(result: Tolerance, notices: Sequence[str] = ()) -> View:
    """Return the page of a scheme's tolerance."""
    parts: list[Part] = []
    for area in result.areas:
        parts += [Heading(area.name), *_area(area, result)]
    if len(result.areas) > 1:
        said = (
            "Over all areas together, the worst pair of a batch differs visibly with a chance of "
            f"{chance_words(result.chance)}."
        )
        parts += [Heading("All areas"), Words([said])]
    return View(
        title=f"{result.scheme.name}: how forgiving it is",
        aside=f"One slip at a time, and how alike a batch of {result.models} comes out. Predicted, not "
        "measured.",
        parts=[*parts, Words(_foot(result), kind="faint")],
        notices=[*result.scheme.notices, *notices],
        viewing=result.scheme.viewing,
    )


def _area(area: AreaTolerance, result: Tolerance) -> list[Part]:
    # No hand makes a lamp: what one does stands by itself.
    slips = [slip for slip in area.slips if slip.kind != "light"]
    bars = Bars(
        "What one slip does to the finish, ΔE00",
        [_bar(slip) for slip in slips[:SHOWN]],
        key="Bar: mean over the tones; thin line: on to the tone that changes most.",
    )
    left: list[Part] = [bars]
    if len(slips) > SHOWN:
        left.append(Words([f"{len(slips) - SHOWN} more slips do less."], kind="faint"))
    lamps = [
        f"{slip_words(slip).replace('seen', 'Seen')}: ΔE00 {slip.delta_e:.1f}, {slip.most:.1f} at most."
        for slip in area.slips
        if slip.kind == "light"
    ]
    if lamps:
        left.append(Words(lamps, kind="faint"))
    first, *batch = batch_words(area, result.models, result.visible)
    batch += [f"Or: {_gain_words(gain)}" for gain in offered_gains(area)[1:HABITS]]
    worst = Histogram(
        f"The worst pair in a batch of {result.models}, ΔE00",
        area.worst,
        result.visible,
        f"visible {result.visible:g}",
    )
    return [Beside(left, [worst, Words([first, *batch])])]


def _bar(slip: Slip) -> Bar:
    turn = turn_word(slip)
    return Bar(
        slip.step,
        slip_words(slip),
        slip.delta_e,
        slip.most,
        f", {turn}" if turn else "",
        _KINDS.get(slip.kind, slip.kind),
    )


def turn_word(slip: Slip) -> str:
    """Return which way a slip turns the finish: "darker", "lighter", or nothing where neither is plain."""
    if abs(slip.darker) < words.LEAST_LIGHTNESS:
        return ""
    return "darker" if slip.darker < 0.0 else "lighter"


def _gain_words(gain: Gain) -> str:
    return f"{habit_words(gain)}: {chance_words(gain.chance)}, ΔE00 {gain.typical:.1f}."


def _foot(result: Tolerance) -> list[str]:
    mean, most = (max(area.fit_error[i] for area in result.areas) for i in (2, 3))
    return [
        f"The hand: {hand_words(result.scheme.hand)}. Edit these under [hand] in the scheme; the defaults "
        "are "
        "common practice, no source.",
        *(
            [f"Metal is judged turned by {TURNED:.0f}° from its glint; near the glint slips may show more."]
            if any(result.scheme[area.name].is_metal for area in result.areas)
            else []
        ),
        f"{result.batches} batches, seed {result.seed}. Models are worked out by a quick stand-in "
        f"for the full model; where it was checked, pairs were off by ΔE00 {mean:.2f} on average, "
        f"{most:.2f} at most. "
        f"Visible is ΔE00 {result.visible:g} on some tone; {words.SCALE}.",
    ]


def slip_words(slip: Slip) -> str:
    """Return what went wrong, in the direction that does more.

    >>> slip_words(Slip("base", "coats", "", -1.0, 1.0, 2.0, 1.0, 0.5))
    'one coat fewer'
    """
    up = slip.change > 0.0
    share = f"{100 * abs(slip.change):.0f} %"
    return {
        "coats": f"one coat {'more' if up else 'fewer'}",
        "passes": f"one pass {'more' if up else 'fewer'}",
        "left out": "left out",
        "film": f"film {share} {'thicker' if up else 'thinner'}",
        "greys": f"greys {abs(slip.change):g} L* {'lighter' if up else 'darker'}",
        "mix": f"{share} {'more' if up else 'less'} {slip.of} in the mix",
        "drop": f"one drop of {slip.of} too {'many' if up else 'few'}",
        "bottle": f"another bottle of {slip.of}",
        "sheen": "a more matt finish" if up else "a glossier finish",
        "light": f"seen under {words.light_words(slip.of)}" if slip.kind == "light" else "",
    }[slip.kind]


def habit_words(gain: Gain) -> str:
    """Return what to do."""
    return {
        "even": f'lay "{gain.step}" twice as evenly from model to model',
        "drift": "stir, clean the tip and spray a test card before every model, so that no film drifts",
        "count": "tick off every coat on a list, so that none is forgotten or doubled",
        "mix": "mix once for the whole batch",
        "varnish": "stir the varnish well and finish all models in one go: half the difference of sheen",
    }[gain.habit]


def offered_gains(result: AreaTolerance) -> tuple[Gain, ...]:
    """Return the habits whose gain shows in the figures as they are printed, what helps most first."""

    def shows(gain: Gain) -> bool:
        # A gain of nearly nothing may yet tip a figure over to the next one: that is none.
        closer = round(result.typical - gain.typical, 1) > 0.0
        rarer = round(result.chance - gain.chance, 2) > 0.0
        return (closer and f"{gain.typical:.1f}" != f"{result.typical:.1f}") or (
            rarer and chance_words(gain.chance) != chance_words(result.chance)
        )

    return tuple(gain for gain in result.gains if shows(gain))


def hand_words(hand: Hand) -> str:
    """Return what a painter's hand is taken to do within a batch, in one sentence."""
    slips = "" if hand.slips == 0.0 else f", a coat missed or doubled once in {1.0 / hand.slips:.0f}"
    mixes = "once" if hand.mixes == 1 else f"{hand.mixes} times"
    return (
        f"films {hand.models * 100:g} % off from model to model, {hand.drift * 100:g} % drift from the first "
        f"model to the last{slips}, each mix made {mixes}, the finish's sheen {hand.sheen:g} off "
        "(of 0 gloss to 1 matt)"
    )


def batch_words(result: AreaTolerance, models: int, visible: float) -> list[str]:
    """Return what a batch will look like and which single habit would help most, in sentences."""
    low, high = np.quantile(result.worst, [0.05, 0.95])
    rows = [
        f"In a batch of {models}, the two models that differ most are typically ΔE00 {result.typical:.1f} "
        f"apart ({low:.1f} to {high:.1f} in 90 % of batches)."
    ]
    rows.append(
        f"Chance that they differ visibly (beyond ΔE00 {visible:g} on some tone): "
        f"{chance_words(result.chance)}."
    )
    if result.fit_error[2] > ROUGH:
        rows.append(
            "With errors this large, the quick stand-in that models are worked out by is off by ΔE00 "
            f"{result.fit_error[2]:.1f}. Take these figures as rough."
        )
    if not result.gains:
        return rows
    offered = offered_gains(result)
    if not offered:
        rows.append("No single habit would help much.")
    else:
        best = offered[0]
        rows.append(
            f"What would help most: {habit_words(best)}. Then the chance is {chance_words(best.chance)}, "
            f"and the two are typically ΔE00 {best.typical:.1f} apart."
        )
    return rows


def chance_words(chance: float) -> str:
    """Return a chance, 0..1, as a percentage that does not pretend to be certain.

    >>> chance_words(0.0), chance_words(0.004), chance_words(0.456), chance_words(0.998)
    ('less than 1 %', 'less than 1 %', '46 %', 'more than 99 %')
    """
    if chance < 0.01:
        return "less than 1 %"
    return "more than 99 %" if chance > 0.99 else f"{chance * 100:.0f} %"
