"""Pictures that a page sent: kept in a folder for this run alone, a few at a time."""

from __future__ import annotations

import os
import re
import shutil
import sys
import tempfile
import threading
import weakref
from collections import OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from starlette.applications import Starlette

from layersim.errors import LayersimError, UnknownNameError
from layersim.page.kept import new_name

PREFIX: Final = "layersim-page-"
MOST_KEPT: Final = 12
"""Of more, the one that was asked for longest ago goes."""
_LONGEST_NAME: Final = 60


class Uploads:
    """Files by names of their own, which nobody guesses; each in a folder of its own."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._folder: Path | None = None
        self._kept: OrderedDict[str, Path] = OrderedDict()

    def keep(self, raw: bytes, *, name: str) -> str:
        """Keep a file under a name that a person gave it, and return by what it is found again."""
        if not raw:
            raise LayersimError("this file is empty")
        found = new_name()
        with self._lock:
            place = self._home() / found
            place.mkdir()
            (place / plain_name(name)).write_bytes(raw)
            self._kept[found] = place / plain_name(name)
            while len(self._kept) > MOST_KEPT:
                _, old = self._kept.popitem(last=False)
                shutil.rmtree(old.parent, ignore_errors=True)
        return found

    def path(self, found: str) -> Path:
        """Return where a file is kept; raises UnknownNameError if it is there no more."""
        with self._lock:
            if found not in self._kept:
                raise UnknownNameError("this file is not kept any more; drop it again")
            self._kept.move_to_end(found)
            return self._kept[found]

    def drop(self, found: str) -> None:
        """Take a file away."""
        with self._lock:
            path = self._kept.pop(found, None)
        if path is not None:
            shutil.rmtree(path.parent, ignore_errors=True)

    def folder(self) -> Path:
        """Return a new folder for what is made of files."""
        with self._lock:
            return Path(tempfile.mkdtemp(dir=self._home()))

    @contextmanager
    def by_bare_names(self) -> Iterator[None]:
        """Let what is complained of inside name files as the painter does, without this folder."""
        try:
            yield
        except LayersimError as fault:
            raise LayersimError(self.bare(f"{fault}")) from None

    def bare(self, words: str) -> str:
        """Return words without the folders that files are kept in here."""
        if self._folder is None:
            return words
        home = re.escape(str(self._folder))
        return re.sub(rf"{home}[/\\][^/\\\s]+[/\\]?", "", words)

    def _home(self) -> Path:
        if self._folder is None:
            _sweep(Path(tempfile.gettempdir()))
            self._folder = Path(tempfile.mkdtemp(prefix=f"{PREFIX}{os.getpid()}-"))
            # However this run ends, nothing of it stays; what was killed is swept by the next.
            weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        return self._folder


def _sweep(folder: Path) -> None:
    """Take away what runs that were killed left in a folder."""
    for left in folder.glob(f"{PREFIX}*"):
        number = left.name.removeprefix(PREFIX).partition("-")[0]
        if number.isdigit() and not _runs(int(number)):
            shutil.rmtree(left, ignore_errors=True)


def _runs(number: int) -> bool:
    """Return whether a process of a number may be running."""
    if sys.platform == "win32":  # there, to ask would be to end it
        return True
    try:
        os.kill(number, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def uploads_of(app: Starlette) -> Uploads:
    """Return the uploads of an application."""
    if not hasattr(app.state, "uploads"):
        app.state.uploads = Uploads()
    found: Uploads = app.state.uploads
    return found


def plain_name(name: str) -> str:
    """Return a file's name that means nothing to any system.

    >>> plain_name("../../My card (2).JPG"), plain_name("")
    ('My card -2-.JPG', 'picture')
    """
    bare = re.split(r"[/\\]", name)[-1]
    kept = re.sub(r"[^\w .-]", "-", bare).strip(" .")
    ending = Path(kept).suffix
    return f"{kept.removesuffix(ending)[:_LONGEST_NAME]}{ending[:8]}" or "picture"
