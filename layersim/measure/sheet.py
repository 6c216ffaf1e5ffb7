"""The numbers of a spectral file as they stand there, with the place of each.

What every format shares before units matter: getting at the text, reading one number, and the
words that say how the instrument looked at the sample. The formats themselves are in
:mod:`layersim.measure.plain` and :mod:`layersim.measure.cgats`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal, NamedTuple, NoReturn

import numpy as np

from layersim.errors import Problem, SpectralFileError
from layersim.files import no_plain_text, read_bytes
from layersim.spectra import FloatArray

Unit = Literal["fraction", "per cent"]
Specular = Literal["included", "excluded"]

FIRST_NM: Final = 360.0
LAST_NM: Final = 780.0
"""Ends of the visible range in ASTM E308; readings beyond them are passed over."""

MOST_ROWS: Final = 10_000
"""More rows than this are neither a spectrum, wavelength by wavelength, nor anybody's swatches."""

MOST_PROBLEMS: Final = 8
"""A file that is wrong throughout needs no more lines than this to be understood."""


class Cell(NamedTuple):
    """One cell of a file, with its place, counted from 1."""

    text: str
    line: int
    column: int


@dataclass(frozen=True, eq=False)
class Readings:
    """Some readings at common wavelengths, in the order and units of the file."""

    names: tuple[str, ...]
    """One a reading; repeats of one swatch share theirs."""
    wavelengths_nm: FloatArray
    """Shape (m,), nm."""
    values: FloatArray
    """Shape (n, m)."""
    heads: Sequence[Cell]
    """Where the wavelengths stand."""
    cells: Sequence[Sequence[Cell]]
    """Where the values stand: m cells for each of n readings."""
    stated: Mapping[float, str]
    """The values of a perfect white (100: per cent) that the file states, and in words what states each."""


def place(cell: Cell, name: str = "") -> str:
    """Return the words for a place in a file; the line itself is told apart (:class:`Problem`).

    >>> place(Cell("0.5", 3, 2), "white")
    'column 2, reading "white"'
    """
    return f"column {cell.column}" + (f', reading "{name}"' if name else "")


# Decimals with a point or a comma, never both: a thousands separator is not worth a wrong reading.
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*|,[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?")


def as_number(text: str) -> float | None:
    """Return the number in a cell, such as ``0.12``, ``0,12`` or ``1.2e-1``.

    None where there is none, or more than one, or one too large to be had.

    >>> as_number("0,12"), as_number("1.234,5"), as_number("nan")
    (0.12, None, None)
    """
    bare = text.strip().replace("−", "-")
    number = float(bare.replace(",", ".")) if _NUMBER.fullmatch(bare) else math.inf
    return number if math.isfinite(number) else None


def readings_of(
    path: Path,
    names: Sequence[str],
    nm: FloatArray,
    heads: Sequence[Cell],
    cells: Sequence[Sequence[Cell]],
    stated: Mapping[float, str],
) -> Readings:
    """Return the numbers in `cells`, one row a name and one column a wavelength, in the visible range.

    Raises SpectralFileError if a cell holds no number.
    """
    keep = np.flatnonzero((nm >= FIRST_NM) & (nm <= LAST_NM)).tolist()
    seen = [[row[k] for k in keep] for row in cells]
    numbers = [[as_number(cell.text) for cell in row] for row in seen]
    if problems := [
        Problem(place(cell, name), f'"{_short(cell.text)}"' if cell.text.strip() else "an empty cell",
                "a number", cell.line)
        for name, row, found in zip(names, seen, numbers, strict=True)
        for cell, number in zip(row, found, strict=True)
        if number is None
    ]:  # fmt: skip
        raise_problems(path, problems)
    values = np.array(numbers, dtype=np.float64).reshape(len(names), len(keep))
    return Readings(tuple(names), nm[keep], values, [heads[k] for k in keep], seen, stated)


def raise_problems(path: Path, problems: list[Problem], *, hint: str = "") -> NoReturn:
    """Raise the first few problems of a spectral file and say how many more there are.

    There is at least one of `problems`; `hint` is a last sentence of help, or empty. Raises
    SpectralFileError.
    """
    shown = problems[:MOST_PROBLEMS]
    if more := len(problems) - len(shown):
        hint = f"And {more} more like these. {hint}".rstrip()
    raise SpectralFileError(path, [*shown[:-1], replace(shown[-1], hint=hint or shown[-1].hint)])


def spectral_text(path: Path) -> str:
    """Return the text of a spectral file, in UTF-8 or one of the older encodings instruments write.

    Raises SpectralFileError if the file cannot be read, is empty, too large or not text.
    """
    raw = read_bytes(path, what="spectral", error=SpectralFileError)
    if not raw.strip():
        raise SpectralFileError(path, "this file is empty; expected readings as text")
    if raw.startswith((b"PK", b"\xd0\xcf\x11\xe0")):
        raise SpectralFileError(path, "this is a spreadsheet or archive; export it as text (csv)")
    if kind := no_plain_text(raw):
        raise SpectralFileError(path, f"this is {kind}; expected readings as text")
    wide = raw.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        text = raw.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError:
        # Latin-1 gives every byte a letter; what was no text shows by its control characters.
        text = raw.decode("latin-1")
    if control := _CONTROL.search(text):
        line = text.count("\n", 0, control.start()) + 1
        raise SpectralFileError(
            path, f"line {line}: byte {ord(control[0]):#04x}: this is not text; expected readings as text"
        )
    return text


def lines_of(text: str) -> list[str]:
    """Return the lines of a text as editors number them."""
    return re.split(r"\r\n|\r|\n", text)


_INCLUDED: Final = re.compile(
    r"(?i:specular[\w\s:=-]{0,20}incl)|\bSCI\b|\bSPIN\b|\bRSIN\b|\b(?i:di)\s?[:/]\s?8\b"
)
_EXCLUDED: Final = re.compile(
    r"(?i:specular[\w\s:=-]{0,20}excl)|\bSCE\b|\bSPEX\b|\bRSEX\b|\b(?i:de)\s?[:/]\s?8\b"
    r"|(?<![\d.])45\s?°?[acx]?\s?[:/]\s?0(?![\d.])|(?<![\d.])0\s?°?\s?[:/]\s?45(?![\d.])"
)


def specular_said(remarks: Sequence[str]) -> set[Specular]:
    """Return whether the remarks say that the surface's mirror reflection was included or excluded.

    By the words themselves, by instruments' short forms (SCI, SCE), or by a geometry of CIE 15:2004
    that settles it: di:8 includes it, de:8, 45:0 and 0:45 exclude it (d:8 alone leaves it open).

    Empty where nothing is said; both where the remarks contradict each other.

    >>> specular_said(("geometry d/8, specular component included",))
    {'included'}
    >>> specular_said(("45°/0°",)), specular_said(("d/8",))
    ({'excluded'}, set())
    """
    said: set[Specular] = set()
    if any(_INCLUDED.search(remark) for remark in remarks):
        said.add("included")
    if any(_EXCLUDED.search(remark) for remark in remarks):
        said.add("excluded")
    return said


_CONTROL: Final = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")


def _short(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 40 else text[:37] + "..."
