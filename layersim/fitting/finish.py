"""How a fit ends, whatever it was made from: a paint with its doubts, a verdict and one more swatch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.errors import FitError
from layersim.fitting import verdict as verdicts
from layersim.fitting.doubts import Typical, doubts_from, joint_covariance, typical_stacks
from layersim.fitting.ownerrors import hand_seen, values_left
from layersim.fitting.problem import FitProblem
from layersim.fitting.result import Fit, Outlier, Suggestion, Verdict, far_off
from layersim.fitting.solve import Solution
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.swatch import Sprayed, SwatchSet
from layersim.paint import USUAL_REFLECTION, Doubt, Paint
from layersim.spectra import BANDS, FloatArray

NOMINAL_FILM: Final = "K and S per µm of nominal film"
"""What the provenance of a paint says that was fitted to counted coats; see :mod:`layersim.fitting.films`."""
MEASURED_FILM: Final = "K and S per µm of measured film"
_USUAL_CARD: Final = (
    "Spray half a coat, one, two and four over black and over white, and average several readings."
)


@dataclass(frozen=True, eq=False, kw_only=True)
class Met:
    """How well the swatches are met; arrays have a row a swatch."""

    measured: FloatArray | None
    """Spectra, where spectra were measured, (m, 31)."""
    fitted: FloatArray
    measured_lab: FloatArray
    fitted_lab: FloatArray
    delta_e: FloatArray
    residual: float
    """Mean ΔE00 of the swatches that were kept."""
    beyond_noise: float
    """The same without what the noise of their readings explains."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Open:
    """What the swatches leave open."""

    by_paint: FloatArray
    """Covariance of ln K and ln S, the surface taken as known, (62, 62)."""
    surface: Doubt
    sheen: float
    """Of the dry paint."""
    first_reflection: float = USUAL_REFLECTION
    inflation: float
    one_ground: str
    """The ground that all films lie over; empty where there are several."""
    spoilt: str = ""
    """What is wrong with the colours of the photograph; empty where nothing is."""


def finish(
    swatches: SwatchSet | PhotographedSet,
    sprayed: Sequence[Sprayed],
    problem: FitProblem,
    solution: Solution,
    kept: npt.NDArray[np.bool_],
    *,
    met: Met,
    left: Open,
    outliers: tuple[Outlier, ...],
    suggest: Callable[[Typical], Suggestion | None],
    remedy: Callable[[Verdict, Typical], str],
    notices: Callable[[Verdict], Sequence[str]],
    made_from: str,
    provenance: str,
    where: Path,
) -> Fit:
    """Return the fit with its paint.

    `sprayed` are the swatches by which coats are counted; `remedy` says what else would help, and `made_from`
    what the paint was made from, for messages. Raises FitError where a paint is known too badly.
    """
    log_K, log_S = solution.unknowns[:BANDS], solution.unknowns[BANDS : 2 * BANDS]
    film_factor = problem.films.film_factor(solution.unknowns)
    covariance = joint_covariance(left.by_paint, left.surface, sheen=left.sheen)
    full_um = swatches.wet_film_um * swatches.volume_solids
    coat_um = _one_coat_um(sprayed, problem.films.thickness_um, full_um)
    typical = typical_stacks(log_K, log_S, coat_um=coat_um, sheen=left.sheen)
    reach = typical.reach(covariance)
    suggestion = suggest(typical)
    verdict = verdicts.judge(
        reach=reach,
        reach_under=typical.reach_under(covariance),
        residual=met.residual,
        beyond_noise=met.beyond_noise,
        outliers=len(outliers),
        swatches=len(kept),
        one_ground=left.one_ground,
        spoilt=left.spoilt,
        odd_films=int((kept & far_off(film_factor)).sum()),
    )
    also = remedy(verdict, typical)
    if reach > verdicts.LARGEST_REACH:
        most = f"What would help most: {suggestion.words}." if suggestion else ""
        advice = " ".join(part for part in (also, most) if part) or _USUAL_CARD
        raise FitError(
            where,
            f"{made_from} open what the paint looks like in thin coats (ΔE00 {reach:.0f}, nine times in ten; "
            f"expected at most {verdicts.LARGEST_REACH:g}). {advice}",
        )
    counted = any(s.dry_film_um is None and not s.opaque for s in sprayed)
    marked = "" if verdict.grade == "good" else f"{verdict.grade.capitalize()} fit: {verdict.words}."
    films = NOMINAL_FILM if counted else MEASURED_FILM
    paint = Paint(
        name=swatches.paint,
        kind=swatches.kind,
        K_per_um=np.exp(log_K),
        S_per_um=np.exp(log_S),
        volume_solids=swatches.volume_solids,
        wet_film_um=swatches.wet_film_um,
        sheen=left.sheen,
        provenance="; ".join(part for part in (swatches.provenance, provenance, films) if part),
        invented=swatches.invented,
        note=" ".join(part for part in (swatches.note, marked) if part),
        doubts=(left.surface, *doubts_from(left.by_paint, typical, coats_only=counted)),
        carrier=swatches.carrier,
        hazards=swatches.hazards,
        first_reflection=left.first_reflection,
        film_basis="coats" if counted else "measured",
    )
    unsettled = (
        [] if solution.converged else ["the fit had not settled when it was stopped; take it with care"]
    )
    thinning = float(np.median([swatch.thinning for swatch in swatches.swatches]))
    return Fit(
        paint=paint,
        coat_um=full_um / (1.0 + thinning),
        names=problem.films.names,
        measured=met.measured,
        fitted=met.fitted,
        measured_lab=met.measured_lab,
        fitted_lab=met.fitted_lab,
        delta_e=met.delta_e,
        kept=kept,
        film_factor=film_factor,
        outliers=outliers,
        verdict=verdict,
        suggestion=suggestion,
        remedy=also,
        covariance=covariance,
        chi2=solution.chi2,
        freedom=values_left(problem, solution, kept),
        inflation=left.inflation,
        steps=solution.steps,
        notices=(*notices(verdict), *unsettled),
        hand=hand_seen(problem, solution, kept),
    )


def _one_coat_um(sprayed: Sequence[Sprayed], thickness_um: FloatArray, full_um: float) -> float:
    """Return the dry film of one coat as the painter sprays it."""
    each = [
        X / swatch.coats
        for swatch, X in zip(sprayed, thickness_um, strict=False)
        if swatch.coats is not None and np.isfinite(X)
    ]
    # Where no swatch counts coats, one is taken to be half of what an unthinned one leaves (an assumption).
    return float(np.median(each)) if each else 0.5 * full_um
