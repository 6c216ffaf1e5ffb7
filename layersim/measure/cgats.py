"""Spectra in CGATS.17 text, the open format that field instruments and their programs write.

ANSI CGATS.17 and ISO 28178 (its ASCII form): keywords with values, then ``BEGIN_DATA_FORMAT`` ...
``END_DATA_FORMAT`` naming the fields, then ``BEGIN_DATA`` ... ``END_DATA`` with a set of values a
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
from layersim.spectra import FloatArray

_FIELD_NM: Final = re.compile(
    r"(?:SPECTRAL_NM|SPECTRAL_(?P<unit>DEC|PCT)|SPECTRAL|SPECTRUM|SPEC|NM|REFLECTANCE|REFL|R)?[_ ]*"
    r"(?P<nm>[0-9]{3,4}(?:\.[0-9]+)?)(?P<end>_?NM)?",
    re.IGNORECASE,
)
_NAMES: Final = ("SAMPLE_NAME", "SAMPLENAME", "NAME", "SAMPLE_ID", "SAMPLEID", "ID")
_TOKEN: Final = re.compile(r'"([^"]*)"|(\S+)')


def looks_like_cgats(text: str) -> bool:
    r"""Return whether a text has the marks of CGATS.17: a line that begins a data format or data.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool

    Examples
    --------
    >>> looks_like_cgats("CGATS.17\nBEGIN_DATA_FORMAT\n")
    True
    """
    return any(line.strip().upper() in {"BEGIN_DATA", "BEGIN_DATA_FORMAT"} for line in lines_of(text))


@dataclass
class _Block:
    """One table of a file: what its keywords say, its fields, its sets."""

    keywords: dict[str, tuple[str, int]] = field(default_factory=dict)
    fields: list[tuple[str, int]] = field(default_factory=list)
    data: list[tuple[int, list[str]]] = field(default_factory=list)
    data_line: int = 0


def read_cgats(path: Path, text: str, *, names_from: str | None = None) -> Contents:
    """Return the readings of a CGATS.17 text.

    Parameters
    ----------
    path : Path
        For messages.
    text : str
    names_from : str, optional
        Field that names the readings; by default ``SAMPLE_NAME``, or ``SAMPLE_ID`` where there is none.

    Returns
    -------
    Contents

    Raises
    ------
    SpectralFileError
        With what is wrong in the file.
    """
    blocks, remarks = _blocks(path, text)
    sheets: list[Sheet] = []
    for block in blocks:
        sheets += _sheets(path, block, names_from)
    if not sheets:
        known = [name for block in blocks for name, _ in block.fields]
        raise SpectralFileError(
            path,
            [
                Problem(
                    "the data format",
                    f"no spectral field among {', '.join(known[:8])}{', ...' if len(known) > 8 else ''}",
                    "fields such as SPECTRAL_NM400 (colours alone do not give K and S)",
                    blocks[0].fields[0][1] if known else None,
                )
            ],
        )
    return Contents(tuple(sheets), remarks=tuple(remarks))


# --- the text into blocks -------------------------------------------------------------------


def _blocks(path: Path, text: str) -> tuple[list[_Block], list[str]]:
    remarks: list[str] = []
    blocks: list[_Block] = []
    block = _Block()
    part, opened = "header", 0
    for number, line in enumerate(lines_of(text), start=1):
        bare, remark = _without_remark(line)
        if remark:
            remarks.append(remark)
        if not bare.strip():
            continue
        word = bare.split()[0].upper()
        if word == "BEGIN_DATA_FORMAT" and part == "header":
            part, opened = "format", number
        elif word == "END_DATA_FORMAT" and part == "format":
            part = "header"
            _check_count(path, block, "NUMBER_OF_FIELDS", len(block.fields), "fields")
        elif word == "BEGIN_DATA" and part == "header":
            if not block.fields:
                raise SpectralFileError(
                    path,
                    [Problem("BEGIN_DATA", "no data format", "fields named before the data", number)],
                )
            part, opened, block.data_line = "data", number, number
        elif word == "END_DATA" and part == "data":
            part = "header"
            blocks.append(block)
            # A second table inherits nothing: its own fields may stand for something else.
            block = _Block()
        elif word in {"BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA"}:
            raise SpectralFileError(
                path, [Problem("this row", word, "the end of what was begun before", number)]
            )
        elif part == "format":
            block.fields += [(token, number) for token in _tokens(path, bare, number)]
        elif part == "data":
            block.data.append((number, [bare]))
        else:
            tokens = _tokens(path, bare, number)
            remarks.append(" ".join(tokens))
            if len(tokens) > 1:
                block.keywords[tokens[0].upper()] = (" ".join(tokens[1:]), number)
    if part != "header":
        end = "END_DATA_FORMAT" if part == "format" else "END_DATA"
        raise SpectralFileError(
            path,
            [
                Problem(
                    end.replace("END", "BEGIN"),
                    f"no {end} after it",
                    "the end of what begins here",
                    opened,
                    "Is the file cut short?",
                )
            ],
        )
    if not blocks:
        raise SpectralFileError(path, "this CGATS.17 file has no BEGIN_DATA ... END_DATA")
    return blocks, remarks


def _without_remark(line: str) -> tuple[str, str]:
    """Split a line at the # that begins a remark: one outside quotes."""
    quoted = False
    for i, character in enumerate(line):
        if character == '"':
            quoted = not quoted
        elif character == "#" and not quoted and (i == 0 or line[i - 1].isspace()):
            return line[:i].rstrip(), line[i + 1 :].strip()
    return line.rstrip(), ""


def _tokens(path: Path, line: str, number: int) -> list[str]:
    if line.count('"') % 2:
        raise SpectralFileError(
            path, [Problem("this row", "a quote that is opened and not closed", "quotes in pairs", number)]
        )
    return [match[1].strip() if match[2] is None else match[2] for match in _TOKEN.finditer(line)]


def _check_count(path: Path, block: _Block, keyword: str, found: int, what: str) -> None:
    if keyword not in block.keywords:
        return
    text, line = block.keywords[keyword]
    if as_number(text) != found:
        raise SpectralFileError(
            path, [Problem(keyword, f'"{text}" and {found} {what}', "numbers that agree", line)]
        )


# --- a block into sheets --------------------------------------------------------------------


def _sheets(path: Path, block: _Block, names_from: str | None) -> list[Sheet]:
    fields = [name for name, _ in block.fields]
    named = [(k, match) for k, name in enumerate(fields) if (match := _spectral_field(name))]
    pairs = [k for k, name in enumerate(fields) if name.upper() == "SPECTRAL_NM"]
    if not named and not pairs:
        return []
    rows = _rows(path, block)
    names = _names(path, block, rows, names_from)
    if pairs and named:
        raise SpectralFileError(
            path,
            [
                Problem(
                    "the data format",
                    f"both {fields[pairs[0]]} and {fields[named[0][0]]}",
                    "wavelengths among the data or in the fields' names, not both",
                    block.fields[pairs[0]][1],
                )
            ],
        )
    return _paired(path, block, rows, names, pairs) if pairs else [_named(path, block, rows, names, named)]


def _spectral_field(name: str) -> re.Match[str] | None:
    match = _FIELD_NM.fullmatch(name)
    # A bare number is a wavelength only where nm is said.
    return match if match and (not name[0].isdigit() or match["end"]) else None


def _named(
    path: Path,
    block: _Block,
    rows: list[tuple[int, list[str]]],
    names: list[str],
    spectral: list[tuple[int, re.Match[str]]],
) -> Sheet:
    nm = _exact_nm(path, block, np.array([float(match["nm"]) for _, match in spectral]))
    # A name without a unit says as little as it does alone, so one that has it speaks for all.
    units = {unit.upper() for _, match in spectral if (unit := match["unit"])}
    field_lines = [block.fields[k][1] for k, _ in spectral]
    keep = [i for i, value in enumerate(nm) if FIRST_NM <= value <= LAST_NM]
    columns = np.array([spectral[i][0] for i in keep], dtype=np.int64)
    numbers = Numbers(path)
    values = np.array(
        [
            [numbers.value(cells[k], line=line, column=int(k) + 1, name=name) for k in columns]
            for (line, cells), name in zip(rows, names, strict=True)
        ]
    )
    numbers.finish()
    full_scale, stated_by = _full_scale(path, block, units, percent_signs=numbers.percent_signs > 0)
    return Sheet(
        names=tuple(names),
        wavelengths_nm=nm[keep],
        values=values,
        lines=np.broadcast_to(np.array([line for line, _ in rows], dtype=np.int64)[:, None], values.shape),
        columns=np.broadcast_to(columns + 1, values.shape),
        wavelength_lines=np.array([field_lines[i] for i in keep], dtype=np.int64),
        wavelength_columns=columns + 1,
        full_scale=full_scale,
        stated_by=stated_by,
    )


def _paired(
    path: Path, block: _Block, rows: list[tuple[int, list[str]]], names: list[str], pairs: list[int]
) -> list[Sheet]:
    """Return one sheet a reading: each set states its own wavelengths."""
    fields = [name.upper() for name, _ in block.fields]
    followers = {fields[k + 1] if k + 1 < len(fields) else "nothing" for k in pairs}
    if not followers <= {"SPECTRAL_PCT", "SPECTRAL_DEC"} or len(followers) > 1:
        raise SpectralFileError(
            path,
            [
                Problem(
                    "the data format",
                    f"SPECTRAL_NM followed by {' and by '.join(sorted(followers))}",
                    "SPECTRAL_PCT or SPECTRAL_DEC after every SPECTRAL_NM",
                    block.fields[pairs[0]][1],
                )
            ],
        )
    numbers = Numbers(path)
    found = []
    for (line, cells), name in zip(rows, names, strict=True):
        nm = np.array([numbers.value(cells[k], line=line, column=k + 1) for k in pairs])
        keep = [k for k, value in zip(pairs, nm, strict=True) if not value < FIRST_NM and not value > LAST_NM]
        values = [numbers.value(cells[k + 1], line=line, column=k + 2, name=name) for k in keep]
        found.append((name, line, keep, nm[np.isin(pairs, keep)], np.array([values])))
    numbers.finish()
    unit = {followers.pop().removeprefix("SPECTRAL_")}
    full_scale, stated_by = _full_scale(path, block, unit, percent_signs=numbers.percent_signs > 0)
    return [
        Sheet(
            names=(name,),
            wavelengths_nm=nm,
            values=values,
            lines=np.full(values.shape, line, dtype=np.int64),
            columns=np.array([keep], dtype=np.int64) + 2,
            wavelength_lines=np.full(len(keep), line, dtype=np.int64),
            wavelength_columns=np.array(keep, dtype=np.int64) + 1,
            full_scale=full_scale,
            stated_by=stated_by,
        )
        for name, line, keep, nm, values in found
    ]


def _rows(path: Path, block: _Block) -> list[tuple[int, list[str]]]:
    """Return the sets, one a row; a set may go on over several lines where the counts bear it out."""
    width = len(block.fields)
    if len(block.data) > MOST_ROWS:
        raise SpectralFileError(path, f"{len(block.data)} rows of data; expected at most {MOST_ROWS}")
    rows = []
    for line, (text,) in block.data:
        cells = _tokens(path, text, line)
        if "\t" in text and len(cells) != width:
            # Parted by tabs, names may have spaces without quotes, or be left out.
            parted = [cell.strip().strip('"').strip() for cell in text.split("\t")]
            cells = parted if len(parted) == width else cells
        rows.append((line, cells))
    if not rows:
        raise SpectralFileError(path, [Problem("BEGIN_DATA", "no data", "a row a sample", block.data_line)])
    ragged = [(line, cells) for line, cells in rows if len(cells) != width]
    stated = block.keywords.get("NUMBER_OF_SETS", ("", 0))[0]
    total = sum(len(cells) for _, cells in rows)
    sets = as_number(stated)
    if ragged and sets is not None and total == width * sets:
        flat = [(line, cell) for line, cells in rows for cell in cells]
        starts = range(0, total, width)
        return [(flat[i][0], [cell for _, cell in flat[i : i + width]]) for i in starts]
    if ragged:
        expected = f"{width}, one for each field"
        problems = [Problem("this row", f"{len(cells)} values", expected, line) for line, cells in ragged]
        raise_problems(path, problems, hint=_ragged_hint(ragged[0][1], width))
    _check_count(path, block, "NUMBER_OF_SETS", len(rows), "rows of data")
    return rows


def _ragged_hint(cells: list[str], width: int) -> str:
    words = sum(as_number(cell) is None for cell in cells)
    return "Put names that have spaces in quotes." if len(cells) > width and words > 1 else ""


def _names(path: Path, block: _Block, rows: list[tuple[int, list[str]]], names_from: str | None) -> list[str]:
    fields = [name.upper() for name, _ in block.fields]
    wanted = (names_from.upper(),) if names_from else _NAMES
    columns = [fields.index(name) for name in wanted if name in fields]
    if names_from and not columns:
        texts = [name for name, _ in block.fields if not _spectral_field(name)]
        raise SpectralFileError(
            path,
            [
                Problem(
                    "the data format",
                    f'no field "{names_from}"',
                    "the field that names the readings",
                    block.fields[0][1],
                    nearest_hint(names_from, texts, kind="fields"),
                )
            ],
        )
    if not columns:
        return [f"row {i}" for i in range(1, len(rows) + 1)]
    names = []
    for line, cells in rows:
        name = next((cells[k] for k in columns if cells[k]), "")
        if not name:
            raise SpectralFileError(
                path, [Problem(block.fields[columns[0]][0], "no name", "a name for the reading", line)]
            )
        names.append(name)
    return names


def _exact_nm(path: Path, block: _Block, named: FloatArray) -> FloatArray:
    """Return the wavelengths; where keywords give the range, without the rounding of the names."""
    words = ("SPECTRAL_BANDS", "SPECTRAL_START_NM", "SPECTRAL_END_NM")
    if not all(word in block.keywords for word in words):
        return named
    texts = [block.keywords[word][0] for word in words]
    line = block.keywords[words[0]][1]
    bands, first, last = (as_number(text) for text in texts)
    if first is not None and last is not None and bands == named.size:
        exact = np.linspace(first, last, named.size)
        if (np.abs(exact - named) <= 1.0).all():
            return exact
    raise SpectralFileError(
        path,
        [
            Problem(
                ", ".join(words),
                " ".join(texts),
                f"what the {named.size} spectral fields say, {named[0]:g} to {named[-1]:g} nm",
                line,
            )
        ],
    )


def _full_scale(
    path: Path, block: _Block, units: set[str], *, percent_signs: bool
) -> tuple[float | None, str]:
    said: dict[float, str] = {}
    for unit in units:
        said.setdefault(100.0 if unit == "PCT" else 1.0, f"the fields' name SPECTRAL_{unit}")
    if percent_signs:
        said.setdefault(100.0, "the % signs")
    if "SPECTRAL_NORM" in block.keywords:
        text, line = block.keywords["SPECTRAL_NORM"]
        norm = as_number(text)
        if norm not in {1.0, 100.0} or norm is None:
            raise SpectralFileError(path, [Problem("SPECTRAL_NORM", f'"{text}"', "1 or 100", line)])
        said.setdefault(norm, "the keyword SPECTRAL_NORM")
    if len(said) > 1:
        raise SpectralFileError(
            path, f"{said[100.0]} says per cent and {said[1.0]} says fraction; expected one of them"
        )
    return next(iter(said.items()), (None, ""))
