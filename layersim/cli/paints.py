"""List the paints on the shelf: your own first, then the starter paints."""

from __future__ import annotations

import argparse
import sys

from layersim.cli.arguments import add_shelf, shelf_from


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("--kind", metavar="KIND", help="only paint, ink, wash, medium, varnish or primer")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import UnknownNameError, nearest_hint
    from layersim.paint import KINDS
    from layersim.render.terminal import shelf_text, shows_colour
    from layersim.shelf import own_folder

    if asked.kind is not None and asked.kind not in KINDS:
        raise UnknownNameError(
            f'--kind: no kind "{asked.kind}". {nearest_hint(asked.kind, KINDS, kind="kinds")}'
        )
    shelf = shelf_from(asked)
    places = [place for place in shelf.places() if asked.kind in (None, place.paint.kind)]
    print(shelf_text(places, in_colour=shows_colour(sys.stdout)))
    for notice in shelf.notices:
        print(f"Note: {notice}.")
    print(f"Your own paints belong in {own_folder()}")
    return 0
