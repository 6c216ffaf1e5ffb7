"""Write docs/commands.md: every command and option, out of the parsers that read them.

Run from the top of the tree:

    python -m data.generate.command_reference
"""

from __future__ import annotations

import argparse
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path

from layersim.cli import COMMANDS, parser_of

PAGE = Path(__file__).parents[2] / "docs" / "commands.md"
HEAD = """\
# Commands

*Written by `make generated` out of the program itself: what stands here is what it reads.*

`layersim COMMAND --help` says the same in the terminal. `layersim --version` says which version this is, and
`layersim --anywhere` how the program is called from any folder. Every command takes `--debug`, which shows
where in the program a fault arose.

The exit code is 0 if all went well, 2 if you can put something right (a message says what), 130 if you
stopped it, and 1 for a fault of the program. Ctrl-C in the first hundredth of a second, while Python itself
starts, ends in Python's own words.
"""
EVERYWHERE = ("-h", "--debug")


def page() -> str:
    """Return the whole page."""
    parts = [HEAD]
    for name in COMMANDS:
        parts.append(f"\n## {name}\n")
        parts.extend(_of_parser(parser_of(name), level=3))
    return "".join(parts)


def _of_parser(parser: argparse.ArgumentParser, *, level: int) -> Iterator[str]:
    actions = [a for a in parser._actions if not set(EVERYWHERE) & set(a.option_strings)]
    groups = [a for a in actions if isinstance(a, argparse._SubParsersAction)]
    needed = " ".join(_words(a, short=True) for a in actions if a.required)
    more = " [options]" * any(not a.required for a in actions)
    yield f"\n```\n{' '.join(filter(None, [parser.prog, needed]))}{more}\n```\n"
    if parser.description:
        yield f"\n{_described(parser.description)}\n"
    rows = [a for a in actions if a not in groups]
    if rows:
        yield "\n| word | what it does |\n|---|---|\n"
        yield from (f"| `{_escaped(_words(a))}` | {_escaped(_help(parser, a))} |\n" for a in rows)
    for group in groups:
        helps = {choice.dest: choice.help or "" for choice in group._choices_actions}
        for name, below in group.choices.items():
            yield f"\n{'#' * level} {parser.prog.split()[-1]} {name}\n"
            below.description = below.description or f"{helps[name][0].upper()}{helps[name][1:]}."
            yield from _of_parser(below, level=level + 1)


def _described(text: str) -> str:
    """Return a description as Markdown: what is indented is an example to type."""
    parts = []
    for part in text.strip().split("\n\n"):
        example = part.startswith("  ")
        parts.append(f"```\n{textwrap.dedent(part)}\n```" if example else part)
    return "\n\n".join(parts)


def _words(action: argparse.Action, *, short: bool = False) -> str:
    """Return an option or a place with what goes there, such as ``--light NAME``."""
    if not action.option_strings:
        return str(action.metavar or action.dest) + " ..." * (action.nargs in ("+", "*"))
    options = action.option_strings[-1] if short else ", ".join(action.option_strings)
    if action.nargs == 0:
        return options
    value = action.metavar or "|".join(map(str, action.choices or [action.dest.upper()]))
    return f"{options} {value}" + " ..." * (action.nargs in ("+", "*"))


def _help(parser: argparse.ArgumentParser, action: argparse.Action) -> str:
    said = parser._get_formatter()._expand_help(action) if action.help else ""
    again = isinstance(action, argparse._AppendAction) and not re.search("repeat|twice", said)
    return "; ".join(filter(None, [" ".join(said.split()), "may be repeated" * again]))


def _escaped(text: str) -> str:
    return text.replace("|", "\\|")


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
