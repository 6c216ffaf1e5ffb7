"""Paints as small commented text files, one paint a file."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Final

import numpy as np

from layersim.documents.document import Document
from layersim.documents.keys import Key, keys_of, read_keys, rows, section
from layersim.documents.kinds import word
from layersim.documents.spectrum import OWN_NM, WAVELENGTHS, spectrum
from layersim.documents.table import LONGEST_TEXT, Table
from layersim.documents.writing import key_rows, one_line, spectrum_rows, toml
from layersim.errors import PaintFileError, quoted
from layersim.files import write_whole
from layersim.paint import LARGEST_PER_UM, NO_FLAKES, Doubt, Flakes, Paint
from layersim.spectra import BANDS

FORMAT: Final = 1
DOUBT_PERCENT: Final = (-99.99, 1e6)
"""Ends of a doubt's shift: a ten-thousandth and ten thousand times the constant."""
MOST_DOUBTS: Final = 40
DIFFUSE: Final = "diffuse light"
_MADE_OVER: Final = Doubt(
    f"made over from K and S for {DIFFUSE}", log_K=np.full(BANDS, 0.05), log_S=np.full(BANDS, 0.08)
)
"""About what ΔE00 0.9 in stacks comes to, which eight rendered ones were off by (an estimate)."""
MADE_FOR: Final = ("light from above", DIFFUSE)
"""What K and S were made for: this program's films, or those of textbooks and published tables."""

_SHIFT: Final = spectrum(*DOUBT_PERCENT, unit="%")
DOUBT_KEYS: Final = keys_of(
    Doubt,
    K_percent=Key(_SHIFT, "shift of K for one standard deviation"),
    S_percent=Key(_SHIFT, "shift of S for one standard deviation"),
)
PAINT_KEYS: Final = keys_of(
    Paint,
    made_for=Key(word(MADE_FOR), "which light K and S are for; others are made over", MADE_FOR[0]),
    flakes=Key(section(keys_of(Flakes), Flakes), 'of the kind "metal": its flakes', None),
    doubt=Key(rows(DOUBT_KEYS, most=MOST_DOUBTS), "one way the paint may differ from its record", []),
    **WAVELENGTHS,
)


def read_paint(path: Path) -> Paint:
    """Return the paint in a file.

    K and S that were made for diffuse light are made over, so that the paint's coats look as they did there
    (:mod:`layersim.optics.diffuse`); its provenance says so. Raises PaintFileError with everything that is
    wrong in the file.
    """
    document = Document(path, what="paint", error=PaintFileError, keys=PAINT_KEYS)
    with document.gather():
        document.check_format(FORMAT)
    values = read_keys(document.top, PAINT_KEYS)
    values.pop(OWN_NM)
    doubts = tuple(map(_doubt, values.pop("doubt")))
    made_for = values.pop("made_for")
    if not document.problems and (values["kind"] == "metal") != (values["flakes"] is not None):
        with document.gather():
            raise document.top.fault("kind", quoted(values["kind"]), NO_FLAKES)
    document.finish()
    paint = Paint(**values, doubts=doubts)
    return _made_over(paint) if made_for == DIFFUSE else paint


def _doubt(row: Table) -> Doubt:
    values = read_keys(row, DOUBT_KEYS)
    log_K, log_S = (np.log1p(values.pop(key) / 100.0) for key in ("K_percent", "S_percent"))
    return Doubt(**values, log_K=log_K, log_S=log_S)


def _made_over(paint: Paint) -> Paint:
    # Few paints need it, and it brings in much.
    from layersim.optics.diffuse import made_for_cones

    K, S = made_for_cones(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um, coat_um=paint.dry_film_um)
    said = f"; made over from K and S for {DIFFUSE}"
    return dataclasses.replace(
        paint,
        K_per_um=np.minimum(K, LARGEST_PER_UM),
        S_per_um=np.minimum(S, LARGEST_PER_UM),
        provenance=paint.provenance[: LONGEST_TEXT - len(said)] + said,
        doubts=(*paint.doubts, _MADE_OVER),
    )


def paint_text(paint: Paint) -> str:
    """Return a paint as the text of its file, with remarks that explain each line.

    >>> print(paint_text(Paint(name="clear", kind="varnish", K_per_um=0.0, S_per_um=0.0, volume_solids=0.3,
    ...     wet_film_um=20.0, sheen=0.05, provenance="an example", invented=True)).splitlines()[1])
    format = "layersim paint 1"
    """
    head = (
        "An invented paint: plausible, measured by nobody." if paint.invented else f"{one_line(paint.name)}."
    )
    lines = [
        f"# {head} Made to be read and edited by hand.",
        f'format = "layersim paint {FORMAT}"',
        *key_rows(paint),
        "",
        "# Absorption K and scattering S per micrometre of dry film, 400 to 700 nm by 10 nm.",
        *spectrum_rows("K_per_um", paint.K_per_um),
        *spectrum_rows("S_per_um", paint.S_per_um),
    ]
    if paint.flakes is not None:
        lines += [
            "",
            "[flakes]   # small mirrors of metal in the binder, whose K and S are above",
            *key_rows(paint.flakes),
        ]
    for doubt in paint.doubts:
        lines += [
            "",
            "[[doubt]]   # one way this paint may differ from the above: one standard deviation",
            f"cause = {toml(doubt.cause)}",
            # Beyond these a constant is not known at all, and more would not be less known.
            *spectrum_rows("K_percent", np.clip(np.expm1(doubt.log_K) * 100.0, *DOUBT_PERCENT)),
            *spectrum_rows("S_percent", np.clip(np.expm1(doubt.log_S) * 100.0, *DOUBT_PERCENT)),
            *(row for row in key_rows(doubt) if not row.startswith("cause") and row != "by_swatches = false"),
        ]
    return "\n".join(lines) + "\n"


def write_paint(paint: Paint, path: Path) -> None:
    """Write a paint file whole or not at all; raises OutputError if it can't be written."""
    write_whole(path, paint_text(paint))
