"""An answer as JSON, in one form for all of them.

    {"format": "layersim compare 2", "units": "...", "range_holds": 0.9, "result": {...}}

A record becomes an object of its fields. Names say the units: `_um`, `_ml`, `_cm2`, `_per_um`, `_nm`;
colours are L*a*b* of the light named beside them, differences ΔE00, reflectances and shares 0 to 1.
"""

from __future__ import annotations

import dataclasses
import datetime
import enum
import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from layersim.chance import COVERED
from layersim.paint import Paint
from layersim.scheme.records import Scheme
from layersim.spectra import wavelengths_nm

VERSION: Final = 2
UNITS: Final = (
    "names end in their unit (um, ml, cm2, per_um, nm, h, min, s); lab: L*a*b* under the light named; "
    "delta_e: "
    "CIEDE2000; reflectance, shares and chances: 0 to 1"
)
DIGITS: Final = 6
"""Digits that are kept of a number; no figure here is known to more."""


def document(answer: Any, *, name: str) -> dict[str, Any]:
    """Return what a result says as plain values, with its form, its units and what its ranges hold."""
    return {
        "format": f"layersim {name} {VERSION}",
        "units": UNITS,
        "range_holds": COVERED,
        "wavelength_nm": wavelengths_nm().astype(int).tolist(),
        "result": _whole(answer),
    }


def json_text(content: Mapping[str, Any]) -> str:
    r"""Return strict JSON, ended by a line's end: letters as they are, and no number that is not finite.

    >>> json_text({"paint": "Grün", "coats": 2})
    '{\n "paint": "Grün",\n "coats": 2\n}\n'
    """
    return json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _whole(answer: Any) -> Any:
    """Return an answer's fields, and the paint that it is about in full; elsewhere a paint is its name."""
    content = plain(answer)
    if isinstance(content, dict) and isinstance(paint := getattr(answer, "paint", None), Paint):
        content["paint"] = _fields(paint)
    return content


def _fields(record: Any) -> dict[str, Any]:
    names = [f.name for f in dataclasses.fields(record) if f.metadata.get("json", True)]
    names += getattr(type(record), "JSON_ALSO", ())
    return {name: plain(getattr(record, name)) for name in names}


def plain(value: Any) -> Any:
    """Return a value as JSON knows it: text, numbers, lists, objects.

    A record becomes an object of its fields, without those marked ``metadata={"json": False}`` and with the
    properties that its `JSON_ALSO` names. A scheme or a paint becomes its name.
    Raises TypeError for what has no such form.
    """
    match value:
        case enum.Enum():
            return plain(value.value)
        case float() | np.floating():
            number = float(value)
            return float(f"{number:.{DIGITS}g}") + 0.0 if math.isfinite(number) else None
        case None | str() | int():
            return value
        case np.generic():
            return value.item()
        case np.ndarray():
            return plain(value.tolist())
        case Scheme() | Paint():
            return value.name
        case Path():
            return str(value)
        case datetime.date():
            return value.isoformat()
        case Mapping():
            return {str(key): plain(one) for key, one in value.items()}
        case set() | frozenset():
            # In one order: a set's own changes from run to run.
            return sorted(map(plain, value), key=json.dumps)
        case tuple() if hasattr(value, "_asdict"):
            return plain(value._asdict())
        case tuple() | list():
            return [plain(one) for one in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return _fields(value)
    raise TypeError(f"no JSON for {type(value).__name__}")
