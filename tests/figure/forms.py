"""Forms whose measures are known, for the tests of figure."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from layersim.figure.form import Form, form_of
from layersim.meshfile import Mesh

NOWHERE = Path("form.stl")


def form(mesh: Any) -> Form:
    """Return a mesh of trimesh as a form of one part."""
    faces = np.asarray(mesh.faces)
    return form_of(
        Mesh(np.asarray(mesh.vertices, float), faces, ("all",), np.zeros(len(faces), dtype=int)), NOWHERE
    )


def sheet(x: Any, z: Any, height: Any) -> Any:
    """Return the surface y = height(x) over a grid of places, facing up."""
    import trimesh

    x, z = np.asarray(x, float), np.asarray(z, float)
    across, along = (one.ravel() for one in np.meshgrid(x, z, indexing="ij"))
    i = np.arange(len(across)).reshape(len(x), len(z))
    one = np.stack([i[:-1, :-1], i[:-1, 1:], i[1:, :-1]], axis=-1).reshape(-1, 3)
    two = np.stack([i[1:, 1:], i[1:, :-1], i[:-1, 1:]], axis=-1).reshape(-1, 3)
    points = np.stack([across, height(across), along], axis=1)
    return trimesh.Trimesh(points, np.vstack([one, two]), process=False)


def plane(count: int) -> Any:
    """Return a square of side 1 that faces up."""
    at = np.linspace(-0.5, 0.5, count)
    return sheet(at, at, np.zeros_like)
