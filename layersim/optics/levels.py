"""Films laid upwards by products alone: (D7) for many thicknesses of few paints.

What lies below a level is kept in the coordinates of (B1), in which a film is linear. Further, with

    e = (1 + y₁ + y₂ + δ,  1 − y₁ + y₂ − δ,  1 + y₁ − y₂ − δ,  1 − y₁ − y₂ + δ,  y₁₂)

in a film's own lines, a film is, but for a factor that all share,

    e ← (1, u, v, uv, √(uv)) e,   u = exp(−2x₁X),   v = exp(−2x₂X)                         (D10)

so it costs two exponentials and some products, where (D7) needs twice that and a division. A film may be as
thin or as thick as one likes. Terms of both signs meet: where a paint hardly absorbs, digits are lost, about
1e-16 x₁/x₂ of reflectance. Where x₂ is less than a thousandth of x₁, (D7) is used as it stands. D10 is
derived here from B2.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from layersim.optics import cones
from layersim.optics.cones import Admittance, Air, Medium
from layersim.spectra import FloatArray

_LEAST_SLOW: Final = 1e-3
# A film may multiply the coordinates by some hundreds: far below what a float holds.
_LARGE: Final = 1e100


class Level(NamedTuple):
    """What lies below a level, as (B1) has it; all five may share any factor."""

    one: FloatArray
    cone: FloatArray
    cross: FloatArray
    trapped: FloatArray
    det: FloatArray


def level_of(ground: Admittance) -> Level:
    """Return the coordinates of what lies below."""
    det = ground.cone * ground.trapped - ground.cross**2
    return Level(np.ones_like(det), ground.cone, ground.cross, ground.trapped, det)


def rows_of(level: Level, rows: slice) -> Level:
    """Return some of what lies below, by the first axis."""
    return Level(*(part[rows] for part in level))


def lay(paint: Medium, *, thickness_um: npt.ArrayLike, over: Level) -> Level:
    """Return a film over what lies below, (D10), or (D7) where the paint hardly absorbs.

    Thickness in µm, ``inf`` for opaque. All arrays broadcast against each other. Raises ValueError if a
    thickness is negative or not a number.

    >>> glaze, white = cones.medium(K_per_um=0.2, S_per_um=0.02), cones.even_ground(0.8)
    >>> ours = seen(lay(glaze, thickness_um=2.0, over=level_of(white)), sheen=1.0)
    >>> bool(np.isclose(ours, cones.seen(cones.lay(glaze, thickness_um=2.0, over=white), sheen=1.0)))
    True
    """
    fast, slow = paint.decay_per_um
    if (slow < _LEAST_SLOW * fast).any():
        below = Admittance(*(part / over.one for part in (over.cone, over.cross, over.trapped)))
        return level_of(cones.lay(paint, thickness_um=thickness_um, over=below))
    X = np.asarray(thickness_um, dtype=np.float64)
    if X.size and not X.min() >= 0.0:
        raise ValueError("thickness_um must be zero or more")
    one, y1, y12, y2, det = _turned(over, paint.inward)
    u, v = np.exp(-fast * X), np.exp(-slow * X)
    both = u * v
    u *= u
    v *= v
    # (1 + y₁)(1 + y₂) stays, the other three corners and the cross term fade.
    right, left, down, up = one + y2, y1 + det, one - y2, y1 - det
    fade1, fade2, fade12 = (right - left) * u, (down + up) * v, (down - up) * (both * both)
    right += left
    # Twice what a half and a half make: the scale is free, but the cross term must keep to it.
    one, left = right + fade1, right - fade1
    down, up = fade2 + fade12, fade2 - fade12
    level = Level(one + down, left + up, y12 * (4.0 * both), one - down, left - up)
    if level.one.size and level.one.max() > _LARGE:
        level = Level(*(part / level.one for part in level))
    return _turned(level, paint.outward)


def seen(level: Level, *, sheen: npt.ArrayLike, air: Air | None = None) -> FloatArray:
    """Return what is seen through the surface, lit near the normal, (D9) in the form of (B3)."""
    z = air or cones.directions()
    below = (1.0 + z.r1) * level.det
    below += (1.0 - z.r1) * level.trapped
    within = level.trapped - level.det
    within *= (1.0 - z.k1) * (1.0 - z.r1)
    within /= below
    return np.asarray(np.asarray(sheen) * z.k1 + within)


def _turned(level: Level, g: FloatArray) -> Level:
    """Return the coordinates after the change of lines Y → gᵀ Y g."""
    one, y1, y12, y2, det = level
    (a, b), (c, d) = g

    def row(first: FloatArray, cross: FloatArray, second: FloatArray) -> FloatArray:
        out = first * y1
        out = out + cross * y12
        out += second * y2
        return out

    return Level(
        one,
        row(a * a, 2.0 * a * c, c * c),
        row(a * b, a * d + b * c, c * d),
        row(b * b, 2.0 * b * d, d * d),
        (a * d - b * c) ** 2 * det,
    )
