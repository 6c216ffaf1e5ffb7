"""Write data/examples/lamplighter.jpg and masks of its areas: a preshaded model, as a camera might take it.

Nobody sculpted, sprayed or photographed it. A hooded figure in a long coat, with a belt and a lamp, is made
of simple solids by their distance functions, and met by rays (J. C. Hart, "Sphere tracing", 1996). White
comes from a cone of directions above and lands where nothing is in the way; the light of the picture is a
sky before the figure. The preshade is that of the demo scheme. Run from the top of the tree:

    python -m data.generate.example_figure
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Final

import numpy as np
from PIL import Image

from layersim import colour
from layersim.files import write_whole
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate
from layersim.spectra import FloatArray
from tests.figure.scene import photographed

FOLDER: Final = Path(__file__).parents[1] / "examples"
PICTURE: Final = "lamplighter.jpg"
WIDTH, HEIGHT = 720, 960
GREY: Final = (11.0, 88.0)
"""Middle of the grey card, in per cent of the picture."""
PARTS: Final = {"cloth": (0,), "straps": (1,), "glass": (2,)}
_SKIN: Final = 3
_WALL: Final = 9
_FAR: Final = 4.0
_WHITE: Final = colour.Viewing().white


def solids(p: FloatArray) -> FloatArray:
    """Return the distance of points (..., 3) from cloth, straps, glass and face, shape (4, ...)."""
    x, y, z = p[..., 0], p[..., 1], p[..., 2]
    around = np.arctan2(z, x)
    down = np.clip((0.36 - y) / 1.36, 0.0, 1.0)
    folds = 0.055 * down * np.cos(9.0 * around + 2.2 * np.sin(2.0 * around) + 1.4 * down)
    coat = np.hypot(x, z) - (0.15 + 0.30 * down**0.85 + folds)
    coat = np.maximum(0.72 * coat, np.maximum(y - 0.40, -1.0 - y))
    shoulders = _ball(p, (0.0, 0.30, 0.0), (0.34, 0.15, 0.20))
    hood = np.maximum(
        _ball(p, (0.0, 0.60, -0.02), (0.215, 0.26, 0.23)), -_ball(p, (0.0, 0.55, 0.20), (0.135, 0.17, 0.16))
    )
    arm = _rod(p, (0.27, 0.30, 0.02), (0.50, 0.02, 0.22), 0.085)
    other = _rod(p, (-0.28, 0.28, 0.02), (-0.36, -0.22, 0.16), 0.085)
    cloth = _blend(_blend(_blend(coat, shoulders), hood), np.minimum(arm, other))
    waist = (0.36 + 0.12) / 1.36
    ring = np.hypot(x, z) - (0.17 + 0.30 * waist**0.85)
    belt = np.maximum(np.abs(ring) - 0.035, np.abs(y + 0.12) - 0.045)
    strap = _rod(p, (0.50, -0.05, 0.24), (0.50, -0.18, 0.25), 0.022)
    cap = np.maximum(_ball(p, (0.50, -0.20, 0.25), (0.10, 0.06, 0.10)), -(y + 0.215))
    foot = np.maximum(np.hypot(x - 0.50, z - 0.25) - 0.085, np.abs(y + 0.435) - 0.02)
    glass = _ball(p, (0.50, -0.315, 0.25), (0.105, 0.115, 0.105))
    face = _ball(p, (0.0, 0.55, 0.04), (0.12, 0.16, 0.13))
    return np.stack([cloth, np.minimum(np.minimum(belt, strap), np.minimum(cap, foot)), glass, face])


def _ball(p: FloatArray, at: tuple[float, ...], radii: tuple[float, ...]) -> FloatArray:
    q = (p - np.array(at)) / np.array(radii)
    return np.asarray((np.linalg.norm(q, axis=-1) - 1.0) * min(radii))


def _rod(p: FloatArray, start: tuple[float, ...], end: tuple[float, ...], radius: float) -> FloatArray:
    a, along = np.array(start), np.array(end) - np.array(start)
    t = np.clip((p - a) @ along / (along @ along), 0.0, 1.0)
    return np.asarray(np.linalg.norm(p - a - t[..., np.newaxis] * along, axis=-1) - radius)


def _blend(one: FloatArray, two: FloatArray, soft: float = 0.06) -> FloatArray:
    h = np.clip(0.5 + 0.5 * (two - one) / soft, 0.0, 1.0)
    return np.asarray(two + (one - two) * h - soft * h * (1.0 - h))


def met(p: FloatArray, direction: FloatArray, *, steps: int, far: float) -> tuple[FloatArray, FloatArray]:
    """Follow rays; return how far they get, and how closely they pass by something (0 where met)."""
    gone, clear = np.full(p.shape[:-1], 0.02), np.ones(p.shape[:-1])
    for _ in range(steps):
        d = solids(p + gone[..., np.newaxis] * direction).min(axis=0)
        clear = np.minimum(clear, np.clip(9.0 * d / gone, 0.0, 1.0))
        gone = np.minimum(gone + np.maximum(0.7 * d, 0.0), far)
    return gone, clear


def normals(p: FloatArray) -> FloatArray:
    """Return the surface's directions at points (n, 3)."""
    h = 2e-3
    slope = [solids(p + h * axis).min(axis=0) - solids(p - h * axis).min(axis=0) for axis in np.eye(3)]
    n = np.stack(slope, axis=-1)
    return np.asarray(n / np.maximum(np.linalg.norm(n, axis=-1, keepdims=True), 1e-9))


def render() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what each pixel is (an index of :func:`solids`), its place on the axis, and its light."""
    across, up = np.meshgrid(np.linspace(-0.84, 0.84, WIDTH), np.linspace(1.10, -1.14, HEIGHT))
    eye = np.stack([across.ravel(), up.ravel(), np.full(across.size, 2.0)], axis=-1)
    gone, _ = met(eye, np.array([0.0, 0.0, -1.0]), steps=90, far=_FAR)
    hit = gone < _FAR - 0.2
    p = eye[hit] + gone[hit, np.newaxis] * [0.0, 0.0, -1.0]
    n = normals(p)
    kind = np.full(across.size, _WALL)
    kind[hit] = np.argmin(solids(p), axis=0)
    cone = np.array(
        [[0.0, 1.0, 0.25], [0.35, 1.0, 0.45], [-0.35, 1.0, 0.45], [0.2, 1.0, 0.9], [-0.2, 1.0, 0.9]]
    )
    sprayed, sky = np.zeros(len(p)), np.zeros(len(p))
    for direction in cone / np.linalg.norm(cone, axis=1, keepdims=True):
        _, clear = met(p + 0.01 * n, direction, steps=26, far=1.6)
        sprayed += np.clip(n @ direction, 0.0, 1.0) * clear / len(cone)
    for direction in np.array([[0.3, 0.5, 0.8], [-0.5, 0.3, 0.8], [0.0, -0.2, 1.0]]):
        direction = direction / np.linalg.norm(direction)
        _, clear = met(p + 0.01 * n, direction, steps=20, far=1.0)
        sky += (0.35 + 0.65 * np.clip(n @ direction, 0.0, 1.0)) * (0.5 + 0.5 * clear) / 3.0
    place, light = np.zeros(across.size), np.ones(across.size)
    place[hit] = np.clip(sprayed / 0.85, 0.0, 1.0) ** 0.8
    light[hit] = 0.70 + 0.30 * np.clip(sky / 0.8, 0.0, 1.0)
    shape = (HEIGHT, WIDTH)
    return kind.reshape(shape).astype(float), place.reshape(shape), light.reshape(shape)


def photograph(place: FloatArray, light: FloatArray, kind: FloatArray) -> None:
    """Write what an sRGB camera makes of it, before a wall and with a grey card."""
    area = simulate(load_scheme(demo_scheme()), tones=33, draws=0, reasons=False).areas[0]
    at = area.shade[0] + place * (area.shade[-1] - area.shade[0])
    bare = next(i for i, stage in enumerate(area.stages) if stage.name == "preshade")
    roots = np.cbrt(area.xyz[bare])
    grey = np.stack([np.interp(at, area.shade, roots[:, c]) for c in range(3)], axis=-1) ** 3
    down = np.linspace(0.0, 1.0, HEIGHT)[:, np.newaxis, np.newaxis]
    wall = (0.30 - 0.12 * down) * _WHITE * [0.98, 1.0, 1.10] * np.ones((HEIGHT, WIDTH, 1))
    x, y = np.meshgrid(np.linspace(0.0, 100.0, WIDTH), np.linspace(0.0, 100.0, HEIGHT))
    wall[(abs(x - GREY[0]) < 7.0) & (abs(y - GREY[1]) < 6.0)] = 0.18 * _WHITE
    xyz = np.where((kind == _WALL)[..., np.newaxis], wall, grey * light[..., np.newaxis])
    photographed(xyz, FOLDER / PICTURE, exposure=0.92, seed=3, noise=0.006, quality=90)


def main() -> None:
    """Write the picture and a mask an area."""
    kind, place, light = render()
    photograph(place, light, kind)
    for name, kinds in PARTS.items():
        content = io.BytesIO()
        Image.fromarray(np.where(np.isin(kind, kinds), 255, 0).astype(np.uint8)).convert("1").save(
            content, "PNG", optimize=True
        )
        write_whole(FOLDER / f"lamplighter-{name}.png", content.getvalue())


if __name__ == "__main__":
    main()
