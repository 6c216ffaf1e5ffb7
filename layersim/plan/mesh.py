"""The surface of a model from a mesh file, such as one made for printing.

trimesh reads the files; it is an optional extra, and takes a second and a half to import, so only
who names a mesh waits for it.
"""

from __future__ import annotations

import contextlib
import io
import logging
import math
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from layersim.called import install_command
from layersim.errors import LayersimError, MeshFileError, nearest_hint, quoted
from layersim.estimate import Estimate
from layersim.files import is_file, read_bytes
from layersim.scheme.batch import MESH_ERROR, MOST_SURFACE_CM2

ENDINGS: Final = ("stl", "obj", "ply", "off", "glb")
LARGEST_BYTES: Final = 128 * 2**20
"""Some 2.7 million triangles as binary STL, for which the reader takes about a gigabyte."""
MOST_GROUPS: Final = 1000
"""Solids, objects, groups or changes of material in one file; readers make a mesh of each."""
_GROUPS: Final = (b"\nsolid ", b"\no ", b"\ng ", b"\nusemtl ")
LEAST_SURFACE_CM2: Final = 0.01
_MM2_PER_CM2: Final = 100.0


def mesh_surface(path: Path, *, unit_mm: float) -> Estimate:
    """Return the surface of a mesh, cm².

    It is the surface of everything in the file: what lies inside, under the base or where two parts
    meet counts, too, so it is rather too much than too little.

    The file is STL, OBJ, PLY, OFF or GLB. `unit_mm` says how many millimetres one of its units is, times the
    scale at which it is printed. Raises MeshFileError if the file is no mesh, or of a size that no model has,
    and LayersimError if trimesh is not installed.
    """
    ending = path.suffix.lower().lstrip(".")
    if ending not in ENDINGS:
        hint = nearest_hint(ending, ENDINGS, listed=False)
        raise MeshFileError(
            path, f"found the ending {quoted(ending)}; expected one of {', '.join(ENDINGS)}. {hint}".rstrip()
        )
    units = _area_in_units(_content(path), ending, path)
    surface = units * unit_mm**2 / _MM2_PER_CM2
    if not LEAST_SURFACE_CM2 <= surface <= MOST_SURFACE_CM2:
        raise MeshFileError(
            path,
            f"found a surface of {surface:.3g} cm² at {unit_mm:g} mm to a unit; expected one from "
            f"{LEAST_SURFACE_CM2:g} to {MOST_SURFACE_CM2:g}. Does mesh_mm say how many mm a unit is?",
        )
    return Estimate(
        surface, MESH_ERROR, f"mesh {path.name}, what is hidden inside and under it included; error assumed"
    )


def _content(path: Path) -> bytes:
    if is_file(path) and path.stat().st_size > LARGEST_BYTES:
        most = f"at most {LARGEST_BYTES // 2**20} MB. Export it with fewer triangles"
        raise MeshFileError(path, f"this file is too large; expected {most}")
    return read_bytes(path, what="mesh", error=MeshFileError, most=LARGEST_BYTES)


def _area_in_units(raw: bytes, ending: str, path: Path) -> float:
    try:
        with _stoppable():
            import trimesh
    except ImportError:
        raise LayersimError(
            f"{path}: to measure a mesh, type: {install_command('trimesh')}; "
            "or give surface_cm2 or size instead"
        ) from None
    if ending in ("stl", "obj") and sum(map(raw.count, _GROUPS)) > MOST_GROUPS:
        raise MeshFileError(path, f"found over {MOST_GROUPS} groups; expected fewer. Join them into one mesh")
    area = 0.0
    with contextlib.redirect_stderr(io.StringIO()), _quiet("trimesh"), _stoppable():
        try:
            # From bytes, so that no file that the mesh names (textures, materials) is looked for.
            loaded = trimesh.load(io.BytesIO(raw), file_type=ending, process=False)
            mesh = loaded.to_mesh() if isinstance(loaded, trimesh.Scene) else loaded
            area = float(getattr(mesh, "area", 0.0))
        except Exception:  # whatever a reader of foreign files trips over is the file's fault
            area = math.nan
    if not math.isfinite(area) or area <= 0.0:
        raise MeshFileError(path, f"found no triangles; expected a mesh as {ending.upper()}")
    return area


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
def _stoppable() -> Iterator[None]:
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
