"""How far the films of one hand vary from swatch to swatch: estimated from the swatches themselves.

With x the logarithm of a swatch's film over what was meant and e what it was thought to be off by, all
e of one hand share a scale k that the swatches tell, and a coat miscounted or a heavy hand may be off by
far more than the rest. So x has a distribution of Student with ν = 4 and scale k e. Its fit is a
normal one with weights (K. L. Lange, R. J. A. Little and J. M. G. Taylor, J. Am. Stat. Assoc. 84 (1989)
881; from memory), in turn with the expected scale (A. P. Dempster, N. M. Laird and D. B. Rubin, J. R.
Stat. Soc. B 39 (1977) 1; from memory),

    λᵢ = (ν + 1) / (ν + xᵢ²/(k eᵢ)²)                                                       (V5)
    k² = (ν₀ + Σ λᵢ (xᵢ² + vᵢ)/eᵢ²) / (ν₀ + N)                                             (V6)

with vᵢ the variance of xᵢ after the fit, and ν₀ swatches' worth of belief in k = 1. What all films have
in common does not show; (V6) leaves it as open as the scale is.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.fitting.problem import Problem
from layersim.fitting.solve import Solution
from layersim.optics import cones
from layersim.spectra import BANDS, FloatArray

TAILS: Final = 4.0
"""ν of (V5): one film in forty is off by more than three times the rest's (an assumption)."""
BELIEF: Final = 0.5
"""ν₀ of (V6): the swatches soon say more (set on tuning pigments: films as counted, and 15 % off)."""
SURFACE_SCATTER: Final = 0.05
"""s of (V7) as it is thought to be beforehand: one coat dries a little glossier than the next (an assumption)."""
_TURNS: Final = 20


def estimated_film_error(problem: Problem, solution: Solution, counts: npt.NDArray[np.bool_]) -> FloatArray:
    """Return what each film is off by, one standard deviation, by one round of (V5) and (V6).

    Parameters
    ----------
    problem : Problem
    solution : Solution
        Of it.
    counts : ndarray of bool, shape (m,)
        False for swatches that say nothing of the hand.

    Returns
    -------
    ndarray, shape (m,)
        :attr:`Films.film_error` as it is where that was no guess.
    """
    films = problem.films
    guess = films.guessed_error
    told = (guess > 0.0) & counts
    if not told.any():
        return films.film_error
    film = slice(2 * BANDS, 2 * BANDS + len(guess))
    x = films.film_error * solution.unknowns[film]
    v = films.film_error**2 * np.diag(np.linalg.inv(solution.information))[film]
    e = np.where(told, guess, 1.0)
    k2 = 1.0
    # The weights know the scale and the scale the weights; a few turns settle both.
    for _ in range(_TURNS):
        lam = (TAILS + 1.0) / (TAILS + x**2 / (k2 * e**2))
        k2 = (BELIEF + float((lam * (x**2 + v) / e**2)[told].sum())) / (BELIEF + float(told.sum()))
    return np.where(guess > 0.0, guess * np.sqrt(k2 / np.where(told, lam, 1.0)), films.film_error)


def estimated_surface_scatter(
    problem: Problem, solution: Solution, whiten: FloatArray, counts: npt.NDArray[np.bool_]
) -> float:
    """Return how far the share of the first reflection differs from swatch to swatch, one round of (V7).

    Parameters
    ----------
    problem : Problem
    solution : Solution
    whiten : ndarray, shape (m, n, n)
        L⁻¹ with which its residuals were whitened.
    counts : ndarray of bool, shape (m,)

    Returns
    -------
    float
    """
    now = problem.surface_scatter
    if now == 0.0:
        return now
    along = (whiten * cones.directions().k1).sum(axis=-1)[counts]
    off = -now**2 * (along * solution.whitened[counts]).sum(axis=1)
    open_ = now**2 - now**4 * (along**2).sum(axis=1)
    told = float((off**2 + open_).sum())
    return math.sqrt((BELIEF * SURFACE_SCATTER**2 + told) / (BELIEF + float(counts.sum())))


def as_counted(problem: Problem) -> Problem:
    """Return a problem to begin with: films nearly as they were meant, surfaces rather different.

    Dark swatches that differ in their surfaces look like films of other thicknesses, and (V5) to (V7) may
    settle on either. Films as they were counted are the plainer answer where both will do.
    """
    films = problem.films
    error = np.where(films.guessed_error > 0.0, films.guessed_error * BEGIN, films.film_error)
    return dataclasses.replace(
        problem,
        films=dataclasses.replace(films, film_error=error),
        surface_scatter=BEGIN_S*problem.surface_scatter,
    )
BEGIN=1/3
BEGIN_S=2
