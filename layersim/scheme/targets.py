"""Colours that a scheme asks for, as a file writes them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.documents.kinds import special
from layersim.documents.table import Table, shown
from layersim.errors import quoted
from layersim.spectra import FloatArray

PLACES: Final = ("shadow", "mid", "light")
"""The tones that targets are given for: the first, the middle and the last."""
PICKED_DOUBT: Final = 3.0
"""By how much each of L*, a* and b* of a screen's or a picture's colour may be off, nine times in ten.

Common practice, no source.
"""
MEASURED_DOUBT: Final = 1.0
"""The same of numbers, which somebody measured (common practice, no source)."""
MOST_DOUBT: Final = 30.0
MOST_CHROMA: Final = 110.0
"""Hardly any paint is as strong as this (an estimate): a target beyond it is likely no L*a*b*."""
_EXPECTED: Final = '"#rrggbb" such as "#3d4c74", or [L, a, b] such as [52, 3, -20]'
_WITH_DOUBT: Final = f'{_EXPECTED}, or with its doubt {{ colour = "#3d4c74", doubt = 4 }}'


@dataclass(frozen=True, eq=False)
class Target:
    """One colour to reach."""

    lab: FloatArray
    """Shape (3,)."""
    on_screen: bool = False
    """Whether it is a screen's colour, whose L*a*b* stands for daylight (D65, 2°)."""
    doubt: float | None = None
    """By how much each of L*, a* and b* may be off, nine times in ten; None for what is usual of its kind."""

    def under(self, viewing: colour.Viewing) -> FloatArray:
        """Return its L*a*b* under a light: a screen's is what looks there as the screen does in daylight."""
        daylight = colour.Viewing()
        if not self.on_screen or viewing == daylight:
            return self.lab
        return colour.lab_alike(colour.xyz_from_lab(self.lab, daylight.white), under=daylight, to=viewing)


def picked(lab: FloatArray, *, spread: float) -> Target:
    """Return the target that a place of a picture makes, whose pixels differ by some spread."""
    return Target(lab, on_screen=True, doubt=min(MOST_DOUBT, max(PICKED_DOUBT, spread)))


def _target(table: Table, key: str) -> Target:
    value = table.values[key]
    if isinstance(value, dict) and (inner := table.table(key)) is not None:
        if "colour" not in inner:
            raise inner.fault("colour", "nothing", _EXPECTED)
        lab, on_screen = _colour(inner, "colour")
        doubt = inner.number("doubt", low=0.0, high=MOST_DOUBT) if "doubt" in inner else None
        inner.no_other_keys()
        return Target(lab, on_screen, doubt)
    return Target(*_colour(table, key))


def _colour(table: Table, key: str) -> tuple[FloatArray, bool]:
    """Return a colour's L*a*b*, and whether it is a screen's."""
    value = table.values[key]
    if isinstance(value, str):
        try:
            return colour.lab_of_hex(table.text(key)), True
        except ValueError:
            hint = (
                f'Did you mean "#{value.strip()}"?' if re.fullmatch("[0-9a-fA-F]{6}", value.strip()) else ""
            )
            raise table.fault(key, quoted(value), _EXPECTED, hint) from None
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
    return np.array(values), False


def _rgb_question(values: list[float]) -> str:
    """Return the question whether three numbers are red, green and blue; empty where they can't be."""
    if not all(0.0 <= value <= 255.0 and value == int(value) for value in values):
        return ""
    code = "#" + "".join(f"{int(value):02x}" for value in values)
    return f'Is this red, green, blue? Then write "{code}".'


TARGET: Final = special(_target, _WITH_DOUBT)
