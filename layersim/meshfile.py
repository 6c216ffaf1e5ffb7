"""Meshes of models, such as are made for printing: triangles, and which part of the model each belongs to.

trimesh reads the files; it is an optional extra, and takes half a second to import, so only who names a mesh
waits for it.
"""

from __future__ import annotations

import contextlib
import io
import json
import logging
import signal
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.called import install_command
from layersim.errors import LayersimError, MeshFileError, nearest_hint, quoted
from layersim.files import read_bytes
from layersim.spectra import FloatArray

ENDINGS: Final = ("stl", "obj", "ply", "off", "glb")
LARGEST_BYTES: Final = 128 * 2**20
"""Some 2.7 million triangles as binary STL, for which the reader takes about a gigabyte."""
MOST_GROUPS: Final = 1000
"""Solids, objects, groups or changes of material in one file; readers make a mesh of each."""
MOST_TRIANGLES: Final = 10_000_000
"""Each time that a GLB places a part counts: a small file can place a large one often."""
_GROUPS: Final = (b"\nsolid ", b"\no ", b"\ng ", b"\nusemtl ")


@dataclass(frozen=True, eq=False)
class Mesh:
    """The triangles of a file."""

    points: FloatArray
    """Shape (n, 3), in the file's own units."""
    faces: npt.NDArray[np.int64]
    """Shape (m, 3): indices of points, counter-clockwise from outside."""
    parts: tuple[str, ...]
    """Names of the file's parts; one without a name where it has none."""
    part_of: npt.NDArray[np.int64]
    """Shape (m,): which part each triangle belongs to."""

    @property
    def areas(self) -> FloatArray:
        """Surface of each triangle, shape (m,)."""
        return triangle_areas(self.points, self.faces)


def triangle_areas(points: FloatArray, faces: npt.NDArray[np.int64]) -> FloatArray:
    """Return the surface of triangles, shape (m,): `points` (n, 3), and by `faces` (m, 3) three for each."""
    a, b, c = (points[faces[:, i]] for i in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def is_mesh(path: Path) -> bool:
    """Return whether a file's name is that of a mesh."""
    return path.suffix.lower().lstrip(".") in ENDINGS


def read_mesh(path: Path, *, rather: str = "", needs: str = "trimesh") -> Mesh:
    """Return the triangles of an STL, OBJ, PLY, OFF or GLB file.

    Raises MeshFileError if the file is no mesh, or too large, and LayersimError if trimesh is not installed;
    `rather` is what can be done instead then, `needs` all that whoever asks for the mesh needs installed.
    """
    ending = path.suffix.lower().lstrip(".")
    if ending not in ENDINGS:
        hint = nearest_hint(ending, ENDINGS, listed=False)
        raise MeshFileError(
            path, f"found the ending {quoted(ending)}; expected one of {', '.join(ENDINGS)}. {hint}".rstrip()
        )
    raw = read_bytes(path, what="mesh", error=MeshFileError, most=LARGEST_BYTES)
    try:
        with stoppable():
            import trimesh
    except ImportError:
        what = f"{path}: to read a mesh, type: {install_command(needs)}"
        raise LayersimError(f"{what}{rather and f'; or {rather}'}") from None
    if ending in ("stl", "obj") and sum(map(raw.count, _GROUPS)) > MOST_GROUPS:
        raise MeshFileError(path, f"found over {MOST_GROUPS} groups; expected fewer. Join them into one mesh")
    found: list[tuple[str, Any]] = []
    too_much = ""
    with (
        contextlib.redirect_stderr(io.StringIO()),
        _quiet("trimesh"),
        stoppable(),
        contextlib.suppress(Exception),
    ):
        # From bytes, so that no file that the mesh names (textures, materials) is looked for. Whatever a
        # reader of foreign files trips over is the file's fault.
        more = _split_by(raw) if ending == "obj" else {}
        too_much = _claims_too_much(raw) if ending == "glb" else ""
        if not too_much:
            loaded = trimesh.load(io.BytesIO(raw), file_type=ending, process=False, **more)
            too_much = _places_too_much(loaded)
            found = [] if too_much else _parts(loaded)
    if too_much:
        raise MeshFileError(path, too_much)
    points = [np.asarray(mesh.vertices, dtype=np.float64) for _, mesh in found]
    faces = [np.asarray(mesh.faces, dtype=np.int64) for _, mesh in found]
    starts = np.cumsum([0, *(len(one) for one in points)])
    if sum(map(len, faces)) == 0 or not all(np.isfinite(one).all() for one in points):
        raise MeshFileError(path, f"found no triangles; expected a whole mesh as {ending.upper()}")
    if any(len(f) and not 0 <= f.min() <= f.max() < len(p) for p, f in zip(points, faces, strict=True)):
        raise MeshFileError(path, "found a triangle of points that are not there; export it again")
    return Mesh(
        np.concatenate(points),
        np.concatenate([one + start for one, start in zip(faces, starts, strict=False)]),
        tuple(name for name, _ in found),
        np.repeat(np.arange(len(found)), [len(one) for one in faces]),
    )


def _split_by(raw: bytes) -> dict[str, Any]:
    """Return how an OBJ is read in parts: by its objects, or by its groups if it has more of those."""
    objects, groups = ((b"\n" + raw).count(b"\n" + sign) for sign in (b"o ", b"g "))
    return {"split_objects": objects >= groups, "split_groups": groups > objects, "group_material": False}


def _claims_too_much(raw: bytes) -> str:
    """Return what is wrong with a GLB that says it has more values than fit: readers make room for them."""
    head = int.from_bytes(raw[12:16], "little")
    accessors = json.loads(raw[20 : 20 + head]).get("accessors", [])
    if any(accessor["count"] > len(raw) for accessor in accessors):
        return f"says that it has more values than {len(raw)} bytes can hold; export it again"
    return ""


def _places_too_much(loaded: Any) -> str:
    """Return what is wrong with a file that is small, and whose parts are not."""
    if not hasattr(loaded, "graph"):
        return ""
    nodes = loaded.graph.nodes_geometry
    if len(nodes) > MOST_GROUPS:
        return f"found {len(nodes)} parts; expected at most {MOST_GROUPS}. Join them"
    placed = (loaded.geometry[loaded.graph[node][1]] for node in nodes)
    count = sum(len(getattr(mesh, "faces", ())) for mesh in placed)
    if count > MOST_TRIANGLES:
        return f"found {count} triangles; expected at most {MOST_TRIANGLES}. Export it with fewer"
    return ""


def _parts(loaded: Any) -> list[tuple[str, Any]]:
    """Return what a file holds, each part where it stands in the whole, with its name."""
    if not hasattr(loaded, "graph"):
        return [("", loaded)] if hasattr(loaded, "faces") else []
    found = []
    for node in loaded.graph.nodes_geometry:
        where, name = loaded.graph[node]
        mesh = loaded.geometry[name].copy()
        if hasattr(mesh, "faces"):
            mesh.apply_transform(where)
            found.append((str(node), mesh))
    return found


@contextlib.contextmanager
def _quiet(name: str) -> Iterator[None]:
    logger = logging.getLogger(name)
    before = logger.disabled
    logger.disabled = True
    try:
        yield
    finally:
        logger.disabled = before


@contextlib.contextmanager
def stoppable() -> Iterator[None]:
    """Keep Ctrl-C until the end of what is done within: trimesh swallows it, and goes on."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    pressed = False

    def keep(*_: object) -> None:
        nonlocal pressed
        pressed = True

    before = signal.signal(signal.SIGINT, keep)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if pressed:
            raise KeyboardInterrupt
