"""How every command shows what it found: as text here, and as a picture, a page or data where asked."""

from __future__ import annotations

import argparse
import contextlib
import shutil
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layersim.cli import say
from layersim.errors import LayersimError, OutputError
from layersim.files import check_writable, write_whole
from layersim.views.notices import sentences as as_sentences
from layersim.writers.whole import check_name

if TYPE_CHECKING:
    from layersim.views.parts import View

_WRITTEN = ("picture", "json", "out", "card", "file", "finished", "glb", "turntable")
"""Arguments that name what is written."""
_NARROWEST, _WIDEST, _UNWRAPPED = 72, 120, 100_000


@dataclass(frozen=True)
class Outputs:
    """Where a command writes, besides the terminal."""

    picture: Path | None
    data: Path | None
    opened: bool


def add_outputs(parser: argparse.ArgumentParser, *, usual: str = "", option: str = "--out") -> None:
    """Add the options for a picture, data and opening it; `usual` is the picture's name if none is given."""
    by_itself = f" (by default {usual})" if usual else ""
    parser.add_argument(
        option,
        dest="picture",
        type=Path,
        metavar="FILE",
        help=f"write it as a picture or a page: .png, .pdf, .svg or .html{by_itself}",
    )
    if usual:
        parser.add_argument("--no-picture", action="store_true", help="print the text only")
    parser.add_argument("--show", action="store_true", help="open the picture when it is written")
    add_json(parser)


def add_json(parser: argparse.ArgumentParser) -> None:
    """Add the option for data."""
    parser.add_argument("--json", type=Path, metavar="FILE", help="write everything as data, too")


def outputs(
    asked: argparse.Namespace,
    *read: Path,
    usual: str = "",
    option: str = "--out",
    made: Path | None = None,
) -> Outputs:
    """Return where to write. Raises before any work is done if something cannot be written there.

    Nothing is written over a file that was named to be read, nor over one of `read`. The folder `made` need
    not be there yet: the command makes it before it writes.
    """
    picture: Path | None = asked.picture
    if getattr(asked, "no_picture", False):
        if picture is not None:
            raise LayersimError(f"{option} and --no-picture: found both; expected one of them")
    elif picture is None and usual:
        picture = Path(usual)
    if picture is None and asked.show:
        without = getattr(asked, "no_picture", False)
        what = "leave --no-picture out" if without else f"name one: {option} FILE"
        raise LayersimError(f"--show: there is no picture to open; {what}")
    refuse_what_is_read(asked, picture, *read, option=option)
    if picture is not None and asked.json is not None and picture.resolve() == asked.json.resolve():
        raise OutputError(f"{option} and --json: found {picture} for both; expected two files")
    data = data_file(asked, *read)
    if picture is not None and (made is None or picture.parent != made):
        check_name(picture)
    return Outputs(picture, data, asked.show)


def data_file(asked: argparse.Namespace, *read: Path, written: Sequence[Path] = ()) -> Path | None:
    """Return where the data go, if anywhere; raises if they would go over another file or cannot be written.

    `written` are the files that the command writes besides.
    """
    refuse_what_is_read(asked, asked.json, *read, option="--json")
    if asked.json is not None:
        if asked.json.resolve() in [path.resolve() for path in written]:
            raise OutputError(f"--json {asked.json}: this is the file itself; name another one")
        check_writable(asked.json)
    data: Path | None = asked.json
    return data


def refuse_what_is_read(asked: argparse.Namespace, path: Path | None, *read: Path, option: str) -> None:
    """Raise OutputError if a file to write is one that is read, by the arguments or besides."""
    if path is None or not path.exists():
        return
    named = [one for name, value in vars(asked).items() if name not in _WRITTEN for one in _paths(value)]
    if any(one.exists() and path.samefile(one) for one in (*named, *read)):
        raise OutputError(f"{option} {path}: this is a file to read from; name another one")
    if option == "--json" and path.is_file() and path.suffix.lower() != ".json":
        raise OutputError(f"--json {path}: this file is there already, and is no .json; name another one")


def _paths(value: Any) -> list[Path]:
    values = value if isinstance(value, list) else [value]
    return [one for one in values if isinstance(one, Path)]


def show(view: View, answer: Any, to: Outputs, *, name: str) -> None:
    """Print a view, and write it and its answer where asked; `name` is what its data is called."""
    from layersim.writers import terminal

    # A file or another program gets each sentence in one line, so that it can be searched.
    width = _UNWRAPPED
    if sys.stdout.isatty():
        width = min(max(shutil.get_terminal_size().columns - 1, _NARROWEST), _WIDEST)
    _tell(terminal.text(view, in_colour=terminal.shows_colour(sys.stdout), width=width))
    write_data(answer, to.data, name=name)
    if to.picture is not None:
        from layersim.writers.whole import save

        save(view, to.picture)
        _tell(f"Picture: {to.picture.resolve()}")
        if to.opened:
            import webbrowser

            webbrowser.open(to.picture.resolve().as_uri())


def write_data(answer: Any, path: Path | None, *, name: str) -> None:
    """Write an answer as data where asked."""
    if path is not None:
        from layersim.writers import data

        write_whole(path, data.json_text(data.document(answer, name=name)))
        _tell(f"Data: {path.resolve()}")


def _tell(text: str) -> None:
    """Print a text. Whoever has read enough and left (`| head`) still gets every file that is written."""
    with contextlib.suppress(BrokenPipeError):
        say(text)


def sentences(
    lines: Sequence[str], answer: Any, to: Outputs, *, title: str, name: str, notices: Sequence[str] = ()
) -> None:
    """Print some sentences; where nothing else is wanted, without what pictures and numbers need."""
    if to == Outputs(None, None, opened=False):
        say("\n".join([title, *(f"  {line}" for line in lines), *as_sentences(notices)]))
        return
    from layersim.views.parts import View, Words

    show(View(title, [Words(lines)] if lines else [], notices=tuple(notices)), answer, to, name=name)
