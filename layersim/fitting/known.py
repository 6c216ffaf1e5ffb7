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

from layersim.errors import FitError, LayersimError, quoted
from layersim.estimate import Estimate
from layersim.fitting.amiss import refuse_metal
from layersim.fitting.measured import knows_only_nominal_film, problem_of
from layersim.fitting.photocard import card_of
from layersim.fitting.photographed import Progress, read_photographed, silent
from layersim.fitting.problem import Belief, Films, FitProblem, Nuisance
from layersim.fitting.robust import LARGEST_MISFIT, settle
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.swatch import Sprayed, SwatchSet
from layersim.paint import Paint
from layersim.shelf import Shelf
from layersim.spectra import FloatArray

FACTOR_SPREAD: Final = 1.0
"""One standard deviation of ln f beforehand: a third or three times as thick is nothing unheard of."""
HAND: Final = 0.05
"""What one and the same hand does otherwise next time, at the least (common practice, no source)."""
LEAST_SWATCHES: Final = 2


def check_known(paint: Paint, sprayer: str) -> None:
    """Raise LayersimError if a paint's own record cannot tell how thick a sprayer's coats are."""
    if paint.flakes is not None:
        raise LayersimError(f"{quoted(paint.name)} is a metal; expected a paint without flakes")
    if knows_only_nominal_film(paint, sprayer=sprayer):
        raise LayersimError(
            f"{quoted(paint.name)} was itself fitted to counted coats, so it cannot tell how thick your "
            "coats are. Expected a paint whose films were measured (dry_film_um in its swatches), or one "
            "that another hand sprayed. Chips of your own models tell it as well, by the log"
        )


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
    refuse_metal(swatches, where)
    _refuse_unfit(swatches.swatches, where)
    of_known = dataclasses.replace(swatches, wet_film_um=known.wet_film_um, volume_solids=known.volume_solids)
    problem = (
        _photographed(of_known, paints_on, film_error, where, progress or silent)
        if isinstance(of_known, PhotographedSet)
        else _measured(of_known, paints_on, film_error, where)
    )
    problem = dataclasses.replace(problem, films=_as_known(problem.films, known), belief=Belief())
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


def _as_known(films: Films, known: Paint) -> Films:
    """Return films of the paint that is known, and (G1) as their last nuisance.

    Thicker by f is as K and S larger by f.
    """

    def of_paint(name: str, log_K: FloatArray | float, log_S: FloatArray | float) -> Nuisance:
        shift = np.zeros_like(films.known)
        shift[0], shift[1] = log_K, log_S
        return Nuisance(name, shift, np.zeros_like(films.ground), np.zeros(len(films.names)))

    doubts = (of_paint(f"{known.name}: {doubt.words}", doubt.log_K, doubt.log_S) for doubt in known.doubts)
    constants = np.stack([known.K_per_um, known.S_per_um])[:, np.newaxis]
    return dataclasses.replace(
        films,
        share=np.zeros(len(films.names)),
        known=np.broadcast_to(constants, films.known.shape),
        nuisances=(*films.nuisances, *doubts, of_paint(_FACTOR, FACTOR_SPREAD, FACTOR_SPREAD)),
    )


def _measured(
    swatches: SwatchSet, shelf: Shelf, film_error: float | Estimate | None, where: Path
) -> FitProblem:
    problem, _, _ = problem_of(swatches, shelf, {}, where, film_error=film_error)
    return dataclasses.replace(problem, surface_scatter=0.0)


def _photographed(
    swatches: PhotographedSet,
    shelf: Shelf,
    film_error: float | Estimate | None,
    where: Path,
    progress: Progress,
) -> FitProblem:
    progress("reading " + " and ".join(path.name for path in swatches.photographs))
    card = card_of(swatches, read_photographed(swatches), shelf, film_error=film_error, where=where)
    progress("looking for the film that the paint must have had")
    return card.problem
