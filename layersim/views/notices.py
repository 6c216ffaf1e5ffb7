"""What a painter should know, as sentences. It imports nothing, so that a command may say it at once."""

from __future__ import annotations

from collections.abc import Sequence


def sentences(notices: Sequence[str], *, first: str = "Note: ") -> list[str]:
    """Return notices as sentences; `first` stands before each.

    >>> sentences(["the picture names no colour profile"])
    ['Note: the picture names no colour profile.']
    """
    told = [f"{first}{one}" if first else one[:1].upper() + one[1:] for one in notices]
    return [one if one.endswith(("?", ".")) else f"{one}." for one in told]
