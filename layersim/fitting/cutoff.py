"""Colours too pure or too dark for a file: of a channel that is cut off at 0, what a fit makes of it.

Of such a channel it is only known that it lies below what it reads, z, give or take the noise ζ of that.
Expectation propagation (T. P. Minka, Proc. 17th Conf. Uncertainty in Artificial Intelligence (2001) 362;
C. E. Rasmussen and C. K. I. Williams, 2006, section 3.6, whose probit this is): what the rest of the card
expects of it, cut off at z, is matched by a normal. With N(v, τ²) what the channel counted as so far,
N(m, s²) what the whole fit makes of it, κ² the variance of the model's own error, and φ and Φ of the normal
distribution,

    1/s'² = 1/s² − 1/(τ² + κ²),   m' = s'² (m/s² − v/(τ² + κ²)),   σ² = s'² + κ²
    ω² = σ² + ζ²,   α = (z − m')/ω,   λ = φ(α)/Φ(α)
    mean = m' − σ²λ/ω,   variance = σ² (1 − (σ/ω)² λ (α + λ))                              (X4)
    1/τ² ← 1/variance − 1/σ²,   v ← τ² (mean/variance − m'/σ²)

Precisions and v/τ² move only a part of the way (T. P. Minka and J. Lafferty, Proc. 18th Conf.
Uncertainty in Artificial Intelligence (2002) 352), since the fit in between is not linear. Channels of
one patch are taken one by one, and kinds of paints share what a channel counts as: approximations.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.fitting.colours import LEAST_NOISE, Seen
from layersim.spectra import FloatArray

# Of (X4): how much of a move is made, and the least part of a channel's precision that is others' word
# (assumptions, tried on tuning pigments: docs/validation.md).
_MOVED: Final = 0.7
_LEAST_LEFT: Final = 0.02
# For the arithmetic alone: α goes no lower (Φ is 1e-268 there), and no variance or precision below this part
# of the one before.
_LOWEST: Final = -35.0
_SLIVER: Final = 1e-3


def below_zero(
    seen: Seen,
    *,
    expected: FloatArray,
    variance: FloatArray,
    own: FloatArray,
    kept: npt.NDArray[np.bool_],
) -> Seen:
    """Return patches with what a fit makes of channels of which only a limit is known, (X4).

    `expected` and `variance` have shape (m, n): m and s², shared errors of the channels included. `own`
    has shape (m, n): κ², of the model. `kept` has shape (m,): patches that the fit counted; the others
    stay as they are.
    """
    values, noise = seen.values.copy(), seen.noise.copy()
    for i, c in np.argwhere(seen.cut & kept[:, np.newaxis]).tolist():
        before, s2, kappa2 = noise[i, c, c], float(variance[i, c]), float(own[i, c])
        counted = 1.0 / (before + kappa2)
        m, precision = float(expected[i, c]), 1.0 / s2 - counted
        if precision > _LEAST_LEFT / s2:
            m = (m / s2 - values[i, c] * counted) / precision
        else:  # nothing but the channel itself speaks of it
            precision = _LEAST_LEFT / s2
        sigma2 = 1.0 / precision + kappa2
        omega2 = sigma2 + LEAST_NOISE**2
        omega = omega2**0.5
        alpha = max((float(seen.limit[i, c]) - m) / omega, _LOWEST)
        ratio = _density_over_share_below(alpha)
        mean = m - sigma2 / omega * ratio
        left = sigma2 * max(1.0 - sigma2 / omega2 * ratio * (alpha + ratio), _SLIVER)
        told = max(1.0 / left - 1.0 / sigma2, _SLIVER / sigma2)
        pull = mean / left - m / sigma2
        told = _MOVED * told + (1.0 - _MOVED) / before
        pull = _MOVED * pull + (1.0 - _MOVED) * values[i, c] / before
        noise[i, c], noise[i, :, c] = 0.0, 0.0
        noise[i, c, c], values[i, c] = 1.0 / told, pull / told
    return dataclasses.replace(seen, values=values, noise=noise)


def _density_over_share_below(alpha: float) -> float:
    """Return φ(α)/Φ(α) of the normal distribution, far out in its lower tail too."""
    density = math.exp(-0.5 * alpha * alpha) / math.sqrt(2.0 * math.pi)
    return density / (0.5 * math.erfc(-alpha / math.sqrt(2.0)))
