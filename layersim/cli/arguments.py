"""Arguments that several commands share."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from layersim.cli import USER_FAULT
from layersim.errors import LayersimError, OutputError, UnknownNameError, nearest_hint, quoted
from layersim.files import check_writable

if TYPE_CHECKING:
    from layersim.shelf import Shelf


class Parser(argparse.ArgumentParser):
    """A parser whose complaints end with what to do next."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and where to read on, and exit."""
        if unknown := re.match(r"unrecognized arguments: (\S+)", message):
            hint = nearest_hint(unknown[1], self._option_string_actions, listed=False)
            message = f"{quoted(unknown[1])} is not known here. {hint}".rstrip()
        self.exit(USER_FAULT, f"layersim: {message}\nSee: {self.prog} --help\n")


def add_shelf(parser: argparse.ArgumentParser) -> None:
    """Add ``--paints FOLDER``."""
    parser.add_argument(
        "--paints", action="append", type=Path, metavar="FOLDER", help="search this folder of paints first"
    )


def extra_folders(asked: argparse.Namespace) -> list[Path]:
    """Return the folders given with ``--paints``; raise if one is not there."""
    folders: list[Path] = asked.paints or []
    for folder in folders:
        if not folder.is_dir():
            raise UnknownNameError(f"--paints {folder}: there is no such folder")
    return folders


def shelf_from(asked: argparse.Namespace) -> Shelf:
    """Return the shelf that the arguments ask for."""
    from layersim.shelf import Shelf

    return Shelf.usual(*extra_folders(asked))


def picture_path(asked: argparse.Namespace, usual: str) -> Path | None:
    """Return where ``--out`` or else the usual name puts the picture, or None for ``--no-picture``.

    It raises before any work is done if both are asked for or nothing can be written there.
    """
    if asked.no_picture:
        if asked.out is not None:
            raise LayersimError("--out and --no-picture: found both; expected one of them")
        return None
    from layersim.render.saving import check_picture_path

    picture: Path = asked.out or Path(usual)
    check_picture_path(picture)
    return picture


def check_data_path(data: Path | None, *read: Path) -> None:
    """Raise if ``--json`` names a file that cannot be written, or one that is read."""
    if data is None:
        return
    check_writable(data)
    if any(data.exists() and path.exists() and data.samefile(path) for path in read):
        raise OutputError(f"--json {data}: this is a file to read from; name another one")


def whole_number(text: str) -> int:
    """Return the whole number that an argument says."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"found {quoted(text)}; expected a whole number") from None


def check_range(name: str, value: int, low: int, high: int) -> None:
    """Raise if a whole number is out of its range."""
    if not low <= value <= high:
        raise LayersimError(f"{name}: found {value}; expected a whole number from {low} to {high}")
