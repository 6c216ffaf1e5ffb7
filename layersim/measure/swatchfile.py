"""The swatches of one paint as a small commented text file, beside the file of their spectra.

What was sprayed stands in this file, what was measured in the instrument's own, so that neither is
copied by hand into the other. :func:`starter_text` is an example with every key explained.

A swatch has its spectrum from one source: a ``reading`` in the spectral file, or a ``reflectance``
written out. Swatches on a photographed card have a ``patch`` of the card instead, and the document a
table ``[photograph]`` in the place of ``[readings]`` (:mod:`layersim.measure.photofile`); how a swatch
was made is read by :mod:`layersim.measure.swatchkeys` whatever the source.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import SwatchFileError, UnknownNameError, nearest_hint
from layersim.files import inside_folder
from layersim.measure.photofile import PICTURE_SUFFIXES, is_picture, photographed_set
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.sheet import Specular
from layersim.measure.spectral import HIGHEST, LOWEST, UNITS, SpectralFile, read_spectra
from layersim.measure.swatch import SPECULAR, THIS_PAINT, Ground, Swatch, SwatchSet
from layersim.measure.swatchkeys import (
    FORMAT,
    STARTER_OF_LIQUID,
    read_paint_keys,
    read_sprayed,
    refuse_doubles,
    starter_name_line,
)
from layersim.paint import KINDS
from layersim.paintfile import read_sheen
from layersim.spectra import BANDS, FloatArray, resample
from layersim.tables import Document, Table

DEFAULT_NOISE: Final = 0.003
"""One standard deviation of a single reading, as a share of full scale, where the file does not say.

An assumption: a field instrument repeats itself to about 0.001 on one spot, and a painted swatch
is not the same from spot to spot.
"""


def read_any_swatches(path: Path) -> SwatchSet | PhotographedSet:
    """Return the swatches in a file, measured or photographed.

    Parameters
    ----------
    path : Path

    Returns
    -------
    SwatchSet or PhotographedSet

    Raises
    ------
    SwatchFileError
        With everything that is wrong in the file.
    SpectralFileError
        If the spectral file that it names cannot be used.
    CardFileError
        If the layout of the card cannot be used.
    """
    if is_picture(path):
        raise SwatchFileError(path, "this is a picture; give the swatches file that names it")
    document = _document(path)
    if "photograph" not in document.top:
        return read_swatches(path)
    found = None
    with document.gather():
        document.check_format(FORMAT)
        _refuse_lost_heading(document.top)
        found = photographed_set(document)
    document.finish()
    if found is None:  # pragma: no cover - finish() raises whenever gather() caught a fault
        raise AssertionError
    return found


def read_swatches(path: Path) -> SwatchSet:
    """Return the swatches in a file, with their spectra.

    Parameters
    ----------
    path : Path

    Returns
    -------
    SwatchSet

    Raises
    ------
    SwatchFileError
        With everything that is wrong in the file.
    SpectralFileError
        If the spectral file that it names cannot be used.
    """
    document = _document(path)
    found = None
    with document.gather():
        document.check_format(FORMAT)
        _refuse_lost_heading(document.top)
        if "photograph" in document.top:
            raise document.top.fault(
                "photograph",
                "swatches on a photographed card",
                "measured swatches",
                "Fit them as photographed.",
            )
        found = _swatch_set(document)
    document.finish()
    if found is None:  # pragma: no cover - finish() raises whenever gather() caught a fault
        raise AssertionError
    return found


def _document(path: Path) -> Document:
    return Document(path, what="swatches", error=SwatchFileError, subheadings=("photograph.other_light",))


def _refuse_lost_heading(top: Table) -> None:
    """Raise where what belongs under ``[photograph]`` or ``[readings]`` stands above every heading."""
    if "file" not in top.values:
        return
    picture = Path(str(top.values["file"])).suffix.lower() in PICTURE_SUFFIXES
    heading = "photograph" if picture or _OF_PHOTOGRAPH & set(top.values) else "readings"
    under = top.values.get(heading)
    if not (isinstance(under, dict) and "file" in under):
        raise top.fault(
            "file",
            "it above every heading",
            f"the heading [{heading}] in the line before it",
            "That heading seems to be missing.",
        )


_OF_PHOTOGRAPH: Final = {"card", "thinning", "reference", "encoding", "corners_px", "chart_corners_px"}


def _swatch_set(document: Document) -> SwatchSet | None:
    top = document.top
    keys = read_paint_keys(top)
    sources = _Sources(top)
    with document.gather():
        sources.read_file()
    with document.gather():
        keys["specular"] = _specular(top, sources.file)

    grounds = []
    for row in top.tables("ground"):
        with document.gather():
            grounds.append(_ground(row, sources))
    with document.gather():
        refuse_doubles(top.tables("ground"))
    names = [str(row.values["name"]).strip() for row in top.tables("ground") if "name" in row.values]
    swatches = []
    for row in top.tables("swatch"):
        with document.gather():
            swatches.append(_swatch(row, sources, own_name=keys["paint"], grounds=names))
    with document.gather():
        refuse_doubles(top.tables("swatch"))
    with document.gather():
        if not top.tables("swatch"):
            raise top.fault("swatch", "none", "at least one heading [[swatch]]")
        top.no_other_keys()
    if document.problems:
        return None
    return SwatchSet(
        **keys,
        grounds=tuple(grounds),
        swatches=tuple(swatches),
        source=document.path,
        spectra=sources.file.path if sources.file else None,
        notices=tuple(f"{sources.file.path.name}: {notice}" for notice in sources.file.notices)
        if sources.file
        else (),
    )


# --- spectra --------------------------------------------------------------------------------


class _Sources:
    """Where spectra come from: the readings of a file, or the document itself."""

    def __init__(self, top: Table) -> None:
        self.top = top
        self.file: SpectralFile | None = None
        self.noise = DEFAULT_NOISE
        self.failed = True
        self._used: dict[str, str] = {}
        self._own_nm: list[float] | None = None

    def read_file(self) -> None:
        """Read the spectral file that ``[readings]`` names, and the list of wavelengths, if any."""
        if "wavelength_nm" in self.top:
            own_nm = self.top.numbers("wavelength_nm", low=200.0, high=3000.0)
            if any(b <= a for a, b in itertools.pairwise(own_nm)):
                raise self.top.fault(
                    "wavelength_nm", "wavelengths out of order", "wavelengths that rise from first to last"
                )
            self._own_nm = own_nm
        table = self.top.table("readings")
        if table is not None:
            self.noise = table.number("noise", DEFAULT_NOISE, above=0.0, high=0.2)
            unit = table.choice("unit", UNITS) if "unit" in table else None
            names_from = table.text("names_from") if "names_from" in table else None
            name = table.text("file")
            table.no_other_keys()
            target = inside_folder(name, self.top.document.path.parent)
            if target is None:
                raise table.fault("file", f'"{name}"', "a file in the same folder as this one, or below it")
            self.file = read_spectra(
                target,
                unit=None if unit is None else UNITS[UNITS.index(unit)],
                names_from=names_from,
            )
            lightest = max(float(reading.reflectance.max()) for reading in self.file.readings)
            if unit == "per cent" and 100.0 * lightest <= HIGHEST:
                raise table.fault(
                    "unit",
                    f'"per cent", with {100.0 * lightest:g} as the largest number in {target.name}',
                    "a lighter reading somewhere",
                    "Are these fractions? Leave unit out, and it is found.",
                )
        self.failed = False

    def spectrum(self, row: Table) -> tuple[FloatArray, FloatArray] | None:
        """Return reflectance and noise of a ground or swatch; None where it has neither key."""
        if "reading" in row and "reflectance" in row:
            raise row.fault(None, "both reading and reflectance", "one of them")
        own_noise = row.number("noise", above=0.0, high=0.2) if "noise" in row else None
        if "reading" in row:
            return self._from_file(row, own_noise)
        if "reflectance" in row:
            noise = self.noise if own_noise is None else own_noise
            return self._inline(row), np.full(BANDS, noise)
        return None

    def _from_file(self, row: Table, own_noise: float | None) -> tuple[FloatArray, FloatArray]:
        name = row.text("reading")
        if self.file is None:
            if self.failed:
                return np.zeros(BANDS), np.ones(BANDS)  # its fault is noted already
            raise row.fault("reading", f'"{name}"', "a heading [readings] with the file it stands in")
        try:
            reading = self.file.find(name)
        except UnknownNameError:
            raise row.fault(
                "reading",
                f'"{name}"',
                f"a reading in {self.file.path.name}",
                nearest_hint(name, self.file.names, kind="readings"),
            ) from None
        if reading.name in self._used:
            raise row.fault(
                "reading",
                f'"{name}", which {self._used[reading.name]} has already',
                "a reading for each swatch and ground",
            )
        self._used[reading.name] = row.where
        reflectance, repeats = reading.on_grid()
        stated = (self.noise if own_noise is None else own_noise) / math.sqrt(reading.repeats)
        # Few repeats may agree by luck, so what is stated is a floor under what they show.
        noise = np.full(BANDS, stated) if repeats is None else np.maximum(repeats, stated)
        return reflectance, noise

    def _inline(self, row: Table) -> FloatArray:
        values = row.numbers("reflectance", low=-1.0, high=1000.0)
        if max(values) > HIGHEST or min(values) < LOWEST:
            worst = max(values) if max(values) > HIGHEST else min(values)
            hint = "Are these per cent? Write fractions." if worst > 2.0 else ""
            expected = f"fractions of a perfect white, from {LOWEST:g} to {HIGHEST:g}"
            raise row.fault("reflectance", f"{worst:g}", expected, hint)
        if len(values) == 1:
            return np.full(BANDS, values[0])
        own_nm = self._own_nm
        expected_count = BANDS if own_nm is None else len(own_nm)
        if len(values) != expected_count:
            hint = "For other wavelengths add a list wavelength_nm at the top." if own_nm is None else ""
            grid = "400-700 nm by 10 nm" if own_nm is None else "as wavelength_nm has"
            raise row.fault(
                "reflectance", f"{len(values)} numbers", f"1 or {expected_count} numbers ({grid})", hint
            )
        try:
            return np.array(values) if own_nm is None else resample(values, from_nm=own_nm)
        except ValueError as fault:
            raise self.top.fault("wavelength_nm", f"{len(values)} numbers", str(fault)) from None


def _specular(top: Table, file: SpectralFile | None) -> Specular:
    said = file.specular if file else None
    if "specular" not in top:
        if said is not None:
            return said
        raise top.fault(
            "specular",
            "nothing",
            '"included" or "excluded"',
            "Was the mirror reflection of the surface measured? A sphere (d/8) can do either, "
            "45/0 excludes it.",
        )
    word = SPECULAR[SPECULAR.index(top.choice("specular", SPECULAR))]
    if said is not None and file is not None and said != word:
        raise top.fault("specular", f'"{word}"', f'"{said}", as {file.path.name} says of its geometry')
    return word


# --- grounds and swatches -------------------------------------------------------------------


def _ground(row: Table, sources: _Sources) -> Ground:
    name = row.text("name")
    spectrum = sources.spectrum(row)
    paint = row.text("paint") if "paint" in row else None
    if (spectrum is None) == (paint is None):
        found = "both a measurement and paint" if paint else "neither reading, reflectance nor paint"
        raise row.fault(
            None, found, 'reading = "..." (measured bare), or paint = "..." (a primer on the shelf)'
        )
    reflectance, noise = spectrum or (None, None)
    sheen = read_sheen(row, "sheen", "matt")
    row.no_other_keys()
    return Ground(name=name, reflectance=reflectance, noise=noise, paint=paint, sheen=sheen)


def _swatch(row: Table, sources: _Sources, *, own_name: str, grounds: Collection[str]) -> Swatch:
    made = read_sprayed(row, own_name=own_name, grounds=grounds)
    spectrum = sources.spectrum(row)
    if spectrum is None:
        raise row.fault("reading", "nothing", "the name of its reading in the spectral file")
    row.no_other_keys()
    return Swatch(**made, reflectance=spectrum[0], noise=spectrum[1])


# --- a document to start from ---------------------------------------------------------------


def starter_text(*, paint: str = "") -> str:
    """Return a swatches file to start from, every key explained.

    Parameters
    ----------
    paint : str
        Name of the paint, so far; an example's where it is blank.

    Returns
    -------
    str

    Examples
    --------
    >>> print(starter_text().splitlines()[0])
    # Swatches of one paint: what was sprayed over what, and where its spectra are.
    """
    return _STARTER.replace(_NAME_LINE, starter_name_line(paint)) if paint else _STARTER


_NAME_LINE: Final = 'name = "brick red"        # of the paint; the paint that is fitted gets it'

_STARTER: Final = f"""\
# Swatches of one paint: what was sprayed over what, and where its spectra are.
# Everything after a # is a remark. Change what differs, delete what you did not do.
format = "layersim swatches {FORMAT}"

{_NAME_LINE}
kind = "paint"            # {", ".join(KINDS)}
volume_solids = 0.28      # share of the liquid's volume that stays when dry: see its data sheet
wet_film_um = 15.0        # wet film of one coat, micrometres. Where only coats are counted below, this and
                          # volume_solids say what one coat is, and K and S are per micrometre of that
{STARTER_OF_LIQUID}
sheen = "matt"            # of the dry paint: gloss, satin, matt, or a number from 0 (gloss) to 1 (matt)
specular = "excluded"     # mirror reflection of the surface: "included" or "excluded" by the instrument?
                          # 45/0 excludes it, a sphere (d/8) has a switch. May be left out where the
                          # spectral file says it
provenance = ""           # who measured, when, with what
note = ""

[readings]
file = "brick-red.txt"    # in this folder: CGATS.17 text, or a table (csv, semicolons, tabs)
# unit = "per cent"       # or "fraction"; only if it is found out wrongly
# names_from = "SAMPLE_ID"   # column that names the readings; only if the wrong one is taken
noise = {DEFAULT_NOISE}             # one standard deviation of a single reading, as a share of full scale.
                          # Several readings of one name are averaged, and their spread counts if larger

# ---- what was painted on: the bare primer measured, or a primer that is on the shelf

[[ground]]
name = "black"
reading = "black primer"  # name in the spectral file
# sheen = "matt"          # of the bare primer

[[ground]]
name = "white"
reading = "white primer"
# paint = "white primer"  # instead of a reading: a paint on the shelf

# ---- the swatches: half a coat, one, two and four over black and over white serve well

[[swatch]]
name = "half a coat over black"
ground = "black"
reading = "black, half a coat"
coats = 0.5               # half as many passes, or twice as fast
thinning = 1.0            # parts of thinner to one part of paint

[[swatch]]
name = "1 coat over black"
ground = "black"
reading = "black, 1 coat"
coats = 1
thinning = 1.0

[[swatch]]
name = "2 coats over black"
ground = "black"
reading = "black, 2 coats"
coats = 2
thinning = 1.0

[[swatch]]
name = "4 coats over black"
ground = "black"
reading = "black, 4 coats"
coats = 4
thinning = 1.0

[[swatch]]
name = "half a coat over white"
ground = "white"
reading = "white, half a coat"
coats = 0.5
thinning = 1.0

[[swatch]]
name = "1 coat over white"
ground = "white"
reading = "white, 1 coat"
coats = 1
thinning = 1.0

[[swatch]]
name = "2 coats over white"
ground = "white"
reading = "white, 2 coats"
coats = 2
thinning = 1.0

[[swatch]]
name = "4 coats over white"
ground = "white"
reading = "white, 4 coats"
coats = 4
thinning = 1.0

# Other things a swatch may say:
#   dry_film_um = 1.2              dry film of one coat, measured; then coats too
#   total_dry_film_um = 40         dry film of all coats together, measured; coats may be left out
#   opaque = true                  so many coats that more change nothing; instead of any thickness
#   mix = {{ "{THIS_PAINT}" = 1, "titanium white" = 9 }}    a tint, parts by volume; paints from the shelf
#   noise = 0.01                   where this swatch is less even than the others
#   reflectance = [ ... ]          31 fractions, 400-700 nm by 10 nm, instead of a reading

# ---- no instrument? A camera and a printed card do: layersim testcard card.pdf, and the other kind of this
# ---- file, which has [photograph] where this one has [readings]: layersim start my-card.toml --photograph
"""
