"""Write the test card for photographed swatches: a page to print, its layout, and a swatches file to edit."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final

from layersim.cli.output import Outputs, add_json, data_file, sentences
from layersim.documents.typed import plain_number
from layersim.errors import LayersimError, OutputError, quoted


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument(
        "card",
        type=Path,
        help="the page to write, such as card.pdf; card.toml and card-swatches.toml go beside it",
    )
    parser.add_argument(
        "--page", default="A6", metavar="SIZE", help="A6 (the card fills it; the default), A4 or letter"
    )
    parser.add_argument(
        "--coats",
        default="0.5,1,2,4",
        metavar="LIST",
        help="coats of each place (default 0.5,1,2,4; up to six)",
    )
    parser.add_argument(
        "--neutrals",
        metavar="W,G,B",
        help="reflectance of your white, grey and black neutral (default 0.88,0.18,0.035)",
    )
    parser.add_argument("--replace", action="store_true", help="write over files that are there already")
    add_json(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.files import refuse_to_replace, write_whole
    from layersim.measure.card import standard_card
    from layersim.measure.cardfile import write_card_file
    from layersim.measure.cardprint import write_card
    from layersim.measure.photofile import photograph_starter_text

    if asked.card.suffix.lower() != ".pdf":
        raise OutputError(f"{asked.card}: expected a file ending in .pdf, such as {asked.card.stem}.pdf")
    layout_file = asked.card.with_suffix(".toml")
    swatches_file = asked.card.with_name(f"{asked.card.stem}-swatches.toml")
    data = data_file(asked, written=[asked.card, layout_file, swatches_file])
    for path in (asked.card, layout_file):
        refuse_to_replace(path, replace=asked.replace)
    starter = photograph_starter_text(card=layout_file.name)
    kept = swatches_file.exists() and swatches_file.read_bytes() != starter.encode()
    coats = _numbers("--coats", asked.coats, _COATS)
    if none := [value for value in coats if value <= 0.0]:
        raise LayersimError(
            f"--coats: found {none[0]:g} in {quoted(asked.coats)}; expected {_COATS}. Decimals have a point, "
            "and bare places are on every card already."
        )
    neutrals = None if asked.neutrals is None else _numbers("--neutrals", asked.neutrals, _NEUTRALS)
    if neutrals and (wrong := [value for value in neutrals if not 0.0 < value <= 1.0]):
        share = f" {wrong[0]:g} % is {wrong[0] / 100.0:g} here." if 1.0 < wrong[0] <= 100.0 else ""
        share = share or " Decimals have a point: 0.88."
        raise LayersimError(
            f"--neutrals: found {wrong[0]:g} in {quoted(asked.neutrals)}; expected {_NEUTRALS}.{share}"
        )
    try:
        layout = standard_card(coats=coats, neutral_reflectance=neutrals)
    except ValueError as fault:
        raise LayersimError(f"--coats or --neutrals: {fault}") from None
    write_card(asked.card, layout, page=asked.page)
    write_card_file(layout_file, layout)
    if not kept:
        write_whole(swatches_file, starter)
    lines = [
        f"Card: {asked.card} (print at 100 %, not fitted to the page)",
        f"Layout: {layout_file}",
        f"Swatches file: {swatches_file}{' (kept as it was: you have edited it)' if kept else ''}",
        f"Next: prime its bands, spray, photograph it, edit that file, then: layersim fit {swatches_file}",
    ]
    found = {
        "card": asked.card,
        "layout": layout_file,
        "swatches": swatches_file,
        "kept": kept,
        "contents": layout,
    }
    to = Outputs(None, data, opened=False)
    sentences(lines, found, to, title="A test card to spray", name="testcard")
    return 0


_COATS: Final = "one to six counts, each above 0 and at most 100, with commas between: 0.5,1,2,4"
_NEUTRALS: Final = "white, grey and black, each above 0 and at most 1, with commas between: 0.88,0.18,0.035"


def _numbers(name: str, text: str, expected: str) -> list[float]:
    values = [plain_number(part) for part in text.split(",")]
    if None in values:
        raise LayersimError(f"{name}: found {quoted(text)}; expected {expected}")
    return [value for value in values if value is not None]
