"""Rewrite the tables of docs/validation.md: ``python -m tests.validation``, or some of them.

Words after it choose sections by their names: ``python -m tests.validation spray surface``.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from tests.validation import (
    air,
    droplets,
    measured_fit,
    metal_films,
    photographed_fit,
    reality,
    roundtrip,
    transfer,
)
from tests.validation.document import rewrite

SECTIONS = {
    "reality": reality.tables,
    "radiative transfer": transfer.tables,
    "surface": air.tables,
    "spray": droplets.tables,
    "metal films": metal_films.tables,
    "fit from measured swatches": measured_fit.tables,
    "fit from a photograph": photographed_fit.tables,
    "round trip of a match": roundtrip.tables,
}
PAGE = Path(__file__).parents[2] / "docs" / "validation.md"


def main(wanted: list[str]) -> None:
    chosen = [name for name in SECTIONS if not wanted or any(word in name for word in wanted)]
    if not chosen:
        raise SystemExit(f"no section named so; there are: {', '.join(SECTIONS)}")
    found: dict[str, str] = {}
    for name in chosen:
        begun = time.perf_counter()
        found |= SECTIONS[name]()
        print(f"{name}: {time.perf_counter() - begun:.1f} s", flush=True)
    rewrite(PAGE, found)
    print(f"{len(found)} tables in {PAGE}")


if __name__ == "__main__":
    main(sys.argv[1:])
