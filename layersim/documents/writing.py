"""Files that people edit, written: a line a key, with a remark that explains it."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping
from typing import Any

import numpy as np

from layersim.documents.keys import keys_of
from layersim.spectra import BANDS, FloatArray, wavelengths_nm


def toml(value: object) -> str:
    r"""Return a value as TOML has it: numbers to six digits, texts on one line.

    >>> toml(0.25), toml(True), toml('the "FILE"'), toml(("a", 1)), toml({"navy blue": 5.0})
    ('0.25', 'true', '"the \\"FILE\\""', '["a", 1]', '{ "navy blue" = 5 }')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{toml(key)} = {toml(entry)}' for key, entry in value.items())} }}"
    if isinstance(value, tuple | list):
        return f"[{', '.join(map(toml, value))}]"
    # TOML's basic strings escape as JSON does, for everything that can stand in a line of text.
    return json.dumps(one_line(value), ensure_ascii=False) if isinstance(value, str) else str(value)


def one_line(text: str) -> str:
    """Return a text on one line, without what no reader of the file would take."""
    kept = (c for c in text if c.isspace() or unicodedata.category(c) not in ("Cc", "Cs"))
    return " ".join("".join(kept).split())


def key_rows(record: Any) -> list[str]:
    """Return the lines of a record's keys but for its spectra; what nobody said is left out."""
    rows = []
    for name, key in keys_of(type(record)).items():
        value = getattr(record, key.field)
        nothing = value == key.default if isinstance(value, str | tuple) else value is None
        if isinstance(value, float) and isinstance(key.default, float):
            nothing = bool(np.isclose(value, key.default, rtol=1e-3))
        if not nothing and not isinstance(value, np.ndarray):
            words = key.kind.written(value)
            rows.append(f"{name} = {toml(words)}" + (f"   # {key.remark}" if key.remark else ""))
    return rows


def spectrum_rows(key: str, values: FloatArray) -> list[str]:
    """Return the lines of a spectrum, ten numbers a line; one number where all are the same."""
    texts = [f"{value:.5g}" for value in values]
    if len(set(texts)) == 1:
        return [f"{key} = {texts[0]}   # the same at every wavelength"]
    rows = [f"{key} = ["]
    for first in range(0, BANDS, 10):
        nm = wavelengths_nm()[first : first + 10]
        rows.append(f"  {', '.join(texts[first : first + 10])},   # {nm[0]:.0f}-{nm[-1]:.0f} nm")
    return [*rows, "]"]
