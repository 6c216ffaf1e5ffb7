"""Print every figure: ``python -m tests.bench``, or some: ``python -m tests.bench films starting``."""

from __future__ import annotations

import sys

from tests.bench import films, page, predicting, starting
from tests.bench.report import machine, section

SECTIONS = {
    "films": (
        "One film (nanoseconds a film and wavelength; least of the rounds, of processor time for 1 thread)",
        films.rows,
    ),
    "predicting": ("Predictions (least of the rounds, of processor time)", predicting.rows),
    "page": ("The page (least of the rounds)", page.rows),
    "starting": ("Commands (medians of pairs run in turn)", starting.rows),
}


def main(wanted: list[str]) -> None:
    unknown = [name for name in wanted if name not in SECTIONS]
    if unknown:
        raise SystemExit(f"no section {unknown[0]}; there are {', '.join(SECTIONS)}")
    print(machine(), end="\n\n")
    for name in wanted or SECTIONS:
        title, rows = SECTIONS[name]
        print(section(title, rows()), flush=True)
    print(machine())


if __name__ == "__main__":
    main(sys.argv[1:])
