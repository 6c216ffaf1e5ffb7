"""How far a long search has come, on a terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable


def progress_line(what: str) -> Callable[[int, int], None] | None:
    """Return what shows a search's progress on a terminal; nothing where there is none."""
    if not sys.stderr.isatty():
        return None
    last = 0.0

    def show(done: int, every: int) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last > 0.2 or done >= every:
            last = now
            filled = int(30 * done / max(every, 1))
            bar = "#" * filled + "-" * (30 - filled)
            print(
                f"\r[{bar}] {100 * done / max(every, 1):3.0f} % of {what}",
                end="",
                file=sys.stderr,
                flush=True,
            )
            if done >= every:
                print("\r" + " " * 70 + "\r", end="", file=sys.stderr, flush=True)

    return show
