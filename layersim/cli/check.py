"""Say whether a scheme can be used; if not, everything that is wrong with it."""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.arguments import add_shelf, extra_folders


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.scheme.reading import load_scheme
    from layersim.scheme.simulate import simulate

    scheme = load_scheme(asked.scheme, folders=extra_folders(asked))
    prediction = simulate(scheme, tones=9, sites=1, draws=0)
    for area in scheme.areas:
        coats = f"{len(area.coats)} step" + ("" if len(area.coats) == 1 else "s")
        print(f"  {area.name}: {coats} over {area.ground.name}")
    for notice in prediction.notices:
        print(f"  Note: {notice}.")
    print(f"{asked.scheme}: nothing wrong in it.")
    return 0
