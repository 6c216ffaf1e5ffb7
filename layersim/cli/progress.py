"""How far something long has come, on a terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Final

_PATIENCE_S: Final = 1.0
"""What is done sooner needs no line."""
_ANEW_S: Final = 0.2


def progress_line(what: str, *, begun: float | None = None) -> Callable[[int, int], None] | None:
    """Return what shows how far something is on a terminal; nothing where there is none.

    `begun`: when the whole of it did, of which this is a step (:func:`time.monotonic`); now by default.
    """
    if not sys.stderr.isatty():
        return None
    due, shown = (time.monotonic() if begun is None else begun) + _PATIENCE_S, False

    def show(done: int, every: int) -> None:
        nonlocal due, shown
        if done >= every:
            if shown:
                print("\r" + " " * 70 + "\r", end="", file=sys.stderr, flush=True)
            shown = False
        elif (now := time.monotonic()) > due:
            due, shown = now + _ANEW_S, True
            filled = int(30 * done / every)
            bar = "#" * filled + "-" * (30 - filled)
            said = f"[{bar}] {100 * done / every:3.0f} % of {what}"
            print(f"\r{said:<69}", end="", file=sys.stderr, flush=True)

    return show


def progress_lines() -> Callable[[str, int, int], None]:
    """Return what shows how far each step of something is: what it is, and how much of how much is done."""
    begun, lines = time.monotonic(), dict[str, Callable[[int, int], None] | None]()

    def show(what: str, done: int, every: int) -> None:
        if what not in lines:
            lines[what] = progress_line(what, begun=begun)
        line = lines[what]
        if line is not None:
            line(done, every)

    return show
