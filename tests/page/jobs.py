"""Work for a worker of the page, of every kind there is."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

from layersim.errors import LayersimError

Progress = Callable[..., None]


def adds(*, progress: Progress, a: int, b: int) -> dict[str, int]:
    progress(1, 2, "half of it")
    return {"sum": a + b}


def waits(*, progress: Progress, marker: str = "", seconds: float = 60.0) -> dict[str, int]:
    if marker:
        Path(marker).write_text(f"{os.getpid()}", encoding="utf-8")
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        progress(1, 10)
        time.sleep(0.05)
    return {"pid": os.getpid()}


def tells(*, progress: Progress) -> None:
    raise LayersimError("the second coat has no paint")


def fails(*, progress: Progress) -> None:
    raise ZeroDivisionError("of the program")


def dies(*, progress: Progress) -> None:
    os.kill(os.getpid(), 9)


def prints(*, progress: Progress) -> dict[str, int]:
    print("a library that talks")
    os.write(1, b"and one that talks lower down")
    return {"ok": 1}


def where(*, progress: Progress) -> dict[str, str]:
    import layersim

    return {"file": str(layersim.__file__), "pid": f"{os.getpid()}"}
