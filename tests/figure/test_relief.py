"""Edges and recesses of forms, against what can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.figure.finer import finer
from layersim.figure.relief import CLOSE, bend
from layersim.figure.sprayed import around
from tests.figure.forms import form, sheet

trimesh = pytest.importorskip("trimesh")
pytest.importorskip("embreex")


class TestBend:
    def test_a_sphere(self) -> None:
        """H is 1 / r everywhere, and so is its mean over any distance."""
        ball = trimesh.creation.icosphere(5, radius=0.5)
        stray = np.vstack([ball.vertices, [[9.0, 9.0, 9.0]]])
        found = bend(stray, ball.faces, over=0.03)
        assert found[:-1] == pytest.approx(8 * 0.03 / (np.pi * 0.5), rel=0.02)
        assert found[-1] == 0.0

    def test_a_cylinder(self) -> None:
        rod = trimesh.creation.cylinder(radius=0.2, height=2.0, sections=128).subdivide().subdivide()
        middle = np.abs(rod.vertices[:, 2]) < 0.5
        found = bend(rod.vertices, rod.faces, over=0.03)[middle]
        assert found.mean() == pytest.approx(4 * 0.03 / (np.pi * 0.2), rel=0.01)
        assert found == pytest.approx(4 * 0.03 / (np.pi * 0.2), rel=0.1)

    @pytest.mark.parametrize(
        ("steep", "angle"), [(-1.0, np.pi / 2), (1.0, -np.pi / 2), (-0.2, 2 * np.arctan(0.2))]
    )
    def test_a_ridge_and_a_groove(self, steep: float, angle: float) -> None:
        """(2 angle / pi) exp(-x / l) beside a straight edge: below zero in a groove."""
        at = np.linspace(-0.5, 0.5, 201)
        roof = sheet(at, np.linspace(0.0, 0.3, 61), lambda x: steep * np.abs(x))
        x = np.abs(roof.vertices[:, 0]) * np.hypot(1.0, steep)
        inside = (x < 0.3) & (np.abs(roof.vertices[:, 2] - 0.15) < 0.1)
        found = bend(roof.vertices, roof.faces, over=0.03)
        assert found[inside] == pytest.approx((2 * angle / np.pi * np.exp(-x / 0.03))[inside], abs=0.02)

    def test_all_of_a_cubes_curvature_is_kept(self) -> None:
        """The integral of H over a unit cube is 3 pi (J. Steiner, 1840; from memory)."""
        cube = trimesh.creation.box(extents=[1.0, 1.0, 1.0])
        points, faces, _ = finer(cube.vertices, cube.faces, longest=0.02, most=10**6)
        surface = np.bincount(
            faces.ravel(), np.repeat(trimesh.Trimesh(points, faces, process=False).area_faces / 3, 3)
        )
        h = np.pi / (8.0 * 0.05) * bend(points, faces, over=0.05)
        assert surface @ h == pytest.approx(3.0 * np.pi, rel=1e-3)

    def test_neither_triangles_nor_size_matter(self) -> None:
        cube = trimesh.creation.box(extents=[1.0, 1.0, 1.0])
        coarse, faces, _ = finer(cube.vertices, cube.faces, longest=0.02, most=10**6)
        fine, finer_faces, _ = finer(coarse, faces, longest=0.01, most=10**6)
        one, two = bend(coarse, faces, over=0.03), bend(fine, finer_faces, over=0.03)[: len(coarse)]
        assert one == pytest.approx(two, abs=0.08)
        # Up to rounding, the same at another size.
        assert bend(32.0 * coarse, faces, over=32.0 * 0.03) == pytest.approx(one, abs=1e-4)


class TestFiner:
    def test_what_is_closed_stays_closed(self) -> None:
        """And keeps its volume, surface, and whose part each triangle is; edges are short."""
        rod = trimesh.creation.cylinder(radius=0.02, height=1.0, sections=9)
        points, faces, of = finer(rod.vertices, rod.faces, longest=0.03, most=10**6)
        made = trimesh.Trimesh(points, faces, process=False)
        assert made.is_watertight
        assert made.volume == pytest.approx(rod.volume)
        assert np.bincount(of, made.area_faces) == pytest.approx(rod.area_faces)
        assert made.edges_unique_length.max() <= 0.03

    def test_it_ends_at_the_most(self) -> None:
        cube = trimesh.creation.box()
        assert len(finer(cube.vertices, cube.faces, longest=1e-3, most=1000)[1]) <= 1000


def test_what_a_wall_hides_close_by() -> None:
    """(F6): a part of a disc beyond a chord. Rays begin a little off the floor, and there are 64 of them."""
    x = np.concatenate([[-1e-3], np.linspace(0.0, 2 * CLOSE, 41), [1.0]])
    corner = form(sheet(x, np.linspace(0.0, 1.0, 51), lambda x: np.where(x < 0.0, 1.0, 0.0)))
    size = 1.001
    away = (corner.points[:, 0] - corner.points[:, 0].min()) * size - 1e-3
    floor = (corner.normals[:, 1] > 0.99) & (np.abs(corner.points[:, 2]) < 0.3)
    s = np.clip(away[floor] / CLOSE, 0.0, 1.0)
    expected = (np.arccos(s) - s * np.sqrt(1.0 - s**2)) / np.pi
    found = around(corner)[1][floor]
    assert found == pytest.approx(expected, abs=0.06)
    assert np.ptp(expected) > 0.35
