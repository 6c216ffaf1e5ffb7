"""A page as a picture: PNG, PDF or SVG."""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from layersim import colour
from layersim.errors import OutputError
from layersim.views.parts import (
    Bars,
    Beside,
    Cell,
    Curve,
    Heading,
    Histogram,
    Image,
    Part,
    Plot,
    Row,
    Strips,
    TablePart,
    Timeline,
    Tone,
    View,
    Words,
    notice_lines,
)
from layersim.writers import paper
from layersim.writers.saving import save_figures, save_sheet
from layersim.writers.sheet import FAINT, INK, MARGIN, OVERLAP, WIDTH, Sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Inches, unless told otherwise.
_LETTER: Final = 0.0076
"""Width of a letter, on average, for one point of its size."""
_LINE: Final = 0.165
_BLOCK: Final = 0.36
_JUDGED: Final = 0.46
_BAR: Final = 0.10
_GAP: Final = 0.25
_PLOT: Final = 1.45
_TALLEST: Final = 6.0
_PAPER: Final = 16.0
_HISTOGRAM: Final = 0.80
_BINS: Final = 36
_LANE: Final = 0.48
# Stretches of a timeline that have no colour of their own; thin ones lie behind what is done.
_SPANS: Final = {
    "get ready": "#cfcfcf",
    "rinse": "#a8a8a8",
    "clean out": "#6f6f6f",
    "masked": "#d8b46a",
    "dries": "#8aa0b4",
}
_THIN: Final = {"dries": 0.09, "masked": 0.06}
_FILLS: Final = ("#5b7a99", "#a3795b", "#6f8f62", "#8a6a94", "#9a9a9a", "#b08d3c", "#4f8f8b")


def save(view: View, path: Path) -> None:
    """Write a page as a picture, by the ending of its name. Raises OutputError if it cannot be written."""
    if view.paper:
        sheets = paper.pages(view)
        if len(sheets) > 1 and path.suffix.lower() != ".pdf":
            raise OutputError(f"{path}: this takes {len(sheets)} sheets of paper; write a .pdf")
        save_figures(sheets, path)
        return
    pages = [_Page(one) for one in (_by_heading(view) if path.suffix.lower() == ".pdf" else [view])]
    if len(pages) > 1 or pages[0].plots:
        save_figures([page.figure() for page in pages], path)
    else:
        save_sheet(pages[0].sheet, path)


def _by_heading(view: View) -> list[View]:
    """Return a view in pages, one a heading, if a single page would be longer than a sheet of paper is."""
    if _Page(view).sheet.height <= _PAPER or not any(isinstance(part, Heading) for part in view.parts):
        return [view]
    starts = [i for i, part in enumerate(view.parts) if isinstance(part, Heading)]
    edges = [0, *starts[1:], len(view.parts)]
    parts = [view.parts[a:b] for a, b in itertools.pairwise(edges)]
    last = len(parts) - 1
    return [
        replace(view, parts=own, notices=view.notices if i == last else ()) for i, own in enumerate(parts)
    ]


class _Page:
    def __init__(self, view: View) -> None:
        self.sheet = Sheet(WIDTH, 1.0, view.viewing)
        self.plots: list[tuple[Plot | Image, float, float, float, float]] = []
        self.fills: dict[str, str] = {}
        """By kinds of bars: one kind has one colour all the way down."""
        rows = [row for part in _flat(view.parts) if isinstance(part, Strips) for row in part.rows]
        axes = [part.axis for part in view.parts if isinstance(part, Strips)]
        # One width for all strips of a page, so that a tone stands above itself all the way down.
        labels = [row.label for row in rows] + axes
        self.label = min(max(_LETTER * 8.2 * max(map(len, labels), default=0) + 0.12, 0.6), 2.4)
        after = _LETTER * 7.2 * max((len(row.after) for row in rows), default=0)
        self.after = min(after + 0.15, 1.8) if after else 0.0
        self.sheet.text(MARGIN, 0.42, view.title, size=15, weight="bold")
        y = 0.64
        if view.aside:
            y = self.lines([view.aside], MARGIN, y, WIDTH - 2 * MARGIN, size=8, ink=FAINT)
        y = self.parts(view.parts, MARGIN, y + 0.08, WIDTH - 2 * MARGIN)
        notices = notice_lines(view)
        if any(len(shape.corners) == 3 for shape in self.sheet.shapes):
            notices.insert(
                0, "A dog-ear marks a colour that no screen can show; it is drawn with less chroma or darker."
            )
        if notices:
            self.sheet.line(MARGIN, WIDTH - MARGIN, y + 0.08)
            y = self.lines(notices, MARGIN, y + 0.16, WIDTH - 2 * MARGIN, size=6.8, ink=FAINT)
        self.sheet.height = y + 0.15

    def figure(self) -> Figure:
        """Return the page with its plots."""
        figure = self.sheet.finish()
        high = self.sheet.height
        for plot, x, y, wide, tall in self.plots:
            axes = figure.add_axes((x / WIDTH, 1.0 - (y + tall) / high, wide / WIDTH, tall / high))
            if isinstance(plot, Plot):
                _draw_plot(axes, plot)
            else:
                _draw_image(axes, plot)
        return figure

    def parts(self, parts: Sequence[Part], x: float, y: float, wide: float) -> float:
        for part in parts:
            y = self.part(part, x, y, wide)
        return y

    def part(self, part: Part, x: float, y: float, wide: float) -> float:
        """Draw a part from a corner, and return where it ends."""
        match part:
            case Heading():
                return self.heading(part, x, y, wide)
            case Words():
                styles = {
                    "faint": (6.8, FAINT, "normal"),
                    "strong": (8.0, INK, "bold"),
                    "warning": (7.5, "#8a3b00", "normal"),
                }
                size, ink, weight = styles.get(part.kind, (7.5, INK, "normal"))
                lines = [f"–  {line}" for line in part.lines] if part.kind == "list" else part.lines
                return self.lines(lines, x, y, wide, size=size, ink=ink, weight=weight) + 0.05
            case Strips():
                return self.strips(part, x, y, wide)
            case TablePart():
                return self.table(part, x, y, wide)
            case Bars():
                return self.bars(part, x, y, wide)
            case Histogram():
                return self.histogram(part, x, y, wide)
            case Plot():
                return self.plot(part, x, y, wide)
            case Image():
                high = min(part.rgb.shape[0] / part.rgb.shape[1] * wide, _TALLEST)
                across = high * part.rgb.shape[1] / part.rgb.shape[0]
                self.plots.append((part, x, y, across, high))
                return float(y + high + 0.1)
            case Timeline():
                return self.timeline(part, x, y, wide)
            case Beside():
                half = 0.5 * (wide - _GAP)
                left = self.parts(part.left, x, y, half)
                return max(left, self.parts(part.right, x + half + _GAP, y, half))
            case _:  # what is for paper
                return y

    def lines(
        self,
        lines: Sequence[str],
        x: float,
        y: float,
        wide: float,
        *,
        size: float,
        ink: str = INK,
        weight: str = "normal",
    ) -> float:
        step = _LINE * max(size / 7.5, 0.85)
        for line in lines:
            for piece in textwrap.wrap(line, letters(wide, size, weight)) or [""]:
                self.sheet.text(x, y + 0.5 * step, piece, size=size, ink=ink, weight=weight)
                y += step
        return y

    def heading(self, part: Heading, x: float, y: float, wide: float) -> float:
        self.sheet.line(x, x + wide, y + 0.08)
        self.sheet.text(x, y + 0.27, part.words, size=12, weight="bold")
        beside = x + 0.12 + _LETTER * 1.18 * 12 * len(part.words)
        if beside + _LETTER * 7.5 * len(part.aside) < x + wide:
            self.sheet.text(beside, y + 0.28, part.aside, size=7.5, ink=FAINT)
            return y + 0.46
        return self.lines([part.aside], x, y + 0.42, wide, size=7.5, ink=FAINT) + 0.06

    def strips(self, part: Strips, x: float, y: float, wide: float) -> float:
        label, after = min(self.label, 0.35 * wide), min(self.after, 0.2 * wide)
        count = max(len(row.cells) for row in part.rows)
        left, width = x + label, (wide - label - after) / count
        if part.ends:
            self.sheet.text(left, y + 0.08, f"◀ {part.ends[0]}", size=7)
            self.sheet.text(left + width * count, y + 0.08, f"{part.ends[1]} ▶", size=7, align="right")
            y += 0.17
        if part.ticks and width > 0.2:
            self.sheet.text(left - 0.08, y + 0.07, part.axis, size=6.5, ink=FAINT, align="right")
            for i, tick in enumerate(part.ticks):
                self.sheet.text(left + width * (i + 0.5), y + 0.07, tick, size=6.5, ink=FAINT, align="center")
            y += 0.16
        for row in part.rows:
            y = self.row(row, x, y, left, width, left + width * count + 0.1, after) + 0.05 * part.apart
        return y + 0.08

    def row(
        self, row: Row, x: float, y: float, left: float, width: float, beside: float, room: float
    ) -> float:
        tones = any(isinstance(cell, Tone) for cell in row.cells)
        tall = (_JUDGED if row.judged else _BLOCK) if tones else 0.18
        size = 8.0 if tones else 7.0
        pieces = textwrap.wrap(row.label, letters(left - x - 0.1, size)) if row.label else []
        for i, piece in enumerate(pieces[:2]):
            middle = y + tall * (0.5 if len(pieces) == 1 else 0.3 + 0.42 * i)
            ink = INK if tones else FAINT
            self.sheet.text(left - 0.08, middle, piece, size=size, ink=ink, align="right")
        every = max(1, int(np.ceil(0.27 / width)))
        # Numbers in every place are thinned out where tones are many; single ones all stay.
        sparse = not all(row.cells)
        ranges = False
        for i, cell in enumerate(row.cells):
            middle = left + width * (i + 0.5)
            if isinstance(cell, Tone):
                big, small = (cell.words, cell.small) if width > 0.25 and not row.judged else ("", "")
                self.sheet.tone(left + width * i, y, width, tall, cell.lab, big, small if width > 0.4 else "")
                if cell.lightness is not None:
                    ranges = True
                    self.range(cell, left + width * i, y + tall + 0.02, width)
            elif cell and (i % every == 0 or sparse):
                weight = "bold" if any(row.strong[i : i + 1]) else "normal"
                self.sheet.text(middle, y + 0.5 * tall, cell, size=7, weight=weight, align="center")
        if row.after:
            for i, piece in enumerate(textwrap.wrap(row.after, letters(room, 7))[:3]):
                self.sheet.text(beside, y + min(0.5 * tall, 0.12) + 0.13 * i, piece, size=7)
        y += tall + (_BAR + 0.04 if ranges else 0.0)
        if row.under:
            y = self.lines([row.under], left, y + 0.02, width * len(row.cells), size=6.5, ink=FAINT) + 0.06
        return y

    def range(self, tone: Tone, x: float, y: float, width: float) -> None:
        """Draw the darkest, the predicted and the lightest that a tone may be; its hue and chroma stay."""
        if tone.lightness is None:
            return
        ends = np.repeat(tone.lab[np.newaxis], 3, axis=0)
        ends[0, 0], ends[2, 0] = tone.lightness
        third = (width - 0.06) / 3
        for i, fill in enumerate(colour.lab_on_screen(ends, self.sheet.viewing).rgb):
            self.sheet.block(x + 0.03 + third * i, y, third + OVERLAP, _BAR, fill.tolist())

    def table(self, part: TablePart, x: float, y: float, wide: float) -> float:
        size = 6.8 if part.faint else 7.5
        rows: list[Sequence[Cell]] = [part.heads] if any(part.heads) else []
        rows += part.rows
        widths = [
            max((_cell_width(row[i], size) for row in rows), default=0.0) for i in range(len(part.heads))
        ]
        # The last column takes what is left and is wrapped.
        spare = wide - sum(widths[:-1]) - 0.16 * (len(widths) - 1)
        widths[-1] = min(widths[-1], max(spare, 1.0))
        for number, row in enumerate(rows):
            heading = number == 0 and any(part.heads)
            y = self.table_row(row, widths, x, y, size, part.right, heading=heading)
        return y + 0.06

    def table_row(
        self,
        row: Sequence[Cell],
        widths: Sequence[float],
        x: float,
        y: float,
        size: float,
        right: Sequence[int],
        *,
        heading: bool,
    ) -> float:
        low = y + _LINE
        for i, (cell, width) in enumerate(zip(row, widths, strict=True)):
            if isinstance(cell, Tone):
                self.sheet.tone(x, y, width, 0.26, cell.lab, cell.words)
                low = max(low, y + 0.29)
            else:
                ink = FAINT if heading else INK
                for k, piece in enumerate(textwrap.wrap(cell, letters(width, size) + 1)):
                    flush = i in right
                    at = x + width if flush else x
                    middle = y + 0.085 + 0.135 * k
                    self.sheet.text(at, middle, piece, size=size, ink=ink, align="right" if flush else "left")
                    low = max(low, y + 0.03 + 0.135 * (k + 1))
            x += width + 0.16
        return low

    def bars(self, part: Bars, x: float, y: float, wide: float) -> float:
        self.sheet.text(x, y + 0.09, part.title, size=8.5, weight="bold")
        y += 0.22
        kinds = list(dict.fromkeys(bar.kind for bar in part.rows if bar.kind))
        at = x
        for kind in kinds:
            fill = self.fills.setdefault(kind, _FILLS[len(self.fills) % len(_FILLS)])
            self.sheet.block(at, y + 0.02, 0.09, 0.09, fill)
            self.sheet.text(at + 0.13, y + 0.07, kind, size=6.5, ink=FAINT)
            at += 0.24 + 0.058 * len(kind)
        y += 0.18 if kinds else 0.0
        names = _LETTER * 8 * max((len(bar.label) for bar in part.rows), default=0) + 0.1
        whats = min(_LETTER * 7.5 * max((len(bar.what) for bar in part.rows), default=0) + 0.1, 0.42 * wide)
        names = min(names, 0.24 * wide)
        said = [f"{bar.value:.1f}, at most {bar.most:.1f}{bar.tail}" for bar in part.rows]
        tails = _LETTER * 6.5 * max(map(len, said), default=0) + 0.1
        left = x + names + whats
        scale = (wide - names - whats - tails) / max((bar.most for bar in part.rows), default=1.0)
        for bar, words in zip(part.rows, said, strict=True):
            label = textwrap.shorten(bar.label, letters(names, 7.5), placeholder=" …")
            what = textwrap.shorten(bar.what, letters(whats, 7.2), placeholder=" …")
            fill = self.fills.get(bar.kind, _FILLS[0])
            self.sheet.text(x, y + 0.09, label, size=7.5, weight="bold")
            self.sheet.text(left - 0.08, y + 0.09, what, size=7.2, align="right")
            self.sheet.block(left, y + 0.02, scale * bar.value, 0.14, fill)
            self.sheet.block(left, y + 0.082, scale * bar.most, 0.016, "#888888")
            self.sheet.text(left + scale * bar.most + 0.06, y + 0.09, words, size=6.5, ink=FAINT)
            y += 0.19
        if part.key:
            y = self.lines([part.key], x, y + 0.02, wide, size=6.5, ink=FAINT)
        return y + 0.08

    def histogram(self, part: Histogram, x: float, y: float, wide: float) -> float:
        self.sheet.text(x, y + 0.09, part.title, size=8.5, weight="bold")
        end = max(float(np.quantile(part.values, 0.995)) * 1.05, part.mark * 1.3, 1e-6)
        tick = next(step for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, np.inf) if end / step <= 9.0)
        edges = np.linspace(0.0, end, _BINS + 1)
        counts = np.histogram(np.minimum(part.values, end), bins=edges)[0]
        base, step = y + 0.22 + _HISTOGRAM, wide / _BINS
        for i, count in enumerate(counts):
            tall = (_HISTOGRAM - 0.14) * count / max(int(counts.max()), 1)
            beyond = edges[i] >= part.mark
            fill = "#a3533f" if beyond else "#9fb0bd"
            self.sheet.block(x + step * i, base - tall, step * 0.92, tall, fill)
        self.sheet.line(x, x + wide, base, ink="#888888")
        mark = x + wide * part.mark / end
        self.sheet.block(mark - 0.006, y + 0.20, 0.012, _HISTOGRAM + 0.02, "#222222")
        right = mark > x + 0.7 * wide
        at = mark + (-0.06 if right else 0.06)
        self.sheet.text(at, y + 0.24, part.mark_words, size=7, align="right" if right else "left")
        for value in np.arange(0.0, end, tick) if np.isfinite(tick) else ():
            at = x + wide * value / end
            self.sheet.text(at, base + 0.10, f"{value:.3g}", size=6.5, ink=FAINT, align="center")
        return base + 0.26

    def timeline(self, part: Timeline, x: float, y: float, wide: float) -> float:
        label = _LETTER * 8 * max(len(name) for name, _ in part.rows) + 0.15
        left, scale = x + label, (wide - label - 0.2) / part.ends
        top, bottom = y + 0.2, y + 0.2 + _LANE * len(part.rows)
        for at, words in part.ticks:
            self.sheet.block(left + at * scale, top - 0.03, 0.006, bottom - top + 0.03, "#dddddd")
            self.sheet.text(left + at * scale, top - 0.10, words, size=6, ink=FAINT, align="center")
        for name, spans in part.rows:
            self.sheet.text(x, top + 0.12, name, size=7.5)
            taken = [left, left]
            for span in sorted(spans, key=lambda span: (span.kind in _THIN, span.begins)):
                at, width = left + span.begins * scale, (span.ends - span.begins) * scale
                thin = _THIN.get(span.kind, 0.0)
                if span.lab is None:
                    self.sheet.block(
                        at, top + 0.02 + thin, width, 0.22 - 2 * thin, _SPANS.get(span.kind, "#cfcfcf")
                    )
                else:
                    self.sheet.tone(at, top + 0.02, width, 0.22, span.lab)
                if span.words:
                    # Below its block, in whichever of two lines is free.
                    lane = 0 if taken[0] <= at + 1e-6 or taken[0] <= taken[1] else 1
                    long = _LETTER * 6.5 * len(span.words)
                    start = max(min(max(at, taken[lane]), x + wide - long), left)
                    self.sheet.text(start, top + 0.305 + 0.105 * lane, span.words, size=6.3)
                    taken[lane] = start + long + 0.06
            top += _LANE
        kinds = list(dict.fromkeys(span.kind for _, spans in part.rows for span in spans if span.lab is None))
        at = left
        for kind in kinds:
            thin = _THIN.get(kind, 0.0) / 2
            self.sheet.block(at, bottom + 0.05 + thin, 0.16, 0.1 - 2 * thin, _SPANS.get(kind, "#cfcfcf"))
            self.sheet.text(at + 0.21, bottom + 0.10, kind, size=6.5, ink=FAINT)
            at += 0.36 + _LETTER * 6.5 * len(kind)
        return bottom + 0.26

    def plot(self, part: Plot, x: float, y: float, wide: float) -> float:
        self.sheet.text(x, y + 0.09, part.title, size=8.5, weight="bold")
        self.plots.append((part, x + 0.3, y + 0.22, wide - 0.3, _PLOT))
        y += 0.22 + _PLOT + 0.22
        if part.foot:
            y = self.lines([part.foot], x + 0.3, y, wide - 0.3, size=6.5, ink=FAINT)
        return y + 0.08


def _flat(parts: Sequence[Part]) -> Iterator[Part]:
    for part in parts:
        yield part
        if isinstance(part, Beside):
            yield from _flat((*part.left, *part.right))


def letters(wide: float, size: float, weight: str = "normal") -> int:
    """Return how many letters of a size, in points, go into so many inches."""
    return max(int(wide / (_LETTER * size * (1.13 if weight == "bold" else 1.0))), 4)


def _cell_width(cell: Cell, size: float) -> float:
    if isinstance(cell, Tone):
        return max(0.6, _LETTER * 7.5 * len(cell.words) + 0.1)
    return _LETTER * size * 1.03 * len(cell) + 0.04


def _draw_plot(axes: Axes, plot: Plot) -> None:
    styles = {"line": "-", "dashes": "--", "dots": "o"}
    for curve in plot.curves:
        _draw_curve(axes, plot, curve, styles[curve.style])
    axes.set_xlim(float(plot.x[0]), float(plot.x[-1]))
    axes.set_ylim(0.0, plot.top)
    axes.tick_params(labelsize=6.5)
    axes.spines[["top", "right"]].set_visible(False)
    if any(curve.label for curve in plot.curves):
        axes.legend(fontsize=6.5, frameon=False)


def _draw_image(axes: Axes, image: Image) -> None:
    axes.imshow(image.rgb, aspect="auto")
    axes.set_axis_off()
    box = {"boxstyle": "round,pad=0.2", "facecolor": "white", "edgecolor": "#222222", "linewidth": 0.6}
    for across, down, words in image.marks:
        place = across * image.rgb.shape[1], down * image.rgb.shape[0]
        axes.annotate(words, place, ha="center", va="center", fontsize=7.5, bbox=box, parse_math=False)


def _draw_curve(axes: Axes, plot: Plot, curve: Curve, style: str) -> None:
    label = curve.label or None
    axes.plot(plot.x, curve.y, style, color=curve.ink, linewidth=1.3, markersize=2.6, label=label)
    if curve.low is not None and curve.high is not None:
        axes.fill_between(plot.x, curve.low, curve.high, color=curve.ink, alpha=0.18, linewidth=0)
