"""A TOML text as people write it: on which line each key stands, and what slip made it no TOML."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from layersim.errors import Problem, quoted

Address = tuple[str | int, ...]
"""Keys and indices from the top of a file, such as ("area", 0, "coat", 2, "coats")."""

_LONG_CHAIN: Final = re.compile(r"""(?:\.\s*["']?[\w-]+["']?\s*){40}""")
_PART: Final = r"""(?:"(?:[^"\\]|\\.)*"|'[^']*'|[\w-]+)"""
_DOTTED: Final = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADING: Final = re.compile(rf"^\s*(\[\[?)\s*({_DOTTED})\s*\]")
_KEY: Final = re.compile(rf"^\s*({_DOTTED})\s*=")
_MARK: Final = re.compile(r"""\"{3}|'{3}|"(?:[^"\\]|\\.)*"|'[^']*'|\#|[\[{]|[\]}]""")


def lines_of(text: str) -> dict[Address, int]:
    """Return the line of every heading and of every key that begins a line."""
    lines: dict[Address, int] = {}
    for number, _, address in _addresses(text):
        lines.setdefault(address, number)
    return lines


def _addresses(text: str) -> Iterator[tuple[int, str, Address]]:
    """Return each heading and key, of a key joined by dots each part: its line, the heading, its address."""
    here: Address = ()
    under = ""
    counts: dict[Address, int] = {}
    depth, text_end = 0, ""  # open brackets, and the quotes that will end a text of several lines
    for number, line in enumerate(text.split("\n"), start=1):
        if not depth and not text_end:
            if heading := _HEADING.match(line):
                here, parts = (), _parts(heading[2])
                for i, part in enumerate(parts):
                    here = (*here, part)
                    if i == len(parts) - 1 and heading[1] == "[[":
                        counts[here] = counts.get(here, -1) + 1
                    if here in counts:
                        here = (*here, counts[here])
                under = f"{heading[1]}{'.'.join(parts)}{']' * len(heading[1])}"
                yield number, under, here
            elif key := _KEY.match(line):
                address = here
                for part in _parts(key[1]):
                    address = (*address, part)
                    yield number, under, address
        depth, text_end = _left_open(line, depth, text_end)


def _parts(dotted: str) -> list[str]:
    return [part.strip("\"'") for part in re.findall(_PART, dotted)]


def _left_open(line: str, depth: int, text_end: str) -> tuple[int, str]:
    """Return how many brackets, and which text of several lines, are still open after a line."""
    at = 0
    while True:
        if text_end:
            end = line.find(text_end, at)
            if end < 0:
                return depth, text_end
            at, text_end = end + 3, ""
        mark = _MARK.search(line, at)
        if mark is None or mark[0] == "#":
            return depth, text_end
        at = mark.end()
        if len(mark[0]) == 3 and mark[0] in ('"""', "'''"):
            text_end = mark[0]
        elif mark[0] in ("[", "{"):
            depth += 1
        elif mark[0] in ("]", "}"):
            depth = max(0, depth - 1)


def too_deep(text: str) -> bool:
    """Return whether names are joined by so many dots that reading them would take for ever."""
    return _LONG_CHAIN.search(text) is not None


def syntax_problem(text: str, message: str, subheadings: tuple[str, ...] = ()) -> Problem:
    """Return what is wrong with a text that is not TOML, in words for someone who never wrote any.

    Parameters
    ----------
    text : str
        Not blank.
    message : str
        What Python's reader says of it.
    subheadings : tuple of str
        Of which one may be missing where a key stands twice.

    Returns
    -------
    Problem
    """
    place = re.search(r"\(at line (\d+), column (\d+)\)", message)
    reason = re.sub(r"\s*\(at .*\)$", "", message)
    lines = text.split("\n")
    if place:
        number, column = int(place[1]), int(place[2])
    else:
        # At the end of the file. Of a text that nothing closes, show where it opens.
        if reason.startswith("Expected \"'"):
            opened = text.rfind("'")
        elif text.count('"""') % 2:
            opened = text.rfind('"""')
        else:
            opened = len(text.rstrip()) - 1
        number, column = text.count("\n", 0, opened) + 1, 1
    line = lines[number - 1].strip()
    # Of a line as long as a file, the part around the fault.
    near = line if len(line) <= _NEAR else line[max(0, column - _NEAR // 2) :][:_NEAR]
    hints = (hint for start, slip, hint in _SLIPS if reason.startswith(start) and re.search(slip, near))
    expected = next((words for start, words in _REASONS.items() if reason.startswith(start)), "")
    where = f"column {column}" if place else "the end of the file"
    hint = _stands_twice(text, number, subheadings) if reason.startswith("Cannot") else ""
    found = quoted(near, most=_NEAR)
    return Problem(where, found, expected or f"TOML ({reason})", number, hint or next(hints, ""))


def _stands_twice(text: str, number: int, subheadings: tuple[str, ...]) -> str:
    """Return which key of a line stands twice, and which heading may be missing; nothing for a heading."""
    if _KEY.match(text.split("\n")[number - 1]) is None:
        return ""
    first: dict[Address, int] = {}
    twice, place = None, ""
    for line, heading, address in _addresses(text):
        if line == number and first.get(address, number) < number:
            twice, place = address, heading
        first.setdefault(address, line)
    if twice is None:
        return ""
    lost = "a heading"
    if place.startswith("[["):
        lost = f"a heading such as {place}"
    elif sub := next((name for name in subheadings if name.startswith(f"{place[1:-1]}.")), None):
        lost = f"the heading [{sub}]"
    where = f"in {place}" if place else "above the first heading"
    return (
        f"{quoted(str(twice[-1]))} stands twice {where}, first in line {first[twice]}; "
        f"is {lost} missing above the second?"
    )


_NEAR: Final = 80

# What Python's reader says, by how it begins, and what it means to somebody who never wrote TOML.
_REASONS: Final = {
    "Expected '=' after a key": 'a line such as name = "value"',
    "Expected newline or end of document": "the end of the line",
    "Invalid value": "a number, a text in quotes, true, false or a [list]",
    "Invalid statement": 'a line such as name = "value", a [heading] or a # remark',
    "Invalid initial character": "a name",
    "Unterminated string": "a closing quote",
    "Illegal character '\\n'": "a closing quote",
    "Illegal character": "no invisible character",
    "Found invalid character '\\n'": "a closing quote",
    "Found invalid character": "no invisible character",
    "Expected \"'": "a closing quote",
    "Expected ']": "a closing bracket",
    "Unescaped": "/ instead of \\",
    "Invalid hex value": "/ instead of \\",
    "Unclosed array": "a comma or a closing ]",
    "Unclosed inline table": "a comma or a closing }",
    "Cannot": "each key and heading once",
}

# What people slip on: how the complaint begins, what is in the line, what to do. The first that fits is said.
_SLIPS: Final = (
    ("", r"^[^#]*[“”„‘’«»]", 'Use straight quotes: "like this".'),
    (
        "Cannot",
        "",
        "What repeats, such as a coat or an area, has a heading in [[double brackets]], each time.",
    ),
    ("Expected newline", r"=\s*-?\d+,\d", "Write decimals with a point: 0.5, not 0,5."),
    (
        "Expected newline",
        r"=\s*\d+(\.\d+)?\s*:\s*\d",
        "Write the drops of thinner to one drop of paint alone: thinning = 1 for 1:1, 3 for 3:1.",
    ),
    ("Expected newline", r"=\s*[\d.]+\s*%", "Write a share instead of per cent: 0.8, not 80 %."),
    ("Expected newline", r"=\s*-?\d+\.(?!\d)", "Write a digit after the point: 5.0 or 5, not 5."),
    ("Expected newline", r"=\s*-?0\d", "Write no nought before a number: 3, not 03."),
    ("Expected newline", r"=\s*[\d.]+\s*[A-Za-zµμ]+\s*(#.*)?$", "Write the number alone, without a unit."),
    ("Expected newline", "", "After a value only a # remark may follow; every key begins a line of its own."),
    ("Invalid value", r"==", "One equals sign is enough."),
    ("Invalid value", r"[=,\[]\s*-?\.\d", "Write a nought before the point: 0.5, not .5."),
    ("Invalid value", r"=\s*(?i:true|false|yes|no|on|off)\b", "Write true or false, in small letters."),
    ("Invalid value", r"=\s*(#.*)?$", "The value is missing after the equals sign."),
    ("Invalid value", r",\s*,", "There is a comma too many."),
    ("Invalid value", r"[=,\[]\s*[^\W\d_]", 'Put texts in quotes: name = "like this".'),
    (
        "Expected '=' after a key",
        r"(^|[{,])\s*[\w-]+(\s+[\w-]+)+\s*=",
        'Names with blanks stand in quotes ("navy blue" = 5); keys have no blanks (dry_film_um = 5).',
    ),
    ("Expected '=' after a key", r"^[\w\s-]+:", "Write an equals sign instead of the colon."),
    ("Expected '=' after a key", r"[^\x00-\x7f][^=]*=", "Names with letters beyond a-z stand in quotes."),
    ("Invalid initial character", r",\s*\}", "Leave out the comma before }."),
    ("Unescaped", "", "Or put the text in 'single quotes'."),
    ("Invalid hex value", "", "Or put the text in 'single quotes'."),
    ("Unclosed inline table", "", "{ and } stand on the same line, with a comma between two entries."),
    ("Unclosed array", "", "A [ is not closed, or a comma is missing between two values."),
    ("Expected ']", "", "A heading closes with as many brackets as it opens with."),
)
