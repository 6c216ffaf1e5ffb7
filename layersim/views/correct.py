"""What came out, what was wanted, and the smallest coat that brings them together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layersim import colour
from layersim.decide.correction import Corrections
from layersim.spectra import FloatArray
from layersim.views.match import blocks, unmixed_words
from layersim.views.parts import Part, Row, Strips, View, Words
from layersim.views.words import change_words


def view(found: Corrections, viewing: colour.Viewing | None = None, notices: Sequence[str] = ()) -> View:
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
    unmixed = unmixed_words(found.shelf, paints_at_most=found.limits.paints_at_most)
    said += [unmixed] if unmixed else []
    parts: list[Part] = [Strips(rows), Words(said)]
    if best is None:
        leave = "Leave it: no thin coat of these paints would bring it nearer by an amount worth spraying."
        parts.append(Words([leave], kind="strong"))
    else:
        others = [f"or: {other.coat.words()}: {_off(other.delta_e)}" for other in found.others]
        spare = "Try it on a spare first: the spectrum of what came out is estimated from its colour."
        parts += [
            Words([f"Smallest correction: {best.coat.words()}"], kind="strong"),
            Words([*others, spare]),
        ]
    return View(
        title=f"What came out, against {source}",
        parts=parts,
        notices=tuple(notices),
        viewing=viewing or colour.Viewing(),
    )


def _off(delta_e: FloatArray) -> str:
    return f"ΔE00 mean {delta_e.mean():.1f}, worst {delta_e.max():.1f}"
