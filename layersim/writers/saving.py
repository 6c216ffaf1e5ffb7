"""Pictures written whole or not at all, as PNG, PDF or SVG by the ending of their name."""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from layersim.errors import OutputError
from layersim.files import write_whole
from layersim.writers.endings import check_picture_path
from layersim.writers.raster import png
from layersim.writers.sheet import DPI, Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# The longest page that PDF readers show; as PNG it is 30,000 pixels.
_LONGEST: Final = 200.0


def save_figures(figures: Sequence[Figure], path: Path) -> None:
    """Write figures whole or not at all: one as a picture, or several as the pages of a PDF.

    PNG is tagged as sRGB, so that programs that manage colour show the blocks as meant.

    Parameters
    ----------
    figures : sequence of matplotlib.figure.Figure
    path : Path

    Raises
    ------
    OutputError
        If the ending is not a picture's, a figure is too long or the file cannot be written.
    """
    check_picture_path(path)
    _check_length(max(figure.get_figheight() for figure in figures), path)
    ending = path.suffix.lower().lstrip(".")
    picture = io.BytesIO()
    with warnings.catch_warnings():
        # A letter that the font lacks is drawn as a box; that is no news to whoever wrote it.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        _draw(figures, picture, ending)
    write_whole(path, picture.getvalue())


def save_sheet(sheet: Sheet, path: Path) -> None:
    """Write one page as :func:`save_figures` does, but a PNG without the plotting library.

    Parameters
    ----------
    sheet : Sheet
    path : Path

    Raises
    ------
    OutputError
        As :func:`save_figures`.
    """
    if path.suffix.lower() != ".png":
        save_figures([sheet.finish()], path)
        return
    check_picture_path(path)
    _check_length(sheet.height, path)
    write_whole(path, png(sheet.shapes, sheet.words, width=sheet.width, height=sheet.height, dpi=DPI))


def _check_length(height: float, path: Path) -> None:
    if height > _LONGEST:
        raise OutputError(
            f"{path}: this strip is too long for one page; choose some of it with --area or --coat, "
            "or write a .pdf, which has a page for each area"
        )


def _draw(figures: Sequence[Figure], picture: io.BytesIO, ending: str) -> None:
    if ending == "pdf":
        from matplotlib.backends.backend_pdf import PdfPages

        with PdfPages(picture) as pages:
            for figure in figures:
                pages.savefig(figure)
    elif ending == "png":
        from PIL import ImageCms

        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        options = {"icc_profile": profile, "compress_level": 3}
        figures[0].savefig(picture, format=ending, dpi=DPI, pil_kwargs=options)
    else:
        figures[0].savefig(picture, format=ending)
        # What no XML may hold, be it in a remark (XML 1.0, section 2.2): names may have such letters.
        text = picture.getvalue().decode("utf-8").translate(dict.fromkeys((0xFFFE, 0xFFFF), "\ufffd"))
        picture.seek(0)
        picture.truncate()
        picture.write(text.encode("utf-8"))
