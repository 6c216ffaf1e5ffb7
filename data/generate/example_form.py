"""Write data/forms/lamplighter.glb: the figure of data/examples/lamplighter.jpg as triangles, a part an area.

Of our own making, from the same solids. Needs scikit-image (marching cubes; T. Lewiner and others, Journal of
Graphics Tools 8 (2003), 1) and trimesh. Run from the top of the tree:

    python -m data.generate.example_form
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
import trimesh
from skimage.measure import marching_cubes

from data.generate.example_figure import solids
from layersim.files import write_whole

FORM: Final = Path(__file__).parents[1] / "forms" / "lamplighter.glb"
PARTS: Final = ("cloth", "straps", "glass", "face")
_LOW, _HIGH = np.array([-0.66, -1.06, -0.56]), np.array([0.74, 0.94, 0.56])
_STEP: Final = 0.02


def main() -> None:
    """Write the form."""
    axes = [np.arange(low, high, _STEP) for low, high in zip(_LOW, _HIGH, strict=True)]
    there = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    points, faces, _, _ = marching_cubes(solids(there).min(axis=0), 0.0)
    points = _LOW + _STEP * points
    part = np.argmin(solids(points[faces].mean(axis=1)), axis=0)
    scene = trimesh.Scene()
    for i, name in enumerate(PARTS):
        own = trimesh.Trimesh(points, faces[part == i], process=False)
        own.remove_unreferenced_vertices()
        scene.add_geometry(own, node_name=name, geom_name=name)
    FORM.parent.mkdir(exist_ok=True)
    write_whole(FORM, bytes(scene.export(file_type="glb")))
    print(f"{FORM.name}: {len(faces)} triangles")


if __name__ == "__main__":
    main()
