"""Numbers as people type them after an option."""

from __future__ import annotations

import argparse
import math

from layersim.errors import quoted


def number(text: str) -> float:
    """Return the number that an argument says; complain about units and decimal commas in words."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if math.isfinite(value):
        return value
    hint = " Write decimals with a point." if "," in text else ""
    raise argparse.ArgumentTypeError(f"found {quoted(text)}; expected a number, without its unit.{hint}")
