"""Show choices side by side, and say whether they matter: two highlights, one coat or two, two lights.

A choice is a name and what it changes in the scheme:

  layersim compare my-scheme.toml --choice "two coats: filter.coats = 2"
  layersim compare my-scheme.toml --choice "bone: highlight = 4 bone : 1 sky blue" --choice "no filter"

Changes: COAT.coats = 2, COAT = one paint, COAT = 4 one : 1 other, COAT.where = from 60 up,
COAT.sheen = matt, without COAT, preshade.passes = 20, lamp = LED-B3. Several stand in one choice with a
semicolon between them. Where several areas have such a coat: AREA/COAT.coats = 2, or all/COAT.coats = 2.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.arguments import Parser, add_shelf, check_range, extra_folders
from layersim.cli.output import add_outputs, outputs, show


def add_arguments(parser: Parser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, nargs="+", help="a scheme file, or several to compare")
    parser.add_argument(
        "--choice", action="append", metavar='"NAME: CHANGE"', help="a choice; may be repeated (see above)"
    )
    parser.add_argument("--choices", type=Path, metavar="FILE", help="choices written in a file")
    parser.add_argument(
        "--only-choices", action="store_true", help="leave the scheme as written out of the comparison"
    )
    parser.add_argument(
        "--area", action="append", metavar="NAME", help="this area only; may be repeated. Changes are for it"
    )
    parser.add_argument(
        "--lamp",
        action="append",
        metavar="NAME",
        help="say how far apart they are under this lamp or daylight, too",
    )
    parser.add_argument("--tones", type=int, default=9, metavar="N", help="tones along the shade axis (9)")
    add_outputs(parser, usual="NAME-compare.png in this folder")
    add_shelf(parser)
    parser.once = {"--light": "--lamp"}


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.decide.choices import (
        Choice,
        asked_in_file,
        asked_in_words,
        checked_choices,
        choices_of,
        known_areas,
    )
    from layersim.decide.compare import compare
    from layersim.errors import LayersimError
    from layersim.scheme.reading import load_scheme
    from layersim.views.compare import view

    check_range("--tones", asked.tones, 2, 60)
    read = [*asked.scheme, *([asked.choices] if asked.choices else [])]
    to = outputs(asked, *read, usual=f"{asked.scheme[0].stem}-compare.png")
    wanted = [asked_in_words(text) for text in asked.choice or []]
    wanted += asked_in_file(asked.choices) if asked.choices else []
    folders = extra_folders(asked)
    areas = asked.area or []
    if len(asked.scheme) > 1 and wanted:
        raise LayersimError(
            "to compare: found choices and several schemes; expected choices on one scheme, or schemes alone."
        )
    choices: tuple[Choice, ...]
    if len(asked.scheme) > 1:
        schemes = [load_scheme(path, folders=folders) for path in asked.scheme]
        names = [scheme.name for scheme in schemes]
        # Copies of one scheme often keep its name; the files' names tell them apart.
        labels = names if len(set(names)) == len(names) else [str(path) for path in asked.scheme]
        choices = tuple(Choice(label, scheme) for label, scheme in zip(labels, schemes, strict=True))
    else:
        plain = load_scheme(asked.scheme[0], folders=folders)
        known_areas(plain, areas)
        choices = choices_of(asked.scheme[0], wanted, areas=areas, folders=folders)
        choices = choices[1:] if asked.only_choices and wanted else choices
    comparison = compare(
        checked_choices(choices),
        tones=asked.tones,
        areas=areas,
        lights=list(dict.fromkeys(asked.lamp or [])),
    )
    show(view(comparison), comparison, to, name="compare")
    return 0
