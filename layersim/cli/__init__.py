"""The `layersim` command: the only room that prints and exits.

Each command is a module of its own with ``add_arguments`` and ``run``; only the one
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
    "compare": "show choices side by side, and say whether they matter",
    "tolerance": "say how forgiving a scheme is, and how alike a batch will be",
    "check": "say whether a scheme can be used, and what is wrong with it",
    "start": "write a commented starter scheme to edit",
    "paints": "list the paints on the shelf",
    "paint": "show one paint by itself: opaque, thin, over black and white",
    "fit": "make a paint from swatches over black and white, measured or photographed",
    "testcard": "write the card to spray swatches on and photograph, to print",
    "quantities": "say how much of everything to mix for a batch, and what to buy",
    "order": "say in which order to do a batch, sitting by sitting",
    "card": "write the bench card: a page to print and a file for a phone",
    "log": "keep the log of what was really sprayed, and learn from it",
    "weigh": "learn transfer efficiency and drop size from a small balance",
    "match": "find the mixes that bring an area closest to colours you ask for",
    "correct": "find the smallest coat that brings back what came out otherwise",
}

USER_FAULT: Final = 2
"""Exit code for anything that the user can put right."""


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and exit."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal or file that cannot hold a µ or Δ gets a question mark, not a fault.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
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
        0; 2 where the user can put something right; 1 for a fault of the program itself.
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

    from layersim.errors import LayersimError, nearest_hint, quoted

    # Matrices here are small: a linear algebra library's threads cost more than they bring, and on a
    # busy machine ten times more. What the user sets is left alone.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if name not in COMMANDS:
        hint = nearest_hint(name, COMMANDS, kind="commands")
        print(f"layersim: no command {quoted(name)}. {hint}", file=sys.stderr)
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
    except BrokenPipeError:
        # The reader of our output has left (`| head`); nothing is wrong, and nothing more can be said.
        _close_output()
        return 0
    except KeyboardInterrupt:
        print("layersim: stopped", file=sys.stderr)
        return 130
    except Exception as fault:
        if debug:
            raise
        if isinstance(fault, LayersimError):
            print(f"layersim: {fault}", file=sys.stderr)
            return USER_FAULT
        if isinstance(fault, OSError):
            _close_output()
            place = f"{fault.filename}: " if fault.filename else ""
            print(f"layersim: {place}{fault.strerror or fault}", file=sys.stderr)
            return USER_FAULT
        print(
            f"layersim: a fault of the program, not yours ({type(fault).__name__}: {fault}). "
            "With --debug it shows where; please report it.",
            file=sys.stderr,
        )
        return 1
    return code


def _close_output() -> None:
    """Let nothing more be written to an output that takes nothing, when Python leaves either."""
    import contextlib
    import os

    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _overview() -> str:
    rows = [
        "layersim: see and decide what thin coats of paint do over a pre-shade, before spraying.",
        "",
        "usage: layersim COMMAND ...",
        "",
        *(f"  {name:<10} {summary}" for name, summary in COMMANDS.items()),
        "",
        "  layersim COMMAND --help   what a command takes",
        "  layersim --version",
        "",
        "To begin: layersim start my-scheme.toml, then layersim preview my-scheme.toml",
    ]
    return "\n".join(rows)
