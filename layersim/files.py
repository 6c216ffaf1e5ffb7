"""Reading and writing the small text files that people edit: forgiving to read, safe to write."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Final

from layersim.errors import InputFileError, OutputError

LARGEST_TEXT_BYTES: Final = 4 * 2**20
"""A scheme or paint is a few kilobytes; beyond this the wrong file was named."""


def read_text(path: Path, *, what: str, error: type[InputFileError] = InputFileError) -> str:
    """Return a text file's content, or say in a sentence why it cannot be had.

    Parameters
    ----------
    path : Path
    what : str
        What the file is, for the message ("scheme").
    error : type
        The exception to raise.

    Returns
    -------
    str

    Raises
    ------
    InputFileError
        If there is no such file, it is a folder, may not be read, is empty, too large or not UTF-8.
    """
    try:
        if path.is_dir():
            raise error(path, f"this is a folder; expected a {what} file")
        if path.exists() and not path.is_file():
            raise error(path, f"this is not an ordinary file; expected a {what} file")
        size = path.stat().st_size
        if size > LARGEST_TEXT_BYTES:
            raise error(
                path, f"{size / 2**20:.0f} MB is too large for a {what} file; was another file meant?"
            )
        raw = path.read_bytes()
    except FileNotFoundError:
        raise error(path, f"there is no such file; expected a {what} file{_neighbours(path)}") from None
    except PermissionError:
        raise error(path, "you have no permission to read this file") from None
    except (OSError, ValueError) as fault:
        raise error(path, f"this file cannot be read ({_plain(fault)})") from None
    if not raw.strip():
        raise error(path, f"this file is empty; expected a {what}")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        raise error(
            path, f"line {line}: byte {raw[fault.start]:#04x} is not UTF-8 text; save the file as UTF-8"
        ) from None


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all: beside its place first, then moved over it.

    Parameters
    ----------
    path : Path
    content : str or bytes
        Text is written as UTF-8.

    Raises
    ------
    OutputError
        If the folder is missing or may not be written; what stood at `path` is then untouched.
    """
    raw = content.encode("utf-8") if isinstance(content, str) else content
    if path.is_dir():
        raise OutputError(f"{path}: this is a folder; give the name of a file to write")
    if not path.parent.is_dir():
        raise OutputError(f"{path}: there is no folder {path.parent} to write into")
    beside: str | None = None
    try:
        handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as out:
            out.write(raw)
            out.flush()
            os.fsync(out.fileno())
        Path(beside).chmod(_mode_for(path))
        Path(beside).replace(path)
    except OSError as fault:
        if beside is not None:
            Path(beside).unlink(missing_ok=True)
        raise OutputError(f"{path}: this file cannot be written ({_plain(fault)})") from None


def inside_folder(name: str, folder: Path) -> Path | None:
    """Return `folder / name`, or None where that would climb out of the folder.

    Parameters
    ----------
    name : str
        As written in a file.
    folder : Path

    Returns
    -------
    Path or None

    Examples
    --------
    >>> inside_folder("../other", Path("here")) is None
    True
    >>> inside_folder("paints", Path("here")).as_posix()
    'here/paints'
    """
    if not name.strip() or "\0" in name:
        return None
    target = folder / name
    return target if target.resolve().is_relative_to(folder.resolve()) else None


def _mode_for(path: Path) -> int:
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _plain(fault: Exception) -> str:
    return (getattr(fault, "strerror", None) or str(fault)).lower()


def _neighbours(path: Path) -> str:
    folder = path.parent
    if not folder.is_dir():
        return f" (nor is there a folder {folder})"
    same = sorted(p.name for p in folder.glob(f"*{path.suffix or '.toml'}"))[:5]
    return f". In that folder: {', '.join(same)}" if same else ""
