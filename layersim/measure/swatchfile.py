"""The swatches of one paint as a small commented text file, beside the file of their spectra.

What was sprayed stands in this file, what was measured in the instrument's own, so that neither is
copied by hand into the other. :func:`starter_text` is an example with every key explained.

A swatch has its spectrum from one source: a ``reading`` in the spectral file, or a ``reflectance``
written out. Swatches on a photographed card have a ``patch`` of the card instead, and the document a
table ``[photograph]`` in the place of ``[readings]`` (:mod:`layersim.measure.photofile`); how a swatch
was made is read by :mod:`layersim.measure.swatchkeys` whatever the source.
"""

from __future__ import annotations

import functools
import math
from pathlib import Path
from typing import Any, Final

import numpy as np

from layersim.documents.document import Document
from layersim.documents.keys import Key, read_keys, rows, section
from layersim.documents.kinds import number, special, text, word
from layersim.documents.spectrum import OWN_NM, WAVELENGTHS, on_grid
from layersim.documents.table import Table
from layersim.errors import SwatchFileError, UnknownNameError, nearest_hint, quoted
from layersim.measure.photofile import PHOTOGRAPH_KEYS, PHOTOGRAPHED_KEYS, is_picture, photographed_set
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.sheet import Specular
from layersim.measure.spectral import HIGHEST, LOWEST, SHINIEST, UNITS, SpectralFile, read_spectra
from layersim.measure.swatch import SPECULAR, Ground, Swatch, SwatchSet
from layersim.measure.swatchkeys import (
    FORMAT,
    GROUND_KEYS,
    MADE_KEYS,
    MOST_GROUNDS,
    MOST_SWATCHES,
    OF_PAINT_KEYS,
    each,
    file_beside,
    made,
    name_line,
    refuse_metal_of_others,
    starter,
)
from layersim.paint import METAL
from layersim.spectra import BANDS, FloatArray

DEFAULT_NOISE: Final = 0.003
"""One standard deviation of a single reading, as a share of full scale, where the file does not say.

An assumption: a field instrument repeats itself to about 0.001 on one spot, and a painted swatch is not
the same from spot to spot.
"""


LEAST_DEG, MOST_DEG = 10.0, 120.0
"""Ends of the angles from the mirror direction at which a metal paint may be read."""


def _reflectance(row: Table, key: str) -> FloatArray:
    values = row.numbers(key, low=-1.0, high=1000.0)
    highest = _highest(row.document)
    if max(values) > highest or min(values) < LOWEST:
        worst = max(values) if max(values) > highest else min(values)
        hint = "Are these per cent? Write fractions." if worst > 2.0 else ""
        expected = f"fractions of a perfect white, from {LOWEST:g} to {highest:g}"
        raise row.fault(key, f"{worst:g}", expected, hint)
    return np.clip(on_grid(row, key, values), LOWEST, highest)


def _highest(document: Document) -> float:
    swatches = document.top.values.get("swatch")
    rows = swatches if isinstance(swatches, list) else []
    # Whoever gives an angle means a metal, and is told so if the kind is another.
    angled = any(isinstance(row, dict) and "angle_deg" in row for row in rows)
    return SHINIEST if angled or document.top.values.get("kind") == METAL else HIGHEST


def _angle(row: Table, key: str) -> float:
    said = f"degrees, {LEAST_DEG:g} to {MOST_DEG:g}, or as many on the far side of it, -{LEAST_DEG:g} to -35"
    angle = row.number(key, low=-35.0, high=MOST_DEG, expected=said)
    if row.document.top.values.get("kind") != METAL:
        raise row.fault(
            key, f"{angle:g}", 'it only where kind = "metal"', "Other paints look alike from all sides."
        )
    if abs(angle) < LEAST_DEG:
        raise row.fault(key, f"{angle:g}", said, "Nearer than that the surface's own mirror image is in it.")
    return angle


_NOISE: Final = number(above=0, high=0.2)
_SPECTRUM_KEYS: Final = {
    "reading": Key(text(), "name of its reading in the spectral file", None),
    "reflectance": Key(
        special(_reflectance, f"{BANDS} fractions, or one"), "written out instead, 400-700 nm by 10 nm", None
    ),
    "noise": Key(_NOISE, "where it is less even than the others", None),
}
READINGS_KEYS: Final = {
    "file": Key(file_beside("a file: CGATS.17 text, or a table"), "the spectra"),
    "noise": Key(
        _NOISE, "one standard deviation of a single reading, as a share of full scale", DEFAULT_NOISE
    ),
    "unit": Key(word(tuple(UNITS)), "only if it is found out wrongly", None),
    "names_from": Key(text(), "column that names the readings, only if the wrong one is taken", None),
}
MEASURED_GROUND_KEYS: Final = {**GROUND_KEYS, **_SPECTRUM_KEYS}
SWATCH_KEYS: Final = {
    **MADE_KEYS,
    **_SPECTRUM_KEYS,
    "angle_deg": Key(
        special(_angle, f"degrees, {LEAST_DEG:g} to {MOST_DEG:g}"),
        "of a metal paint: from the mirror direction, lit from 45°; 45/0 is 45",
        None,
    ),
}
MEASURED_KEYS: Final = {
    **OF_PAINT_KEYS,
    "specular": Key(
        word(SPECULAR),
        "mirror reflection of the surface, by the instrument; the spectral file may say it",
        None,
    ),
    **WAVELENGTHS,
    "readings": Key(section(READINGS_KEYS), "the file of the spectra", None),
    "ground": Key(rows(MEASURED_GROUND_KEYS, most=MOST_GROUNDS), "what was painted on", []),
    "swatch": Key(rows(SWATCH_KEYS, most=MOST_SWATCHES), "what was sprayed", []),
}
_ALL_KEYS: Final = {**MEASURED_KEYS, "photograph": PHOTOGRAPHED_KEYS["photograph"]}


def read_any_swatches(path: Path) -> SwatchSet | PhotographedSet:
    """Return the swatches in a file, measured or photographed.

    Raises SwatchFileError with everything that is wrong in it, SpectralFileError if the spectral file that it
    names can't be used, and CardFileError if the layout of the card can't be used.
    """
    if is_picture(path):
        raise SwatchFileError(path, "this is a picture; give the swatches file that names it")
    document = Document(path, what="swatches", error=SwatchFileError, keys=_ALL_KEYS)
    top = document.top
    found: SwatchSet | PhotographedSet | None = None
    with document.gather():
        document.check_format(FORMAT)
        _refuse_lost_heading(top)
        found = photographed_set(document) if "photograph" in top else _swatch_set(document)
    document.finish()
    assert found is not None, "what is not found has a fault, and finish() tells it"
    return found


def _refuse_lost_heading(top: Table) -> None:
    """Raise where what belongs under ``[photograph]`` or ``[readings]`` stands above every heading."""
    if "file" not in top.values:
        return
    picture = is_picture(Path(str(top.values["file"])), there=False)
    of_photograph = (PHOTOGRAPH_KEYS.keys() - READINGS_KEYS.keys()) & top.values.keys()
    heading = "photograph" if picture or of_photograph else "readings"
    under = top.values.get(heading)
    if not (isinstance(under, dict) and "file" in under):
        raise top.fault(
            "file",
            "it above every heading",
            f"the heading [{heading}] in the line before it",
            "That heading seems to be missing.",
        )


def _swatch_set(document: Document) -> SwatchSet | None:
    top = document.top
    keys = read_keys(top, MEASURED_KEYS)
    keys.pop(OWN_NM)
    table, ground_rows, swatch_rows = (keys.pop(key) for key in ("readings", "ground", "swatch"))
    sources = _Sources(table)
    with document.gather():
        refuse_metal_of_others(top)
    with document.gather():
        keys["specular"] = _specular(top, keys["specular"], sources.file)
    grounds = each(ground_rows, MEASURED_GROUND_KEYS, functools.partial(_ground, sources=sources))
    names = [str(row.values.get("name", "")).strip() for row in ground_rows]
    swatches = each(
        swatch_rows,
        SWATCH_KEYS,
        functools.partial(_swatch, sources=sources, own_name=keys["paint"], grounds=names),
    )
    with document.gather():
        if not swatch_rows:
            raise top.fault("swatch", "none", "at least one heading [[swatch]]")
    if document.problems:
        return None
    file = sources.file
    return SwatchSet(
        **keys,
        grounds=_that_count(grounds, swatches),
        swatches=swatches,
        source=document.path,
        notices=tuple(f"{file.path.name}: {notice}" for notice in file.notices) if file else (),
    )


def _that_count(grounds: tuple[Ground, ...], swatches: tuple[Swatch, ...]) -> tuple[Ground, ...]:
    """Return the grounds that swatches lie on, and of the others the darkest, which tells of the surface."""
    used = {swatch.ground for swatch in swatches}
    bare = [g for g in grounds if g.reflectance is not None and g.name not in used]
    darkest = min(bare, key=lambda g: float(np.mean(g.reflectance)), default=None)  # type: ignore[arg-type]
    return tuple(ground for ground in grounds if ground.name in used or ground is darkest)


class _Sources:
    """Where spectra come from: the file that ``[readings]`` names, or the document itself."""

    def __init__(self, table: Table | None) -> None:
        self.file: SpectralFile | None = None
        self.noise, self.failed = DEFAULT_NOISE, False
        self._used: dict[str, str] = {}
        if table is None:
            return
        before = len(table.document.problems)
        values = read_keys(table, READINGS_KEYS)
        self.failed = len(table.document.problems) > before
        if not self.failed:
            self.noise = values["noise"]
            self.file = read_spectra(
                values["file"],
                unit=values["unit"],
                names_from=values["names_from"],
                highest=_highest(table.document),
            )

    def spectrum(self, row: Table, values: dict[str, Any]) -> tuple[FloatArray, FloatArray] | None:
        """Return reflectance and noise of a ground or swatch; None where it has neither key."""
        if "reading" in row and "reflectance" in row:
            raise row.fault(None, "both reading and reflectance", "one of them")
        stated = self.noise if values["noise"] is None else values["noise"]
        name, reflectance = values["reading"], values["reflectance"]
        if name is None:
            return None if reflectance is None else (reflectance, np.full(BANDS, stated))
        if self.failed:
            return np.zeros(BANDS), np.ones(BANDS)  # its fault is noted already
        if self.file is None:
            raise row.fault("reading", quoted(name), "a heading [readings] with the file it stands in")
        try:
            reading = self.file.find(name)
        except UnknownNameError:
            raise row.fault(
                "reading",
                quoted(name),
                f"a reading in {self.file.path.name}",
                nearest_hint(name, self.file.names, kind="readings"),
            ) from None
        if reading.name in self._used:
            raise row.fault(
                "reading",
                f"{quoted(name)}, which {self._used[reading.name]} has already",
                "a reading for each swatch and ground",
            )
        self._used[reading.name] = row.where
        reflectance, repeats = reading.on_grid()
        stated /= math.sqrt(reading.repeats)
        # Few repeats may agree by luck, so what is stated is a floor under what they show.
        return reflectance, np.full(BANDS, stated) if repeats is None else np.maximum(repeats, stated)


def _specular(top: Table, said: Specular | None, file: SpectralFile | None) -> Specular | None:
    of_file = file.specular if file else None
    if "specular" not in top and of_file is None:
        raise top.fault(
            "specular",
            "nothing",
            '"included" or "excluded"',
            "Was the mirror reflection of the surface measured? A sphere (d/8) can do either, "
            "45/0 excludes it.",
        )
    if said is not None and file is not None and of_file not in (None, said):
        raise top.fault("specular", f'"{said}"', f'"{of_file}", as {file.path.name} says of its geometry')
    return said or of_file


def _ground(row: Table, values: dict[str, Any], *, sources: _Sources) -> Ground:
    spectrum, paint = sources.spectrum(row, values), values["paint"]
    if (spectrum is None) == (paint is None):
        found = "both a measurement and paint" if paint else "neither reading, reflectance nor paint"
        raise row.fault(
            None, found, 'reading = "..." (measured bare), or paint = "..." (a primer on the shelf)'
        )
    reflectance, noise = spectrum or (None, None)
    return Ground(
        name=values["name"], reflectance=reflectance, noise=noise, paint=paint, sheen=values["sheen"]
    )


def _swatch(
    row: Table, values: dict[str, Any], *, sources: _Sources, own_name: str, grounds: list[str]
) -> Swatch:
    how = made(row, values, own_name=own_name, grounds=grounds)
    spectrum = sources.spectrum(row, values)
    if spectrum is None:
        raise row.fault("reading", "nothing", "the name of its reading in the spectral file")
    return Swatch(**how, reflectance=spectrum[0], noise=spectrum[1], angle_deg=values["angle_deg"])


def starter_text(*, paint: str = "") -> str:
    """Return a swatches file to start from, every key explained; an example's name stands for a blank one.

    >>> print(starter_text().splitlines()[0])
    # Swatches of one paint: what was sprayed over what, and where its spectra are.
    """
    return starter("swatches.toml", {'name = "brick red"': name_line(paint)} if paint else {})
