"""Where the program is sure, is it right? Real measurements, then one broken assumption at a time.

``python -m tests.validation.reality`` prints every row; words after it choose rows by their names, and
``--held-out`` takes the pigments that nothing may be adjusted on. ``python -m tests.validation
reality`` writes the table into docs/validation.md, held out.
"""

from __future__ import annotations

import argparse
import functools
import time
from collections.abc import Callable, Mapping
from typing import Final

import numpy as np

from layersim.spectra import FloatArray
from tests.validation import broken, real_stacks, real_watercolours
from tests.validation.document import table
from tests.validation.figures import HEAD, Said
from tests.validation.models import BEER_LAMBERT, TWO_CONES, TWO_FLUXES, Model
from tests.validation.real_data import MissingDataError

Row = Callable[[], Said]

MEASURED: Final[Mapping[str, Row]] = {
    "layer stacks, as the program does by itself": real_stacks.outcome,
    "layer stacks, films vary 15 %, readings 2 %": lambda: real_stacks.outcome(film_error=0.15, reading=0.02),
    "layer stacks, swatches over white alone": lambda: real_stacks.outcome(over_black=False),
    "watercolours, three amounts: others": lambda: real_watercolours.other_amounts(real_watercolours.THREE),
    "watercolours, three amounts: mixtures": lambda: real_watercolours.mixtures(real_watercolours.THREE),
    "watercolours, four amounts: others": lambda: real_watercolours.other_amounts(real_watercolours.FOUR),
    "watercolours, four amounts: mixtures": lambda: real_watercolours.mixtures(real_watercolours.FOUR),
    "watercolours, all amounts: mixtures": lambda: real_watercolours.mixtures(None),
}
"""Rows held against what somebody measured."""


def measured_table() -> str:
    """Return the table of real measurements; rows whose data are not here say so."""
    rows = []
    for words, run in MEASURED.items():
        try:
            rows.append([words, *run().cells()])
        except MissingDataError as fault:
            rows.append([f"{words}: {fault}", *["–"] * len(HEAD)])
    return table(["real measurements, ΔE00", *HEAD], rows)


def broken_table(*, held_out: bool) -> str:
    """Return the table of radiative transfer with one assumption broken at a time."""
    rows = []
    for words, case in broken.CASES.items():
        try:
            rows.append([words, *broken.outcome(case(held_out)).cells()])
        except MissingDataError as fault:
            rows.append([f"{words}: {fault}", *["–"] * len(HEAD)])
    return table(["radiative transfer, ΔE00", *HEAD], rows)


TEXTBOOK: Final[Mapping[str, Callable[[Model], FloatArray]]] = {
    "layer stacks": real_stacks.by_least_squares,
    "watercolours, three amounts: others": functools.partial(
        real_watercolours.by_least_squares, amounts=real_watercolours.THREE, mixed=False
    ),
    "watercolours, all amounts: mixtures": functools.partial(
        real_watercolours.by_least_squares, amounts=None, mixed=True
    ),
}
"""The same measurements by models that are fitted to them by plain least squares."""


def textbook_table() -> str:
    """Return the table of textbook models on the same measurements."""
    models = (TWO_CONES, TWO_FLUXES, BEER_LAMBERT)
    rows = []
    for words, errors_of in TEXTBOOK.items():
        try:
            errors = [errors_of(model) for model in models]
            rows.append(
                [words, *(f"{e.mean():.1f} / {np.quantile(e, 0.95):.1f} / {e.max():.1f}" for e in errors)]
            )
        except MissingDataError as fault:
            rows.append([f"{words}: {fault}", *["–"] * len(models)])
    return table(["ΔE00, mean / 95 % / largest", *(model.name for model in models)], rows)


def tables() -> dict[str, str]:
    """Return the tables of this section."""
    return {
        "reality-measured": measured_table(),
        "reality-textbook": textbook_table(),
        "reality-held-out": broken_table(held_out=True),
    }


def main() -> None:
    """Print rows, each with how long it took."""
    parser = argparse.ArgumentParser(prog="python -m tests.validation.reality")
    parser.add_argument("words", nargs="*", help="print rows whose names hold one of these")
    parser.add_argument("--held-out", action="store_true", help="judge by the pigments kept back")
    parser.add_argument("--seeds", type=int, default=broken.SEEDS, help="sets of swatches a row")
    given = parser.parse_args()
    rows: dict[str, Row] = dict(MEASURED)
    for words, case in broken.CASES.items():
        rows[words] = functools.partial(_outcome, case, given.held_out, given.seeds)
    print("name: " + " | ".join(HEAD))
    for words, run in rows.items():
        if given.words and not any(word in words for word in given.words):
            continue
        begun = time.perf_counter()
        try:
            cells = " | ".join(run().cells())
        except MissingDataError as fault:
            cells = str(fault)
        print(f"{words}: {cells}  ({time.perf_counter() - begun:.1f} s)", flush=True)


def _outcome(case: Callable[[bool], broken.Case], held_out: bool, seeds: int) -> Said:
    return broken.outcome(case(held_out), seeds=seeds)


if __name__ == "__main__":
    main()
