"""Spectra written out in a file, at the program's own wavelengths or at the file's."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from layersim.documents.keys import Key
from layersim.documents.kinds import Kind, special
from layersim.documents.table import Table
from layersim.errors import Fault
from layersim.spectra import BANDS, FloatArray, resample

OWN_NM: Final = "wavelength_nm"
"""The key, above every heading, of a file that has wavelengths of its own."""


def _wavelengths(table: Table, key: str) -> list[float]:
    own_nm = table.rising_nm(key)
    try:
        resample(own_nm, from_nm=own_nm)
    except ValueError:
        found = f"{own_nm[0]:g} to {own_nm[-1]:g} nm"
        raise table.fault(key, found, "wavelengths that cover at least half of 400 to 700 nm") from None
    return own_nm


WAVELENGTHS: Final = {
    OWN_NM: Key(special(_wavelengths, "a list of rising numbers, nm"), "where the spectra here stand", None)
}
"""The key of its own, for the top of a document."""


def on_grid(table: Table, key: str, values: list[float]) -> FloatArray:
    """Return numbers of a file at the program's wavelengths; one number stands for all of them."""
    top = table.document.top
    own_nm: list[float] | None = None
    if OWN_NM in top:
        try:
            own_nm = _wavelengths(top, OWN_NM)
        except Fault:  # told already, and no list can have the length of a broken one
            return np.full(BANDS, values[0])
    if len(values) == 1:
        return np.full(BANDS, values[0])
    expected = BANDS if own_nm is None else len(own_nm)
    if len(values) != expected:
        hint = "" if own_nm else f"For other wavelengths add a list {OWN_NM}."
        grid = "400-700 nm by 10 nm" if own_nm is None else f"as {OWN_NM} has"
        raise table.fault(key, f"{len(values)} numbers", f"1 or {expected} numbers ({grid})", hint)
    return np.array(values) if own_nm is None else resample(values, from_nm=own_nm)


def spectrum(low: float = -math.inf, high: float = math.inf, *, unit: str = "") -> Kind:
    """Return the kind of a spectrum: 31 numbers, as many as :data:`OWN_NM` has, or one for all."""

    def read(table: Table, key: str, _: Any) -> FloatArray:
        # The curve through the samples may leave their range by a rounding.
        return np.clip(on_grid(table, key, table.numbers(key, low=low, high=high)), low, high)

    words = f"a number, or a list of {BANDS}, {low:g} to {high:g}" + (f" {unit}" if unit else "")
    return Kind(read, words, np.zeros(BANDS))
