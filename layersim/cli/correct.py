"""Find the smallest coat that brings back what came out otherwise than wanted.

  layersim correct my-scheme.toml --area cloth --mid 38,4,-24 --light 60,2,-19
  layersim correct my-scheme.toml --area cloth --mid chip.jpg@40,25

Give what came out at the deepest shadow, the middle and the full highlight, as chips of the finished
tones: measured (L,a,b), or photographed beside a 24-patch chart or a grey card (FILE@X,Y, a point in per
cent of the picture). "#rrggbb" off a screen is taken, too, and counts for little. It is held against the
area's targets or, where it has none, against the scheme's own predicted finish.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.arguments import COLOUR, add_shelf, check_range, scheme_from, whole_number
from layersim.cli.chips import Photographs, add_grey
from layersim.cli.match import PLACES, add_search, limits_asked, only_area, paints_asked
from layersim.cli.output import add_outputs, outputs, show


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument("--area", metavar="NAME", help="the area (may be left out if there is one)")
    for name in PLACES:
        parser.add_argument(
            f"--{name}", metavar=COLOUR, help=f"what came out at {PLACES[name]}: L,a,b or FILE@X,Y"
        )
    parser.add_argument(
        "--against-plan", action="store_true", help="hold it against the predicted finish, not the targets"
    )
    add_grey(parser)
    add_search(parser)
    parser.add_argument("--tones", type=whole_number, default=9, metavar="N", help="tones (9)")
    add_outputs(parser)
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.decide.correction import LIMITS, correct
    from layersim.decide.targets import colour_from
    from layersim.errors import LayersimError
    from layersim.log import SCREEN_DOUBT
    from layersim.scheme.records import Targets
    from layersim.views.chip import screen_words
    from layersim.views.correct import view

    check_range("--tones", asked.tones, 2, 60)
    to = outputs(asked, asked.scheme)
    scheme = scheme_from(asked)
    found, doubts = {}, {}
    photographs = Photographs(asked.grey)
    for name in PLACES:
        if (text := getattr(asked, name)) is None:
            continue
        try:
            seen = photographs.read(text, scheme.viewing)
        except LayersimError as fault:
            raise LayersimError(f"--{name}: {fault}") from None
        if seen is not None:
            found[name], doubts[name] = seen
            continue
        colour = colour_from(text, name=f"--{name}")
        found[name] = colour.under(scheme.viewing)
        if colour.on_screen:
            doubts[name] = SCREEN_DOUBT
            photographs.notes.append(screen_words(name))
    corrections = correct(
        scheme,
        area=only_area(scheme, asked.area),
        found=found,
        doubts=doubts,
        paints=paints_asked(asked),
        targets=Targets() if asked.against_plan else None,
        limits=limits_asked(asked, LIMITS),
        tones=asked.tones,
    )
    show(view(corrections, notices=photographs.notes), corrections, to, name="correct")
    return 0
