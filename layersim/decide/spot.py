"""The colour of a small spot of a picture, and how sure it is."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from layersim.decide.artwork import Artwork, Mask, Patch, patch_of
from layersim.documents.points import MOST_SIZE, SPOT_SIZE, Point
from layersim.errors import LayersimError

_FEWEST: Final = 5


def spot_in(artwork: Artwork, at: Point, *, size: float = SPOT_SIZE, name: str = "") -> Patch:
    """Return the colour of a round spot of a picture.

    `at`: its middle, in per cent of the picture's width and height. `size`: its width, in per cent of the
    longer side. Light is averaged, not the numbers of the file. Raises LayersimError if the spot lies outside
    the picture, or nothing but transparency is there.
    """
    if not (0.0 <= at[0] <= 100.0 and 0.0 <= at[1] <= 100.0):
        raise LayersimError(f"spot: found {at[0]:g},{at[1]:g}; expected a point inside the picture, 0 to 100")
    if not 0.0 < size <= MOST_SIZE:
        raise LayersimError(
            f"spot: found the size {size:g}; expected above 0, at most {MOST_SIZE:g} (per cent)"
        )
    mask = _round(artwork.solid.shape, at, size) & artwork.solid
    if not mask.any():
        raise LayersimError(
            f"spot at {at[0]:g},{at[1]:g}: found nothing but transparency there; expected a colour"
        )
    return dataclasses.replace(patch_of(artwork, mask, name), at=(at[0] / 100.0, at[1] / 100.0))


def _round(shape: tuple[int, ...], at: Point, size: float) -> Mask:
    """Return the pixels of a round spot; the nearest few where it is smaller than these."""
    height, width = shape
    rows = np.arange(height)[:, np.newaxis] + 0.5 - at[1] / 100.0 * height
    columns = np.arange(width) + 0.5 - at[0] / 100.0 * width
    away = np.hypot(rows, columns)
    fewest = min(_FEWEST, away.size) - 1
    nearest = np.partition(away, fewest, axis=None)[fewest]
    inside: Mask = away <= max(size / 200.0 * max(height, width), nearest)
    return inside
