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

Anything outside this tree is a fault of the program, not of its user.
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
MOST_SHOWN: Final = 20
"""More problems than this in one file are counted, not listed: nobody reads on."""


class LayersimError(Exception):
    """Base of everything that a user can put right."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in a file: where it is, what was found, what was expected.

    Parameters
    ----------
    where : str
        The key or row in words a reader can find, such as ``area 1 "cloth", coat 2, parts``.
    found : str
        What stands there.
    expected : str
        What should stand there.
    line : int or None
        Line in the file, counted from 1, where it is known.
    hint : str
        A last sentence of help, such as the nearest valid name; may be empty.
    """

    where: str
    found: str
    expected: str
    line: int | None = None
    hint: str = ""

    def __str__(self) -> str:
        place = f"line {self.line}, {self.where}" if self.line is not None else self.where
        text = f"{place}: found {self.found}; expected {self.expected}."
        return f"{text} {self.hint}" if self.hint else text


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
    """A sprayer that no folder has a profile of.

    Parameters
    ----------
    file : str
        That was looked for.
    found : str
        The name that was asked for, in quotes.
    expected : str
        What should be there, and how to make it.
    """

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


def quoted(text: str, *, most: int = 60) -> str:
    r"""Return a text in quotes, fit for a message: shortened, and harmless to a terminal.

    Parameters
    ----------
    text : str
    most : int
        A longer text is cut.

    Returns
    -------
    str

    Examples
    --------
    >>> quoted("navy blue"), quoted("\x1b[2J")
    ('"navy blue"', '"\\x1b[2J"')
    """
    cut = text if len(text) <= most else text[: most - 3] + "..."
    return '"' + "".join(c if c.isprintable() else ascii(c)[1:-1] for c in cut) + '"'


def nearest_hint(
    name: str, known: Iterable[str], *, kind: str = "", most: int = 20, listed: bool = True
) -> str:
    """Return a sentence that names the nearest known name, or lists the known ones.

    Parameters
    ----------
    name : str
        What was written.
    known : iterable of str
        The names that would have been right.
    kind : str
        What the names are, for the list ("lights"); may be empty.
    most : int
        A longer list than this is cut.
    listed : bool
        Whether to list the names where none is near.

    Returns
    -------
    str
        Such as ``Did you mean "carbon black"?``; empty where nothing is known.

    Examples
    --------
    >>> nearest_hint("carbn black", ["carbon black", "titanium white"])
    'Did you mean "carbon black"?'
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
    close = difflib.get_close_matches(name[:200].lower(), lowered, n=1, cutoff=0.6)
    if close:
        return f"Did you mean {quoted(lowered[close[0]])}?"
    akin = [entry for entry in names if _akin(entry, name[:200])][:MOST_AKIN]
    if akin:
        *others, last = map(quoted, akin)
        return f"Did you mean {', '.join(others)} or {last}?" if others else f"Did you mean {last}?"
    if not listed:
        return ""
    return f"The {kind or 'names'} here are: {first_of(names, most)}."


def first_of(names: Sequence[str], most: int) -> str:
    """Return the first of some names in a row, and how many more there are.

    Parameters
    ----------
    names : sequence of str
    most : int

    Returns
    -------
    str

    Examples
    --------
    >>> first_of(["D50", "D55", "D65"], 2)
    'D50, D55 and 1 more'
    """
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def _akin(one: str, two: str) -> bool:
    """Return whether a word of one begins a word of the other; a file's ending is none."""
    words, others = (re.findall(r"(?<![.\w])\w{3,}", name.lower()) for name in (one, two))
    return any(word.startswith(other) or other.startswith(word) for word in words for other in others)
