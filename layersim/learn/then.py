"""The scheme as it stood when an entry of its log was made.

An entry holds the scheme's text and the sprayer's film factor of its time (:mod:`layersim.log`), so that a
scheme edited since does not change what was planned then. Paints are those on the shelf now: a paint that was
measured better since predicts better, whatever was sprayed when.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from layersim.documents.syntax import too_deep
from layersim.errors import LayersimError
from layersim.estimate import Estimate
from layersim.learn.factor import with_factor, without_sprayer
from layersim.log import Entry, Log
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme
from layersim.shelf import Shelf

NO_COPY: Final = (
    "some entries keep no copy of the scheme as it was when they were made; they are taken by the scheme as "
    "it is now"
)


@dataclass(frozen=True, eq=False)
class Then:
    """The scheme of one entry's time.

    Parameters
    ----------
    scheme : Scheme
    notice : str
        Why it is the scheme as it is now, after all; empty where it is not.
    """

    scheme: Scheme
    notice: str = ""


def schemes_then(
    scheme: Scheme, log: Log, *, shelf: Shelf | None = None, folders: Sequence[Path] = ()
) -> tuple[Then, ...]:
    """Return the scheme of each entry's time.

    Parameters
    ----------
    scheme : Scheme
        As it is now.
    log : Log
    shelf : Shelf, optional
        Where paints are looked for; by default as for a scheme that is read.
    folders : sequence of Path
        Searched first, where no shelf is given.

    Returns
    -------
    tuple of Then
        One an entry; entries with one text and factor share one scheme.
    """
    read: dict[tuple[str, float | None], Then] = {}
    for entry in log.entries:
        kept = (entry.scheme, entry.film_factor)
        if kept not in read:
            read[kept] = _then(scheme, entry, shelf, folders)
    return tuple(read[entry.scheme, entry.film_factor] for entry in log.entries)


def _then(scheme: Scheme, entry: Entry, shelf: Shelf | None, folders: Sequence[Path]) -> Then:
    if not entry.scheme:
        return Then(scheme, NO_COPY)
    try:
        if scheme.path is None:
            raise LayersimError("the scheme now comes from no file")
        was = load_scheme(scheme.path, shelf, folders=folders, edit=_instead(entry.scheme))
    except LayersimError as fault:
        reason = " ".join(str(fault).split()).rstrip(".")
        return Then(
            scheme,
            f"the scheme as it was on {entry.at:%Y-%m-%d %H:%M} cannot be used ({reason}); that entry is "
            "taken by the scheme as it is now",
        )
    if entry.film_factor is not None:
        was = with_factor(without_sprayer(was), Estimate(entry.film_factor, 0.0, "as it was then"))
    return Then(was)


def _instead(text: str) -> Callable[[dict[str, Any]], None]:
    """Return an edit that puts another scheme's text in a scheme's place."""

    def edit(values: dict[str, Any]) -> None:
        try:
            if too_deep(text):
                raise ValueError
            was = tomllib.loads(text)
        except (ValueError, RecursionError):
            raise LayersimError("its copy in the log is damaged") from None
        # How many models there were, what they need and how long it takes does not change a colour, and
        # may name files that are gone. The sprayer's factor stands in the entry.
        for key in ("batch", "times"):
            was.pop(key, None)
        values.clear()
        values.update(was)

    return edit
