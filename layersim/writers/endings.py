"""Under which names a picture or a page can be written."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from layersim.errors import OutputError, nearest_hint
from layersim.files import check_writable

FORMATS: Final = ("png", "pdf", "svg")


def check_picture_path(path: Path, endings: Sequence[str] = FORMATS) -> None:
    """Raise :class:`OutputError` if no picture can be written under this name."""
    ending = path.suffix.lower().lstrip(".")
    if ending not in endings:
        *most, last = endings
        written = f"{', '.join(most)} or {last}"
        hint = nearest_hint(ending, endings, kind="endings")
        raise OutputError(f"{path}: a picture is written as {written}, by the name's ending. {hint}")
    check_writable(path)
