"""Colours that a scheme asks for, as a file writes them."""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim.colour import lab_of_hex
from layersim.documents.kinds import special
from layersim.documents.table import Table, shown
from layersim.errors import quoted
from layersim.spectra import FloatArray

MOST_CHROMA: Final = 110.0
"""Hardly any paint is as strong as this (an estimate): a target beyond it is likely no L*a*b*."""
_EXPECTED: Final = '"#rrggbb" such as "#3d4c74", or [L, a, b] such as [52, 3, -20]'


def _target(table: Table, key: str) -> FloatArray:
    value = table.values[key]
    if isinstance(value, str):
        try:
            return lab_of_hex(table.text(key))
        except ValueError:
            raise table.fault(key, quoted(value), _EXPECTED) from None
    if not isinstance(value, list):
        raise table.fault(key, shown(value), _EXPECTED)
    values = table.numbers(key, low=-200.0, high=255.0)
    if len(values) != 3:
        raise table.fault(key, f"{len(values)} numbers", _EXPECTED)
    question = _rgb_question(values)
    if not 0.0 <= values[0] <= 100.0:
        raise table.fault(key, f"a lightness L of {values[0]:g}", "one from 0 to 100", question)
    if question and np.hypot(values[1], values[2]) > MOST_CHROMA:
        found = f"[{values[0]:g}, {values[1]:g}, {values[2]:g}]"
        raise table.fault(key, f"{found}, which is no paint's colour as [L, a, b]", _EXPECTED, question)
    return np.array(values)


def _rgb_question(values: list[float]) -> str:
    """Return the question whether three numbers are red, green and blue; empty where they can't be."""
    if not all(0.0 <= value <= 255.0 and value == int(value) for value in values):
        return ""
    code = "#" + "".join(f"{int(value):02x}" for value in values)
    return f'Is this red, green, blue? Then write "{code}".'


TARGET: Final = special(_target, _EXPECTED)
