"""Reading and writing the small text files that people edit: forgiving to read, safe to write."""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from layersim.errors import InputFileError, OutputError, nearest_hint

LARGEST_TEXT_BYTES: Final = 4 * 2**20
"""A scheme or paint is a few kilobytes; beyond this the wrong file was named."""

_BESIDE: Final = ".layersim-"
"""How the name of a file begins that is being written."""
_LEFT_S: Final = 3600.0
"""Seconds after which nobody is writing such a file any more."""

_SHUT: Final = threading.RLock()

# How files begin that are no plain text, though an editor shows text in them.
_NO_PLAIN_TEXT: Final = {
    b"{\\rtf": "rich text, as a word processor saves it",
    b"PK\x03\x04": "a word processor's document or another zip archive",
    b"\xd0\xcf\x11\xe0": "a word processor's document",
    b"%PDF": "a PDF",
    b"<!doctype html": "a web page",
    b"<html": "a web page",
}


def read_text(path: Path, *, what: str, error: type[InputFileError] = InputFileError) -> str:
    """Return a text file's content; `what` says in messages what it is ("scheme").

    Raises `error` if there is no such file, it is a folder or no ordinary file, may not be read, is empty,
    too large or not UTF-8.
    """
    raw = read_bytes(path, what=what, error=error, most=LARGEST_TEXT_BYTES)
    if kind := no_plain_text(raw):
        raise error(path, f"this is {kind}; expected a {what}. Save it as plain text")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        raise error(
            path,
            f"line {line}: found the byte {raw[fault.start]:#04x}, which is no UTF-8 text; "
            f"expected a {what} saved as UTF-8 (most editors offer it under Save as, Encoding)",
        ) from None
    if not text.strip():
        raise error(path, f"this file is empty; expected a {what}")
    return text


def no_plain_text(raw: bytes) -> str:
    """Return what a file is that only looks like text, in words; empty for any other."""
    begins = raw[:64].lstrip(b"\xef\xbb\xbf \r\n\t").lower()
    return next((kind for mark, kind in _NO_PLAIN_TEXT.items() if begins.startswith(mark.lower())), "")


def read_bytes(
    path: Path, *, what: str, error: type[InputFileError] = InputFileError, most: int = LARGEST_TEXT_BYTES
) -> bytes:
    """Return a file's content, at most `most` bytes.

    A pipe, a device and the like could block for ever or never end, so only regular files are read. Raises
    `error` where it can't be read or is larger.
    """
    try:
        if path.is_dir():
            raise error(path, f"this is a folder; expected a {what} file")
        # A pipe that nobody writes into must not block, and it may take the file's place at any moment.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(handle, "rb") as file:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise error(path, f"this is not an ordinary file; expected a {what} file")
            raw = file.read(most + 1)
    except FileNotFoundError:
        raise error(
            path,
            f"there is no such file; expected a {what} file in {path.parent.absolute()}{_neighbours(path)}",
        ) from None
    except PermissionError:
        raise error(path, "you have no permission to read this file") from None
    except (OSError, ValueError) as fault:
        raise error(path, f"this file cannot be read ({_plain(fault)})") from None
    if len(raw) > most:
        size = f"{most // 2**20} MB"
        raise error(
            path,
            f"this file is too large (more than {size}); expected a {what} file. Was another file meant?",
        )
    return raw


@contextlib.contextmanager
def silent_decoders() -> Iterator[None]:
    """Keep the process's standard error shut: decoders of pictures write to it on their own."""
    # One at a time: what another thread has shut must not be kept as what to open again.
    with _SHUT, contextlib.ExitStack() as stack:
        with contextlib.suppress(OSError):
            kept = os.dup(2)
            stack.callback(os.close, kept)
            with Path(os.devnull).open("wb") as nowhere:
                os.dup2(nowhere.fileno(), 2)
            stack.callback(os.dup2, kept, 2)
        yield


def is_file(path: Path) -> bool:
    """Return whether a path is an ordinary file; False for a name too long for any."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def own_folder(variable: str, usual: str) -> Path:
    """Return the user's own folder of some kind of files; it need not exist.

    The environment variable names it; else it is `usual`, in which ~ stands for the home folder.
    """
    folder = Path(os.environ.get(variable, "").strip() or usual)
    try:
        return folder.expanduser()
    except RuntimeError:  # nobody of that name, or no home: a folder that is not there counts as empty
        return folder


def make_folder(folder: Path, *, what: str) -> None:
    """Make the user's own folder of some kind of files; raises OutputError if it cannot be made."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise OutputError(f"{folder}: your own folder of {what} cannot be made ({_plain(fault)})") from None


def refuse_to_replace(path: Path, *, replace: bool, other: str = "name another") -> None:
    """Raise OutputError if a file is there already, and nobody said that it may be written over."""
    if path.exists() and not path.is_dir() and not replace:
        raise OutputError(f"{path}: this file is there already; {other}, or add --replace")


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all: beside its place first, then moved over it. Text is written as UTF-8.

    A link is followed, and a device or pipe is written straight into: neither is replaced by a file. Raises
    OutputError if the folder is missing or may not be written; what stood at `path` is then untouched.
    """
    raw = content.encode("utf-8", "replace") if isinstance(content, str) else content
    check_writable(path)
    beside: str | None = None
    try:
        if path.exists() and not path.is_file():
            path.write_bytes(raw)
            return
        target = path.resolve()
        # A short prefix: the name beside must not be too long where the name itself is not.
        handle, beside = tempfile.mkstemp(prefix=_BESIDE, suffix=".part", dir=target.parent)
        with os.fdopen(handle, "wb") as out:
            out.write(raw)
            out.flush()
            os.fsync(out.fileno())
        Path(beside).chmod(_mode_for(target))
        Path(beside).replace(target)
        beside = None
        _sweep(target.parent)
    except (OSError, RuntimeError) as fault:
        raise OutputError(f"{path}: this file cannot be written ({_plain(fault)})") from None
    finally:
        # Whatever stopped us, be it the reader's Ctrl-C, no part of a file stays behind.
        if beside is not None:
            Path(beside).unlink(missing_ok=True)


def _sweep(folder: Path) -> None:
    """Take away what writing left in a folder when it was killed: one's own, and too old to be under way."""
    with contextlib.suppress(OSError):
        for entry in os.scandir(folder):
            if not entry.name.startswith(_BESIDE) or not entry.name.endswith((".part", ".toml")):
                continue
            with contextlib.suppress(OSError):
                found = entry.stat(follow_symlinks=False)
                own = not hasattr(os, "getuid") or found.st_uid == os.getuid()
                if own and stat.S_ISREG(found.st_mode) and time.time() - found.st_mtime > _LEFT_S:
                    Path(entry.path).unlink()


def check_writable(path: Path) -> None:
    """Raise OutputError if no file can be written at a path, as far as can be told without writing it."""
    try:
        if path.is_dir():
            raise OutputError(f"{path}: this is a folder; give the name of a file to write")
        if not path.parent.is_dir():
            raise OutputError(f"{path}: there is no folder {path.parent} to write into; make it first")
        path.exists()  # raises for names too long
    except OSError as fault:
        raise OutputError(f"{path}: no file can be written here ({_plain(fault)})") from None
    if "\0" in str(path):
        raise OutputError(f"{path}: no file can be written here (embedded null byte)")


def inside_folder(name: str, folder: Path) -> Path | None:
    """Return `folder / name`, or None where that would climb out of the folder.

    >>> inside_folder("../other", Path("here")) is None
    True
    >>> inside_folder("paints", Path("here")).as_posix()
    'here/paints'
    """
    if not name.strip() or "\0" in name:
        return None
    target = folder / name
    try:
        place = target.resolve()
        # A link that leads back to itself leads nowhere; newer Pythons return it as it is.
        nowhere = os.path.islink(place)  # noqa: PTH114 - no fault for a name too long for any file
        return target if place.is_relative_to(folder.resolve()) and not nowhere else None
    except (OSError, RuntimeError):
        return None


def _mode_for(path: Path) -> int:
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _plain(fault: Exception) -> str:
    return (getattr(fault, "strerror", None) or str(fault)).lower()


def _neighbours(path: Path) -> str:
    """Return what stands where a file was looked for: the nearest name, or some of its kind."""
    folder = path.parent
    try:
        if not folder.is_dir():
            return ", a folder that is not there either"
        there = [entry for entry in folder.iterdir() if entry.is_file()]
        same = [entry.name for entry in there if entry.suffix == path.suffix]
        same = same or [entry.name for entry in there if entry.suffix == ".toml"]
    except OSError:
        return ""
    return f". {nearest_hint(path.name, same, kind='files', most=5)}" if same else ""
