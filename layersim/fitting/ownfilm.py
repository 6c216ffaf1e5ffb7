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
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from layersim.errors import FitError, quoted
from layersim.estimate import Estimate
from layersim.fitting.metal import MetalFit
from layersim.fitting.result import Fit
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.swatch import LAID, Sprayed, SwatchSet
from layersim.sprayer import Sprayer, updated

Swatches = TypeVar("Swatches", SwatchSet, PhotographedSet)
AnyFit = TypeVar("AnyFit", bound=Fit | MetalFit)


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


def as_suggested(fit: AnyFit, swatches: SwatchSet | PhotographedSet, sprayer: Sprayer) -> AnyFit:
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


def known_scatter(
    swatches: SwatchSet | PhotographedSet, sprayer: Sprayer | None, film_error: float | None
) -> float | Estimate | None:
    """Return how far one swatch's film may be from what its coats say: as said, or as the profile knows."""
    if sprayer is None or film_error is not None or swatches.laid != LAID[0]:
        return film_error
    return sprayer.film_scatter


@dataclass(frozen=True)
class SeenHand:
    """How uneven a hand is, as the swatches of one paint show it."""

    scatter: Estimate
    paint: str
    miscounted: bool
    """Whether a swatch seems to have other coats than was said: then the scatter is none of the hand's."""


def seen_hand(fit: Fit, swatches: SwatchSet | PhotographedSet, film_error: float | None) -> SeenHand | None:
    """Return what a fit tells of the hand that sprayed its swatches; None where it tells nothing."""
    if fit.hand is None or film_error is not None or swatches.laid != LAID[0]:
        return None
    return SeenHand(fit.hand, fit.paint.name, bool(fit.odd_films or fit.outliers))


def with_hand(before: Sprayer, seen: SeenHand) -> Sprayer | None:
    """Return a profile with how uneven the hand is, so that the next paint is fitted with it.

    None where the profile stays: a swatch seems miscounted, or this paint's are in it already.
    """
    paint = quoted(seen.paint)
    known = before.film_scatter.basis if before.film_scatter is not None else ""
    if seen.miscounted or paint in known:
        return None
    basis = f"{known}, {paint}" if known else f"swatches of {paint}"
    return updated(before, film_scatter=dataclasses.replace(seen.scatter, basis=basis))
