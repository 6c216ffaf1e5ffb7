"""The surface of a model from a mesh file."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from layersim.errors import MeshFileError
from layersim.estimate import Estimate
from layersim.meshfile import read_mesh
from layersim.scheme.batch import MESH_ERROR, MOST_SURFACE_CM2

LEAST_SURFACE_CM2: Final = 0.01
_MM2_PER_CM2: Final = 100.0


def mesh_surface(path: Path, *, unit_mm: float) -> Estimate:
    """Return the surface of a mesh, cm².

    It is the surface of everything in the file: what lies inside, under the base or where two parts
    meet counts, too, so it is rather too much than too little. `unit_mm` says how many millimetres one of its
    units is, times the scale at which it is printed. Raises as :func:`layersim.meshfile.read_mesh`, and
    MeshFileError for a size that no model has.
    """
    mesh = read_mesh(path, rather="give surface_cm2 or size instead")
    surface = float(mesh.areas.sum()) * unit_mm**2 / _MM2_PER_CM2
    if not LEAST_SURFACE_CM2 <= surface <= MOST_SURFACE_CM2:
        raise MeshFileError(
            path,
            f"found a surface of {surface:.3g} cm² at {unit_mm:g} mm to a unit; expected one from "
            f"{LEAST_SURFACE_CM2:g} to {MOST_SURFACE_CM2:g}. Does mesh_mm say how many mm a unit is?",
        )
    return Estimate(
        surface, MESH_ERROR, f"mesh {path.name}, what is hidden inside and under it included; error assumed"
    )
