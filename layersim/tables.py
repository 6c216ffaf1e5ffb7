"""TOML read with care: every complaint says which file, line and key, what was found and expected.

A :class:`Table` hands out checked values and remembers which keys were asked for, so that what is
left over is known to be misspelt. Reading goes on after a fault where it can (:meth:`Document.gather`,
:meth:`Document.attempt`), so that one look at the message mends the whole file.
"""

from __future__ import annotations

import contextlib
import dataclasses
import math
import re
import tomllib
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, Final, TypeVar

from layersim.errors import MOST_SHOWN, InputFileError, Problem, nearest_hint, quoted
from layersim.files import read_text
from layersim.tomltext import Address, lines_of, syntax_problem, too_deep

Value = TypeVar("Value")

LONGEST_NAME: Final = 100
"""Letters in a name; a longer one would not fit on a strip."""
LONGEST_TEXT: Final = 5000
"""Letters in a note."""


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
    subheadings : tuple of str
        Headings under others ("photograph.other_light") that have keys of the same names: where a key
        stands twice, one may be missing.

    Raises
    ------
    InputFileError
        If the file cannot be read or is not TOML.
    """

    def __init__(
        self, path: Path, *, what: str, error: type[InputFileError], subheadings: tuple[str, ...] = ()
    ) -> None:
        self.path, self.what, self.error = path, what, error
        self.text = read_text(path, what=what, error=error)
        self.problems: list[Problem] = []
        self._lines: dict[Address, int] | None = None
        # The reader takes time that grows with the square of such a chain.
        if too_deep(self.text):
            raise error(path, f"names are joined by dots too deeply to be a {what}")
        try:
            values = tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as fault:
            raise error(path, [syntax_problem(self.text, str(fault), subheadings)]) from None
        except RecursionError:
            raise error(path, f"brackets are nested too deeply to be a {what}") from None
        except ValueError:  # of all values, only a whole number can be too long for Python
            raise error(path, "there is a number of thousands of digits in this file") from None
        self.top = Table(self, values, where="", address=())

    @contextlib.contextmanager
    def gather(self) -> Iterator[None]:
        """Note the first fault inside the block and go on after it."""
        try:
            yield
        except Fault as fault:
            self.problems.append(fault.problem)

    def attempt(self, read: Callable[[], Value], otherwise: Value) -> Value:
        """Return what `read` returns; note its fault and return `otherwise` where it has one.

        Parameters
        ----------
        read : callable
        otherwise : object
            Something to go on with; :meth:`finish` raises before it can do harm.

        Returns
        -------
        object
        """
        with self.gather():
            return read()
        return otherwise

    def line_of(self, address: Address) -> int | None:
        """Return the line of a key, or of the nearest table above it; None at the top of the file."""
        if self._lines is None:
            self._lines = lines_of(self.text)
        for length in range(len(address), 0, -1):
            if (line := self._lines.get(address[:length])) is not None:
                return line
        return None

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

        Raises
        ------
        InputFileError
            At once, if the file is of another version or another kind: its keys mean other things.
        """
        wanted = f"layersim {self.what} {current}"
        if "format" not in self.top:
            line = f'Write format = "{wanted}" as its first line.'
            raise self.top.fault("format", "nothing", f'"{wanted}"', line)
        found = self.top.text("format", most=LONGEST_NAME)
        if found == wanted:
            return
        fault = self.top.fault("format", quoted(found), f'"{wanted}"')
        other = re.fullmatch(r"layersim ([a-z]+) (\d+)", found)
        if other is None:
            raise fault
        if other[1] != self.what:
            hint = f"This is a {other[1]} file, and a {self.what} file was asked for."
        else:
            hint = "Another version of layersim wrote this file; use that version, or write the file anew."
        error = self.error(self.path, [dataclasses.replace(fault.problem, hint=hint)])
        error.other_kind = other[1] != self.what
        raise error


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
        return Fault(Problem(place, found, expected, self.document.line_of(address), hint))

    def text(self, key: str, default: str | None = None, *, most: int = LONGEST_TEXT) -> str:
        """Return a text of one line, blanks and line breaks in it made one blank each.

        Blank only where the default is.
        """
        return self._checked_text(key, default, "a text in quotes", most)

    def name(self, key: str, default: str | None = None) -> str:
        """Return a text that is short enough to be a name."""
        return self.text(key, default, most=LONGEST_NAME)

    def choice(self, key: str, options: Iterable[str], default: str | None = None) -> str:
        """Return one of some words."""
        known = list(options)
        expected = "one of " + ", ".join(f'"{word}"' for word in known)
        value = self._checked_text(key, default, expected, LONGEST_TEXT)
        if value not in known:
            raise self.fault(key, quoted(value), expected, nearest_hint(value, known, listed=False))
        return value

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        expected = "true or false, without quotes"
        value = self._get(key, default, expected)
        if not isinstance(value, bool):
            raise self.fault(key, shown(value), expected)
        return value

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        low: float = -math.inf,
        high: float = math.inf,
        above: float | None = None,
        expected: str = "",
    ) -> float:
        """Return a finite number from `low` to `high`, and above `above` if that is given."""
        expected = expected or _range_words(low, high, above)
        value = self._get(key, default, expected)
        return self._checked_number(key, value, low, high, above, expected)

    def whole(self, key: str, default: int | None = None, *, low: int, high: int) -> int:
        """Return a whole number from `low` to `high`."""
        expected = f"a whole number from {low} to {high}"
        value = self._get(key, default, expected)
        number = self._checked_number(key, value, low, high, None, expected)
        if number != int(number):
            raise self.fault(key, shown(value), expected)
        return int(number)

    def numbers(self, key: str, *, low: float = -math.inf, high: float = math.inf) -> list[float]:
        """Return a list of finite numbers from `low` to `high`; a single number is a list of one."""
        expected = "a list of numbers in square brackets"
        value = self._get(key, None, expected)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            value = [value]
        if not isinstance(value, list) or not value:
            raise self.fault(key, shown(value), expected)
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
            raise self.fault(key, shown(value), "a table, such as { ... } or a heading in [square brackets]")
        where = ", ".join(part for part in (self.where, key) if part)
        return Table(self.document, value, where=where, address=(*self.address, key))

    def tables(self, key: str) -> list[Table]:
        """Return the tables under a ``[[heading]]``, an empty list where there is none."""
        if key not in self:
            return []
        value = self.values[key]
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            heading = ".".join([*(str(part) for part in self.address if isinstance(part, str)), key])
            raise self.fault(key, shown(value), f"headings in double brackets, [[{heading}]]")
        rows = []
        for i, entry in enumerate(value):
            name = entry.get("name")
            label = f"{key} {i + 1} {quoted(name)}" if isinstance(name, str) else f"{key} {i + 1}"
            where = ", ".join(part for part in (self.where, label) if part)
            rows.append(Table(self.document, entry, where=where, address=(*self.address, key, i)))
        return rows

    def no_other_keys(self) -> None:
        """Note every key that nobody asked for, as a problem of the document."""
        for key in [key for key in self.values if key not in self._asked][: MOST_SHOWN + 1]:
            hint = nearest_hint(key, self._asked, kind="keys")
            fault = self.fault(key, f"the key {quoted(key)}", "a key known here", hint)
            self.document.problems.append(fault.problem)

    def _get(self, key: str, default: Any, expected: str) -> Any:
        self._asked.add(key)
        if key in self.values:
            return self.values[key]
        if default is not None:
            return default
        raise self.fault(key, "nothing", expected, "This key is missing.")

    def _checked_text(self, key: str, default: str | None, expected: str, most: int) -> str:
        value = self._get(key, default, expected)
        if not isinstance(value, str):
            hint = "Put it in quotes." if isinstance(value, (int, float)) else ""
            raise self.fault(key, shown(value), expected, hint)
        text = " ".join(value.split())
        if not text and default != "":
            raise self.fault(key, "an empty text", expected)
        if len(text) > most:
            raise self.fault(key, f"a text of {len(text)} letters", f"at most {most}")
        # A file from somebody else must not steer the terminal that shows its texts.
        if any(unicodedata.category(letter) == "Cc" for letter in text):
            raise self.fault(key, quoted(text), "a text without control characters")
        return text

    def _checked_number(
        self, key: str, value: Any, low: float, high: float, above: float | None, expected: str
    ) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            hint = ""
            if isinstance(value, str) and re.fullmatch(r"\s*-?[\d.,]+\s*", value[:40]):
                hint = "Write numbers without quotes, and decimals with a point."
            elif isinstance(value, str) and re.fullmatch(r"\s*[\d.]+\s*:\s*[\d.]+\s*", value[:40]):
                hint = "Write the drops to one drop alone, without quotes: 1 for 1:1, 3 for 3:1."
            raise self.fault(key, shown(value), expected, hint)
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise self.fault(key, shown(value), f"{expected} (a finite one)")
        if not low <= number <= high or (above is not None and not number > above):
            share = f"{number:g} % is {number / 100.0:g} here." if high == 1.0 < number <= 100.0 else ""
            raise self.fault(key, shown(value), expected, share)
        return number


def _range_words(low: float, high: float, above: float | None) -> str:
    if above is not None:
        return f"a number above {above:g}" + (f", at most {high:g}" if math.isfinite(high) else "")
    if math.isfinite(low) and math.isfinite(high):
        return f"a number from {low:g} to {high:g}"
    if math.isfinite(low):
        return f"a number of {low:g} or more"
    return "a number"


def shown(value: Any) -> str:
    """Return a value of a file in words fit for a message, whatever it is and however long.

    Parameters
    ----------
    value : object
        As read from TOML.

    Returns
    -------
    str

    Examples
    --------
    >>> shown("thick"), shown(True), shown([1, 2])
    ('the text "thick"', 'true', 'a list of 2')
    """
    if isinstance(value, str):
        return f"the text {quoted(value)}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}" if value else "an empty list"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, int) and abs(value) >= 10**20:
        return "a number of more than 20 digits"
    return str(value)
