"""Points of a picture, as people give them: in per cent of its width and height, with a small spot around."""

from __future__ import annotations

import re
from typing import Final, TypeAlias

from layersim.errors import LayersimError, quoted

SPOT_SIZE: Final = 2.5
"""Width of a spot, in per cent of the picture's longer side."""
MOST_SIZE: Final = 50.0

Point: TypeAlias = tuple[float, float]


def point_from(text: str) -> Point:
    """Return a point written as ``X,Y``; raises LayersimError.

    >>> point_from("40,25.5")
    (40.0, 25.5)
    """
    parts = [part.strip().rstrip("%").strip() for part in text.split(",")]
    if len(parts) == 2 and all(re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,9})?", part) for part in parts):
        x, y = (float(part) for part in parts)
        if x <= 100.0 and y <= 100.0:
            return x, y
    raise LayersimError(
        f"found {quoted(text)}; expected a point X,Y in per cent of the picture from its upper left corner, "
        "such as 40,25"
    )
