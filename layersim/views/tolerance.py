"""How forgiving a scheme is: what one slip does, and how alike the models of a batch will be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

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
from layersim.views.parts import Bar, Bars, Beside, Heading, Histogram, Part, View, Words

SHOWN: Final = 14
"""Slips shown of each area; the others do less."""
HABITS: Final = 4
"""Better habits that are told of each area."""
_KINDS: Final = {"mix": "mix", "drop": "drops", "light": "lamp"}


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
    bars = Bars(
        "What one slip does to the finish, ΔE00",
        [_bar(slip) for slip in area.slips[:SHOWN]],
        key="Bar: mean over the tones; thin line: on to the tone that changes most.",
    )
    left: list[Part] = [bars]
    if len(area.slips) > SHOWN:
        left.append(Words([f"{len(area.slips) - SHOWN} more slips do less."], kind="faint"))
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
        slip.what,
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
    return f"{gain.habit}: {chance_words(gain.chance)}, ΔE00 {gain.typical:.1f}."


def _foot(result: Tolerance) -> list[str]:
    mean, most = (max(area.fit_error[i] for area in result.areas) for i in (2, 3))
    return [
        f"The hand: {hand_words(result.scheme.hand)}. Edit these under [hand] in the scheme; the defaults "
        "are "
        "common practice, no source.",
        f"{result.batches} batches, seed {result.seed}. Models are worked out by a fit to the full model, "
        "which "
        f"puts pairs of models off by ΔE00 {mean:.2f} on average, {most:.2f} at most, where it was checked. "
        f"Visible is ΔE00 {result.visible:g} on some tone; {words.SCALE}.",
    ]
