"""Rewrite the tables of docs/validation.md: ``python -m tests.validation``."""

from __future__ import annotations

import time
from pathlib import Path

from tests.validation import air, droplets, measured_fit, transfer
from tests.validation.document import rewrite

SECTIONS = {
    "radiative transfer": transfer.tables,
    "surface": air.tables,
    "spray": droplets.tables,
    "fit from measured swatches": measured_fit.tables,
}
PAGE = Path(__file__).parents[2] / "docs" / "validation.md"


def main() -> None:
    found: dict[str, str] = {}
    for name, tables in SECTIONS.items():
        begun = time.perf_counter()
        found |= tables()
        print(f"{name}: {time.perf_counter() - begun:.1f} s", flush=True)
    rewrite(PAGE, found)
    print(f"{len(found)} tables in {PAGE}")


if __name__ == "__main__":
    main()
