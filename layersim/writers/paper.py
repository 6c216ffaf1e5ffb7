"""A page to print and to take to the bench.

It is as wide as A4 and as tall as letter, so that it prints whole on both without being scaled. Words are
made smaller, down to what can be read at arm's length, until everything fits one page. Where it does not
even then, it goes on to further pages, and each says at its foot which of how many it is.
"""

from __future__ import annotations

import functools
import itertools
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Final

from layersim.views.parts import (
    Beside,
    Heading,
    Part,
    Places,
    Strips,
    Task,
    Tasks,
    Tone,
    View,
    Words,
    notice_lines,
)
from layersim.writers.sheet import FAINT, INK, Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH: Final = 8.27
"""Inches: A4, the narrower of the two."""
HEIGHT: Final = 11.0
"""Inches: letter, the shorter of the two."""
_SIZES: Final = (8.5, 8.0, 7.5, 7.0, 6.5)
"""Points; tried from the largest."""

# Inches. A task's name and boxes, its strip, and where its columns begin.
_MARGIN: Final = 0.36
_GAP: Final = 0.09
_NAME: Final = 0.92
_STRIP: Final = 1.1
_COLUMNS: Final = _MARGIN + _NAME + _STRIP + 2 * _GAP
_BOX: Final = 0.12
_TALLEST: Final = 0.28
_TONE: Final = 0.24
_PLACE: Final = (1.14, 0.66)
_PLACES_A_ROW: Final = 3
_END: Final = WIDTH - _MARGIN


def pages(view: View) -> list[Figure]:
    """Return the pages of a view; one where everything fits on it."""
    for size in _SIZES:
        layout = _Layout(view, size)
        blocks = [layout.top(), *itertools.chain.from_iterable(layout.sections())]
        if sum(block.height for block in blocks) <= HEIGHT - 2 * _MARGIN:
            return [_drawn(blocks, layout)]
    layout = _Layout(view, _SIZES[-2])
    split = _split(layout)
    return [_drawn(blocks, layout, f"page {i} of {len(split)}") for i, blocks in enumerate(split, start=1)]


def _split(layout: _Layout) -> list[list[Sheet]]:
    """Return blocks page by page: what stands under a heading stays whole where it fits a page."""
    top = layout.top()
    room = HEIGHT - 2 * _MARGIN - top.height - 2 * layout.line
    split: list[list[Sheet]] = [[]]
    for section, (head, *rows) in zip(layout.parts, layout.sections(), strict=True):
        used = sum(block.height for block in split[-1])
        if split[-1] and used + sum(block.height for block in (head, *rows)) > room:
            split.append([])
        split[-1].append(head)
        for row in rows:
            if sum(block.height for block in split[-1]) + row.height > room:
                split.append([layout.head(section, ", continued")])
            split[-1].append(row)
    return [[top, *blocks] for blocks in split]


def _drawn(blocks: Sequence[Sheet], layout: _Layout, number: str = "") -> Figure:
    page = Sheet(WIDTH, HEIGHT, layout.view.viewing)
    y = _MARGIN
    for block in blocks:
        for shape in block.shapes:
            page.shapes.append(shape._replace(corners=tuple((x, y + down) for x, down in shape.corners)))
        page.words += [one._replace(y=y + one.y) for one in block.words]
        y += block.height
    if number:
        told = f"{_shortened(layout.view.title, 4.0, layout.size)}: {number}"
        page.text(_END, HEIGHT - _MARGIN, told, size=layout.size, weight="bold", align="right")
    return page.finish()


class _Layout:
    """A view's blocks, from the top down, at one size of words."""

    def __init__(self, view: View, size: float) -> None:
        self.view, self.size, self.line = view, size, size / 72 * 1.25
        starts = [i for i, part in enumerate(view.parts) if isinstance(part, Heading | Beside)]
        self.before = view.parts[: starts[0]] if starts else view.parts
        self.parts = [view.parts[a:b] for a, b in itertools.pairwise([*starts, len(view.parts)])]

    def block(self) -> Sheet:
        return Sheet(WIDTH, 0.0, self.view.viewing)

    def words(
        self, block: Sheet, lines: Iterable[str], x: float, y: float, wide: float, *, bold: bool = False,
        ink: str = INK,
    ) -> float:  # fmt: skip
        """Write lines, wrapped, and return where they end."""
        for line in lines:
            for piece in _wrapped(line, wide, self.size, bold=bold):
                weight = "bold" if bold else "normal"
                block.text(x, y + self.line * 0.5, piece, size=self.size, ink=ink, weight=weight)
                y += self.line
        return y

    def top(self) -> Sheet:
        """Return the title, what stands before the first heading, and the heads of the columns."""
        block = self.block()
        title = _shortened(self.view.title, _END - _MARGIN, 13, bold=True)
        block.text(_MARGIN, 0.12, title, size=13, weight="bold")
        lines = [
            self.view.aside,
            *(line for part in self.before if isinstance(part, Words) for line in part.lines),
        ]
        y = self.words(block, lines, _MARGIN, 0.27, _END - _MARGIN, ink=FAINT) + self.line * 0.4
        tasks = next(part for part in self.view.parts if isinstance(part, Tasks))
        places = (_MARGIN, _MARGIN + _NAME + _GAP, *(x for x, _ in _columns(tasks)))
        for x, told in zip(places, tasks.heads, strict=True):
            self.words(block, [told], x, y, _END - x, ink=FAINT)
        block.height = y + self.line * 1.2
        return block

    def sections(self) -> list[list[Sheet]]:
        """Return each heading with what is below it, in blocks that stay whole; at last the notices."""
        found = []
        for parts in self.parts:
            blocks = [self.beside(parts[0])] if isinstance(parts[0], Beside) else [self.head(parts)]
            for part in parts:
                if isinstance(part, Tasks):
                    blocks += [self.task(part, row) for row in part.rows]
            found.append(blocks)
        return found

    def head(self, parts: Sequence[Part], more: str = "") -> Sheet:
        """Return a heading with the words and strips that belong to it beside it."""
        block, size = self.block(), self.size + 2.5
        block.line(_MARGIN, _END, 0.0, ink=INK)
        y = self.line * 0.25
        for part in parts:
            if isinstance(part, Heading):
                named = _shortened(part.words + more, _COLUMNS - _MARGIN - _GAP, size, bold=True)
                block.text(_MARGIN, size / 72 * 0.85, named, size=size, weight="bold")
            elif isinstance(part, Words) and not more:
                y = self.words(block, part.lines, _COLUMNS, y, _END - _COLUMNS, ink=FAINT)
            elif isinstance(part, Strips) and not more:
                y = self.strips(block, part, y)
        block.height = max(y + self.line * 0.25, size / 72 * 1.5)
        return block

    def strips(self, block: Sheet, part: Strips, y: float) -> float:
        """Draw tones that stand one above the other elsewhere side by side, and touching, in one line."""
        told = "|".join(row.label for row in part.rows if row.label)
        x = _COLUMNS + self.words_beside(block, told, _COLUMNS, y)
        for cells in zip(*(row.cells for row in part.rows), strict=True):
            said = next((cell for cell in cells if isinstance(cell, str)), "")
            tones = [cell for cell in cells if isinstance(cell, Tone)]
            if x > _COLUMNS and x + _TONE * len(tones) + _width(said, self.size) > _END:
                x, y = _COLUMNS, y + self.line
            for tone in tones:
                block.tone(x, y, _TONE, self.line * 0.9, tone.lab)
                x += _TONE
            x += _GAP / 2 + self.words_beside(block, said, x + _GAP / 2, y)
        return y + self.line

    def words_beside(self, block: Sheet, told: str, x: float, y: float) -> float:
        block.text(x, y + self.line * 0.45, told, size=self.size)
        return _width(told, self.size) + _GAP

    def task(self, tasks: Tasks, task: Task) -> Sheet:
        block = self.block()
        block.line(_MARGIN, _END, 0.0, ink="#dddddd")
        y = self.words(block, [task.name], _MARGIN, self.line * 0.15, _NAME, bold=True)
        for number in range(len(task.ticks)):
            _frame(block, _MARGIN + number * (_BOX + 0.04), y + 0.01, _BOX, _BOX)
        ends = [y + _BOX + 0.015]
        for number, (lines, (x, wide)) in enumerate(zip(task.columns, _columns(tasks), strict=True)):
            first = 1 if number == 0 else 0
            y = self.words(block, filter(None, lines[:first]), x, self.line * 0.15, wide, bold=True)
            ends.append(self.words(block, lines[first:], x, y, wide))
        block.height = max(ends) + 0.025
        each = _STRIP / len(task.tones)
        for number, tone in enumerate(task.tones):
            x, tall = _MARGIN + _NAME + _GAP + each * number, min(block.height - 0.06, _TALLEST)
            block.tone(x, 0.03, each, tall, tone.lab, tone.words)
        return block

    def beside(self, part: Beside) -> Sheet:
        """Return frames on the left, and words on the right of them; below both the notices."""
        block = self.block()
        block.line(_MARGIN, _END, 0.0, ink=INK)
        places = next(one for one in part.left if isinstance(one, Places))
        columns = min(max(len(places.names), 2), _PLACES_A_ROW)
        left = columns * (_PLACE[0] + _GAP) + _GAP
        top = self.foot(block, part.left, _MARGIN, left)
        low = self.foot(block, part.right, _MARGIN + left, _END - _MARGIN - left)
        rows = -(-len(places.names) // columns)
        # Frames take the room that the words beside them leave.
        tall = max((low - top) / rows - 0.06, _PLACE[1])
        for number, name in enumerate(places.names):
            row, column = divmod(number, columns)
            x, y = _MARGIN + column * (_PLACE[0] + _GAP), top + row * (tall + 0.06)
            _frame(block, x, y, _PLACE[0], tall)
            named = _shortened(name, _PLACE[0] - 0.1, self.size)
            block.text(x + _PLACE[0] / 2, y + 0.08, named, size=self.size, ink=FAINT, align="center")
        y = max(low, top + rows * (tall + 0.06))
        block.height = self.words(block, notice_lines(self.view), _MARGIN, y, _END - _MARGIN, ink=FAINT)
        return block

    def foot(self, block: Sheet, parts: Sequence[Part], x: float, wide: float) -> float:
        y = self.line * 0.3
        for part in parts:
            if isinstance(part, Heading):
                y = self.words(block, [part.words], x, y, wide, bold=True)
            elif isinstance(part, Words):
                lines = [f"• {line}" if part.kind == "list" else line for line in part.lines]
                y = self.words(block, lines, x, y, wide, ink=FAINT)
        return y


def _columns(tasks: Tasks) -> list[tuple[float, float]]:
    """Return where each column begins, and how wide it is."""
    room = _END - _COLUMNS - _GAP * (len(tasks.widths) - 1)
    starts = itertools.accumulate((share * room + _GAP for share in tasks.widths), initial=_COLUMNS)
    return [(x, share * room) for x, share in zip(starts, tasks.widths, strict=False)]


def _wrapped(text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """Return words in lines that are no wider than some inches, by the letters' own widths."""
    # A number stays with what it counts.
    text = re.sub(r"(\d\*?|L\*) ", "\\1\u00a0", text)
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _width(longer, size, bold=bold) <= width:
            lines[-1] = longer
            continue
        lines.append("")
        for letter in word:
            # A word that is wider than its line is cut.
            if lines[-1] and _width(lines[-1] + letter, size, bold=bold) > width:
                lines.append("")
            lines[-1] += letter
    return lines


def _shortened(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """Return words, with an ellipsis for what is beyond some inches."""
    if _width(text, size, bold=bold) <= width:
        return text
    while text and _width(f"{text} …", size, bold=bold) > width:
        text = text[:-1].rstrip()
    return f"{text} …"


def _width(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide words are, in inches, as the page will draw them."""
    return sum(_letter_width(letter, bold) for letter in text) * size / 72


@functools.cache
def _letter_width(letter: str, bold: bool) -> float:
    """Return how far a letter moves the next one on, at a size of one; a box where the font lacks it."""
    from matplotlib.font_manager import FontProperties, findfont, get_font
    from matplotlib.ft2font import LoadFlags

    font = get_font(findfont(FontProperties(weight="bold" if bold else "normal")))
    # Whoever draws with this font sets its size anew.
    font.set_size(100.0, 72.0)
    # In 16.16 pixels: at 72 dots to the inch, points.
    glyph = font.load_glyph(font.get_char_index(ord(letter)), flags=LoadFlags.NO_HINTING)
    return float(glyph.linearHoriAdvance) / 65536.0 / 100.0


def _frame(block: Sheet, x: float, y: float, width: float, height: float) -> None:
    block.block(x, y, width, height, INK)
    block.block(x + 0.01, y + 0.01, width - 0.02, height - 0.02, "#ffffff")
