"""A page written whole or not at all, by the ending of its name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from layersim.errors import OutputError, nearest_hint
from layersim.files import check_writable, write_whole

if TYPE_CHECKING:
    from layersim.views.parts import View

ENDINGS: Final = ("png", "pdf", "svg", "html")


def check_name(path: Path, endings: Sequence[str] = ENDINGS, *, what: str = "picture") -> None:
    """Raise OutputError if no page can be written under this name; `what` it is stands in the message."""
    ending = path.suffix.lower().lstrip(".")
    if ending not in endings:
        *most, last = endings
        written, hint = f"{', '.join(most)} or {last}", nearest_hint(ending, endings, kind="endings")
        raise OutputError(f"{path}: a {what} is written as {written}, by the name's ending. {hint}")
    check_writable(path)


def save(view: View, path: Path) -> None:
    """Write a page as a picture or as HTML. Raises OutputError if it cannot be written there."""
    check_name(path)
    if path.suffix.lower() == ".html":
        from layersim.writers.html import html

        write_whole(path, html(view))
    else:
        from layersim.writers import picture

        picture.save(view, path)
