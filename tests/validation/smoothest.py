"""The smoothest spectrum of a colour, where a colour is all that was measured.

Of all reflectances with given tristimulus values, the one whose logit z changes least from band to band:

    minimise Σ (zᵢ₊₁ − zᵢ)²   where   Wᵀ R(z) = XYZ,   R = 1/(1 + e⁻ᶻ)

S. A. Burns, "Numerical methods for smoothest reflectance reconstruction", Color Res. Appl. 45 (2020) 8 (from
memory; there with a hyperbolic tangent, which is the same curve). Solved by Newton's method on the
conditions of Lagrange, for all colours at once.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim import colour
from layersim.spectra import BANDS, FloatArray
from tests.validation.errors import VIEW

_STEPS: Final = 40
_LONGEST_STEP: Final = 1.0


def reflectances(lab: FloatArray) -> FloatArray:
    """Return the smoothest reflectances, shape (n, 31), of colours at D65, 2°, shape (n, 3)."""
    weights = np.asarray(colour.xyz(np.eye(BANDS), VIEW), dtype=np.float64)
    wanted = colour.xyz_from_lab(lab, weights.sum(axis=0))
    slope = np.diff(np.eye(BANDS), axis=0)
    bend = 2.0 * slope.T @ slope
    n = len(lab)
    share = np.clip(wanted[:, 1] / weights[:, 1].sum(), 0.01, 0.99)
    z = np.repeat(np.log(share / (1.0 - share))[:, np.newaxis], BANDS, axis=1)
    multipliers = np.zeros((n, 3))
    for _ in range(_STEPS):
        R = 1.0 / (1.0 + np.exp(-z))
        first = R * (1.0 - R)
        second = first * (1.0 - 2.0 * R)
        pull = multipliers @ weights.T
        hessian = np.broadcast_to(bend, (n, BANDS, BANDS)).copy()
        hessian[:, range(BANDS), range(BANDS)] += second * pull
        jacobian = first[..., np.newaxis] * weights
        system = np.zeros((n, BANDS + 3, BANDS + 3))
        system[:, :BANDS, :BANDS] = hessian
        system[:, :BANDS, BANDS:] = jacobian
        system[:, BANDS:, :BANDS] = np.swapaxes(jacobian, 1, 2)
        misses = np.concatenate([z @ bend + first * pull, R @ weights - wanted], axis=1)
        step = np.linalg.solve(system, -misses[..., np.newaxis])[..., 0]
        longest = np.abs(step[:, :BANDS]).max(axis=1, keepdims=True)
        step *= np.minimum(1.0, _LONGEST_STEP / np.maximum(longest, 1e-12))
        z += step[:, :BANDS]
        multipliers += step[:, BANDS:]
    off = np.abs(R @ weights - wanted).max()
    if not off < 1e-6 * weights.sum():
        raise ValueError("no smooth reflectance has one of these colours")
    return np.asarray(R)
