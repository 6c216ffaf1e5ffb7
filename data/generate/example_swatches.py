"""Write data/examples: an invented paint's swatches, as an instrument might have measured them.

The films are rendered by the radiative transfer of ``tests/judge``, not by this package's own
optics, with pigments that are nobody's; every reading is taken three times with noise of 0.2 % of
full scale. Run from the top of the tree:

    python -m data.generate.example_swatches
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from layersim.files import write_whole
from layersim.measure.card import STANDARD_COATS, coats_in_words
from layersim.measure.swatchfile import DEFAULT_NOISE, starter_text
from layersim.optics.surface import smooth_surface
from tests.judge.radiative_transfer import TUNING, WAVELENGTHS_NM, Film, mix, opaque, render

FOLDER: Final = Path(__file__).parents[1] / "examples"
SPECTRA: Final = "brick-red.txt"
SWATCHES: Final = "brick-red.toml"

NOISE: Final = 0.002
REPEATS: Final = 3
SEED: Final = 20261125

# What the swatches file says of one coat: 15 µm wet, 28 % solids, thinned one to one.
COAT_UM: Final = 15.0 * 0.28 / 2.0

BRICK_RED: Final = mix(
    "brick red",
    [(TUNING["iron oxide red"], 0.45), (TUNING["azo yellow"], 0.10), (TUNING["titanium white"], 0.03)],
)
BLACK_PRIMER: Final = mix("black primer", [(TUNING["carbon black"], 0.30), (TUNING["titanium white"], 0.03)])
WHITE_PRIMER: Final = mix(
    "white primer", [(TUNING["titanium white"], 0.70), (TUNING["carbon black"], 0.0002)]
)


def truths() -> dict[str, np.ndarray]:
    """Return the reflectance (31,) of every ground and swatch without noise, by reading.

    The renderer's surface is smooth. A matt one scatters its first reflection all round, so that
    an instrument that leaves out the mirror direction sees it all the same.
    """
    scattered = smooth_surface().k1
    grounds = {"black": opaque(BLACK_PRIMER), "white": opaque(WHITE_PRIMER)}
    found = {}
    for word, ground in grounds.items():
        found[f"{word} primer"] = scattered + render([], ground=ground, geometry="45_0")
        for coats in STANDARD_COATS:
            film = Film(BRICK_RED, COAT_UM * coats)
            found[f"{word}, {coats_in_words(coats)}"] = scattered + render(
                [film], ground=ground, geometry="45_0"
            )
    return found


def spectra_text() -> str:
    """Return the readings as CGATS.17 text."""
    rng = np.random.default_rng(SEED)
    rows = [
        (name, truth + rng.normal(0.0, NOISE, truth.size))
        for name, truth in truths().items()
        for _ in range(REPEATS)
    ]
    return cgats_text(rows, 'MEASUREMENT_GEOMETRY "45/0"')


def cgats_text(readings: Sequence[tuple[str, np.ndarray]], *more: str) -> str:
    """Return readings (31,) by their names as CGATS.17 text, `more` among its head."""
    rows = [
        f'{i} "{name}" ' + " ".join(f"{value:.4f}" for value in values)
        for i, (name, values) in enumerate(readings, start=1)
    ]
    fields = ["SAMPLE_ID", "SAMPLE_NAME", *(f"SPECTRAL_DEC{nm:.0f}" for nm in WAVELENGTHS_NM)]
    lines = [
        "CGATS.17",
        'ORIGINATOR "data/generate/example_swatches.py"',
        'FILE_DESCRIPTOR "Invented: rendered films of a paint that does not exist, measured by nobody"',
        'INSTRUMENTATION "none; noise of 0.002 added to each reading"',
        *more,
        f"NUMBER_OF_FIELDS {len(fields)}",
        "BEGIN_DATA_FORMAT",
        " ".join(fields),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(rows)}",
        "BEGIN_DATA",
        *rows,
        "END_DATA",
    ]
    return "\n".join(lines) + "\n"


def swatches_text() -> str:
    """Return the swatches file: the starter, marked as invented."""
    text = starter_text()
    changes = {
        '# carrier = "water"       #': 'carrier = "water"         #',
        'provenance = ""           # who measured, when, with what\nnote = ""\n': (
            "invented = true           # rendered films of a paint that does not exist, measured by nobody\n"
            'provenance = "rendered by data/generate/example_swatches.py, 45/0, three readings a swatch"\n'
        ),
        f"noise = {DEFAULT_NOISE} ": f"noise = {NOISE} ",
    }
    for old, new in changes.items():
        if old not in text:
            raise ValueError(f"the starter no longer has {old!r}")
        text = text.replace(old, new)
    return text


def main() -> None:
    """Write both files."""
    FOLDER.mkdir(exist_ok=True)
    write_whole(FOLDER / SPECTRA, spectra_text())
    write_whole(FOLDER / SWATCHES, swatches_text())


if __name__ == "__main__":
    main()
