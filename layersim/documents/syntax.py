"""A TOML text as people write it: on which line each key stands, and what slip made it no TOML."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from typing import Final

from layersim.documents.table import NUMBER_WORDS
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


def headings_in(text: str) -> list[tuple[int, Address]]:
    """Return the line and the address of every heading, in order."""
    lines = text.split("\n")
    return [(at, address) for at, _, address in _addresses(text) if lines[at - 1].lstrip().startswith("[")]


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


def is_open(line: str) -> bool:
    """Return whether a value that begins in this line goes on in the next."""
    return _left_open(line, 0, "") != (0, "")


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


def syntax_problem(
    text: str, fault: tomllib.TOMLDecodeError, headings: Mapping[str, tuple[str, ...]] | None = None
) -> Problem:
    """Return what is wrong with a text that is not TOML, in words for someone who never wrote any.

    Of what Python's reader says, only the place counts: its sentences may change. `headings` says under which
    headings each key may stand, so that one that is missing can be named.
    """
    place = _place(fault)
    lines = text.split("\n")
    if place:
        number, column = min(place[0], len(lines)), place[1]
    else:
        number = _unclosed(lines) or len(lines)
        column = len(lines[number - 1]) + 1
    start = _statement(lines, number)
    before = "\n".join([*lines[start - 1 : number - 1], lines[number - 1][: column - 1]])
    after = lines[number - 1][column - 1 :]
    if not place:
        # At the end of the file. Of a text that nothing closes, show where it opens.
        opened = _open_text(before)
        last = len(before.rstrip()) if opened is None else opened
        number, column = start + before.count("\n", 0, last), 1
    slip = _slip(before, after, "\n".join(lines[start - 1 : number]))
    line = lines[number - 1].strip()
    # Of a line as long as a file, the part around the fault.
    near = line if len(line) <= _NEAR else line[max(0, column - _NEAR // 2) :][:_NEAR]
    hint = _stands_twice(text, number, headings or {}) if slip == "twice" else ""
    hint = hint or next(
        (
            words
            for kinds, said, words in _SLIPS
            if slip in (kinds or slip).split("|") and re.search(said, near)
        ),
        "",
    )
    if slip == "blank":
        hint = f"That is {_named(after[0])}, which looks like one or like nothing."
    where = f"column {column}" if place else "the end of the file"
    return Problem(where, quoted(near, most=_NEAR), _EXPECTED[slip], number, hint)


def _place(fault: tomllib.TOMLDecodeError) -> tuple[int, int] | None:
    """Return line and column of a fault; None at the end of the text."""
    place = re.search(r"line (\d+)\D+(\d+)", str(fault))
    return (int(place[1]), int(place[2])) if place else None


def _named(letter: str) -> str:
    return f"{unicodedata.name(letter, 'no letter').lower()} (U+{ord(letter):04X})"


def _statement(lines: list[str], number: int) -> int:
    """Return the line, from 1, on which the statement begins that a line is part of."""
    start, depth, text_end = 1, 0, ""
    for at, line in enumerate(lines[: number - 1], start=1):
        depth, text_end = _left_open(line, depth, text_end)
        if not depth and not text_end:
            start = at + 1
    return start


def _unclosed(lines: list[str]) -> int | None:
    """Return the last line, from 1, with a 'text that goes on; Python's reader tells only the file's end."""
    rest = "\n".join(lines[_statement(lines, len(lines)) - 1 :])
    if rest.strip() and _open_text(rest) is None and not _is_toml(rest):
        return None  # a list, or a value that is missing
    for number in range(len(lines), 0, -1):
        at = _open_text(lines[number - 1])
        if at is not None and lines[number - 1][at] == "'":
            return number
    return None


def _open_text(before: str) -> int | None:
    """Return where the text in quotes begins in which a piece of TOML ends."""
    at = 0
    while mark := _TOKEN.search(before, at):
        at = mark.end()
        if mark[0] in ('"""', "'''"):
            if (end := before.find(mark[0], at)) < 0:
                return mark.start()
            at = end + 3
        elif mark[0] in ('"', "'"):
            return mark.start()
    return None


def _slip(before: str, after: str, whole: str) -> str:
    """Return what was wrong at a place: one of the keys of :data:`_EXPECTED`."""
    odd = unicodedata.category(after[0]) if after else ""
    opened = _open_text(before)
    if opened is not None:
        if odd == "Cc" and after[0] not in "\r\n":
            return "invisible"
        return "backslash" if before[opened] == '"' and "\\" in before[opened:] and after else "text"
    if odd in ("Zs", "Cf", "Zl", "Zp") and after[0] != " ":
        return "blank"
    if odd == "Cc" and after[0] not in "\t\r\n":
        return "invisible"
    if _is_toml(whole):
        return "twice"
    return _context(before)


def _is_toml(text: str) -> bool:
    try:
        tomllib.loads(text)
    except (ValueError, RecursionError):
        return False
    return bool(text.strip())


def _context(before: str) -> str:
    """Return what a piece of TOML that ends outside a text stands waiting for."""
    if before.lstrip().startswith("["):
        return "heading"
    brackets: list[str] = []
    said: list[list[str]] = [[]]
    for mark in _TOKEN.finditer(before):
        token = mark[0]
        if token in ("[", "{"):
            brackets.append(token)
            said.append([])
        elif token in ("]", "}") and brackets:
            brackets.pop()
            said.pop()
            said[-1].append(token)
        elif token == "," and brackets:
            said[-1].clear()
        elif token != "\n" and token[0] != "#":
            said[-1].append(token)
    words = said[-1]
    if brackets and brackets[-1] == "[":
        return "list" if words else "value"
    if "=" not in words:
        return ("entry" if words else "name") if brackets else ("key" if words else "line")
    return "value" if words[-1] == "=" else "table" if brackets else "after"


def _stands_twice(text: str, number: int, headings: Mapping[str, tuple[str, ...]]) -> str:
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
    elif sub := next((h for h in headings.get(str(twice[-1]), ()) if h.startswith(f"{place[:-1]}.")), None):
        lost = f"the heading {sub}"
    where = f"in {place}" if place else "above the first heading"
    return (
        f"{quoted(str(twice[-1]))} stands twice {where}, first in line {first[twice]}; "
        f"is {lost} missing above the second?"
    )


_NEAR: Final = 80
_TOKEN: Final = re.compile(
    r"""\"{3}|'{3}|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|\#[^\n]*|[\[\]{},=\n"']|[^\s\[\]{},=\#"']+"""
)
_A_LINE: Final = 'a line such as name = "value"'

# What was waited for where the text went wrong, and what that means to somebody who never wrote TOML.
_EXPECTED: Final = {
    "line": f"{_A_LINE}, a [heading] or a # remark",
    "key": _A_LINE,
    "name": "a name",
    "entry": 'a name and its value, such as { "navy blue" = 5 }',
    "value": "a number, a text in quotes, true, false or a [list]",
    "after": "the end of the line",
    "text": "a closing quote",
    "backslash": "/ instead of \\",
    "list": "a comma or a closing ]",
    "table": "a comma or a closing }",
    "heading": "a closing bracket",
    "twice": "each key and heading once",
    "invisible": "no invisible character",
    "blank": "an ordinary space, or nothing",
}

# What people slip on: what was waited for, what is in the line, what to do. The first that fits is said.
_SLIPS: Final = (
    ("", r"^[^#]*[“”„‘’«»]", 'Use straight quotes: "like this".'),
    (
        "twice",
        "",
        "What repeats, such as a coat or an area, has a heading in [[double brackets]], each time.",
    ),
    ("after", r"=\s*-?\d+,\d", "Write decimals with a point: 0.5, not 0,5."),
    (
        "after",
        r"=\s*\d+(\.\d+)?\s*:\s*\d",
        "Write the drops of thinner to one drop of paint alone: thinning = 1 for 1:1, 3 for 3:1.",
    ),
    ("after", r"=\s*[\d.]+\s*%", "Write a share instead of per cent: 0.8, not 80 %."),
    ("after", r"=\s*-?\d+\.(?!\d)", "Write a digit after the point: 5.0 or 5, not 5."),
    ("after", r"=\s*-?0\d", "Write no zero before a number: 3, not 03."),
    ("after", r"=\s*[\d.]+\s*[A-Za-zµμ]+\s*(#.*)?$", "Write the number alone, without a unit."),
    ("after", "", "After a value only a # remark may follow; every key begins a line of its own."),
    ("value", r"==", "One equals sign is enough."),
    ("value", r"[=,\[]\s*-?\.\d", "Write a zero before the point: 0.5, not .5."),
    ("value", r"=\s*(?i:true|false|yes|no|on|off)\b", "Write true or false, in small letters."),
    ("value", rf"=\s*(?i:{'|'.join(NUMBER_WORDS)})\b", "Write numbers in figures: 2, not two."),
    ("value", r"=\s*#[0-9a-fA-F]{6}\b", 'Put colours in quotes: "#3d4c74".'),
    ("value", r"=\s*(#.*)?$", "The value is missing after the equals sign."),
    ("value", r",\s*,", "There is a comma too many."),
    ("value", r"[=,\[]\s*[^\W\d_]", 'Put texts in quotes: name = "like this".'),
    ("entry", r"""[{,]\s*("[^"]*"|'[^']*'|\w+)\s*:""", "Write an equals sign instead of the colon."),
    ("entry", r"[{,]\s*\w+\s+[\d.]+\s*[,}]", "Write an equals sign after the name: { from = 60 }."),
    (
        "key|entry",
        r"(^|[{,])\s*[\w-]+(\s+[\w-]+)+\s*=",
        'Names with blanks stand in quotes ("navy blue" = 5); keys have no blanks (dry_film_um = 5).',
    ),
    ("key", r"^[\w\s-]+:", "Write an equals sign instead of the colon."),
    ("key", r"""^["'][^"']*["']\s*:""", "Write an equals sign instead of the colon."),
    ("key|line|entry", r"[^\x00-\x7f][^=]*=", "Names with letters beyond a-z stand in quotes."),
    ("key|line", r"^[^=\s]+(\s+[^=\s]+){2,}$", "Is this a remark? Then begin the line with #."),
    ("name", r",\s*\}", "Leave out the comma before }."),
    ("backslash", "", "Or put the text in 'single quotes'."),
    ("table", "", "{ and } stand on the same line, with a comma between two entries."),
    ("list", "", "A [ is not closed, or a comma is missing between two values."),
    ("heading", "", "A heading closes with as many brackets as it opens with."),
)
