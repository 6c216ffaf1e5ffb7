"""The textbook's film: two perfectly diffuse fluxes (P. Kubelka and F. Munk, Z. tech. Phys. 12 (1931) 593).

No command predicts with it. The two cones of the package are held against it, and validation says how much
nearer to radiative transfer they are.

    R = S τ / (1 + (K + S) τ),   T = sech(cX) / (1 + (K + S) τ),   c = √(K (K + 2S)),   τ = tanh(cX) / c

(Kubelka, J. Opt. Soc. Am. 38 (1948) 448.) No division by S, so clear films and lossless ones are exact.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


class Film(NamedTuple):
    """What a film does to diffuse light inside the binder, from either side."""

    R: FloatArray
    T: FloatArray


def film(*, K_per_um: npt.ArrayLike, S_per_um: npt.ArrayLike, thickness_um: npt.ArrayLike) -> Film:
    """Return reflectance and transmittance of a film; of K, S and thickness no product may overflow."""
    K, S, X = (np.asarray(v, dtype=np.float64) for v in (K_per_um, S_per_um, thickness_um))
    kx, sx = np.broadcast_arrays(K * X, S * X)
    u = np.sqrt(kx * (kx + 2.0 * sx))
    share = np.divide(np.tanh(u), u, out=np.ones_like(u), where=u > 0.0)
    sech = 2.0 * np.exp(-u) / (1.0 + np.exp(-2.0 * u))
    below = 1.0 + (kx + sx) * share
    return Film(R=np.asarray(sx * share / below), T=np.asarray(sech / below))


def opaque_reflectance(*, K_per_um: npt.ArrayLike, S_per_um: npt.ArrayLike) -> FloatArray:
    """Return R∞ = S / (K + S + c) of an endless film; K and S must not both be 0."""
    K, S = np.asarray(K_per_um, dtype=np.float64), np.asarray(S_per_um, dtype=np.float64)
    return np.asarray(S / (K + S + np.sqrt(K * (K + 2.0 * S))))


def over_ground(top: Film, ground: npt.ArrayLike) -> FloatArray:
    """Return what a film over a ground reflects, R₁ + T₁² R / (1 − R₁ R).

    P. Kubelka, J. Opt. Soc. Am. 44 (1954) 330. Not for a perfect white over a perfect white.
    """
    R = np.asarray(ground, dtype=np.float64)
    return np.asarray(top.R + top.T**2 * R / (1.0 - top.R * R))
