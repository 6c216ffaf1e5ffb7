"""TOML read with care: every complaint says which file, line and key, what was found and expected.

A :class:`Table` hands out checked values and remembers which keys were asked for, so that what is
left over is known to be misspelt. Reading goes on after a fault where it can (:meth:`Document.gather`),
so that one look at the message mends the whole file.
"""

from __future__ import annotations

import contextlib
import math
import re
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

from layersim.errors import InputFileError, Problem, nearest_hint
from layersim.files import read_text

Address = tuple[str | int, ...]


class Fault(Exception):  # noqa: N818 - not an error of its own: it carries a problem to gather()
    """Carries one problem to the nearest :meth:`Document.gather`."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


class Document:
    """One TOML file: its text, its top table and the problems found so far.

    Parameters
    ----------
    path : Path
    what : str
        What the file is ("scheme", "paint").
    error : type
        The exception that :meth:`finish` raises.

    Raises
    ------
    InputFileError
        If the file cannot be read or is not TOML.
    """

    def __init__(self, path: Path, *, what: str, error: type[InputFileError]) -> None:
        self.path, self.what, self.error = path, what, error
        self.text = read_text(path, what=what, error=error)
        self.problems: list[Problem] = []
        try:
            values = tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as fault:
            raise error(path, [_syntax_problem(self.text, str(fault))]) from None
        except RecursionError:
            raise error(path, "brackets are nested too deeply to be a " + what) from None
        self.top = Table(self, values, where="", address=())

    @contextlib.contextmanager
    def gather(self) -> Iterator[None]:
        """Note the first fault inside the block and go on after it."""
        try:
            yield
        except Fault as fault:
            self.problems.append(fault.problem)

    def finish(self) -> None:
        """Raise everything gathered, in the order of the file; return if there is nothing."""
        if self.problems:
            ordered = sorted(self.problems, key=lambda p: p.line if p.line is not None else 0)
            raise self.error(self.path, ordered)

    def check_format(self, current: int) -> None:
        """Check the line ``format = "layersim scheme 1"``.

        Parameters
        ----------
        current : int
            The version that this program reads.
        """
        wanted = f"layersim {self.what} {current}"
        found = self.top.text("format")
        if found == wanted:
            return
        hint = ""
        if re.fullmatch(rf"layersim {self.what} \d+", found):
            hint = "Another version of layersim wrote this file; use that version, or write the file anew."
        raise self.top.fault("format", f'"{found}"', f'"{wanted}"', hint)


class Table:
    """One table of a document, handing out checked values.

    Parameters
    ----------
    document : Document
    values : dict
    where : str
        The table in words a reader can find ('area 1 "cloth"'); empty for the top.
    address : tuple
        Keys and indices from the top, for finding the line.
    """

    def __init__(self, document: Document, values: dict[str, Any], *, where: str, address: Address) -> None:
        self.document, self.values, self.where, self.address = document, values, where, address
        self._asked: set[str] = set()

    def __contains__(self, key: str) -> bool:
        self._asked.add(key)
        return key in self.values

    def fault(self, key: str | None, found: str, expected: str, hint: str = "") -> Fault:
        """Return a fault about one key, or about the whole table where `key` is None."""
        place = ", ".join(part for part in (self.where, key) if part) or "the file"
        address = self.address if key is None else (*self.address, key)
        return Fault(Problem(place, found, expected, _line_of(self.document.text, address), hint))

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text that is not blank."""
        value = self._get(key, default, "a text in quotes")
        if not isinstance(value, str):
            raise self.fault(key, _shown(value), "a text in quotes")
        if not value.strip() and default is None:
            raise self.fault(key, "an empty text", "a text in quotes")
        return value.strip()

    def choice(self, key: str, options: Iterable[str], default: str | None = None) -> str:
        """Return one of some words."""
        known = list(options)
        value = self.text(key, default)
        if value not in known:
            raise self.fault(key, f'"{value}"', "one of " + ", ".join(known), nearest_hint(value, known))
        return value

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        value = self._get(key, default, "true or false")
        if not isinstance(value, bool):
            raise self.fault(key, _shown(value), "true or false, without quotes")
        return value

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        low: float = -math.inf,
        high: float = math.inf,
        above: float | None = None,
    ) -> float:
        """Return a finite number from `low` to `high`, and above `above` if that is given."""
        value = self._get(key, default, expected := _range_words(low, high, above))
        return self._checked_number(key, value, low, high, above, expected)

    def whole(self, key: str, default: int | None = None, *, low: int, high: int) -> int:
        """Return a whole number from `low` to `high`."""
        value = self.number(key, default, low=low, high=high)
        if value != int(value):
            raise self.fault(key, _shown(value), f"a whole number from {low} to {high}")
        return int(value)

    def numbers(self, key: str, *, low: float = -math.inf, high: float = math.inf) -> list[float]:
        """Return a list of finite numbers from `low` to `high`; a single number is a list of one."""
        expected = "a list of numbers in square brackets"
        value = self._get(key, None, expected)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            value = [value]
        if not isinstance(value, list) or not value:
            raise self.fault(key, _shown(value), expected)
        each = _range_words(low, high, None)
        return [
            self._checked_number(key, v, low, high, None, f"{each} at place {i} of the list")
            for i, v in enumerate(value, start=1)
        ]

    def table(self, key: str) -> Table | None:
        """Return a table, or None where there is none."""
        if key not in self:
            return None
        value = self.values[key]
        if not isinstance(value, dict):
            raise self.fault(key, _shown(value), "a table, such as { ... } or a heading in [square brackets]")
        where = ", ".join(part for part in (self.where, key) if part)
        return Table(self.document, value, where=where, address=(*self.address, key))

    def tables(self, key: str) -> list[Table]:
        """Return the tables under a ``[[heading]]``, an empty list where there is none."""
        if key not in self:
            return []
        value = self.values[key]
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            heading = ".".join([*(str(part) for part in self.address if isinstance(part, str)), key])
            raise self.fault(key, _shown(value), f"headings in double brackets, [[{heading}]]")
        rows = []
        for i, entry in enumerate(value):
            name = entry.get("name")
            label = f'{key} {i + 1} "{name}"' if isinstance(name, str) else f"{key} {i + 1}"
            where = ", ".join(part for part in (self.where, label) if part)
            rows.append(Table(self.document, entry, where=where, address=(*self.address, key, i)))
        return rows

    def no_other_keys(self) -> None:
        """Raise a fault for the first key that nobody asked for; note the rest."""
        faults = [
            self.fault(
                key, f'the key "{key}"', "a key known here", nearest_hint(key, self._asked, kind="keys")
            )
            for key in self.values
            if key not in self._asked
        ]
        self.document.problems.extend(fault.problem for fault in faults)

    def _get(self, key: str, default: Any, expected: str) -> Any:
        self._asked.add(key)
        if key in self.values:
            return self.values[key]
        if default is not None:
            return default
        raise self.fault(key, "nothing", expected, self._misspelt(key))

    def _misspelt(self, key: str) -> str:
        import difflib

        close = difflib.get_close_matches(key, self.values, n=1, cutoff=0.75)
        return f'Is "{close[0]}" meant to be "{key}"?' if close else "This key is missing."

    def _checked_number(
        self, key: str, value: Any, low: float, high: float, above: float | None, expected: str
    ) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            hint = ""
            if isinstance(value, str) and re.fullmatch(r"\s*-?[\d.,]+\s*", value):
                hint = "Write numbers without quotes, and decimals with a point."
            raise self.fault(key, _shown(value), expected, hint)
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise self.fault(key, _shown(value), f"{expected} (a finite one)")
        if not low <= number <= high or (above is not None and not number > above):
            raise self.fault(key, _shown(value), expected)
        return number


def _range_words(low: float, high: float, above: float | None) -> str:
    if above is not None:
        return f"a number above {above:g}" + (f", at most {high:g}" if math.isfinite(high) else "")
    if math.isfinite(low) and math.isfinite(high):
        return f"a number from {low:g} to {high:g}"
    if math.isfinite(low):
        return f"a number of {low:g} or more"
    return "a number"


def _shown(value: Any) -> str:
    if isinstance(value, str):
        return f'the text "{value if len(value) <= 60 else value[:57] + "..."}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, float):
        return f"{value:g}"
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


_HEADING: Final = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY: Final = re.compile(r"""^\s*(?:"([^"]+)"|'([^']+)'|([\w-]+))\s*=""")


def _line_of(text: str, address: Address) -> int | None:
    """Return the line of a key, or of the nearest table above it; None at the top of the file.

    A scan of headings and keys, enough for the files this program writes and people edit.
    """
    best: tuple[int, int] | None = None
    here: Address = ()
    counts: dict[Address, int] = {}

    def consider(found: Address, line: int) -> None:
        nonlocal best
        if found and found == address[: len(found)] and (best is None or len(found) > best[0]):
            best = (len(found), line)

    for number, line in enumerate(text.splitlines(), start=1):
        if heading := _HEADING.match(line):
            here = ()
            parts = [part.strip().strip("\"'") for part in heading[2].split(".")]
            for depth, part in enumerate(parts):
                here = (*here, part)
                last = depth == len(parts) - 1
                if last and heading[1] == "[[":
                    counts[here] = counts.get(here, -1) + 1
                if here in counts:
                    here = (*here, counts[here])
            consider(here, number)
        elif key := _KEY.match(line):
            consider((*here, key[1] or key[2] or key[3]), number)
    return best[1] if best else None


def _syntax_problem(text: str, message: str) -> Problem:
    """Return what is wrong with a text that is not TOML, in words for someone who never wrote any."""
    place = re.search(r"\(at line (\d+), column (\d+)\)", message)
    reason = re.sub(r"\s*\(at .*\)$", "", message)
    lines = text.splitlines()
    number = int(place[1]) if place else len(lines)
    line = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    hint = ""
    if re.search(r"=\s*-?\d+,\d", line):
        hint = "Write decimals with a point: 0.5, not 0,5."
    elif re.search(r"[“”„‘’«»]", line):
        hint = 'Use straight quotes: "like this".'
    elif re.search(r"=\s*[A-Za-z#]", line) and not re.search(r"=\s*(true|false)\b", line):
        hint = 'Put texts in quotes: name = "like this".'
    elif line.count('"') % 2:
        hint = "A quote is opened and not closed."
    elif "overwrite" in reason.lower() or "twice" in reason.lower():
        hint = "The same key or heading stands twice; a second coat or area needs [[double brackets]]."
    shown = f'"{line if len(line) <= 70 else line[:67] + "..."}"' if line else "the end of the file"
    return Problem("the text", shown, f"TOML ({reason[:1].lower() + reason[1:]})", number or None, hint)
