"""Plain tables of spectra: a spreadsheet's export, or numbers typed by hand.

What is understood
------------------
- Columns are parted by tabs, semicolons, commas or spaces. Decimals have points, or commas where
  columns are not parted by commas.
- Wavelengths run down the first column, the readings' names along a heading; or they run along a
  heading (``400``, ``400 nm``, ``R400``) with a reading a row, its name before its numbers.
- Lines that begin with ``#``, ``//`` or ``!`` are remarks; so is what follows `` #`` in a row of numbers,
  and rows above the heading that have another number of columns.
- A per cent sign after a name or in a row of units states the unit, and so does a remark such as
  ``unit: per cent`` or ``unit: fraction``.

Anything that could be taken two ways is refused.
"""

from __future__ import annotations

import csv
import itertools
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import Problem, SpectralFileError, nearest_hint
from layersim.measure.sheet import (
    FIRST_NM,
    LAST_NM,
    MOST_ROWS,
    Contents,
    Numbers,
    Sheet,
    as_number,
    lines_of,
    raise_problems,
)

# What a number must be to stand for a wavelength: beyond any reflectance in per cent, and as far
# as the widest instruments go.
_LEAST_NM: Final = 200.0
_MOST_NM: Final = 3000.0
_FEWEST: Final = 3

_HEADED_NM: Final = re.compile(
    r"(?:(?:nm|r|refl|reflectance|spectral|spectral_nm|wl|wavelength|lambda|λ)[ _]*)?"
    r"([0-9]{3,4}(?:[.,][0-9]*)?)[ _]*(?:nm|\[nm\]|\(nm\))?",
    re.IGNORECASE,
)
_PER_CENT: Final = re.compile(r"\s*(?:[\[(]\s*(?:%|per ?cent)\s*[\])]|%)\s*$", re.IGNORECASE)
_FRACTION: Final = re.compile(r"\s*[\[(]\s*(?:fraction|1|-)\s*[\])]\s*$", re.IGNORECASE)
_UNIT_REMARK: Final = re.compile(r"\bunits?\b\s*[:=]?\s*[\"']?(%|per ?cent|fraction)", re.IGNORECASE)
_PER_CENT_WORDS: Final = {
    word for unit in ("%", "percent", "per cent") for word in (unit, f"[{unit}]", f"({unit})")
}
_FRACTION_WORDS: Final = {"fraction", "[fraction]", "(fraction)", "[-]", "(-)", "[1]", "(1)"}
_UNIT_WORDS: Final = _PER_CENT_WORDS | _FRACTION_WORDS | {"nm", "[nm]", "(nm)", ""}
_NAME_HEADINGS: Final = ("sample_name", "sample name", "name", "reading", "sample", "sample_id", "id")


@dataclass
class _Row:
    line: int
    cells: list[str]


@dataclass
class _Table:
    path: Path
    separator: str
    rows: list[_Row]
    remarks: list[str]
    stated: dict[float, str] = field(default_factory=dict)
    """Full scales stated, 100 or 1, and what states each."""

    def state(self, full_scale: float, by: str) -> None:
        self.stated.setdefault(full_scale, by)

    def full_scale(self) -> tuple[float | None, str]:
        for remark in self.remarks:
            if said := _UNIT_REMARK.search(remark):
                self.state(1.0 if said[1].lower() == "fraction" else 100.0, f'the remark "{remark.strip()}"')
        if len(self.stated) == 2:
            raise SpectralFileError(
                self.path,
                f"the unit is stated twice: per cent ({self.stated[100.0]}) "
                f"and fraction ({self.stated[1.0]}); expected one of them",
            )
        return next(iter(self.stated.items()), (None, ""))


def read_plain(path: Path, text: str, *, names_from: str | None = None) -> Contents:
    """Return the readings of a plain table.

    Parameters
    ----------
    path : Path
        For messages.
    text : str
    names_from : str, optional
        Heading of the column that names the readings, where wavelengths run along the heading.

    Returns
    -------
    Contents

    Raises
    ------
    SpectralFileError
        With what is wrong in the table.
    """
    table = _split(path, text)
    down = [i for i, row in enumerate(table.rows) if _wavelength(row.cells[0]) is not None]
    across = next(
        (i for i, row in enumerate(table.rows) if sum(map(_is_headed_nm, row.cells)) >= _FEWEST), None
    )
    if len(down) >= _FEWEST and (across is None or down[0] <= across):
        if names_from is not None:
            raise SpectralFileError(
                path,
                f'names are asked for from "{names_from}", but wavelengths run down this table, '
                "so the names stand in its heading; leave the request out",
            )
        sheet = _read_down(table, down[0])
    elif across is not None:
        sheet = _read_across(table, across, names_from)
    else:
        raise SpectralFileError(path, [_no_wavelengths(table)])
    return Contents((sheet,), remarks=tuple(table.remarks))


# --- rows and cells -------------------------------------------------------------------------


def _split(path: Path, text: str) -> _Table:
    remarks, lines = [], []
    for number, line in enumerate(lines_of(text), start=1):
        bare = line.strip()
        if bare.startswith(("#", "//", "!")):
            remarks.append(" ".join(bare.lstrip("#/! ").split()))
        elif bare:
            lines.append((number, _without_remark(line.rstrip())))
    if not lines:
        raise SpectralFileError(path, "this file has remarks and no readings")
    if len(lines) > MOST_ROWS:
        raise SpectralFileError(
            path, f"{len(lines)} rows; expected at most {MOST_ROWS}, a wavelength or a reading each"
        )
    separator = _separator([line for _, line in lines])
    rows = [_Row(number, _cells(path, line, number, separator)) for number, line in lines]
    rows = [row for row in rows if any(row.cells)]
    if not rows:
        raise SpectralFileError(path, "this file has no readings, only separators")
    return _Table(path, separator, rows, remarks)


def _without_remark(line: str) -> str:
    """Return a row of numbers without the remark at its end; a heading may have a # in its names."""
    bare = line.lstrip()
    mark = re.search(r"\s#", line) if bare[0].isdigit() or bare[0] in "+-." else None
    return line if mark is None or '"' in line[mark.start() :] else line[: mark.start()].rstrip()


def _separator(lines: list[str]) -> str:
    """Return what parts the columns: the first of tab, semicolon, comma, space that most rows bear out."""
    bare = [re.sub(r'"[^"]*"', '""', line) for line in lines]
    data = [line for line in bare if len(re.findall(r"[0-9]+(?:\.[0-9]+)?", line)) >= 2] or bare

    def most(rows: list[bool]) -> bool:
        return 2 * sum(rows) > len(data)

    for separator in "\t;":
        if most([separator in line for line in data]):
            return separator
    commas = [line for line in data if "," in line]
    decimal = [sum(as_number(token) is not None for token in line.split()) >= 2 for line in commas]
    return "," if most(["," in line for line in data]) and 2 * sum(decimal) <= len(decimal) else " "


_TOKEN: Final = re.compile(r'"([^"]*)"(?=\s|$)|\'([^\']*)\'(?=\s|$)|(\S+)')


def _cells(path: Path, line: str, number: int, separator: str) -> list[str]:
    if line.count('"') % 2:
        raise SpectralFileError(
            path, [Problem("this row", "a quote that is opened and not closed", "quotes in pairs", number)]
        )
    if separator == " ":
        cells = [match[1] or match[2] or match[3] or "" for match in _TOKEN.finditer(line)]
    else:
        try:
            cells = next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
        except csv.Error as fault:
            raise SpectralFileError(
                path,
                [Problem("this row", f"what cannot be parted into columns ({fault})", "a table", number)],
            ) from None
        cells = [_unquoted(cell.strip()) for cell in cells]
    # One space for many: names do not differ by spaces, and patterns need not look past thousands.
    cells = [" ".join(cell.split()) for cell in cells]
    while len(cells) > 1 and not cells[-1]:
        cells.pop()
    return cells


def _unquoted(cell: str) -> str:
    return cell[1:-1].strip() if len(cell) >= 2 and cell[0] == cell[-1] and cell[0] in "'\"" else cell


def _wavelength(cell: str) -> float | None:
    value = None if cell.endswith("%") else as_number(cell)
    return value if value is not None and _LEAST_NM <= value <= _MOST_NM else None


def _headed_nm(cell: str) -> float | None:
    match = _HEADED_NM.fullmatch(cell)
    return _wavelength(match[1]) if match else None


def _is_headed_nm(cell: str) -> bool:
    return _headed_nm(cell) is not None


def _no_wavelengths(table: _Table) -> Problem:
    down = [value for row in table.rows if (value := as_number(row.cells[0])) is not None]
    along = [value for cell in table.rows[0].cells if (value := as_number(cell)) is not None]
    return Problem(
        "the file",
        "no wavelengths",
        f"wavelengths from {FIRST_NM:g} to {LAST_NM:g} nm down the first column or along a heading",
        None,
        _other_unit("first column", down) or _other_unit("heading", along),
    )


def _other_unit(where: str, numbers: list[float]) -> str:
    """Return a hint where numbers look like wavelengths in another unit."""
    if len(numbers) < _FEWEST:
        return ""
    rises = all(a < b for a, b in itertools.pairwise(numbers)) or all(
        a > b for a, b in itertools.pairwise(numbers)
    )
    if rises and all(0.2 <= value <= 3.0 for value in numbers):
        return f"The {where} looks like micrometres: multiply it by 1000."
    if rises and all(_MOST_NM < value <= 30000.0 for value in numbers):
        return f"The {where} looks like ångströms: divide it by 10."
    return ""


# --- wavelengths down -----------------------------------------------------------------------


def _read_down(table: _Table, first: int) -> Sheet:
    rows = table.rows[first:]
    width = _width_down(table, rows)
    above = table.rows[:first]
    while above and _is_unit_row(above[-1]):
        _state_unit_row(table, above.pop())
    names, heading = _names_down(table, above, width)
    table.remarks += [" ".join(row.cells) for row in above if row is not heading]
    ragged = [
        Problem("this row", f"{len(row.cells)} columns", f"{width}, as in the other rows", row.line)
        for row in rows
        if len(row.cells) != width
    ]
    if ragged:
        raise_problems(table.path, ragged, hint=_ragged_hint(table))
    numbers = Numbers(table.path)
    nm = np.array([numbers.value(row.cells[0], line=row.line, column=1) for row in rows])
    keep = [i for i, value in enumerate(nm) if not value < FIRST_NM and not value > LAST_NM]
    values = np.array(
        [
            [numbers.value(rows[i].cells[k + 1], line=rows[i].line, column=k + 2, name=name) for i in keep]
            for k, name in enumerate(names)
        ]
    )
    numbers.finish()
    if numbers.percent_signs:
        table.state(100.0, "the % signs")
    _refuse_decimal_commas(table, [rows[i].cells for i in keep], headed=heading is not None)
    shape = values.shape
    lines = np.array([rows[i].line for i in keep], dtype=np.int64)
    full_scale, stated_by = table.full_scale()
    return Sheet(
        names=names,
        wavelengths_nm=nm[keep],
        values=values,
        lines=np.broadcast_to(lines, shape),
        columns=np.broadcast_to(np.arange(len(names))[:, None] + 2, shape),
        wavelength_lines=lines,
        wavelength_columns=np.ones_like(lines),
        full_scale=full_scale,
        stated_by=stated_by,
    )


def _width_down(table: _Table, rows: list[_Row]) -> int:
    widths = [len(row.cells) for row in rows]
    width = max(set(widths), key=lambda w: (widths.count(w), w))
    if width < 2:
        raise SpectralFileError(
            table.path,
            [Problem("this row", "a wavelength alone", "a wavelength and its reflectance", rows[0].line)],
        )
    return width


def _names_down(table: _Table, above: list[_Row], width: int) -> tuple[tuple[str, ...], _Row | None]:
    """Return the readings' names, and the row they stand in where there is one."""
    heading = above[-1] if above else None
    if heading is not None:
        cells = heading.cells
        if len(cells) == width:
            return tuple(_named(table, heading, cells[1:], first_column=2)), heading
        if table.separator == " " and len(cells) == width - 1:
            # Spaces cannot show that the corner above the wavelengths is empty.
            return tuple(_named(table, heading, cells, first_column=2)), heading
        if table.separator == " " or len(cells) > 1:
            hint = "Put names that have spaces in quotes." if table.separator == " " else ""
            hint = hint or "Every column needs a name."
            raise SpectralFileError(
                table.path,
                [
                    Problem(
                        "the heading",
                        f"{len(cells)} columns",
                        f"{width}, as in the rows of numbers (begin remarks with #)",
                        heading.line,
                        hint,
                    )
                ],
            )
    if width == 2:
        return (table.path.stem or "reading",), None
    return tuple(f"column {k}" for k in range(2, width + 1)), None


def _named(table: _Table, row: _Row, cells: list[str], *, first_column: int) -> list[str]:
    names = [_without_unit(table, cell) for cell in cells]
    for column, name in enumerate(names, start=first_column):
        if not name:
            raise SpectralFileError(
                table.path, [Problem(f"column {column}", "no name", "a name for the reading", row.line)]
            )
    return names


def _without_unit(table: _Table, cell: str) -> str:
    """Return a heading without the unit at its end, which is noted."""
    for pattern, full_scale in ((_PER_CENT, 100.0), (_FRACTION, 1.0)):
        if pattern.search(cell):
            table.state(full_scale, f'the heading "{cell}"')
            return pattern.sub("", cell).strip() or cell
    return cell


def _is_unit_row(row: _Row) -> bool:
    return all(cell.lower() in _UNIT_WORDS for cell in row.cells)


def _state_unit_row(table: _Table, row: _Row) -> None:
    words = {cell.lower() for cell in row.cells}
    if words & _PER_CENT_WORDS:
        table.state(100.0, f"the units in line {row.line}")
    if words & _FRACTION_WORDS:
        table.state(1.0, f"the units in line {row.line}")


# --- wavelengths across ---------------------------------------------------------------------


def _read_across(table: _Table, at: int, names_from: str | None) -> Sheet:
    heading = table.rows[at]
    table.remarks += [" ".join(row.cells) for row in table.rows[:at]]
    rows = []
    for row in table.rows[at + 1 :]:
        if _is_unit_row(row):
            _state_unit_row(table, row)
        else:
            rows.append(row)
    if not rows:
        raise SpectralFileError(
            table.path, [Problem("the table", "a heading and no readings", "a row a reading", heading.line)]
        )
    cells = list(heading.cells)
    if table.separator == " " and _is_headed_nm(cells[0]) and as_number(rows[0].cells[0]) is None:
        cells.insert(0, "")  # spaces cannot show that the corner above the names is empty
    headed = [_headed_nm(cell) for cell in cells]
    start = next(k for k, nm in enumerate(headed) if nm is not None)
    stop = max(k for k, nm in enumerate(headed) if nm is not None) + 1
    keep = [k for k in range(start, stop) if (nm := headed[k]) is not None and FIRST_NM <= nm <= LAST_NM]
    if gap := [k for k in range(start, stop) if headed[k] is None]:
        raise SpectralFileError(
            table.path,
            [Problem(f"column {gap[0] + 1}", f'"{cells[gap[0]]}"', "a wavelength in nm", heading.line)],
        )
    labels = [_without_unit(table, cell) for cell in cells[:start]]
    ragged = [
        Problem("this row", f"{len(row.cells)} columns", f"{len(cells)}, as in the heading", row.line)
        for row in rows
        if not stop <= len(row.cells) <= len(cells)
    ]
    if ragged:
        raise_problems(table.path, ragged, hint=_ragged_hint(table))
    names = _names_across(table, heading, labels, rows, names_from)
    numbers = Numbers(table.path)
    values = np.array(
        [
            [numbers.value(row.cells[k], line=row.line, column=k + 1, name=name) for k in keep]
            for row, name in zip(rows, names, strict=True)
        ]
    )
    numbers.finish()
    if numbers.percent_signs:
        table.state(100.0, "the % signs")
    shape = values.shape
    columns = np.array(keep, dtype=np.int64) + 1
    full_scale, stated_by = table.full_scale()
    return Sheet(
        names=tuple(names),
        wavelengths_nm=np.array([headed[k] for k in keep], dtype=np.float64),
        values=values,
        lines=np.broadcast_to(np.array([row.line for row in rows], dtype=np.int64)[:, None], shape),
        columns=np.broadcast_to(columns, shape),
        wavelength_lines=np.full(len(keep), heading.line, dtype=np.int64),
        wavelength_columns=columns,
        full_scale=full_scale,
        stated_by=stated_by,
    )


def _names_across(
    table: _Table, heading: _Row, labels: list[str], rows: list[_Row], names_from: str | None
) -> list[str]:
    lowered = [label.lower() for label in labels]
    if names_from is not None:
        if names_from.lower() not in lowered:
            raise SpectralFileError(
                table.path,
                [
                    Problem(
                        "the heading",
                        f'no column "{names_from}"',
                        "the column that names the readings",
                        heading.line,
                        nearest_hint(names_from, [label for label in labels if label], kind="columns"),
                    )
                ],
            )
        column = lowered.index(names_from.lower())
    elif not labels:
        return [f"row {i}" for i in range(1, len(rows) + 1)]
    else:
        column = next((lowered.index(word) for word in _NAME_HEADINGS if word in lowered), 0)
    for row in rows:
        if not row.cells[column]:
            raise SpectralFileError(
                table.path, [Problem(f"column {column + 1}", "no name", "a name for the reading", row.line)]
            )
    return [row.cells[column] for row in rows]


# --- what could be taken two ways -----------------------------------------------------------


def _ragged_hint(table: _Table) -> str:
    if table.separator == " ":
        return "Put names that have spaces in quotes."
    if table.separator == ",":
        return "Decimal commas need columns parted by tabs, semicolons or spaces."
    return ""


def _refuse_decimal_commas(table: _Table, rows: list[list[str]], *, headed: bool) -> None:
    """Refuse ``400,5,12``: 5 and 12, or 5.12? Names over the columns would tell."""
    wide = bool(rows) and len(rows[0]) > 2
    if table.separator == "," and wide and not headed and all(c.isdigit() for row in rows for c in row):
        raise SpectralFileError(
            table.path,
            "whole numbers parted by commas and no heading: these could be decimal commas; "
            "name the columns, or part them by semicolons",
        )
