"""The `layersim` command: the only room that prints and exits.

Each command is a module of its own with ``SUMMARY``, ``add_arguments`` and ``run``; only the one
that was asked for is imported, so that help comes at once.
"""

from __future__ import annotations

import sys

TYPE_CHECKING = False
if TYPE_CHECKING:  # `typing` itself would cost half of what `--help` takes
    from collections.abc import Sequence
    from typing import Final, NoReturn

COMMANDS: Final = {
    "preview": "show what a scheme will look like, stage by stage",
    "check": "say whether a scheme can be used, and what is wrong with it",
    "start": "write a commented starter scheme to edit",
    "paints": "list the paints on the shelf",
    "paint": "show one paint by itself: opaque, thin, over black and white",
}

USER_FAULT: Final = 2
"""Exit code for anything that the user can put right."""


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and exit."""
    sys.exit(main(sys.argv[1:] if arguments is None else list(arguments)))


def main(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code.

    Parameters
    ----------
    arguments : sequence of str
        Without the program's name.

    Returns
    -------
    int
        0, or 2 where the user can put something right.
    """
    words = list(arguments)
    debug = "--debug" in words
    words = [word for word in words if word != "--debug"]
    if not words or words[0] in ("-h", "--help"):
        print(_overview())
        return 0
    if words[0] == "--version":
        from layersim.version import VERSION

        print(f"layersim {VERSION}")
        return 0
    return _run_command(words[0], words[1:], debug=debug)


def _run_command(name: str, words: list[str], *, debug: bool) -> int:
    import importlib
    import os

    from layersim.errors import LayersimError, nearest_hint

    if name not in COMMANDS:
        print(
            f'layersim: no command "{name}". {nearest_hint(name, COMMANDS, kind="commands")}', file=sys.stderr
        )
        return USER_FAULT
    from layersim.cli.arguments import Parser

    command = importlib.import_module(f"layersim.cli.{name}")
    parser = Parser(prog=f"layersim {name}", description=command.__doc__, allow_abbrev=False)
    command.add_arguments(parser)
    parser.add_argument("--debug", action="store_true", help="show where in the program a fault arose")
    try:
        asked = parser.parse_args(words)
        code: int = command.run(asked)
        sys.stdout.flush()
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else USER_FAULT
    except LayersimError as fault:
        if debug:
            raise
        print(f"layersim: {fault}", file=sys.stderr)
        return USER_FAULT
    except BrokenPipeError:
        # The reader of our output has left (`| head`); nothing is wrong, and nothing more can be said.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        print("layersim: stopped", file=sys.stderr)
        return 130
    return code


def _overview() -> str:
    rows = [
        "layersim: see and decide what thin coats of paint do over a pre-shade, before spraying.",
        "",
        "usage: layersim COMMAND ...",
        "",
        *(f"  {name:<9} {summary}" for name, summary in COMMANDS.items()),
        "",
        "  layersim COMMAND --help   what a command takes",
        "  layersim --version",
        "",
        "To begin: layersim start my-scheme.toml, then layersim preview my-scheme.toml",
    ]
    return "\n".join(rows)
