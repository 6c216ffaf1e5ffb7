"""A writer of a log that is killed again and again, at random moments.

    python -m tests.killed_writer LOG KILLS SEED

A process of its own, so that it may fork: what takes long is done once, and the time goes into writing.
Prints, for each kill, the numbers that the writer had said were on the disk, and those that the log then had.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from datetime import datetime
from pathlib import Path

from layersim.log import Chip, Entry, add_entry, read_log

LONGEST_S = 0.02
CHIPS = (Chip("mid", reflectance=tuple([0.25] * 31)),)


def main(path: Path, kills: int, seed: int) -> None:
    """Kill so many writers, one after the other."""
    luck = random.Random(seed)
    rounds = []
    first = 0
    for _ in range(kills):
        told = killed(path, first, after_s=luck.uniform(0.0, LONGEST_S))
        read = [int(entry.note) for entry in read_log(path).entries]
        rounds.append({"told": told, "read": read})
        first = max([-1, *read, *told]) + 1
    print(json.dumps(rounds))


def killed(path: Path, first: int, *, after_s: float) -> list[int]:
    """Fork a writer that tells each number once its entry is on disk, and kill it; return what it told."""
    hear, tell = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(hear)
        write(path, first, tell)
    os.close(tell)
    os.read(hear, len(READY))
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    said = b""
    while piece := os.read(hear, 65536):
        said += piece
    os.close(hear)
    # A number is told with one write, so that each that came through is whole.
    return [int(number) for number in said.split()]


READY = b"ready\n"


def write(path: Path, first: int, tell: int) -> None:
    """Write entries until killed."""
    os.write(tell, READY)
    number = first
    while True:
        add_entry(path, Entry(datetime(2026, 5, 1), "cloth", "base", note=str(number), chips=CHIPS))
        os.write(tell, f"{number}\n".encode())
        number += 1


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
