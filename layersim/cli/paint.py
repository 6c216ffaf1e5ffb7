"""Show one paint by itself: masstone, one to eight coats over black and white, how well it hides."""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.arguments import add_shelf, shelf_from
from layersim.cli.output import add_outputs, outputs, show


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("name", help="a paint's name (see: layersim paints), or its file, ending in .toml")
    add_outputs(parser)
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.paintfile import read_paint
    from layersim.swatchcard import swatch_card
    from layersim.views.paint import view

    to = outputs(asked, Path(asked.name))
    shelf = shelf_from(asked)
    if asked.name.endswith(".toml"):
        paint, path = read_paint(Path(asked.name)), Path(asked.name)
    else:
        place = shelf.place(asked.name)
        paint, path = place.paint, place.path
    card = swatch_card(paint)
    show(view(card, path, notices=tuple(shelf.notices)), card, to, name="paint")
    return 0
