"""Metals that flakes in paints are made of: the refractive index of each.

The table is written by data/generate/metal_table.py from published measurements of clean, smooth metal; each
one's paper and the database it was taken from stand in its head. How two papers differ is the doubt of such a
table: a reflectance of some hundredths, more for iron. Alloys and steels of one's own tin differ by more.
"""

from __future__ import annotations

import functools
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.errors import UnknownNameError, nearest_hint, quoted
from layersim.resources import data_folder

METALS: Final[dict[str, str]] = {
    "aluminium": "silver-coloured paints of every kind",
    "brass": "70 % copper, 30 % zinc: yellow",
    "red brass": "90 % copper, 10 % zinc: what bronze-coloured paints hold, though there is no tin in it",
    "copper": "red",
    "iron": "a grey; steels are near it",
    "nickel": "a warm grey, between iron and aluminium",
}
"""The metals of the table, and what each is."""


@functools.cache
def _table() -> dict[str, npt.NDArray[np.complex128]]:
    lines = (data_folder() / "metals" / "indices.csv").read_text(encoding="utf-8").splitlines()
    header, *rows = [line for line in lines if not line.startswith("#")]
    columns = dict(
        zip(header.split(","), np.array([row.split(",") for row in rows], dtype=float).T, strict=True)
    )
    table = {metal: columns[f"{metal}/n"] + 1j * columns[f"{metal}/k"] for metal in METALS}
    for index in table.values():
        index.setflags(write=False)
    return table


def refractive_index(metal: str) -> npt.NDArray[np.complex128]:
    """Return n + ik of a metal, (31,), not to be written to.

    Raises UnknownNameError if the table has no such metal.

    >>> refractive_index("aluminium")[15].round(2)
    np.complex128(1.01+6.63j)
    >>> refractive_index("aluminum")
    Traceback (most recent call last):
    layersim.errors.UnknownNameError: no "aluminum" among the metals. Did you mean "aluminium"?
    """
    if metal not in METALS:
        hint = nearest_hint(metal, METALS, kind="metals")
        raise UnknownNameError(f"no {quoted(metal)} among the metals. {hint}".rstrip())
    return _table()[metal]
