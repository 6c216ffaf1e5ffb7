"""Reflectance spectra from the text files that instruments and spreadsheets write.

Tables and CGATS.17 text are read by code of this package. The general library for colour reads plain
tables with numpy's text reader, which turns decimal commas into NaN without a word and stops at
remarks; its reader for CGATS-like text misses field names in common use and cuts quoted names at their
first space. A wrong K and S would be fitted to what is left. Here every number is either read or
complained of by file, line and column.

Reflectances are per cent or fractions. In this order of trust:

1. what the caller says;
2. what a CGATS.17 file says: ``SPECTRAL_PCT``, ``SPECTRAL_DEC`` or ``SPECTRAL_NORM``;
3. the largest number in the file: above 2 it is per cent, up to 1.1 it is a fraction. Between the two
   (a white with brighteners, or a very dark sample), or where one number in twenty or fewer is above
   1.1 (a slip of the keyboard), it is refused until somebody says.

Numbers that contradict what is said are refused, never rescaled.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final, get_args

import numpy as np

from layersim.errors import Problem, SpectralFileError, UnknownNameError, nearest_hint
from layersim.measure.cgats import looks_like_cgats, read_cgats
from layersim.measure.plain import read_plain, wrong
from layersim.measure.repeats import average
from layersim.measure.sheet import (
    Readings,
    Specular,
    Unit,
    place,
    raise_problems,
    spectral_text,
    specular_said,
)
from layersim.spectra import FIRST_NM, LAST_NM, FloatArray, resample

UNITS: Final[tuple[Unit, ...]] = get_args(Unit)

HIGHEST: Final = 1.1
"""Highest reflectance taken for one: a little above a perfect white, for calibration and gloss."""

SHINIEST: Final = 12.0
"""The same of metal paints near the mirror direction: aluminium that sends most there, 10° from it."""

LOWEST: Final = -0.01
"""Lowest: an instrument's dark noise may fall below zero by this much."""

LEAST_PER_CENT: Final = 2.0
"""A largest number above this was written in per cent."""

DARKEST_WHOLE_FILE: Final = 0.001
"""No dried paint is this dark at every wavelength; a whole file of less is in another unit."""

FEWEST_ABOVE: Final = 0.05
"""Share of the numbers that must be above :data:`HIGHEST` before all are taken for per cent."""

WIDEST_GAP_NM: Final = 40.0
"""Widest step between wavelengths that a curve may bridge (ASTM E308 stops at 20; notices tell of gaps)."""

CONTRADICTION: Final = 0.1
"""Repeats of one name that lie further apart than this (root-mean-square) are not repeats."""

REMARKABLE: Final = 0.03
"""Repeats further apart than this are worth a notice."""


@dataclass(frozen=True, eq=False)
class Reading:
    """One measured spectrum: the mean of the readings of one name."""

    name: str
    wavelengths_nm: FloatArray
    """Shape (m,), rising."""
    reflectance: FloatArray
    """Shape (m,), as fractions of a perfect white."""
    noise: FloatArray | None = None
    """One standard deviation of the reflectance, from its repeats; None for a single reading."""
    repeats: int = 1
    """How many readings it is the mean of."""

    def on_grid(self) -> tuple[FloatArray, FloatArray | None]:
        """Return reflectance and noise on the package's 31 wavelengths."""
        noise = None if self.noise is None else resample(self.noise, from_nm=self.wavelengths_nm)
        return resample(self.reflectance, from_nm=self.wavelengths_nm), noise


@dataclass(frozen=True, eq=False)
class SpectralFile:
    """The readings of one file, in its order."""

    path: Path
    readings: tuple[Reading, ...]
    specular: Specular | None
    """What the file says of the surface's mirror reflection; None where it says nothing."""
    notices: tuple[str, ...]
    """What a user should know: how the unit was found, wavelengths filled in, repeats left out."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the readings."""
        return tuple(reading.name for reading in self.readings)

    def find(self, name: str) -> Reading:
        """Return the reading of a name; capitals and the number of spaces do not matter.

        Raises UnknownNameError, which names the nearest, if there is none.
        """
        wanted = _key(name)
        for reading in self.readings:
            if _key(reading.name) == wanted:
                return reading
        raise UnknownNameError(
            f'{self.path}: no reading "{name}". {nearest_hint(name, self.names, kind="readings")}'
        )


def read_spectra(
    path: Path, *, unit: Unit | None = None, names_from: str | None = None, highest: float = HIGHEST
) -> SpectralFile:
    """Return the readings in a file: a table or CGATS.17 text, told by its content.

    `unit` is by default found as the module says. `names_from` is the column or field that names the
    readings, where there are several to choose from, and `highest` the most that a reflectance may be. Raises
    SpectralFileError if the file cannot be read or something in it cannot be a reflectance.
    """
    text = spectral_text(path)
    read = read_cgats if looks_like_cgats(text) else read_plain
    sheets, remarks = read(path, text, names_from=names_from)
    notices: list[str] = []
    for sheet in sheets:
        notices += [notice for notice in _check_wavelengths(path, sheet) if notice not in notices]
    scale = _scale(path, sheets, unit, notices, highest)
    rows = []
    for sheet in sheets:
        _check_range(path, sheet, scale, highest)
        # Some instruments scan downwards; the checks let that pass.
        order = np.argsort(sheet.wavelengths_nm)
        nm = sheet.wavelengths_nm[order]
        for i, name in enumerate(sheet.names):
            rows.append((" ".join(name.split()), sheet.cells[i][0].line, nm, sheet.values[i, order] / scale))
    said = specular_said(remarks)
    if len(said) == 2:
        notices.append("the file says both that specular reflection is included and that it is excluded")
    return SpectralFile(
        path=path,
        readings=_averaged(path, rows, notices),
        specular=said.pop() if len(said) == 1 else None,
        notices=tuple(notices),
    )


def _check_wavelengths(path: Path, sheet: Readings) -> list[str]:
    """Raise if the wavelengths of a sheet cannot be used; return notices about what is missing."""
    nm = sheet.wavelengths_nm
    if nm.size < 2 or not sheet.names:
        raise SpectralFileError(
            path,
            f"{nm.size} wavelengths from 360 to 780 nm; expected a reflectance every 10 or 20 nm "
            f"from {FIRST_NM} to {LAST_NM} nm",
        )
    steps = np.diff(nm)
    order, sign = ("falling", -1) if (steps < 0).sum() > (steps > 0).sum() else ("rising", 1)
    problems = []
    for i, value in enumerate(nm):
        if value in nm[:i]:
            found, expected = f"{value:g} nm a second time", "every wavelength once"
        elif i and sign * steps[i - 1] <= 0:
            found, expected = f"{value:g} nm after {nm[i - 1]:g} nm", f"{order} wavelengths"
        else:
            continue
        problems.append(Problem(place(sheet.heads[i]), found, expected, sheet.heads[i].line))
    if problems:
        raise_problems(path, problems)
    nm = np.sort(nm)
    steps = np.diff(nm)
    # Beyond the grid nothing is drawn from the gaps.
    used = (nm[1:] > FIRST_NM) & (nm[:-1] < LAST_NM)
    wide = np.flatnonzero(used & (steps > WIDEST_GAP_NM))
    if wide.size:
        raise SpectralFileError(
            path,
            f"no wavelengths between {nm[wide[0]]:g} and {nm[wide[0] + 1]:g} nm; "
            f"expected steps of {WIDEST_GAP_NM:g} nm or less",
        )
    if min(nm[-1], LAST_NM) - max(nm[0], FIRST_NM) < (LAST_NM - FIRST_NM) / 2:
        raise SpectralFileError(
            path,
            f"wavelengths from {nm[0]:g} to {nm[-1]:g} nm; expected at least half of "
            f"{FIRST_NM} to {LAST_NM} nm",
        )
    notices = []
    gaps = np.flatnonzero(used & (steps > 1.9 * np.median(steps)))
    if gaps.size:
        listed = ", ".join(f"{nm[i]:g}-{nm[i + 1]:g} nm" for i in gaps[:5])
        notices.append(f"wavelengths are missing between {listed}; a smooth curve fills them")
    if nm[0] > FIRST_NM or nm[-1] < LAST_NM:
        notices.append(
            f"readings reach from {nm[0]:g} to {nm[-1]:g} nm; "
            f"the end values are held to {FIRST_NM} and {LAST_NM} nm"
        )
    return notices


def _scale(
    path: Path, sheets: list[Readings], unit: Unit | None, notices: list[str], highest: float
) -> float:
    """Return the full scale of a file, 1 or 100."""
    stated = {scale: by for sheet in sheets for scale, by in sheet.stated.items()}
    if unit is not None:
        stated = {100.0 if unit == "per cent" else 1.0: "as asked for"}
    if len(stated) > 1:
        raise SpectralFileError(
            path,
            f"the unit is stated twice: per cent ({stated[100.0]}) and fraction ({stated[1.0]}); "
            "expected one of them",
        )
    largest = max(float(sheet.values.max()) for sheet in sheets)
    scale, by = next(iter(stated.items())) if stated else (_guessed_scale(path, sheets, highest), "")
    if not stated:
        notices.append(
            f"no unit is stated; since the largest number is {largest:g}, "
            f"the numbers are read as {'per cent' if scale > 1.0 else 'fractions'}"
        )
    if largest <= (HIGHEST if scale > 1.0 else DARKEST_WHOLE_FILE):
        words, other = ("per cent", "fractions") if scale > 1.0 else ("fractions", "in another unit")
        leave = " Leave unit out, and it is found." if unit else ""
        raise SpectralFileError(
            path,
            f"the largest number is {largest:g}, and the unit is {words}{f' ({by})' if by else ''}; "
            f"expected a lighter one somewhere. Are these {other}?{leave}",
        )
    return scale


def _guessed_scale(path: Path, sheets: list[Readings], highest: float) -> float:
    """Return the full scale that unstated numbers must have."""
    sheet = max(sheets, key=lambda sheet: float(sheet.values.max()))
    i, j = divmod(int(sheet.values.argmax()), sheet.values.shape[1])
    largest = float(sheet.values[i, j])
    if largest <= highest:
        return 1.0
    share = float(np.mean(np.concatenate([sheet.values.ravel() for sheet in sheets]) > highest))
    if largest > LEAST_PER_CENT and share > FEWEST_ABOVE:
        return 100.0
    found = f"{largest:g} as the largest number of all"
    if largest > LEAST_PER_CENT:
        found += f", where {100 * (1.0 - share):.0f} % are {highest:g} or less"
    raise wrong(
        path, place(sheet.cells[i][j], sheet.names[i]), found,
        f"{highest:g} or less (fractions) or more than {LEAST_PER_CENT:g} (per cent)",
        sheet.cells[i][j].line, 'If it is right, say which: unit = "fraction" or "per cent".',
    )  # fmt: skip


def _check_range(path: Path, sheet: Readings, scale: float, highest: float) -> None:
    low, high = LOWEST * scale, highest * scale
    words = "per cent" if scale > 1.0 else "fraction"
    problems = []
    # One line a reading: what is wrong with one of its numbers is seldom wrong with that one alone.
    for name, row, cells in zip(sheet.names, sheet.values, sheet.cells, strict=True):
        bad = np.flatnonzero((row > high) | (row < low)).tolist()
        for j in bad[:1]:
            more = f", and {len(bad) - 1} more out of range" if len(bad) > 1 else ""
            where = f"{place(cells[j], name)}, {sheet.wavelengths_nm[j]:g} nm"
            found, expected = f"{row[j]:g} ({words}){more}", f"a reflectance from {low:g} to {high:g}"
            problems.append(Problem(where, found, expected, cells[j].line))
    if not problems:
        return
    per_cent = scale == 1.0 and sheet.values.max() > LEAST_PER_CENT
    hint = "Below 0: calibrate the instrument, its zero too, and read again."
    if per_cent or sheet.values.max() > high:
        hint = "Are these per cent?" if per_cent else "Are these reflectances, and of which unit?"
    raise_problems(path, problems, hint=hint)


def _averaged(
    path: Path, rows: list[tuple[str, int, FloatArray, FloatArray]], notices: list[str]
) -> tuple[Reading, ...]:
    groups: dict[str, list[tuple[str, int, FloatArray, FloatArray]]] = {}
    for row in rows:
        groups.setdefault(_key(row[0]), []).append(row)
    readings = []
    for group in groups.values():
        name, _, nm, _ = group[0]
        if any(not np.array_equal(other, nm) for _, _, other, _ in group):
            raise SpectralFileError(
                path, f'the readings named "{name}" stand at different wavelengths; expected one set'
            )
        mean = average(np.array([values for *_, values in group]), wavelengths_nm=nm)
        lines = [line for _, line, _, _ in group]
        apart = mean.apart
        if apart > CONTRADICTION:
            where = f" (lines {', '.join(map(str, lines[:6]))})" if len(set(lines)) > 1 else ""
            raise SpectralFileError(
                path,
                f'the {len(group)} readings named "{name}"{where} lie {apart:.2f} apart; expected repeats '
                "of one swatch. Give each swatch a name of its own, or say which column names them.",
            )
        if apart > REMARKABLE:
            notices.append(f'the {len(group)} readings named "{name}" differ by {apart:.3f}: an uneven coat?')
        for i in np.flatnonzero(~mean.kept):
            which = f" in line {lines[i]}" if len(set(lines)) > 1 else ""
            notices.append(
                f'reading {i + 1} of {len(group)} named "{name}"{which} lies {mean.distances[i]:.3f} '
                "from the others and is left out"
            )
        readings.append(Reading(name, nm, mean.mean, mean.noise, repeats=int(mean.kept.sum())))
    return tuple(readings)


def _key(name: str) -> str:
    return " ".join(name.split()).casefold()
