"""A sprayer's own film per coat, from swatches of a paint that is known already.

The paint's K and S are known per micrometre, so its swatches tell how many micrometres there are. One
number is common to all of them,

    Xᵢ = f · nᵢ v w                                                                        (G1)

the film of nᵢ coats over what the paint's own file says (M4 of :mod:`layersim.optics.mixing`); it is
fitted beside each swatch's own film and everything that is in doubt about the paint and the grounds.
K f and S f are all that shows, so a bottle stronger than its record looks like a thicker film; the
paint's doubts carry that into the error of f.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import FitError
from layersim.estimate import Estimate
from layersim.fitting.films import ONE_COAT, Maker, films_of, hand_of
from layersim.fitting.measured import grounds_of, surface_of_set
from layersim.fitting.photocard import card_of
from layersim.fitting.photographed import Progress, read_photographed, silent
from layersim.fitting.problem import Belief, Films, Nuisance, Problem, Spectra
from layersim.fitting.robust import LARGEST_MISFIT, settle
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.swatch import Sprayed, SwatchSet
from layersim.paint import Paint
from layersim.shelf import Shelf

FACTOR_SPREAD: Final = 1.0
"""One standard deviation of ln f beforehand: a third or three times as thick is nothing unheard of."""
HAND: Final = 0.05
"""What one and the same hand does otherwise next time, at the least (common practice, no source)."""
LEAST_SWATCHES: Final = 2


def film_factor(
    swatches: SwatchSet | PhotographedSet,
    known: Paint,
    shelf: Shelf | None = None,
    *,
    film_error: float | Estimate | None = None,
    progress: Progress | None = None,
) -> Estimate:
    """Return a sprayer's film per coat over a known paint's own, equation (G1).

    `swatches`: of the known paint; what they say of its solids and wet film does not count, the paint's
    does. `shelf`: where primers are; the usual one by default. `film_error`: how far one swatch's film
    is from what its coats say, one standard deviation, relative: as it is, or as it is thought before
    the swatches are looked at. By default what is usual for how they were laid. `progress`: is told, in
    a few words, what is being done. Raises FitError if the swatches do not tell: too few, opaque, of
    another paint. Raises PhotographError if the photograph cannot be read or trusted.
    """
    paints_on = shelf or Shelf.usual()
    where = swatches.source or Path(swatches.paint)
    _refuse_unfit(swatches.swatches, where)
    problem = (
        _photographed(swatches, known, paints_on, film_error, progress or silent)
        if isinstance(swatches, PhotographedSet)
        else _measured(swatches, known, paints_on, film_error, where)
    )
    problem, solution, kept = settle(problem)
    at = problem.films.unknowns - 1
    everything = np.linalg.inv(solution.information)
    # What the share of the surface in the readings leaves open counts, too.
    open_ = float(everything[at, at]) + float((solution.by_considered[at] ** 2).sum())
    error = FACTOR_SPREAD * math.sqrt(open_)
    if error > 0.5 * FACTOR_SPREAD:
        raise FitError(
            where,
            f'the swatches of "{known.name}" do not tell how thick they are (within a factor of '
            f"{math.exp(1.645 * error):.1f}, nine times in ten). They are opaque, or look like their "
            "ground: take thinner coats, or a paint that shows its ground through.",
        )
    left_out = [name for name, stays in zip(problem.films.names, kept, strict=True) if not stays]
    unlike = ~kept | (solution.misfit() > LARGEST_MISFIT**2)
    if 2 * int(unlike.sum()) >= len(kept):
        raise FitError(
            where,
            f'the swatches do not look like "{known.name}" at any thickness. Is it another paint, or '
            "another bottle of it? Fit it anew without --known.",
        )
    counted = len([s for s in swatches.swatches if s.name not in left_out])
    return Estimate(
        value=float(math.exp(FACTOR_SPREAD * solution.unknowns[at])),
        error=math.hypot(error, HAND),
        basis=f"{counted} swatches of {known.name}"
        + (f"; left out: {', '.join(left_out)}" if left_out else ""),
    )


_FACTOR: Final = "this sprayer's film per coat"


def _refuse_unfit(swatches: Sequence[Sprayed], where: Path) -> None:
    told = [s for s in swatches if s.coats is not None and s.dry_film_um is None and not s.opaque]
    if len(told) < len(swatches) or any(len(s.parts) > 1 for s in swatches):
        raise FitError(
            where, "for a sprayer's film, every swatch must be of the paint alone and counted in coats"
        )
    if len(told) < LEAST_SWATCHES:
        raise FitError(
            where,
            f"found {len(told)} swatch of the known paint; expected {LEAST_SWATCHES} or more, such as half "
            "a coat, one, two and four",
        )


def _of_known(swatches: Sequence[Sprayed], known: Paint) -> list[Sprayed]:
    return [
        Sprayed(
            name=s.name,
            ground=s.ground,
            parts=((known.name, 1.0),),
            thinning=s.thinning,
            coats=s.coats,
            note=s.note,
        )
        for s in swatches
    ]


def _maker(known: Paint, sheen: float, film_error: float | Estimate) -> Maker:
    return Maker(
        wet_film_um=known.wet_film_um,
        volume_solids=known.volume_solids,
        sheen=sheen,
        film_error=film_error,
        parts_error=0.0,
    )


def _with_factor(films: Films) -> Films:
    """Return films with (G1) as the last nuisance: thicker by f is as K and S larger by f."""
    thicker = np.zeros_like(films.known)
    thicker[:, films.thickness_um > 0.0] = FACTOR_SPREAD
    factor = Nuisance(_FACTOR, thicker, np.zeros_like(films.ground), np.zeros(len(films.names)))
    others = (nuisance for nuisance in films.nuisances if nuisance.name != ONE_COAT)
    return dataclasses.replace(films, nuisances=(*others, factor))


def _measured(
    swatches: SwatchSet, known: Paint, shelf: Shelf, film_error: float | Estimate | None, where: Path
) -> Problem:
    surface = surface_of_set(swatches)
    grounds = grounds_of(swatches, shelf, where, surface)
    films = films_of(
        _of_known(swatches.swatches, known),
        grounds=grounds,
        paints={known.name: known},
        maker=dataclasses.replace(
            _maker(
                known,
                max(swatches.surface_share(swatches.sheen) + surface.shift, 0.0),
                hand_of(swatches.laid, film_error),
            ),
            surface=surface,
        ),
    )
    return Problem(
        films=_with_factor(films),
        observation=Spectra(),
        observed=np.stack([s.reflectance for s in swatches.swatches]),
        noise=np.stack([s.noise for s in swatches.swatches]),
        belief=Belief(),
    )


def _photographed(
    swatches: PhotographedSet,
    known: Paint,
    shelf: Shelf,
    film_error: float | Estimate | None,
    progress: Progress,
) -> Problem:
    progress("reading " + " and ".join(path.name for path in swatches.photographs))
    where = swatches.source or swatches.photograph
    card = card_of(swatches, read_photographed(swatches), shelf, film_error=film_error, where=where)
    progress("looking for the film that the paint must have had")
    films = films_of(
        _of_known(card.swatches, known),
        grounds=card.grounds,
        paints={known.name: known},
        maker=_maker(known, swatches.sheen, hand_of(swatches.laid, film_error)),
        bare=card.bare,
    )
    return dataclasses.replace(card.problem, films=_with_factor(films), belief=Belief())
