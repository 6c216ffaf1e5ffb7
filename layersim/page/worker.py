"""A process that does one long job, and ends.

What a job leaves behind in memory goes with it, and a job that is not wanted any more can be ended at once.
It reads one function with its arguments, says how far it is, and then what came out. Its parent's end ends
it, too.
"""

from __future__ import annotations

import importlib
import os
import pickle
import signal
import threading
import time
import traceback
from typing import Any, BinaryIO, Final

from layersim.errors import LayersimError

WARM: Final = ("layersim.scheme.reading", "layersim.scheme.simulate", "layersim.decide.match")
"""Modules that most jobs need, imported before there is one."""
SAID_SECONDS: Final = 0.2
"""A job's progress is said at most so often."""

PROGRESS: Final = "progress"
RESULT: Final = "result"
TOLD: Final = "told"
FAULT: Final = "fault"


def main() -> None:
    """Do the one job that comes by the standard input, and answer by the standard output."""
    given, out = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints is no answer
    for name in WARM:
        importlib.import_module(name)
    if hasattr(os, "nice"):
        os.nice(5)  # the page's own hand goes first
    try:
        function, arguments = pickle.load(given)
    except EOFError:
        return
    threading.Thread(target=_end_with_parent, args=(given,), daemon=True).start()
    try:
        answer: tuple[Any, ...] = (RESULT, function(progress=_Progress(out), **arguments))
    except LayersimError as fault:
        answer = (TOLD, f"{fault}")
    except MemoryError:
        answer = (TOLD, "there is not enough memory for this; ask for less at once")
    except Exception as fault:
        answer = (FAULT, type(fault).__name__, place_of(fault))
    _say(out, answer)


def place_of(fault: Exception) -> str:
    """Return a fault of the program in one line, and where it arose."""
    at = traceback.extract_tb(fault.__traceback__)[-1]
    return f"{fault!r} in {at.filename}, line {at.lineno}"


class _Progress:
    """Called with how much is done of how much, and in words if there are any."""

    def __init__(self, out: BinaryIO) -> None:
        self._out, self._last = out, 0.0

    def __call__(self, done: float, every: float = 1.0, words: str = "") -> None:
        now = time.monotonic()
        if now - self._last >= SAID_SECONDS:
            self._last = now
            _say(self._out, (PROGRESS, min(max(done / max(every, 1e-9), 0.0), 1.0), words))


def _say(out: BinaryIO, what: tuple[Any, ...]) -> None:
    out.write(pickle.dumps(what))
    out.flush()


def _end_with_parent(given: BinaryIO) -> None:
    given.read(1)  # nothing more ever comes: it returns when the parent's end is closed
    os.kill(os.getpid(), signal.SIGTERM)
