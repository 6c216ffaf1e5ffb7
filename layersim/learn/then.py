"""The scheme as it stood when an entry of its log was made.

An entry holds the scheme's text and the sprayer's film factor of its time (:mod:`layersim.log`), so that a
scheme edited since does not change what was planned then. Paints are those on the shelf now: a paint that was
measured better since predicts better, whatever was sprayed when.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from layersim.errors import LayersimError
from layersim.log import Entry, Log
from layersim.scheme.ownfilms import UNMEASURED, with_factor
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme
from layersim.shelf import Shelf


@dataclass(frozen=True)
class NoCopy:
    """Why an entry is taken by the scheme as it is now, after all."""

    at: datetime | None = None
    """Of an entry whose copy of the scheme cannot be used; None for entries that keep no copy."""
    reason: str = ""
    """What is wrong with the copy."""


def no_copy_words(one: NoCopy) -> str:
    """Return why an entry is taken by the scheme as it is now; a swatches file says it, and the terminal."""
    if one.at is None:
        return (
            "some entries keep no copy of the scheme as it was when they were made; they are taken by the "
            "scheme as it is now"
        )
    return (
        f"the scheme as it was on {one.at:%Y-%m-%d %H:%M} cannot be used ({one.reason}); that entry is "
        "taken by the scheme as it is now"
    )


@dataclass(frozen=True, eq=False)
class Then:
    """The scheme of one entry's time."""

    scheme: Scheme
    no_copy: NoCopy | None = None
    """Where it is the scheme as it is now."""


def schemes_then(
    scheme: Scheme, log: Log, *, shelf: Shelf | None = None, folders: Sequence[Path] = ()
) -> tuple[Then, ...]:
    """Return the scheme of each entry's time; entries with one text and factor share one.

    Paints are looked for on `shelf`, by default as for a scheme that is read, in `folders` first.
    """
    read: dict[tuple[str, float | None], Then] = {}
    for entry in log.entries:
        kept = (entry.scheme, entry.film_factor)
        if kept not in read:
            read[kept] = _then(scheme, entry, shelf, folders)
    return tuple(read[entry.scheme, entry.film_factor] for entry in log.entries)


def _then(scheme: Scheme, entry: Entry, shelf: Shelf | None, folders: Sequence[Path]) -> Then:
    if not entry.scheme:
        return Then(scheme, NoCopy())
    try:
        if scheme.path is None:
            raise LayersimError("the scheme now comes from no file")
        was = load_scheme(scheme.path, shelf, folders=folders, text=entry.scheme, edit=_colours_alone)
    except LayersimError as fault:
        return Then(scheme, NoCopy(entry.at, " ".join(str(fault).split()).rstrip(".")))
    if entry.film_factor is not None:
        # How sure it was then is not known.
        was = with_factor(was, dataclasses.replace(UNMEASURED, value=entry.film_factor))
    return Then(was)


def _colours_alone(values: dict[str, Any]) -> None:
    """Leave out what changes no colour, and may name files that are gone; the factor stands in the entry."""
    for key in ("batch", "times"):
        values.pop(key, None)
