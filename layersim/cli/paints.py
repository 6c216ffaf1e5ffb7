"""List the paints on the shelf: your own first, then the starter paints.

layersim paints dark red glaze       those whose name, kind, hue, use or lightness has all of these words
layersim paints --out shelf.png      the whole shelf as a picture
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

from layersim.cli.arguments import add_shelf, shelf_from
from layersim.cli.output import add_outputs, outputs, show


@dataclass(frozen=True)
class Listed:
    """One paint of the list, for data."""

    name: str
    kind: str
    hue: str
    path: Path
    starter: bool


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument(
        "words",
        nargs="*",
        metavar="WORD",
        help="only paints whose name, kind, hue, use or lightness (dark, mid, light) has it",
    )
    parser.add_argument(
        "--kind", metavar="KIND", help="only paint, metal, ink, wash, medium, varnish or primer"
    )
    add_outputs(parser)
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import UnknownNameError, nearest_hint
    from layersim.paint import KINDS
    from layersim.shelf import own_folder
    from layersim.swatchcard import hue_of
    from layersim.views.shelf import NONE, none_words, view

    to = outputs(asked)
    if asked.kind is not None and asked.kind not in KINDS:
        raise UnknownNameError(
            f'--kind: no kind "{asked.kind}". {nearest_hint(asked.kind, KINDS, kind="kinds")}'
        )
    shelf = shelf_from(asked)
    words = " ".join(asked.words)
    places = [place for place in shelf.search(words) if asked.kind in (None, place.paint.kind)]
    listed = [Listed(p.paint.name, p.paint.kind, hue_of(p.paint), p.path, p.starter) for p in places]
    none = none_words(shelf, words) if words else NONE
    show(view(places, own=str(own_folder()), notices=shelf.notices, none=none), listed, to, name="paints")
    return 0
