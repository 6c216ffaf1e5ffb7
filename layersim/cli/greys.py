"""Read the greys of your own preshade off a photograph with a grey card or a 24-patch chart in it.

  layersim greys model.jpg --grey 20,80 --shadow 40,60 --light 45,20

Photograph the preshaded model and the card close together, in one even light, and leave the exposure alone.
A point is X,Y in per cent of the picture from its upper left corner: the deepest shadow and the full
highlight of the preshade, and the card. What it prints goes into the scheme, under [area.preshade].
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli import say
from layersim.cli.chips import Photographs, add_grey


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("photograph", type=Path, metavar="PICTURE", help="a photograph of the model")
    parser.add_argument("--shadow", metavar="X,Y", required=True, help="where its deepest shadow is")
    parser.add_argument("--light", metavar="X,Y", required=True, help="where its full highlight is")
    add_grey(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.colour import Viewing
    from layersim.errors import LayersimError, PhotographError
    from layersim.fitting.greys import seen_greys
    from layersim.views.notices import sentences

    photographs = Photographs(asked.grey)
    found = {}
    for name in ("shadow", "light"):
        try:
            found[name] = photographs.spot(asked.photograph, getattr(asked, name), Viewing())
        except PhotographError:
            raise
        except LayersimError as fault:
            raise LayersimError(f"--{name}: {fault}") from None
    greys = seen_greys(**found)
    say(
        f"[area.preshade]\ngreys = [{greys.darkest:.0f}, {greys.lightest:.0f}]   # each ± {greys.doubt:.1f}, "
        f"read from {asked.photograph.name}\n\n"
        f"[hand]\ngreys = {greys.error:.1f}   # how far these greys may be off"
    )
    say("\n".join(sentences([*photographs.notes, *greys.notes])))
    return 0
