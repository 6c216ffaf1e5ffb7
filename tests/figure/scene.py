"""A preshaded model in front of a camera, rendered: what is where on it is known exactly.

A sphere that was sprayed white from above over black: its place on the shade axis is how much it faces up. It
stands before a wall, in light that falls off to one side, with a grey card beside it; the camera is sRGB with
noise, and writes a JPEG. Everything is invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from layersim import colour
from layersim.scheme.prediction import AreaPrediction
from layersim.spectra import FloatArray

WIDTH, HEIGHT = 900, 700
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""Linear sRGB to XYZ, a white having Y = 1 (IEC 61966-2-1)."""
TO_LINEAR = np.linalg.inv(TO_XYZ)
GREY_AT = (12.0, 80.0)
_DAYLIGHT = colour.Viewing()


@dataclass(frozen=True, eq=False)
class Scene:
    place: FloatArray
    """On the shade axis, 0 to 1; NaN beside the sphere."""
    light: FloatArray
    """How much falls on each pixel."""
    wall: FloatArray
    """XYZ of what is not the sphere."""

    @property
    def inside(self) -> FloatArray:
        return np.isfinite(self.place)

    def xyz(self, area: AreaPrediction, stage: int) -> FloatArray:
        """What reaches the camera after a stage, white 100."""
        at = area.shade[0] + np.nan_to_num(self.place) * (area.shade[-1] - area.shade[0])
        roots = np.cbrt(area.xyz[stage])
        painted = np.stack([np.interp(at, area.shade, roots[:, c]) for c in range(3)], axis=-1) ** 3
        return np.where(self.inside[..., np.newaxis], painted, self.wall) * self.light[..., np.newaxis]


def scene(*, falloff: float = 0.0) -> Scene:
    across, down = np.meshgrid(
        np.linspace(-1.0, 1.0, WIDTH), np.linspace(-HEIGHT / WIDTH, HEIGHT / WIDTH, HEIGHT)
    )
    x, y = across - 0.15, -down
    radius = 0.6
    inside = x**2 + y**2 < radius**2
    place = np.where(inside, 0.5 + 0.5 * y / radius, np.nan)
    wall = np.broadcast_to(0.35 * _DAYLIGHT.white, (HEIGHT, WIDTH, 3)).copy()
    wall[..., 2] *= 0.8
    grey = (np.abs(across - (GREY_AT[0] / 50.0 - 1.0)) < 0.1) & (
        np.abs(down / HEIGHT * WIDTH - (GREY_AT[1] / 50.0 - 1.0)) < 0.12
    )
    wall[grey] = 0.18 * _DAYLIGHT.white
    return Scene(place, 1.0 - falloff * across, wall)


def photographed(
    xyz: FloatArray,
    path: Path,
    *,
    exposure: float = 0.9,
    seed: int = 1,
    noise: float = 0.004,
    quality: int = 92,
) -> Path:
    """Write what an sRGB camera makes of it; the white of the light has `exposure` of the scale."""
    linear = xyz / 100.0 @ TO_LINEAR.T * exposure
    rng = np.random.default_rng(seed)
    linear = linear + noise * np.sqrt(np.maximum(linear, 0.0) + 0.01) * rng.standard_normal(linear.shape)
    encoded = colour.encode_srgb(np.clip(linear, 0.0, 1.0))
    Image.fromarray(np.rint(255.0 * encoded).astype(np.uint8)).save(path, quality=quality, subsampling=0)
    return path
