"""Pigment particles in a binder: from what the solid absorbs to K and S of the film.

A solid is known by k, the imaginary part of its refractive index. The real part follows from it, since
no solid answers light before it comes (the relation of Kramers and Kronig, C. F. Bohren and D. R. Huffman,
Absorption and Scattering of Light by Small Particles, 1983, eq. 2.49, from memory), with photon energy E:

    n(E) = n₀ + (2/π) P∫ E′ k(E′) / (E′² − E²) dE′                                         (Y4)

with n₀ for what lies beyond the integral's end. It is summed by Maclaurin's formula (K. Ohta and H. Ishida,
Appl. Spectrosc. 42 (1988) 952): nodes of every other parity, so that the pole is never met.

A sphere of diameter D and index m times the binder's takes out of the light Q times its shadow, by G.
Mie's series (Bohren and Huffman, eqs. 4.61, 4.62 and 4.88; the mean cosine on their page 120), with x =
π D nᵦ/λ:

    Q_ext = (2/x²) Σ (2j + 1) Re(aⱼ + bⱼ),   Q_sca = (2/x²) Σ (2j + 1) (|aⱼ|² + |bⱼ|²)
    Q_sca g = (4/x²) Σ [j(j+2)/(j+1) Re(aⱼ aⱼ₊₁* + bⱼ bⱼ₊₁*) + (2j+1)/(j(j+1)) Re(aⱼ bⱼ*)]   (Y5)

Particles that fill a share φ of the film, w of it in each size, with Gate's relations (Appl. Opt. 13
(1974) 236), are a film of

    K = 2 φ Σ w 3 Q_abs/(2D),   S = ¾ φ Σ w 3 Q_sca (1 − g)/(2D)                           (Y6)

Particles are taken as spheres that stand alone. Those of a paint crowd and are not round, which changes the
level of S more than its shape; what is learnt from them is free in its level anyway.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray, wavelengths_nm

ComplexArray = npt.NDArray[np.complex128]

BINDER: Final = 1.5
EV_NM: Final = 1239.842
"""Photon energy times wavelength."""
ENERGIES_EV: Final = np.arange(0.3, 9.0, 0.02)
_SIZES: Final = 9
_AT_ONCE: Final = 20000


def index_from_absorption(k: FloatArray) -> FloatArray:
    """Return n − n₀ at the 31 wavelengths, equation (Y4).

    Parameters
    ----------
    k : ndarray, shape (..., energies)
        At :data:`ENERGIES_EV`.

    Returns
    -------
    ndarray, shape (..., 31)
    """
    return np.asarray(k @ _TRANSFORM.T)


def _transform() -> FloatArray:
    """Return (Y4) as a matrix, shape (31, energies)."""
    E = ENERGIES_EV
    step = E[1] - E[0]
    squares = E**2 - E[:, np.newaxis] ** 2
    other = (np.arange(E.size) + np.arange(E.size)[:, np.newaxis]) % 2 == 1
    on_nodes = np.where(other, 4.0 * step / np.pi * E / np.where(other, squares, 1.0), 0.0)
    # Between two nodes in a straight line, which also takes the two parities together.
    wanted = EV_NM / wavelengths_nm()
    at = np.clip(np.searchsorted(E, wanted) - 1, 0, E.size - 2)
    share = ((wanted - E[at]) / step)[:, np.newaxis]
    return np.asarray((1.0 - share) * on_nodes[at] + share * on_nodes[at + 1])


_TRANSFORM: Final = _transform()


def efficiencies(x: FloatArray, m: ComplexArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return Q_abs, Q_sca and g of spheres, equation (Y5).

    Parameters
    ----------
    x : ndarray, shape (n,)
        Circumference in wavelengths of the binder.
    m : ndarray, shape (n,)
        Index of the sphere as a share of the binder's; its imaginary part is 0 or more.

    Returns
    -------
    tuple of ndarray, shape (n,)
    """
    absorbed, scattered, forward = np.empty((3, x.size))
    order = np.argsort(x)
    rising = x[order]
    first = 0
    while first < x.size:
        # Spheres of about one size need as many terms: more would overflow for the smallest.
        alike = int(np.searchsorted(rising, 1.3 * rising[first], side="right"))
        own = order[first : min(alike, first + _AT_ONCE)]
        absorbed[own], scattered[own], forward[own] = _alike(x[own], m[own])
        first += own.size
    return absorbed, scattered, forward


def _alike(x: FloatArray, m: ComplexArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return :func:`efficiencies` of spheres of about one size."""
    last = x + 4.0 * np.cbrt(x) + 2.0
    terms = int(last.max()) + 1
    z = m * x
    deep = terms + int(np.abs(z).max()) + 16
    # The logarithmic derivative downwards, where it is stable; spherical Bessel functions upwards.
    derivative = np.zeros((terms + 1, x.size), dtype=np.complex128)
    D = np.zeros_like(z)
    for j in range(deep, 0, -1):
        D = j / z - 1.0 / (D + j / z)
        if j - 1 <= terms:
            derivative[j - 1] = D
    before, psi = np.cos(x), np.sin(x)
    chi_before, chi = -np.sin(x), np.cos(x)
    ext, sca, cos = np.zeros((3, x.size))
    a_last, b_last = np.zeros((2, x.size), dtype=np.complex128)
    for j in range(1, terms + 1):
        before, psi = psi, (2 * j - 1) / x * psi - before
        chi_before, chi = chi, (2 * j - 1) / x * chi - chi_before
        xi, xi_before = psi - 1j * chi, before - 1j * chi_before
        inside, outside = derivative[j] / m + j / x, derivative[j] * m + j / x
        a = (inside * psi - before) / (inside * xi - xi_before)
        b = (outside * psi - before) / (outside * xi - xi_before)
        a, b = np.where(j <= last, a, 0.0), np.where(j <= last, b, 0.0)
        ext += (2 * j + 1) * (a + b).real
        sca += (2 * j + 1) * (np.abs(a) ** 2 + np.abs(b) ** 2)
        cos += (2 * j + 1) / (j * (j + 1)) * (a * b.conj()).real
        if j > 1:
            cos += (j - 1) * (j + 1) / j * (a_last * a.conj() + b_last * b.conj()).real
        a_last, b_last = a, b
    ext, sca, cos = 2.0 * ext / x**2, 2.0 * sca / x**2, 4.0 * cos / x**2
    return np.maximum(ext - sca, 0.0), sca, cos / sca


def films(
    *, n: FloatArray, k: FloatArray, diameter_um: FloatArray, spread: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return K and S of films that are nothing but pigment (φ = 1), equation (Y6).

    Parameters
    ----------
    n, k : ndarray, shape (paints, 31)
        Refractive index.
    diameter_um : ndarray, shape (paints,)
        Median by volume.
    spread : ndarray, shape (paints,)
        Standard deviation of ln D: sizes are lognormal.

    Returns
    -------
    K, S : ndarray, shape (paints, 31), 1/µm
    """
    at, weight = np.polynomial.hermite_e.hermegauss(_SIZES)
    D = (diameter_um[:, np.newaxis] * np.exp(spread[:, np.newaxis] * at))[..., np.newaxis]
    shape = (*D.shape[:2], n.shape[1])
    x = np.broadcast_to(1000.0 * np.pi * D * BINDER / wavelengths_nm(), shape)
    m = np.broadcast_to(((n + 1j * k) / BINDER)[:, np.newaxis], shape)
    absorbed, scattered, g = (q.reshape(shape) for q in efficiencies(x.ravel(), m.ravel()))
    share = (weight / weight.sum())[:, np.newaxis]
    K = 2.0 * (share * 1.5 * absorbed / D).sum(axis=1)
    S = 0.75 * (share * 1.5 * scattered * (1.0 - g) / D).sum(axis=1)
    return K, S
