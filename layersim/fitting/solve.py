"""Least squares with a prior, by Levenberg and Marquardt, over swatches with correlated errors.

Minimised over the unknowns θ, with r the residuals of each swatch i, Cᵢ the covariance of its errors,
wᵢ its weight, and P the precision of the prior around θ₀:

    χ² = Σ wᵢ rᵢᵀ Cᵢ⁻¹ rᵢ + (θ − θ₀)ᵀ P (θ − θ₀)                                           (V1)
    (H + λ diag H) δ = −½ ∂χ²/∂θ,   H = Σ wᵢ Jᵢᵀ Cᵢ⁻¹ Jᵢ + P                               (V2)
    covariance of θ = H⁻¹                                                                 (V3)

(V2) is D. W. Marquardt's step (SIAM J. Appl. Math. 11 (1963) 431). Errors are those of the reading,
of the ground's reading, and of the model: smooth over wavelengths, as large in ∛R everywhere,

    C = A D ρ D Aᵀ + diag(noise²),   D = τ · 3 (R + ε)^⅔                                  (V4)

with A the slopes of the observation. They depend on R, so a few rounds are made. K and S at a band
meet others only through smoothness, correlated errors and nuisances; but nuisances couple all,
and some 80 unknowns are solved whole in a fraction of a millisecond, so no banded solver is used.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.fitting.beginning import start
from layersim.fitting.problem import LIGHTNESS_OFFSET, Belief, FitProblem
from layersim.fitting.two_constant import BOUNDS_PER_UM, predict, predict_with_slopes
from layersim.optics import cones
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

_LONGEST_STEP: Final = 1.5
_MOST_STEPS: Final = 60
_CONVERGED: Final = 1e-5
_ROUNDS: Final = 3
ROUGH_STEPS: Final = 12
"""How far :func:`solve` goes, in one round, where the errors or the kind of paint are still to be settled."""
# Unknowns that move by less than this leave C of (V4) as it is: by less than a hundredth.
_SETTLED: Final = 1e-2
# A share of the model's error that does not carry over to the next band, so that C can be inverted.
_ROUGH_SHARE: Final = 0.05


@dataclass(frozen=True, eq=False, kw_only=True)
class Solution:
    """Where a fit ended."""

    unknowns: FloatArray
    """Shape (p,)."""
    information: FloatArray
    """Shape (p, p). H of (V3)."""
    reflectance: FloatArray
    """Shape (m, 31). What the swatches reflect at this solution."""
    whitened: FloatArray
    """Shape (m, n). Residuals in units of their errors: L⁻¹ r with L Lᵀ = C."""
    whitened_by_film: FloatArray
    """Shape (m, n). Their change for one standard deviation of each swatch's own film."""
    by_considered: FloatArray
    """Shape (p, c). Change of the unknowns for one standard deviation of each nuisance that was not
    fitted."""
    chi2: float
    """(V1)."""
    spent: float
    """How many observed values were in effect spent on unknowns: tr(H⁻¹(H − P))."""
    steps: int
    converged: bool

    def covariance(self) -> FloatArray:
        """Return the covariance of ln K and ln S with all else that was fitted unknown, shape (62, 62)."""
        everything = np.linalg.inv(self.information)
        return 0.5 * (everything + everything.T)[: 2 * BANDS, : 2 * BANDS]

    def misfit(self) -> FloatArray:
        """Return each swatch's mean square residual, or its film's squared error where worse, shape (m,).

        The film's is scaled so that one off by four standard deviations counts as much as a spectrum off
        by three all over: a film can take the blame for much. A film that was not fitted, since
        its swatch has no weight, is first moved to where it is best.
        """
        m, n = self.whitened.shape
        film = self.unknowns[2 * BANDS : 2 * BANDS + m]
        slope = self.whitened_by_film
        move = -((slope * self.whitened).sum(axis=1) + film) / ((slope**2).sum(axis=1) + 1.0)
        left = self.whitened + move[:, np.newaxis] * slope
        return np.asarray(np.maximum((left**2).sum(axis=1) / n, (0.75 * (film + move)) ** 2))


def prior_precision(problem: FitProblem) -> FloatArray:
    """Return P of (V1), shape (p, p): the belief about paints, and one for every nuisance."""
    precision = np.eye(problem.unknowns)
    precision[: 2 * BANDS, : 2 * BANDS] = problem.belief.precision()
    return precision


def model_error(belief: Belief, reflectance: FloatArray) -> FloatArray:
    """Return the covariance D ρ D of the model's own error, equation (V4).

    `reflectance`: shape (m, 31). Returns shape (m, 31, 31).
    """
    root = model_root(belief, reflectance)
    return root @ np.swapaxes(root, 1, 2)


def model_root(belief: Belief, reflectance: FloatArray) -> FloatArray:
    """Return D times a root of ρ, shape (m, 31, 31): what independent deviates do to each band."""
    nm = wavelengths_nm()
    smooth = np.exp(-0.5 * ((nm[:, np.newaxis] - nm) / belief.model_error_nm) ** 2)
    rho = (1.0 - _ROUGH_SHARE) * smooth + _ROUGH_SHARE * np.eye(BANDS)
    scale = belief.model_error * 3.0 * np.cbrt(np.maximum(reflectance, 0.0) + LIGHTNESS_OFFSET) ** 2
    return np.asarray(scale[:, :, np.newaxis] * np.linalg.cholesky(rho))


def solve(
    problem: FitProblem,
    *,
    weights: FloatArray | None = None,
    begin: FloatArray | None = None,
    rounds: int = _ROUNDS,
    most_steps: int = _MOST_STEPS,
) -> Solution:
    """Return the unknowns of least χ², equation (V1).

    `weights`: shape (m,); 0 leaves a swatch out; 1 by default. `begin`: shape (p,); where to start;
    :func:`start` by default. `rounds`: how often C is taken anew where the last one ended.
    `most_steps`: in each round.
    """
    films = problem.films
    w = np.ones(len(films.names)) if weights is None else weights
    precision = prior_precision(problem)
    unknowns = start(problem) if begin is None else begin
    seen = None
    steps, solution = 0, None
    for _ in range(rounds):
        guess = _first_guess(problem) if seen is None and begin is None else seen
        if guess is None:
            guess = predict(films, unknowns[: films.unknowns])
        whiten = whitening(problem, unknowns, guess)
        solution = _descend(problem, whiten, w, precision, unknowns, most_steps)
        steps += solution.steps
        moved = np.abs(solution.unknowns - unknowns).max()
        unknowns, seen = solution.unknowns, solution.reflectance
        if moved < _SETTLED:
            break
    if solution is None:  # pragma: no cover - there is at least one round
        raise AssertionError
    return dataclasses.replace(solution, steps=steps)


def _first_guess(problem: FitProblem) -> FloatArray | None:
    """Return the measured spectra themselves, where spectra were measured."""
    return np.clip(problem.observed, 0.0, 1.0) if problem.observed.shape[1] == BANDS else None


def whitening(problem: FitProblem, unknowns: FloatArray, reflectance: FloatArray) -> FloatArray:
    """Return L⁻¹ with L Lᵀ = C of (V4).

    `unknowns`: shape (p,). `reflectance`: shape (m, 31); at which C is taken. Returns shape (m, n, n).
    """
    A = problem.observation.slopes(reflectance)
    ground = predict_with_slopes(problem.films, unknowns[: problem.films.unknowns])[2]
    inside = problem.model_scale**2 * model_error(problem.belief, reflectance)
    band = np.arange(BANDS)
    inside[:, band, band] += ground**2
    inside += (problem.surface_scatter * cones.directions().k1) ** 2
    C = A @ inside @ np.swapaxes(A, 1, 2)
    value = np.arange(C.shape[1])
    C[:, value, value] += problem.noise**2
    return np.asarray(np.linalg.inv(np.linalg.cholesky(C)))


def _descend(
    problem: FitProblem,
    whiten: FloatArray,
    w: FloatArray,
    precision: FloatArray,
    begin: FloatArray,
    most_steps: int,
) -> Solution:
    centre = np.zeros_like(begin)
    centre[: 2 * BANDS] = problem.belief.centre()
    low, high = np.log(BOUNDS_PER_UM)
    root = np.sqrt(w)[:, np.newaxis]
    swatch = np.arange(len(w))

    own = problem.films.unknowns
    shared = np.zeros((0, *problem.observed.shape)) if problem.shared is None else problem.shared
    by_shared = np.moveaxis(shared, 0, -1)

    def residuals(reflectance: FloatArray, unknowns: FloatArray) -> FloatArray:
        off = problem.observation.observe(reflectance) - problem.observed + by_shared @ unknowns[own:]
        return np.asarray((whiten @ off[..., np.newaxis])[..., 0])

    def chi2(unknowns: FloatArray, white: FloatArray) -> float:
        away = unknowns - centre
        return float(((root * white) ** 2).sum() + away @ precision @ away)

    free = np.ones(len(begin), dtype=np.bool_)
    free[2 * BANDS + len(w) : own] = ~problem.films.considered
    unknowns = begin.copy()
    damping, converged, steps = 1e-2, False, 0
    reflectance, slopes, _ = predict_with_slopes(problem.films, unknowns[:own])
    white = residuals(reflectance, unknowns)
    cost = chi2(unknowns, white)
    while True:
        by_films = problem.observation.slopes(reflectance) @ slopes
        J = whiten @ np.concatenate([by_films, by_shared], axis=-1)
        every = (root[..., np.newaxis] * J).reshape(-1, J.shape[-1])
        flat = every * free
        H = flat.T @ flat + precision
        if converged or steps >= most_steps:
            break
        gradient = flat.T @ (root * white).ravel() + precision @ (unknowns - centre)
        better = False
        while not better and damping < 1e10:
            step = np.linalg.solve(H + damping * np.diag(np.diag(H)), -gradient)
            # A step of nothing at all is no longer than any other.
            tried = unknowns + step * (_LONGEST_STEP / max(_LONGEST_STEP, float(np.abs(step).max())))
            tried[: 2 * BANDS] = np.clip(tried[: 2 * BANDS], low, high)
            # Most steps are good ones, and slopes come for little with the reflectances.
            there, steep, _ = predict_with_slopes(problem.films, tried[:own])
            new_white = residuals(there, tried)
            new_cost = chi2(tried, new_white)
            better = new_cost < cost
            if not better:
                damping *= 8.0
        if not better:
            converged = True
            continue
        converged = cost - new_cost < _CONVERGED * (1.0 + 1e-2 * cost)
        unknowns, cost, reflectance, slopes, white = tried, new_cost, there, steep, new_white
        damping = max(damping * 0.1, 1e-12)
        steps += 1
    return Solution(
        unknowns=unknowns,
        information=H,
        reflectance=reflectance,
        whitened=white,
        whitened_by_film=J[swatch, :, 2 * BANDS + swatch],
        by_considered=-np.linalg.solve(H, flat.T @ every[:, ~free]),
        chi2=cost,
        spent=len(begin) - float(np.trace(np.linalg.solve(H, precision))),
        steps=steps,
        converged=converged,
    )
