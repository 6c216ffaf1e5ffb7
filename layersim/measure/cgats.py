"""Spectra in CGATS.17 text, the open format that field instruments and their programs write.

ANSI CGATS.17 and ISO 28178 (its ASCII form): keywords with values, then ``BEGIN_DATA_FORMAT`` ...
``END_DATA_FORMAT`` naming the fields, then ``BEGIN_DATA`` ... ``END_DATA`` with a row for each
sample. The standard names three spectral fields: ``SPECTRAL_NM`` (a wavelength), followed by
``SPECTRAL_PCT`` or ``SPECTRAL_DEC`` (reflectance in per cent or as a fraction), in pairs. In the field
the wavelength is mostly part of the name instead (``SPECTRAL_NM400``, ``nm400``, ``R_400``,
``SPEC_400``, ``SPECTRAL_PCT400``), which says nothing of the unit unless PCT or DEC stands in it or the
keyword ``SPECTRAL_NORM`` gives the value of a perfect white. All of these are read here. (Field and
keyword names checked against files and lists of identifiers in public repositories; the standards'
full texts are not freely published.)
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import SpectralFileError
from layersim.measure.plain import (
    Line,
    PlainTable,
    Stated,
    check_widths,
    names_of,
    read_across,
    sheet_of,
    spectral_columns,
    wrong,
)
from layersim.measure.sheet import MOST_ROWS, Contents, Readings, as_number, lines_of
from layersim.spectra import FloatArray

_CELL: Final = re.compile(r'"([^"]*)"|(\S+)')
_REMARK: Final = re.compile(r'^((?:"[^"]*"|[^"])*?)(?:^|(?<=\s))#(.*)$')
_MARKS: Final = {
    "BEGIN_DATA_FORMAT": ("header", "format"),
    "END_DATA_FORMAT": ("format", "header"),
    "BEGIN_DATA": ("header", "data"),
    "END_DATA": ("data", "header"),
}
"""What each mark ends, and what it begins."""


def looks_like_cgats(text: str) -> bool:
    r"""Return whether a text has the marks of CGATS.17: a line that begins a data format or data.

    >>> looks_like_cgats("CGATS.17\nBEGIN_DATA_FORMAT\n")
    True
    """
    return any(line.strip().upper() in {"BEGIN_DATA", "BEGIN_DATA_FORMAT"} for line in lines_of(text))


@dataclass
class _Block:
    """One table of a file. A second table inherits nothing from the first."""

    keywords: dict[str, tuple[str, int]] = field(default_factory=dict)
    fields: list[str] = field(default_factory=list)
    fields_line: int = 0
    data: list[Line] = field(default_factory=list)
    data_line: int = 0


def read_cgats(path: Path, text: str, *, names_from: str | None = None) -> Contents:
    """Return the readings of a CGATS.17 text; `path` is for messages.

    `names_from` is the field that names the readings; by default ``SAMPLE_NAME``, or ``SAMPLE_ID`` where
    there is none. Raises SpectralFileError with what is wrong in the file.
    """
    blocks, remarks = _blocks(path, text)
    sheets = [sheet for block in blocks for sheet in _sheets(path, block, names_from)]
    if not sheets:
        known = [name for block in blocks for name in block.fields]
        raise wrong(
            path, "the data format",
            f"no spectral field among {', '.join(known[:8])}{', ...' if len(known) > 8 else ''}",
            "fields such as SPECTRAL_NM400 (colours alone do not give K and S)", blocks[0].fields_line,
        )  # fmt: skip
    return Contents(tuple(sheets), remarks=tuple(remarks))


def _blocks(path: Path, text: str) -> tuple[list[_Block], list[str]]:
    remarks: list[str] = []
    blocks: list[_Block] = []
    block = _Block()
    part, opened, begun = "header", 0, ""
    for number, whole in enumerate(lines_of(text), start=1):
        line = whole
        if remark := _REMARK.match(whole):
            line = remark[1]
            remarks.append(remark[2].strip())
        if not line.strip():
            continue
        mark = line.split()[0].upper()
        if mark in _MARKS:
            ends, begins = _MARKS[mark]
            if part != ends:
                raise wrong(path, "this row", mark, "the end of what was begun before", number)
            part, opened, begun = begins, number, mark
            if mark == "BEGIN_DATA":
                if not block.fields:
                    raise wrong(path, mark, "no data format", "fields named before the data", number)
                block.data_line = number
            elif mark == "END_DATA":
                blocks.append(block)
                block = _Block()
        elif part == "format":
            block.fields += _cells(path, line, number)
            block.fields_line = block.fields_line or number
        elif part == "data":
            block.data.append(Line(number, _cells(path, line, number, width=len(block.fields))))
        else:
            words = _cells(path, line, number)
            remarks.append(" ".join(words))
            block.keywords[words[0].upper()] = (" ".join(words[1:]), number)
    if part != "header":
        end = begun.replace("BEGIN", "END")
        raise wrong(
            path, begun, f"no {end} after it", "the end of what begins here", opened, "Is the file cut short?"
        )
    if not blocks:
        raise SpectralFileError(path, "this CGATS.17 file has no BEGIN_DATA ... END_DATA")
    return blocks, remarks


def _cells(path: Path, line: str, number: int, *, width: int = 0) -> list[str]:
    """Return what stands between spaces, or between tabs where that gives the `width` that spaces do not."""
    if line.count('"') % 2:
        raise wrong(path, "this row", "a quote that is opened and not closed", "quotes in pairs", number)
    cells = [match[1].strip() if match[2] is None else match[2] for match in _CELL.finditer(line)]
    parted = [cell.strip(' "') for cell in line.split("\t")]
    return parted if len(cells) != width == len(parted) else cells


def _sheets(path: Path, block: _Block, names_from: str | None) -> list[Readings]:
    columns, nm, units = spectral_columns(block.fields)
    fields = [name.upper() for name in block.fields]
    pairs = [k for k, name in enumerate(fields) if name == "SPECTRAL_NM"]
    if not columns and not pairs:
        return []
    for keyword, count in (("NUMBER_OF_FIELDS", len(fields)), ("NUMBER_OF_SETS", len(block.data))):
        said, line = block.keywords.get(keyword, (str(count), 0))
        if as_number(said) != count:
            words = f'"{said}" and {count} {"fields" if "FIELDS" in keyword else "rows of data"}'
            raise wrong(path, keyword, words, "numbers that agree", line)
    if not block.data:
        raise wrong(path, "BEGIN_DATA", "no data", "a row for each sample", block.data_line)
    if len(block.data) > MOST_ROWS:
        raise SpectralFileError(path, f"{len(block.data)} rows of data; expected at most {MOST_ROWS}")
    hint = "Put names that have spaces in quotes, and each sample in one line."
    check_widths(path, block.data, len(fields), len(fields), whose="the data format", hint=hint)
    followers = {fields[k + 1] if k + 1 < len(fields) else "nothing" for k in pairs}
    if pairs and (columns or len(followers) > 1 or not followers <= {"SPECTRAL_PCT", "SPECTRAL_DEC"}):
        found = f"both SPECTRAL_NM and {block.fields[columns[0]]}" if columns else ""
        raise wrong(
            path, "the data format", found or f"SPECTRAL_NM followed by {' and by '.join(sorted(followers))}",
            "fields named by their wavelengths, or SPECTRAL_NM with SPECTRAL_PCT or SPECTRAL_DEC after each",
            block.fields_line,
        )  # fmt: skip
    stated = _stated(path, block, units | {name.removeprefix("SPECTRAL_") for name in followers})
    table = PlainTable(path, Line(block.fields_line, block.fields), block.data, stated, names_from)
    if pairs:
        return _paired(table, pairs)
    return [read_across(table, columns, _exact_nm(path, block, nm), first_names=False)]


def _paired(table: PlainTable, pairs: list[int]) -> list[Readings]:
    """Return one sheet for each reading, since each row states its own wavelengths."""
    path, sheets, places = table.path, [], np.array(pairs) + 1
    names = names_of(table, [k + i for k in pairs for i in (0, 1)], first_names=False)
    for name, row in zip(names, table.rows, strict=True):
        nm = [as_number(row.cells[k]) for k in pairs]
        if None in nm:
            column = pairs[nm.index(None)]
            found = f'"{row.cells[column]}"'
            raise wrong(path, f"column {column + 1}", found, "a wavelength in nm", row.line)
        cells = [[row.cells[k + 1] for k in pairs]]
        at, nm_at = (row.line, places + 1), (row.line, places)
        wavelengths = np.array(nm, dtype=np.float64)
        sheets.append(sheet_of(path, [name], wavelengths, cells, at=at, nm_at=nm_at, stated=table.stated))
    return sheets


def _exact_nm(path: Path, block: _Block, named: FloatArray) -> FloatArray:
    """Return the wavelengths; where keywords give the range, without the rounding of the names."""
    words = ("SPECTRAL_BANDS", "SPECTRAL_START_NM", "SPECTRAL_END_NM")
    if not all(word in block.keywords for word in words):
        return named
    texts = [block.keywords[word][0] for word in words]
    bands, first, last = (as_number(text) for text in texts)
    if first is not None and last is not None and bands == named.size:
        exact = np.linspace(first, last, named.size)
        if (np.abs(exact - named) <= 1.0).all():
            return exact
    expected = f"what the {named.size} spectral fields say, {named[0]:g} to {named[-1]:g} nm"
    raise wrong(path, ", ".join(words), " ".join(texts), expected, block.keywords[words[0]][1])


def _stated(path: Path, block: _Block, units: set[str]) -> Stated:
    # A name without a unit says as little as it does alone, so one that has it speaks for all.
    said = {100.0 if unit == "PCT" else 1.0: f"the field SPECTRAL_{unit}" for unit in units}
    if "SPECTRAL_NORM" in block.keywords:
        text, line = block.keywords["SPECTRAL_NORM"]
        norm = as_number(text)
        if norm is None or norm not in {1.0, 100.0}:
            raise wrong(path, "SPECTRAL_NORM", f'"{text}"', "1 or 100", line)
        said.setdefault(norm, "the keyword SPECTRAL_NORM")
    return said
