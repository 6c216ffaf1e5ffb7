"""A form looked at in a small studio: what each pixel of a picture of it shows, apart from colours.

The studio is a neutral soft dome all around and one soft lamp in front, above the eye; it turns with the eye.
The light on a place is

    E = a D + (1 − a) Σ V max(n · l, 0) / Σ v · l                                               (F12)

with D the share of the dome that the place sees (1 for an open flat one wherever it faces), l directions to
the lamp, V 1 where nothing is in the way, and v the direction to the eye; light falls off with the cosine
(J. H. Lambert, "Photometria", 1760). E is 1 on an open face that looks straight at the eye, which so has the
strip's colours. It is a little more on one that faces the lamp, and a on one that turns away from it. Light
that goes from one part of the form to another is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.figure.form import Form, cone
from layersim.spectra import FloatArray

SIDES: Final = {"before": 0.0, "left": 60.0, "behind": 180.0, "right": -60.0}
"""From where a form is looked at: degrees around it, from its front to its left."""
NOTHING: Final = -1
_ROOM: Final = 1.08
"""A picture's side, in longest sides of the form."""
_FINE: Final = 2
"""Rays a pixel, across and down: edges are means of them."""
DOME: Final = 0.6
"""The share a of the light that is the dome's."""
ABOVE_DEG: Final = 45.0
_LAMP: Final = 6
_LAMP_DEG: Final = 8.0
"""As seen from the form, how far from its middle the lamp reaches."""
_OFF: Final = 1e-3


@dataclass(frozen=True, eq=False)
class Side:
    """One side of a form, in pixels of which a picture has _FINE times as few either way.

    Further arrays have a row for each pixel that shows the form, in the order of `part`.
    """

    part: npt.NDArray[np.int16]
    """Which part of the form it is, shape (height, width); :data:`NOTHING` beside it."""
    corners: npt.NDArray[np.int64]
    """Points of the triangle that is seen, shape (n, 3)."""
    weights: FloatArray
    """How much each corner counts, shape (n, 3)."""
    normals: FloatArray
    """Of the surface, outwards, shape (n, 3)."""
    dome: FloatArray
    """How much light there is of the dome, (F12), shape (n,)."""
    lamp: FloatArray
    """How much there is of the lamp."""
    toward: FloatArray
    """The direction to the eye, shape (3,)."""

    @property
    def light(self) -> FloatArray:
        """How much light there is in all."""
        return self.dome + self.lamp

    def on_pixels(self, values: FloatArray) -> FloatArray:
        """Return what values of the form's points, shape (points, m), are on each pixel that shows it."""
        return np.asarray(np.einsum("ij,ijk->ik", self.weights, values[self.corners]))


def look(form: Form, sky: FloatArray, *, around_deg: float, size_px: int) -> Side:
    """Return what a picture of a form's side shows, from as far away as one likes."""
    turn = np.radians(around_deg)
    toward = np.array([np.sin(turn), 0.0, np.cos(turn)])
    right = np.array([np.cos(turn), 0.0, -np.sin(turn)])
    fine = size_px * _FINE
    # However it is turned it fits, and is as large.
    wide = 2.0 * float(np.hypot(form.points[:, 0], form.points[:, 2]).max())
    span = _ROOM * max(1.0, wide)
    at = (np.arange(fine) + 0.5) / fine - 0.5
    across, down = np.meshgrid(at * span, -at * span)
    origins = (
        across.reshape(-1, 1) * right + down.reshape(-1, 1) * np.array([0.0, 1.0, 0.0]) + 4.0 * span * toward
    )
    met = form.met(origins, -toward)
    hit = np.flatnonzero(met >= 0)
    corners = form.faces[met[hit]]
    weights = _inside(origins[hit], toward, *(form.points[corners[:, i]] for i in range(3)))
    part = np.full(fine * fine, NOTHING, np.int16)
    part[hit] = form.part_of[met[hit]]
    normals = np.einsum("ij,ijk->ik", weights, form.normals[corners])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    dome, lamp = (np.einsum("ij,ij->i", weights, one[corners]) for one in studio_light(form, sky, toward))
    return Side(part.reshape(fine, fine), corners, weights, normals, dome, lamp, toward)


def studio_light(form: Form, sky: FloatArray, toward: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how much light of the dome and of the lamp each point has, (F12), each of shape (n,).

    `toward` is the direction to the eye.
    """
    lamp = cone(lamp_for(toward), cone_deg=_LAMP_DEG, count=_LAMP)
    landed = np.zeros(len(form.points))
    for direction in lamp:
        facing = form.normals @ direction
        lit = np.flatnonzero(facing > 0.0)
        lit = lit[~form.hidden(form.points[lit] + _OFF * form.normals[lit], direction)]
        landed[lit] += facing[lit]
    return DOME * sky, np.asarray((1.0 - DOME) * landed / (lamp @ toward).sum())


def lamp_for(toward: FloatArray) -> FloatArray:
    """Return the direction to the middle of the lamp for an eye in some direction."""
    above = np.radians(ABOVE_DEG)
    return np.asarray(np.cos(above) * toward + [0.0, np.sin(above), 0.0])


def _inside(
    origins: FloatArray, along: FloatArray, a: FloatArray, b: FloatArray, c: FloatArray
) -> FloatArray:
    """Return the barycentric weights of where lines cross triangles, shape (n, 3).

    T. Möller and B. Trumbore, Journal of Graphics Tools 2 (1997), 21.
    """
    ab, ac, away = b - a, c - a, origins - a
    p = np.cross(along, ac)
    scale = np.einsum("ij,ij->i", ab, p)
    scale = np.where(np.abs(scale) < 1e-15, 1e-15, scale)
    u = np.einsum("ij,ij->i", away, p) / scale
    v = np.cross(away, ab) @ along / scale
    weights = np.clip(np.stack([1.0 - u - v, u, v], axis=1), 0.0, 1.0)
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))
