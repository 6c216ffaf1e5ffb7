"""A page as text for a terminal, in colour where the terminal can show it."""

from __future__ import annotations

import itertools
import os
import textwrap
from collections.abc import Iterable, Sequence
from typing import Final, TextIO

from layersim import colour
from layersim.spectra import FloatArray
from layersim.views.parts import (
    BEYOND,
    Bars,
    Beside,
    Cell,
    Heading,
    Part,
    Row,
    Strips,
    TablePart,
    Task,
    Tasks,
    Tone,
    View,
    Words,
    notice_lines,
)

USUAL_WIDTH: Final = 108
"""Letters in a line where the terminal does not say."""
_CELL: Final = 6


def _words_of(tone: Tone, mark: str = "") -> str:
    """Return what stands on a block; ranges are left out, for which a line has no room, but not a ±."""
    return f"{tone.words}{mark}{f' {tone.small}' if tone.small.startswith('±') else ''}"


def shows_colour(stream: TextIO) -> bool:
    """Return whether a stream is a terminal that shows colours.

    It honours the environment variables NO_COLOR (no-color.org) and FORCE_COLOR.
    """
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return stream.isatty() and os.environ.get("TERM", "") not in ("", "dumb")


def text(view: View, *, in_colour: bool = False, width: int = USUAL_WIDTH) -> str:
    """Return a page as lines of at most `width` letters, but for rows of tones and tables."""
    writer = _Writer(view.viewing, in_colour, width)
    rows = [view.title]
    if view.aside:
        rows += writer.wrapped(view.aside)
    for part in view.parts:
        rows += writer.part(part)
    if writer.beyond:
        rows += writer.wrapped(BEYOND, "  ", "    ")
    for line in notice_lines(view):
        rows += writer.wrapped(line)
    return "\n".join(rows)


class _Writer:
    def __init__(self, viewing: colour.Viewing, in_colour: bool, width: int) -> None:
        self.viewing, self.in_colour, self.width = viewing, in_colour, width
        self.beyond = False

    def part(self, part: Part) -> list[str]:
        match part:
            case Heading():
                return ["", part.words + (f"    ({part.aside})" if part.aside else "")]
            case Words():
                marks = {"list": ("  - ", "    "), "warning": ("  ! ", "    ")}
                first, later = marks.get(part.kind, ("  ", "    "))
                return [row for line in part.lines for row in self.wrapped(line, first, later)]
            case Strips():
                return self.strips(part)
            case TablePart():
                return self.table(part.heads, part.rows, part.right)
            case Bars():
                rows = [(f"{b.value:.1f}", f"{b.most:.1f}", b.label, f"{b.what}{b.tail}") for b in part.rows]
                return [f"  {part.title}", *self.table(("mean", "most", "", ""), rows, (0, 1))]
            case Beside():
                return [row for one in (*part.left, *part.right) for row in self.part(one)]
            case Tasks():
                return [row for task in part.rows for row in self.task(task)]
            case _:  # plots are for the eye alone
                return []

    def task(self, task: Task) -> list[str]:
        lines = filter(None, itertools.chain.from_iterable(task.columns))
        below = [row for line in lines for row in self.wrapped(line, "    ", "    ")]
        return [*self.strips(Strips([Row(task.name, task.tones)])), *below]

    def wrapped(self, words: str, first: str = "", later: str = "") -> list[str]:
        return textwrap.wrap(
            words, self.width, initial_indent=first, subsequent_indent=later, break_on_hyphens=False
        ) or [""]

    def strips(self, part: Strips) -> list[str]:
        wide = max(len(part.axis), *(len(row.label) for row in part.rows), 8)
        said = [_words_of(c) if isinstance(c, Tone) else c for row in part.rows for c in row.cells]
        room = max(_CELL, 1 + max(map(len, [*said, *part.ticks])))
        rows = []
        if part.ticks:
            rows.append(f"  {part.axis:<{wide}} " + "".join(tick.center(room) for tick in part.ticks))
        elif part.ends:
            rows.append(f"  {'':<{wide}}  {part.ends[0]} on the left, {part.ends[1]} on the right")
        for row in part.rows:
            cells = "".join(self.cell(cell, room) for cell in row.cells)
            rows.append("  ".join(x for x in (f"  {row.label:<{wide}} {cells}", row.after, row.under) if x))
        return [row.rstrip() for row in rows]

    def cell(self, cell: Cell, room: int) -> str:
        if isinstance(cell, str):
            return cell.center(room)
        shown = colour.lab_on_screen(cell.lab, self.viewing).shown
        self.beyond |= not shown
        words = _words_of(cell, "" if shown else "*")
        return self.block(cell.lab, words.center(room))

    def block(self, lab: FloatArray, words: str) -> str:
        """Return words on the background of a colour; without colour just the words."""
        if not self.in_colour:
            return words
        rgb = colour.lab_on_screen(lab, self.viewing).rgb
        r, g, b = (round(float(v) * 255) for v in rgb)
        ink = "30" if lab[0] > 50.0 else "97"  # either way a contrast of 4.5 or more
        return f"\x1b[48;2;{r};{g};{b}m\x1b[{ink}m{words}\x1b[0m"

    def table(self, heads: Sequence[str], rows: Iterable[Sequence[Cell]], right: Sequence[int]) -> list[str]:
        all_rows = [list(row) for row in rows]
        words = [[c.words if isinstance(c, Tone) else c for c in row] for row in all_rows]
        widths = [
            max(len(head), *(len(row[i]) for row in words), 0) if words else len(head)
            for i, head in enumerate(heads)
        ]
        lines = [_aligned(heads, widths, right)] if any(heads) else []
        for row, said in zip(all_rows, words, strict=True):
            tones = self.in_colour and any(isinstance(cell, Tone) for cell in row)
            cells = _in_columns(said, widths, right)
            if tones:
                shown = zip(row, cells, strict=True)
                cells = [self.block(c.lab, text) if isinstance(c, Tone) else text for c, text in shown]
            line = "  ".join(cells).rstrip()
            lines += [line] if tones else self.hung(line, widths)
        return [f"  {line}".rstrip() for line in lines]

    def hung(self, line: str, widths: Sequence[int]) -> list[str]:
        """Wrap a row whose last column is long, below itself."""
        indent = sum(widths[:-1]) + 2 * (len(widths) - 1)
        room = self.width - 2 - indent
        if len(line) <= self.width - 2 or room < 24:
            return [line]
        first, *rest = textwrap.wrap(line[indent:], room, break_on_hyphens=False)
        return [line[:indent] + first, *(" " * indent + piece for piece in rest)]


def _aligned(cells: Sequence[str], widths: Sequence[int], right: Sequence[int]) -> str:
    return "  ".join(_in_columns(cells, widths, right)).rstrip()


def _in_columns(cells: Sequence[str], widths: Sequence[int], right: Sequence[int]) -> list[str]:
    return [
        cell.rjust(wide) if i in right else cell.ljust(wide)
        for i, (cell, wide) in enumerate(zip(cells, widths, strict=True))
    ]
