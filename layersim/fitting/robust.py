"""Which swatches do not belong: found by a loss that lets go of what it cannot explain.

A bad swatch is bad as a whole (another ground, a coat miscounted, a thumb on the port), so weights
are by swatch. With t² a swatch's mean square residual in units of its errors, the loss of S. Geman and
D. E. McClure (Bull. Int. Stat. Inst. 52 (1987) 5) gives it the weight

    w = (μ c² / (t² + μ c²))²                                                              (A1)

and μ falls from so large that the loss is a parabola to 1 (M. J. Black and A. Rangarajan, Int. J.
Comput. Vis. 19 (1996) 57; both from memory), which keeps a bad swatch from pulling the first answer
over to its side. What ends with t > c is left out, and the rest fitted anew. Where all swatches are met
less well than their errors say, c grows with their median, since no swatch is then worse than the rest.

What stays counts less the worse it is met: n values of a swatch have a distribution of Student with ν
degrees of freedom around the fit, whose weights are (K. L. Lange, R. J. A. Little and J. M. G. Taylor,
J. Am. Stat. Assoc. 84 (1989) 881; from memory), and never more than 1,

    w = (ν + n) / (ν + n t²)                                                               (A4)
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.fitting.ownerrors import TAILS, at_first, values_left, with_own_errors
from layersim.fitting.problem import FitProblem
from layersim.fitting.solve import ROUGH_STEPS, Solution, solve
from layersim.spectra import BANDS, FloatArray

LARGEST_MISFIT: Final = 3.0
"""c of (A1): a swatch off by three standard errors over its whole spectrum does not belong."""
MOST_LENIENT: Final = 4.0
"""c² grows to this many times at the most (an assumption)."""
_MOST_ROUNDS: Final = 5
_SETTLED: Final = 0.06
_Solver = Callable[..., Solution]


def settle(
    problem: FitProblem, *, begin: FloatArray | None = None, roughly: bool = False
) -> tuple[FitProblem, Solution, npt.NDArray[np.bool_]]:
    """Return the fit to the swatches that belong together, and which those are.

    It starts at `begin`, shape (p,), where that is given; `roughly` stops each fit early. The problem that
    comes back has films that are off by what the swatches say; residuals and reflectances of the solution are
    those of all swatches. The last is false, shape (m,), for swatches that do not belong.
    """
    solver = functools.partial(solve, rounds=1, most_steps=ROUGH_STEPS) if roughly else solve
    kept, solution = _belonging(problem, begin, solver)
    problem, solution = _in_rounds(at_first(problem), solution, kept, solver)
    if kept.all():
        return problem, solution, kept
    # With errors as the others say they are, a swatch may fit after all.
    again = kept | (solution.misfit() <= _limit(solution, kept))
    if not (again == kept).all():
        problem, solution = _in_rounds(problem, solution, again, solver)
    return problem, solution, again


def _belonging(
    problem: FitProblem, begin: FloatArray | None, solve: _Solver
) -> tuple[npt.NDArray[np.bool_], Solution]:
    """Return which swatches belong together, by errors as they are thought beforehand, and a fit to them."""
    m = len(problem.films.names)
    kept = np.ones(m, dtype=np.bool_)
    solution = solve(problem, begin=begin)
    limit = LARGEST_MISFIT**2
    # One bad swatch pulls all others: what it is really off shows once it is let go.
    if solution.misfit().max() <= 0.5 * limit or m < 3:
        return kept, solution
    mu = 2.0 * max(1.0, float(solution.misfit().max()) / limit)
    while mu > 1.0:
        mu = max(1.0, mu / 1.8)
        weights = (mu * limit / (solution.misfit() + mu * limit)) ** 2
        solution = solve(problem, weights=weights, begin=solution.unknowns)
    limit = _limit(solution, kept)
    kept = solution.misfit() <= limit
    for _ in range(m):
        solution = solve(problem, weights=kept.astype(np.float64), begin=solution.unknowns)
        # A swatch that fits after all comes back; one that does not goes.
        again = solution.misfit() <= limit
        if (again == kept).all():
            break
        kept = again if again.sum() >= kept.sum() else kept & again
    return np.asarray(kept), solution


def _limit(solution: Solution, kept: npt.NDArray[np.bool_]) -> float:
    """Return the misfit beyond which a swatch does not belong: more where all are met less well."""
    return LARGEST_MISFIT**2 * min(max(1.0, float(np.median(solution.misfit()[kept]))), MOST_LENIENT)


def _in_rounds(
    problem: FitProblem, solution: Solution, kept: npt.NDArray[np.bool_], solve: _Solver
) -> tuple[FitProblem, Solution]:
    """Return the fit in which swatches have the errors, and count as much, as they say themselves."""
    films = slice(2 * BANDS, 2 * BANDS + len(kept))
    for _ in range(_MOST_ROUNDS):
        before = problem
        problem = with_own_errors(problem, solution, kept)
        unknowns = solution.unknowns.copy()
        unknowns[films] *= _ratio(before.films.film_error, problem.films.film_error)
        solution = solve(problem, weights=kept * tails(solution), begin=unknowns)
        moved = np.concatenate(
            [
                _ratio(problem.films.film_error, before.films.film_error),
                _ratio(np.array([problem.surface_scatter]), np.array([before.surface_scatter])),
                [problem.model_scale / before.model_scale],
            ]
        )
        if np.abs(np.log(moved)).max() < _SETTLED:
            break
    return problem, solution


def _ratio(one: FloatArray, two: FloatArray) -> FloatArray:
    return np.divide(one, two, out=np.ones_like(one), where=two > 0.0)


def tails(solution: Solution) -> FloatArray:
    """Return the weights of (A4)."""
    n = solution.whitened.shape[1]
    spectrum = (solution.whitened**2).mean(axis=1)
    typical = max(1.0, float(np.median(spectrum)))
    return np.asarray(np.minimum(1.0, (TAILS / n + 1.0) / (TAILS / n + spectrum / typical)))


def inflation(problem: FitProblem, solution: Solution, kept: npt.NDArray[np.bool_]) -> float:
    """Return by how much the covariance is too small for the misfit that is left: R. T. Birge's ratio².

    Phys. Rev. 40 (1932) 207. Never below 1: a few swatches may agree by luck.

    `kept`: shape (m,).
    """
    freedom = values_left(problem, solution, kept)
    return max(1.0, solution.chi2 / freedom) if freedom > 0.0 else 1.0
