"""The shelf: folders of paint files, the user's own searched before the starter paints."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from layersim.errors import InputFileError, PaintFileError, UnknownNameError, nearest_hint
from layersim.paint import Paint
from layersim.paintfile import read_paint, slug
from layersim.resources import data_folder

FOLDER_VARIABLE: Final = "LAYERSIM_PAINTS"
"""Environment variable that names the user's own folder of paints."""


def own_folder() -> Path:
    """Return the user's own folder of paints; it need not exist.

    Returns
    -------
    Path
        What :data:`FOLDER_VARIABLE` says, else ``layersim/paints`` in the home folder.
    """
    named = os.environ.get(FOLDER_VARIABLE, "").strip()
    return Path(named).expanduser() if named else Path.home() / "layersim" / "paints"


def starter_folder() -> Path:
    """Return the folder of the starter paints.

    Returns
    -------
    Path
    """
    return data_folder() / "paints"


@dataclass(frozen=True)
class Place:
    """One paint on the shelf: which file holds it.

    Parameters
    ----------
    paint : Paint
    path : Path
    starter : bool
        Whether it is one of the starter paints.
    """

    paint: Paint
    path: Path
    starter: bool


class Shelf:
    """Paints by name, found in folders searched in order.

    Names are told apart by their letters and digits alone: "Navy Blue" and "navy-blue" are one.

    Parameters
    ----------
    folders : iterable of Path
        Searched in order; one that is not there counts as empty.

    Examples
    --------
    >>> Shelf.usual().find("titanium white").kind
    'paint'
    """

    def __init__(self, folders: Iterable[Path]) -> None:
        self.folders = tuple(folders)
        self._unread: list[str] = []
        self._doubles: dict[tuple[Path, Path], dict[Path, Path]] = {}
        self._scanned: dict[Path, dict[str, Place]] = {}
        self._broken: dict[str, InputFileError] = {}

    @property
    def notices(self) -> list[str]:
        """What a user should know so far: doubled names and which file wins, files left out."""
        doubles = []
        for (used, other), pairs in self._doubles.items():
            if len(pairs) == 1:
                [(winner, loser)] = pairs.items()
                doubles.append(f"one paint in two files: {winner} is used, not {loser}")
            else:
                names = ", ".join(path.stem for path in pairs)
                doubles.append(f"{len(pairs)} paints stand in {used} and {other}; the first is used: {names}")
        return self._unread + doubles

    @classmethod
    def usual(cls, *first: Path) -> Shelf:
        """Return the shelf of everyday use: `first`, the user's own folder, the starter paints.

        Parameters
        ----------
        *first : Path
            Folders to search before the others, such as the one beside a scheme.

        Returns
        -------
        Shelf
        """
        return cls([*first, own_folder(), starter_folder()])

    def find(self, name: str) -> Paint:
        """Return the paint of a name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Paint

        Raises
        ------
        UnknownNameError
            If no folder has it; names the nearest.
        PaintFileError
            If its file is there and cannot be used.
        """
        return self.place(name).paint

    def place(self, name: str) -> Place:
        """Return the paint of a name with the file that holds it; raises as :meth:`find`."""
        wanted = slug(name)
        found: Place | None = None
        for folder in self.folders:
            # The starter files are named after their paints, so the one is read and the others left.
            place = self._starter(wanted) if folder == starter_folder() else self._scan(folder).get(wanted)
            if place is None:
                if wanted in self._broken:
                    raise self._broken[wanted]
            elif found is None:
                found = place
            else:
                self._unread.append(
                    f'two paints are named "{found.paint.name}": {found.path} is used, not {place.path}'
                )
        if found is None:
            raise UnknownNameError(
                f'no paint "{name}" on the shelf. {nearest_hint(name, self.names(), kind="paints")}'
            )
        return found

    def names(self) -> list[str]:
        """Return the names of all paints that can be read, sorted."""
        return sorted(place.paint.name for place in self.places())

    def places(self) -> list[Place]:
        """Return every paint once, sorted by name; of two with one name, the one searched first."""
        first: dict[str, Place] = {}
        for folder in self.folders:
            for key, place in self._scan(folder).items():
                if key in first:
                    self._doubled(first[key], place)
                else:
                    first[key] = place
        return sorted(first.values(), key=lambda place: place.paint.name)

    def _starter(self, wanted: str) -> Place | None:
        path = starter_folder() / f"{wanted}.toml"
        return Place(read_paint(path), path, starter=True) if wanted and path.is_file() else None

    def _scan(self, folder: Path) -> dict[str, Place]:
        if folder in self._scanned:
            return self._scanned[folder]
        places: dict[str, Place] = {}
        try:
            paths = sorted(folder.glob("*.toml")) if folder.is_dir() else []
        except OSError:
            paths = []
            self._unread.append(f"{folder}: this folder of paints cannot be read")
        for path in paths:
            try:
                paint = read_paint(path)
            except PaintFileError as fault:
                # One bad file must not spoil the shelf; it matters when that paint is asked for.
                self._broken[slug(path.stem)] = fault
                self._unread.append(f"left out: {fault}")
                continue
            key = slug(paint.name)
            if key in places:
                self._doubled(places[key], Place(paint, path, starter=folder == starter_folder()))
            else:
                places[key] = Place(paint, path, starter=folder == starter_folder())
        self._scanned[folder] = places
        return places

    def _doubled(self, used: Place, other: Place) -> None:
        self._doubles.setdefault((used.path.parent, other.path.parent), {})[used.path] = other.path
