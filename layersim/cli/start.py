"""Write a commented starter file to edit into your own: a scheme, or the swatches of a paint."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("file", type=Path, help="the file to write, such as my-scheme.toml")
    parser.add_argument(
        "--swatches", action="store_true", help="a swatches file for layersim fit, instead of a scheme"
    )
    parser.add_argument("--replace", action="store_true", help="write over a file that is there already")


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import OutputError
    from layersim.files import write_whole
    from layersim.resources import data_folder

    if asked.file.exists() and not asked.replace:
        raise OutputError(f"{asked.file}: this file is there already; name another, or add --replace")
    if asked.swatches:
        from layersim.measure.swatchfile import starter_text

        text, next_command = starter_text(), f"layersim fit {asked.file}"
    else:
        starter = (data_folder() / "schemes" / "starter.toml").read_text(encoding="utf-8")
        text, next_command = (
            starter.replace("starter.toml", asked.file.name),
            f"layersim preview {asked.file}",
        )
    write_whole(asked.file, text)
    print(f"Written: {asked.file}")
    print(f"Edit it, then: {next_command}")
    return 0
