"""Which paints somebody owns: a plain text file, one name a line, with comments after ``#``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Final

from layersim.errors import InputFileError, UnknownNameError
from layersim.files import make_folder, read_text, write_whole
from layersim.names import slug
from layersim.paint import Paint
from layersim.shelf import NO_COLOURS, Shelf, own_folder

NAME: Final = "owned.txt"
_HEAD: Final = """\
# The paints that you own: one name a line. What stands after "#" is for you alone.
# Ticks on the page's shelf are kept here, and --owned reads them.
"""


def owned_file() -> Path:
    """Return where it is kept that a paint is owned: among the user's own paints. It need not exist."""
    return own_folder() / NAME


def names_in(path: Path) -> list[tuple[int, str]]:
    """Return the names in a file of owned paints, each with its line, counted from 1.

    Raises InputFileError if the file can't be read.
    """
    lines = read_text(path, what="list of paints").splitlines()
    return [(line, name) for line, text in enumerate(lines, start=1) if (name := _name(text))]


def colours_owned(path: Path, shelf: Shelf) -> list[Paint]:
    """Return the paints of a file that can be mixed for a colour, each once.

    Varnish and primer are owned, too, but are no colours to mix with. Raises InputFileError if the file can't
    be read or leaves nothing, and UnknownNameError with the line of a name that the shelf doesn't have.
    """
    if path == owned_file() and not path.exists():
        raise InputFileError(
            path,
            "there is no such file yet. Tick what you own on the shelf of the page (layersim open), or write "
            "it: one name a line",
        )
    found = {}
    for line, name in names_in(path):
        try:
            paint = shelf.find(name)
        except UnknownNameError as fault:
            raise UnknownNameError(f"{path}: line {line}: {fault}") from None
        if paint.kind not in NO_COLOURS:
            found[paint.name] = paint
    if not found:
        raise InputFileError(path, "found no name of a paint that colours; expected one a line")
    return list(found.values())


def mark(path: Path, names: Iterable[str], *, owned: bool) -> None:
    """Write into a file that some paints are owned, or are not; all else in it stays as it is.

    The file is made if it is not there. Raises InputFileError if it can't be read, OutputError if it can't be
    written.
    """
    wanted = {slug(name): name for name in names}
    there = path.exists() and (path.is_dir() or path.stat().st_size > 0)
    text = read_text(path, what="list of paints") if there else _HEAD
    lines = text.splitlines()
    if owned:
        has = {slug(_name(line)) for line in lines}
        lines += [name for key, name in wanted.items() if key not in has]
    else:
        lines = [line for line in lines if not _name(line) or slug(_name(line)) not in wanted]
    if not there:
        make_folder(path.parent, what="paints")
    # A file that says nothing would be taken for one that was spoilt.
    write_whole(path, "".join(f"{line}\n" for line in lines) or _HEAD)


def _name(line: str) -> str:
    return line.split("#", 1)[0].strip().strip('"').strip()
