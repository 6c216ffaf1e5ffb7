"""Numbers as people type them."""

from __future__ import annotations

import math
import re
from typing import Final

ODD_QUOTES: Final = "„“”‟‚‘’‛«»‹›'"
"""Quotes that a command line does not know."""


def comma_hint(text: str) -> str:
    """Return what to type where a number has a decimal comma; else nothing."""
    if "," not in text:
        return ""
    pointed = text.strip().replace(",", ".")
    typed = f" Did you mean {pointed}?" if plain_number(pointed) is not None else ""
    return f"Write decimals with a point.{typed}"


def plain_number(text: str) -> float | None:
    """Return the number that a text says, also with a dash for a minus; None where it says none."""
    try:
        value = float(re.sub("^[−–]", "-", text.strip()))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def three_numbers(text: str) -> tuple[float, float, float] | None:
    """Return three numbers with commas, semicolons or spaces between them; else None.

    They may stand in brackets, as a scheme has them.
    """
    within = re.sub(r"^\s*\[(.*)\]\s*$", r"\1", text).strip()
    values = [plain_number(part) for part in re.split(r"\s*[,;]\s*|\s+", within)]
    match values:
        case [float(one), float(two), float(three)]:
            return one, two, three
    return None
