"""Scattering functions other than Henyey and Greenstein's, as Legendre moments.

``chi_k = 1/2 integral of p(mu) P_k(mu) d mu``, so that ``chi_0 = 1`` and ``chi_1 = g``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import spherical_jn, spherical_yn

from tests.judge.radiative_transfer import BINDER_INDEX, WAVELENGTHS_NM, FloatArray, Pigmentation

ORDERS = 64
_ANGLES = 180


def with_function(pigmentation: Pigmentation, moments: FloatArray) -> Pigmentation:
    """Give a pigmentation another scattering function.

    Absorption and transported scattering ``mu_s (1 - g)`` stay, and with them K and S: only the shape
    is another.

    Parameters
    ----------
    pigmentation
        What is to scatter otherwise.
    moments
        (31, orders), as above.

    Returns
    -------
    The same absorption and transport under that function.
    """
    g = moments[:, 1]
    mu_s = pigmentation.mu_s_per_um * (1.0 - np.asarray(pigmentation.g)) / (1.0 - g)
    return Pigmentation(pigmentation.name, pigmentation.mu_a_per_um, mu_s, g, moments)


def two_lobes(*, forward: ArrayLike, backward: ArrayLike, share_forward: ArrayLike) -> FloatArray:
    """A peak and a back lobe: ``chi_k = w g1**k + (1 - w) (-g2)**k``, each Henyey-Greenstein.

    Parameters
    ----------
    forward, backward
        g1 and g2, each (31,) or one number, 0..1 [-].
    share_forward
        w, 0..1 [-].

    Returns
    -------
    Moments, (31, ORDERS).
    """
    g1, g2, w = (
        np.broadcast_to(np.asarray(value, dtype=np.float64), WAVELENGTHS_NM.shape)[:, None]
        for value in (forward, backward, share_forward)
    )
    order = np.arange(ORDERS)
    moments: FloatArray = w * g1**order + (1.0 - w) * (-g2) ** order
    return moments


def spheres(
    *, index: ArrayLike, radius_um: float, spread: float = 1.4, binder_index: float = BINDER_INDEX
) -> FloatArray:
    """Moments of spheres in binder by Mie's series, their radii spread log-normally.

    Parameters
    ----------
    index
        Real refractive index of the pigment, (31,) or one number [-].
    radius_um
        Geometric mean of the radii [um].
    spread
        Geometric standard deviation [-]; 1 for one radius.
    binder_index
        Of what lies around them [-].

    Returns
    -------
    Moments, (31, ORDERS).
    """
    deviates = np.linspace(-3.0, 3.0, 25) if spread > 1.0 else np.zeros(1)
    radii = radius_um * spread**deviates
    numbers = np.exp(-0.5 * deviates**2)
    ratio = np.broadcast_to(np.asarray(index, dtype=np.float64) / binder_index, WAVELENGTHS_NM.shape)
    size = 2.0 * np.pi * binder_index * radii / (WAVELENGTHS_NM[:, None] / 1000.0)
    found: FloatArray = (scattered_moments(ratio[:, None], size) * numbers[:, None]).sum(axis=1)
    return found / found[:, :1]


def scattered_moments(ratio: ArrayLike, size: ArrayLike) -> FloatArray:
    """Legendre moments of a sphere's scattered intensity, (..., ORDERS), not normalised.

    Parameters
    ----------
    ratio, size
        As in `intensity`.

    Returns
    -------
    ``1/2 integral of (|S1|**2 + |S2|**2) P_k d mu``; order 0 is ``x**2 Q_sca / 2``.
    """
    cosines, weights = np.polynomial.legendre.leggauss(_ANGLES)
    legendre = np.polynomial.legendre.legvander(cosines, ORDERS - 1)
    moments: FloatArray = 0.5 * (intensity(ratio, size, cosines) * weights) @ legendre
    return moments


def intensity(ratio: ArrayLike, size: ArrayLike, cosines: FloatArray) -> FloatArray:
    """Intensity that a sphere scatters along each cosine, (..., cosines): ``|S1|**2 + |S2|**2``.

    The series of Mie as in C. F. Bohren and D. R. Huffman, Absorption and Scattering of Light by Small
    Particles (1983), equations 4.53, 4.74 and 4.88 (numbers from memory).

    Parameters
    ----------
    ratio
        Refractive index of the sphere over that of what lies around it, real [-].
    size
        Circumference over the wavelength there, broadcast with it [-].
    cosines
        Of the scattering angle [-].

    Returns
    -------
    The intensity, in units of (1 / wave number)**2.
    """
    m, x = np.broadcast_arrays(np.asarray(ratio, dtype=np.float64), np.asarray(size, dtype=np.float64))
    m, x = m[..., None], x[..., None]
    last = int(np.ceil((x + 4.05 * x ** (1.0 / 3.0) + 2.0).max()))
    n = np.arange(1, last + 1)
    own = n <= np.ceil(x + 4.05 * x ** (1.0 / 3.0) + 2.0)

    inside, outside = spherical_jn(n, m * x), spherical_jn(n, x)
    with np.errstate(over="ignore", invalid="ignore"):
        hankel = outside + 1j * spherical_yn(n, x)
        # [x f(x)]' = x f_(n-1) - n f_n
        d_inside = m * x * spherical_jn(n - 1, m * x) - n * inside
        d_outside = x * spherical_jn(n - 1, x) - n * outside
        d_hankel = x * (spherical_jn(n - 1, x) + 1j * spherical_yn(n - 1, x)) - n * hankel
        a = (m**2 * inside * d_outside - outside * d_inside) / (m**2 * inside * d_hankel - hankel * d_inside)
        b = (inside * d_outside - outside * d_inside) / (inside * d_hankel - hankel * d_inside)
    a, b = (np.where(own & np.isfinite(value), value, 0.0) for value in (a, b))

    pi, tau = np.zeros((2, last + 1, cosines.size))
    pi[1] = 1.0
    for order in range(1, last + 1):
        if order > 1:
            pi[order] = ((2 * order - 1) * cosines * pi[order - 1] - order * pi[order - 2]) / (order - 1)
        tau[order] = order * cosines * pi[order] - (order + 1) * pi[order - 1]
    share = (2.0 * n + 1.0) / (n * (n + 1.0))
    S1 = (share * a) @ pi[1:] + (share * b) @ tau[1:]
    S2 = (share * a) @ tau[1:] + (share * b) @ pi[1:]
    scattered: FloatArray = np.abs(S1) ** 2 + np.abs(S2) ** 2
    return scattered
