"""The test card: where everything lies on it.

A card is a flat thing with places on it, in millimetres from its upper left corner, x to the right
and y down. Four printed marks (of the family 36h11, an open standard: E. Olson, ICRA 2011; J. Wang and
E. Olson, IROS 2016) tell where it lies in a photograph. A card of one's own needs no marks: its four
corners are then given for each photograph.

A layout's file is read and written by :mod:`layersim.measure.cardfile`, and printed by
:mod:`layersim.measure.cardprint`.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import numpy as np

from layersim.documents.keys import Key, keys_of, rows, section
from layersim.documents.kinds import Kind, number, text, whole
from layersim.documents.table import Table
from layersim.spectra import BANDS, FloatArray

LARGEST_MM: Final = 2000.0
MOST_COATS: Final = 100.0
_MARKS_A_CARD: Final = 4
_SETS_OF_MARKS: Final = 16
"""Sets that cards share by a checksum; the first is the standard card's."""


@dataclass(frozen=True)
class Rect:
    """A rectangle on a card, in mm from the card's upper left corner."""

    x_mm: float
    y_mm: float
    """Its upper left corner."""
    width_mm: float
    height_mm: float

    def inset(self, share: float) -> Rect:
        """Return the middle of the rectangle, `share` (0 to 0.5) of its size taken off at every side.

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


def _numbers(names: str, low: float = 0.0) -> Kind:
    """Return the kind of a list with one number for each of some names, in mm."""
    count = names.count(",") + 1

    def read(table: Table, key: str, _: Any) -> tuple[float, ...]:
        values = table.numbers(key, low=low, high=LARGEST_MM)
        if len(values) != count:
            raise table.fault(key, f"{len(values)} numbers", f"{count} numbers: [{names}]")
        return tuple(values)

    return Kind(read, f"[{names}], mm", (LARGEST_MM,) * count)


def _rect(table: Table, key: str, _: Any) -> Rect:
    rect = Rect(*_RECT_NUMBERS.read(table, key, None))
    if rect.width_mm <= 0.0 or rect.height_mm <= 0.0:
        raise table.fault(key, "a width or height of 0", "both above 0")
    return rect


def _reflectance(table: Table, key: str, _: Any) -> tuple[float, ...]:
    values = table.numbers(key, low=0.0, high=1.0)
    if len(values) not in (1, BANDS):
        raise table.fault(key, f"{len(values)} numbers", f"one, or {BANDS} from 400 to 700 nm by 10 nm")
    if min(values) <= 0.0:
        raise table.fault(key, "0", "a number above 0 (even black paint reflects some 0.03)")
    return tuple(values if len(values) > 1 else values * BANDS)


_RECT_NUMBERS: Final = _numbers("x, y, width, height")
_RECT: Final = Key(
    Kind(
        _rect,
        _RECT_NUMBERS.words,
        written=lambda rect: [rect.x_mm, rect.y_mm, rect.width_mm, rect.height_mm],
    ),
    "where it lies, from the card's upper left corner",
    field="rect",
    name="rect_mm",
)
RECT_KEYS: Final = {"rect_mm": _RECT}


@dataclass(frozen=True)
class Mark:
    """One printed mark."""

    number: Annotated[int, Key(whole(0, 586), "which of the family 36h11 it is")]
    centre_mm: Annotated[tuple[float, float], Key(_numbers("x, y"), "its middle")]
    side_mm: Annotated[
        float, Key(number(above=0, high=LARGEST_MM, unit="mm"), "of the black square, without its white rim")
    ]

    @property
    def rect(self) -> Rect:
        """The black square."""
        (x, y), side = self.centre_mm, self.side_mm
        return Rect(x - 0.5 * side, y - 0.5 * side, side, side)


@dataclass(frozen=True)
class CardPatch:
    """A place for a swatch, or for the bare ground."""

    name: Annotated[str, Key(text(), "of the place")]
    ground: Annotated[str, Key(text(), 'what lies under the paint, such as "black"')]
    coats: Annotated[float, Key(number(0, MOST_COATS), "coats of the paint; 0 where the ground stays bare")]
    rect: Annotated[Rect, _RECT]


@dataclass(frozen=True)
class Neutral:
    """A place for a neutral of known reflectance."""

    name: Annotated[str, Key(text(), "of the neutral")]
    reflectance: Annotated[
        tuple[float, ...],
        Key(
            Kind(
                _reflectance,
                f"a number above 0, or {BANDS} from 400 to 700 nm",
                written=lambda values: values if len(set(values)) > 1 else values[0],
            ),
            "of the neutral, measured if that can be had",
        ),
    ]
    rect: Annotated[Rect, _RECT]


@dataclass(frozen=True)
class CardLayout:
    """Where everything lies on a card."""

    name: str
    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
    """None where the card has no marks; its corners are then given with the photograph."""
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


CARD_KEYS: Final = {
    "name": Key(text(), "of the card"),
    "size_mm": Key(_numbers("width, height", low=1.0), "of the card"),
    "mark": Key(rows(keys_of(Mark)), "a printed mark by which the card is found: two or more, or none", []),
    "patch": Key(rows(keys_of(CardPatch), least=1), "a place for paint or for the bare ground"),
    "neutral": Key(rows(keys_of(Neutral)), "a place for a neutral of known reflectance", []),
    "surround": Key(rows(RECT_KEYS), "a bare part of the card; uneven light is known from them", []),
    "chart": Key(section(RECT_KEYS), "the outer edge of a chart's 24 patches, if it lies on the card", None),
}

# The standard card, A6 lying on its long side: 5 mm of every edge are left free because few
# printers reach further; 1.4 mm around each mark are free because a mark is found by its white rim.
_BAND_X_MM, _BAND_WIDTH_MM, _BAND_HEIGHT_MM = 20.0, 108.0, 19.0
_BANDS_Y_MM: Final = {"black": 24.0, "white": 47.0}
_NEUTRALS_Y_MM: Final = 71.5
_NEUTRALS: Final = {"white": 0.88, "grey": 0.18, "black": 0.035}
_MARKS_AT_MM: Final = ((10.0, 10.0), (138.0, 10.0), (138.0, 95.0), (10.0, 95.0))

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
    """Return the layout of the card that ``layersim testcard`` prints.

    A6, lying: a black and a white band with one place for each count of coats between two places
    of bare ground, and three places for neutrals below. Cards for other counts than the usual ones bear
    other marks, so that a photograph of one is not read as another.

    `neutral_reflectance` is of the white, the grey and the black neutral that will lie on the card.
    Without it the usual ones of a grey-card set are assumed (common practice, no source); a measured
    value is always better. Raises ValueError unless there are one to six counts, each above 0 and
    another, and three reflectances.

    >>> [patch.name for patch in standard_card().patches][:5]
    ['black bare 1', 'black 0.5', 'black 1', 'black 2', 'black 4']
    """
    if not 1 <= len(coats) <= 6 or not all(0 < count <= MOST_COATS for count in coats):
        raise ValueError("expected one to six counts of coats, each above 0 and at most 100")
    if len(set(coats)) != len(coats):
        raise ValueError("a count of coats stands twice")
    values = list(_NEUTRALS.values()) if neutral_reflectance is None else list(neutral_reflectance)
    if len(values) != 3 or not all(0 < v <= 1 for v in values):
        raise ValueError("expected three reflectances, each above 0 and at most 1")
    columns = [("bare 1", 0.0), *((f"{count:g}", float(count)) for count in coats), ("bare 2", 0.0)]
    pitch = _BAND_WIDTH_MM / len(columns)
    patches = tuple(
        CardPatch(
            name=f"{ground} {label}",
            ground=ground,
            coats=count,
            rect=Rect(
                round(_BAND_X_MM + pitch * column + 2.0, 2),
                y + 1.5,
                round(pitch - 4.0, 2),
                _BAND_HEIGHT_MM - 3.0,
            ),
        )
        for ground, y in _BANDS_Y_MM.items()
        for column, (label, count) in enumerate(columns)
    )
    neutrals = tuple(
        Neutral(name, (float(value),) * BANDS, Rect(22.0 + 24.0 * i, _NEUTRALS_Y_MM, 20.0, 15.0))
        for i, (name, value) in enumerate(zip(_NEUTRALS, values, strict=True))
    )
    between = [y - 3.4 for y in _BANDS_Y_MM.values()] + [_BANDS_Y_MM["white"] + _BAND_HEIGHT_MM + 0.6]
    surround = (
        Rect(5.5, 17.5, 13.0, 70.0),
        Rect(129.5, 17.5, 13.0, 70.0),
        *(Rect(_BAND_X_MM + 1.0, y, _BAND_WIDTH_MM - 2.0, 2.8) for y in between),
    )
    return CardLayout(
        name="test card",
        width_mm=148.0,
        height_mm=105.0,
        marks=tuple(Mark(i, at, 10.0) for i, at in enumerate(_MARKS_AT_MM, start=_first_mark(coats))),
        patches=patches,
        neutrals=neutrals,
        surround=surround,
    )


def _first_mark(coats: Sequence[float]) -> int:
    """Return the number of the first of a card's four marks: 0 for the standard counts of coats."""
    if tuple(coats) == STANDARD_COATS:
        return 0
    checksum = zlib.crc32(" ".join(f"{count:g}" for count in coats).encode("ascii"))
    return _MARKS_A_CARD * (1 + checksum % (_SETS_OF_MARKS - 1))
