"""Films laid upwards by products alone: (D7) for many thicknesses of few paints.

What lies below a level is kept in the coordinates of (B1), in which a film is linear. Further, with

    e = (1 + y₁ + y₂ + δ,  1 − y₁ + y₂ − δ,  1 + y₁ − y₂ − δ,  1 − y₁ − y₂ + δ,  y₁₂)

in a film's own lines, a film is, but for a factor that all share,

    e ← (1, u, v, uv, √(uv)) e,   u = exp(−2x₁X),   v = exp(−2x₂X)                         (D10)

and the way into a paint's lines and out of them is a matrix of 5 × 5 a wavelength. So a film costs two
exponentials and some products. It may be as thin or as thick as one likes. Terms of both signs meet: where a
paint hardly absorbs, digits are lost, about 1e-16 x₁/x₂ of reflectance. For a paint with x₂ less than a
thousandth of x₁ anywhere, (D7) is used as it stands. D10 is derived here from B2.

A level is one array with the axes (row, wavelength, coordinate, ...); all five coordinates may share any
factor. Rows have paints of their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.optics import cones
from layersim.optics.cones import Admittance, Air, Medium
from layersim.spectra import FloatArray

_LEAST_SLOW: Final = 1e-3
# A film may multiply the coordinates by some hundreds: this is far below what a float holds.
_LARGE: Final = 1e100

# From the coordinates of (B1), in their order 1, y₁, y₁₂, y₂, δ, to e of (D10), and back.
_EIGEN: Final = np.array(
    [
        [1.0, 1.0, 0.0, 1.0, 1.0],
        [1.0, -1.0, 0.0, 1.0, -1.0],
        [1.0, 1.0, 0.0, -1.0, -1.0],
        [1.0, -1.0, 0.0, -1.0, 1.0],
        [0.0, 0.0, 1.0, 0.0, 0.0],
    ]
)
_FROM_EIGEN: Final = np.array([0.25, 0.25, 1.0, 0.25, 0.25])[:, np.newaxis] * _EIGEN.T


@dataclass(frozen=True, eq=False)
class Layable:
    """A paint for each row, ready to be laid."""

    medium: Medium
    """Of constants of shape (row, 31)."""
    enter: FloatArray
    """From coordinates to e, shape (row, 31, 5, 5)."""
    leave: FloatArray
    by_products: bool
    """Whether (D10) keeps its digits."""

    def rows(self, rows: slice) -> Layable:
        """Return some of the rows."""
        return Layable(cones.rows_of(self.medium, rows), self.enter[rows], self.leave[rows], self.by_products)


def layable(paint: Medium) -> Layable:
    """Return a paint made ready, from lines of shape (row, 31)."""
    fast, slow = paint.decay_per_um
    return Layable(
        paint,
        _EIGEN @ on_coordinates(paint.inward),
        on_coordinates(paint.outward) @ _FROM_EIGEN,
        bool((slow >= _LEAST_SLOW * fast).all()),
    )


def level_of(ground: Admittance) -> FloatArray:
    """Return the level of what lies below, whose arrays have the axes (row, wavelength, ...)."""
    one, det = np.ones_like(ground.cone), ground.cone * ground.trapped - ground.cross**2
    return np.stack([one, ground.cone, ground.cross, ground.trapped, det], axis=2)


def lay(paint: Layable, *, thickness_um: FloatArray, over: FloatArray) -> FloatArray:
    """Return a film over a level, by (D10), or by (D7) where the paint hardly absorbs.

    Thickness in µm, with the axes (row, 1, ...) that stand after the level's coordinates; ``inf`` for opaque.
    Raises ValueError if a thickness is negative or not a number.

    >>> glaze, white = cones.medium(K_per_um=[[0.2]], S_per_um=0.02), cones.even_ground([[[0.8]]])
    >>> two_um = np.array([[[2.0]]])
    >>> ours = seen(lay(layable(glaze), thickness_um=two_um, over=level_of(white)), sheen=1.0)
    >>> theirs = cones.seen(cones.lay(cones.medium(K_per_um=0.2, S_per_um=0.02), thickness_um=2.0,
    ...                               over=cones.even_ground(0.8)), sheen=1.0)
    >>> bool(np.isclose(ours, theirs, rtol=1e-14).all())
    True
    """
    if thickness_um.size and not thickness_um.min() >= 0.0:
        raise ValueError("thickness_um must be zero or more")
    lift = (..., *[np.newaxis] * (thickness_um.ndim - 2))
    if not paint.by_products:
        below = Admittance(*(over[:, :, i] / over[:, :, 0] for i in (1, 2, 3)))
        medium = Medium(
            paint.medium.decay_per_um[lift], paint.medium.inward[lift], paint.medium.outward[lift]
        )
        return level_of(cones.lay(medium, thickness_um=thickness_um, over=below))
    e = product(paint.enter, over)
    root_u, root_v = (np.exp(-decay[lift] * thickness_um) for decay in paint.medium.decay_per_um)
    both = root_u * root_v
    shape = np.broadcast_shapes(e[:, :, 0].shape, both.shape)
    if e[:, :, 0].shape != shape:
        e = np.broadcast_to(e, (*shape[:2], 5, *shape[2:])).copy()
    root_u *= root_u
    root_v *= root_v
    e[:, :, 1] *= root_u
    e[:, :, 2] *= root_v
    e[:, :, 4] *= both
    both *= both
    e[:, :, 3] *= both
    level = product(paint.leave, e)
    if level.size and level[:, :, 0].max() > _LARGE:
        level /= level[:, :, :1].copy()
    return level


def seen(level: FloatArray, *, sheen: FloatArray | float, air: Air | None = None) -> FloatArray:
    """Return what is seen through the surface, (D9) in the form of (B3), axes (row, wavelength, ...)."""
    z = air or cones.directions()
    trapped, det = level[:, :, 3], level[:, :, 4]
    below = (1.0 + z.r1) * det
    below += (1.0 - z.r1) * trapped
    within = trapped - det
    within *= (1.0 - z.k1) * (1.0 - z.r1)
    within /= below
    return np.asarray(within + sheen * z.k1)


def product(matrices: FloatArray, vectors: FloatArray) -> FloatArray:
    """Return the products of matrices (row, 31, 5, 5) with vectors (row, 31, 5, ...)."""
    flat = vectors.reshape(*vectors.shape[:3], -1)
    return np.asarray((matrices @ flat).reshape(vectors.shape))


def on_coordinates(g: FloatArray) -> FloatArray:
    """Return what the change of lines Y → gᵀ Y g does to (B1)'s coordinates, shape (..., 5, 5)."""
    (a, b), (c, d) = g
    made = np.zeros((*a.shape, 5, 5))
    made[..., 0, 0] = 1.0
    rows = ((a * a, 2.0 * a * c, c * c), (a * b, a * d + b * c, c * d), (b * b, 2.0 * b * d, d * d))
    for i, row in enumerate(rows, start=1):
        for j, value in enumerate(row, start=1):
            made[..., i, j] = value
    made[..., 4, 4] = (a * d - b * c) ** 2
    return made
