"""Recipes that come nearest to the targets, what cannot be reached, and why."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.decide.answer import Answer
from layersim.decide.match import Match
from layersim.decide.reach import Reach
from layersim.decide.recipes import unmixed_words
from layersim.decide.words import PLACE_WORDS, SCALE, light_words, size_words
from layersim.spectra import FloatArray
from layersim.views.parts import Cell, Heading, Part, Row, Strips, Tone, View, Words
from layersim.views.preview import ENDS, lightness_words

_ORDER = (
    "Ordered by closeness, and by how forgiving they are, their number of paints, coats and drops, and "
    "how alike "
    "they stay under other lights."
)


def view(match: Match, reach: Reach | None = None, notices: Sequence[str] = ()) -> View:
    """Return the page of a match."""
    place, viewing, counted = match.place, match.scheme.viewing, match.targets.counted
    what = f'in place of "{place.replaced.name}"' if place.replaced else _after(match)
    now = colour.delta_e_2000(match.before.lab[-1, counted], match.targets.lab[counted])
    wanted = Row("targets", blocks(match.targets.lab, counted), judged=True)
    stands = Row(
        "as it stands",
        blocks(match.before.lab[-1], counted),
        f"ΔE00 mean {now.mean():.1f}, worst {now.max():.1f}",
        judged=True,
    )
    parts: list[Part] = [Strips([wanted, stands], ends=ENDS)]
    if unmixed := unmixed_words(match.shelf.paints, paints_at_most=match.limits.paints_at_most):
        parts.append(Words([unmixed]))
    for number, answer in enumerate(match.answers, start=1):
        parts += _answer(number, answer, match)
    if reach is not None:
        parts += [Heading("Within reach"), *reach_parts(reach)]
    return View(
        title=f"{place.area.name}: {what}",
        aside=f"Matched under {light_words(viewing.light)}, {viewing.observer}° observer. Searched "
        f"{_space(match)}. "
        "Predicted, not measured.",
        parts=[*parts, Words([_ORDER, f"ΔE00: {SCALE}."], kind="faint")],
        notices=[*match.scheme.notices, *notices],
        viewing=viewing,
    )


def blocks(lab: FloatArray, counted: npt.NDArray[np.bool_]) -> list[Cell]:
    """Return blocks of the tones that are asked for, and empty places for the others."""
    return [
        Tone(one, lightness_words(one[0])) if asked else "" for one, asked in zip(lab, counted, strict=True)
    ]


def _after(match: Match) -> str:
    coats = match.place.area.coats
    return f'after "{coats[match.place.at - 1].name}"' if match.place.at else "on the bare pre-shade"


def _space(match: Match) -> str:
    paints, most = len(match.shelf.paints), max(match.findings.best)
    return (
        f"{match.findings.tally.recipes:,} recipes of {'1 to ' if most > 1 else ''}{most} of {paints} "
        f"paint{'' if paints == 1 else 's'}"
    )


def _answer(number: int, answer: Answer, match: Match) -> list[Part]:
    counted = match.targets.counted
    each = iter(answer.delta_e)
    rows = [
        # The target touches the answer, so that the eye judges the difference.
        Row("target", blocks(match.targets.lab, counted), judged=True),
        Row(
            "answer",
            blocks(answer.prediction.lab[-1], counted),
            f"ΔE00 mean {answer.mean:.1f}, worst {answer.worst:.1f} ({size_words(answer.worst)})",
            judged=True,
        ),
        Row("ΔE00", [f"{next(each):.1f}" if asked else "" for asked in counted]),
    ]
    recipe = f"{number}.  {answer.coat.words()}" + (f"; and {answer.change}" if answer.change else "")
    return [
        Words([recipe], kind="strong"),
        Strips(rows),
        Words([_weighed(answer, known=match.wanted is not None)], kind="faint"),
    ]


def _weighed(answer: Answer, *, known: bool) -> str:
    """Return how forgiving an answer is, and how like it stays under other lights."""
    said = [f"one drop wrong moves the tones by ΔE00 {answer.one_drop:.1f}"] if answer.one_drop else []
    said += [f"one coat more by {answer.one_coat:.1f}", f"another session's film by {answer.film:.1f}"]
    name, most = max(answer.lights.items(), key=lambda item: item[1])
    does = "it parts from the target" if known else "its own colour shifts"
    words = "; ".join([*said, f"under {light_words(name)} {does} by {most:.1f}"])
    return f"{words[0].upper()}{words[1:]}."


def reach_parts(reach: Reach) -> list[Part]:
    """Return what is said of targets out of reach, and of what would bring them nearer."""
    if reach.reached:
        return [Words(["The targets are reached."])]
    lines = []
    for miss in reach.misses:
        lines.append(
            f"{PLACE_WORDS.get(miss.place, miss.place)}: ΔE00 {miss.delta_e:.1f} away; from the target to "
            "the best "
            f"answer: {miss.direction}. Why: {miss.why}."
        )
    parts: list[Part] = [Words(["Out of reach over this pre-shade with these paints:"], kind="strong")]
    parts.append(
        Words(lines or ["The targets themselves come near, but tones between them do not."], kind="list")
    )
    if reach.remedies:
        title = (
            f"What would bring it nearer (half of mean and worst tone together; {reach.now:.1f} now "
            "with up to two paints):"
        )
        listed = [f"{remedy.closeness:.1f}  {remedy.what}" for remedy in reach.remedies]
        return [*parts, Words([title], kind="strong"), Words(listed, kind="list")]
    none = (
        "Neither one more paint, another pre-shade, a glossier finish, more coats nor one less above "
        "would bring it "
        "much nearer."
    )
    return [*parts, Words([none])]
