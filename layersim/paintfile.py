"""Paints as small commented text files, one paint a file."""

from __future__ import annotations

import dataclasses
import itertools
import math
import re
import unicodedata
from pathlib import Path
from typing import Any, Final

import numpy as np

from layersim.errors import PaintFileError, nearest_hint, quoted
from layersim.files import write_whole
from layersim.optics.surface import SHEENS
from layersim.paint import (
    CARRIERS,
    FILM_BASES,
    FIRST_REFLECTIONS,
    HAZARDS,
    KINDS,
    USUAL_REFLECTION,
    Doubt,
    Paint,
)
from layersim.spectra import BANDS, FloatArray, resample, wavelengths_nm
from layersim.tables import Document, Table, shown

FORMAT: Final = 1
LARGEST_PER_UM: Final = 1000.0
"""No pigment comes near this; a number beyond it is in the wrong unit (per mm, per cm)."""
DOUBT_PERCENT: Final = (-99.99, 1e6)
"""Ends of a doubt's shift: a ten-thousandth and ten thousand times the constant."""
MOST_DOUBTS: Final = 40
DIFFUSE: Final = "diffuse light"
_MADE_OVER: Final = Doubt(
    f"made over from K and S for {DIFFUSE}", log_K=np.full(BANDS, 0.05), log_S=np.full(BANDS, 0.08)
)
"""About what ΔE00 0.9 in stacks comes to, which eight rendered ones were off by (an estimate)."""
_SAID: Final = {"K and S per µm of nominal film": "coats", "K and S per µm of measured film": "measured"}
MADE_FOR: Final = ("light from above", DIFFUSE)
"""What K and S were made for: this program's films, or those of textbooks and published tables."""


def read_paint(path: Path) -> Paint:
    """Return the paint in a file.

    K and S that were made for diffuse light are made over, so that the paint's coats look as they did there
    (:mod:`layersim.optics.diffuse`); its provenance says so.

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
    with document.gather():
        document.check_format(FORMAT)
    keys = _keys(document)
    made_for = document.attempt(lambda: document.top.choice("made_for", MADE_FOR, MADE_FOR[0]), MADE_FOR[0])
    document.top.no_other_keys()
    document.finish()
    paint = Paint(**(keys if keys["film_basis"] else keys | film_basis_said(keys["provenance"])))
    return _made_over(paint) if made_for == DIFFUSE else paint


def film_basis_said(provenance: str) -> dict[str, str]:
    """Return what files that were written before `film_basis` was a key say of it in their provenance.

    >>> film_basis_said('fitted; K and S per µm of nominal film, a coat of "fine needle" being 1.4 times')
    {'film_basis': 'coats', 'film_of': 'fine needle'}
    """
    basis = next((basis for words, basis in _SAID.items() if words in provenance), "")
    own = re.search(r', a coat of "((?:[^"\\\\]|\\\\.)*)" being', provenance) if basis == "coats" else None
    return {"film_basis": basis, "film_of": own.group(1) if own else ""}


def _made_over(paint: Paint) -> Paint:
    # Few paints need it, and it brings in much.
    from layersim.optics.diffuse import made_for_cones

    K, S = made_for_cones(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um, coat_um=paint.dry_film_um)
    provenance = f"{paint.provenance}; made over from K and S for {DIFFUSE}"
    return dataclasses.replace(
        paint,
        K_per_um=np.minimum(K, LARGEST_PER_UM),
        S_per_um=np.minimum(S, LARGEST_PER_UM),
        provenance=provenance,
        doubts=(*paint.doubts, _MADE_OVER),
    )


def _keys(document: Document) -> dict[str, Any]:
    """Return what a file says of each field of the record, its problems left in the document."""
    top, attempt = document.top, document.attempt
    own_nm = attempt(lambda: _wavelengths(top), None)
    # A list of another length than a broken list of wavelengths has not to be blamed, too.
    any_length = own_nm is None and "wavelength_nm" in top

    def bands(table: Table, key: str, low: float, high: float) -> FloatArray:
        values = table.numbers(key, low=low, high=high)
        if len(values) == 1 or any_length:
            return np.full(BANDS, values[0])
        expected = BANDS if own_nm is None else len(own_nm)
        if len(values) != expected:
            hint = "" if own_nm else "For other wavelengths add a list wavelength_nm."
            grid = "400-700 nm by 10 nm" if own_nm is None else "as wavelength_nm has"
            raise table.fault(key, f"{len(values)} numbers", f"1 or {expected} numbers ({grid})", hint)
        if own_nm is None:
            return np.array(values)
        # The curve through the samples may leave their range by a rounding.
        return np.clip(resample(values, from_nm=own_nm), low, high)

    def doubts() -> tuple[Doubt, ...]:
        rows = top.tables("doubt")
        if len(rows) > MOST_DOUBTS:
            raise top.fault("doubt", f"{len(rows)} doubts", f"at most {MOST_DOUBTS}")
        return tuple(doubt(row) for row in rows)

    def doubt(row: Table) -> Doubt:
        def shift(key: str) -> FloatArray:
            return np.log1p(attempt(lambda: bands(row, key, *DOUBT_PERCENT), nothing) / 100.0)

        cause = attempt(lambda: row.text("cause"), "")
        sheen, first = (
            attempt(lambda key=key: row.number(key, 0.0, low=-1.0, high=1.0), 0.0)  # type: ignore[misc]
            for key in ("sheen", "first_reflection")
        )
        found = Doubt(
            cause=cause,
            log_K=shift("K_percent"),
            log_S=shift("S_percent"),
            sheen=sheen,
            first_reflection=first,
        )
        row.no_other_keys()
        return found

    nothing = np.zeros(BANDS)
    no_doubts: tuple[Doubt, ...] = ()
    no_hazards: tuple[str, ...] = ()
    return {
        "name": attempt(lambda: _name(top), ""),
        "kind": attempt(lambda: top.choice("kind", KINDS), KINDS[0]),
        "K_per_um": attempt(lambda: bands(top, "K_per_um", 0.0, LARGEST_PER_UM), nothing),
        "S_per_um": attempt(lambda: bands(top, "S_per_um", 0.0, LARGEST_PER_UM), nothing),
        "volume_solids": attempt(lambda: top.number("volume_solids", above=0.0, high=1.0), 1.0),
        "wet_film_um": attempt(lambda: top.number("wet_film_um", above=0.0, high=1000.0), 1.0),
        "sheen": attempt(lambda: read_sheen(top, "sheen"), 0.0),
        "provenance": attempt(lambda: top.text("provenance"), ""),
        "invented": attempt(lambda: top.flag("invented", False), False),
        "note": attempt(lambda: top.text("note", ""), ""),
        "doubts": attempt(doubts, no_doubts),
        "carrier": attempt(lambda: top.choice("carrier", CARRIERS) if "carrier" in top else "", ""),
        "hazards": attempt(lambda: read_hazards(top), no_hazards),
        "film_basis": attempt(
            lambda: top.choice("film_basis", FILM_BASES) if "film_basis" in top else "", ""
        ),
        "film_of": attempt(lambda: top.text("film_of", ""), ""),
        "first_reflection": attempt(
            lambda: top.number(
                "first_reflection", USUAL_REFLECTION, low=FIRST_REFLECTIONS[0], high=FIRST_REFLECTIONS[1]
            ),
            USUAL_REFLECTION,
        ),
    }


def _name(top: Table) -> str:
    name = top.name("name")
    if not slug(name):
        raise top.fault("name", quoted(name), "a name with letters or digits, by which it can be found")
    return name


def read_hazards(top: Table) -> tuple[str, ...]:
    """Return the hazards that a file names, one word or a list of them.

    Parameters
    ----------
    top : Table
        With or without a key ``hazards``.

    Returns
    -------
    tuple of str

    Raises
    ------
    Fault
        If one is not known; see :meth:`Document.gather`.
    """
    if "hazards" not in top:
        return ()
    listed = top.values["hazards"]
    words = [listed] if isinstance(listed, str) else listed
    expected = "some of " + ", ".join(f'"{word}"' for word in HAZARDS) + ", in square brackets"
    if not isinstance(words, list):
        raise top.fault("hazards", shown(listed), expected)
    for word in words:
        if word not in HAZARDS:
            hint = nearest_hint(word, HAZARDS, listed=False) if isinstance(word, str) else ""
            raise top.fault("hazards", shown(word), expected, hint)
    return tuple(dict.fromkeys(words))


def _wavelengths(top: Table) -> list[float] | None:
    if "wavelength_nm" not in top:
        return None
    own_nm = top.numbers("wavelength_nm", low=200.0, high=3000.0)
    if any(b <= a for a, b in itertools.pairwise(own_nm)):
        raise top.fault(
            "wavelength_nm", "wavelengths out of order", "wavelengths that rise from first to last"
        )
    try:
        resample(own_nm, from_nm=own_nm)
    except ValueError:
        found = f"{own_nm[0]:g} to {own_nm[-1]:g} nm"
        half = "wavelengths that cover at least half of 400 to 700 nm"
        raise top.fault("wavelength_nm", found, half) from None
    return own_nm


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
    if key not in table or isinstance(table.values[key], str):
        return SHEENS[table.choice(key, SHEENS, default)]
    expected = "gloss, satin or matt in quotes, or a number from 0 (gloss) to 1 (matt)"
    return table.number(key, low=0.0, high=1.0, expected=expected)


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
    # An accent may be part of its letter or follow it: one name either way.
    kept = "".join(c if c.isalnum() else "-" for c in unicodedata.normalize("NFKC", name).casefold())
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
    head = "An invented paint: plausible, measured by nobody." if paint.invented else f"{_line(paint.name)}."
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
    if paint.carrier:
        rows.append(f'carrier = "{paint.carrier}"   # what carries it: {", ".join(CARRIERS)}')
    if paint.hazards:
        rows.append(
            f"hazards = [{', '.join(_quoted(word) for word in paint.hazards)}]   # never as mist or dust"
        )
    if paint.film_basis:
        rows.append(f'film_basis = "{paint.film_basis}"   # how the films behind K and S were known')
    if paint.film_of:
        rows.append(f"film_of = {_quoted(paint.film_of)}   # whose coats they were")
    rows += [
        f"volume_solids = {paint.volume_solids:.6g}   # share of the liquid's volume that stays when dry",
        f"wet_film_um = {paint.wet_film_um:.6g}   # suggested wet film of one coat, micrometres",
        f'sheen = "{word}"   # gloss, satin, matt, or a number from 0 (gloss) to 1 (matt)'
        if word
        else f"sheen = {paint.sheen:.6g}   # 0 (gloss) to 1 (matt)",
    ]
    if not math.isclose(paint.first_reflection, USUAL_REFLECTION, rel_tol=1e-3):
        rows.append(f"first_reflection = {paint.first_reflection:.4g}   # of its surface; 0.04 is usual")
    rows += [
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
            # Beyond these a constant is not known at all, and more would not be less known.
            *_spectrum("K_percent", np.clip(np.expm1(doubt.log_K) * 100.0, *DOUBT_PERCENT)),
            *_spectrum("S_percent", np.clip(np.expm1(doubt.log_S) * 100.0, *DOUBT_PERCENT)),
            *(
                f"{key} = {getattr(doubt, key):.3g}"
                for key in ("sheen", "first_reflection")
                if getattr(doubt, key)
            ),
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


def _line(text: str) -> str:
    """Return a text on one line, without what no reader of the file would take."""
    kept = (c for c in text if c.isspace() or unicodedata.category(c) not in ("Cc", "Cs"))
    return " ".join("".join(kept).split())


def _quoted(text: str) -> str:
    # TOML's basic strings escape as JSON does, for everything that can stand in a line of text.
    import json

    return json.dumps(_line(text), ensure_ascii=False)
