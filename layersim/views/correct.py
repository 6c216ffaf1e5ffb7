"""What came out, what was wanted, and the smallest coat that brings them together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from layersim.decide.correction import Correction, Corrections
from layersim.decide.diagnosis import Explanation
from layersim.spectra import FloatArray
from layersim.views.match import blocks, unmixed_words
from layersim.views.parts import Part, Row, Strips, View, Words
from layersim.views.tolerance import chance_words
from layersim.views.words import change_words

LIKELY: Final = 3
"""Explanations that are told."""


def view(found: Corrections, notices: Sequence[str] = ()) -> View:
    """Return the page of a correction, seen under the scheme's light."""
    source = "the scheme's own predicted finish" if found.from_prediction else "the area's targets"
    best = found.smallest
    parts = head_parts(found, *([] if best is None else [_then(best, found)]))
    if best is not None:
        parts.append(Words([f"Smallest correction: {best.coat.words()}"], kind="strong"))
        others = [f"or: {other.coat.words()}: {_off(other.delta_e)}" for other in found.others]
        parts += [Words(others)] if others else []
    parts += foot_parts(found)
    return View(
        title=f"What came out, against {source}",
        parts=parts,
        notices=(*found.scheme.notices, *notices),
        viewing=found.viewing,
    )


def head_parts(found: Corrections, *more: Row) -> list[Part]:
    """Return what came out beside what was wanted, and what may have gone wrong; `more` rows touch it."""
    counted = found.targets.counted
    rows = [
        _wanted(found),
        Row("came out", blocks(found.found, counted), _off(found.delta_e), judged=True),
        *more,
    ]
    tones = np.flatnonzero(counted)
    middle = tones[len(tones) // 2]
    said = [f"In words: {change_words(found.targets.lab[middle], found.found[middle])}."]
    said += [explanation_words(found)]
    unmixed = unmixed_words(found.shelf, paints_at_most=found.limits.paints_at_most)
    said += [unmixed] if unmixed else []
    return [Strips(rows), Words(said)]


def answer_parts(answer: Correction, found: Corrections) -> list[Part]:
    """Return one correction beside what was wanted."""
    return [Words([answer.coat.words()], kind="strong"), Strips([_wanted(found), _then(answer, found)])]


def foot_parts(found: Corrections) -> list[Part]:
    """Return what to mind about all corrections, or why there is none."""
    if found.smallest is None:
        leave = (
            "Leave it: no thin coat of these paints would bring shadow, middle and light nearer by an amount "
            "worth spraying."
        )
        return [Words([leave], kind="strong")]
    over = "over the coats that most likely lie there" if found.over_stack else "over an even ground"
    return [Words([f"Try it on a spare first: it is worked out {over}."])]


def _wanted(found: Corrections) -> Row:
    return Row("wanted", blocks(found.targets.lab, found.targets.counted), judged=True)


def _then(answer: Correction, found: Corrections) -> Row:
    return Row("then", blocks(answer.lab, found.targets.counted), _off(answer.delta_e), judged=True)


def explanation_words(found: Corrections) -> str:
    """Return what may have gone wrong, with odds."""
    likely = [one for one in found.explanations[:LIKELY] if one.odds >= 0.05]
    said = [f"{_explained(one)} ({chance_words(one.odds)})" for one in likely]
    if not found.over_stack:
        return "Neither one coat more or fewer nor thicker or thinner films explain what came out."
    return f"What explains it, if one thing went wrong at most: {'; or '.join(said)}."


def _explained(one: Explanation) -> str:
    step = {
        "planned": "every coat as planned",
        "fewer": f'"{one.step}" once too few',
        "more": f'"{one.step}" once too many',
    }[one.kind]
    share = abs(one.film - 1.0)
    films = (
        f", films {100 * share:.0f} % {'thicker' if one.film > 1.0 else 'thinner'}" if share >= 0.05 else ""
    )
    return f"{step}{films}"


def _off(delta_e: FloatArray) -> str:
    return f"ΔE00 mean {delta_e.mean():.1f}, worst {delta_e.max():.1f}"
