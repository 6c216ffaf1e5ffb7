"""What a user can put right: one tree of exceptions, each a sentence that says how.

::

    LayersimError
    ├── InputFileError          a file could not be read or does not say what it should
    │   ├── SchemeError         ... a scheme
    │   │   └── ChoicesFileError    ... choices to compare on it
    │   ├── PaintFileError      ... a paint
    │   ├── SpectralFileError   ... measured spectra
    │   ├── SwatchFileError     ... the swatches of a paint
    │   ├── FitError            ... swatches that cannot give a paint
    │   ├── CardFileError       ... the layout of a test card
    │   ├── PhotographError     ... a photograph of a test card
    │   ├── ArtworkError        ... a picture to match
    │   ├── SprayerFileError    ... a sprayer's profile
    │   │   └── MissingSprayerError
    │   ├── StockFileError      ... a list of the paints somebody owns
    │   ├── MeshFileError       ... a mesh of a model
    │   └── LogFileError        ... the log of what was sprayed
    ├── UnknownNameError        a paint, light, area or stage that is not there
    └── OutputError             a picture or table could not be written

Anything outside this tree is a fault of the program, not of its user. :class:`Fault` alone stands beside it:
it carries one problem to the reader that gathers them, and never leaves that.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

MOST_AKIN: Final = 3
"""Names offered at most where none is near but some have a word in common with what was written."""
LIKE: Final = 0.6
"""How like one word must be to another to be taken for a misspelling of it, of 1."""
MOST_SHOWN: Final = 20
"""More problems than this in one file are counted, not listed: nobody reads on."""
LONGEST_MESSAGE: Final = 6000
"""Letters in a message: twenty problems of a line or three. What is beyond is cut."""
LONGEST_PART: Final = 1000
"""Letters in one part of a problem (where, found, expected, hint)."""


class LayersimError(Exception):
    """Base of everything that a user can put right.

    Every message goes through here. File names, keys and texts of other people may steer the terminal that
    shows them, so they are made harmless here, once.
    """

    def __init__(self, text: str = "") -> None:
        super().__init__(harmless(text, most=LONGEST_MESSAGE))


@dataclass(frozen=True)
class Problem:
    """One thing wrong in a file."""

    where: str
    """The key or row in words a reader can find, such as ``area 1 "cloth", coat 2, parts``."""
    found: str
    """What stands there."""
    expected: str
    """What should stand there."""
    line: int | None = None
    """Line in the file, counted from 1, where it is known."""
    hint: str = ""
    """A last sentence of help, such as the nearest valid name."""

    def __str__(self) -> str:
        where, found, expected, hint = (
            harmless(part, most=LONGEST_PART) for part in (self.where, self.found, self.expected, self.hint)
        )
        place = f"line {self.line}, {where}" if self.line is not None else where
        return f"{place}: found {found}; expected {expected}.{f' {hint}' if hint else ''}"


class Fault(Exception):  # noqa: N818 - not an error of its own
    """Carries one problem to the nearest :meth:`layersim.documents.document.Document.gather`."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


class InputFileError(LayersimError):
    """A file could not be read, or one or more of its entries are not what they should be."""

    other_kind = False
    """Whether it is a sound file of this program, but of another kind than was asked for."""

    def __init__(self, path: str | Path, problems: Iterable[Problem] | str) -> None:
        self.path = Path(path)
        self.problems: tuple[Problem, ...] = () if isinstance(problems, str) else tuple(problems)
        if isinstance(problems, str):
            text = f"{path}: {problems}"
        elif len(self.problems) == 1:
            text = f"{path}: {self.problems[0]}"
        else:
            rows = [f"  - {problem}" for problem in self.problems[:MOST_SHOWN]]
            if len(self.problems) > MOST_SHOWN:
                rows.append(f"  ... and {len(self.problems) - MOST_SHOWN} more")
            text = f"{path}: {len(self.problems)} things to put right:\n" + "\n".join(rows)
        super().__init__(text)


class SchemeError(InputFileError):
    """A scheme file that cannot be used as it stands."""


class ChoicesFileError(SchemeError):
    """A file of choices that cannot be used as it stands."""


class PaintFileError(InputFileError):
    """A paint file that cannot be used as it stands."""


class SpectralFileError(InputFileError):
    """A file of measured spectra that cannot be used as it stands."""


class SwatchFileError(InputFileError):
    """A swatches file that cannot be used as it stands."""


class FitError(InputFileError):
    """Swatches that can be read but cannot give a paint: too few, opaque, or contradicting each other."""


class CardFileError(InputFileError):
    """The layout of a test card that cannot be used as it stands."""


class PhotographError(InputFileError):
    """A photograph that cannot be read, or in which the card cannot be found or trusted."""


class ArtworkError(InputFileError):
    """A picture that cannot be read, or that holds no colour."""


class SprayerFileError(InputFileError):
    """A sprayer's profile that cannot be used as it stands."""


class MissingSprayerError(SprayerFileError):
    """A sprayer that no folder has a profile of; `expected` says what should be there and how to make it."""

    def __init__(self, file: str, *, found: str, expected: str) -> None:
        self.expected = expected
        super().__init__(file, f"no sprayer {found}: expected {expected}")


class StockFileError(InputFileError):
    """A list of the paints that somebody owns, which cannot be used as it stands."""


class MeshFileError(InputFileError):
    """A mesh that cannot be read, or whose surface cannot be a model's."""


class LogFileError(InputFileError):
    """A log that cannot be opened, or whose newest line cannot be used."""


class UnknownNameError(LayersimError):
    """A name that nothing here bears."""


class OutputError(LayersimError):
    """A result could not be written where it was asked for."""


def harmless(text: str, *, most: int) -> str:
    r"""Return a text that can't steer a terminal, cut to some number of letters; line breaks stay.

    >>> harmless("a\x1b[2Jb", most=60), harmless("right\u202etfel", most=60), harmless("ab" * 9, most=9)
    ('a\\x1b[2Jb', 'right\\u202etfel', 'ababab...')
    """
    cut = text if len(text) <= most else text[: most - 3] + "..."
    return "".join(c if c.isprintable() or c == "\n" else ascii(c)[1:-1] for c in cut)


def quoted(text: str, *, most: int = 60) -> str:
    r"""Return a text in quotes and on one line, fit for a message.

    >>> quoted("navy blue"), quoted("\x1b[2J")
    ('"navy blue"', '"\\x1b[2J"')
    """
    return '"' + harmless(text, most=most).replace("\n", "\\n") + '"'


def nearest_hint(
    name: str, known: Iterable[str], *, kind: str = "", most: int = 20, listed: bool = True
) -> str:
    """Return a sentence that names the nearest known name; where none is near, one that lists the known ones.

    A name is offered as what was meant only if it is another spelling of what was written, or has all of its
    words. `kind` says what the names are, for the list ("lights"). Empty where nothing is known, or where
    nothing is near and `listed` is False.

    >>> nearest_hint("carbn black", ["carbon black", "titanium white"])
    'Did you mean "carbon black"?'
    >>> nearest_hint("primer black", ["black primer", "grey primer"])
    'Did you mean "black primer"?'
    >>> nearest_hint("red glaze", ["violet glaze"], listed=False)
    ''
    >>> nearest_hint("zzz", ["D50", "D65"], kind="lights")
    'The lights here are: D50, D65.'
    >>> nearest_hint("zzz", ["D50", "D55", "D65"], kind="lights", most=2)
    'The lights here are: D50, D55 and 1 more.'
    >>> nearest_hint("white", ["carbon black", "airbrush white", "titanium white"])
    'Did you mean "airbrush white" or "titanium white"?'
    """
    names = sorted(set(known))
    if not names:
        return ""
    lowered = {entry.lower(): entry for entry in names}
    # No name is as long as this; a longer one would only take long to compare.
    wanted = name[:200].lower()
    close = difflib.get_close_matches(wanted, lowered, n=len(lowered), cutoff=0.6)
    meant = [lowered[one] for one in close if _spelt_alike(wanted, one)][:1]
    meant = meant or [entry for entry in names if _has_words(entry, wanted)][:MOST_AKIN]
    if meant:
        *others, last = map(quoted, meant)
        return f"Did you mean {', '.join(others)} or {last}?" if others else f"Did you mean {last}?"
    if not listed:
        return ""
    return f"The {kind or 'names'} here are: {first_of(names, most)}."


def first_of(names: Sequence[str], most: int) -> str:
    """Return the first of some names in a row, and how many more there are.

    >>> first_of(["D50", "D55", "D65"], 2)
    'D50, D55 and 1 more'
    """
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def _words(name: str) -> list[str]:
    """Return the words of a name; a file's ending is none."""
    return re.findall(r"(?<![.\w])\w{2,}", name)


def _spelt_alike(one: str, two: str) -> bool:
    """Return whether each word of one is the other's at the same place, or nearly so."""
    pairs = list(zip(_words(one), _words(two), strict=False))
    return all(difflib.SequenceMatcher(None, *pair).ratio() >= LIKE for pair in pairs)


def _has_words(name: str, wanted: str) -> bool:
    """Return whether all words of what was wanted are words of a name, or begin one, or are begun by one."""

    def alike(word: str, own: str) -> bool:
        short, long = sorted((word, own), key=len)
        return len(short) > 2 and long.startswith(short)

    words = _words(wanted)
    return bool(words) and all(any(alike(word, own) for own in _words(name.lower())) for word in words)
