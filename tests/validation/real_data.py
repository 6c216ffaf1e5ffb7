"""Where really measured data are: carried beside this file, or in a folder that a variable names.

What may not be carried is read from that folder where somebody has it; a row without its file is left out.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

VARIABLE: Final = "LAYERSIM_REAL"
CARRIED: Final = Path(__file__).parent / "measured"


class MissingDataError(Exception):
    """A row's data are not on this machine; says where to put them."""


def rows_of(name: str) -> Iterator[dict[str, str]]:
    """Return the rows of a table whose lines of comment begin with #.

    Raises MissingDataError if the file is neither carried nor in the folder of :data:`VARIABLE`.
    """
    folders = [CARRIED]
    if named := os.environ.get(VARIABLE, "").strip():
        folders.insert(0, Path(named))
    for folder in folders:
        path = folder / name
        if path.is_file():
            lines = path.read_text(encoding="utf-8").splitlines()
            return csv.DictReader(line for line in lines if not line.startswith("#"))
    raise MissingDataError(f"{name} is not here; {VARIABLE} names the folder where such files are")
