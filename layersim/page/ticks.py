"""Boxes ticked on the bench card: a text file beside the scheme, a box a line.

The page has another address at each start, and a browser keeps things by address: what it kept would be gone
the next day. So ticks are kept beside the scheme, where also another browser finds them.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from layersim.errors import LayersimError
from layersim.files import read_text, write_whole

MOST_TICKS: Final = 3000
LONGEST: Final = 300
"""Letters of a box's name."""
_HEAD: Final = "# Boxes ticked on the bench card of this scheme: area, step and coat. Written by the page."


def ticks_path(scheme: Path) -> Path:
    """Return where the ticks of a scheme lie: beside it.

    >>> ticks_path(Path("tide.toml")).name
    'tide.ticks.txt'
    """
    return scheme.with_name(f"{scheme.stem}.ticks.txt")


def read_ticks(path: Path) -> list[str]:
    """Return the boxes that are ticked; raises InputFileError if the file cannot be read."""
    if not path.exists():
        return []
    lines = read_text(path, what="list of ticks").splitlines()
    return [line for line in lines if line.strip() and not line.startswith("#")][:MOST_TICKS]


def write_ticks(path: Path, ticked: list[str]) -> None:
    """Write the boxes that are ticked; raises OutputError if the file cannot be written."""
    write_whole(path, "\n".join([_HEAD, *ticked, ""]))


def changed(ticked: list[str], boxes: list[str], *, on: bool) -> list[str]:
    """Return the boxes that are ticked after some were ticked, or were not any more."""
    for box in boxes:
        if not 0 < len(box) <= LONGEST or "\n" in box or not box.isprintable() or box.startswith("#"):
            raise LayersimError(f"box: expected the name of a box, one line of 1 to {LONGEST} letters")
    kept = [box for box in ticked if box not in boxes]
    new = [*kept, *dict.fromkeys(boxes)] if on else kept
    if len(new) > MOST_TICKS:
        raise LayersimError(f"found more than {MOST_TICKS} ticks; clear them before more are set")
    return new
