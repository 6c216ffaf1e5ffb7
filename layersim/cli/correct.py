"""Find the smallest coat that brings back what came out otherwise than wanted.

  layersim correct my-scheme.toml --area cloth --mid 38,4,-24 --light "#8a93b8"

Give what came out at the deepest shadow, the middle and the full highlight, as measured or
photographed chips of the finished tones: L,a,b or "#rrggbb". It is held against the area's targets, or
for want of these against the scheme's own predicted finish.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.arguments import COLOUR, add_shelf, check_range, extra_folders, whole_number
from layersim.cli.match import PLACES, add_search, limits_asked, only_area, paints_asked
from layersim.cli.output import add_outputs, outputs, show


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument("--area", metavar="NAME", help="the area (may be left out if there is one)")
    for name in PLACES:
        parser.add_argument(
            f"--{name}", metavar=COLOUR, help=f'what came out at {PLACES[name]}: "#rrggbb" or L,a,b'
        )
    parser.add_argument(
        "--against-plan", action="store_true", help="hold it against the predicted finish, not the targets"
    )
    add_search(parser)
    parser.add_argument("--tones", type=whole_number, default=9, metavar="N", help="tones (9)")
    add_outputs(parser)
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.decide.correction import LIMITS, correct
    from layersim.decide.targets import colour_from
    from layersim.scheme.reading import load_scheme
    from layersim.scheme.records import Targets
    from layersim.views.correct import view

    check_range("--tones", asked.tones, 2, 60)
    to = outputs(asked, asked.scheme)
    scheme = load_scheme(asked.scheme, folders=extra_folders(asked))
    found = {
        name: colour_from(getattr(asked, name), name=f"--{name}")
        for name in PLACES
        if getattr(asked, name) is not None
    }
    corrections = correct(
        scheme,
        area=only_area(scheme, asked.area),
        found=found,
        paints=paints_asked(asked),
        targets=Targets() if asked.against_plan else None,
        limits=limits_asked(asked, LIMITS),
        tones=asked.tones,
    )
    show(view(corrections, scheme.viewing, scheme.notices), corrections, to, name="correct")
    return 0
