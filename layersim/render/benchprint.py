"""The bench card as a page to print.

The page is as wide as A4 and as tall as letter, so that it prints whole on both without being scaled.
Words are made smaller, down to what can be read at arm's length, until all areas fit one page; where they do
not even then, areas go on to further pages.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from layersim.render.benchcard import NOT_MEASURED, BenchCard, CardArea, CardStep, caution_rows
from layersim.render.strip import Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH: Final = 8.27
"""Inches: A4, the narrower of the two."""
HEIGHT: Final = 11.0
"""Inches: letter, the shorter of the two."""
SIZES: Final = (8.0, 7.5, 7.0, 6.5, 6.0, 5.6)
"""Points; tried from the largest."""

# Inches.
_MARGIN: Final = 0.42
_BOXES: Final = 0.50
_STRIP: Final = 1.30
_GAP: Final = 0.10
_RECIPE: Final = 2.95
_CHIP: Final = 0.62
_CHIP_WIDTH: Final = 1.40
_CHIPS_A_ROW: Final = 5
_BOX: Final = 0.11
_BOXES_A_ROW: Final = 3
_FAINT: Final = "#555555"
_POINTS_PER_INCH: Final = 72.0
_TARGET: Final = 0.30
_TARGET_GAP: Final = 0.20
_NAME: Final = _BOXES + _STRIP - 0.08
_COMMON_THINNER: Final = " for water-borne paint"
"""Left out on paper, where there is little room."""


def bench_figures(card: BenchCard) -> list[Figure]:
    """Return the pages of the card; one where everything fits on it.

    Parameters
    ----------
    card : BenchCard

    Returns
    -------
    list of matplotlib.figure.Figure
    """
    for size in SIZES:
        layout = _Layout(card, size)
        if layout.head() + sum(layout.area(a) for a in card.areas) + layout.foot() <= HEIGHT - 2 * _MARGIN:
            return [layout.page(card.areas, number=1, last=True)]
    layout = _Layout(card, SIZES[-2])
    pages = layout.split()
    return [layout.page(areas, number=i, last=i == len(pages)) for i, areas in enumerate(pages, start=1)]


class _Layout:
    """Where everything goes at one size of words."""

    def __init__(self, card: BenchCard, size: float) -> None:
        self.card, self.size = card, size
        self.line = size / 72.0 * 1.28
        self.sure = WIDTH - 2 * _MARGIN - _BOXES - _STRIP - _RECIPE - 2 * _GAP

    def wrapped(self, words: str, width: float, *, bold: bool = False) -> list[str]:
        """Return words in lines that are no wider than some inches, by the letters' own widths."""
        kept = words.replace(" µm", "\u00a0µm").replace("ΔE00 ", "ΔE00\u00a0")
        lines: list[str] = []
        for word in kept.split(" "):
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and _width(longer, self.size, bold=bold) <= width:
                lines[-1] = longer
            elif word:
                lines += _pieces(word, width, self.size, bold=bold)
        return lines

    def head_rows(self) -> list[str]:
        count = "one model" if self.card.models == 1 else f"{self.card.models} models"
        told = f"Bench card for {count}. Tones predicted under {self.card.light}, deepest shadow on the left."
        return self.wrapped(f"{told} {NOT_MEASURED}", WIDTH - 2 * _MARGIN)

    def head(self) -> float:
        return 0.30 + self.line * len(self.head_rows()) + 0.08

    def care_rows(self) -> list[str]:
        width = WIDTH - 2 * _MARGIN
        rows = [line for row in caution_rows(self.card) for line in self.wrapped(row, width)]
        estimates = (
            "Drops, drying times and tolerances are estimates: common practice and a model, no substitute"
        )
        return rows + self.wrapped(f"{estimates} for a test piece.", width)

    def foot(self) -> float:
        return self.chips() + self.line * (len(self.care_rows()) + 1.6)

    def chips(self) -> float:
        rows = -(-len(self.card.areas) // _CHIPS_A_ROW)
        return self.line * 1.6 + rows * (_CHIP + 0.08)

    def area(self, area: CardArea) -> float:
        return self.area_head(area) + self.line * 0.2 + sum(self.step(step) for step in area.steps)

    def area_head(self, area: CardArea) -> float:
        rows = max(1, len(self.surest_rows(area)) + self.target_rows(area))
        return self.line * (1.2 + rows)

    def beside(self) -> tuple[float, float]:
        """Return where what stands beside an area's name begins, and how wide it may be."""
        x = _MARGIN + _BOXES + _STRIP + _GAP
        return x, WIDTH - _MARGIN - x

    def surest_rows(self, area: CardArea) -> list[str]:
        return self.wrapped(area.surest, self.beside()[1]) if area.surest else []

    def target_places(self, area: CardArea) -> list[tuple[int, float, str]]:
        """Return the row and the place of each target, and what is written after its colour."""
        start, wide = self.beside()
        places, row, x = [], 0, start
        for key, _, miss in area.targets:
            words = f"target {key}, ΔE00 {miss:.1f}"
            needed = _TARGET + 0.05 + _width(words, self.size)
            if x > start and x + needed > start + wide:
                row, x = row + 1, start
            places.append((row, x, words))
            x += needed + _TARGET_GAP
        return places

    def target_rows(self, area: CardArea) -> int:
        return max((row for row, _, _ in self.target_places(area)), default=-1) + 1

    def step(self, step: CardStep) -> float:
        most = max(len(self.recipe_rows(step)), len(self.sure_rows(step)))
        return max(self.line * most, 0.22, _BOX * 1.25 * -(-step.boxes // _BOXES_A_ROW) + 0.02) + 0.05

    def recipe_rows(self, step: CardStep) -> list[tuple[str, bool]]:
        mixed = step.recipe.replace(_COMMON_THINNER, "")
        rows = [
            (line, True) for line in self.wrapped(f"{step.name}: {mixed}".rstrip(": "), _RECIPE, bold=True)
        ]
        for words in (step.how, step.mixed_with):
            rows += [(line, False) for line in self.wrapped(words, _RECIPE)]
        return rows

    def sure_rows(self, step: CardStep) -> list[str]:
        # On paper the worst slip alone; the page for the phone has room for more.
        slip = step.tolerance.split(";")[0]
        rows = self.wrapped(f"Dry {step.drying}", self.sure) + self.wrapped(slip, self.sure)
        warnings = [words.split(", or ")[0] for words in step.warnings]
        return rows + [line for words in warnings for line in self.wrapped(words, self.sure)]

    def split(self) -> list[Sequence[CardArea]]:
        """Return the areas page by page; an area taller than a page stands alone."""
        room = HEIGHT - 2 * _MARGIN - self.head() - self.foot()
        pages: list[list[CardArea]] = [[]]
        used = 0.0
        for area in self.card.areas:
            if pages[-1] and used + self.area(area) > room:
                pages.append([])
                used = 0.0
            pages[-1].append(area)
            used += self.area(area)
        return list(pages)

    def page(self, areas: Sequence[CardArea], *, number: int, last: bool) -> Figure:
        # An area of very many steps makes its own page longer, rather than be cut.
        needed = self.head() + sum(self.area(a) for a in areas) + (self.foot() if last else 0.0) + 2 * _MARGIN
        sheet = Sheet(WIDTH, max(HEIGHT, needed), self.card.viewing)
        y = _MARGIN
        title = self.card.name if number == 1 else f"{self.card.name}, page {number}"
        sheet.text(
            _MARGIN, y + 0.13, _shortened(title, WIDTH - 2 * _MARGIN, 14, bold=True), size=14, weight="bold"
        )
        y += 0.30
        for row, line in enumerate(self.head_rows()):
            sheet.text(_MARGIN, y + self.line * (row + 0.5), line, size=self.size, ink=_FAINT)
        y += self.line * len(self.head_rows()) + 0.08
        for area in areas:
            self.draw_area(sheet, area, y)
            y += self.area(area)
        if last:
            self.draw_chips(sheet, y)
            y += self.chips()
            sheet.line(_MARGIN, WIDTH - _MARGIN, y, ink="#222222")
            sheet.text(_MARGIN, y + self.line * 0.8, "Take care", size=self.size, weight="bold")
            for row, line in enumerate(self.care_rows()):
                sheet.text(_MARGIN, y + self.line * (row + 1.9), line, size=self.size, ink=_FAINT)
        return sheet.finish()

    def draw_area(self, sheet: Sheet, area: CardArea, y: float) -> None:
        sheet.line(_MARGIN, WIDTH - _MARGIN, y, ink="#222222")
        middle = y + self.line * 1.1
        sheet.text(
            _MARGIN,
            middle,
            _shortened(area.name, _NAME, self.size + 3, bold=True),
            size=self.size + 3,
            weight="bold",
        )
        x, _ = self.beside()
        surest = self.surest_rows(area)
        for row, line in enumerate(surest):
            sheet.text(x, y + self.line * (row + 0.8), line, size=self.size, ink=_FAINT)
        for (row, place, words), (_, wanted, _) in zip(self.target_places(area), area.targets, strict=True):
            top = y + self.line * (len(surest) + row + 0.5)
            sheet.tone(place, top, _TARGET, self.line * 0.85, wanted.lab)
            sheet.text(place + _TARGET + 0.05, top + self.line * 0.42, words, size=self.size)
        y += self.area_head(area)
        for step in area.steps:
            self.draw_step(sheet, step, y)
            y += self.step(step)

    def draw_chips(self, sheet: Sheet, y: float) -> None:
        sheet.line(_MARGIN, WIDTH - _MARGIN, y, ink="#222222")
        words = "Real chips: spray them beside the models and stick them here"
        sheet.text(_MARGIN, y + self.line * 0.8, words, size=self.size, weight="bold")
        for place, area in enumerate(self.card.areas):
            row, column = divmod(place, _CHIPS_A_ROW)
            x = _MARGIN + column * (_CHIP_WIDTH + 0.10)
            top = y + self.line * 1.6 + row * (_CHIP + 0.08)
            _frame(sheet, x, top, _CHIP_WIDTH, _CHIP, "#888888")
            name = _shortened(area.name, _CHIP_WIDTH - 0.1, self.size)
            sheet.text(x + _CHIP_WIDTH / 2, top + 0.08, name, size=self.size, ink=_FAINT, align="center")

    def draw_step(self, sheet: Sheet, step: CardStep, y: float) -> None:
        sheet.line(_MARGIN, WIDTH - _MARGIN, y - 0.015, ink="#dddddd")
        for place in range(step.boxes):
            row, column = divmod(place, _BOXES_A_ROW)
            _frame(sheet, _MARGIN + column * _BOX * 1.25, y + 0.02 + row * _BOX * 1.25, _BOX, _BOX, "#222222")
        x, wide = _MARGIN + _BOXES, _STRIP / len(step.tones)
        tall = min(self.step(step) - 0.06, 0.26)
        for place, tone in enumerate(step.tones):
            sheet.tone(x + wide * place, y + 0.01, wide, tall, tone.lab, f"{tone.lab[0]:.0f}")
        x += _STRIP + _GAP
        for row, (line, bold) in enumerate(self.recipe_rows(step)):
            weight = "bold" if bold else "normal"
            sheet.text(x, y + self.line * (row + 0.55), line, size=self.size, weight=weight)
        x += _RECIPE + _GAP
        for row, line in enumerate(self.sure_rows(step)):
            sheet.text(x, y + self.line * (row + 0.55), line, size=self.size)


def _width(words: str, size: float, *, bold: bool = False) -> float:
    """Return how wide words are, in inches, as the page will draw them."""
    return sum(_letter_width(letter, bold) for letter in words) * size / _POINTS_PER_INCH


@functools.cache
def _letter_width(letter: str, bold: bool) -> float:
    """Return how far a letter moves the next one on, at a size of one."""
    from matplotlib.font_manager import FontProperties, findfont, get_font
    from matplotlib.ft2font import LoadFlags

    font = get_font(findfont(FontProperties(weight="bold" if bold else "normal")))
    font.set_size(100.0, 72.0)
    # In 16.16 pixels: at 72 dots to the inch, points.
    return float(font.load_char(ord(letter), flags=LoadFlags.NO_HINTING).linearHoriAdvance) / 65536.0 / 100.0


def _pieces(word: str, width: float, size: float, *, bold: bool) -> list[str]:
    """Return a word, cut where it alone is wider than its line."""
    pieces = [""]
    for letter in word:
        if pieces[-1] and _width(pieces[-1] + letter, size, bold=bold) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def _shortened(words: str, width: float, size: float, *, bold: bool = False) -> str:
    """Return words, with an ellipsis for what is beyond some inches."""
    if _width(words, size, bold=bold) <= width:
        return words
    while words and _width(f"{words} …", size, bold=bold) > width:
        words = words[:-1].rstrip()
    return f"{words} …"


def _frame(sheet: Sheet, x: float, y: float, width: float, height: float, ink: str) -> None:
    sheet.block(x, y, width, height, ink)
    sheet.block(x + 0.01, y + 0.01, width - 0.02, height - 0.02, "#ffffff")
