"""What paints are like: kinds of paints, learnt from spectra, that fill in what three channels leave open.

Each kind is a normal distribution of ln K and ln S over all wavelengths: a mean and ten directions or more
(data/fitting/families.csv; how it was learnt is told in data/generate/paint_families.py). Twelve kinds
have scattering that falls with a power of the wavelength, six have that of absorbing particles, which
follows their absorption. A paint is of one of the kinds, nobody knows of which,

    p(θ) = Σ pₖ N(θ; mₖ, Uₖ Uₖᵀ + s² + r²)                                                (Y1)

with s a common shift of ln K and ln S, because a coat of unknown thickness moves both alike, and r
what no direction says. The fit is made with each kind, and each answer weighed by its evidence
after P.-S. Laplace (D. J. C. MacKay, Neural Comput. 4 (1992) 415), with P the prior's and H the
posterior's precision,

    ln wₖ = ln pₖ − ½ χ² + ½ ln det P − ½ ln det H                                         (Y2)

Mean and covariance of the mixture of answers are those of its parts, and of how they differ:

    θ = Σ wₖ θₖ,   C = Σ wₖ (Cₖ + (θₖ − θ)(θₖ − θ)ᵀ)                                       (Y3)
"""

from __future__ import annotations

import dataclasses
import functools
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from layersim.fitting.problem import Belief, FitProblem
from layersim.fitting.robust import settle
from layersim.fitting.solve import ROUGH_STEPS, Solution, prior_precision, solve
from layersim.fitting.two_constant import predict
from layersim.resources import data_folder
from layersim.spectra import BANDS, FloatArray

SHIFT: Final = 0.35
"""s of (Y1): a film may be half or twice what its coats say, two standard deviations."""
REST: Final = 0.06
"""r of (Y1), of each band on its own."""
UNLIKELY: Final = 6.0
"""A kind whose ln w of (Y2) is so far below the best's is not asked again when errors are known better."""
_HEAT: Final = 9
_HEAT_STEPS: Final = 4
"""Of many kinds so many go on that are ahead after so few steps (assumptions: on tuning pigments those that
had a part in the answer were among the first six)."""
LEAST_WEIGHT: Final = 0.01
"""Kinds with less of (Y2) have no part in the answer."""


USUAL_COAT_UM: Final = 4.0
"""Dry film of a coat of the paints that kinds were learnt from (an assumption)."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Kin(Belief):
    """One kind of paints, as a belief."""

    share: float
    """pₖ of (Y1)."""
    mean: FloatArray
    """Shape (62,). ln K and ln S."""
    directions: FloatArray
    """Shape (d, 62). Uₖᵀ."""

    def centre(self) -> FloatArray:
        """Return ln K and ln S of the kind's own mean, shape (62,)."""
        return self.mean

    def covariance(self) -> FloatArray:
        """Return the covariance of (Y1), shape (62, 62)."""
        own = self.directions.T @ self.directions
        return np.asarray(own + SHIFT**2 + REST**2 * np.eye(2 * BANDS))

    def precision(self) -> FloatArray:
        """Return its inverse."""
        return np.asarray(np.linalg.inv(self.covariance()))


Kinds = list[tuple[Kin, FloatArray | None]]
"""Kinds of paints that swatches may be of, each with the unknowns to begin at, or none: its own mean."""


@functools.cache
def kin() -> tuple[Kin, ...]:
    """Return all kinds of paints.

    >>> len(kin()), round(sum(kind.share for kind in kin()), 2)
    (18, 1.0)
    """
    lines = (data_folder() / "fitting" / "families.csv").read_text(encoding="utf-8").splitlines()
    rows: dict[str, dict[str, FloatArray]] = {}
    for line in [line for line in lines if not line.startswith("#")][1:]:
        kind, row, *values = line.split(",")
        rows.setdefault(kind, {})[row] = np.array([float(v) for v in values if v])
    return tuple(
        Kin(
            share=float(own["share"][0]),
            mean=own["mean"],
            directions=np.stack([values for row, values in own.items() if row.startswith("direction")]),
        )
        for own in rows.values()
    )


def kin_of_coats(coat_um: float) -> tuple[Kin, ...]:
    """Return all kinds as paints whose unthinned coat leaves so much film would be of: coats look alike."""
    stronger = np.log(USUAL_COAT_UM / coat_um)
    return tuple(dataclasses.replace(kind, mean=kind.mean + stronger) for kind in kin())


def evidence(problem: FitProblem, solution: Solution, *, share: float) -> float:
    """Return ln w of (Y2), up to a constant.

    `solution`: of that problem. `share`: pₖ.
    """
    before = np.linalg.slogdet(prior_precision(problem))[1]
    after = np.linalg.slogdet(solution.information)[1]
    return float(np.log(share) - 0.5 * solution.chi2 + 0.5 * before - 0.5 * after)


def weights(log_evidence: FloatArray) -> FloatArray:
    """Return the share that each kind has in the answer, summing to 1.

    `log_evidence`: shape (k,). Returns shape (k,).

    >>> weights(np.array([-10.0, -10.0, -30.0]))
    array([0.5, 0.5, 0. ])
    """
    w = np.exp(log_evidence - log_evidence.max())
    w /= w.sum()
    w[w < LEAST_WEIGHT] = 0.0
    return np.asarray(w / w.sum())


def answer_of_kinds(
    problem: FitProblem,
    *,
    kept: FloatArray | npt.NDArray[np.bool_],
    begin: FloatArray | None = None,
    among: Kinds | None = None,
    roughly: bool = False,
) -> tuple[FitProblem, Solution, Kinds]:
    """Return the answer of all kinds of paints together, equation (Y3).

    The problem's own belief does not count; the problem that comes back has the one that the swatches agree
    with best. `kept`, shape (m,), is how much each swatch counts: nothing where it does not belong. All kinds
    are asked, each from its own mean on or from `begin`, or those of `among` alone. The last of the answer
    are the kinds that it may still be. `roughly` asks for these more than for the answer.
    """
    w = np.asarray(kept, dtype=np.float64)
    given = {"rounds": 1, "most_steps": ROUGH_STEPS} if roughly else {}

    def tried(kinds: Kinds, **given: int) -> list[_Tried]:
        return [_try(problem, kind, w, first, **given) for kind, first in kinds]

    kinds: Kinds = [(kind, begin) for kind in kin()] if among is None else among
    if roughly and len(kinds) > _HEAT:
        heat = sorted(tried(kinds, rounds=1, most_steps=_HEAT_STEPS), key=lambda one: -one.evidence)
        kinds = [(one.kind, one.solution.unknowns) for one in heat[:_HEAT]]
    found = tried(kinds, **given)
    each = np.array([one.evidence for one in found])
    best = found[int(each.argmax())]
    mean, covariance = blended([one.solution for one in found], weights(each))
    answer = dataclasses.replace(
        best.solution,
        unknowns=mean,
        information=np.asarray(np.linalg.inv(covariance)),
        # A kind is a prior that is meant, and its part is in χ²: that is as large as what was observed.
        spent=0.0,
        reflectance=predict(problem.films, mean[: problem.films.unknowns]),
    )
    likely: Kinds = [
        (one.kind, one.solution.unknowns) for one in found if one.evidence > best.evidence - UNLIKELY
    ]
    return best.problem, answer, likely


class _Tried(NamedTuple):
    kind: Kin
    problem: FitProblem
    solution: Solution
    evidence: float


def _try(problem: FitProblem, kind: Kin, w: FloatArray, begin: FloatArray | None, **given: int) -> _Tried:
    own = dataclasses.replace(problem, belief=kind)
    if begin is not None:
        # Shared errors may be others than they were.
        known = begin[: problem.films.unknowns]
        begin = np.pad(known, (0, problem.unknowns - len(known)))
    solution = solve(own, weights=w, begin=begin, **given)
    return _Tried(kind, own, solution, evidence(own, solution, share=kind.share))


def settle_kin(
    problem: FitProblem, *, begin: FloatArray | None = None, among: Kinds | None = None
) -> tuple[FitProblem, Solution, npt.NDArray[np.bool_], Kinds]:
    """Return the answer of all kinds of paints to the swatches that belong together.

    As :func:`answer_of_kinds`, and with which swatches these are, shape (m,), before the kinds that it may
    still be.
    """
    every = np.ones(len(problem.films.names), dtype=np.bool_)
    best, solution, likely = answer_of_kinds(problem, kept=every, begin=begin, among=among, roughly=True)
    settled, _, kept = settle(best, begin=solution.unknowns)
    best, solution, likely = answer_of_kinds(settled, kept=kept, among=likely)
    return best, solution, kept, likely


def blended(solutions: list[Solution], w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean and covariance of the mixture, equation (Y3).

    `w`: shape (k,). Returns `mean`, shape (p,). Returns `covariance`, shape (p, p).
    """
    means = np.stack([solution.unknowns for solution in solutions])
    mean = w @ means
    covariance = np.zeros((mean.size, mean.size))
    for share, solution, own in zip(w, solutions, means, strict=True):
        if share > 0.0:
            each = np.linalg.inv(solution.information)
            covariance += share * (0.5 * (each + each.T) + np.outer(own - mean, own - mean))
    return mean, covariance
