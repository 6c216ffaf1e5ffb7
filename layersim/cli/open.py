"""Open the page on which everything is done by hand: see a scheme, change it, and see what the change does.

It runs on this machine alone and needs no internet. Without a scheme it begins with the demo.
"""

from __future__ import annotations

import argparse
import os
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
    if scheme is not None:
        from layersim.errors import SchemeError
        from layersim.files import read_text

        read_text(scheme, what="scheme", error=SchemeError)
    if asked.shortcut:
        return _shortcut(scheme, folder)
    from layersim.page.opening import WayIn, has_screen
    from layersim.page.serve import serve

    opening = WayIn()
    browser = not asked.no_browser and has_screen(sys.platform, os.environ)

    def ready(address: str) -> None:
        say(f"The page: {address}")
        if not browser:
            say("Open this address in a browser on this machine.")
        say("It is for you alone: whoever has this address can see and change your schemes.")
        say("To end it: Ctrl-C here, or Stop on the page.")
        sys.stdout.flush()
        if browser:
            opening.open(address)

    try:
        serve(
            scheme=scheme,
            folder=folder.resolve(),
            port=asked.port,
            ready=ready,
            opened=opening.done,
            alone_seconds=ALONE_SECONDS if asked.while_open else None,
        )
    finally:
        opening.done()
    say("The page has ended.")
    return 0


def _shortcut(scheme: Path | None, folder: Path) -> int:
    from layersim.page.shortcut import removal, shortcut_places, shortcut_text, write_shortcut

    words = [
        sys.executable,
        "-P",
        "-m",
        "layersim",
        "open",
        "--while-open",
        "--folder",
        f"{folder.resolve()}",
    ]
    if scheme is not None:
        words.append(f"{scheme.resolve()}")
    text = shortcut_text(sys.platform, words)
    places = shortcut_places(sys.platform, os.environ, Path.home())
    for place in places:
        write_shortcut(place, text)
        say(f"Written: {place}")
    say(f"It opens the page on the schemes in {folder.resolve()}.")
    if sys.platform not in ("win32", "darwin"):
        say("Some desktops ask once whether it may run: right click on it, then Allow Launching.")
    say(removal(sys.platform, places))
    return 0
