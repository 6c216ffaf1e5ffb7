"""How sure a paint's record is, in a few lines that a painter can use.

Each doubt counts by what it does to the colours of typical stacks (:mod:`layersim.fitting.doubts`), since
a constant may be known badly where nobody sees it.
"""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import NINETY
from layersim.fitting.doubts import moved_by, typical_stacks
from layersim.paint import BY_SWATCHES, Flakes, Paint, film_words
from layersim.spectra import FloatArray
from layersim.swatchcard import swatch_card

MOST_CAUSES: Final = 3
_COATS: Final = (1, 2, 4)
"""Of metal."""
# Below what anybody sees, a cause is not worth its words.
_LEAST: Final = 0.1
# A clear paint's constants may be 0, of which there is no logarithm: 1/µm that no film shows.
_NONE: Final = 1e-12


def how_sure(paint: Paint) -> list[str]:
    """Return how far a paint may be from its record, and why, as at most two lines."""
    if not paint.doubts:
        return ["How sure this is: not known."]
    if paint.flakes is not None:
        return _how_sure_metal(paint, paint.flakes)
    typical = typical_stacks(
        np.log(np.maximum(paint.K_per_um, _NONE)),
        np.log(np.maximum(paint.S_per_um, _NONE)),
        coat_um=paint.dry_film_um,
        sheen=paint.share_seen,
    )
    shifts = np.stack([moved_by(doubt, sheen=paint.sheen) for doubt in paint.doubts])
    variance = ((typical.change @ shifts.T) ** 2).sum(axis=0)
    tones = "over dark, middle and light tones"
    return _lines(paint, "half a coat to four", tones, variance, len(typical.films.names))


def _how_sure_metal(paint: Paint, own: Flakes) -> list[str]:
    """Return the same for metal: each doubt counts by what it does to the swatches from every side."""

    def seen(one: Paint) -> FloatArray:
        card, viewing = swatch_card(one, coats=_COATS), colour.Viewing()
        each = [(angle.over_black, angle.over_white) for angle in card.angles]
        return colour.lab_from_xyz(colour.xyz(each, viewing), viewing.white)

    usual = seen(paint)
    variance = []
    for doubt in paint.doubts:
        flakes = dataclasses.replace(
            own,
            cover_per_um=min(own.cover_per_um * float(np.exp(doubt.log_cover)), 100.0),
            tilt_deg=min(own.tilt_deg * float(np.exp(doubt.log_tilt)), 60.0),
            rough=float(np.clip(own.rough + doubt.rough, 0.0, 1.0)),
        )
        off = dataclasses.replace(
            paint,
            K_per_um=paint.K_per_um * np.exp(doubt.log_K),
            S_per_um=paint.S_per_um * np.exp(doubt.log_S),
            sheen=float(np.clip(paint.sheen + doubt.sheen, 0.0, 1.0)),
            flakes=flakes,
        )
        variance.append((colour.delta_e_2000(seen(off), usual) ** 2).sum())
    tones = "over black and white, from every side"
    return _lines(paint, "one to four coats", tones, np.array(variance), usual[..., 0].size)


def _lines(paint: Paint, coats: str, tones: str, variance: FloatArray, stacks: int) -> list[str]:
    """Return what the variance that each doubt makes of some stacks together says."""
    whole = NINETY * float(np.sqrt(variance.sum() / stacks))
    lines = [
        f"How sure: {coats}, unthinned ({film_words(paint.dry_film_um)} dry each), {tones}, lie within "
        f"ΔE00 {whole:.1f} of this, nine times in ten."
    ]
    worst = [
        f"{cause}, ΔE00 {reach:.1f}" for cause, reach in _causes(paint, variance, stacks) if reach >= _LEAST
    ]
    if worst:
        more = f"; and {len(worst) - MOST_CAUSES} more" if len(worst) > MOST_CAUSES else ""
        lines.append(f"Most in doubt: {'; '.join(worst[:MOST_CAUSES])}{more}.")
    return lines


def _causes(paint: Paint, variance: FloatArray, stacks: int) -> list[tuple[str, float]]:
    """Return causes with the ΔE00 that each makes, the largest first; a fit's own count together."""
    own = [
        (float(v), doubt.cause) for doubt, v in zip(paint.doubts, variance, strict=True) if doubt.by_swatches
    ]
    sums: dict[str, float] = {}
    for doubt, v in zip(paint.doubts, variance, strict=True):
        cause = f"{BY_SWATCHES}, mostly {max(own)[1]}" if doubt.by_swatches else doubt.cause
        sums[cause] = sums.get(cause, 0.0) + v
    found = [(cause, NINETY * np.sqrt(v / stacks)) for cause, v in sums.items()]
    return sorted(found, key=lambda one: -one[1])
