"""Read an area's targets from a picture, and write them into the scheme.

  layersim targets my-scheme.toml --area cloth --artwork cover.png --shadow 20,70 --mid 40,25 --light 55,12
  layersim targets my-scheme.toml --area cloth --artwork cover.png --mid 40,25 --write

A point is X,Y in per cent of the picture from its upper left corner. The light of a small spot there is
averaged, and how much its pixels differ is the target's doubt (± 3 at least). Without points, targets are
proposed from the picture's main colours. Nothing is written without --write, and every remark stays.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli import say
from layersim.cli.arguments import add_shelf, extra_folders
from layersim.cli.match import PLACES, only_area
from layersim.cli.numbers import number
from layersim.cli.output import add_outputs, outputs, show


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument("--area", metavar="NAME", help="the area (may be left out if there is one)")
    parser.add_argument("--artwork", type=Path, metavar="PICTURE", required=True, help="the picture to read")
    for name in PLACES:
        parser.add_argument(f"--{name}", metavar="X,Y", help=f"where in it {PLACES[name]} is, in per cent")
    parser.add_argument("--size", type=number, metavar="P", help="width of the spot, per cent (2.5)")
    parser.add_argument("--write", action="store_true", help="write the targets into the scheme")
    add_outputs(parser, usual="NAME-targets.png")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.decide import artwork as art
    from layersim.decide.spot import spot_in
    from layersim.decide.writing import target_lines, write_targets
    from layersim.documents.points import SPOT_SIZE, point_from
    from layersim.errors import LayersimError
    from layersim.names import named
    from layersim.scheme.reading import load_scheme
    from layersim.views import artwork as view

    to = outputs(asked, asked.scheme, usual=f"{asked.scheme.stem}-targets.png")
    folders = tuple(extra_folders(asked))
    scheme = load_scheme(asked.scheme, folders=folders)
    area = named(scheme.areas, only_area(scheme, asked.area), kind="areas").name
    picture = art.read_artwork(asked.artwork)
    chosen = {}
    size = SPOT_SIZE if asked.size is None else asked.size
    for name in PLACES:
        if getattr(asked, name) is not None:
            try:
                at = point_from(getattr(asked, name))
                chosen[name] = spot_in(picture, at, size=size, name=name)
            except LayersimError as fault:
                raise LayersimError(f"--{name}: {fault}") from None
    colours: tuple[art.Patch, ...] = ()
    proposed = not chosen
    if proposed:
        colours = art.main_colours(picture)
        found = art.proposed_targets(picture, colours)
        chosen = {name: found[name] for name in PLACES if name in found}
    notes = view.sentences(picture, chosen, proposed=proposed, pick="--shadow, --mid and --light X,Y")
    page = view.view(picture, colours, chosen, notices=[*scheme.notices, *notes])
    targets = {name: patch.target for name, patch in chosen.items()}
    show(page, {"targets": targets}, to, name="targets")
    sources = {
        name: f"{asked.artwork.name} at {100 * patch.at[0]:.3g},{100 * patch.at[1]:.3g}"
        for name, patch in chosen.items()
    }
    if asked.write:
        write_targets(asked.scheme, targets, area=area, sources=sources, folders=folders)
    said = f"Written into {asked.scheme}" if asked.write else "As a scheme says it (--write puts it in)"
    say("\n".join([f"{said}, under the targets of {area}:", *target_lines(targets, sources)]))
    return 0
