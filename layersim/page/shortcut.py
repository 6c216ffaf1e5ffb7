"""An icon on the desktop that opens the page: a text file in each system's own form.

Linux has desktop entries, one of them on the desktop and one for the menu; macOS runs a file that ends in
``.command``, and Windows one that ends in ``.cmd``.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from layersim.errors import OutputError
from layersim.files import write_whole

NAME: Final = "layersim"
_NOTE: Final = "See and decide what thin coats of paint do over a preshade"


def shortcut_text(system: str, words: Sequence[str]) -> str:
    """Return the file that runs a command, given in words, on a system as `sys.platform` names it.

    Raises OutputError where the system cannot say a word.
    """
    for word in words:
        if not word.isprintable():
            raise OutputError(f"{word!r}: no icon can be made for a name with such letters; rename it first")
    if system == "win32":
        return _windows(words)
    if system == "darwin":
        note = "# Opens the page of layersim. Close this window to end it."
        return f"#!/bin/sh\n{note}\nexec {shlex.join(words)}\n"
    entry = {
        "Type": "Application",
        "Name": NAME,
        "Comment": _NOTE,
        "Exec": _exec(words),
        "Icon": "applications-graphics",
        "Terminal": "false",
        "Categories": "Graphics;",
    }
    return "[Desktop Entry]\n" + "".join(f"{key}={value}\n" for key, value in entry.items())


def shortcut_places(system: str, environment: Mapping[str, str], home: Path) -> list[Path]:
    """Return the files to write; their folders are there, but that of the menu on Linux may not be.

    Raises OutputError where there is neither desktop nor menu.
    """
    desktop = _desktop(system, environment, home)
    if system in ("win32", "darwin"):
        if not desktop.is_dir():
            raise OutputError(f"{desktop}: there is no such folder, so no icon can be put on the desktop")
        return [desktop / f"{NAME}.{'cmd' if system == 'win32' else 'command'}"]
    data = Path(environment.get("XDG_DATA_HOME") or home / ".local" / "share")
    menu = data / "applications" / f"{NAME}.desktop"
    return [desktop / menu.name, menu] if desktop.is_dir() else [menu]


def write_shortcut(path: Path, text: str) -> None:
    """Write an icon's file so that a double click runs it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, text)
    path.chmod(0o755)


def removal(system: str, paths: Sequence[Path]) -> str:
    """Return what to do, in words, to take icons away again."""
    if system == "win32":
        return "To take it away, delete that file."
    return f"To take it away: rm {shlex.join(str(path) for path in paths)}"


def _exec(words: Sequence[str]) -> str:
    """Return words as a desktop entry's Exec has them: quoted, then a value of the file.

    Source: Desktop Entry Specification 1.5, "The Exec key" and "Possible value types" (from memory).
    """
    quoted = ['"' + re.sub(r'(["`$\\])', r"\\\1", word) + '"' for word in words]
    return " ".join(quoted).replace("%", "%%").replace("\\", "\\\\")


def _windows(words: Sequence[str]) -> str:
    """Return a batch file; inside quotes, only % means something."""
    for word in words:
        if '"' in word:
            raise OutputError(f"{word}: no icon can be made for a name with a quote in it")
    # A backslash before the closing quote would take it away.
    line = " ".join('"' + re.sub(r"(\\+)$", r"\1\1", word.replace("%", "%%")) + '"' for word in words)
    return f'@echo off\r\nchcp 65001 >nul\r\nstart "{NAME}" /min {line}\r\n'


def _desktop(system: str, environment: Mapping[str, str], home: Path) -> Path:
    """Return the folder of the desktop, which on Linux may have another name."""
    if system == "win32":
        cloud = Path(environment.get("OneDrive", "")) / "Desktop"
        return cloud if environment.get("OneDrive") and cloud.is_dir() else home / "Desktop"
    if system == "darwin":
        return home / "Desktop"
    config = Path(environment.get("XDG_CONFIG_HOME") or home / ".config")
    try:
        named = (config / "user-dirs.dirs").read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        named = ""
    found = re.search(r'^XDG_DESKTOP_DIR="(.*)"$', named, re.MULTILINE)
    if found is None:
        return home / "Desktop"
    return Path(found[1].replace("$HOME", str(home)))
