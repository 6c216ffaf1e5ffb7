"""Write a commented starter scheme, with invented paints, to edit into your own."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, help="the file to write, such as my-scheme.toml")
    parser.add_argument("--replace", action="store_true", help="write over a file that is there already")


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    from layersim.errors import OutputError
    from layersim.files import write_whole
    from layersim.resources import data_folder

    if asked.scheme.exists() and not asked.replace:
        raise OutputError(f"{asked.scheme}: this file is there already; name another, or add --replace")
    text = (data_folder() / "schemes" / "starter.toml").read_text(encoding="utf-8")
    write_whole(asked.scheme, text.replace("starter.toml", asked.scheme.name))
    print(f"Written: {asked.scheme}")
    print(f"Edit it, then: layersim preview {asked.scheme}")
    return 0
