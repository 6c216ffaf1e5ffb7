"""Films in which light has a direction: two cones instead of one diffuse flux.

Kubelka and Munk's fluxes are perfectly diffuse wherever they are. In a real film the light comes
in along the normal, becomes diffuse as it is scattered, and meets the surface from inside at all
angles; there everything outside the escape cone is reflected totally. Inks, washes and glazes
barely scatter, so a diffuse flux has the wrong path through them (2X, where the light that is seen
goes about 1.1X each way while the trapped light goes 2.7X) and the wrong share of it escapes.

So each hemisphere is split where the surface splits it: a *cone* (1) of rays that can leave and
the rest, *trapped* (2): two fluxes down, two up. Several diffuse fluxes a hemisphere are those of
P. S. Mudgett and L. W. Richards (J. Colloid Interface Sci. 39 (1972) 551; abstract seen, volume and
page from memory), who find that splitting them pays where the internal reflection depends strongly
on angle; splitting the quadrature at the critical angle is S. A. Prahl's (in A. J. Welch and M. van
Gemert, 1995). Here there is one Gauss point in each part. With n the binder's index and
μc = √(1 − 1/n²) the critical cosine:

    μ₁ = (1 + μc)/2,  μ₂ = μc/2          mean cosines (Gauss, one point in each interval)
    w₁ = 1 − μc,      w₂ = μc            shares of the solid angle
    c₁ = 2μ₁w₁ = 1/n²,  c₂ = 2μ₂w₂       shares of the flux of even light
    dᵢ = 1/μᵢ;  c₁d₁ + c₂d₂ = 2          mean paths: Kubelka and Munk's K = 2 μa            (D1)

Let fᵢ = fluxᵢ/√cᵢ, and u = f↓ + f↑, v = f↓ − f↑, x the depth. The transfer equation (S.
Chandrasekhar, Radiative Transfer, 1960) is, with a = K/2 the absorption, b the scattering, and D =
diag(d₁, d₂),

    du/dx = −P v,   dv/dx = −M u                                                           (D2)
    M = √D [ a 1 + b (1 − χ₂) q qᵀ ] √D,      q = (√w₂, −√w₁)                              (D3)
    P = √D [ (a + b) 1 − b χ₁ m mᵀ ] √D,      m = (μ₁√w₁, μ₂√w₂) / √(w₁μ₁² + w₂μ₂²)        (D4)

χ₁ and χ₂ are the moments of the scattering function on the odd and on the even direction that is
left after what conservation fixes (√D q is orthogonal to even light: with a = 0 it passes without
loss, whatever χ). They come from Henyey and Greenstein's function of mean cosine g with its forward
peak taken as not scattered, f = g⁴ (delta-M: W. J. Wiscombe, J. Atmos. Sci. 34 (1977) 1408):

    χ₁ = (g − f)/(1 − f),   χ₂ = (g² − f)/(1 − f)                                          (D5)

A paint keeps two constants. K = 2a, and S fixes b by similarity: scattering that is more forward
but stronger looks the same (J. H. Joseph, W. J. Wiscombe and J. A. Weinman, J. Atmos. Sci. 33
(1976) 2452), with Kubelka and Munk's S = ¾ μs (1 − g) (A. Gate, Appl. Opt. 13 (1974) 236):

    b = 4 ν S / (1 − χ₁),   ν = w₁μ₁² + w₂μ₂²                                              (D6)

For all directions ν would be ∫μ² dμ = 1/3, which is Gate's ¾; with ν of the two directions (0.297)
a thick film without absorption passes exactly Kubelka and Munk's flux, −(u√c)'/2S (derived here
from D4). g is one number for all paints, :data:`FORWARD`; it is the only constant that was adjusted.

**Solving a film.** With P = L Lᵀ and Lᵀ M L = Q diag(x²) Qᵀ (T. Nakajima and M. Tanaka, J. Quant.
Spectrosc. Radiat. Transf. 35 (1986) 13), A = L Q x^−½ and B = A⁻ᵀ turn (D2) into two lines that
do not know of each other, u = A ũ, v = B ṽ: ũ' = −x ṽ, ṽ' = −x ũ. Whatever lies below a level is
known by its *admittance* Y, v = Y u: symmetric, 1 for black, 0 for a perfect white, (1 − R)(1 + R)⁻¹
for a ground that reflects R. In the film's own lines, with t = tanh(xX), s = sech(xX),

    Ỹ' = t + s (Ỹ⁻¹ + t)⁻¹ s                                                               (D7)

which is how a length of cable changes the load at its end (and for one line, Kubelka's (1948)
equation). Every term is positive, nothing is subtracted: X → 0 gives Ỹ' = Ỹ exactly, X → ∞ gives
Ỹ' = 1, two halves are the whole.

**The surface.** Trapped light is all turned back, so there v₂ = 0, and the cone sees

    y = Y₁₁ − Y₁₂²/Y₂₂,   ρ = (1 − y)/(1 + y)                                              (D8)
    R = σ k₁ + (1 − k₁)(1 − r₁) ρ / (1 − r₁ρ),   r₁ = 1 − n²(1 − k₂)                       (D9)

with k₁ and k₂ of Saunderson and σ the sheen, as in (S3). Over an even ground without films (D9) is
Saunderson's equation to the last digit. (D3), (D4), (D7) and (D8) in this form are derived here.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.optics.surface import BINDER_INDEX, reflections, smooth_surface
from layersim.spectra import FloatArray

FORWARD: Final = 0.43
"""Mean cosine g of (D5), for every paint: least error over tuning pigments (flat from .38 to .48)."""

# A film without any absorption would have a line without decay. At this floor, far below
# rounding, every limit stays finite: an endless lossless film returns all but 1e-11 of the light.
_LEAST_ABSORPTION_PER_UM: Final = 1e-24
# Products of four constants must stay within what a float holds.
_LARGEST_PER_UM: Final = 1e60
_TINY: Final = 1e-15


@dataclass(frozen=True)
class Directions:
    """The two cones of a binder, equations (D1) and (D5); all tuples are (cone, trapped)."""

    shares: tuple[float, float]
    """Shares c of the flux of even light."""
    paths: tuple[float, float]
    """Mean paths d through a unit of depth."""
    even: tuple[float, float]
    """The vector q."""
    odd: tuple[float, float]
    """The vector m."""
    scattering_per_S: float
    """B/S of (D6)."""
    chi1: float
    """Moments of the scattering function."""
    chi2: float
    """Moments of the scattering function."""
    k1: float
    """Reflection of the surface for light from outside, and for the cone from inside."""
    r1: float
    """Reflection of the surface for light from outside, and for the cone from inside."""


@functools.lru_cache
def directions(*, index: float = BINDER_INDEX, forward: float = FORWARD) -> Directions:
    """Return the constants of the two cones, equations (D1), (D3) to (D5) and (D9).

    `index` is the binder's refractive index, above 1, and `forward` the mean cosine g of scattering, 0..1.

    >>> [round(d, 3) for d in directions().paths]
    [1.146, 2.683]
    """
    critical = float(np.sqrt(1.0 - 1.0 / index**2))
    mu = np.array([0.5 * (1.0 + critical), 0.5 * critical])
    w = np.array([1.0 - critical, critical])
    m = mu * np.sqrt(w)
    mean_square = float(m @ m)
    m /= np.sqrt(mean_square)
    peak = forward**4
    chi1 = (forward - peak) / (1.0 - peak)
    surface = smooth_surface(index)
    return Directions(
        shares=(float(2.0 * mu[0] * w[0]), float(2.0 * mu[1] * w[1])),
        paths=(float(1.0 / mu[0]), float(1.0 / mu[1])),
        even=(float(np.sqrt(w[1])), -float(np.sqrt(w[0]))),
        odd=(float(m[0]), float(m[1])),
        scattering_per_S=4.0 * mean_square / (1.0 - chi1),
        chi1=chi1,
        chi2=(forward**2 - peak) / (1.0 - peak),
        k1=surface.k1,
        r1=1.0 - index**2 * (1.0 - surface.k2),
    )


@dataclass(frozen=True)
class Air:
    """A surface towards air, or many: what (D9) knows of it."""

    k1: float | FloatArray
    """Reflection of the light from outside."""
    r1: float | FloatArray
    """Reflection of the cone from inside."""


def air(*, index: npt.ArrayLike) -> Air:
    """Return the surfaces of binders of some refractive indices.

    The split of the directions in (D1) stays where it is: what a binder's index does inside the films is
    in a paint's K and S.

    >>> same = air(index=1.5)
    >>> bool(np.isclose(same.k1, directions().k1)), bool(np.isclose(same.r1, directions().r1))
    (True, True)
    """
    return Air(*reflections(index=index))


def air_of(surfaces: Air, rows: slice) -> Air:
    """Return some of many surfaces, by their first axis."""
    return Air(np.asarray(surfaces.k1)[rows], np.asarray(surfaces.r1)[rows])


@dataclass(frozen=True)
class Medium:
    """A paint's two lines: everything about a film but its thickness."""

    decay_per_um: FloatArray
    """x of (D7); the fast line first, (2, ...), 1/µm."""
    inward: FloatArray
    """A: line j in cone i. Ỹ = Aᵀ Y A, (2, 2, ...)."""
    outward: FloatArray
    """A⁻¹: Y = A⁻ᵀ Ỹ A⁻¹, (2, 2, ...)."""


@dataclass(frozen=True)
class Admittance:
    """What lies below a level, as (D7) knows it: the symmetric matrix Y."""

    cone: FloatArray
    """Y₁₁."""
    cross: FloatArray
    """Y₁₂."""
    trapped: FloatArray
    """Y₂₂."""


def medium(*, K_per_um: npt.ArrayLike, S_per_um: npt.ArrayLike, cones: Directions | None = None) -> Medium:
    """Return the two lines of a paint, equations (D3), (D4) and (D6).

    K and S in 1/µm, broadcasting against each other.

    Raises ValueError if a constant is negative, not a number or above 1e60.

    >>> medium(K_per_um=0.2, S_per_um=0.0).decay_per_um.round(3)  # clear: K/2 times the paths
    array([0.268, 0.115])
    """
    K, S = np.broadcast_arrays(np.asarray(K_per_um, np.float64), np.asarray(S_per_um, np.float64))
    for name, values in (("K_per_um", K), ("S_per_um", S)):
        if values.size and not (values.min() >= 0.0 and values.max() <= _LARGEST_PER_UM):
            raise ValueError(f"{name} must be zero or more, and at most {_LARGEST_PER_UM:g}")
    z = cones or directions()
    a = np.maximum(0.5 * K, _LEAST_ABSORPTION_PER_UM)
    b = z.scattering_per_S * S
    lost, odd = b * (1.0 - z.chi2), b * z.chi1
    e = a + b
    d1, d2 = z.paths
    root = np.sqrt(d1 * d2)
    m11, m12, m22 = (
        d1 * (a + lost * z.even[0] ** 2),
        root * lost * z.even[0] * z.even[1],
        d2 * (a + lost * z.even[1] ** 2),
    )
    p11, p12 = d1 * (e - odd * z.odd[0] ** 2), -root * odd * z.odd[0] * z.odd[1]
    # det P and det M, free of subtraction since q and m are unit vectors
    det_P, det_M = d1 * d2 * e * (a + b * (1.0 - z.chi1)), d1 * d2 * a * (a + lost)
    l11 = np.sqrt(p11)
    l21, l22 = p12 / l11, np.sqrt(det_P / p11)
    h11 = l11**2 * m11 + 2.0 * l11 * l21 * m12 + l21**2 * m22
    h12, h22 = l22 * (l11 * m12 + l21 * m22), l22**2 * m22
    half_gap = np.hypot(0.5 * (h11 - h22), h12)
    fast_squared = 0.5 * (h11 + h22) + half_gap
    decay = np.sqrt(np.stack([fast_squared, det_P * det_M / fast_squared]))
    turn = 0.5 * np.arctan2(2.0 * h12, h11 - h22)
    cos, sin = np.cos(turn), np.sin(turn)
    unscaled = np.array([[l11 * cos, -l11 * sin], [l21 * cos + l22 * sin, l22 * cos - l21 * sin]])
    inverse = np.array([[unscaled[1, 1], -unscaled[0, 1]], [-unscaled[1, 0], unscaled[0, 0]]]) / (l11 * l22)
    scale = np.sqrt(decay)
    return Medium(decay_per_um=decay, inward=unscaled / scale, outward=inverse * scale[:, np.newaxis])


def rows_of(paint: Medium, rows: slice) -> Medium:
    """Return some of many media, by the first axis of the constants they were made from."""
    return Medium(paint.decay_per_um[:, rows], paint.inward[:, :, rows], paint.outward[:, :, rows])


def even_ground(internal: npt.ArrayLike, *, cones: Directions | None = None) -> Admittance:
    """Return a ground that scatters evenly: R = ρ √c √cᵀ, so Y = 1 − 2ρ/(1 + ρ) √c √cᵀ.

    `internal` is ρ, its reflectance inside the binder, 0..1.
    """
    c1, c2 = (cones or directions()).shares
    rho = np.asarray(internal, dtype=np.float64)
    h = 2.0 * rho / (1.0 + rho)
    return Admittance(cone=1.0 - h * c1, cross=-h * np.sqrt(c1 * c2), trapped=1.0 - h * c2)


def endless(paint: Medium) -> Admittance:
    """Return an opaque paint as a ground: Ỹ = 1, (D7) at X → ∞."""
    return _congruent(paint.outward, np.asarray(1.0), np.asarray(0.0), np.asarray(1.0))


def lay(paint: Medium, *, thickness_um: npt.ArrayLike, over: Admittance) -> Admittance:
    """Return a film over a ground, equation (D7).

    Thickness in µm, ``inf`` for opaque, broadcasting against both.

    Raises ValueError if a thickness is negative or not a number.

    >>> glaze = medium(K_per_um=0.2, S_per_um=0.02)
    >>> whole = lay(glaze, thickness_um=4.0, over=even_ground(0.8))
    >>> half = lay(glaze, thickness_um=2.0, over=even_ground(0.8))
    >>> bool(np.isclose(seen(lay(glaze, thickness_um=2.0, over=half), sheen=0), seen(whole, sheen=0)))
    True
    """
    inside = _congruent(paint.inward, over.cone, over.cross, over.trapped)
    thickness = np.asarray(thickness_um, dtype=np.float64)
    if thickness.size and not thickness.min() >= 0.0:
        raise ValueError("thickness_um must be zero or more")
    depth1, depth2 = paint.decay_per_um[0] * thickness, paint.decay_per_um[1] * thickness
    (t1, s1), (t2, s2) = _tanh_and_sech(depth1), _tanh_and_sech(depth2)
    y1, y12, y2 = inside.cone, inside.cross, inside.trapped
    det = y1 * y2 - y12 * y12
    up1, up2 = y1 + det * t2, y2 + det * t1
    share = 1.0 / (1.0 + t1 * y1 + t2 * up2)
    return _congruent(
        paint.outward, t1 + s1 * s1 * up1 * share, s1 * s2 * y12 * share, t2 + s2 * s2 * up2 * share
    )


def seen(
    ground: Admittance, *, sheen: npt.ArrayLike, cones: Directions | None = None, air: Air | None = None
) -> FloatArray:
    """Return what is seen through the surface, lit near the normal, equations (D8) and (D9).

    `sheen` is the share of the first reflection that is seen; `air` takes the place of the surface of
    `cones`.

    >>> seen(even_ground([0.0, 0.3, 1.0]), sheen=1.0).round(6)
    array([0.04    , 0.181582, 1.      ])
    """
    z = air or cones or directions()
    y = ground.cone - ground.cross**2 / np.maximum(ground.trapped, _TINY)
    within = (1.0 - z.k1) * (1.0 - z.r1) * (1.0 - y) / ((1.0 - z.r1) + (1.0 + z.r1) * y)
    return np.asarray(np.asarray(sheen) * z.k1 + within)


def ground_from_seen(
    reflectance: npt.ArrayLike,
    *,
    sheen: npt.ArrayLike,
    cones: Directions | None = None,
    air: Air | None = None,
) -> Admittance:
    """Return an even ground that looks like a measured one: the inverse of :func:`seen`.

    `air` takes the place of the surface of `cones`.
    """
    inside = cones or directions()
    z = air or inside
    through = (np.asarray(reflectance, dtype=np.float64) - np.asarray(sheen) * z.k1) / (
        (1.0 - z.k1) * (1.0 - z.r1)
    )
    c1, c2 = inside.shares
    return even_ground(through / (c1 + through * (z.r1 * c1 + c2)), cones=inside)


def _tanh_and_sech(depth: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return tanh and 1/cosh of depths ≥ 0 from one exponential, exact at both ends."""
    less = np.expm1(-depth)
    left = 1.0 + less
    both = 1.0 / (1.0 + left * left)
    return -less * (1.0 + left) * both, 2.0 * left * both


def _congruent(g: FloatArray, y1: FloatArray, y12: FloatArray, y2: FloatArray) -> Admittance:
    """Return gᵀ Y g."""
    p1, p2 = g[0, 0] * y1 + g[1, 0] * y12, g[0, 0] * y12 + g[1, 0] * y2
    q1, q2 = g[0, 1] * y1 + g[1, 1] * y12, g[0, 1] * y12 + g[1, 1] * y2
    return Admittance(
        cone=np.asarray(g[0, 0] * p1 + g[1, 0] * p2),
        cross=np.asarray(g[0, 1] * p1 + g[1, 1] * p2),
        trapped=np.asarray(g[0, 1] * q1 + g[1, 1] * q2),
    )
