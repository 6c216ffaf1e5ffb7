"""The bench card as a page to print.

The page is as wide as A4 and as tall as letter, so that it prints whole on both without being scaled. Steps
are rows of a table, so that no word is said twice. Words are made smaller, down to what can be read at arm's
length, until everything fits one page. Where it does not even then, the card goes on to further pages, and
each says at its foot which of how many it is.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from layersim.bench.content import (
    NOT_MEASURED,
    SCALES,
    BenchCard,
    CardArea,
    CardStep,
    Tone,
    caution_rows,
)
from layersim.plan.records import LEAST_DROPS, Part
from layersim.plan.volume import ml_words
from layersim.views import words
from layersim.views.quantities import thinner_ml_words
from layersim.views.tolerance import slip_words, turn_word
from layersim.writers.sheet import Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH: Final = 8.27
"""Inches: A4, the narrower of the two."""
HEIGHT: Final = 11.0
"""Inches: letter, the shorter of the two."""
SIZES: Final = (8.5, 8.0, 7.5, 7.0, 6.5)
"""Points; tried from the largest."""

# Inches. The columns: step and boxes, strip, mix, laying and drying, what slips do.
_MARGIN: Final = 0.36
_NAME: Final = 0.98
_STRIP: Final = 1.25
_MIX: Final = 2.02
_LAY: Final = 1.78
_GAP: Final = 0.09
_BOX: Final = 0.12
_BOX_STEP: Final = 0.16
_CHIP: Final = 0.66
_CHIP_WIDTH: Final = 1.14
_CHIPS_A_ROW: Final = 3
_FEWEST_COLUMNS: Final = 2
_TARGET: Final = 0.26
_TARGET_GAP: Final = 0.14
_TITLE: Final = 0.27
_POINTS_PER_INCH: Final = 72.0
_FAINT: Final = "#4d4d4d"
_INK: Final = "#222222"
_COMMON_THINNER: Final = " for water-borne paint"
"""Left out on paper, where there is little room."""
_NO_SIZE: Final = {"to be seen side by side only": "seen side by side only"}
_ESTIMATES: Final = (
    "Drops, times and tolerances are estimates, common practice and a model: no substitute for a test piece."
)
_FEW: Final = f"* under {LEAST_DROPS} drops cannot be repeated: weigh them, or mix more."

_MIX_X: Final = _MARGIN + _NAME + _GAP + _STRIP + _GAP
_LAY_X: Final = _MIX_X + _MIX + _GAP
_SLIP_X: Final = _LAY_X + _LAY + _GAP
_SLIP: Final = WIDTH - _MARGIN - _SLIP_X


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
            return [layout.page(layout.rows(card.areas), number=1, of=1)]
    layout = _Layout(card, SIZES[-2])
    pages = layout.split()
    return [layout.page(rows, number=i, of=len(pages)) for i, rows in enumerate(pages, start=1)]


class _Row(NamedTuple):
    """One step on a page, and how its area's name stands above it, if it does."""

    area: CardArea
    step: CardStep
    head: str = ""


class _Line(NamedTuple):
    words: str
    bold: bool = False


class _Layout:
    """Where everything goes at one size of words."""

    def __init__(self, card: BenchCard, size: float) -> None:
        self.card, self.size = card, size
        self.line = size / _POINTS_PER_INCH * 1.25

    def wrapped(self, text: str, width: float, *, bold: bool = False) -> list[str]:
        """Return words in lines that are no wider than some inches, by the letters' own widths."""
        kept = text.replace(" µm", "\u00a0µm").replace("ΔE00 ", "ΔE00\u00a0").replace("L* ", "L*\u00a0")
        lines: list[str] = []
        for word in kept.split(" "):
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and _width(longer, self.size, bold=bold) <= width:
                lines[-1] = longer
            elif word:
                lines += _pieces(word, width, self.size, bold=bold)
        return lines

    # ------------------------------------------------------------ head and foot

    def head_rows(self) -> list[str]:
        count = "one model" if self.card.models == 1 else f"{self.card.models} models"
        told = f"Bench card for {count}. Tones predicted under {self.card.light}, deepest shadow on the left."
        return self.wrapped(f"{told} Printed colours are not measured colours.", WIDTH - 2 * _MARGIN)

    def head(self) -> float:
        return _TITLE + self.line * (len(self.head_rows()) + 1.6)

    def chips_wide(self) -> float:
        columns = min(max(len(self.card.areas), _FEWEST_COLUMNS), _CHIPS_A_ROW)
        return columns * (_CHIP_WIDTH + _GAP) + _GAP

    def care_rows(self) -> list[str]:
        wide = WIDTH - 2 * _MARGIN - self.chips_wide()
        rows = [
            *caution_rows(self.card),
            *(f"Note: {notice}." for notice in self.card.notices),
            SCALES,
            _ESTIMATES,
        ]
        if any(step.mix is not None and step.mix.few for area in self.card.areas for step in area.steps):
            rows.insert(0, _FEW)
        return [line for row in rows for line in self.wrapped(f"• {row}", wide)]

    def chip_rows(self) -> int:
        return -(-len(self.card.areas) // _CHIPS_A_ROW)

    def chips_told(self) -> list[str]:
        return self.wrapped(NOT_MEASURED, self.chips_wide() - _GAP)

    def foot(self) -> float:
        chips = self.line * (len(self.chips_told()) + 1.7) + self.chip_rows() * (_CHIP + 0.06)
        return max(chips, self.line * (len(self.care_rows()) + 1.9))

    # ------------------------------------------------------------ areas and steps

    def area(self, area: CardArea) -> float:
        return self.area_head(area) + sum(self.step(step) for step in area.steps)

    def area_head(self, area: CardArea) -> float:
        rows = len(self.surest_rows(area)) + self.target_rows(area)
        return max(self.line * (rows + 0.5), (self.size + 2.5) / _POINTS_PER_INCH * 1.5)

    def surest_rows(self, area: CardArea) -> list[str]:
        return self.wrapped(area.surest, WIDTH - _MARGIN - _MIX_X) if area.surest else []

    def target_places(self, area: CardArea) -> list[tuple[int, float, str]]:
        """Return the row and the place of each target, and what is written after its colour."""
        places, row, x = [], 0, _MIX_X
        for number, (key, _, miss) in enumerate(area.targets):
            told = f"{'target ' if number == 0 else ''}{key}, ΔE00 {miss:.1f} off"
            needed = _TARGET + 0.05 + _width(told, self.size)
            if x > _MIX_X and x + needed > WIDTH - _MARGIN:
                row, x = row + 1, _MIX_X
            places.append((row, x, told))
            x += needed + _TARGET_GAP
        return places

    def target_rows(self, area: CardArea) -> int:
        return max((row for row, _, _ in self.target_places(area)), default=-1) + 1

    def step(self, step: CardStep) -> float:
        most = max(len(self.name_rows(step)) + 1.1, *(len(rows) for rows in self.columns(step)))
        return self.line * most + 0.05

    def name_rows(self, step: CardStep) -> list[str]:
        return self.wrapped(step.name, _NAME, bold=True)

    def columns(self, step: CardStep) -> tuple[list[_Line], list[_Line], list[_Line]]:
        """Return what stands beside a step's strip: its mix, laying and drying, its worst slip."""
        mixed = [_Line(line, bold=True) for line in self.wrapped(_mix_words(step), _MIX, bold=True)]
        mixed += [
            _Line(line) for told in (step.mixed_with, *_minded(step)) for line in self.wrapped(told, _MIX)
        ]
        laid = [
            _Line(line) for told in (_lay_words(step), _dry_words(step)) for line in self.wrapped(told, _LAY)
        ]
        return mixed, laid, [_Line(line) for line in self.wrapped(_slip_words(step), _SLIP)]

    # ------------------------------------------------------------ pages

    def rows(self, areas: Sequence[CardArea]) -> list[_Row]:
        """Return areas as rows of a page."""
        return [_Row(a, step, a.name if i == 0 else "") for a in areas for i, step in enumerate(a.steps)]

    def split(self) -> list[list[_Row]]:
        """Return the rows page by page: an area stays whole where it fits a page."""
        room = HEIGHT - 2 * _MARGIN - self.head() - 1.6 * self.line
        pages: list[list[_Row]] = [[]]
        used = 0.0
        for area in self.card.areas:
            whole = self.area(area)
            if pages[-1] and used + whole > room >= whole:
                pages.append([])
                used = 0.0
            for row in self.rows([area]):
                needed = self.step(row.step) + (self.area_head(area) if row.head else 0.0)
                if pages[-1] and used + needed > room:
                    pages.append([])
                    row = row._replace(head=row.head or f"{area.name}, continued")
                    needed = self.step(row.step) + self.area_head(area)
                    used = 0.0
                pages[-1].append(row)
                used += needed
        if used + self.foot() > room:
            pages.append([])
        return pages

    def page(self, rows: Sequence[_Row], *, number: int, of: int) -> Figure:
        sheet = Sheet(WIDTH, HEIGHT, self.card.viewing)
        y = _MARGIN
        title = _shortened(self.card.name, WIDTH - 2 * _MARGIN, 13, bold=True)
        sheet.text(_MARGIN, y + 0.12, title, size=13, weight="bold")
        y += _TITLE
        for place, line in enumerate(self.head_rows()):
            sheet.text(_MARGIN, y + self.line * (place + 0.5), line, size=self.size, ink=_FAINT)
        y += self.line * len(self.head_rows())
        if rows:
            self.draw_heads(sheet, y + self.line * 0.9)
        y += self.line * 1.6
        for row in rows:
            if row.head:
                self.draw_area(sheet, row.area, row.head, y)
                y += self.area_head(row.area)
            self.draw_step(sheet, row.step, y)
            y += self.step(row.step)
        if number == of:
            self.draw_foot(sheet, y)
        if of > 1:
            ahead = "; goes on overleaf" if number < of else ""
            low = HEIGHT - _MARGIN - self.line * 0.5
            told = f"{_shortened(self.card.name, 4.0, self.size)}: page {number} of {of}{ahead}"
            sheet.text(WIDTH - _MARGIN, low, told, size=self.size, weight="bold", align="right")
        return sheet.finish()

    def draw_heads(self, sheet: Sheet, y: float) -> None:
        for x, told in (
            (_MARGIN, "tick each coat"),
            (_MARGIN + _NAME + _GAP, "tones after it, L*"),
            (_MIX_X, "mix, in drops"),
            (_LAY_X, "lay by airbrush; then dry"),
            (_SLIP_X, "if it slips: the finish"),
        ):
            sheet.text(x, y, told, size=self.size, ink=_FAINT)

    def draw_area(self, sheet: Sheet, area: CardArea, name: str, y: float) -> None:
        sheet.line(_MARGIN, WIDTH - _MARGIN, y, ink=_INK)
        size = self.size + 2.5
        told = _shortened(name, _MIX_X - _MARGIN - _GAP, size, bold=True)
        sheet.text(_MARGIN, y + size / _POINTS_PER_INCH * 0.85, told, size=size, weight="bold")
        surest = self.surest_rows(area)
        for row, line in enumerate(surest):
            sheet.text(_MIX_X, y + self.line * (row + 0.75), line, size=self.size, ink=_FAINT)
        for (row, place, told), (_, wanted, _) in zip(self.target_places(area), area.targets, strict=True):
            top = y + self.line * (len(surest) + row + 0.33)
            sheet.tone(place, top, _TARGET, self.line * 0.85, wanted.lab)
            sheet.text(place + _TARGET + 0.05, top + self.line * 0.42, told, size=self.size)

    def draw_step(self, sheet: Sheet, step: CardStep, y: float) -> None:
        sheet.line(_MARGIN, WIDTH - _MARGIN, y, ink="#dddddd")
        names = self.name_rows(step)
        for row, line in enumerate(names):
            sheet.text(_MARGIN, y + self.line * (row + 0.65), line, size=self.size, weight="bold")
        top = y + self.line * (len(names) + 0.15)
        for place in range(step.boxes):
            _frame(sheet, _MARGIN + place * _BOX_STEP, top, _BOX, _BOX, _INK)
        self.draw_strip(sheet, step.tones, y + 0.03, min(self.step(step) - 0.06, 0.28))
        for x, lines in zip((_MIX_X, _LAY_X, _SLIP_X), self.columns(step), strict=True):
            for row, (line, bold) in enumerate(lines):
                weight = "bold" if bold else "normal"
                sheet.text(x, y + self.line * (row + 0.65), line, size=self.size, weight=weight)

    def draw_strip(self, sheet: Sheet, tones: Sequence[Tone], y: float, tall: float) -> None:
        wide = _STRIP / len(tones)
        for place, tone in enumerate(tones):
            x = _MARGIN + _NAME + _GAP + wide * place
            sheet.tone(x, y, wide, tall, tone.lab, f"{tone.lab[0]:.0f}")

    def draw_foot(self, sheet: Sheet, y: float) -> None:
        sheet.line(_MARGIN, WIDTH - _MARGIN, y, ink=_INK)
        sheet.text(_MARGIN, y + self.line * 0.8, "Real chips", size=self.size, weight="bold")
        for row, line in enumerate(self.chips_told()):
            sheet.text(_MARGIN, y + self.line * (row + 1.8), line, size=self.size, ink=_FAINT)
        top = y + self.line * (len(self.chips_told()) + 1.5)
        # Chips take the room that the cautions beside them leave.
        tall = (self.foot() - (top - y)) / self.chip_rows() - 0.06
        for place, area in enumerate(self.card.areas):
            row, column = divmod(place, _CHIPS_A_ROW)
            x, at = _MARGIN + column * (_CHIP_WIDTH + _GAP), top + row * (tall + 0.06)
            _frame(sheet, x, at, _CHIP_WIDTH, tall, "#888888")
            name = _shortened(area.name, _CHIP_WIDTH - 0.1, self.size)
            sheet.text(x + _CHIP_WIDTH / 2, at + 0.08, name, size=self.size, ink=_FAINT, align="center")
        x = _MARGIN + self.chips_wide()
        sheet.text(x, y + self.line * 0.8, "Take care", size=self.size, weight="bold")
        for row, line in enumerate(self.care_rows()):
            sheet.text(x, y + self.line * (row + 1.8), line, size=self.size, ink=_FAINT)


# ---------------------------------------------------------------- a step in few words


def _mix_words(step: CardStep) -> str:
    """Return a mix in drops: "15 navy blue + 3* blue ink + 18 thinner = 1.8 ml"."""
    if step.mix is None:
        return ""
    mix, few = step.mix, step.mix.few

    def part(one: Part) -> str:
        star = "*" if one in few else ""
        name, more = one.name, ""
        if one.paint is None:
            name = one.name.replace(_COMMON_THINNER, "")
            more = thinner_ml_words(one, fillings=mix.fillings)
        return f"{one.drops}{star}\u00a0{name}{more}"

    drops = " + ".join(part(one) for one in mix.parts)
    amount = ml_words(mix.mix_ml).replace(" ", "\u00a0")
    return (
        f"{drops} = {amount}" if mix.fillings == 1 else f"{mix.fillings} fillings of {drops}; {amount} in all"
    )


def _minded(step: CardStep) -> list[str]:
    """Return what to mind of a mix, besides what the star says."""
    return [] if step.mix is None else [one.words for one in step.mix.warnings if one.key != "few"]


def _lay_words(step: CardStep) -> str:
    brush = " by brush" if step.by == "brush" else ""
    film = step.film.replace(" dry", "").replace(", in all", "")
    return f"{step.coats}{brush} {step.place}{f', {film}' if film else ''}"


def _dry_words(step: CardStep) -> str:
    between = f"{step.between} between, then " if step.between else ""
    rest = f"{step.rest} before handling" if step.rest_before == "handling" else step.rest
    return f"dry {between}{rest}"


def _slip_words(step: CardStep) -> str:
    """Return the worst slip of a step: "one coat fewer: plain to see, lighter (ΔE00 3.5)"."""
    if not step.slips:
        return ""
    worst = step.slips[0]
    if step.forgiving:
        return f"forgiving (ΔE00 {worst.most:.1f} at most)"
    size = words.size_words(worst.most)
    turn = turn_word(worst)
    seen = _NO_SIZE.get(size, size) + (f", {turn}" if turn else "")
    return f"{slip_words(worst)}: {seen} (ΔE00 {worst.most:.1f})"


# ---------------------------------------------------------------- letters and frames


def _width(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide words are, in inches, as the page will draw them."""
    return sum(_letter_width(letter, bold) for letter in text) * size / _POINTS_PER_INCH


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


def _shortened(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """Return words, with an ellipsis for what is beyond some inches."""
    if _width(text, size, bold=bold) <= width:
        return text
    while text and _width(f"{text} …", size, bold=bold) > width:
        text = text[:-1].rstrip()
    return f"{text} …"


def _frame(sheet: Sheet, x: float, y: float, width: float, height: float, ink: str) -> None:
    sheet.block(x, y, width, height, ink)
    sheet.block(x + 0.01, y + 0.01, width - 0.02, height - 0.02, "#ffffff")
