"""Tables of readings as text, with wavelengths down the first column or along a heading.

What is read:

- Columns stand between tabs, semicolons or commas. A name that holds one of these stands in double quotes.
- Wavelengths run down the first column, and the row above names the readings; or wavelengths run along a
  heading (``400``, ``400 nm``, ``R400``, ``SPECTRAL_NM400``) with one reading a row, its name before its
  numbers.
- Decimals have points, or commas where tabs or semicolons stand between the columns.
- Lines that begin with ``#`` are remarks, and so is what stands above the heading.

The second half of this module is shared with :mod:`layersim.measure.cgats`: there, too, fields of a
heading stand for wavelengths.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import Problem, SpectralFileError, nearest_hint
from layersim.measure.sheet import (
    FIRST_NM,
    LAST_NM,
    MOST_ROWS,
    Cell,
    Readings,
    lines_of,
    raise_problems,
    readings_of,
)
from layersim.spectra import FloatArray

_LEAST_NM: Final = 200.0
"""A number below this is no wavelength: it may be a reflectance in per cent."""
_MOST_NM: Final = 3000.0
_FEWEST: Final = 3
_SEPARATORS: Final = {"\t": "tabs", ";": "semicolons", ",": "commas"}

_FIELD: Final = re.compile(
    r"(?:SPECTRAL_NM|SPECTRAL_(?P<unit>DEC|PCT)|SPECTRAL|SPECTRUM|SPEC|NM|REFLECTANCE|REFL|R)?[_ ]*"
    r"(?P<nm>[0-9]{3,4}(?:[.,][0-9]*)?)[_ ]*(?:nm|\[nm\]|\(nm\))?",
    re.IGNORECASE,
)
_NAME_HEADINGS: Final = ("samplename", "name", "reading", "sample", "sampleid", "id")

Row = Sequence[Cell]


def read_plain(path: Path, text: str, *, names_from: str | None = None) -> tuple[list[Readings], list[str]]:
    """Return the readings of a table, and its remarks; `path` is for messages.

    `names_from` is the heading of the column that names the readings, where wavelengths run along the
    heading. Raises SpectralFileError with what is wrong in the table.
    """
    remarks, lines = [], []
    for number, line in enumerate(lines_of(text), start=1):
        if line.lstrip().startswith("#"):
            remarks.append(line.strip("# \t"))
        elif line.strip(" \t;,"):
            lines.append((number, line))
    if not lines:
        raise SpectralFileError(path, "this file has no readings; expected a table of them")
    if len(lines) > MOST_ROWS:
        raise SpectralFileError(
            path, f"{len(lines)} rows; expected at most {MOST_ROWS}, one for each wavelength or reading"
        )
    separator, first, is_down = _layout(path, [line for _, line in lines])
    rows = [_cells(path, line, number, separator) for number, line in lines]
    above = first - (is_down and first > 0 and len(rows[first - 1]) > 1)
    remarks += [" ".join(cell.text for cell in row) for row in rows[:above]]
    hint = "A decimal comma needs tabs or semicolons between the columns." if separator == "," else ""
    if not is_down:
        return [
            read_across(path, rows[first], rows[first + 1 :], names_from, by_first=True, hint=hint)
        ], remarks
    if names_from is not None:
        found = f'wavelengths, and "{names_from}" asked for as the column of names'
        expected = "no such request, since here the names stand in the heading"
        raise wrong(path, "the first column", found, expected, rows[first][0].line)
    return [_read_down(path, rows[above] if above < first else None, rows[first:], hint)], remarks


def _layout(path: Path, lines: list[str]) -> tuple[str, int, bool]:
    """Return what stands between columns, the first row with wavelengths, and whether they run down."""
    for separator in _SEPARATORS:
        table = [[_wavelength(cell.strip(' "')) for cell in line.split(separator)] for line in lines]
        down = [i for i, nm in enumerate(table) if len(nm) > 1 and nm[0] is not None]
        along = (i for i, nm in enumerate(table) if sum(one is not None for one in nm) >= _FEWEST)
        across = next(along, len(lines))
        if len(down) >= _FEWEST and down[0] <= across:
            return separator, down[0], True
        if across < len(lines):
            return separator, across, False
    expected = f"wavelengths from {FIRST_NM:g} to {LAST_NM:g} nm down the first column or along a heading, "
    expected += "with tabs, semicolons or commas between the columns"
    raise wrong(path, "the file", "no wavelengths", expected)


def _cells(path: Path, line: str, number: int, separator: str) -> Row:
    try:
        parted = next(csv.reader([line.strip(" ")], delimiter=separator, skipinitialspace=True, strict=True))
    except csv.Error as fault:
        found, expected = f"what cannot be parted into columns ({fault})", _SEPARATORS[separator]
        expected = f"{expected} between columns, and quotes in pairs"
        raise wrong(path, "this row", found, expected, number) from None
    while len(parted) > 1 and not parted[-1].strip():
        parted.pop()
    # One space for many: names do not differ by spaces.
    return [Cell(" ".join(text.split()), number, column) for column, text in enumerate(parted, start=1)]


def _read_down(path: Path, heading: Row | None, rows: Sequence[Row], hint: str) -> Readings:
    width = len(heading or rows[0])
    if heading is None and width > 2:
        found, expected = f"{width} columns and no heading above them", "a row above that names the readings"
        raise wrong(path, "this row", found, expected, rows[0][0].line)
    check_widths(path, rows, width, width, whose="the heading" if heading else "the first row", hint=hint)
    names = [Cell(path.stem or "reading", 0, 2)] if heading is None else heading[1:]
    nm = [_wavelength(row[0].text) for row in rows]
    if problems := [
        Problem("column 1", f'"{row[0].text}"', "a wavelength in nm", row[0].line)
        for row, value in zip(rows, nm, strict=True)
        if value is None
    ]:
        raise_problems(path, problems)
    heads, *cells = zip(*rows, strict=True)
    return readings_of(path, _named(path, names), np.array(nm, dtype=np.float64), heads, cells, {})


def _named(path: Path, names: Row) -> list[str]:
    for cell in names:
        if not cell.text:
            raise wrong(path, f"column {cell.column}", "no name", "a name for the reading", cell.line)
    return [cell.text for cell in names]


# --- wavelengths along a heading, here and in CGATS.17 --------------------------------------


def wrong(
    path: Path, where: str, found: str, expected: str, line: int | None = None, hint: str = ""
) -> SpectralFileError:
    """Return the complaint about one thing in a file."""
    return SpectralFileError(path, [Problem(where, found, expected, line, hint)])


def _wavelength(text: str) -> float | None:
    match = _FIELD.fullmatch(text)
    nm = float(match["nm"].replace(",", ".")) if match else 0.0
    return nm if _LEAST_NM <= nm <= _MOST_NM else None


def spectral_columns(heading: Row) -> tuple[list[int], FloatArray, set[str]]:
    """Return which columns stand for wavelengths, the wavelengths in nm, and units said: PCT, DEC."""
    found = {k: nm for k, cell in enumerate(heading) if (nm := _wavelength(cell.text))}
    units = {match["unit"] for k in found if (match := _FIELD.fullmatch(heading[k].text.upper()))}
    return list(found), np.array(list(found.values())), units - {None}


def check_widths(path: Path, rows: Sequence[Row], least: int, most: int, *, whose: str, hint: str) -> None:
    """Raise SpectralFileError if a row has fewer columns than `least` or more than `most`."""
    if ragged := [
        Problem("this row", f"{len(row)} columns", f"{most}, as in {whose}", row[0].line)
        for row in rows
        if not least <= len(row) <= most
    ]:
        raise_problems(path, ragged, hint=hint)


def read_across(
    path: Path,
    heading: Row,
    rows: Sequence[Row],
    names_from: str | None,
    *,
    by_first: bool = False,
    nm: FloatArray | None = None,
    stated: Mapping[float, str] | None = None,
    hint: str = "",
) -> Readings:
    """Return the readings of a table with one reading a row, its wavelengths along the heading.

    `nm` are those wavelengths where they are known better than the heading says. Where no heading is known to
    stand for names, the first column names the readings if `by_first` says so and if it is not itself a
    wavelength. `hint` is for rows of another length.
    """
    columns, named_nm, _ = spectral_columns(heading)
    if not rows:
        raise wrong(path, "the table", "a heading and no readings", "a row for each reading", heading[0].line)
    if gaps := set(range(columns[0], columns[-1])) - set(columns):
        cell = heading[min(gaps)]
        raise wrong(path, f"column {cell.column}", f'"{cell.text}"', "a wavelength in nm", cell.line)
    check_widths(path, rows, columns[-1] + 1, len(heading), whose="the heading", hint=hint)
    names = _names(path, heading, rows, columns, names_from, by_first=by_first)
    heads, *cells = ([row[k] for k in columns] for row in (heading, *rows))
    return readings_of(path, names, named_nm if nm is None else nm, heads, cells, stated or {})


def _names(
    path: Path,
    heading: Row,
    rows: Sequence[Row],
    columns: Sequence[int],
    names_from: str | None,
    *,
    by_first: bool,
) -> list[str]:
    labels = {k: cell.text for k, cell in enumerate(heading) if k not in columns}
    keys = {_key(label): k for k, label in reversed(labels.items())}
    known = _NAME_HEADINGS if names_from is None else (_key(names_from),)
    chosen = [keys[key] for key in known if key in keys]
    if names_from is not None and not chosen:
        hint = nearest_hint(names_from, filter(None, labels.values()), kind="columns")
        found, expected = f'no column "{names_from}"', "the column that names the readings"
        raise wrong(path, "the heading", found, expected, heading[0].line, hint)
    if not chosen and by_first and 0 in labels:
        chosen = [0]
    if not chosen:
        return [f"row {i}" for i in range(1, len(rows) + 1)]
    # Where a name is empty, the identity beside it serves.
    said = [[row[k] for k in chosen if k < len(row) and row[k].text] for row in rows]
    lost = [Cell("", row[0].line, chosen[0] + 1) for row in rows]
    return _named(path, [cells[0] if cells else none for cells, none in zip(said, lost, strict=True)])


def _key(label: str) -> str:
    return re.sub(r"[ _]", "", label.casefold())
