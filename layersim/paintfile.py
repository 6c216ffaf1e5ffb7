"""Paints as small commented text files, one paint a file."""

from __future__ import annotations

import itertools
import textwrap
from pathlib import Path
from typing import Final

import numpy as np

from layersim.errors import PaintFileError
from layersim.files import write_whole
from layersim.optics.surface import SHEENS
from layersim.paint import KINDS, Doubt, Paint
from layersim.spectra import BANDS, FloatArray, resample, wavelengths_nm
from layersim.tables import Document, Table

FORMAT: Final = 1
LARGEST_PER_UM: Final = 1000.0
"""No pigment comes near this; a number beyond it is in the wrong unit (per mm, per cm)."""


def read_paint(path: Path) -> Paint:
    """Return the paint in a file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Paint

    Raises
    ------
    PaintFileError
        With everything that is wrong in the file.
    """
    document = Document(path, what="paint", error=PaintFileError)
    paint = None
    with document.gather():
        document.check_format(FORMAT)
        paint = _paint(document.top)
        document.top.no_other_keys()
    document.finish()
    if paint is None:  # pragma: no cover - finish() raises whenever gather() caught a fault
        raise AssertionError
    return paint


def _paint(top: Table) -> Paint:
    own_nm = top.numbers("wavelength_nm", low=200.0, high=3000.0) if "wavelength_nm" in top else None
    if own_nm is not None and any(b <= a for a, b in itertools.pairwise(own_nm)):
        raise top.fault(
            "wavelength_nm", "wavelengths out of order", "wavelengths that rise from first to last"
        )

    def bands(table: Table, key: str, low: float, high: float) -> FloatArray:
        values = table.numbers(key, low=low, high=high)
        if len(values) == 1:
            return np.full(BANDS, values[0])
        expected = BANDS if own_nm is None else len(own_nm)
        if len(values) != expected:
            hint = "" if own_nm else "For other wavelengths add a list wavelength_nm."
            grid = "400-700 nm by 10 nm" if own_nm is None else "as wavelength_nm has"
            raise table.fault(key, f"{len(values)} numbers", f"1 or {expected} numbers ({grid})", hint)
        try:
            return np.array(values) if own_nm is None else resample(values, from_nm=own_nm)
        except ValueError as fault:
            raise table.fault("wavelength_nm", f"{len(values)} numbers", str(fault)) from None

    doubts = []
    for row in top.tables("doubt"):
        doubts.append(
            Doubt(
                cause=row.text("cause"),
                log_K=np.log1p(bands(row, "K_percent", -99.0, 1000.0) / 100.0),
                log_S=np.log1p(bands(row, "S_percent", -99.0, 1000.0) / 100.0),
            )
        )
        row.no_other_keys()
    return Paint(
        name=top.text("name"),
        kind=top.choice("kind", KINDS),
        K_per_um=bands(top, "K_per_um", 0.0, LARGEST_PER_UM),
        S_per_um=bands(top, "S_per_um", 0.0, LARGEST_PER_UM),
        volume_solids=top.number("volume_solids", above=0.0, high=1.0),
        wet_film_um=top.number("wet_film_um", above=0.0, high=1000.0),
        sheen=read_sheen(top, "sheen"),
        provenance=top.text("provenance"),
        invented=top.flag("invented", False),
        note=top.text("note", ""),
        doubts=tuple(doubts),
    )


def read_sheen(table: Table, key: str, default: str | None = None) -> float:
    """Return a sheen given as one of the trade's words or as a number from 0 (gloss) to 1 (matt).

    Parameters
    ----------
    table : Table
    key : str
    default : str, optional

    Returns
    -------
    float
    """
    if isinstance(table.values.get(key), str) or (key not in table and default is not None):
        return SHEENS[table.choice(key, SHEENS, default)]
    if key not in table:
        table.choice(key, SHEENS)
    return table.number(key, low=0.0, high=1.0)


def slug(name: str) -> str:
    """Return the file name, without its ending, that a paint of this name has.

    Parameters
    ----------
    name : str

    Returns
    -------
    str

    Examples
    --------
    >>> slug("Titanium White (opaque)")
    'titanium-white-opaque'
    """
    kept = "".join(c if c.isalnum() else "-" for c in name.lower())
    return "-".join(part for part in kept.split("-") if part)


def paint_text(paint: Paint) -> str:
    """Return a paint as the text of its file, with comments that explain each line.

    Parameters
    ----------
    paint : Paint

    Returns
    -------
    str

    Examples
    --------
    >>> print(paint_text(Paint(name="clear", kind="varnish", K_per_um=0.0, S_per_um=0.0, volume_solids=0.3,
    ...     wet_film_um=20.0, sheen=0.05, provenance="an example", invented=True)).splitlines()[1])
    format = "layersim paint 1"
    """
    word = next((word for word, share in SHEENS.items() if share == paint.sheen), None)
    head = "An invented paint: plausible, measured by nobody." if paint.invented else f"{paint.name}."
    rows = [
        f"# {head} Made to be read and edited by hand.",
        f'format = "layersim paint {FORMAT}"',
        f"name = {_quoted(paint.name)}",
        f'kind = "{paint.kind}"   # {", ".join(KINDS)}',
        f"invented = {str(paint.invented).lower()}",
        f"provenance = {_quoted(paint.provenance)}",
    ]
    if paint.note:
        rows.append(f"note = {_quoted(paint.note)}")
    rows += [
        f"volume_solids = {paint.volume_solids:.6g}   # share of the liquid's volume that stays when dry",
        f"wet_film_um = {paint.wet_film_um:.6g}   # suggested wet film of one coat, micrometres",
        f'sheen = "{word}"   # gloss, satin, matt, or a number from 0 (gloss) to 1 (matt)'
        if word
        else f"sheen = {paint.sheen:.6g}   # 0 (gloss) to 1 (matt)",
        "",
        "# Absorption K and scattering S per micrometre of dry film, 400 to 700 nm by 10 nm.",
        *_spectrum("K_per_um", paint.K_per_um),
        *_spectrum("S_per_um", paint.S_per_um),
    ]
    for doubt in paint.doubts:
        rows += [
            "",
            "[[doubt]]   # one way this paint may differ from the above: one standard deviation",
            f"cause = {_quoted(doubt.cause)}",
            *_spectrum("K_percent", np.expm1(doubt.log_K) * 100.0),
            *_spectrum("S_percent", np.expm1(doubt.log_S) * 100.0),
        ]
    return "\n".join(rows) + "\n"


def write_paint(paint: Paint, path: Path) -> None:
    """Write a paint file whole or not at all.

    Parameters
    ----------
    paint : Paint
    path : Path

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    write_whole(path, paint_text(paint))


def _spectrum(key: str, values: FloatArray) -> list[str]:
    texts = [f"{value:.5g}" for value in values]
    if len(set(texts)) == 1:
        return [f"{key} = {texts[0]}   # the same at every wavelength"]
    rows = [f"{key} = ["]
    for first in range(0, BANDS, 10):
        row = ", ".join(texts[first : first + 10])
        nm = wavelengths_nm()[first : first + 10]
        rows.append(f"  {row},   # {nm[0]:.0f}-{nm[-1]:.0f} nm")
    return [*rows, "]"]


def _quoted(text: str) -> str:
    # TOML's basic strings escape as JSON does, for everything that can stand in a line of text.
    import json

    return json.dumps(textwrap.dedent(text), ensure_ascii=False)
