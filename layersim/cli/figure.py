"""See a scheme on your own model: a photograph of the preshaded model comes back in the finished colours.

  layersim figure my-scheme.toml model.jpg --grey 20,80 --area "cloth=20,10 60,10 55,80 25,80"
  layersim figure my-scheme.toml model.jpg --area cloth=cloth-mask.png --area straps=straps-mask.png

Photograph the preshaded model and a grey card or a 24-patch chart close together, in one even light, and
leave the exposure alone. Say for each area where it is: a mask, which is a picture of the same shape that
is white where the area is, or a polygon of points X,Y in per cent of the picture from its upper left corner.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.arguments import add_shelf, extra_folders
from layersim.cli.chips import add_grey, greys_from
from layersim.cli.output import add_outputs, outputs, refuse_what_is_read, show


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument(
        "photograph", type=Path, metavar="PICTURE", help="a photograph of the preshaded model"
    )
    parser.add_argument(
        "--area", action="append", required=True, metavar="NAME=WHERE",
        help="where an area is: a mask's file, or the corners of a polygon; may be repeated",
    )  # fmt: skip
    add_grey(parser)
    parser.add_argument(
        "--stretch", action="store_true",
        help="take the darkest and lightest of each area for the ends of its preshade",
    )  # fmt: skip
    parser.add_argument(
        "--lamp", metavar="NAME", help="judge under this lamp or daylight instead of the scheme's"
    )
    parser.add_argument(
        "--finished", type=Path, metavar="FILE",
        help="write the whole finished photograph, .jpg or .png (NAME-finished.jpg in this folder)",
    )  # fmt: skip
    add_outputs(parser, usual="NAME-figure.png in this folder")
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim import colour
    from layersim.errors import LayersimError
    from layersim.figure.areas import cover_of, place_from
    from layersim.figure.figure import paint_figure
    from layersim.figure.saving import check_finished, save_finished
    from layersim.figure.seen import read_model
    from layersim.files import check_writable
    from layersim.scheme.reading import load_scheme
    from layersim.views.figure import view

    to = outputs(asked, asked.scheme, usual=f"{asked.scheme.stem}-figure.png")
    finished = asked.finished or Path(f"{asked.scheme.stem}-finished.jpg")
    scheme = load_scheme(asked.scheme, folders=extra_folders(asked))
    viewing = colour.Viewing(asked.lamp, scheme.viewing.observer) if asked.lamp else scheme.viewing
    try:
        places = [place_from(text, scheme.areas) for text in asked.area]
    except LayersimError as fault:
        raise LayersimError(f"--area: {fault}") from None
    twice = [place.area for i, place in enumerate(places) if place.area in [p.area for p in places[:i]]]
    if twice:
        raise LayersimError(f"--area: found {twice[0]} twice; expected each area once")
    masks = [place.mask for place in places if place.mask is not None]
    refuse_what_is_read(asked, finished, asked.photograph, *masks, option="--finished")
    refuse_what_is_read(asked, to.picture, *masks, option="--out")
    check_finished(finished)
    check_writable(finished)
    model = read_model(asked.photograph, greys=greys_from(asked.grey))
    size = {"height": model.photograph.height, "width": model.photograph.width}
    covers = {place.area: cover_of(place, **size) for place in places}
    found = paint_figure(scheme, model, covers, viewing=viewing, stretch=asked.stretch)
    save_finished(found, finished)
    show(
        view(found),
        {"areas": found.areas, "stages": [stage.done for stage in found.stages]},
        to,
        name="figure",
    )
    print(f"Finished: {finished.resolve()}")
    return 0
