"""Open the page on which everything is done by hand: see a scheme, change it, and see what the change does.

It runs on this machine alone and needs no internet. Without a scheme it begins with the demo.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Final

from layersim.cli import say
from layersim.cli.arguments import Parser
from layersim.errors import OutputError, UnknownNameError

LAST_PORT: Final = 65535
ALONE_SECONDS: Final = 3600.0


def add_arguments(parser: Parser) -> None:
    """Add what this command takes."""
    parser.add_argument("scheme", type=Path, nargs="?", help="the scheme file to open; else the demo")
    parser.add_argument(
        "--folder",
        type=Path,
        help="where schemes are listed and saved, and nowhere else (usually the scheme's, or this one)",
    )
    parser.add_argument("--port", type=int, default=0, help="the port to use (usually any that is free)")
    parser.add_argument(
        "--no-browser", action="store_true", help="say the page's address, and open no browser"
    )
    parser.add_argument(
        "--shortcut", action="store_true", help="put an icon on the desktop that opens the page, and end"
    )
    parser.add_argument(
        "--while-open",
        action="store_true",
        help="end by itself when no page has been open for an hour, as the icon has it",
    )


def run(asked: argparse.Namespace) -> int:
    """Run the command."""
    if not 0 <= asked.port <= LAST_PORT:
        raise UnknownNameError(f"--port {asked.port}: expected a number from 1 to {LAST_PORT}")
    scheme: Path | None = asked.scheme
    folder: Path = asked.folder or (scheme.parent if scheme is not None else Path.cwd())
    if not folder.is_dir():
        raise OutputError(f"--folder {folder}: there is no such folder; make it first, or name another")
    if asked.shortcut:
        return _shortcut(scheme, folder)
    from layersim.page.opening import open_browser
    from layersim.page.serve import serve

    def ready(address: str) -> None:
        say(f"The page: {address}")
        say("It is for you alone: whoever has this address can see and change your schemes.")
        say("To end it: Ctrl-C here, or Stop on the page.")
        sys.stdout.flush()
        if not asked.no_browser:
            open_browser(address)

    serve(
        scheme=scheme,
        folder=folder.resolve(),
        port=asked.port,
        ready=ready,
        alone_seconds=ALONE_SECONDS if asked.while_open else None,
    )
    say("The page has ended.")
    return 0


def _shortcut(scheme: Path | None, folder: Path) -> int:
    return 0
