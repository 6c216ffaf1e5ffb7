"""Write the card for the bench: one page to print, and one file for a phone that needs no network.

Strips of each stage, the recipe in whole drops, thinning, coats, where, drying, tolerance, targets, tick
boxes, and the cautions for the kinds of material in the scheme.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.arguments import add_shelf, scheme_from, whole_number
from layersim.cli.output import add_json, data_file, refuse_what_is_read, write_data


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="a scheme file")
    parser.add_argument("--models", type=whole_number, metavar="N", help="for so many models instead")
    parser.add_argument("--area", action="append", metavar="NAME", help="this area only; may be repeated")
    parser.add_argument(
        "--out",
        action="append",
        type=Path,
        metavar="FILE",
        help="write this only, .pdf or .html; may be repeated (default: NAME-card.pdf and .html here)",
    )
    add_json(parser)
    add_shelf(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.bench.content import bench_card
    from layersim.views.card import view
    from layersim.views.parts import notice_lines
    from layersim.writers.whole import check_name, save

    stem = asked.scheme.stem
    files: list[Path] = asked.out or [Path(f"{stem}-card.pdf"), Path(f"{stem}-card.html")]
    for file in files:
        check_name(file, ("pdf", "html"), what="card")
        refuse_what_is_read(asked, file, option="--out")
    data = data_file(asked, written=files)
    scheme = scheme_from(asked)
    card = bench_card(scheme, areas=asked.area or [])
    page = view(card)
    for line in notice_lines(page):
        print(line)
    for file in files:
        save(page, file)
        what = "To print" if file.suffix.lower() == ".pdf" else "For a phone"
        print(f"{what}: {file.resolve()}")
    write_data(card, data, name="card")
    return 0
