"""Where a fit to spectra begins: the best of a coarse lattice of K and S, as a whole curve.

Least squares go downhill from where they begin, and there may be two valleys: a paint that hides by
absorbing and one that hides by scattering look alike over white. So K and S of each band are first
tried on a lattice, with every film and ground as it was meant, and the cheapest way from band to band
through the lattice is taken (R. Bellman, Bull. Am. Math. Soc. 60 (1954) 503),

    minimise Σ_b [ Σ_i ((∛R_ib − ∛R̂_ib) / e)² + ((θ_b − θ₀)/s)²/B ] + Σ_b ((θ_b − θ_{b−1}) / d)²     (V10)

with θ of ln K and ln S, their spread s as it is thought beforehand, and d what curves of paints climb
from one band to the next.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim.fitting.problem import LIGHTNESS_OFFSET, FitProblem
from layersim.optics import cones
from layersim.optics.cones import Admittance
from layersim.spectra import BANDS, FloatArray

DEPTHS: Final = np.geomspace(0.002, 12.0, 14)
"""K X and S X of a middling film that are tried: from clear to opaque."""
OFF: Final = 0.03
"""e: what a swatch's film alone may do to its cube root (an assumption; it only weighs the way's bends)."""
CLIMB_K: Final = 1.2
CLIMB_S: Final = 0.5
"""d: the absorption of real paints doubles or trebles in a band at the steepest, scattering is smoother."""


def start(problem: FitProblem) -> FloatArray:
    """Return the unknowns to begin at, every film and ground as it was meant, shape (p,).

    Spectra are looked at on the lattice; where fewer numbers were observed, it is the prior's centre.
    """
    unknowns = np.zeros(problem.unknowns)
    unknowns[: 2 * BANDS] = problem.belief.centre()
    films = problem.films
    X = films.thickness_um[np.isfinite(films.thickness_um) & (films.share > 0.0)]
    if problem.observed.shape[1] == BANDS and X.size:
        unknowns[: 2 * BANDS] = _best_way(problem, float(np.median(X)))
    return unknowns


def _best_way(problem: FitProblem, thickness_um: float) -> FloatArray:
    K, S = (grid.ravel() for grid in np.meshgrid(DEPTHS / thickness_um, DEPTHS / thickness_um))
    at = np.log(np.stack([K, S]))
    off = (_cube_root(_seen(problem, K, S)) - _cube_root(problem.observed)) / OFF
    centre = problem.belief.centre().reshape(2, BANDS)
    spread = np.array([problem.belief.spread_K, problem.belief.spread_S])
    away = (at[:, :, np.newaxis] - centre[:, np.newaxis]) / spread[:, np.newaxis, np.newaxis]
    cost = (off**2).sum(axis=1) + (away**2).sum(axis=0) / BANDS
    apart = (at[:, :, np.newaxis] - at[:, np.newaxis]) / np.array([CLIMB_K, CLIMB_S])[
        :, np.newaxis, np.newaxis
    ]
    climb = (apart**2).sum(axis=0)
    came_from = np.zeros((BANDS, at.shape[1]), dtype=np.intp)
    total = cost[:, 0]
    for band in range(1, BANDS):
        each = total + climb
        came_from[band] = each.argmin(axis=1)
        total = each.min(axis=1) + cost[:, band]
    way = [int(total.argmin())]
    for band in range(BANDS - 1, 0, -1):
        way.append(int(came_from[band, way[-1]]))
    return np.concatenate(at[:, way[::-1]])


def _seen(problem: FitProblem, K: FloatArray, S: FloatArray) -> FloatArray:
    """Return what the swatches reflect with each K and S at all wavelengths, shape (k, m, 31)."""
    films = problem.films
    share = films.share[:, np.newaxis]
    medium = cones.medium(
        K_per_um=share * K[:, np.newaxis, np.newaxis] + films.known[0],
        S_per_um=share * S[:, np.newaxis, np.newaxis] + films.known[1],
    )
    laid = cones.lay(medium, thickness_um=films.thickness_um[:, np.newaxis], over=Admittance(*films.ground))
    return cones.seen(laid, sheen=films.sheen)


def _cube_root(R: FloatArray) -> FloatArray:
    return np.cbrt(np.maximum(R, 0.0) + LIGHTNESS_OFFSET)
