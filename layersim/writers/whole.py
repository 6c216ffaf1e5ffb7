"""A page written whole or not at all, by the ending of its name."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from layersim.files import write_whole
from layersim.writers.endings import FORMATS, check_picture_path

if TYPE_CHECKING:
    from layersim.views.parts import View

ENDINGS: Final = (*FORMATS, "html")


def check_name(path: Path) -> None:
    """Raise OutputError if no page can be written under this name."""
    check_picture_path(path, ENDINGS)


def save(view: View, path: Path) -> None:
    """Write a page as a picture or as HTML. Raises OutputError if it cannot be written there."""
    check_name(path)
    if path.suffix.lower() == ".html":
        from layersim.writers.html import html

        write_whole(path, html(view))
    else:
        from layersim.writers import picture

        picture.save(view, path)
