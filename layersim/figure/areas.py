"""Which pixels of a photograph belong to which area: masks painted in any program, or polygons."""

from __future__ import annotations

import itertools
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.errors import LayersimError, quoted
from layersim.files import read_bytes
from layersim.names import named
from layersim.scheme.records import Area

Cover = npt.NDArray[np.uint8]
"""How much of each pixel an area covers, 0 to 255, shape (height, width)."""

MOST_CORNERS: Final = 500
_MOST_MASK_PIXELS: Final = 64_000_000
_MOST_MASK_BYTES: Final = 200 * 2**20
_UNLIKE: Final = 0.02
"""A mask's shape may differ from the photograph's by this share: it was saved at another size."""
_NUMBER: Final = r"\s*(-?\d+(?:\.\d+)?)\s*"
_EXPECTED: Final = (
    'an area and where it is, such as "cloth=cloth-mask.png" or "cloth=20,10 60,10 55,80 25,80"'
)


@dataclass(frozen=True)
class AreaPlace:
    """Where an area is in a photograph, as it was asked for."""

    area: str
    mask: Path | None = None
    corners: tuple[tuple[float, float], ...] = ()
    """Of a polygon, X,Y in per cent of the picture from its upper left corner."""


def place_from(text: str, areas: Sequence[Area]) -> AreaPlace:
    """Return what ``AREA=MASK`` or ``AREA=X,Y X,Y X,Y`` says; raises LayersimError."""
    name, equals, where = (part.strip() for part in text.partition("="))
    if not name or not equals or not where:
        raise LayersimError(f"found {quoted(text)}; expected {_EXPECTED}")
    area = named(areas, name, kind="areas").name
    corners = [re.fullmatch(f"{_NUMBER},{_NUMBER}", point) for point in where.split()]
    if not all(corners):
        return AreaPlace(area, mask=Path(where))
    points = tuple((float(corner[1]), float(corner[2])) for corner in corners if corner)
    if not 3 <= len(points) <= MOST_CORNERS:
        raise LayersimError(f"{name}: found {len(points)} corners; expected 3 to {MOST_CORNERS} of a polygon")
    if any(not 0.0 <= value <= 100.0 for value in itertools.chain(*points)):
        raise LayersimError(f"{name}: found a corner outside the picture; expected per cent, 0 to 100")
    return AreaPlace(area, corners=points)


def cover_of(place: AreaPlace, *, height: int, width: int) -> Cover:
    """Return how much of each pixel of a picture a place covers; raises LayersimError for an empty one."""
    import cv2

    if place.mask is None:
        found = np.zeros((height, width), dtype=np.uint8)
        # 4 bits of the coordinates are parts of a pixel, so that slanted edges are smooth.
        ends = np.array(place.corners) / 100.0 * [width - 1, height - 1] * 16.0
        cv2.fillPoly(found, [np.rint(ends).astype(np.int32)], (255,), lineType=cv2.LINE_AA, shift=4)
    else:
        found = _read_mask(place.mask)
        shape = found.shape[1] / found.shape[0] * height / width
        if abs(shape - 1.0) > _UNLIKE:
            raise LayersimError(
                f"{place.mask}: this mask is {found.shape[1]} × {found.shape[0]} pixels, and the photograph "
                f"{width} × {height}; expected the same shape. Paint it over the photograph itself"
            )
        if found.shape != (height, width):
            found = np.asarray(cv2.resize(found, (width, height), interpolation=cv2.INTER_LINEAR), np.uint8)
    if not (found > 127).any():
        raise LayersimError(
            f"{place.area}: nothing of the picture is marked; expected white where the area is"
        )
    return found


def _read_mask(path: Path) -> Cover:
    from PIL import Image, ImageOps, UnidentifiedImageError

    if not read_bytes(path, what="mask", most=_MOST_MASK_BYTES):
        raise LayersimError(f"{path}: this file is empty; expected a picture, white where the area is")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path, formats=("PNG", "JPEG", "TIFF", "BMP")) as image:
                if image.width * image.height > _MOST_MASK_PIXELS:
                    raise LayersimError(
                        f"{path}: {image.width} × {image.height} pixels are too many for a mask"
                    )
                # Photographs are read upright, so what was painted over them is.
                upright = ImageOps.exif_transpose(image)
                # Painted on a layer of its own, a mask is see-through where nothing was painted.
                through = "A" in upright.getbands() or "transparency" in upright.info
                if upright.mode.startswith("I;16") or upright.mode == "I":
                    # Pillow would take all but the darkest 255 of 65535 levels for white.
                    levels = np.asarray(np.clip(np.asarray(upright), 0, 65535) // 257, dtype=np.uint8)
                elif upright.mode == "F":
                    levels = np.asarray(np.rint(np.clip(np.asarray(upright), 0.0, 1.0) * 255.0), np.uint8)
                else:
                    levels = np.asarray(upright.convert("RGBA" if through else "L"), dtype=np.uint8)
    except LayersimError:
        raise
    except UnidentifiedImageError:
        raise LayersimError(
            f"{path}: this is not a PNG, JPEG, TIFF or BMP picture; expected a mask"
        ) from None
    except Exception:  # a damaged file can fail anywhere inside the decoder
        raise LayersimError(f"{path}: this picture is damaged") from None
    if levels.ndim == 2:
        return levels
    return np.asarray(levels[..., :3].max(axis=-1).astype(np.uint16) * levels[..., 3] // 255, dtype=np.uint8)
