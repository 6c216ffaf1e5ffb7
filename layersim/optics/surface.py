"""The painted surface: what happens where binder meets air.

Fresnel's equations give the reflection of one ray (M. Born and E. Wolf, Principles of Optics,
section 1.5); averaged over a perfectly diffuse field from outside they give, with n the
refractive index of the binder (J. W. T. Walsh, Dept. Sci. Ind. Res. Illum. Res. Tech. Paper 2
(1926) 10, as quoted by S. Q. Duntley, J. Opt. Soc. Am. 32 (1942) 61),

    r = ½ + (n−1)(3n+1) / 6(n+1)² + n²(n²−1)² / (n²+1)³ · ln((n−1)/(n+1))
          − 2n³(n²+2n−1) / (n²+1)(n⁴−1) + 8n⁴(n⁴+1) / (n²+1)(n⁴−1)² · ln n               (S1)

and from inside, where most of the light meets the surface too flat to leave,

    r' = 1 − (1 − r) / n²                                                                 (S2)

J. L. Saunderson (J. Opt. Soc. Am. 32 (1942) 727) joins the film's own reflectance Rᵢ to what is
seen, with k₁ the first reflection from outside, k₂ the one from inside, and, written out here, σ
the share of that first reflection that reaches the eye or the instrument:

    R = σ k₁ + (1 − k₁)(1 − k₂) Rᵢ / (1 − k₂ Rᵢ)                                          (S3)

σ is what painters call sheen. A glossy varnish sends its reflection one way, like a mirror, and
the model is tilted until it misses the eye (σ near 0; what an instrument calls specular
excluded). A matt one scatters the same reflection all round, so all of it greys the colour
whichever way the model is turned (σ = 1; specular included). The dark tones move the most, since
they return little else.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray

BINDER_INDEX: Final = 1.5
"""Refractive index of dry paint binders, near 1.5 for acrylics, alkyds and oils alike (handbook value)."""

SHEENS: Final[dict[str, float]] = {"gloss": 0.05, "satin": 0.40, "matt": 1.0}
"""Share σ of the first reflection that reaches the eye, by the trade's three words.

The ends follow from what the words mean; how much of a satin surface's reflection is seen depends
on the room, and 0.40 is a convention of this package, to be changed in the scheme.
"""

SHEEN_DEPTH_UM: Final = 1.0
"""Dry film over which a new coat takes over the sheen of what lies below (an assumption).

A film hides the roughness under it once it is about as thick as that roughness is deep, some
micrometres or less on a sprayed matt coat. See :func:`blended_sheen`.
"""


_INDICES: Final = (1.001, 10.0)
_SLACK: Final = 0.2  # a fit may pass through there


@dataclass(frozen=True)
class Surface:
    """How a surface between air and binder reflects.

    >>> smooth_surface()
    Surface(k1=0.04..., k2=0.596...)
    """

    k1: float
    """Reflection of the light that arrives from outside, 0..1."""
    k2: float
    """Reflection of the light that arrives from inside, 0..1."""


def reflections(*, index: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return what many binders reflect: light along the normal, and even light, equation (S1).

    The second is also what the escape cone reflects from inside (r₁ of :mod:`layersim.optics.cones`):
    beyond it all is reflected, so that r₁ = 1 − n²(1 − r') = r by (S2).

    Returns k₁ and r, shaped as the indices.

    Raises ValueError if an index is outside 1.001..10 (nearer to 1, equation (S1) loses its digits).

    >>> k1, r = reflections(index=[1.45, 1.5, 1.6])
    >>> k1.round(4), r.round(4)
    (array([0.0337, 0.04  , 0.0533]), array([0.0844, 0.0918, 0.1062]))
    """
    n = np.asarray(index, dtype=np.float64)
    if not ((n >= _INDICES[0]) & (n <= _INDICES[1])).all():
        raise ValueError(f"the refractive index of a binder must lie within {_INDICES[0]}..{_INDICES[1]}")
    even = (
        0.5
        + (n - 1) * (3 * n + 1) / (6 * (n + 1) ** 2)
        + n**2 * (n**2 - 1) ** 2 / (n**2 + 1) ** 3 * np.log((n - 1) / (n + 1))
        - 2 * n**3 * (n**2 + 2 * n - 1) / ((n**2 + 1) * (n**4 - 1))
        + 8 * n**4 * (n**4 + 1) / ((n**2 + 1) * (n**4 - 1) ** 2) * np.log(n)
    )
    return ((n - 1.0) / (n + 1.0)) ** 2, np.asarray(even)


def smooth_surface(index: float = BINDER_INDEX) -> Surface:
    """Return the surface for light that arrives near the normal and is diffuse inside.

    k₁ from Fresnel at normal incidence (0.04 at n = 1.5, and 0.0502 still at 45°), k₂ from (S2). Raises as
    :func:`reflections`.
    """
    k1, r = reflections(index=index)
    return Surface(k1=float(k1), k2=1.0 - (1.0 - float(r)) / index**2)


def seen(internal: npt.ArrayLike, *, sheen: npt.ArrayLike, surface: Surface | None = None) -> FloatArray:
    """Return the reflectance that is seen from outside, equation (S3).

    `internal` is the stack's own reflectance Rᵢ, `sheen` the share σ of the first reflection that reaches the
    eye, 0 (gloss) to 1 (matt). Raises ValueError where either is no number or far outside 0..1.

    >>> seen([0.0, 1.0], sheen=1.0).round(6)
    array([0.04, 1.  ])
    """
    s = surface or _DEFAULT
    R = np.asarray(internal, dtype=np.float64)
    share = np.asarray(sheen, dtype=np.float64)
    if not ((R > -_SLACK) & (R < 1.0 + _SLACK) & (s.k2 * R < 1.0)).all():
        raise ValueError("an internal reflectance must lie within 0..1: a stack returns at most 1")
    if not ((share >= 0.0) & (share <= 1.0)).all():
        raise ValueError("a sheen must lie within 0 (gloss) to 1 (matt)")
    return np.asarray(share * s.k1 + (1.0 - s.k1) * (1.0 - s.k2) * R / (1.0 - s.k2 * R))


def internal_from_seen(
    reflectance: npt.ArrayLike, *, sheen: npt.ArrayLike, surface: Surface | None = None
) -> FloatArray:
    """Return the stack's own reflectance from what is seen: the inverse of :func:`seen`.

    A reflectance may leave the range that any stack can show; the result then leaves 0..1.

    >>> float(internal_from_seen(seen(0.3, sheen=0.4), sheen=0.4).round(12))
    0.3
    """
    s = surface or _DEFAULT
    through = np.asarray(reflectance, dtype=np.float64) - np.asarray(sheen) * s.k1
    return np.asarray(through / ((1.0 - s.k1) * (1.0 - s.k2) + s.k2 * through))


def blended_sheen(
    below: npt.ArrayLike, *, coat_sheen: npt.ArrayLike, thickness_um: npt.ArrayLike
) -> FloatArray:
    """Return the sheen after a coat: σ ← σ_coat + (σ_below − σ_coat) exp(−X / 1 µm).

    An interpolation, not a law of optics: no film leaves the sheen as it was, a film thicker than
    the roughness it covers sets it (see :data:`SHEEN_DEPTH_UM`).

    `below` is the sheen before the coat, and the thickness, µm, that of its dry film.

    >>> float(blended_sheen(1.0, coat_sheen=0.05, thickness_um=0.0))
    1.0
    """
    kept = np.exp(-np.asarray(thickness_um, dtype=np.float64) / SHEEN_DEPTH_UM)
    new = np.asarray(coat_sheen, dtype=np.float64)
    return np.asarray(new + (np.asarray(below) - new) * kept)


_DEFAULT: Final = smooth_surface()
