"""A new paint from swatches of a sprayer whose film per coat is known.

Coats tell K f and S f alone, f being the sprayer's film of a coat over what the paint's file says (G1 of
:mod:`layersim.fitting.known`). Without f the film is taken as the file says, f = 1; the paint is then right
for this sprayer's coats alone, and a scheme that names the sprayer would count f a second time. With it

    Xᵢ = f · nᵢ v w                                                                        (G2)

and K and S are per micrometre of the film that lay there: right for every sprayer whose film is known, and
beside other paints in a mix. What f may be off by is left to the sprayer's profile, which a scheme that
names it counts: K and S are off by as much the other way, and for the same sprayer the two cancel.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TypeVar

from layersim.errors import FitError, quoted
from layersim.fitting.result import Fit
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.swatch import Sprayed, SwatchSet
from layersim.sprayer import Sprayer

Swatches = TypeVar("Swatches", SwatchSet, PhotographedSet)


def counted_in_coats(swatch: Sprayed) -> bool:
    """Return whether a swatch's film is known by its coats alone, and so by who sprayed it."""
    return swatch.coats is not None and swatch.dry_film_um is None and not swatch.opaque


def as_sprayed(swatches: Swatches, sprayer: Sprayer) -> Swatches:
    """Return swatches whose coats leave the films of a sprayer, equation (G2).

    Returns their wet film is the sprayer's; :func:`as_suggested` puts the paint's own back after the
    fit. Raises FitError if the sprayer's film is not known, or no swatch depends on it.
    """
    where = swatches.source or Path(swatches.paint)
    name = quoted(sprayer.name)
    if sprayer.film_factor is None or sprayer.film_factor.value == 0.0:
        raise FitError(
            where,
            f"the profile of {name} has no film per coat yet. Spray a card of a paint that is on the shelf, "
            f'then: layersim fit THAT-CARD.toml --known "ITS NAME" --sprayer {name}',
        )
    if not any(counted_in_coats(s) for s in swatches.swatches):
        raise FitError(
            where,
            f"no swatch is counted in coats alone, so the film per coat of {name} does not matter. "
            "Leave --sprayer away.",
        )
    return dataclasses.replace(swatches, wet_film_um=swatches.wet_film_um * sprayer.film_factor.value)


def as_suggested(fit: Fit, swatches: SwatchSet | PhotographedSet, sprayer: Sprayer) -> Fit:
    """Return a fit of :func:`as_sprayed` swatches as a paint for every sprayer.

    `swatches`: as they were written down.
    """
    factor = "" if sprayer.film_factor is None else sprayer.film_factor.words()
    return dataclasses.replace(
        fit,
        paint=dataclasses.replace(
            fit.paint,
            wet_film_um=swatches.wet_film_um,
            film_of=sprayer.name,
            provenance=f"{fit.paint.provenance}, a coat of {quoted(sprayer.name)} being {factor} times this "
            "paint's own",
        ),
    )
