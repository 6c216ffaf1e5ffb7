"""The 24-patch chart as it is published: its patches' places and reflectances."""

from __future__ import annotations

import functools
from typing import Final

import numpy as np

from layersim.resources import data_folder
from layersim.spectra import FloatArray

COLUMNS: Final = 6
ROWS: Final = 4


@functools.cache
def chart_reflectances() -> FloatArray:
    """Return the published reflectances of the 24 patches, row by row, shape (24, 31).

    Averages over many measured charts (data/generate/chart_table.py).

    >>> chart_reflectances().shape
    (24, 31)
    """
    lines = (data_folder() / "colour" / "chart24.csv").read_text(encoding="utf-8").splitlines()
    rows = [line.split(",")[1:] for line in lines if not line.startswith("#")][1:]
    table = np.array(rows, dtype=np.float64)
    table.setflags(write=False)
    return table


def chart_places() -> tuple[str, ...]:
    """Return where the 24 patches lie, in words; the greys are row 4, white its first.

    >>> chart_places()[0], chart_places()[-1]
    ('row 1 column 1', 'row 4 column 6')
    """
    return tuple(f"row {row + 1} column {column + 1}" for row in range(ROWS) for column in range(COLUMNS))
