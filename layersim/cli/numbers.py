"""Numbers as people type them after an option."""

from __future__ import annotations

import argparse

from layersim.documents.typed import comma_hint, plain_number
from layersim.errors import quoted


def number(text: str) -> float:
    """Return the number that an argument says; complain about units and decimal commas in words."""
    value = plain_number(text)
    if value is not None:
        return value
    expected = f"expected a number, without its unit. {comma_hint(text)}".rstrip()
    raise argparse.ArgumentTypeError(f"found {quoted(text)}; {expected}")
