"""Try many texts and pictures with slips, memory capped; leaves with 1 at the first fault of the program."""

from __future__ import annotations

import resource
import sys
import tempfile
from pathlib import Path

from tests.fuzz import faults, pictures

MOST_BYTES = 3 * 2**30

if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    for kind, tried in (("texts", faults), ("pictures", pictures.faults)):
        with tempfile.TemporaryDirectory() as folder:
            fault = next(tried(Path(folder), count=count, seed=seed), None)
            if fault is not None:
                sys.exit(fault)
        print(f"{count} {kind} with slips, seed {seed}: each was read, or told what is wrong", flush=True)
