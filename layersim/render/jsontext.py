"""How results are written as JSON: letters as they are, and no digits that mean nothing."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import numpy as np

from layersim.spectra import FloatArray


def json_text(content: Mapping[str, Any]) -> str:
    r"""Return strict JSON, ended by a line's end.

    Parameters
    ----------
    content : mapping

    Returns
    -------
    str

    Raises
    ------
    ValueError
        If a number is not finite, for which JSON has no word.

    Examples
    --------
    >>> json_text({"paint": "Grün", "coats": 2})
    '{\n "paint": "Grün",\n "coats": 2\n}\n'
    """
    return json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def rounded(values: FloatArray, digits: int) -> list[float]:
    """Return numbers in a list, rounded, without a negative zero.

    Parameters
    ----------
    values : ndarray, shape (n,)
    digits : int

    Returns
    -------
    list of float

    Examples
    --------
    >>> rounded(np.array([1.23456, -0.0001]), 3)
    [1.235, 0.0]
    """
    return [float(v) for v in np.round(values, digits) + 0.0]
