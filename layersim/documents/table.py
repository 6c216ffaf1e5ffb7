"""The values of one TOML table, each checked: a complaint says line, key, what was found and what expected.

A :class:`Table` remembers which keys were asked for, so that what is left over is known to be misspelt.
"""

from __future__ import annotations

import itertools
import math
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from layersim.errors import MOST_SHOWN, Fault, Problem, harmless, nearest_hint, quoted
from layersim.names import FINDABLE, LONGEST_NAME, slug

if TYPE_CHECKING:
    from layersim.documents.document import Document
    from layersim.documents.syntax import Address

LONGEST_TEXT: Final = 5000
"""Letters in a note."""
MOST_ROWS: Final = 500
"""Headings of one name, where nothing smaller is stated."""
LARGEST_SHARE: Final = 2.0
"""Numbers that may not go beyond this are shares, and may be written in per cent."""
_PER_CENT: Final = re.compile(r"\s*(-?\d{1,9}(?:[.,]\d{1,9})?)\s*%\s*")
NUMBER_WORDS: Final = (
    "half",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "once",
    "twice",
)
"""Numbers as people write them where a figure is wanted."""


class Table:
    """One table of a document, handing out checked values.

    `where` says in words which table it is ('area 1 "cloth"'), empty for the top; `address` holds the keys
    and indices from the top, for finding the line. Every getter raises Fault for a value that can't be.
    """

    def __init__(self, document: Document, values: dict[str, Any], *, where: str, address: Address) -> None:
        self.document, self.values, self.where, self.address = document, values, where, address
        self._asked: set[str] = set()
        self._written: dict[str, str] = {}

    def __contains__(self, key: str) -> bool:
        self._asked.add(key)
        return key in self.values

    def fault(self, key: str | None, found: str, expected: str, hint: str = "") -> Fault:
        """Return a fault about one key, or about the whole table where `key` is None."""
        key = key and self._written.get(key, key)
        place = ", ".join(part for part in (self.where, _spelt(key or "")) if part) or "the file"
        address = self.address if key is None else (*self.address, key)
        return Fault(Problem(place, found, expected, self.document.line_of(address), hint))

    def also_read(self, old: str, key: str) -> None:
        """Take a key's old name for it, with a notice; where a file says both, the old one is not known."""
        if old in self.values and key not in self.values:
            self.values = {key if name == old else name: value for name, value in self.values.items()}
            self._written[key] = old
            notice = f'"{old}" is now called "{key}"; the file is read as before'
            if notice not in self.document.notices:
                self.document.notices.append(notice)

    def text(self, key: str, default: str | None = None, *, most: int = LONGEST_TEXT) -> str:
        """Return a text of one line, blanks and line breaks in it made one blank each.

        Blank only where the default is.
        """
        return self._checked_text(key, default, "a text in quotes", most)

    def name(self, key: str, default: str | None = None, *, findable: bool = False) -> str:
        """Return a text that is short enough to be a name; a findable one has letters or digits."""
        name = self.text(key, default, most=LONGEST_NAME)
        if findable and not slug(name):
            raise self.fault(key, quoted(name), FINDABLE)
        return name

    def choice(
        self,
        key: str,
        options: Iterable[str],
        default: str | None = None,
        *,
        meant: Mapping[str, str] | None = None,
    ) -> str:
        """Return one of some words; `meant` says which one other words stand for, to be offered."""
        known = list(options)
        expected = "one of " + ", ".join(f'"{word}"' for word in known)
        value = self._checked_text(key, default, expected, LONGEST_TEXT)
        if value not in known:
            likely = (meant or {}).get(value.casefold())
            hint = f"Did you mean {quoted(likely)}?" if likely else nearest_hint(value, known, listed=False)
            raise self.fault(key, quoted(value), expected, hint)
        return value

    def choices(self, key: str, options: Sequence[str]) -> tuple[str, ...]:
        """Return some words, each once; a single word is a list of one."""
        expected = "some of " + ", ".join(f'"{word}"' for word in options) + ", in square brackets"
        listed = self._get(key, None, expected)
        words = [listed] if isinstance(listed, str) else listed
        if not isinstance(words, list):
            raise self.fault(key, shown(listed), expected)
        for word in words:
            if word not in options:
                hint = nearest_hint(word, options, listed=False) if isinstance(word, str) else ""
                raise self.fault(key, shown(word), expected, hint)
        return tuple(dict.fromkeys(words))

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
        expected = expected or range_words(low, high, above)
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
        each = range_words(low, high, None)
        return [
            self._checked_number(key, v, low, high, None, f"{each} at place {i} of the list")
            for i, v in enumerate(value, start=1)
        ]

    def rising_nm(self, key: str) -> list[float]:
        """Return a list of wavelengths, each longer than the one before."""
        nm = self.numbers(key, low=200.0, high=3000.0)
        if any(after <= before for before, after in itertools.pairwise(nm)):
            raise self.fault(key, "wavelengths out of order", "wavelengths that rise from first to last")
        return nm

    def table(self, key: str) -> Table | None:
        """Return a table, or None where there is none."""
        if key not in self:
            return None
        value = self.values[key]
        if not isinstance(value, dict):
            raise self.fault(key, shown(value), "a table, such as { ... } or a heading in [square brackets]")
        where = ", ".join(part for part in (self.where, _spelt(key)) if part)
        address = (*self.address, self._written.get(key, key))
        return Table(self.document, value, where=where, address=address)

    def tables(self, key: str, *, most: int = MOST_ROWS) -> list[Table]:
        """Return the tables under a ``[[heading]]``, an empty list where there is none."""
        if key not in self:
            return []
        value = self.values[key]
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            heading = ".".join([*(str(part) for part in self.address if isinstance(part, str)), key])
            raise self.fault(key, shown(value), f"headings in double brackets, [[{heading}]]")
        if len(value) > most:
            raise self.fault(key, f"{len(value)} {_several(key)}", f"at most {most}")
        rows = []
        for i, entry in enumerate(value):
            name = entry.get("name")
            label = f"{key} {i + 1} {quoted(name)}" if isinstance(name, str) else f"{key} {i + 1}"
            where = ", ".join(part for part in (self.where, label) if part)
            rows.append(Table(self.document, entry, where=where, address=(*self.address, key, i)))
        return rows

    def no_other_keys(self) -> None:
        """Note every key that nobody asked for, as a problem of the document."""
        listed = False
        for key in [key for key in self.values if key not in self._asked][: MOST_SHOWN + 1]:
            # A key that stands under another heading was written where that heading is missing.
            near = nearest_hint(key, self._asked, listed=False)
            if not near and (elsewhere := self.document.headings_of(key)):
                near = f"It belongs under {elsewhere}: is that heading missing above it?"
            elif not near and not listed:
                near, listed = nearest_hint(key, self._asked, kind="keys"), True
            fault = self.fault(key, f"the key {quoted(key)}", "a key known here", near)
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
        if isinstance(value, str) and high <= LARGEST_SHARE and (share := _PER_CENT.fullmatch(value)):
            value = float(share[1].replace(",", ".")) / 100.0
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.fault(key, shown(value), expected, _number_hint(value))
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise self.fault(key, shown(value), f"{expected} (a finite one)")
        if not low <= number <= high or (above is not None and not number > above):
            hint = f"{number:g} % is {number / 100.0:g} here." if high == 1.0 < number <= 100.0 else ""
            raise self.fault(key, shown(value), expected, hint)
        return number


def _number_hint(value: object) -> str:
    text = value[:40].strip() if isinstance(value, str) else ""
    if re.fullmatch(r"-?[\d.,]+", text):
        return "Write numbers without quotes, and decimals with a point."
    if re.fullmatch(r"[\d.]+\s*:\s*[\d.]+", text):
        return "Write the drops to one drop alone, without quotes: 1 for 1:1, 3 for 3:1."
    if text.lower() in NUMBER_WORDS:
        return "Write numbers in figures, without quotes: 2, not two."
    return ""


def _several(key: str) -> str:
    return f"{key}es" if key.endswith(("ch", "s")) else f"{key}s"


def _spelt(key: str) -> str:
    """Return a key fit for a message: a key may be as long as a file, and hold anything."""
    return harmless(key, most=LONGEST_NAME).replace("\n", "\\n")


def range_words(low: float, high: float, above: float | None) -> str:
    """Return the range of a number in words."""
    if above is not None:
        return f"a number above {above:g}" + (f", at most {high:g}" if math.isfinite(high) else "")
    if math.isfinite(low) and math.isfinite(high):
        return f"a number from {low:g} to {high:g}"
    if math.isfinite(low):
        return f"a number of {low:g} or more"
    return "a number"


def shown(value: Any) -> str:
    """Return a value of a file in words fit for a message, whatever it is and however long.

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
