"""A page of blocks and words as pixels.

The plotting library takes longer to be imported, and to lay out some four hundred labels, than
everything before it takes to predict them; a raster of rectangles and words needs none of it.
"""

from __future__ import annotations

import functools
import importlib.util
import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from PIL import ImageFont

_ANCHORS: Final = {"left": "ls", "center": "ms", "right": "rs"}
_POINTS_PER_INCH: Final = 72.0


class Shape(NamedTuple):
    """A rectangle, from its top left corner clockwise, or a triangle; inches from the top left."""

    corners: tuple[tuple[float, float], ...]
    fill: str | tuple[float, ...]


class Placed(NamedTuple):
    """Words with their middle at a height, in inches from the top left; their size in points."""

    x: float
    y: float
    words: str
    size: float
    ink: str
    weight: str
    align: str


def png(
    shapes: Sequence[Shape], words: Sequence[Placed], *, width: float, height: float, dpi: float
) -> bytes:
    """Return a page, of a size in inches, as a PNG file tagged as sRGB; words lie over shapes."""
    from PIL import Image, ImageDraw

    page = Image.new("RGB", (round(width * dpi), round(height * dpi)), "white")
    draw = ImageDraw.Draw(page)
    for shape in shapes:
        fill = shape.fill if isinstance(shape.fill, str) else tuple(round(255 * part) for part in shape.fill)
        corners = [(round(x * dpi), round(y * dpi)) for x, y in shape.corners]
        if len(corners) == 4:
            # The pixels that start within the edges; a hairline keeps one.
            (x0, y0), _, (x1, y1), _ = corners
            draw.rectangle((x0, y0, max(x1 - 1, x0), max(y1 - 1, y0)), fill=fill)
        else:
            draw.polygon(corners, fill=fill)
    for one in words:
        font = _font(one.size * dpi / _POINTS_PER_INCH, one.weight == "bold")
        # The middle of a tall and a hanging letter lies at the height asked for, so that words along
        # a row stand on one line whatever their letters.
        _, top, _, bottom = font.getbbox("lp", anchor="ls")
        at = (one.x * dpi, round(one.y * dpi - (top + bottom) / 2))
        draw.text(at, one.words.replace("\n", " "), font=font, fill=one.ink, anchor=_ANCHORS[one.align])
    picture = io.BytesIO()
    page.save(picture, format="png", icc_profile=screen_profile(), compress_level=1, dpi=(dpi, dpi))
    return picture.getvalue()


def screen_profile() -> bytes:
    """Return sRGB's profile, by which programs that manage colour show blocks as meant."""
    from PIL import ImageCms

    return bytes(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())


@functools.cache
def _font(pixels: float, bold: bool) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(_font_folder() / name, pixels, layout_engine=ImageFont.Layout.BASIC)


@functools.cache
def _font_folder() -> Path:
    """Return where the plotting library keeps its fonts, if possible without importing it."""
    found = importlib.util.find_spec("matplotlib")
    for place in (found.submodule_search_locations or []) if found else []:
        fonts = Path(place, "mpl-data", "fonts", "ttf")
        if (fonts / "DejaVuSans.ttf").is_file():
            return fonts
    import matplotlib as mpl

    return Path(mpl.get_data_path(), "fonts", "ttf")
