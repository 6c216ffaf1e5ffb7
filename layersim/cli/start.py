"""Write a commented starter file to edit into your own: a scheme, or the swatches of a paint."""

from __future__ import annotations

import argparse
from pathlib import Path

from layersim.cli.output import Outputs, add_json, data_file, sentences
from layersim.errors import OutputError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("file", type=Path, help="the file to write, such as my-scheme.toml")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument(
        "--swatches", action="store_true", help="a file of measured swatches for layersim fit, not a scheme"
    )
    kind.add_argument(
        "--photograph",
        action="store_true",
        help="a file of swatches on a photographed card for layersim fit; testcard writes the card itself",
    )
    parser.add_argument("--replace", action="store_true", help="write over a file that is there already")
    add_json(parser)


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.files import refuse_to_replace, write_whole

    data = data_file(asked, written=[asked.file])
    refuse_to_replace(asked.file, replace=asked.replace)
    if asked.file.suffix.lower() != ".toml":
        raise OutputError(f"{asked.file}: expected a file ending in .toml, such as {asked.file.stem}.toml")
    write_whole(asked.file, _starter(asked))
    fits = asked.swatches or asked.photograph
    lines = [f"Edit it, then: layersim {'fit' if fits else 'preview'} {asked.file}"]
    notices = []
    if asked.swatches:
        lines.append("No instrument? A photographed card does: layersim start FILE --photograph")
    if asked.photograph:
        from layersim.measure.photofile import STARTER_PICTURE

        picture = asked.file.parent / STARTER_PICTURE
        if not picture.exists():
            notices.append(f"the photograph {picture} is not there yet")
        lines.append("No card yet? layersim testcard card.pdf writes one to print, and such a file with it.")
    to = Outputs(None, data, opened=False)
    sentences(lines, {"file": asked.file}, to, title=f"Written: {asked.file}", name="start", notices=notices)
    return 0


def _starter(asked: argparse.Namespace) -> str:
    if asked.photograph:
        from layersim.measure.photofile import photograph_starter_text

        layout = asked.file.with_name("card.toml")
        return photograph_starter_text(
            card=layout.name if layout.is_file() else None, paint=_paint(asked.file)
        )
    if asked.swatches:
        from layersim.measure.swatchfile import starter_text

        return starter_text(paint=_paint(asked.file))
    from layersim.resources import data_folder

    starter = (data_folder() / "schemes" / "starter.toml").read_text(encoding="utf-8")
    return starter.replace("starter.toml", asked.file.name)


def _paint(file: Path) -> str:
    """Return the name of the paint that a file's name suggests."""
    from layersim.names import slug

    return slug(file.stem).replace("-", " ")
