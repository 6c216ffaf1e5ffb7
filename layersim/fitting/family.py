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
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.fitting.problem import Belief, Problem
from layersim.fitting.solve import Solution, prior_precision, solve
from layersim.fitting.two_constant import predict
from layersim.resources import data_folder
from layersim.spectra import BANDS, FloatArray

SHIFT: Final = 0.35
"""s of (Y1): a film may be half or twice what its coats say, two standard deviations."""
REST: Final = 0.06
"""r of (Y1), of each band on its own."""
UNLIKELY: Final = 6.0
"""A kind whose ln w of (Y2) is so far below the best's is not asked again when errors are known better."""
_ROUGH_STEPS: Final = 12
_HEAT: Final = 9
_HEAT_STEPS: Final = 4
"""Of many kinds so many go on that are ahead after so few steps (assumptions: on tuning pigments those that
had a part in the answer were among the first six)."""
LEAST_WEIGHT: Final = 0.01
"""Kinds with less of (Y2) have no part in the answer."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Kin(Belief):
    """One kind of paints, as a belief.

    Parameters
    ----------
    share : float
        pₖ of (Y1).
    mean : ndarray, shape (62,)
        ln K and ln S.
    directions : ndarray, shape (d, 62)
        Uₖᵀ.
    """

    share: float
    mean: FloatArray
    directions: FloatArray

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


@functools.cache
def kin() -> tuple[Kin, ...]:
    """Return all kinds of paints.

    Returns
    -------
    tuple of Kin

    Examples
    --------
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


def evidence(problem: Problem, solution: Solution, *, share: float) -> float:
    """Return ln w of (Y2), up to a constant.

    Parameters
    ----------
    problem : Problem
    solution : Solution
        Of that problem.
    share : float
        pₖ.

    Returns
    -------
    float
    """
    before = np.linalg.slogdet(prior_precision(problem))[1]
    after = np.linalg.slogdet(solution.information)[1]
    return float(np.log(share) - 0.5 * solution.chi2 + 0.5 * before - 0.5 * after)


def weights(log_evidence: FloatArray) -> FloatArray:
    """Return the share that each kind has in the answer, summing to 1.

    Parameters
    ----------
    log_evidence : ndarray, shape (k,)

    Returns
    -------
    ndarray, shape (k,)

    Examples
    --------
    >>> weights(np.array([-10.0, -10.0, -30.0]))
    array([0.5, 0.5, 0. ])
    """
    w = np.exp(log_evidence - log_evidence.max())
    w /= w.sum()
    w[w < LEAST_WEIGHT] = 0.0
    return np.asarray(w / w.sum())


def answer_of_kinds(
    problem: Problem,
    *,
    kept: FloatArray | npt.NDArray[np.bool_],
    begin: FloatArray | None = None,
    among: Sequence[Kin] | None = None,
    roughly: bool = False,
) -> tuple[Problem, Solution, tuple[Kin, ...]]:
    """Return the answer of all kinds of paints together, equation (Y3).

    Parameters
    ----------
    problem : Problem
        Its own belief does not count.
    kept : ndarray, shape (m,)
        How much each swatch counts: nothing where it does not belong.
    begin : ndarray, shape (p,), optional
        Where to begin; each kind's own mean by default.
    among : sequence of Kin, optional
        The kinds that it may be; all by default.
    roughly : bool
        Whether the likely kinds are wanted more than the answer.

    Returns
    -------
    problem : Problem
        With the belief that the swatches agree with best.
    solution : Solution
    likely : tuple of Kin
        Those that it may still be.
    """
    kinds = tuple(kin() if among is None else among)
    w = np.asarray(kept, dtype=np.float64)

    def tried(kind: Kin, begin: FloatArray | None, **given: int) -> tuple[float, Problem, Solution]:
        own = dataclasses.replace(problem, belief=kind)
        solution = solve(own, weights=w, begin=begin, **given)
        return evidence(own, solution, share=kind.share), own, solution

    begins = [begin] * len(kinds)
    if roughly and len(kinds) > _HEAT:
        heat = [tried(kind, begin, rounds=1, most_steps=_HEAT_STEPS) for kind in kinds]
        ahead = np.argsort([-found[0] for found in heat])[:_HEAT].tolist()
        kinds, begins = tuple(kinds[i] for i in ahead), [heat[i][2].unknowns for i in ahead]
    given = {"rounds": 1, "most_steps": _ROUGH_STEPS} if roughly else {}
    found = [tried(kind, first, **given) for kind, first in zip(kinds, begins, strict=True)]
    each = np.array([one[0] for one in found])
    problems, solutions = [one[1] for one in found], [one[2] for one in found]
    best = int(each.argmax())
    mean, covariance = blended(solutions, weights(each))
    answer = dataclasses.replace(
        solutions[best],
        unknowns=mean,
        information=np.asarray(np.linalg.inv(covariance)),
        reflectance=predict(problem.films, mean[: problem.films.unknowns]),
    )
    likely = tuple(kind for kind, own in zip(kinds, each, strict=True) if own > each[best] - UNLIKELY)
    return problems[best], answer, likely


def blended(solutions: list[Solution], w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean and covariance of the mixture, equation (Y3).

    Parameters
    ----------
    solutions : list of Solution, length k
    w : ndarray, shape (k,)

    Returns
    -------
    mean : ndarray, shape (p,)
    covariance : ndarray, shape (p, p)
    """
    means = np.stack([solution.unknowns for solution in solutions])
    mean = w @ means
    covariance = np.zeros((mean.size, mean.size))
    for share, solution, own in zip(w, solutions, means, strict=True):
        if share > 0.0:
            each = np.linalg.inv(solution.information)
            covariance += share * (0.5 * (each + each.T) + np.outer(own - mean, own - mean))
    return mean, covariance
