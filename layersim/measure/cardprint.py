"""A card drawn for the printer, at its own size."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from layersim.errors import OutputError
from layersim.files import write_whole
from layersim.measure.card import CardLayout, Mark, Rect, coats_in_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PAGES_MM: Final[dict[str, tuple[float, float]]] = {
    "A6": (148.0, 105.0),
    "A4": (210.0, 297.0),
    "letter": (215.9, 279.4),
}
"""Paper that a card can be printed on (ISO 216; ANSI Y14.1): width and height in mm."""
MM_PER_INCH: Final = 25.4
_MARK_CELLS: Final = 8
_CENTRED: Final = {"ha": "center", "va": "center"}
_SMALL: Final = {"fontsize": 5.5, "color": "0.25", "va": "baseline"}
_BLANKS: Final = (
    (19.0, 9.0, "paint", 76.0),
    (79.0, 9.0, "thinned", 104.0),
    (107.0, 9.0, "date", 128.0),
    (19.0, 15.0, "airbrush, pressure, distance", 86.0),
    (89.0, 15.0, "varnish", 128.0),
)
"""Lines to write on: where each begins, what stands before it, where it ends."""
_ADVICE: Final = (
    "Neutrals of known reflectance on these three",
    "places, or a 24-patch chart beside the card,",
    "in one plane. Even light from 45°, camera",
    "square on, exposure and white balance",
    "locked, nothing clipped. Paint dry.",
)


def write_card(path: Path, layout: CardLayout, *, page: str = "A6") -> None:
    """Write a card as a PDF.

    `page` is "A6" (the card fills the page), "A4" or "letter" (in the middle, with lines to cut by).
    Raises OutputError if the page is unknown, the card does not fit it, or the file can't be written.
    """
    import matplotlib as mpl

    figure = card_figure(layout, page=page)
    held = io.BytesIO()
    with mpl.rc_context({"pdf.fonttype": 42}):
        figure.savefig(
            held, format="pdf", metadata={"Title": f"layersim {layout.name}", "CreationDate": None}
        )
    write_whole(path, held.getvalue())


def card_figure(layout: CardLayout, *, page: str | None = None) -> Figure:
    """Return the drawing of a card, on a page or by itself; raises OutputError as :func:`write_card`."""
    from matplotlib.figure import Figure

    if page is not None and page not in PAGES_MM:
        raise OutputError(f'no page "{page}"; there are {", ".join(PAGES_MM)}')
    width, height = (layout.width_mm, layout.height_mm) if page is None else PAGES_MM[page]
    left, top = 0.5 * (width - layout.width_mm), 0.5 * (height - layout.height_mm)
    if left < 0.0 or top < 0.0:
        raise OutputError(
            f"the card of {layout.width_mm:g} × {layout.height_mm:g} mm does not fit a page of "
            f"{width:g} × {height:g} mm ({page})"
        )
    figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(-left, width - left)
    axes.set_ylim(height - top, -top)
    for mark in layout.marks:
        _draw_mark(axes, mark)
    _draw_places(axes, layout)
    # Only the standard card is known to have room for words.
    if (layout.width_mm, layout.height_mm) == PAGES_MM["A6"] and layout.marks:
        _draw_words(axes, layout)
    if left > 0.0 and top > 0.0:
        _draw_lines_to_cut_by(axes, layout)
    return figure


def _box(axes: Any, rect: Rect, **style: Any) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((rect.x_mm, rect.y_mm), rect.width_mm, rect.height_mm, **style))


def _draw_mark(axes: Any, mark: Mark) -> None:
    import cv2

    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    cells: Any = cv2.aruco.generateImageMarker(family, mark.number, _MARK_CELLS)
    cell, square = mark.side_mm / _MARK_CELLS, mark.rect
    _box(axes, square, facecolor="black", edgecolor="none", antialiased=False)
    for row, column in np.argwhere(cells > 0).tolist():
        white = Rect(square.x_mm + cell * column, square.y_mm + cell * row, cell, cell)
        _box(axes, white, facecolor="white", edgecolor="none", antialiased=False)


def _draw_places(axes: Any, layout: CardLayout) -> None:
    outline: dict[str, Any] = {"facecolor": "none", "edgecolor": "0.55", "linewidth": 0.4}
    margin = 1.5 if layout.marks else 0.0
    for ground in dict.fromkeys(patch.ground for patch in layout.patches):
        corners = np.concatenate([p.rect.corners_mm for p in layout.patches if p.ground == ground])
        (x, y), (w, h) = corners.min(axis=0) - margin, np.ptp(corners, axis=0) + 2.0 * margin
        band = Rect(x, y, w, h)
        _box(axes, band, **outline)
        axes.text(*band.centre_mm, f"prime this band {ground}", color="0.8", fontsize=13, **_CENTRED)
    for patch in layout.patches:
        _box(axes, patch.rect, **outline, linestyle=(0, (2, 2)))
    for neutral in layout.neutrals:
        _box(axes, neutral.rect, **outline)
        axes.text(*neutral.rect.centre_mm, neutral.name, color="0.6", fontsize=7, **_CENTRED)
    if layout.chart is not None:
        _box(axes, layout.chart, **outline)


def _draw_words(axes: Any, layout: CardLayout) -> None:
    for x, y, label, end in _BLANKS:
        axes.text(x, y, label, **_SMALL)
        axes.plot([x + 1.05 * len(label) + 1.0, end], [y + 0.4] * 2, color="0.5", linewidth=0.3)
    for patch in layout.patches:
        if patch.ground == layout.patches[0].ground:
            axes.text(patch.rect.centre_mm[0], 19.6, coats_in_words(patch.coats), ha="center", **_SMALL)
    for row, line in enumerate(_ADVICE):
        axes.text(95.0, 74.0 + 2.8 * row, line, fontsize=3.9, color="0.35", va="baseline")
    axes.plot([49.0, 99.0], [95.0, 95.0], color="0.2", linewidth=0.5)
    for x in (49.0, 99.0):
        axes.plot([x, x], [93.8, 96.2], color="0.2", linewidth=0.5)
    axes.text(74.0, 93.6, "50 mm: print at 100 %, not fitted to the page", ha="center", **_SMALL)


def _draw_lines_to_cut_by(axes: Any, layout: CardLayout) -> None:
    for x in (0.0, layout.width_mm):
        for y in (0.0, layout.height_mm):
            away_x, away_y = (-1.0 if x == 0.0 else 1.0), (-1.0 if y == 0.0 else 1.0)
            axes.plot([x + 2 * away_x, x + 7 * away_x], [y, y], color="black", linewidth=0.3)
            axes.plot([x, x], [y + 2 * away_y, y + 7 * away_y], color="black", linewidth=0.3)
