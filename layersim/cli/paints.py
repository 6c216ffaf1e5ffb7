"""List the paints on the shelf: your own first, then the starter paints.

layersim paints red glaze            those whose name, kind or hue has all of these words
layersim paints --out shelf.png      the whole shelf as a picture
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from layersim.cli.arguments import add_shelf, shelf_from
from layersim.cli.output import add_outputs, outputs, show

if TYPE_CHECKING:
    from layersim.shelf import Place


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
    parser.add_argument("words", nargs="*", metavar="WORD", help="only paints whose name, kind or hue has it")
    parser.add_argument("--kind", metavar="KIND", help="only paint, ink, wash, medium, varnish or primer")
    add_outputs(parser)
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import UnknownNameError, nearest_hint
    from layersim.paint import KINDS
    from layersim.shelf import own_folder
    from layersim.swatchcard import hue_of
    from layersim.views.shelf import view

    to = outputs(asked)
    if asked.kind is not None and asked.kind not in KINDS:
        raise UnknownNameError(
            f'--kind: no kind "{asked.kind}". {nearest_hint(asked.kind, KINDS, kind="kinds")}'
        )
    shelf = shelf_from(asked)
    places = [
        place
        for place in shelf.places()
        if asked.kind in (None, place.paint.kind) and _has(place, hue_of(place.paint), asked.words)
    ]
    listed = [Listed(p.paint.name, p.paint.kind, hue_of(p.paint), p.path, p.starter) for p in places]
    show(view(places, own=str(own_folder()), notices=shelf.notices), listed, to, name="paints")
    return 0


def _has(place: Place, hue: str, words: list[str]) -> bool:
    said = f"{place.paint.name} {place.paint.kind} {hue}".lower()
    return all(word.lower() in said for word in words)
