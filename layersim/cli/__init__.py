"""The `layersim` command: the only room that prints and exits.

Each command is a module of its own with ``add_arguments`` and ``run``; only the one that was asked for is
imported, so that help comes at once.
"""

from __future__ import annotations

import sys

TYPE_CHECKING = False
if TYPE_CHECKING:  # `typing` itself would cost half of what `--help` takes
    from collections.abc import Callable, Sequence
    from typing import Final, NoReturn, TextIO

    from layersim.cli.arguments import Parser

COMMANDS: Final = {
    "open": "open the page in your browser: see, change and decide by hand",
    "preview": "show what a scheme will look like, stage by stage",
    "figure": "show it on your own model: a photograph in the finished colours",
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
    "greys": "read the greys of your own preshade off a photograph",
    "targets": "read an area's targets from a picture into the scheme",
    "match": "find the mixes that bring an area closest to colours you ask for",
    "correct": "find the smallest coat that brings back what came out otherwise",
}

USER_FAULT: Final = 2
"""Exit code for anything that the user can put right."""
STOPPED: Final = 130
"""Exit code where somebody pressed Ctrl-C, as a shell has it."""


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command line and exit."""
    pressed: list[int] = []

    def stop(number: int, _: object) -> NoReturn:
        pressed.append(number)
        raise KeyboardInterrupt

    try:
        import signal

        signal.signal(signal.SIGINT, stop)
        _open_what_is_closed()
        for stream in (sys.stdout, sys.stderr):
            # A terminal or file that cannot hold a µ or Δ gets a question mark, not a fault.
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="replace")
        words = sys.argv[1:] if arguments is None else list(arguments)
        code = main(words, stopped=lambda: bool(pressed))
        # All is done and said. What Python still does before it leaves takes a moment, and cannot be stopped.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    except KeyboardInterrupt:
        code = _stopped()
    try:
        sys.stderr.flush()
    except OSError:
        _give_up(sys.stderr)
    sys.exit(code)


def main(arguments: Sequence[str], *, stopped: Callable[[], bool] = lambda: False) -> int:
    """Run one command, given without the program's name, and return its exit code.

    It is 0, 2 where the user can put something right, 130 where the user stopped it, and 1 for a fault of
    the program itself. `stopped` tells whether the user pressed Ctrl-C: a library that is stopped while it is
    imported may raise anything.
    """
    words = list(arguments)
    debug = "--debug" in words
    words = [word for word in words if word != "--debug"]
    try:
        code = _answered(words)
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader of our output has left (`| head`); nothing is wrong, and nothing more can be said.
        _give_up(sys.stdout)
        return 0
    except KeyboardInterrupt:
        return _stopped()
    except Exception as fault:
        if stopped():
            return _stopped()
        if debug:
            raise
        return _told(fault)
    return code


def parser_of(name: str) -> Parser:
    """Return the parser of one command's words, and import that command."""
    import importlib

    from layersim.cli.arguments import Parser

    command = importlib.import_module(f"layersim.cli.{name}")
    parser = Parser(prog=f"layersim {name}", description=command.__doc__, allow_abbrev=False)
    command.add_arguments(parser)
    parser.add_argument("--debug", action="store_true", help="show where in the program a fault arose")
    parser.set_defaults(run=command.run)
    return parser


def as_typed(text: str) -> str:
    """Return a text in which commands of this program stand as they have to be typed here."""
    import re

    from layersim.called import NAME, called

    found = rf"(?<![\w\"/.-]){NAME} (?=(?:{'|'.join(COMMANDS)}|--)\b)"
    return re.sub(found, lambda _: f"{called()} ", text)


def say(text: str, *, end: str = "\n") -> None:
    """Print a text in which commands of this program may stand."""
    print(as_typed(text), end=end)


def _answered(words: list[str]) -> int:
    if not words or words[0] in ("-h", "--help"):
        print(_overview())
        return 0
    if words[0] == "--version":
        from layersim.version import VERSION

        print(f"layersim {VERSION}")
        return 0
    if words[0] == "--anywhere":
        from layersim.cli.anywhere import anywhere_text

        print(anywhere_text())
        return 0
    import os

    # Matrices here are small: a linear algebra library's threads cost more than they bring, and on a
    # busy machine ten times more. What the user sets is left alone.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    name = words[0]
    if name not in COMMANDS:
        from layersim.errors import UnknownNameError, nearest_hint, quoted

        hint = nearest_hint(name, COMMANDS, kind="commands")
        raise UnknownNameError(f"no command {quoted(name)}. {hint}")
    try:
        asked = parser_of(name).parse_args(words[1:])
        code: int = asked.run(asked)
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else USER_FAULT
    return code


def _told(fault: Exception) -> int:
    """Say what went wrong, and return the exit code for it."""
    import errno

    from layersim.errors import LayersimError

    if isinstance(fault, LayersimError):
        _complain(as_typed(f"{fault}"))
        return USER_FAULT
    if isinstance(fault, OSError):
        _give_up(sys.stdout)
        place = f"{fault.filename}: " if fault.filename else ""
        closed = fault.errno == errno.EBADF and not place
        _complain("the output is closed" if closed else f"{place}{fault.strerror or fault}")
        return USER_FAULT
    _complain(
        f"a fault of the program, not yours ({type(fault).__name__}: {fault}). "
        "With --debug it shows where; please report it."
    )
    return 1


def _stopped() -> int:
    _complain("stopped")
    return STOPPED


def _complain(text: str) -> None:
    try:
        print(f"layersim: {text}", file=sys.stderr, flush=True)
    except OSError:
        # Nobody can be told any more. The exit code still says it.
        _give_up(sys.stderr)


def _open_what_is_closed() -> None:
    """Let no file that is opened later become a standard stream that was closed when the program began.

    What is printed to a closed output then fails as it does on a full disk. Python would drop it silently,
    and print complaints to the output.
    """
    if sys.stdin is not None and sys.stdout is not None and sys.stderr is not None:
        return
    import io
    import os

    for name in ("stdin", "stdout", "stderr"):
        if getattr(sys, name) is not None:
            continue
        # Each takes the lowest free number, which is its stream's own.
        number = os.open(os.devnull, os.O_WRONLY if name == "stderr" else os.O_RDONLY)
        if name != "stdin":
            raw = io.FileIO(number, "w", closefd=False)
            setattr(sys, name, io.TextIOWrapper(io.BufferedWriter(raw), "utf-8"))


def _give_up(stream: TextIO) -> None:
    """Let nothing more be written to a stream that takes nothing, when Python leaves either."""
    import contextlib
    import os

    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _overview() -> str:
    from layersim.called import called

    here = called()
    rows = [
        "layersim: see and decide what thin coats of paint do over a preshade, before spraying.",
        "",
        f"usage: {here} COMMAND ...",
        "",
        *(f"  {name:<10} {summary}" for name, summary in COMMANDS.items()),
        "",
        f"  {here} COMMAND --help   what a command takes",
        f"  {here} --version        which version this is",
        f"  {here} --anywhere       how it is called from any folder",
        "",
        f"To begin: {here} start my-scheme.toml, then {here} preview my-scheme.toml",
    ]
    return "\n".join(rows)
