"""The test card: where everything lies on it, its small layout file, its drawing for the printer.

A card is a flat thing with places on it, in millimetres from its upper left corner, x to the right
and y down. Four AprilTags (family 36h11, an open standard: E. Olson, ICRA 2011; J. Wang and
E. Olson, IROS 2016) tell where it lies in a photograph. A card of one's own needs no tags: its four
corners are then given for each photograph.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from layersim.documents.document import Document
from layersim.documents.table import Table
from layersim.errors import CardFileError, OutputError
from layersim.files import write_whole
from layersim.spectra import BANDS, FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TAG_FAMILY: Final = "AprilTag 36h11"

# The first 64 of the family's 587 codes, row by row from the upper left as OpenCV's ArUco module
# draws them (half a turn from the AprilTag library's own pictures; readers find either), nine
# hexadecimal digits each. Tested equal to OpenCV's table; kept here so that printing a card needs no
# image library.
_TAG_CODES: Final = (
    "21A146BAB92D18FE9B7089014BB193979E2744153D3D735CD5B8CFA10BA56A02B874A608"
    "B57FB8D444E20B5A6461D897F2CAB3469FFC594CA45C2FA1C2D2E297C24B97275928624A"
    "1CAAFE99A3236DDC16884E527D65771A8C7EF52925B812E59CC1A17FA58AB31EB43384F9"
    "3913D5345D79B1A3B50DFBE768D5CD7A031DB9C8F7A4B46987E06B6E0C5D5275BC567BB4"
    "1E6302BC28AC7D046AA65FE23265400EB616F7A0668362DD0AFDF63B9CB60B1AD6A1CAF9"
    "93B62EFB5BB210D93DDEE55094BA0CD1479B2A23ABB274F67F4B5F58A815818743427D64"
    "1DEC40874892AB3A0238D5742EE0C43567A15DB311CB1C957CA1F9A2245782329ACE98F3"
    "CCC52C528DA8B3578CD5B4B9E36AC9CDD3CECBDAA83911986256B1BAE6CC889DF91B10E5"
)
_CODE_DIGITS: Final = 9  # 36 bits
_TAGS: Final = len(_TAG_CODES) // _CODE_DIGITS
_TAGS_A_CARD: Final = 4
_TAG_CELLS: Final = 8

PAGES_MM: Final[dict[str, tuple[float, float]]] = {
    "A6": (148.0, 105.0),
    "A4": (210.0, 297.0),
    "letter": (215.9, 279.4),
}
"""Paper that a card can be printed on (ISO 216; ANSI Y14.1): width and height in mm."""

_LARGEST_MM: Final = 2000.0
_MM_PER_INCH: Final = 25.4


@dataclass(frozen=True)
class Rect:
    """A rectangle on a card, in mm from the card's upper left corner."""

    x_mm: float
    y_mm: float
    """`x_mm` and `y_mm`: its upper left corner."""
    width_mm: float
    height_mm: float

    def inset(self, share: float) -> Rect:
        """Return the middle of the rectangle, `share` of each dimension taken off at every side.

        `share`: 0 to 0.5.

        >>> Rect(0.0, 0.0, 10.0, 20.0).inset(0.25)
        Rect(x_mm=2.5, y_mm=5.0, width_mm=5.0, height_mm=10.0)
        """
        return Rect(
            self.x_mm + share * self.width_mm,
            self.y_mm + share * self.height_mm,
            self.width_mm * (1.0 - 2.0 * share),
            self.height_mm * (1.0 - 2.0 * share),
        )

    @property
    def corners_mm(self) -> FloatArray:
        """Corners clockwise from the upper left, shape (4, 2), mm."""
        x, y, w, h = self.x_mm, self.y_mm, self.width_mm, self.height_mm
        return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])

    @property
    def centre_mm(self) -> FloatArray:
        """Middle of the rectangle, shape (2,), mm."""
        return np.array([self.x_mm + 0.5 * self.width_mm, self.y_mm + 0.5 * self.height_mm])


@dataclass(frozen=True)
class Fiducial:
    """One AprilTag."""

    tag: int
    """Its number in the family 36h11."""
    x_mm: float
    y_mm: float
    """`x_mm` and `y_mm`: its centre."""
    side_mm: float
    """Side of the black square, without the white rim."""

    @property
    def rect(self) -> Rect:
        """The black square."""
        half = 0.5 * self.side_mm
        return Rect(self.x_mm - half, self.y_mm - half, self.side_mm, self.side_mm)


@dataclass(frozen=True)
class CardPatch:
    """A place for a swatch, or for the bare ground."""

    name: str
    rect: Rect
    ground: str
    """What lies under the paint ("black", "white")."""
    coats: float
    """Coats of the paint; 0 where the ground stays bare."""


@dataclass(frozen=True)
class Neutral:
    """A place for a neutral of known reflectance."""

    name: str
    rect: Rect
    reflectance: tuple[float, ...]


@dataclass(frozen=True)
class CardLayout:
    """Where everything lies on a card."""

    name: str
    width_mm: float
    height_mm: float
    fiducials: tuple[Fiducial, ...]
    """None where the card has no tags; its corners are then given with the photograph."""
    patches: tuple[CardPatch, ...]
    neutrals: tuple[Neutral, ...] = ()
    """None where nothing of known reflectance lies on the card."""
    surround: tuple[Rect, ...] = ()
    """Bare, even, neutral parts of the card, from which uneven light is known."""
    chart: Rect | None = None
    """The outer edge of the 24 patches, where a chart lies on the card itself."""

    @property
    def whole(self) -> Rect:
        """The card's own edge."""
        return Rect(0.0, 0.0, self.width_mm, self.height_mm)


# The standard card, A6 lying on its long side: 5 mm of every edge are left free because few
# printers reach further; 1.4 mm around each tag are free because a tag is found by its white rim.
_BAND_X_MM, _BAND_WIDTH_MM, _BAND_HEIGHT_MM = 20.0, 108.0, 19.0
_BANDS_Y_MM: Final = {"black": 24.0, "white": 47.0}
_NEUTRALS_Y_MM: Final = 71.5
_NEUTRALS: Final = (("white", 0.88), ("grey", 0.18), ("black", 0.035))


STANDARD_COATS: Final = (0.5, 1.0, 2.0, 4.0)
"""Half a coat is what tells K and S of strong paints, whose whole coats hide at some wavelengths."""


def coats_in_words(coats: float) -> str:
    """Return how many coats lie on a place of a card, in words.

    >>> [coats_in_words(coats) for coats in (0.0, 0.5, 1.0, 2.0)]
    ['bare', 'half a coat', '1 coat', '2 coats']
    """
    if coats == 0.0:
        return "bare"
    return "half a coat" if coats == 0.5 else f"{coats:g} coat{'' if coats == 1.0 else 's'}"


def standard_card(
    *, coats: Sequence[float] = STANDARD_COATS, neutral_reflectance: Sequence[float] | None = None
) -> CardLayout:
    """Return the layout of the card that :func:`write_card` prints by default.

    A6, lying: a black and a white band with one place for each count of coats between two places
    of bare ground, and three places for neutrals below. Cards for other counts than the usual ones bear
    other tags, so that a photograph of one is not read as another.

    `coats`: counts of coats, 1 to 6 of them, each above 0. `neutral_reflectance`: reflectance of the
    white, the grey and the black neutral that will lie on the card. Without them the usual ones of a
    grey-card set are assumed (0.88, 0.18, 0.035: common practice, no source); a measured value is
    always better. Raises ValueError if the counts or reflectances are not what they should be.

    >>> [patch.name for patch in standard_card().patches][:5]
    ['black bare 1', 'black 0.5', 'black 1', 'black 2', 'black 4']
    """
    if not 1 <= len(coats) <= 6 or not all(0 < count <= 100 for count in coats):
        raise ValueError("expected one to six counts of coats, each above 0 and at most 100")
    if len(set(coats)) != len(coats):
        raise ValueError("a count of coats stands twice")
    values = [v for _, v in _NEUTRALS] if neutral_reflectance is None else list(neutral_reflectance)
    if len(values) != 3 or not all(0 < v <= 1 for v in values):
        raise ValueError("expected three reflectances, each above 0 and at most 1")
    columns = [("bare 1", 0.0), *((f"{count:g}", float(count)) for count in coats), ("bare 2", 0.0)]
    pitch = _BAND_WIDTH_MM / len(columns)
    patches = tuple(
        CardPatch(
            name=f"{ground} {label}",
            rect=Rect(
                round(_BAND_X_MM + pitch * column + 2.0, 2),
                y + 1.5,
                round(pitch - 4.0, 2),
                _BAND_HEIGHT_MM - 3.0,
            ),
            ground=ground,
            coats=count,
        )
        for ground, y in _BANDS_Y_MM.items()
        for column, (label, count) in enumerate(columns)
    )
    neutrals = tuple(
        Neutral(name, Rect(22.0 + 24.0 * i, _NEUTRALS_Y_MM, 20.0, 15.0), (float(value),) * BANDS)
        for i, ((name, _), value) in enumerate(zip(_NEUTRALS, values, strict=True))
    )
    between = [y - 3.4 for y in _BANDS_Y_MM.values()] + [_BANDS_Y_MM["white"] + _BAND_HEIGHT_MM + 0.6]
    surround = (
        Rect(5.5, 17.5, 13.0, 70.0),
        Rect(129.5, 17.5, 13.0, 70.0),
        *(Rect(_BAND_X_MM + 1.0, y, _BAND_WIDTH_MM - 2.0, 2.8) for y in between),
    )
    tags = ((10.0, 10.0), (138.0, 10.0), (138.0, 95.0), (10.0, 95.0))
    return CardLayout(
        name="test card",
        width_mm=148.0,
        height_mm=105.0,
        fiducials=tuple(
            Fiducial(tag, x, y, 10.0) for tag, (x, y) in enumerate(tags, start=_first_tag(coats))
        ),
        patches=patches,
        neutrals=neutrals,
        surround=surround,
    )


def _first_tag(coats: Sequence[float]) -> int:
    """Return the first of the four tags of a card for some counts of coats.

    0 for the standard ones. The others share fifteen sets by a checksum: two cards seldom bear the same.
    """
    if tuple(coats) == STANDARD_COATS:
        return 0
    others = _TAGS // _TAGS_A_CARD - 1
    checksum = zlib.crc32(" ".join(f"{count:g}" for count in coats).encode("ascii"))
    return _TAGS_A_CARD * (1 + checksum % others)


def tag_cells(tag: int) -> FloatArray:
    """Return the squares of one AprilTag, its black border included.

    `tag`: 0 to 63, those that cards printed by :func:`write_card` bear. The answer has shape (8, 8).
    Raises ValueError if the tag's code is not kept here.

    >>> tag_cells(0)[1].astype(int)
    array([0, 0, 0, 1, 0, 0, 0, 0])
    """
    if not 0 <= tag < _TAGS:
        raise ValueError(f"tag {tag} cannot be drawn; the tags kept here are 0 to {_TAGS - 1}")
    code = int(_TAG_CODES[_CODE_DIGITS * tag : _CODE_DIGITS * (tag + 1)], 16)
    bits = np.array([float(bit) for bit in f"{code:036b}"]).reshape(6, 6)
    return np.pad(bits, 1)


# -- the layout file ------------------------------------------------------------------------------


def read_card(path: Path) -> CardLayout:
    """Return the layout that a card file gives.

    Raises CardFileError if the file cannot be read, is not a card, or places something off the card.
    """
    document = Document(path, what="card", error=CardFileError)
    top = document.top
    with document.gather():
        document.check_format(1)
    name, width, height = "", 0.0, 0.0
    with document.gather():
        name = top.text("name")
    with document.gather():
        width, height = _pair(top, "size_mm")
    document.finish()
    whole = Rect(0.0, 0.0, width, height)
    fiducials, patches, neutrals, surround = [], [], [], []
    chart: Rect | None = None
    for row in _rows(document, "fiducial"):
        with document.gather():
            fiducials.append(_fiducial(row, whole))
    for row in _rows(document, "patch"):
        with document.gather():
            patches.append(_patch(row, whole))
    for row in _rows(document, "neutral"):
        with document.gather():
            neutrals.append(_neutral(row, whole))
    for row in _rows(document, "surround"):
        with document.gather():
            surround.append(_rect(row, whole))
            row.no_other_keys()
    with document.gather():
        table = top.table("chart")
        if table is not None:
            chart = _rect(table, whole)
            table.no_other_keys()
    with document.gather():
        top.no_other_keys()
        if not patches and not document.problems:
            raise top.fault(None, "no patches", "at least one [[patch]]")
        for key, values in (("patch", patches), ("neutral", neutrals)):
            _no_repeats(top, key, [value.name for value in values])
        _no_repeats(top, "fiducial", [str(fiducial.tag) for fiducial in fiducials])
        if len(fiducials) == 1:
            raise top.fault("fiducial", "one tag", "four tags (two at the least), or none")
    document.finish()
    return CardLayout(
        name=name,
        width_mm=width,
        height_mm=height,
        fiducials=tuple(fiducials),
        patches=tuple(patches),
        neutrals=tuple(neutrals),
        surround=tuple(surround),
        chart=chart,
    )


def card_text(layout: CardLayout) -> str:
    """Return a layout as the text of a card file; :func:`read_card` gives the layout back."""
    lines = [
        'format = "layersim card 1"',
        f"name = {_quoted(layout.name)}",
        f"size_mm = [{layout.width_mm:g}, {layout.height_mm:g}]",
        "",
        "# Millimetres from the upper left corner of the card, x to the right, y down.",
        "# rect_mm = [x, y, width, height]",
        "",
        f"# Tags of the family {TAG_FAMILY}. A card without tags needs its corners with each photograph.",
    ]
    for fiducial in layout.fiducials:
        lines += [
            "[[fiducial]]",
            f"tag = {fiducial.tag}",
            f"centre_mm = [{fiducial.x_mm:g}, {fiducial.y_mm:g}]",
            f"side_mm = {fiducial.side_mm:g}",
        ]
    lines += ["", "# coats = 0 is the bare ground."]
    for patch in layout.patches:
        lines += [
            "[[patch]]",
            f"name = {_quoted(patch.name)}",
            f"ground = {_quoted(patch.ground)}",
            f"coats = {patch.coats:g}",
            f"rect_mm = {_rect_text(patch.rect)}",
        ]
    if layout.neutrals:
        lines += ["", "# Reflectance: one number, or 31 from 400 to 700 nm by 10 nm. Put measured ones here."]
    for neutral in layout.neutrals:
        same = len(set(neutral.reflectance)) == 1
        shown = (
            f"{neutral.reflectance[0]:g}"
            if same
            else "[" + ", ".join(f"{v:g}" for v in neutral.reflectance) + "]"
        )
        lines += [
            "[[neutral]]",
            f"name = {_quoted(neutral.name)}",
            f"reflectance = {shown}",
            f"rect_mm = {_rect_text(neutral.rect)}",
        ]
    if layout.surround:
        lines += ["", "# Bare parts of the card, all alike: uneven light is known from them."]
    for rect in layout.surround:
        lines += ["[[surround]]", f"rect_mm = {_rect_text(rect)}"]
    if layout.chart is not None:
        lines += ["", "# The outer edge of the chart's 24 patches.", "[chart]"]
        lines += [f"rect_mm = {_rect_text(layout.chart)}"]
    return "\n".join(lines) + "\n"


def write_card_file(path: Path, layout: CardLayout) -> None:
    """Write a layout as a card file.

    Raises OutputError if the file cannot be written.
    """
    write_whole(path, card_text(layout))


def _rows(document: Document, key: str) -> Iterable[Table]:
    with document.gather():
        return document.top.tables(key)
    return []


def _pair(table: Table, key: str, *, low: float = 1.0) -> tuple[float, float]:
    values = table.numbers(key, low=low, high=_LARGEST_MM)
    if len(values) != 2:
        raise table.fault(key, f"{len(values)} numbers", "two numbers in square brackets")
    return values[0], values[1]


def _rect(table: Table, whole: Rect) -> Rect:
    values = table.numbers("rect_mm", low=0.0, high=_LARGEST_MM)
    if len(values) != 4:
        raise table.fault("rect_mm", f"{len(values)} numbers", "four: [x, y, width, height]")
    rect = Rect(*values)
    if rect.width_mm <= 0.0 or rect.height_mm <= 0.0:
        raise table.fault("rect_mm", "a width or height of 0", "both above 0")
    _on_card(table, "rect_mm", rect, whole)
    return rect


def _on_card(table: Table, key: str, rect: Rect, whole: Rect) -> None:
    slack = 1e-6
    inside = (
        rect.x_mm >= -slack
        and rect.y_mm >= -slack
        and rect.x_mm + rect.width_mm <= whole.width_mm + slack
        and rect.y_mm + rect.height_mm <= whole.height_mm + slack
    )
    if not inside:
        found = f"x {rect.x_mm:g} to {rect.x_mm + rect.width_mm:g}, y {rect.y_mm:g} to "
        found += f"{rect.y_mm + rect.height_mm:g} mm"
        raise table.fault(key, found, f"a place on the card of {whole.width_mm:g} × {whole.height_mm:g} mm")


def _fiducial(row: Table, whole: Rect) -> Fiducial:
    tag = row.whole("tag", low=0, high=586)
    x, y = _pair(row, "centre_mm", low=0.0)
    fiducial = Fiducial(tag, x, y, row.number("side_mm", above=0.0, high=_LARGEST_MM))
    _on_card(row, "centre_mm", fiducial.rect, whole)
    row.no_other_keys()
    return fiducial


def _patch(row: Table, whole: Rect) -> CardPatch:
    patch = CardPatch(
        name=row.text("name"),
        rect=_rect(row, whole),
        ground=row.text("ground"),
        coats=row.number("coats", low=0.0, high=100.0),
    )
    row.no_other_keys()
    return patch


def _neutral(row: Table, whole: Rect) -> Neutral:
    values = row.numbers("reflectance", low=0.0, high=1.0)
    if len(values) not in (1, BANDS):
        raise row.fault(
            "reflectance", f"{len(values)} numbers", f"one, or {BANDS} from 400 to 700 nm by 10 nm"
        )
    if min(values) <= 0.0:
        raise row.fault("reflectance", "0", "a number above 0 (even black paint reflects some 0.03)")
    neutral = Neutral(
        row.text("name"), _rect(row, whole), tuple(values if len(values) > 1 else values * BANDS)
    )
    row.no_other_keys()
    return neutral


def _no_repeats(top: Table, key: str, names: Sequence[str]) -> None:
    for name in names:
        if names.count(name) > 1:
            raise top.fault(key, f'"{name}" {names.count(name)} times', "each name once")


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else " " for c in escaped) + '"'


def _rect_text(rect: Rect) -> str:
    return f"[{rect.x_mm:g}, {rect.y_mm:g}, {rect.width_mm:g}, {rect.height_mm:g}]"


# -- drawing ---------------------------------------------------------------------------------------


def write_card(path: Path, layout: CardLayout, *, page: str = "A6") -> None:
    """Write a card as a PDF to be printed at its own size.

    `page`: "A6" (the card fills the page), "A4" or "letter" (in the middle, with marks to cut by).
    Raises OutputError if the page is unknown, the card does not fit it, a tag cannot be drawn, or the
    file cannot be written.
    """
    import matplotlib as mpl

    figure = _figure(layout, page=page, primed=False)
    held = io.BytesIO()
    with mpl.rc_context({"pdf.fonttype": 42}):
        figure.savefig(
            held, format="pdf", metadata={"Title": f"layersim {layout.name}", "CreationDate": None}
        )
    write_whole(path, held.getvalue())


def card_image(layout: CardLayout, *, px_per_mm: float = 8.0, primed: bool = True) -> FloatArray:
    """Return an ideal picture of a card, lit evenly and seen straight on.

    `primed`: whether the black band and the neutrals are shown as they will be, not as outlines. The
    answer has shape (height, width, 3). Raises OutputError if a tag cannot be drawn.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure = _figure(layout, page=None, primed=primed)
    figure.set_dpi(px_per_mm * _MM_PER_INCH)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba(), dtype=np.float64)[..., :3] / 255.0


def _figure(layout: CardLayout, *, page: str | None, primed: bool) -> Figure:
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
    figure = Figure(figsize=(width / _MM_PER_INCH, height / _MM_PER_INCH), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(-left, width - left)
    axes.set_ylim(height - top, -top)
    for fiducial in layout.fiducials:
        _draw_tag(axes, fiducial)
    _draw_patches(axes, layout, primed)
    _draw_words(axes, layout)
    if left > 0.0 and top > 0.0:
        _draw_cutting_marks(axes, layout)
    return figure


def _box(axes: Any, rect: Rect, **style: Any) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((rect.x_mm, rect.y_mm), rect.width_mm, rect.height_mm, **style))


def _draw_tag(axes: Any, fiducial: Fiducial) -> None:
    try:
        cells = tag_cells(fiducial.tag)
    except ValueError as fault:
        raise OutputError(str(fault)) from None
    cell = fiducial.side_mm / _TAG_CELLS
    square = fiducial.rect
    _box(axes, square, facecolor="black", edgecolor="none", antialiased=False)
    for row, column in np.argwhere(cells > 0.5).tolist():
        place = Rect(square.x_mm + cell * column, square.y_mm + cell * row, cell, cell)
        _box(axes, place, facecolor="white", edgecolor="none", antialiased=False)


def _draw_patches(axes: Any, layout: CardLayout, primed: bool) -> None:
    for ground, band in _bands(layout).items():
        shade = "0.12" if primed and ground == "black" else "white"
        _box(axes, band, facecolor=shade, edgecolor="0.55", linewidth=0.4)
        if not primed:
            middle = band.centre_mm
            axes.text(*middle, f"prime this band {ground}", color="0.8", fontsize=13, **_CENTRED)
    for patch in layout.patches:
        _box(axes, patch.rect, facecolor="none", edgecolor="0.55", linewidth=0.4, linestyle=(0, (2, 2)))
    for neutral in layout.neutrals:
        level = float(np.mean(neutral.reflectance)) ** (1.0 / 2.2)
        shade = str(level) if primed else "white"
        _box(axes, neutral.rect, facecolor=shade, edgecolor="0.55", linewidth=0.4)
        if not primed:
            axes.text(*neutral.rect.centre_mm, neutral.name, color="0.6", fontsize=7, **_CENTRED)
    if layout.chart is not None:
        _box(axes, layout.chart, facecolor="none", edgecolor="0.55", linewidth=0.4)


_CENTRED: Final = {"ha": "center", "va": "center"}


def _bands(layout: CardLayout) -> dict[str, Rect]:
    """Return the strip that encloses all places over each ground."""
    bands: dict[str, Rect] = {}
    for ground in dict.fromkeys(patch.ground for patch in layout.patches):
        corners = np.concatenate([p.rect.corners_mm for p in layout.patches if p.ground == ground])
        (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
        margin = 1.5 if layout.fiducials else 0.0
        bands[ground] = Rect(x0 - margin, y0 - margin, x1 - x0 + 2 * margin, y1 - y0 + 2 * margin)
    return bands


def _draw_words(axes: Any, layout: CardLayout) -> None:
    """Write the label lines and headings; only the standard card is known to have room for them."""
    if (layout.width_mm, layout.height_mm) != (148.0, 105.0) or not layout.fiducials:
        return
    small = {"fontsize": 5.5, "color": "0.25", "va": "baseline"}
    for x, y, label, end in (
        (19.0, 9.0, "paint", 76.0),
        (79.0, 9.0, "thinned", 104.0),
        (107.0, 9.0, "date", 128.0),
        (19.0, 15.0, "airbrush, pressure, distance", 86.0),
        (89.0, 15.0, "varnish", 128.0),
    ):
        axes.text(x, y, label, **small)
        axes.plot([x + 1.05 * len(label) + 1.0, end], [y + 0.4] * 2, color="0.5", linewidth=0.3)
    first = layout.patches[0].ground
    for patch in layout.patches:
        if patch.ground == first:
            axes.text(patch.rect.centre_mm[0], 19.6, coats_in_words(patch.coats), ha="center", **small)
    for row, line in enumerate(
        (
            "Neutrals of known reflectance on these three",
            "places, or a 24-patch chart beside the card,",
            "in one plane. Even light from 45°, camera",
            "square on, exposure and white balance",
            "locked, nothing clipped. Paint dry.",
        )
    ):
        axes.text(95.0, 74.0 + 2.8 * row, line, fontsize=3.9, color="0.35", va="baseline")
    axes.plot([49.0, 99.0], [95.0, 95.0], color="0.2", linewidth=0.5)
    for x in (49.0, 99.0):
        axes.plot([x, x], [93.8, 96.2], color="0.2", linewidth=0.5)
    axes.text(74.0, 93.6, "50 mm: print at 100 %, not fitted to the page", ha="center", **small)


def _draw_cutting_marks(axes: Any, layout: CardLayout) -> None:
    for x in (0.0, layout.width_mm):
        for y in (0.0, layout.height_mm):
            away_x, away_y = (-1.0 if x == 0.0 else 1.0), (-1.0 if y == 0.0 else 1.0)
            axes.plot([x + 2 * away_x, x + 7 * away_x], [y, y], color="black", linewidth=0.3)
            axes.plot([x, x], [y + 2 * away_y, y + 7 * away_y], color="black", linewidth=0.3)
