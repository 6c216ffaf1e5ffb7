"""Spectra in CGATS.17 text, the open format that field instruments and their programs write.

ANSI CGATS.17 and ISO 28178 (its ASCII form): keywords with values, then ``BEGIN_DATA_FORMAT`` ...
``END_DATA_FORMAT`` naming the fields, then ``BEGIN_DATA`` ... ``END_DATA`` with a row for each
sample. Instruments make a field of each wavelength (``SPECTRAL_NM400``, ``nm400``, ``R_400``, ``SPEC_400``,
``SPECTRAL_PCT400``), which says nothing of the unit unless PCT or DEC stands in it or the
keyword ``SPECTRAL_NORM`` gives the value of a perfect white. The standard's other way, pairs of
``SPECTRAL_NM`` and ``SPECTRAL_PCT`` in which each row states its own wavelengths, is found in charts for
scanners, not with instruments, and is refused. (Field and keyword names checked against files and lists of
identifiers in public repositories; the standards' full texts are not freely published.)
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import SpectralFileError
from layersim.measure.plain import Row, check_widths, read_across, spectral_columns, wrong
from layersim.measure.sheet import MOST_ROWS, Cell, Readings, as_number, lines_of
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
    fields: list[Cell] = field(default_factory=list)
    data: list[Row] = field(default_factory=list)
    data_line: int = 0


def read_cgats(path: Path, text: str, *, names_from: str | None = None) -> tuple[list[Readings], list[str]]:
    """Return the readings of a CGATS.17 text, those of each table together, and its remarks.

    `path` is for messages. `names_from` is the field that names the readings; by default ``SAMPLE_NAME``, or
    ``SAMPLE_ID`` where there is none. Raises SpectralFileError with what is wrong in the file.
    """
    blocks, remarks = _blocks(path, text)
    sheets = [sheet for block in blocks if (sheet := _sheet(path, block, names_from)) is not None]
    if not sheets:
        known = [cell.text for block in blocks for cell in block.fields]
        raise wrong(
            path, "the data format",
            f"no spectral field among {', '.join(known[:8])}{', ...' if len(known) > 8 else ''}",
            "fields such as SPECTRAL_NM400 (colours alone do not give K and S)", blocks[0].fields[0].line,
        )  # fmt: skip
    return sheets, remarks


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
        elif part == "data":
            block.data.append(_cells(path, line, number, width=len(block.fields)))
        else:
            words = [cell.text for cell in _cells(path, line, number)]
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


def _cells(path: Path, line: str, number: int, *, width: int = 0) -> Row:
    """Return what stands between spaces, or between tabs where that gives the `width` that spaces do not."""
    if line.count('"') % 2:
        raise wrong(path, "this row", "a quote that is opened and not closed", "quotes in pairs", number)
    texts = [match[1].strip() if match[2] is None else match[2] for match in _CELL.finditer(line)]
    parted = [text.strip(' "') for text in line.split("\t")]
    if len(texts) != width == len(parted):
        texts = parted
    return [Cell(text, number, column) for column, text in enumerate(texts, start=1)]


def _sheet(path: Path, block: _Block, names_from: str | None) -> Readings | None:
    """Return the readings of a table, or None where none of its fields is spectral."""
    columns, nm, units = spectral_columns(block.fields)
    if pair := next((cell for cell in block.fields if cell.text.upper() == "SPECTRAL_NM"), None):
        found, expected = "SPECTRAL_NM in every row", "one field a wavelength, such as SPECTRAL_NM400"
        raise wrong(path, "the data format", found, expected, pair.line)
    if not columns:
        return None
    width = len(block.fields)
    for keyword, count in (("NUMBER_OF_FIELDS", width), ("NUMBER_OF_SETS", len(block.data))):
        said, line = block.keywords.get(keyword, (str(count), 0))
        if as_number(said) != count:
            words = f'"{said}" and {count} {"fields" if "FIELDS" in keyword else "rows of data"}'
            raise wrong(path, keyword, words, "numbers that agree", line)
    if not block.data:
        raise wrong(path, "BEGIN_DATA", "no data", "a row for each sample", block.data_line)
    if len(block.data) > MOST_ROWS:
        raise SpectralFileError(path, f"{len(block.data)} rows of data; expected at most {MOST_ROWS}")
    hint = "Put names that have spaces in quotes, and each sample in one line."
    check_widths(path, block.data, width, width, whose="the data format", hint=hint)
    stated, exact = _stated(path, block, units), _exact_nm(path, block, nm)
    return read_across(path, block.fields, block.data, names_from, nm=exact, stated=stated)


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


def _stated(path: Path, block: _Block, units: set[str]) -> dict[float, str]:
    # A name without a unit says as little as it does alone, so one that has it speaks for all.
    said = {100.0 if unit == "PCT" else 1.0: f"the field SPECTRAL_{unit}" for unit in units}
    if "SPECTRAL_NORM" in block.keywords:
        text, line = block.keywords["SPECTRAL_NORM"]
        norm = as_number(text)
        if norm is None or norm not in {1.0, 100.0}:
            raise wrong(path, "SPECTRAL_NORM", f'"{text}"', "1 or 100", line)
        said.setdefault(norm, "the keyword SPECTRAL_NORM")
    return said
