"""Show one paint by itself: masstone, one to eight coats over black and white, how well it hides."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from layersim.cli.arguments import add_shelf, shelf_from


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("name", help="a paint's name (see: layersim paints), or its file, ending in .toml")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write a picture, too: .png, .pdf or .svg")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.paintfile import read_paint
    from layersim.render.terminal import card_text, shows_colour
    from layersim.swatchcard import swatch_card

    if asked.out is not None:
        from layersim.render.saving import check_picture_path

        check_picture_path(asked.out)
    shelf = shelf_from(asked)
    if asked.name.endswith(".toml"):
        paint, path = read_paint(Path(asked.name)), Path(asked.name)
    else:
        place = shelf.place(asked.name)
        paint, path = place.paint, place.path
    card = swatch_card(paint)
    print(card_text(card, path, in_colour=shows_colour(sys.stdout)))
    for notice in shelf.notices:
        print(f"Note: {notice}.")
    if asked.out is not None:
        from layersim.render.card import card_figure
        from layersim.render.saving import save_figures

        save_figures([card_figure(card)], asked.out)
        print(f"Picture: {asked.out}")
    return 0
