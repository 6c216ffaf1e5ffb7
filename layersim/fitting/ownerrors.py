"""What swatches say of their own errors: how uneven the hand, how unlike the surfaces, how far off the model.

**Films.** With x the logarithm of a swatch's film over what was meant and e what it was thought to be off by,
all e of one hand share a scale k that the swatches tell, and a coat miscounted may be off by far more than
the rest. So x has a distribution of Student with ν = 4 and scale k e. Its fit is a normal one with
weights λ (K. L. Lange, R. J. A. Little and J. M. G. Taylor, J. Am. Stat. Assoc. 84 (1989) 881; from memory),
in turn with the expected scale (A. P. Dempster, N. M. Laird and D. B. Rubin, J. R. Stat. Soc. B 39 (1977) 1;
from memory). With v the variance of x after the fit, and ν₀ swatches' worth of belief in k = 1,

    λᵢ = (ν + 1) / (ν + xᵢ²/(k eᵢ)²)                                                       (V5)
    k² = (ν₀ + Σ λᵢ (xᵢ² + vᵢ)/eᵢ²) / (ν₀ + N)                                             (V6)

What all films have in common does not show; (V6) leaves it as open as the scale is.

**Surfaces.** No two swatches dry with the same surface. What one holds more or less of the first
reflection, u times k₁, is alike at all wavelengths, 1. It is a part of the errors C of (V4), s in size;
with r the residual,

    u = s² k₁ 1ᵀC⁻¹ r,   var u = s² − s⁴ k₁² 1ᵀC⁻¹ 1,   s² = (ν₀ s₀² + Σ (u² + var u)) / (ν₀ + N)  (V7)

**The model.** Its error M of (V4) is right in kind, but its size differs from paint to paint: κ² M, with

    κ² = (n₀ + q Σ (κ⁴ rᵀC⁻¹MC⁻¹r + κ² n − κ⁴ tr C⁻¹M)) / (n₀ + q N n)                     (V8)

over the n values of each of N swatches, n₀ values' worth of belief in κ = 1, and q what K and S leave of
the residuals, all values over those not spent on unknowns.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.estimate import Estimate
from layersim.fitting.problem import FitProblem
from layersim.fitting.solve import Solution, model_error, model_root, whitening
from layersim.fitting.two_constant import predict_with_slopes
from layersim.optics import cones
from layersim.spectra import BANDS, FloatArray

TAILS: Final = 4.0
"""ν of (V5): one film in forty is off by more than three times the rest's (an assumption)."""
BELIEF: Final = 0.5
"""ν₀ of (V7), and of (V6) where nothing is known of the hand: swatches soon say more (set on tuning pigments,
films as counted and 15 % off)."""
SURFACE_SCATTER: Final = 0.05
"""s₀ of (V7): one coat dries a little glossier than the next (an assumption)."""
MOST_SCATTER: Final = 0.2
"""s no larger than this: where all swatches differ more, something else is wrong (an assumption)."""
MODEL_BELIEF: Final = 31.0
"""n₀ of (V8): one swatch's worth."""
LEAST_MODEL: Final = 0.4
"""κ no smaller than this in (V9): a few swatches may agree by luck (set on tuning pigments)."""
FILMS_AT_FIRST: Final = 1.0 / 3.0
SURFACES_AT_FIRST: Final = 2.0
"""Factors on what is thought of films and surfaces to begin with. Dark swatches that differ in their surfaces
look like films of other thicknesses, and the rounds may settle on either: films as counted are the plainer
answer where both will do (real watercolours, whose black hides from the thinnest on, showed it)."""
_TURNS: Final = 20


def at_first(problem: FitProblem) -> FitProblem:
    """Return a problem to begin with: films nearly as they were meant, surfaces rather different."""
    films = problem.films
    error = np.where(films.guessed_error > 0.0, films.guessed_error * FILMS_AT_FIRST, films.film_error)
    return dataclasses.replace(
        problem,
        films=dataclasses.replace(films, film_error=error),
        surface_scatter=SURFACES_AT_FIRST * problem.surface_scatter,
    )


def with_own_errors(problem: FitProblem, solution: Solution, counts: npt.NDArray[np.bool_]) -> FitProblem:
    """Return a problem with the errors that its swatches say, after one round of (V5) to (V8).

    `solution`: of it. `counts`: shape (m,); false for swatches that do not belong.
    """
    films = dataclasses.replace(problem.films, film_error=_film_error(problem, solution, counts))
    if problem.surface_scatter == 0.0:
        return dataclasses.replace(problem, films=films)
    _, inverse, pull = _whitened(problem, solution, counts)
    return dataclasses.replace(
        problem,
        films=films,
        surface_scatter=_surface_scatter(problem.surface_scatter, inverse, pull),
        # With less, films take up what the model is off (seen on tuning pigments).
        model_scale=max(1.0, _model_scale(problem, solution, inverse, pull, counts)),
    )


def covariance_as_seen(problem: FitProblem, solution: Solution, counts: npt.NDArray[np.bool_]) -> FloatArray:
    """Return the covariance of ln K and ln S with the model's error as the swatches show it, shape (62, 62).

    Weights are by an error that suits all paints, C, and many are met better than that, Cₛ. What then is
    open is (P. J. Huber, Proc. 5th Berkeley Symp. 1 (1967) 221; from memory), with H and P of (V2),

        H⁻¹ (Σ Jᵢᵀ C⁻¹ Cₛ C⁻¹ Jᵢ + P) H⁻¹                                                  (V9)

    `counts`: shape (m,).
    """
    whiten, inverse, pull = _whitened(problem, solution, counts)
    seen = max(LEAST_MODEL, _model_scale(problem, solution, inverse, pull, counts))
    if seen >= problem.model_scale:
        return solution.covariance()
    A = problem.observation.slopes(solution.reflectance)[counts]
    M = A @ model_error(problem.belief, solution.reflectance[counts]) @ np.swapaxes(A, 1, 2)
    less = (problem.model_scale**2 - seen**2) * whiten @ M @ np.swapaxes(whiten, 1, 2)
    J = whiten @ A @ predict_with_slopes(problem.films, solution.unknowns)[1][counts]
    J[..., 2 * BANDS + len(counts) :] *= ~problem.films.considered
    given = (np.swapaxes(J, 1, 2) @ less @ J).sum(axis=0)
    H = np.linalg.inv(solution.information)
    whole = H - H @ given @ H
    return np.asarray(0.5 * (whole + whole.T)[: 2 * BANDS, : 2 * BANDS])


def covariance_of_common_error(
    problem: FitProblem, solution: Solution, counts: npt.NDArray[np.bool_]
) -> FloatArray:
    """Return what ln K and ln S are off by where the model is off alike in all swatches, shape (62, 62).

    (V3) takes each swatch's model error for its own, so that more swatches leave less. Films over one ground
    are all of one kind of stack, and the model errs in all of them alike, however many they are:

        G M Gᵀ,   G = H⁻¹ Σ Jᵢᵀ Cᵢ⁻¹ Aᵢ Dᵢ                                                 (V12)
    """
    whiten, _, _ = _whitened(problem, solution, counts)
    R = solution.reflectance[counts]
    A = whiten @ problem.observation.slopes(R)
    J = A @ predict_with_slopes(problem.films, solution.unknowns)[1][counts]
    J[..., 2 * BANDS + len(counts) :] *= ~problem.films.considered
    root = model_root(problem.belief, R)
    pulled = (np.swapaxes(J, 1, 2) @ A @ root).sum(axis=0)
    G = np.linalg.solve(solution.information, pulled)[: 2 * BANDS]
    return np.asarray(problem.model_scale**2 * G @ G.T)


def values_left(problem: FitProblem, solution: Solution, counts: npt.NDArray[np.bool_]) -> float:
    """Return observed values of the swatches that count, shape (m,), less those spent on unknowns."""
    told = np.ones(problem.observed.shape, dtype=np.bool_) if problem.told is None else problem.told
    return float(told[counts].sum()) - solution.spent


def _whitened(
    problem: FitProblem, solution: Solution, counts: npt.NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return L⁻¹, C⁻¹ and C⁻¹ r of the swatches that count."""
    whiten = whitening(problem, solution.unknowns, solution.reflectance)[counts]
    back = np.swapaxes(whiten, 1, 2)
    return whiten, back @ whiten, (back @ solution.whitened[counts][..., np.newaxis])[..., 0]


def hand_seen(problem: FitProblem, solution: Solution, counts: npt.NDArray[np.bool_]) -> Estimate | None:
    """Return how far films of this hand vary from swatch to swatch, with what was known of it before.

    `counts`: shape (m,). Returns none where no swatch tells.
    """
    films = problem.films
    told = (films.guessed_error > 0.0) & counts
    # What all films have in common does not show.
    worth = int(told.sum()) - 1
    if worth < 1:
        return None
    k2, _ = _film_scale(problem, solution, told)
    whole = films.guess_weight + worth
    return Estimate(
        value=films.guessed_hand * math.sqrt(k2),
        error=math.sqrt(0.5 / whole),
        basis=f"as uneven as about {whole:.0f} swatches show",
    )


def _film_error(problem: FitProblem, solution: Solution, counts: npt.NDArray[np.bool_]) -> FloatArray:
    films = problem.films
    guess = films.guessed_error
    told = (guess > 0.0) & counts
    if not told.any():
        return films.film_error
    k2, weights = _film_scale(problem, solution, told)
    return np.where(guess > 0.0, guess * np.sqrt(k2 / np.where(told, weights, 1.0)), films.film_error)


def _film_scale(
    problem: FitProblem, solution: Solution, told: npt.NDArray[np.bool_]
) -> tuple[float, FloatArray]:
    """Return k² of (V6) and the weights of (V5)."""
    films = problem.films
    guess = films.guessed_error
    film = slice(2 * BANDS, 2 * BANDS + len(guess))
    x = films.film_error * solution.unknowns[film]
    v = films.film_error**2 * np.diag(np.linalg.inv(solution.information))[film]
    e = np.where(told, guess, 1.0)
    k2, weights = 1.0, np.ones(len(guess))
    # The weights know the scale and the scale the weights; a few turns settle both.
    for _ in range(_TURNS):
        weights = (TAILS + 1.0) / (TAILS + x**2 / (k2 * e**2))
        k2 = (films.guess_weight + float((weights * (x**2 + v) / e**2)[told].sum())) / (
            films.guess_weight + float(told.sum())
        )
    return k2, weights


def _surface_scatter(now: float, inverse: FloatArray, pull: FloatArray) -> float:
    k1 = cones.directions().k1
    off = now**2 * k1 * pull.sum(axis=1)
    left = now**2 - now**4 * k1**2 * inverse.sum(axis=(1, 2))
    s2 = (BELIEF * SURFACE_SCATTER**2 + float((off**2 + left).sum())) / (BELIEF + len(off))
    return min(math.sqrt(s2), MOST_SCATTER)


def _model_scale(
    problem: FitProblem,
    solution: Solution,
    inverse: FloatArray,
    pull: FloatArray,
    counts: npt.NDArray[np.bool_],
) -> float:
    A = problem.observation.slopes(solution.reflectance)
    M = (A @ model_error(problem.belief, solution.reflectance) @ np.swapaxes(A, 1, 2))[counts]
    N, n = pull.shape
    k2 = problem.model_scale**2
    seen = k2**2 * np.einsum("mi,mij,mj->", pull, M, pull)
    left = k2 * N * n - k2**2 * np.einsum("mij,mji->", inverse, M)
    # Residuals of a fit are smaller than errors are.
    spent = N * n / max(values_left(problem, solution, counts), 0.1 * N * n)
    return math.sqrt((MODEL_BELIEF + float(spent * seen + left)) / (MODEL_BELIEF + N * n))
