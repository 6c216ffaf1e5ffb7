"""What may be a name, and when two names are one."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Final, Protocol, TypeVar

from layersim.errors import UnknownNameError, nearest_hint, quoted

LONGEST_NAME: Final = 100
"""Letters in a name; a longer one would not fit on a strip."""
FINDABLE: Final = "a name with letters or digits, by which it can be found"


def slug(name: str) -> str:
    """Return what tells a name from others: its letters and digits, in small letters. Files are named by it.

    >>> slug("Titanium White (opaque)")
    'titanium-white-opaque'
    """
    # An accent may be part of its letter or follow it: one name either way.
    kept = "".join(c if c.isalnum() else "-" for c in unicodedata.normalize("NFKC", name).casefold())
    return "-".join(part for part in kept.split("-") if part)


def name_fault(name: str) -> str:
    """Return what keeps a text from being a name by which something is found; empty where nothing does.

    >>> name_fault("navy blue"), name_fault("!!!")
    ('', 'must be a name with letters or digits, by which it can be found')
    """
    if len(name) > LONGEST_NAME:
        return f"must have {LONGEST_NAME} letters at most"
    return "" if slug(name) else f"must be {FINDABLE}"


class Named(Protocol):
    """Anything with a name."""

    @property
    def name(self) -> str:
        """By which it is found."""


N = TypeVar("N", bound=Named)


def named(things: Iterable[N], name: str, *, kind: str) -> N:
    """Return the one of a name, told apart by letters and digits alone.

    `kind` says what they are, for the complaint. Raises UnknownNameError if there is none.
    """
    known = {slug(one.name): one for one in things}
    if slug(name) not in known:
        hint = nearest_hint(name, [one.name for one in known.values()], kind=kind)
        raise UnknownNameError(f"no {quoted(name)} among the {kind}. {hint}".rstrip())
    return known[slug(name)]
