"""Spectra that only stand in for colours: told from measured ones, and fitted as the colours they are.

Where a colour is all that was measured, some make the smoothest spectrum of it: of all reflectances with
the given tristimulus values, the one whose logit z changes least from band to band,

    minimise Σ (zᵢ₊₁ − zᵢ)²   where   Wᵀ R(z) = XYZ,   R = 1/(1 + e⁻ᶻ)                      (V11)

S. A. Burns, "Numerical methods for smoothest reflectance reconstruction", Color Res. Appl. 45 (2020) 8 (from
memory; there with a hyperbolic tangent, which is the same curve). Solved by Newton's method on the
conditions of Lagrange, for all colours at once.

Such a spectrum holds three numbers, not thirty-one, and the film model fits no smooth curve at all grounds
and thicknesses: films and surfaces take the blame for it. So the fit then asks for the cube roots of
X, Y and Z alone, and what paints are like (Y1) fills in the rest. No painted card was found whose
spectra are all as smooth as that.
"""

from __future__ import annotations

import functools
from typing import Final

import numpy as np

from layersim import colour
from layersim.spectra import BANDS, FloatArray

AS_SMOOTH: Final = 0.004
"""Root mean square of ∛R between a spectrum and the smoothest of its colour, up to which it is only that. Of
measured and computed paints the black came nearest, with 0.003 to 0.006 on paper that was off by 0.01."""
COLOURFUL: Final = 20.0
"""Chroma of the most colourful reading from which its curve tells anything (an assumption)."""
_STEPS: Final = 40
_LONGEST_STEP: Final = 1.0
_DARKEST: Final = 1e-6


class ColoursOnly:
    """The observation of who measured a colour: cube roots of X, Y and Z over those of white (D65, 2°)."""

    def observe(self, reflectance: FloatArray) -> FloatArray:
        """Return the three cube roots."""
        return np.asarray(np.cbrt(self._shares(reflectance)))

    def slopes(self, reflectance: FloatArray) -> FloatArray:
        """Return their derivative by each band."""
        steep = 1.0 / (3.0 * np.cbrt(self._shares(reflectance)) ** 2)
        return np.asarray(steep[..., np.newaxis] * _of_white().T)

    def noise(self, reflectance: FloatArray, noise: FloatArray) -> FloatArray:
        """Return the noise of each where that of all bands goes together, as a colour's does."""
        return np.asarray(noise @ _of_white() / (3.0 * np.cbrt(self._shares(reflectance)) ** 2))

    @staticmethod
    def _shares(reflectance: FloatArray) -> FloatArray:
        return np.asarray(np.maximum(reflectance @ _of_white(), _DARKEST))


def only_colours(reflectance: FloatArray) -> bool:
    """Return whether spectra, shape (n, 31), say no more than their colours: each is the smoothest."""
    if not ((reflectance > 0.0) & (reflectance < 1.0)).all():
        return False
    lab = colour.lab(reflectance, colour.Viewing())
    # Greys are flat whoever measured them.
    if np.hypot(lab[:, 1], lab[:, 2]).max() < COLOURFUL:
        return False
    smooth, met = _smoothest(lab)
    off = np.sqrt(((np.cbrt(smooth) - np.cbrt(reflectance)) ** 2).mean(axis=-1))
    return bool(met.all() and (off < AS_SMOOTH).all())


def smoothest(lab: FloatArray) -> FloatArray:
    """Return the smoothest reflectances, shape (n, 31), of colours at D65, 2°, shape (n, 3).

    Raises ValueError if no smooth reflectance has one of the colours.
    """
    R, met = _smoothest(lab)
    if not met.all():
        raise ValueError("no smooth reflectance has one of these colours")
    return R


@functools.cache
def _weights() -> FloatArray:
    return np.asarray(colour.xyz(np.eye(BANDS), colour.Viewing()), dtype=np.float64)


@functools.cache
def _of_white() -> FloatArray:
    return np.asarray(_weights() / _weights().sum(axis=0))


def _smoothest(lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the smoothest reflectances of (V11), and which of them have their colour."""
    weights = _weights()
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
        if np.abs(step).max() < 1e-10:
            break
    return np.asarray(R), np.abs(R @ weights - wanted).max(axis=1) < 1e-6 * weights.sum()
