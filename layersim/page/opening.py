"""Open the page in the browser, without showing its key to others who use the machine.

What a program is called with can be read by every user of a machine. So the browser is not given the page's
address, which holds the key, but a file that only this user can read, and which leads there.
"""

from __future__ import annotations

import contextlib
import html
import os
import sys
import tempfile
import threading
import webbrowser
from collections.abc import Mapping
from pathlib import Path
from typing import Final

PREFIX: Final = "layersim-opens-"
_LEADS: Final = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta http-equiv="refresh" content="0;url={address}">
<title>layersim</title></head><body><p><a href="{address}">Open the page of layersim</a></p></body></html>
"""


class WayIn:
    """A browser that is asked to open the page, and the file that leads it there."""

    def __init__(self) -> None:
        self._file: Path | None = None

    def open(self, address: str) -> None:
        """Open an address in the usual browser, without waiting for it."""
        threading.Thread(target=self._open, args=(address,), daemon=True).start()

    def done(self) -> None:
        """Take away what led to the page, once it is open or will not be opened any more."""
        file, self._file = self._file, None
        if file is not None:
            with contextlib.suppress(OSError):
                file.unlink(missing_ok=True)

    def _open(self, address: str) -> None:
        with contextlib.suppress(OSError, webbrowser.Error):
            # On Windows nobody else can read what a program is called with.
            if sys.platform != "win32":
                self._file = leading_file(address, _folder(sys.platform))
            webbrowser.open(self._file.as_uri() if self._file is not None else address)


def leading_file(address: str, folder: Path | None) -> Path:
    """Write a file that leads to an address, which only this user can read; None is the folder for such."""
    handle, name = tempfile.mkstemp(prefix=PREFIX, suffix=".html", dir=folder)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(_LEADS.format(address=html.escape(address)))
    return Path(name)


def has_screen(system: str, environment: Mapping[str, str]) -> bool:
    """Return whether a browser can open a window; else one made of letters would take the terminal."""
    if system in ("win32", "darwin"):
        return True
    return bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))


def _folder(system: str) -> Path | None:
    """Return where the browser may read a file: one in a box of its own sees home, but no temporary files."""
    home = Path.home()
    return home if system.startswith("linux") and os.access(home, os.W_OK) else None
