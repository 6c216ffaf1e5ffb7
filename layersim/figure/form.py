"""A preshade sprayed onto a form in space: where white lands, by direction, distance and what is in the way.

A stroke is a nozzle that is moved over a cone of places around one direction, seen from the middle of the
form. What lands on a place p with the surface's direction n from a nozzle at a, distance r = |a - p|, is

    D(p) = Σ V(p, a) max(n · (a - p) / r, 0) (R / r)² w                                        (F3)

with the cosine law and the inverse square of a point source (J. H. Lambert, "Photometria", 1760), R the
nozzle's distance from the middle, w its weight and V 1 where nothing is in the way and 0 elsewhere. Rays are
followed by a kept library. D is scaled so that 1, the scheme's lightest grey, is where the spray is fullest.

Values belong to the points of the mesh and run straight between them. So a form's triangles are made small
enough for an edge to be an edge and a shadow a shadow.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.called import install_command
from layersim.errors import LayersimError, MeshFileError
from layersim.figure.finer import finer
from layersim.meshfile import Mesh, read_mesh, stoppable, triangle_areas
from layersim.spectra import FloatArray

MOST_TRIANGLES: Final = 1_000_000
FULLEST: Final = 0.98
"""Share of the surface below the deposit that counts as full: the last grains on tips are no measure."""
NOZZLES: Final = 48
_CONE_DEG: Final = 35.0
_OFF: Final = 1e-4
"""Of the form's longest side: how far from the surface rays begin."""
_FLAT: Final = 1e-12


@dataclass(frozen=True)
class Stroke:
    """Spraying from one direction."""

    direction: tuple[float, float, float]
    """From the form to the nozzle; y is up and z before the form."""
    weight: float = 1.0
    cone_deg: float = _CONE_DEG
    """How far from that direction the nozzle gets."""
    distance: float = 4.0
    """Of the nozzle, in longest sides of the form: it is far from a flat one's ends, too."""


FROM_ABOVE: Final = (
    Stroke((0.0, 1.0, 0.35), 0.5),
    Stroke((0.0, 1.0, -0.35), 0.3),
    Stroke((0.0, 1.0, 0.0), 0.2),
)
"""White from above, mostly from in front of the form, a little from behind."""
DIRECTIONS: Final = {
    "above": (0.0, 1.0, 0.0),
    "below": (0.0, -1.0, 0.0),
    "front": (0.0, 0.0, 1.0),
    "behind": (0.0, 0.0, -1.0),
    "left": (1.0, 0.0, 0.0),
    "right": (-1.0, 0.0, 0.0),
}
"""From where a coat may be sprayed; left and right are the form's own."""
WHITE_FROM: Final[Mapping[str, tuple[Stroke, ...]]] = {
    **{name: (Stroke(direction),) for name, direction in DIRECTIONS.items()},
    "above": FROM_ABOVE,
}
"""From where white may be sprayed, and how."""
LONGEST_EDGE: Final = 0.02
"""Of a triangle, of the form's longest side."""
_NEEDS: Final = "trimesh embreex"
"""What a form needs installed: a reader of meshes, and one who casts rays at them."""


@dataclass(frozen=True, eq=False)
class Form:
    """A form that can be sprayed and looked at: y up, its longest side 1, its middle at the origin."""

    points: FloatArray
    """Shape (n, 3)."""
    faces: npt.NDArray[np.int64]
    """Shape (m, 3)."""
    normals: FloatArray
    """Of the points, shape (n, 3), outwards."""
    parts: tuple[str, ...]
    part_of: npt.NDArray[np.int64]
    """Of the triangles, shape (m,)."""
    part_of_point: npt.NDArray[np.int64]
    """Shape (n,): where parts meet, each has a point of its own."""
    place_of_point: npt.NDArray[np.int64]
    """Shape (n,): the same for points that coincide."""

    @cached_property
    def _scene(self) -> Any:
        """The triangles, for whoever follows rays."""
        from embreex.mesh_construction import TriangleMesh
        from embreex.rtcore_scene import EmbreeScene

        scene = EmbreeScene()
        TriangleMesh(
            scene=scene, vertices=self.points.astype(np.float32), indices=self.faces.astype(np.int32)
        )
        return scene

    def __getstate__(self) -> dict[str, Any]:
        # A scene goes into no other process, and is soon made again there.
        return {key: value for key, value in self.__dict__.items() if key != "_scene"}

    @property
    def point_areas(self) -> FloatArray:
        """How much of the surface each point stands for, shape (n,)."""
        third = triangle_areas(self.points, self.faces) / 3.0
        found = np.bincount(self.faces.ravel(), np.repeat(third, 3), minlength=len(self.points))
        return np.asarray(found, dtype=np.float64)

    def hidden(self, start: FloatArray, way: FloatArray) -> npt.NDArray[np.bool_]:
        """Return whether rays meet anything, shape (n,); `way` is as long as 1, shape (n, 3) or (3,)."""
        return np.asarray(self._followed(start, way, "OCCLUDED") >= 0)

    def met(self, start: FloatArray, way: FloatArray) -> npt.NDArray[np.int64]:
        """Return which triangle rays meet first, shape (n,), below zero for none."""
        return np.asarray(self._followed(start, way, "INTERSECT"), dtype=np.int64)

    def clear(self, start: FloatArray, way: FloatArray) -> FloatArray:
        """Return how far rays get, shape (n,); very far where they meet nothing."""
        return np.asarray(self._followed(start, way, "DISTANCE"), dtype=np.float64)

    def _followed(self, start: FloatArray, way: FloatArray, query: str) -> Any:
        ways = np.broadcast_to(way, start.shape)
        return self._scene.run(
            np.ascontiguousarray(start, np.float32), np.ascontiguousarray(ways, np.float32), query=query
        )


def read_form(path: Path, *, up: str = "", front_deg: float = 0.0) -> Form:
    """Return the form of a mesh file.

    `up`: "y" or "z"; by default y for a GLB, as its standard says, and z for all others, as printers have it.
    `front_deg`: where its front is in the file, in degrees around it, towards its left.
    Raises as :func:`layersim.meshfile.read_mesh`, and MeshFileError for one too large or without a surface.
    """
    mesh = read_mesh(path, needs=_NEEDS)
    if len(mesh.faces) > MOST_TRIANGLES:
        raise MeshFileError(
            path,
            f"found {len(mesh.faces)} triangles; expected at most {MOST_TRIANGLES}. Export it with fewer",
        )
    if (up or ("y" if path.suffix.lower() == ".glb" else "z")) == "z":
        mesh = replace(mesh, points=mesh.points[:, [0, 2, 1]] * [1.0, 1.0, -1.0])
    cos, sin = np.cos(np.radians(front_deg)), np.sin(np.radians(front_deg))
    turn = np.array([[cos, 0.0, -sin], [0.0, 1.0, 0.0], [sin, 0.0, cos]])
    return form_of(replace(mesh, points=mesh.points @ turn.T), path)


def form_of(mesh: Mesh, path: Path) -> Form:
    """Return a mesh as a form.

    Triangles without a surface are left out, points that coincide made one, and a form that is inside out is
    turned. Large triangles are cut into small ones.
    """
    try:
        with stoppable():
            import embreex  # noqa: F401 - asked for before anything is worked out
    except ImportError:
        raise LayersimError(f"{path}: to spray a form, type: {install_command(_NEEDS)}") from None
    low, high = mesh.points.min(axis=0), mesh.points.max(axis=0)
    size = float((high - low).max())
    if not np.isfinite(size) or size <= 0.0:
        raise MeshFileError(path, "all its points coincide; expected a form")
    points = (mesh.points - 0.5 * (low + high)) / size
    known, same = np.unique(np.rint(points * 1e6).astype(np.int64), axis=0, return_inverse=True)
    first = np.zeros(len(known), dtype=np.int64)
    first[same.ravel()] = np.arange(len(points))
    points, faces = points[first], same.ravel()[mesh.faces]
    a, b, c = (points[faces[:, i]] for i in range(3))
    across = np.cross(b - a, c - a)
    good = np.linalg.norm(across, axis=1) > _FLAT
    if not good.any():
        raise MeshFileError(path, "none of its triangles has a surface; expected a form")
    faces, across = faces[good], across[good]
    # Six times the volume inside (divergence theorem): below zero the file's triangles face inwards. An open
    # form has no inside, and is taken as it says.
    edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    _, uses = np.unique(edges[:, 0] * len(points) + edges[:, 1], return_counts=True)
    if (uses % 2 == 0).all() and np.einsum("ij,ij->", points[faces[:, 0]], across) < 0.0:
        faces = faces[:, ::-1]
    points, faces, of = finer(points, faces, longest=LONGEST_EDGE, most=max(MOST_TRIANGLES, len(faces)))
    a, b, c = (points[faces[:, i]] for i in range(3))
    across = np.cross(b - a, c - a)
    # Weighted by area: larger triangles say more of the surface around a point.
    at = faces.ravel()
    sums = [np.bincount(at, np.repeat(across[:, i], 3), minlength=len(points)) for i in range(3)]
    normals = np.stack(sums, axis=1, dtype=np.float64)
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), _FLAT)
    part_of = mesh.part_of[good][of]
    each, corners = np.unique(at * len(mesh.parts) + np.repeat(part_of, 3), return_inverse=True)
    place, part_of_point = np.divmod(each, len(mesh.parts))
    faces = corners.reshape(faces.shape)
    return Form(points[place], faces, normals[place], mesh.parts, part_of, part_of_point, place)


def deposit(
    form: Form, strokes: Sequence[Stroke] = FROM_ABOVE, *, step: Callable[[], None] = lambda: None
) -> FloatArray:
    """Return what lands on each point, by (F3) before it is scaled, shape (n,).

    `step` is called :data:`NOZZLES` times a stroke.
    """
    landed = np.zeros(len(form.points))
    start = form.points + _OFF * form.normals
    for stroke in strokes:
        for direction in cone(stroke.direction, cone_deg=stroke.cone_deg):
            way = stroke.distance * direction - form.points
            r = np.linalg.norm(way, axis=1)
            facing = np.einsum("ij,ij->i", form.normals, way) / r
            lit = np.flatnonzero(facing > 0.0)
            seen = lit[~form.hidden(start[lit], way[lit] / r[lit, np.newaxis])]
            landed[seen] += stroke.weight / NOZZLES * facing[seen] * (stroke.distance / r[seen]) ** 2
            step()
    return landed


def sprayed(
    form: Form, strokes: Sequence[Stroke] = FROM_ABOVE, *, step: Callable[[], None] = lambda: None
) -> FloatArray:
    """Return each point's share of the full film, shape (n,); `step` as of :func:`deposit`."""
    landed = deposit(form, strokes, step=step)
    if not landed.any():
        raise LayersimError("none of the spray lands on the form; expected strokes from where it can be seen")
    return share_of_full(form, landed)


def share_of_full(form: Form, landed: FloatArray) -> FloatArray:
    """Return what landed over what lands where the spray is fullest, 0 to 1; none where none landed."""
    order = np.argsort(landed)
    below = np.cumsum(form.point_areas[order])
    full = landed[order[np.searchsorted(below, FULLEST * below[-1])]]
    # Where it reaches a small part of the form alone, that is where it is fullest.
    full = full if full > 0.0 else landed.max()
    return np.asarray(np.minimum(landed / full, 1.0) if full > 0.0 else np.zeros_like(landed))


def cone(direction: Sequence[float] | FloatArray, *, cone_deg: float, count: int = NOZZLES) -> FloatArray:
    """Return directions spread evenly over a cone, shape (count, 3): a spiral of equal areas on the sphere.

    The golden angle sets one beside the next (H. Vogel, Mathematical Biosciences 44 (1979), 179).
    """
    axis: FloatArray = np.asarray(direction, dtype=np.float64)
    axis = np.asarray(axis / np.linalg.norm(axis))
    side = np.cross(axis, [0.0, 0.0, 1.0] if abs(axis[2]) < 0.9 else [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side)
    i = np.arange(count)
    along = 1.0 - (1.0 - np.cos(np.radians(cone_deg))) * (i + 0.5) / count
    out, turn = np.sqrt(1.0 - along**2), i * np.pi * (3.0 - np.sqrt(5.0))
    return np.asarray(
        along[:, np.newaxis] * axis
        + (out * np.cos(turn))[:, np.newaxis] * side
        + (out * np.sin(turn))[:, np.newaxis] * np.cross(axis, side)
    )
