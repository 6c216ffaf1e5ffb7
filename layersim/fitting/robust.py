"""Which swatches do not belong: found by a loss that lets go of what it cannot explain.

A bad swatch is bad as a whole (another ground, a coat miscounted, a thumb on the port), so weights
are by swatch. With t² a swatch's mean square residual in units of its errors, the loss of S. Geman and
D. E. McClure (Bull. Int. Stat. Inst. 52 (1987) 5) gives it the weight

    w = (μ c² / (t² + μ c²))²                                                              (A1)

and μ falls from so large that the loss is a parabola to 1 (M. J. Black and A. Rangarajan, Int. J.
Comput. Vis. 19 (1996) 57; both from memory), which keeps a bad swatch from pulling the first answer
over to its side. What ends with t > c is left out, and the rest fitted anew.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.fitting.problem import Problem
from layersim.fitting.solve import Solution, prior_precision, solve

LARGEST_MISFIT: Final = 3.0
"""c of (A1): a swatch off by three standard errors over its whole spectrum does not belong."""


def settle(problem: Problem) -> tuple[Solution, npt.NDArray[np.bool_]]:
    """Return the fit to the swatches that belong together, and which those are.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    solution : Solution
        Its residuals and reflectances are those of all swatches.
    kept : ndarray of bool, shape (m,)
    """
    m = len(problem.films.names)
    limit = LARGEST_MISFIT**2
    solution = solve(problem)
    misfit = solution.misfit()
    if misfit.max() <= limit or m < 3:
        return solution, np.ones(m, dtype=np.bool_)
    mu = 2.0 * float(misfit.max()) / limit
    while mu > 1.0:
        mu = max(1.0, mu / 1.8)
        weights = (mu * limit / (solution.misfit() + mu * limit)) ** 2
        solution = solve(problem, weights=weights, begin=solution.unknowns)
    kept = solution.misfit() <= limit
    for _ in range(m):
        solution = solve(problem, weights=kept.astype(np.float64), begin=solution.unknowns)
        # A swatch that fits after all comes back; one that does not goes.
        again = solution.misfit() <= limit
        if (again == kept).all():
            break
        kept = again if again.sum() >= kept.sum() else kept & again
    return solution, np.asarray(kept)


def inflation(problem: Problem, solution: Solution, kept: npt.NDArray[np.bool_]) -> float:
    """Return by how much the covariance is too small for the misfit that is left: R. T. Birge's ratio².

    Phys. Rev. 40 (1932) 207. Never below 1: a few swatches may agree by luck.

    Parameters
    ----------
    problem : Problem
    solution : Solution
    kept : ndarray of bool, shape (m,)

    Returns
    -------
    float
    """
    freedom = degrees_of_freedom(problem, solution, kept)
    return max(1.0, solution.chi2 / freedom) if freedom > 0.0 else 1.0


def degrees_of_freedom(problem: Problem, solution: Solution, kept: npt.NDArray[np.bool_]) -> float:
    """Return observed values minus what was effectively fitted to them: n − tr(H⁻¹(H − P)).

    Parameters
    ----------
    problem : Problem
    solution : Solution
    kept : ndarray of bool, shape (m,)

    Returns
    -------
    float
    """
    learnt = solution.information - prior_precision(problem)
    used = float(np.trace(np.linalg.solve(solution.information, learnt)))
    told = np.ones(problem.observed.shape, dtype=np.bool_) if problem.told is None else problem.told
    return float(told[kept].sum()) - used
