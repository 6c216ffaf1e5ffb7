"""A page of blocks, marks and words, drawn at the end as a figure or as pixels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from layersim import colour
from layersim.spectra import FloatArray
from layersim.writers.raster import Placed, Shape

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH: Final = 11.0
"""Inches; as wide as A4 is long, less a margin that every printer can keep."""
MARGIN: Final = 0.30
"""Inches."""
DPI: Final = 150
"""Pixels to the inch of every picture."""
INK: Final = "#222222"
FAINT: Final = "#666666"
"""For words that explain others."""
OVERLAP: Final = 0.006
"""Inches. A hairline of the page would show between blocks whose edges fall between pixels."""


class Sheet:
    """A page in inches from the top left; words lie over blocks. `viewing` is what L*a*b* stand for."""

    def __init__(self, width: float, height: float, viewing: colour.Viewing) -> None:
        self.width, self.height, self.viewing = width, height, viewing
        self.shapes: list[Shape] = []
        self.words: list[Placed] = []

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = 8,
        ink: str = INK,
        weight: str = "normal",
        align: str = "left",
    ) -> None:
        """Write words with their middle at a height."""
        self.words.append(Placed(x, y, words, size, ink, weight, align))

    def line(self, x0: float, x1: float, y: float, *, ink: str = "#bbbbbb") -> None:
        """Draw a thin level line."""
        self.block(x0, y, x1 - x0, 0.008, ink)

    def block(self, x: float, y: float, width: float, height: float, fill: str | Sequence[float]) -> None:
        """Draw a rectangle from its top left corner."""
        corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        self.shapes.append(Shape(corners, fill if isinstance(fill, str) else tuple(fill)))

    def tone(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        lab: FloatArray,
        words: str = "",
        small: str = "",
    ) -> None:
        """Draw one colour, with words on it and a dog-ear where the screen cannot show it."""
        shown = colour.lab_on_screen(lab, self.viewing)
        self.block(x, y, width + OVERLAP, height, shown.rgb.tolist())
        on_it = "#000000" if lab[0] > 50.0 else "#ffffff"  # either way a contrast of 4.5 or more
        ear = 0.0
        if not shown.shown:
            ear = min(0.13, height * 0.5, width * 0.3)
            left, right, low = x + width - ear, x + width, y + ear
            self.shapes.append(Shape(((left, y), (right, y), (right, low)), "white"))
            self.shapes.append(Shape(((left, y), (right, low), (left, low)), "black"))
        middle = y + height * (0.36 if small else 0.5)
        # In a narrow block the words make room for the dog-ear.
        aside = ear if width < 4 * ear else 0.0
        if words:
            self.text(x + (width - aside) / 2, middle, words, size=7.5, ink=on_it, align="center")
        if small:
            self.text(x + width / 2, y + height * 0.76, small, size=6.3, ink=on_it, align="center")

    def finish(self) -> Figure:
        """Return the page as a figure."""
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.collections import PolyCollection
        from matplotlib.figure import Figure

        figure = Figure(figsize=(self.width, self.height), dpi=DPI, facecolor="white")
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(0.0, self.width)
        axes.set_ylim(self.height, 0.0)
        axes.set_axis_off()
        corners, fills = [shape.corners for shape in self.shapes], [shape.fill for shape in self.shapes]
        axes.add_collection(PolyCollection(corners, facecolors=fills, edgecolors="none", antialiaseds=False))
        for one in self.words:
            axes.text(
                one.x,
                one.y,
                one.words,
                fontsize=one.size,
                color=one.ink,
                fontweight=one.weight,
                ha=one.align,
                va="center",
                parse_math=False,
            )
        return figure
