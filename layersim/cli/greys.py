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
    from layersim.chance import NINETY
    from layersim.colour import GREY_CHROMA, Viewing
    from layersim.errors import LayersimError
    from layersim.views.notices import sentences

    photographs = Photographs(asked.grey)
    found = {}
    for name in ("shadow", "light"):
        try:
            found[name] = photographs.spot(asked.photograph, getattr(asked, name), Viewing())
        except LayersimError as fault:
            raise LayersimError(f"--{name}: {fault}") from None
    darkest, lightest = found["shadow"].lab[0], found["light"].lab[0]
    if lightest - darkest < 1.0:
        raise LayersimError(
            f"found L* {darkest:.0f} at --shadow and L* {lightest:.0f} at --light; expected a lighter "
            "highlight. Are the points the other way round?"
        )
    for name, spot in found.items():
        chroma = float((spot.lab[1] ** 2 + spot.lab[2] ** 2) ** 0.5)
        if chroma > GREY_CHROMA + spot.doubt:
            photographs.notes.append(
                f"--{name}: no grey, its chroma is C* {chroma:.0f}: is it bare preshade, and is there "
                "one kind of light?"
            )
    off = max(spot.lightness_doubt for spot in found.values())
    say(
        f"[area.preshade]\ngreys = [{darkest:.0f}, {lightest:.0f}]   # each ± {off:.1f}, read from "
        f"{asked.photograph.name}\n\n[hand]\ngreys = {off / NINETY:.1f}   # how far these greys may be off"
    )
    say("\n".join(sentences(photographs.notes)))
    return 0
