"""One TOML file, read with care: reading goes on after a fault, so that one look mends the whole file."""

from __future__ import annotations

import contextlib
import dataclasses
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from layersim.documents.keys import Key, headings
from layersim.documents.syntax import Address, lines_of, syntax_problem, too_deep
from layersim.documents.table import Table
from layersim.errors import Fault, InputFileError, Problem, quoted
from layersim.files import read_text
from layersim.names import LONGEST_NAME

Value = TypeVar("Value")


class Document:
    """One TOML file: its text, its top table and the problems found so far.

    `what` says what the file is ("scheme", "paint") and `error` is what :meth:`finish` raises. `keys` are all
    that such a file may say: a key in the wrong place is told where it belongs. `text` is read in place of
    the file's own, which need not be there then; `values`, such as JSON has, in place of both.

    Raises `error` if the file can't be read or is not TOML.
    """

    def __init__(
        self,
        path: Path,
        *,
        what: str,
        error: type[InputFileError],
        keys: Mapping[str, Key] | None = None,
        text: str | None = None,
        values: dict[str, Any] | None = None,
    ) -> None:
        self.path, self.what, self.error = path, what, error
        if text is None:
            text = "" if values is not None else read_text(path, what=what, error=error)
        self.text = text
        self.problems: list[Problem] = []
        self.notices: list[str] = []
        self._lines: dict[Address, int] | None = None
        self._headings = headings(keys or {})
        self.top = Table(self, self._parsed() if values is None else values, where="", address=())

    def _parsed(self) -> dict[str, Any]:
        path, what, error = self.path, self.what, self.error
        # The reader takes time that grows with the square of such a chain.
        if too_deep(self.text):
            raise error(path, f"names are joined by dots too deeply to be a {what}")
        try:
            return tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as fault:
            raise error(path, [syntax_problem(self.text, fault, self._headings)]) from None
        except RecursionError:
            raise error(path, f"brackets are nested too deeply to be a {what}") from None
        except ValueError:  # of all values, only a whole number can be too long for Python
            raise error(path, "there is a number of thousands of digits in this file") from None

    @contextlib.contextmanager
    def gather(self) -> Iterator[None]:
        """Note the first fault inside the block and go on after it."""
        try:
            yield
        except Fault as fault:
            self.problems.append(fault.problem)

    def attempt(self, read: Callable[[], Value], otherwise: Value) -> Value:
        """Return what `read` returns; note its fault and return `otherwise` where it has one.

        `otherwise` is something to go on with; :meth:`finish` raises before it can do harm.
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

    def headings_of(self, key: str) -> str:
        """Return under which headings a key stands in such a file; empty if under none, or under many."""
        found = self._headings.get(key, ())
        return " or ".join(found) if len(found) <= 2 else ""

    def finish(self) -> None:
        """Raise everything gathered, in the order of the file; return if there is nothing."""
        if self.problems:
            ordered = sorted(self.problems, key=lambda p: p.line if p.line is not None else 0)
            raise self.error(self.path, ordered)

    def check_format(self, current: int) -> None:
        """Check the line ``format = "layersim scheme 1"``; `current` is the version that this program reads.

        Raises the document's error at once, if the file is of another version or kind: its keys mean other
        things.
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
