"""What came out, what was wanted, and the smallest coat that brings them together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from layersim.decide.correction import Corrections
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
    counted = found.targets.counted
    source = "the scheme's own predicted finish" if found.from_prediction else "the area's targets"
    rows = [
        Row("wanted", blocks(found.targets.lab, counted), judged=True),
        Row("came out", blocks(found.found, counted), _off(found.delta_e), judged=True),
    ]
    best = found.smallest
    if best is not None:
        rows.append(Row("then", blocks(best.lab, counted), _off(best.delta_e), judged=True))
    tones = np.flatnonzero(counted)
    middle = tones[len(tones) // 2]
    said = [f"In words: {change_words(found.targets.lab[middle], found.found[middle])}."]
    said += [explanation_words(found)]
    unmixed = unmixed_words(found.shelf, paints_at_most=found.limits.paints_at_most)
    said += [unmixed] if unmixed else []
    parts: list[Part] = [Strips(rows), Words(said)]
    if best is None:
        leave = (
            "Leave it: no thin coat of these paints would bring shadow, middle and light nearer by an amount "
            "worth spraying."
        )
        parts.append(Words([leave], kind="strong"))
    else:
        others = [f"or: {other.coat.words()}: {_off(other.delta_e)}" for other in found.others]
        over = "over the coats that most likely lie there" if found.over_stack else "over an even ground"
        spare = f"Try it on a spare first: it is worked out {over}."
        parts += [
            Words([f"Smallest correction: {best.coat.words()}"], kind="strong"),
            Words([*others, spare]),
        ]
    return View(
        title=f"What came out, against {source}",
        parts=parts,
        notices=(*found.scheme.notices, *notices),
        viewing=found.viewing,
    )


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
