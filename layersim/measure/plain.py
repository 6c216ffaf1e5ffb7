"""Tables of spectra, as instruments' programs and spreadsheets export them.

- Columns stand between tabs, semicolons or commas. A name that holds one of these stands in double quotes.
- Wavelengths run down the first column, and the row above names the readings; or wavelengths run along a
  heading (``400``, ``400 nm``, ``R400``, ``SPECTRAL_NM400``) with one reading a row, its name before its
  numbers.
- Decimals have points, or commas where tabs or semicolons stand between the columns.
- Lines that begin with ``#`` are remarks, and so is what stands above the heading.
- The unit is known from per cent signs after numbers or names (``white (%)``), or from a remark such as
  ``unit: per cent`` or ``unit: fraction``.

The second half of this module is shared with :mod:`layersim.measure.cgats`: there, too, fields of a
heading stand for wavelengths.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.errors import Problem, SpectralFileError, nearest_hint
from layersim.measure.sheet import (
    FIRST_NM,
    LAST_NM,
    MOST_ROWS,
    Contents,
    Numbers,
    Readings,
    as_number,
    lines_of,
    raise_problems,
)

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
_UNIT: Final = re.compile(r"\s*(?:[\[(]\s*(?:(%|per ?cent)|fraction|1|-)\s*[\])]|(%))\s*$", re.IGNORECASE)
_UNIT_REMARK: Final = re.compile(r"\bunits?\b\s*[:=]?\s*[\"']?(%|per ?cent|fraction)", re.IGNORECASE)
_NAME_HEADINGS: Final = ("samplename", "name", "reading", "sample", "sampleid", "id")


@dataclass(frozen=True)
class Line:
    """The cells of one line, which is counted from 1."""

    line: int
    cells: list[str]


Nm = npt.NDArray[np.float64]
At = tuple[npt.ArrayLike, npt.ArrayLike]
Stated = dict[float, str]
"""The full scale that a file states, 100 or 1, and the words that state it."""


@dataclass(frozen=True)
class PlainTable:
    """A heading, the rows under it, and what its file and its reader say of them."""

    path: Path
    heading: Line
    rows: list[Line]
    stated: Stated
    names_from: str | None
    """Heading of the column that names the readings, where somebody asks for one."""


def read_plain(path: Path, text: str, *, names_from: str | None = None) -> Contents:
    """Return the readings of a table; `path` is for messages.

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
    rows = [Line(number, _cells(path, line, number, separator)) for number, line in lines]
    above = first - (is_down and first > 0 and len(rows[first - 1].cells) > 1)
    remarks += [" ".join(row.cells) for row in rows[:above]]
    hint = "A decimal comma needs tabs or semicolons between the columns." if separator == "," else ""
    stated: Stated = {}
    for remark in remarks:
        if said := _UNIT_REMARK.search(remark):
            stated.setdefault(1.0 if said[1].lower() == "fraction" else 100.0, f'the remark "{remark}"')
    if not is_down:
        table = PlainTable(path, rows[first], rows[first + 1 :], stated, names_from)
        columns, nm, _ = spectral_columns(rows[first].cells)
        sheet = read_across(table, columns, nm, first_names=True, hint=hint)
    elif names_from is None:
        sheet = _read_down(path, rows[above] if above < first else None, rows[first:], stated, hint)
    else:
        found = f'wavelengths, and "{names_from}" asked for as the column of names'
        expected = "no such request, since here the names stand in the heading"
        raise wrong(path, "the first column", found, expected, rows[first].line)
    return Contents((sheet,), remarks=tuple(remarks))


def _layout(path: Path, lines: list[str]) -> tuple[str, int, bool]:
    """Return what stands between columns, the first row with wavelengths, and whether they run down."""
    for separator in _SEPARATORS:
        table = [[cell.strip(' "') for cell in line.split(separator)] for line in lines]
        down = [i for i, cells in enumerate(table) if len(cells) > 1 and _wavelength(cells[0]) is not None]
        along = (i for i, cells in enumerate(table) if sum(map(_is_wavelength, cells)) >= _FEWEST)
        across = next(along, len(lines))
        if len(down) >= _FEWEST and down[0] <= across:
            return separator, down[0], True
        if across < len(lines):
            return separator, across, False
    words = [re.split(r"[\s;,]+", line.strip()) for line in lines]
    starts = [value for cells in words if (value := as_number(cells[0])) is not None]
    heading = [value for cell in words[0] if (value := as_number(cell)) is not None]
    hint = _other_unit("first column", starts) or _other_unit("heading", heading)
    if not hint and sum(map(_is_wavelength, (cells[0] for cells in words))) >= _FEWEST:
        hint = "Put tabs, semicolons or commas between the columns; spaces may stand in names."
    expected = f"wavelengths from {FIRST_NM:g} to {LAST_NM:g} nm down the first column or along a heading, "
    expected += "with tabs, semicolons or commas between the columns"
    raise wrong(path, "the file", "no wavelengths", expected, hint=hint)


def _other_unit(where: str, numbers: list[float]) -> str:
    """Return a hint where numbers look like wavelengths in another unit."""
    steps = np.diff(numbers)
    if len(numbers) < _FEWEST or not ((steps > 0).all() or (steps < 0).all()):
        return ""
    if all(0.2 <= value <= 3.0 for value in numbers):
        return f"The {where} looks like micrometres: multiply it by 1000."
    if all(_MOST_NM < value <= 30000.0 for value in numbers):
        return f"The {where} looks like ångströms: divide it by 10."
    return ""


def _cells(path: Path, line: str, number: int, separator: str) -> list[str]:
    try:
        parted = next(csv.reader([line.strip(" ")], delimiter=separator, skipinitialspace=True, strict=True))
    except csv.Error as fault:
        found, expected = f"what cannot be parted into columns ({fault})", _SEPARATORS[separator]
        expected = f"{expected} between columns, and quotes in pairs"
        raise wrong(path, "this row", found, expected, number) from None
    # One space for many: names do not differ by spaces.
    cells = [" ".join(cell.split()) for cell in parted]
    while len(cells) > 1 and not cells[-1]:
        cells.pop()
    return cells


def _read_down(path: Path, heading: Line | None, rows: list[Line], stated: Stated, hint: str) -> Readings:
    width = len((heading or rows[0]).cells)
    if heading is None and width > 2:
        found, expected = f"{width} columns and no heading above them", "a row above that names the readings"
        raise wrong(path, "this row", found, expected, rows[0].line)
    whose = "the heading" if heading else "the first row"
    check_widths(path, rows, width, width, whose=whose, hint=hint)
    names = [path.stem or "reading"]
    if heading is not None:
        names = [_without_unit(cell, stated) for cell in heading.cells[1:]]
        if "" in names:
            column = names.index("") + 2
            raise wrong(path, f"column {column}", "no name", "a name for the reading", heading.line)
    nm = [_wavelength(row.cells[0]) for row in rows]
    if problems := [
        Problem("column 1", f'"{row.cells[0]}"', "a wavelength in nm", row.line)
        for row, value in zip(rows, nm, strict=True)
        if value is None
    ]:
        raise_problems(path, problems)
    lines = np.array([row.line for row in rows])
    cells = list(zip(*(row.cells[1:] for row in rows), strict=True))
    at = (lines, np.arange(2, width + 1)[:, np.newaxis])
    return sheet_of(
        path, names, np.array(nm, dtype=np.float64), cells, at=at, nm_at=(lines, 1), stated=stated
    )


def _without_unit(label: str, stated: Stated) -> str:
    """Return a heading without the unit at its end, which is noted."""
    if unit := _UNIT.search(label):
        stated.setdefault(100.0 if unit[1] or unit[2] else 1.0, f'the heading "{label}"')
        return label[: unit.start()]
    return label


# --- wavelengths along a heading, here and in CGATS.17 --------------------------------------


def wrong(
    path: Path, where: str, found: str, expected: str, line: int | None = None, hint: str = ""
) -> SpectralFileError:
    """Return the complaint about one thing in a file."""
    return SpectralFileError(path, [Problem(where, found, expected, line, hint)])


def _wavelength(cell: str) -> float | None:
    match = _FIELD.fullmatch(cell)
    nm = float(match["nm"].replace(",", ".")) if match else 0.0
    return nm if _LEAST_NM <= nm <= _MOST_NM else None


def _is_wavelength(cell: str) -> bool:
    return _wavelength(cell) is not None


def spectral_columns(heading: list[str]) -> tuple[list[int], Nm, set[str]]:
    """Return which columns stand for wavelengths, the wavelengths in nm, and units said: PCT, DEC."""
    found = [(k, nm, _FIELD.fullmatch(cell)) for k, cell in enumerate(heading) if (nm := _wavelength(cell))]
    units = {match["unit"].upper() for *_, match in found if match and match["unit"]}
    return [k for k, *_ in found], np.array([nm for _, nm, _ in found]), units


def check_widths(path: Path, rows: list[Line], least: int, most: int, *, whose: str, hint: str) -> None:
    """Raise SpectralFileError if a row has fewer columns than `least` or more than `most`."""
    ragged = [
        Problem("this row", f"{len(row.cells)} columns", f"{most}, as in {whose}", row.line)
        for row in rows
        if not least <= len(row.cells) <= most
    ]
    if ragged:
        raise_problems(path, ragged, hint=hint)


def read_across(
    table: PlainTable, columns: list[int], nm: Nm, *, first_names: bool, hint: str = ""
) -> Readings:
    """Return the readings of a table with one reading a row; `columns` hold its numbers at `nm`.

    Where no heading is known to stand for names, the first column names the readings if
    `first_names` says so and if it is not itself a wavelength. `hint` is for rows of another length.
    """
    path, heading, rows = table.path, table.heading, table.rows
    if not rows:
        raise wrong(path, "the table", "a heading and no readings", "a row for each reading", heading.line)
    if gaps := set(range(columns[0], columns[-1])) - set(columns):
        found = f'"{heading.cells[min(gaps)]}"'
        raise wrong(path, f"column {min(gaps) + 1}", found, "a wavelength in nm", heading.line)
    check_widths(path, rows, columns[-1] + 1, len(heading.cells), whose="the heading", hint=hint)
    names = names_of(table, columns, first_names=first_names)
    cells = [[row.cells[k] for k in columns] for row in rows]
    places = np.array(columns) + 1
    at = (np.array([row.line for row in rows])[:, np.newaxis], places)
    return sheet_of(path, names, nm, cells, at=at, nm_at=(heading.line, places), stated=table.stated)


def names_of(table: PlainTable, columns: list[int], *, first_names: bool) -> list[str]:
    """Return the readings' names, from the columns that hold no numbers; see :func:`read_across`."""
    heading, wanted = table.heading, table.names_from
    labels = {k: _without_unit(c, table.stated) for k, c in enumerate(heading.cells) if k not in set(columns)}
    keys = {re.sub(r"[ _]", "", label.casefold()): k for k, label in reversed(labels.items())}
    known = _NAME_HEADINGS if wanted is None else (re.sub(r"[ _]", "", wanted.casefold()),)
    chosen = [keys[key] for key in known if key in keys]
    if wanted is not None and not chosen:
        hint = nearest_hint(wanted, [label for label in labels.values() if label], kind="columns")
        found, expected = f'no column "{wanted}"', "the column that names the readings"
        raise wrong(table.path, "the heading", found, expected, heading.line, hint)
    if not chosen and first_names and 0 in labels:
        chosen = [0]
    if not chosen:
        return [f"row {i}" for i in range(1, len(table.rows) + 1)]
    names = [next((c for k in chosen for c in row.cells[k : k + 1] if c), "") for row in table.rows]
    if "" in names:
        line = table.rows[names.index("")].line
        raise wrong(table.path, f"column {chosen[0] + 1}", "no name", "a name for the reading", line)
    return names


def sheet_of(
    path: Path,
    names: Sequence[str],
    nm: Nm,
    cells: Sequence[Sequence[str]],
    *,
    at: At,
    nm_at: At,
    stated: Stated,
) -> Readings:
    """Return the numbers in `cells`, one row a name and one column a wavelength, in the visible range.

    `at` says in which lines and columns the cells stand, `nm_at` in which the wavelengths do; each is
    broadcast. Raises SpectralFileError if a cell holds no number or two units are stated.
    """
    keep = np.flatnonzero((nm >= FIRST_NM) & (nm <= LAST_NM))
    shape = (len(names), nm.size)
    lines, columns = (np.broadcast_to(places, shape)[:, keep] for places in at)
    numbers = Numbers(path)
    values = np.empty((len(names), keep.size))
    for i, j in np.ndindex(values.shape):
        line, column = int(lines[i, j]), int(columns[i, j])
        values[i, j] = numbers.value(cells[i][int(keep[j])], line=line, column=column, name=names[i])
    numbers.finish()
    if numbers.percent_signs:
        stated.setdefault(100.0, "the % signs")
    if len(stated) > 1:
        raise SpectralFileError(
            path,
            f"the unit is stated twice: per cent ({stated[100.0]}) and fraction ({stated[1.0]}); "
            "expected one of them",
        )
    full_scale, stated_by = next(iter(stated.items()), (None, ""))
    return Readings(
        names=tuple(names),
        wavelengths_nm=nm[keep],
        values=values,
        lines=lines,
        columns=columns,
        wavelength_lines=np.broadcast_to(nm_at[0], nm.shape)[keep],
        wavelength_columns=np.broadcast_to(nm_at[1], nm.shape)[keep],
        full_scale=full_scale,
        stated_by=stated_by,
    )
