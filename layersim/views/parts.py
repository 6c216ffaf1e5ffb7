"""The parts that a page is made of. Views fill them, writers draw them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

from layersim import colour
from layersim.spectra import FloatArray
from layersim.views.notices import sentences


@dataclass(frozen=True, eq=False)
class Tone:
    """A block of one colour."""

    lab: FloatArray
    """L*a*b*, shape (3,), under the page's light."""
    words: str = ""
    """On the block."""
    small: str = ""
    """On the block, below the words."""
    lightness: tuple[float, float] | None = None
    """The range of its L*, drawn as a bar below the block."""


Cell: TypeAlias = Tone | str
"""What stands in a row or a table: a colour, or words. An empty text leaves the place empty."""


@dataclass(frozen=True, eq=False)
class Row:
    """A row of tones or of numbers below them."""

    label: str
    cells: Sequence[Cell]
    after: str = ""
    """Beside the row, such as how sure it is."""
    under: str = ""
    """Below the row, such as its recipe."""
    strong: Sequence[bool] = ()
    """Which cells are in bold; none by default."""
    judged: bool = False
    """Its colours are to be judged: pictures put no words on them, and draw them large."""


@dataclass(frozen=True, eq=False)
class Strips:
    """Rows of tones, each tone above the same tone of the next row.

    Rows that follow one another touch, since an eye judges two colours where they touch, unless words stand
    between them.
    """

    rows: Sequence[Row]
    axis: str = ""
    """What the scale above the columns is."""
    ticks: Sequence[str] = ()
    """The scale, one for a column."""
    ends: tuple[str, str] | None = None
    """What stands above the first and the last column, such as shadow and light."""
    apart: bool = False
    """Leave a little room between rows that have nothing to do with one another."""


@dataclass(frozen=True, eq=False)
class TablePart:
    """Rows of words and colours under headings."""

    heads: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    right: Sequence[int] = ()
    """Columns of numbers, which stand flush right."""
    faint: bool = False


@dataclass(frozen=True, eq=False)
class Bars:
    """A bar a row, with a thin line on to its largest value, and words."""

    title: str
    rows: Sequence[Bar]
    key: str = ""
    """What bar and line are."""


@dataclass(frozen=True)
class Bar:
    """One bar."""

    label: str
    what: str
    value: float
    most: float
    tail: str = ""
    """After its numbers, such as ", darker"."""
    kind: str = ""
    """Bars of one kind have one colour."""


@dataclass(frozen=True, eq=False)
class Histogram:
    """How often a value falls where, with a mark. Only pictures show it."""

    title: str
    values: FloatArray
    mark: float
    mark_words: str


@dataclass(frozen=True, eq=False)
class Curve:
    """One curve of a plot."""

    y: FloatArray
    label: str = ""
    low: FloatArray | None = None
    high: FloatArray | None = None
    """With `low`, the band around it."""
    ink: str = "#000000"
    style: Literal["line", "dashes", "dots"] = "line"


@dataclass(frozen=True, eq=False)
class Plot:
    """Curves over the wavelengths. Only pictures show it."""

    title: str
    x: FloatArray
    curves: Sequence[Curve]
    top: float | None = None
    """The largest value on its axis, where the curves should not say."""
    foot: str = ""


@dataclass(frozen=True, eq=False)
class Image:
    """A picture with places marked on it."""

    rgb: FloatArray
    """Encoded sRGB, 0 to 1, shape (height, width, 3)."""
    marks: Sequence[tuple[float, float, str]] = ()
    """Across, down (0 to 1 each) and the words of each mark."""


@dataclass(frozen=True, eq=False)
class Span:
    """A stretch of a timeline: what is done, in its colour."""

    begins: float
    ends: float
    kind: str
    """What kind of stretch it is; those without a colour of their own have one a kind."""
    words: str = ""
    lab: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class Timeline:
    """What is done when, a row a thing. Only pictures show it; tables tell the same."""

    rows: Sequence[tuple[str, Sequence[Span]]]
    ends: float
    ticks: Sequence[tuple[float, str]]


@dataclass(frozen=True)
class Heading:
    """What the parts after it are about."""

    words: str
    aside: str = ""


@dataclass(frozen=True)
class Words:
    """Sentences or lines of a list, each of which may be wrapped."""

    lines: Sequence[str]
    kind: Literal["plain", "strong", "faint", "warning", "list"] = "plain"


@dataclass(frozen=True, eq=False)
class Task:
    """One thing to do, and to tick when it is done."""

    name: str
    tones: Sequence[Tone]
    """What it comes to."""
    columns: Sequence[Sequence[str]]
    """Lines under each heading. The first line of the first column is in bold."""
    ticks: Sequence[str]
    """The words of each box to tick."""


@dataclass(frozen=True, eq=False)
class Tasks:
    """What is to be done one after the other."""

    heads: Sequence[str]
    """Of the name, of the tones and of each column; on paper alone, where columns stand side by side."""
    rows: Sequence[Task]
    widths: Sequence[float]
    """What the columns have, each as a share of their room on paper."""


@dataclass(frozen=True)
class Places:
    """A frame for each of some things: on paper to keep something in, on a screen for notes."""

    words: str
    """What is kept there."""
    names: Sequence[str]


@dataclass(frozen=True, eq=False)
class Beside:
    """Parts beside each other where there is room, and below each other where there is none."""

    left: Sequence[Part]
    right: Sequence[Part]


BEYOND: Final = (
    "* No screen can show this colour: the real one has more chroma or, where L* is above 100, is lighter."
)
"""What words say where a tone bears a star."""

Part: TypeAlias = (
    Strips
    | TablePart
    | Bars
    | Histogram
    | Plot
    | Image
    | Timeline
    | Heading
    | Words
    | Beside
    | Tasks
    | Places
)


@dataclass(frozen=True, eq=False)
class View:
    """A page that says what an answer says."""

    title: str
    parts: Sequence[Part]
    aside: str = ""
    """Below the title, in small letters."""
    notices: Sequence[str] = ()
    """What a painter should know, without the word "Note" and the full stop."""
    viewing: colour.Viewing = field(default_factory=colour.Viewing)
    """The light that its tones are seen under."""
    paper: bool = False
    """Whether it is printed on sheets of paper, and taken to the bench."""


def notice_lines(view: View) -> list[str]:
    """Return a page's notices as sentences."""
    return sentences(view.notices)
