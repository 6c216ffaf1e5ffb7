"""Slow, literal oracles: each computes what the package does in another way, and says whose.

Nothing here is clever or quick, and nothing is imported from the package.
"""

from __future__ import annotations

import itertools
import math
from decimal import Decimal, localcontext

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

DIGITS = 60


# One film: Kubelka and Munk's equations dI/dx = −(K+S)I + SJ, dJ/dx = (K+S)J − SI.


def film_by_matrix(K: float, S: float, X: float) -> tuple[float, float]:
    """R and T from the matrix exponential that carries both fluxes through the film.

    Light falls on the top (I = 1) and none on the back (J = 0). Good to some ten optical depths,
    after which the growing solution swamps the other.
    """
    from scipy.linalg import expm

    through = expm(X * np.array([[-(K + S), S], [-S, K + S]]))
    R = -through[1, 0] / through[1, 1]
    return float(R), float(through[0, 0] + through[0, 1] * R)


def film_by_textbook(K: float, S: float, X: float, ground: float) -> tuple[float, float]:
    """R over a ground, and T, by Kubelka's hyperbolic forms (J. Opt. Soc. Am. 38 (1948) 448).

    R = [1 − Rg (a − b coth bSX)] / (a + b coth bSX − Rg),  T = b / (a sinh bSX + b cosh bSX),
    a = 1 + K/S, b = √(a² − 1), in 60 decimal digits. K, S, X above zero.
    """
    with localcontext() as context:
        context.prec = DIGITS
        k, s, x, g = (Decimal(v) for v in (K, S, X, ground))
        a = 1 + k / s
        b = (a * a - 1).sqrt()
        sinh, cosh = _sinh_cosh(b * s * x)
        coth = cosh / sinh
        R = (1 - g * (a - b * coth)) / (a + b * coth - g)
        return float(R), float(b / (a * sinh + b * cosh))


def _sinh_cosh(u: Decimal) -> tuple[Decimal, Decimal]:
    if u < 1:
        sinh = term = u
        cosh = even = Decimal(1)
        for n in range(1, 60):
            even = even * u * u / ((2 * n - 1) * (2 * n))
            term = term * u * u / ((2 * n) * (2 * n + 1))
            cosh, sinh = cosh + even, sinh + term
        return sinh, cosh
    up = u.exp()
    return (up - 1 / up) / 2, (up + 1 / up) / 2


def constants_over_black_and_white(black: float, white: float) -> tuple[float, float]:
    """K X and S X of a film seen over a perfect black and a perfect white.

    As C. J. Curtis et al., Computer-generated watercolor, Proc. SIGGRAPH 1997, section 5.1, write
    Kubelka's inverse (from memory): S = (1/b) arcoth((b² − (a − Rw)(a − 1)) / (b (1 − Rw))),
    K = S (a − 1), a = ½ (Rw + (Rb − Rw + 1) / Rb).
    """
    a = 0.5 * (white + (black - white + 1.0) / black)
    b = math.sqrt(a * a - 1.0)
    S = math.atanh(b * (1.0 - white) / (b * b - (a - white) * (a - 1.0))) / b
    return S * (a - 1.0), S


# The surface.


def fresnel_by_angles(incidence: float, index: float) -> float:
    """½ [sin²(i−r)/sin²(i+r) + tan²(i−r)/tan²(i+r)], Fresnel's own form (Born and Wolf, sec. 1.5)."""
    refraction = math.asin(math.sin(incidence) / index)
    less, more = incidence - refraction, incidence + refraction
    return 0.5 * (math.sin(less) ** 2 / math.sin(more) ** 2 + math.tan(less) ** 2 / math.tan(more) ** 2)


def diffuse_reflection_by_quadrature(index: float) -> float:
    """∫ 2 µ R(µ) dµ, the share of a perfectly diffuse field that Fresnel's equations turn back.

    `index` is that beyond the surface over that before it; below 1, all is turned back beyond the
    critical angle.
    """
    from scipy.integrate import quad

    critical = math.asin(index) if index < 1.0 else math.pi / 2
    inside, _ = quad(
        lambda i: fresnel_by_angles(i, index) * math.sin(2.0 * i),
        1e-9,
        critical - 1e-9,
        limit=400,
        epsabs=1e-12,
    )
    return float(inside + math.cos(critical) ** 2)


def seen_by_bounces(internal: float, k1: float, k2: float, sheen: float, bounces: int = 3000) -> float:
    """What leaves the surface, bounce by bounce between film and surface."""
    seen, rising = sheen * k1, (1.0 - k1) * internal
    for _ in range(bounces):
        seen += rising * (1.0 - k2)
        rising *= k2 * internal
    return seen


def lightness(luminance: FloatArray) -> FloatArray:
    """CIE 1976 L* of a luminance factor 0..1 (CIE 15: 116 f(Y) − 16, a line below (6/29)³)."""
    curve = np.cbrt(luminance)
    line = luminance * (29.0 / 6.0) ** 2 / 3.0 + 4.0 / 29.0
    return 116.0 * np.where(luminance > (6.0 / 29.0) ** 3, curve, line) - 16.0


# Spray.


def poisson_slices(spread: float, sites: int) -> FloatArray:
    """Mean film of each of `sites` equally likely slices of Poisson counts, over the mean count.

    Each slice's mean is summed count by count: what of a count's probability lies within the slice.
    """
    from scipy.stats import poisson

    mean = 1.0 / spread**2
    counts = np.arange(int(mean + 15.0 * np.sqrt(mean)) + 30)
    after = poisson.cdf(counts, mean)
    before = np.concatenate([[0.0], after[:-1]])
    edges = np.linspace(0.0, 1.0, sites + 1)
    films = []
    for low, high in itertools.pairwise(edges):
        within = np.clip(np.minimum(after, high) - np.maximum(before, low), 0.0, None)
        films.append(float(within @ counts) / (high - low) / mean)
    return np.array(films)


def sprayed_sheet(*, spot_um: float, film_um: float, random: np.random.Generator, places: int) -> FloatArray:
    """Film at places of a ring on which spots of unit width landed at random, one after the other."""
    length = 2000.0
    drops = round(film_um * length / spot_um)
    left_edges = np.sort(random.uniform(0.0, length, drops))
    looks = np.linspace(0.0, length, places, endpoint=False) + 1.0
    wrapped = np.concatenate([left_edges, left_edges[left_edges < 1.0] + length])
    over = np.searchsorted(wrapped, looks, "right") - np.searchsorted(wrapped, looks - 1.0, "right")
    return np.asarray(over * spot_um)
