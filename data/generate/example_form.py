"""Write data/forms/*.glb: forms to try a scheme on, each part of a form a part of the file.

All of our own making. The lamplighter is the figure of data/examples/lamplighter.jpg, by distance functions,
of which marching cubes (T. Lewiner and others, Journal of Graphics Tools 8 (2003), 1) make triangles. The
bust is sheets, rings and rods. The drape is a cloth of points held at their distances that falls over a post
(M. Müller and others, "Position based dynamics", Journal of Visual Communication and Image Representation 18
(2007), 109). The facets are convex solids with their edges planed off. Needs trimesh, scikit-image and
fast-simplification. Run from the top of the tree:

    python -m data.generate.example_form
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final, TypeAlias

import numpy as np
import trimesh
from scipy.ndimage import gaussian_filter
from scipy.spatial import ConvexHull
from skimage.measure import marching_cubes

from data.generate.example_figure import solids
from layersim.figure.forms import FORMS
from layersim.files import write_whole
from layersim.spectra import FloatArray

FOLDER: Final = Path(__file__).parents[1] / "forms"
Parts: TypeAlias = dict[str, Any]
"""Meshes by the name of their part."""
Distances: TypeAlias = Callable[[FloatArray], FloatArray]
"""From points (..., 3) to the distance of each from a solid, below 0 inside."""


def write(name: str, parts: Parts) -> None:
    """Write a form."""
    assert set(parts) == set(FORMS[name].parts), name
    scene = trimesh.Scene()
    for part, mesh in parts.items():
        mesh.remove_unreferenced_vertices()
        scene.add_geometry(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False), part, part)
    write_whole(FOLDER / f"{name}.glb", bytes(scene.export(file_type="glb")))
    size = (FOLDER / f"{name}.glb").stat().st_size
    print(f"{name}: {sum(len(mesh.faces) for mesh in parts.values())} triangles, {size // 1000} kB")


# ---------------------------------------------------------------- the figure of the photograph


def lamplighter() -> Parts:
    """Return the figure of the photograph; what of a part lies inside another one is left out."""
    made = {}
    for i, (name, step) in enumerate(_STEPS.items()):
        mesh = _surface(lambda p, i=i: solids(p)[i], step)
        # The slivers that marching cubes leave add nothing.
        mesh = mesh.simplify_quadric_decimation(percent=0.2)
        others = np.delete(solids(np.asarray(mesh.vertices)), i, axis=0).min(axis=0)
        mesh.update_faces(~(others[mesh.faces] < -0.5 * step).all(axis=1))
        made[name] = mesh
    return made


_STEPS: Final = {"cloth": 0.0225, "straps": 0.0125, "glass": 0.014, "face": 0.014}
"""How closely each part is sampled."""


def _surface(distances: Distances, step: float) -> Any:
    low, high = np.array([-0.66, -1.06, -0.56]), np.array([0.74, 0.94, 0.56])
    axes = [np.arange(a, b, step) for a, b in zip(low, high, strict=True)]
    there = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    points, faces, _, _ = marching_cubes(distances(there), 0.0)
    return trimesh.Trimesh(low + step * points, faces)


# ---------------------------------------------------------------- a helmet over a collar


_HEAD, _RADII = np.array([0.0, 0.62, 0.02]), np.array([0.42, 0.46, 0.44])
_PANE: Final = np.array([0.0, 0.60, 0.36])
"""Middle of the pane's ring."""
_WIDE: Final = 1.35
"""How much wider than deep the shoulders are."""
_CROSS: Final = -0.38
"""How high the straps cross."""


def bust() -> Parts:
    """Return a storm helmet with a round pane over a draped collar, and two straps."""
    bolts = [_HEAD * [1, 0, 1] + [0.455 * np.sin(t), 0.285, 0.455 * np.cos(t)] for t in _turns(14)]
    straps = [_strap(side, before) for side in (-1.0, 1.0) for before in (-1.0, 1.0)]
    buckles = [ring((0.0, _CROSS, before * 0.715), 2, 0.10, 0.036, 32) for before in (-1.0, 1.0)]
    return {
        "helmet": _joined(
            _shell(), _comb(), _brim(),
            ring(_PANE, 2, 0.25, 0.044, 56),
            rod((0.0, 0.36, 0.39), (0.0, 0.84, 0.39), 0.019),
            rod((-0.24, 0.60, 0.39), (0.24, 0.60, 0.39), 0.019),
            *(ball(bolt, 0.03, fine=1) for bolt in bolts),
        ),
        "glass": ball((0.0, 0.60, 0.12), (0.33, 0.33, 0.25), fine=3),
        "cloth": _joined(
            _collar(),
            _roll(0.13, 0.44, 0.10, [0.03, 0.02]),
            _roll(0.215, 0.36, 0.075, [-0.06, -0.10]),
        ),
        "straps": _joined(*straps, *buckles),
    }  # fmt: skip


def _turns(count: int) -> FloatArray:
    return np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)


def _joined(*meshes: Any) -> Any:
    return trimesh.util.concatenate(list(meshes))


def ball(at: Sequence[float] | FloatArray, radii: Any, *, fine: int) -> Any:
    """Return a ball or an ellipsoid."""
    mesh = trimesh.creation.icosphere(fine)
    return trimesh.Trimesh(at + np.asarray(mesh.vertices) * radii, mesh.faces, process=False)


def ring(at: Sequence[float] | FloatArray, axis: int, radius: float, thick: float, count: int) -> Any:
    """Return a ring around an axis."""
    mesh = trimesh.creation.torus(radius, thick, count, 12)
    # A torus lies around z.
    return trimesh.Trimesh(
        at + np.roll(np.asarray(mesh.vertices), axis - 2, axis=1), mesh.faces, process=False
    )


def rod(start: Sequence[float], end: Sequence[float], radius: float) -> Any:
    """Return a round rod."""
    mesh = trimesh.creation.cylinder(radius, segment=[start, end], sections=14)
    return mesh.subdivide_to_size(0.08)


def sheet(points: FloatArray, *, around: bool = False) -> Any:
    """Return the triangles between rows of points (rows, columns, 3); `around`: each row is a ring."""
    rows, columns = points.shape[:2]
    at = np.arange(rows * columns).reshape(rows, columns)
    at = np.hstack([at, at[:, :1]]) if around else at
    a, b, c, d = at[:-1, :-1].ravel(), at[:-1, 1:].ravel(), at[1:, 1:].ravel(), at[1:, :-1].ravel()
    faces = np.vstack([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    mesh = trimesh.Trimesh(points.reshape(-1, 3), faces, process=False)
    if mesh.volume < 0.0:
        mesh.invert()
    return mesh


def _shell() -> Any:
    """Return the helmet's shell, without what the pane's ring goes around."""
    mesh = ball(_HEAD, _RADII, fine=4)
    points = np.asarray(mesh.vertices)
    off = np.linalg.norm((points - _PANE)[:, :2], axis=1)
    gone = (off < 0.25) & (points[:, 2] > 0.0)
    mesh.update_faces(~gone[mesh.faces].any(axis=1) & ~(points[:, 1] < 0.22)[mesh.faces].all(axis=1))
    return mesh


def _comb() -> Any:
    """Return a comb over the helmet, from above the pane to the nape."""
    along = np.radians(np.linspace(52.0, 215.0, 50))[:, np.newaxis]
    across = _turns(12)
    # A rounded oblong, of which the lower half is in the shell; its ends sink in.
    sunk = 0.07 * np.clip((np.abs(along - along.mean()) - np.radians(70.0)) / np.radians(11.5), 0.0, 1.0) ** 2
    high = 0.065 * np.sign(np.sin(across)) * np.abs(np.sin(across)) ** 0.5 - sunk
    side = 0.030 * np.sign(np.cos(across)) * np.abs(np.cos(across)) ** 0.5 + 0.0 * along
    y, z = (_RADII[1] + high) * np.sin(along), (_RADII[2] + high) * np.cos(along)
    return sheet(_HEAD + np.stack([side, y, z], axis=-1), around=True)


def _brim() -> Any:
    """Return the helmet's brim: a flat ring with round edges."""
    turn = _turns(16)
    across = 0.44 + 0.07 * np.sign(np.cos(turn)) * np.abs(np.cos(turn)) ** 0.6
    up = 0.25 + 0.033 * np.sign(np.sin(turn)) * np.abs(np.sin(turn)) ** 0.6
    around = _turns(64)[:, np.newaxis]
    points = np.stack([across * np.sin(around), up + 0.0 * around, across * np.cos(around) + 0.02], axis=-1)
    return sheet(np.concatenate([points, points[:1]]), around=True)


def _mantle(y: FloatArray) -> FloatArray:
    """Return how deep the shoulders are at a height, without folds."""
    down = np.clip((0.28 - y) / 1.1, 0.0, 1.0)
    return np.asarray(0.26 + 0.34 * np.sqrt(1.0 - (1.0 - down) ** 3) + 0.06 * down)


def _collar() -> Any:
    """Return the cloth over the shoulders, from its top over its hem to its underside."""
    rows, columns = 40, 130
    y = 0.28 - 1.08 * np.linspace(0.0, 1.0, rows)[:, np.newaxis] ** 1.15
    around = _turns(columns)
    down = np.clip((0.25 - y) / 1.0, 0.0, 1.0) ** 0.8
    wave = np.cos(9.0 * around + 1.3 * np.sin(3.0 * around + 0.6) + 0.9 * np.sin(2.6 * down))
    # Folds have narrow hollows and broad backs.
    fold = 1.0 - 2.0 * (0.5 - 0.5 * wave) ** 1.7
    small = np.cos(21.0 * around + 2.0 * np.sin(2.0 * around) + 3.0 * down)
    wide = _mantle(y) + 0.085 * down * fold + 0.013 * down * small
    hem = np.array([[-0.01, -0.99], [-0.04, -0.94], [-0.10, -0.90], [-9.0, -0.90]])
    wide = np.vstack([wide, *(np.maximum(wide[-1] + inward, 0.0) for inward, _ in hem)])
    high = np.vstack([y, -0.80 - 0.04 * np.array([[0.4], [0.9], [1.0], [1.0]])]) + 0.0 * around
    return sheet(np.stack([_WIDE * wide * np.sin(around), high, wide * np.cos(around)], axis=-1), around=True)


def _roll(y: float, radius: float, thick: float, lean: Sequence[float]) -> Any:
    """Return a roll of cloth around the neck; `lean`: how much it rises to its left and to its front."""
    mesh = ring((0.0, y, 0.0), 1, radius, thick, 64)
    points = np.array(mesh.vertices)
    around = np.arctan2(points[:, 0], points[:, 2])
    points[:, 1] += points[:, [0, 2]] @ np.asarray(lean) + 0.02 * np.cos(5.0 * around)
    return trimesh.Trimesh(points, mesh.faces, process=False)


def _strap(side: float, before: float) -> Any:
    """Return a strap from under the helmet's brim over where both cross to the hem."""
    y = np.linspace(0.24, -0.81, 48)[:, np.newaxis]
    turn = _turns(12)
    across = 0.065 * np.sign(np.cos(turn)) * np.abs(np.cos(turn)) ** 0.35
    lift = 0.018 * np.sign(np.sin(turn)) * np.abs(np.sin(turn)) ** 0.6
    # Its own way over the shoulders, above the folds; the end is tucked in below the hem.
    over = _mantle(y) + 0.095 * np.clip((0.25 - y) / 0.5, 0.0, 1.0) + (0.018 if side > 0.0 else 0.0)
    over = over - 0.10 * np.clip((-0.74 - y) / 0.07, 0.0, 1.0)
    x = side * 0.75 * (y - _CROSS) + np.hypot(1.0, 0.75) * across
    deep = np.sqrt(np.maximum((over + lift) ** 2 - (x / _WIDE) ** 2, 0.0))
    return sheet(np.stack([x, y + 0.0 * x, before * deep], axis=-1), around=True)


# ---------------------------------------------------------------- a cloth that falls


_CLOTH: Final = 79
"""Points along a side of the cloth."""
_SIDE: Final = 1.6
_POST: Final = 0.30
_OFF: Final = _POST + 0.02
"""How far from the post's middle the cloth lies."""


def drape() -> Parts:
    """Return a cloth over a post with a round head."""
    return {"cloth": _thick(_fallen(), 0.011), "post": _post()}


_HELD: Final = (
    (1, 0, 1.0), (0, 1, 1.0), (1, 1, 0.5), (1, -1, 0.5), (2, 0, 0.1), (0, 2, 0.1), (4, 0, 0.06), (0, 4, 0.06)
)  # fmt: skip
"""Which points keep their distance, so and so many rows and columns apart, and how stiffly."""


def _fallen() -> Any:
    """Return the cloth as a sheet without thickness, when it has come to rest."""
    n, turn = _CLOTH, np.radians(20.0)
    at = np.linspace(-0.5 * _SIDE, 0.5 * _SIDE, n)
    x, z = np.meshgrid(at, at, indexing="ij")
    bumps = 0.004 * np.random.default_rng(5).standard_normal((n, n))
    flat = [np.cos(turn) * x + np.sin(turn) * z, 0.05 + bumps, np.cos(turn) * z - np.sin(turn) * x]
    p = np.stack(flat, axis=-1).reshape(-1, 3)
    before = p.copy()
    index = np.arange(n * n).reshape(n, n)
    held: list[tuple[Any, Any, float, float]] = []
    for dx, dz, stiff in _HELD:
        one = index[: n - dx, max(-dz, 0) : n - max(dz, 0)]
        other = index[dx:, max(dz, 0) : n + min(dz, 0)]
        i, j = np.indices(one.shape)
        # No point twice in one go, so that each go is exact.
        go = (i // dx) % 2 if dx else (j // dz) % 2
        length = (at[1] - at[0]) * np.hypot(dx, dz)
        held += [(one[go == k], other[go == k], length, stiff) for k in (0, 1)]
    for _ in range(260):
        p, before = p + 0.985 * (p - before) - [0.0, 0.0011, 0.0], p.copy()
        for _ in range(14):
            for one, other, length, stiff in held:
                way = p[other] - p[one]
                r = np.linalg.norm(way, axis=1, keepdims=True)
                move = 0.5 * stiff * (1.0 - length / np.maximum(r, 1e-9)) * way
                p[one] += move
                p[other] -= move
            # The post is a rod whose round head ends at y = 0.
            middle = np.minimum(p, -_POST) * [0.0, 1.0, 0.0]
            r = np.linalg.norm(p - middle, axis=1, keepdims=True)
            p = np.where(r < _OFF, middle + (p - middle) / np.maximum(r, 1e-9) * _OFF, p)
        # It clings where it lies.
        lying = np.linalg.norm(p - middle, axis=1) < _OFF + 0.0005
        before[lying] += 0.95 * (p[lying] - before[lying])
    # Rows that zigzag finer than any fold are no cloth's.
    return sheet(gaussian_filter(p.reshape(n, n, 3), (0.8, 0.8, 0.0), mode="nearest"))


def _thick(cloth: Any, half: float) -> Any:
    """Return a sheet as a solid: its two sides, and a border between them."""
    points, faces = np.asarray(cloth.vertices), np.asarray(cloth.faces)
    normals = np.asarray(cloth.vertex_normals)
    n = len(points)
    edges = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    there = {tuple(edge) for edge in edges.tolist()}
    border = np.array([(i, j) for i, j in edges.tolist() if (j, i) not in there])
    i, j = border[:, 0], border[:, 1]
    sides = np.vstack([np.stack([j, i, i + n], axis=1), np.stack([j, i + n, j + n], axis=1)])
    both = np.vstack([points + half * normals, points - half * normals])
    return trimesh.Trimesh(both, np.vstack([faces, faces[:, ::-1] + n, sides]), process=False)


def _post() -> Any:
    """Return the post: turned, with two grooves and a foot, without an edge but its lowest one."""
    up = np.linspace(-1.54, 0.0, 52)
    head = np.sqrt(np.clip(_POST**2 - np.clip(up + _POST, 0.0, None) ** 2, 0.0, None))
    grooves = sum(0.04 * np.exp(-(((up - y) / 0.06) ** 2)) for y in (-0.78, -1.04))
    foot = 0.10 / (1.0 + np.exp((up + 1.32) / 0.03)) - 0.05 * np.exp((-1.54 - up) / 0.02)
    outline = np.stack([np.maximum(head - grooves + foot, 0.0), up - 0.01], axis=-1)
    turned = trimesh.creation.revolve(np.vstack([[0.0, outline[0, 1]], outline, [0.0, -0.01]]), sections=80)
    turned.apply_transform(trimesh.transformations.rotation_matrix(-0.5 * np.pi, [1.0, 0.0, 0.0]))
    return turned


# ---------------------------------------------------------------- flat plates


def facets() -> Parts:
    """Return a watchman in flat plates, who holds up a lamp; a part's solids may reach into one another."""
    plates = [
        # Chest, belly, hips.
        _prism(
            (0.0, 0.10, 0.0), (0.0, 0.52, 0.0), [(0.0, 0.19, 0.13), (0.62, 0.31, 0.20), (1.0, 0.20, 0.13)], 8
        ),
        _prism((0.0, -0.12, 0.0), (0.0, 0.06, 0.0), [(0.0, 0.23, 0.16), (1.0, 0.18, 0.13)], 8),
        # Helmet, with its peak before.
        _hull(
            [*_rim(0.68, 0.10, 0.11, 6), *_rim(0.80, 0.145, 0.16, 6), (0.0, 0.98, -0.04), (0.0, 0.79, 0.25)]
        ),
        _prism((0.0, 0.62, -0.01), (0.0, 0.70, -0.01), [(0.0, 0.10, 0.10), (1.0, 0.13, 0.13)], 8),
    ]
    joints = [
        _prism((0.0, 0.48, 0.0), (0.0, 0.66, 0.0), [(0.0, 0.09, 0.09), (1.0, 0.09, 0.09)], 8),
        _prism((0.0, 0.03, 0.0), (0.0, 0.14, 0.0), [(0.0, 0.16, 0.115), (1.0, 0.16, 0.115)], 8),
    ]
    # Its left arm hangs, its right one holds the lamp's staff before it.
    for side, elbow, hand in (
        (1.0, (0.46, 0.10, -0.02), (0.47, -0.16, 0.13)),
        (-1.0, (-0.47, 0.14, 0.06), (-0.44, 0.24, 0.34)),
    ):
        shoulder = (side * 0.34, 0.42, 0.0)
        plates.append(
            _hull([
                *((side * x, y, z) for x, y, z in _rim(0.52, 0.10, 0.11, 6, (0.33, 0.0))),
                *((side * x, y, z) for x, y, z in _rim(0.36, 0.155, 0.165, 6, (0.39, 0.0))),
                (side * 0.34, 0.60, 0.0),
            ])
        )  # fmt: skip
        joints.append(_limb(shoulder, elbow, [(0.0, 0.08), (1.0, 0.065)]))
        plates.append(_limb(elbow, hand, [(0.05, 0.07), (0.35, 0.10), (0.95, 0.068)]))
        joints.append(
            _limb(
                hand,
                tuple(np.add(hand, np.subtract(hand, elbow) * 0.32)),
                [(0.0, 0.05), (0.5, 0.07), (1.0, 0.05)],
            )
        )
        # Skirt plate, thigh, greave and boot.
        hip, knee, foot = (
            (side * 0.12, -0.10, 0.0),
            (side * 0.17, -0.50, 0.05 * side + 0.03),
            (side * 0.20, -0.90, -0.05 * (1 - side)),
        )
        plates.append(
            _prism(
                (side * 0.20, -0.36, 0.02),
                (side * 0.13, -0.09, 0.0),
                [(0.0, 0.15, 0.19), (0.15, 0.155, 0.20), (1.0, 0.09, 0.14)],
                5,
            )
        )
        joints.append(_limb(hip, knee, [(0.0, 0.10), (1.0, 0.085)]))
        plates.append(_limb(knee, foot, [(-0.08, 0.075), (0.05, 0.115), (0.42, 0.12), (0.9, 0.075)], sides=6))
        x, _, z = foot
        plates.append(
            _hull(
                [(x + a * 0.085, -1.0, z + b) for a in (-1, 1) for b in (-0.11, 0.13)]
                + [(x + a * 0.05, -1.0, z + 0.22) for a in (-1, 1)]
                + [(x + a * 0.07, -0.87, z + b) for a in (-1, 1) for b in (-0.08, 0.05)]
                + [(x + a * 0.045, -0.95, z + 0.21) for a in (-1, 1)]
            )
        )
    # The lamp: eight panes between two caps, on a staff.
    x, z = -0.43, 0.42
    staff = rod((x, -1.0, z), (x, 0.75, z), 0.026)
    plates.append(_prism((x, 0.72, z), (x, 0.78, z), [(0.0, 0.06, 0.06), (1.0, 0.115, 0.115)], 8))
    glass = [
        _prism(
            (x, 0.775, z), (x, 0.985, z), [(0.0, 0.085, 0.085), (0.5, 0.115, 0.115), (1.0, 0.085, 0.085)], 8
        )
    ]
    plates.append(
        _prism((x, 0.98, z), (x, 1.12, z), [(0.0, 0.13, 0.13), (0.25, 0.12, 0.12), (1.0, 0.02, 0.02)], 8)
    )
    # Its eyes look through one pane.
    glass.append(
        _hull(
            [(a * 0.105, y, 0.05) for a in (-1, 1) for y in (0.70, 0.765)]
            + [(a * 0.075, y, 0.125) for a in (-1, 1) for y in (0.705, 0.76)]
            + [(0.0, y, 0.165) for y in (0.705, 0.76)]
        )
    )
    made = {"plates": plates, "joints": joints, "glass": glass}
    every = [solid for solids_of in made.values() for solid in solids_of]
    parts = {name: [_cut(one, every) for one in solids_of] for name, solids_of in made.items()}
    parts["joints"].append(staff)
    return {name: _joined(*meshes) for name, meshes in parts.items()}


_EDGE: Final = 0.012
"""How far edges are planed off."""
_FINEST: Final = 0.05
"""The longest side of a triangle: white lands by points."""


def _rim(
    y: float, wide: float, deep: float, sides: int, at: tuple[float, float] = (0.0, 0.0)
) -> list[tuple[float, ...]]:
    turn = _turns(sides) + np.pi / sides
    return [(at[0] + wide * a, y, at[1] + deep * b) for a, b in zip(np.sin(turn), np.cos(turn), strict=True)]


def _prism(
    start: Sequence[float], end: Sequence[float], rims: Sequence[tuple[float, ...]], sides: int
) -> Any:
    """Return a convex solid of rims (how far from start to end, how wide, how deep)."""
    points = []
    for along, wide, deep in rims:
        x, y, z = np.add(start, np.subtract(end, start) * along)
        points += _rim(float(y), wide, deep, sides, (float(x), float(z)))
    return _hull(points)


def _limb(
    start: Sequence[float], end: Sequence[float], rims: Sequence[tuple[float, float]], sides: int = 8
) -> Any:
    """Return a convex solid around a line, of rims (how far from start to end, radius)."""
    way = np.subtract(end, start)
    turn = trimesh.geometry.align_vectors([0.0, 1.0, 0.0], way)[:3, :3]
    length = np.linalg.norm(way)
    points = [point for along, radius in rims for point in _rim(along * length, radius, radius, sides)]
    return _hull(np.asarray(points) @ turn.T + start)


def _hull(points: Any) -> Any:
    """Return the solid around points, its edges planed off and its faces in small triangles."""
    solid = trimesh.convex.convex_hull(np.asarray(points))
    inset = []
    for face, normal in zip(*_faces(solid), strict=True):
        corners = np.asarray(solid.vertices)[face]
        middle = corners.mean(axis=0)
        corners = corners[np.argsort(_angle(corners - middle, normal))]
        n = len(corners)
        for i in range(n):
            one, here, two = corners[i - 1], corners[i], corners[(i + 1) % n]
            a, b = (one - here) / np.linalg.norm(one - here), (two - here) / np.linalg.norm(two - here)
            wide = np.linalg.norm(np.cross(a, b))
            if wide > 0.05:
                inset.append(here + _EDGE / wide * (a + b))
    return trimesh.convex.convex_hull(np.asarray(inset)).subdivide_to_size(_FINEST, max_iter=20)


def _faces(solid: Any) -> tuple[list[Any], FloatArray]:
    """Return the corners of each flat face of a convex solid, and where each faces."""
    normals = np.asarray(solid.face_normals)
    kinds = np.unique(np.rint(normals * 1e4), axis=0, return_inverse=True)[1].ravel()
    of = [np.unique(np.asarray(solid.faces)[kinds == k]) for k in range(kinds.max() + 1)]
    return of, np.array([normals[kinds == k].mean(axis=0) for k in range(kinds.max() + 1)])


def _angle(points: FloatArray, normal: FloatArray) -> FloatArray:
    side = points[0] - (points[0] @ normal) * normal
    side = side / np.linalg.norm(side)
    return np.asarray(np.arctan2(points @ np.cross(normal, side), points @ side))


def _cut(solid: Any, every: Sequence[Any]) -> Any:
    """Return a solid without the triangles that lie wholly inside another one."""
    points, hidden = np.asarray(solid.vertices), np.zeros(len(solid.faces), dtype=bool)
    for other in every:
        if other is not solid:
            planes = ConvexHull(np.asarray(other.vertices)).equations
            hidden |= ((points @ planes[:, :3].T + planes[:, 3]).max(axis=1) < -0.004)[solid.faces].all(
                axis=1
            )
    kept = solid.copy()
    kept.update_faces(~hidden)
    return kept


def main() -> None:
    """Write the forms."""
    write("ball", {"ball": ball((0.0, 0.0, 0.0), 0.5, fine=5)})
    for name, made in {"bust": bust, "drape": drape, "facets": facets, "lamplighter": lamplighter}.items():
        write(name, made())


if __name__ == "__main__":
    main()
