"""A photograph of the preshaded model in the colours that a scheme will have, stage by stage.

What a pixel becomes depends on nothing but how light it is and on its area, so each stage of an area is one
table, from lightness to the picture's own levels. Between the lightness L*₀ and L*₁ of the scheme's preshade
a pixel's lightness is its place on the shade axis. Outside of it no paint explains the pixel:

    Y < Y₀:  X = X(L*₀) Y / Y₀          in the shadow of something, or turned away from the light
    Y > Y₁:  X = X(L*₁) + (Y - Y₁) W    gloss, which has the colour of the light                 (F2)

so that the form, its grain and its gloss stay as they are in the picture. One picture cannot tell more: a
white fold that lies in shadow, and lies within the axis, is taken for a grey one in the light.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.figure.areas import Cover
from layersim.figure.seen import BINS, Bins, ModelPhotograph, luminance_of_bins
from layersim.measure.photograph import SRGB_TO_XYZ_D50, Photograph
from layersim.scheme.prediction import AreaPrediction
from layersim.spectra import FloatArray

TONES: Final = 33
"""Tones of the prediction that tables are drawn through; colours between them are off by less than 0.05."""
_ENDS: Final = (2.0, 98.0)
"""Per cent of an area's pixels: what lies outside may be a speck, or an edge of the mask."""
_WITHIN: Final = (5.0, 95.0)

_EVERY: Final = 5
"""Of bins, what they become is worked out for every fifth, and runs straight between (4095 are 819 × 5)."""

Picture = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class SeenArea:
    """What a picture shows of the preshade of one area."""

    name: str
    share: float
    """Of the picture."""
    axis: tuple[float, float]
    """L* of the scheme's preshade, deepest shadow and full highlight."""
    seen: tuple[float, float]
    """L* of the area's pixels in the picture; 2 % are darker and 2 % lighter."""
    within: tuple[float, float]
    """The same with 5 % darker and 5 % lighter."""
    in_shade: float
    """Share of its pixels that are darker than the preshade."""
    in_gloss: float
    """Share of its pixels that are lighter."""
    cut_off: float
    """Share of its pixels that are as light as the picture can show."""
    is_metal: bool = False
    """Whether it is painted with metal, which is shown as it looks turned by 45°."""


def table(
    area: AreaPrediction,
    stage: int,
    model: ModelPhotograph,
    *,
    viewing: colour.Viewing,
    ends: tuple[float, float],
) -> Picture:
    """Return what each bin of lightness becomes at a stage, (F2): shape (BINS, 3), the picture's levels.

    `ends`: L* in the picture that stand for the ends of the shade axis.
    """
    Y = luminance_of_bins()[::_EVERY]
    low, high = (colour.xyz_from_lab([L, 0.0, 0.0], viewing.white)[1] / 100.0 for L in ends)
    L = colour.lab_from_xyz(100.0 * Y[:, np.newaxis] * viewing.white / 100.0, viewing.white)[:, 0]
    place = np.clip((L - ends[0]) / max(ends[1] - ends[0], 1e-9), 0.0, 1.0)
    at = area.shade[0] + place * (area.shade[-1] - area.shade[0])
    painted = along_axis(at, area.shade, _as_in_picture(area.xyz[stage], viewing, model))
    painted *= np.minimum(Y / low, 1.0)[:, np.newaxis]
    painted += np.maximum(Y - high, 0.0)[:, np.newaxis] * model.white
    levels = model.levels_of(painted)
    bins = np.arange(BINS)
    fine = [np.interp(bins, bins[::_EVERY], levels[:, c]) for c in range(3)]
    return np.asarray(np.rint(np.stack(fine, axis=-1)), dtype=np.uint8)


def along_axis(at: FloatArray, shade: FloatArray, xyz: FloatArray) -> FloatArray:
    """Return the colours at some lightness of the preshade, shape (n, 3), between those at `shade`."""
    # Cube roots run straighter along the axis than light does.
    roots = np.cbrt(xyz)
    return np.stack([np.interp(at, shade, roots[:, c]) for c in range(3)], axis=-1) ** 3


def _as_in_picture(xyz: FloatArray, viewing: colour.Viewing, model: ModelPhotograph) -> FloatArray:
    """Return colours as an eye used to the picture's light would see them as it does under `viewing`."""
    own = model.calibration.viewing
    return colour.xyz_from_lab(colour.lab_alike(xyz, under=viewing, to=own), own.white)


def seen_area(
    area: AreaPrediction, model: ModelPhotograph, cover: Cover, *, viewing: colour.Viewing
) -> SeenArea:
    """Return what the picture shows of an area's preshade."""
    counts = np.bincount(model.bins[cover > 127], minlength=BINS)
    below = np.cumsum(counts) / counts.sum()
    white = viewing.white
    L = colour.lab_from_xyz(luminance_of_bins()[:, np.newaxis] * white, white)[:, 0]
    dark, light, less_dark, less_light = (
        float(L[np.searchsorted(below, end / 100.0)]) for end in (*_ENDS, *_WITHIN)
    )
    low, high = float(area.shade[0]), float(area.shade[-1])
    return SeenArea(
        name=area.name,
        share=float(cover.astype(np.float64).mean() / 255.0),
        axis=(low, high),
        seen=(dark, light),
        within=(less_dark, less_light),
        in_shade=float(counts[low > L].sum() / counts.sum()),
        in_gloss=float(counts[high < L].sum() / counts.sum()),
        cut_off=float(counts[model.lightest_bin :].sum() / counts.sum()),
        is_metal=bool(area.angles),
    )


def repainted(
    picture: Picture, bins: Bins, covers: Mapping[str, Cover], tables: Mapping[str, Picture]
) -> Picture:
    """Return a picture with each area as its table says; at its edge, so much of it as is covered."""
    new = picture.copy()
    for name, cover in covers.items():
        down, across = (np.flatnonzero(cover.any(axis=axis)) for axis in (1, 0))
        if not len(down):
            continue
        box = np.s_[down[0] : down[-1] + 1, across[0] : across[-1] + 1]
        part = cover[box][..., np.newaxis]
        painted = np.take(tables[name], bins[box], axis=0)
        edge = (part > 0) & (part < 255)
        mixed = np.where(part == 255, painted, new[box])
        if edge.any():
            at = edge[..., 0]
            share = part[at] / np.float32(255.0)
            mixed[at] = np.rint(share * painted[at] + (1.0 - share) * new[box][at]).astype(np.uint8)
        new[box] = mixed
    return new


def eight_bits(model: ModelPhotograph) -> Picture:
    """Return a photograph's own levels, 8 bits each."""
    levels = model.photograph.levels
    return np.asarray(levels if levels.dtype == np.uint8 else levels >> 8, dtype=np.uint8)


def in_srgb(photograph: Photograph, picture: Picture) -> Picture:
    """Return a picture in a photograph's encoding as screens take it; what sRGB does not hold is cut off."""
    encoded = colour.decode_srgb(np.linspace(0.0, 1.0, photograph.top + 1))[:, np.newaxis]
    if np.allclose(photograph.curve, encoded, atol=1e-3) and np.allclose(
        photograph.to_xyz_d50, SRGB_TO_XYZ_D50, atol=1e-3
    ):
        return picture
    levels = picture.astype(np.intp) * (photograph.top // 255)
    linear = (
        photograph.curve[levels, np.arange(3)] @ (np.linalg.inv(SRGB_TO_XYZ_D50) @ photograph.to_xyz_d50).T
    )
    return np.asarray(np.rint(255.0 * colour.encode_srgb(np.clip(linear, 0.0, 1.0))), dtype=np.uint8)
