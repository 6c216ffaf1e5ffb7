"""The shelf: folders of paint files, the user's own searched before the starter paints."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from layersim import files
from layersim.errors import PaintFileError, UnknownNameError, first_of, nearest_hint, quoted
from layersim.names import LONGEST_NAME, slug
from layersim.paint import KINDS, Paint
from layersim.paintfile import read_paint
from layersim.resources import data_folder

FOLDER_VARIABLE: Final = "LAYERSIM_PAINTS"
"""Environment variable that names the user's own folder of paints."""
MOST_ALIKE: Final = 5
HUE_WORDS: Final = {
    **{hue: hue for hue in ("red", "orange", "yellow", "green", "turquoise", "blue", "violet", "pink")},
    **{hue: hue for hue in ("brown", "white", "grey", "black")},
    "gray": "grey",
    "purple": "violet",
}
"""Words in names of paints that say a hue."""
USE_WORDS: Final = {
    "glaze": ("wash", "ink"),
    "filter": ("wash", "ink"),
    "shade": ("wash",),
    "thinner": ("medium",),
    "metallic": ("metal",),
    **{kind: (kind,) for kind in KINDS},
}
"""Words in names that say a use, and the kinds of paint that serve for it (common practice, no source)."""
LIGHTNESS_WORDS: Final = ("dark", "mid", "light")
CLEAR: Final = ("medium", "varnish")
"""Kinds of paint without a colour of their own."""
NO_COLOURS: Final = ("varnish", "primer")
"""Kinds of paint that nobody mixes for a colour; they are searched where they are named."""


def own_folder() -> Path:
    """Return the user's own folder of paints; it need not exist."""
    return files.own_folder(FOLDER_VARIABLE, "~/layersim/paints")


def starter_folder() -> Path:
    """Return the folder of the starter paints."""
    return data_folder() / "paints"


@dataclass(frozen=True)
class Place:
    """One paint on the shelf, and the file that holds it."""

    paint: Paint
    path: Path
    starter: bool
    """Whether it is one of the starter paints."""


class Shelf:
    """Paints by name, found in folders searched in order; a folder that is not there counts as empty.

    Names are told apart by their letters and digits alone: "Navy Blue" and "navy-blue" are one.

    >>> Shelf.usual().find("titanium white").kind
    'paint'
    """

    def __init__(self, folders: Iterable[Path]) -> None:
        # A folder given twice, by two names, would double every paint in it.
        real: dict[Path, Path] = {}
        for folder in folders:
            real.setdefault(_real(folder), folder)
        self.folders = tuple(real.values())
        self._unread: list[str] = []
        self._doubles: dict[tuple[Path, Path], dict[Path, Path]] = {}
        self._scanned: dict[Path, dict[str, Place]] = {}
        self._broken: dict[tuple[Path, str], PaintFileError] = {}

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
        return list(dict.fromkeys(self._unread + doubles))

    @classmethod
    def usual(cls, *first: Path) -> Shelf:
        """Return the shelf of everyday use: `first`, the user's own folder, the starter paints."""
        own = own_folder()
        shelf = cls([*first, own, starter_folder()])
        if os.environ.get(FOLDER_VARIABLE, "").strip() and not own.is_dir():
            shelf._unread.append(f"{FOLDER_VARIABLE} names the folder {own}, which is not there")
        return shelf

    def find(self, name: str) -> Paint:
        """Return the paint of a name.

        Raises UnknownNameError, which names the nearest, if no folder has it, and PaintFileError if its file
        is there and can't be used.
        """
        return self.place(name).paint

    def place(self, name: str) -> Place:
        """Return the paint of a name with the file that holds it; raises as :meth:`find`."""
        wanted = slug(name)
        found: Place | None = None
        for folder in self.folders:
            # The starter files are named after their paints, so the one is read and the others left.
            place = self._starter(wanted) if _is_starter(folder) else self._scan(folder).get(wanted)
            if found is None and place is None and (folder, wanted) in self._broken:
                raise self._broken[folder, wanted]
            if found is None:
                found = place
            elif place is not None:
                self._unread.append(
                    f'two paints are named "{found.paint.name}": {found.path} is used, not {place.path}'
                )
        if found is None:
            raise UnknownNameError(f"no paint {quoted(name)} on the shelf. {self.nearest(name)}")
        return found

    def nearest(self, name: str, *, rather: str = "") -> str:
        """Return a sentence of help for a name that no paint bears.

        Paints of the kind `rather` are meant before all others, such as "primer" for a ground.
        """
        kind = [place.paint.name for place in self.places() if place.paint.kind == rather]
        hint = nearest_hint(name, kind, listed=False) or nearest_hint(name, self.names(), listed=False)
        hint = hint or nearest_hint(name, kind, kind=f"{rather}s") or self._alike(name)
        hint = hint or "See them all with: layersim paints."
        if self._broken:
            files = ", ".join(str(fault.path) for fault in list(self._broken.values())[:3])
            more = ", ..." if len(self._broken) > 3 else ""
            hint += f" Files of paints that cannot be used: {files}{more}."
        return hint

    def _alike(self, name: str) -> str:
        """Return a sentence that names paints of the hue and the use that a name has words for."""
        words = slug(name).split("-")
        hues = [hue for word, hue in HUE_WORDS.items() if word in words]
        uses = [word for word in USE_WORDS if word in words]
        kinds = [kind for use in uses for kind in USE_WORDS[use]]
        coloured = [kind for kind in KINDS if kind not in (*NO_COLOURS, *CLEAR)]

        def found(hues: list[str], kinds: list[str]) -> list[Place]:
            of_kind = [one for one in self.places() if one.paint.kind in kinds]
            return [one for one in of_kind if not hues or any(_has(one, hue) for hue in hues)]

        # Where no paint has both the hue and the use, one of them is better than none: first the hue.
        for asked, alike in (
            ([*hues, *uses], found(hues, kinds or coloured)),
            (hues, found(hues, coloured)),
            (uses, found([], kinds)),
        ):
            if asked and alike:
                said = " ".join(dict.fromkeys(asked))
                named = first_of([f"{one.paint.name} ({one.paint.kind})" for one in alike], MOST_ALIKE)
                return f"Nearest to {said}: {named}. See them with: layersim paints {said}."
        return ""

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

    def search(self, words: str) -> list[Place]:
        """Return the paints that have all of some words in their name, kind, hue or lightness, by name.

        A word for a use, such as "glaze", also finds the kinds of paint that serve for it.
        """
        return [place for place in self.places() if all(_has(place, word) for word in words.lower().split())]

    def _starter(self, wanted: str) -> Place | None:
        path = starter_folder() / f"{wanted}.toml"
        known = bool(wanted) and len(wanted) <= LONGEST_NAME and path.is_file()
        return Place(read_paint(path), path, starter=True) if known else None

    def _scan(self, folder: Path) -> dict[str, Place]:
        if folder in self._scanned:
            return self._scanned[folder]
        places: dict[str, Place] = {}
        broken: list[str] = []
        starter = _is_starter(folder)
        try:
            # Files whose names begin with a point are leftovers of editors and systems.
            files = sorted(p for p in folder.iterdir() if p.suffix == ".toml" and p.name[0] != ".")
        except (FileNotFoundError, NotADirectoryError):
            files = []
        except OSError as fault:
            files = []
            self._unread.append(f"{folder}: this folder of paints cannot be read ({fault.strerror})")
        for path in files:
            try:
                place = Place(read_paint(path), path, starter=starter)
            except PaintFileError as fault:
                # One bad file must not spoil the shelf; it matters when that paint is asked for.
                # A scheme or a list of swatches may well lie beside the paints.
                if not fault.other_kind:
                    self._broken[folder, slug(path.stem)] = fault
                    broken.append(f"left out: {str(fault).rstrip('.')}")
                continue
            key = slug(place.paint.name)
            if key in places:
                self._doubled(places[key], place)
            else:
                places[key] = place
        self._unread += broken[:MOST_ALIKE]
        if len(broken) > MOST_ALIKE:
            self._unread.append(f"{len(broken) - MOST_ALIKE} more files in {folder} cannot be used")
        self._scanned[folder] = places
        return places

    def _doubled(self, used: Place, other: Place) -> None:
        self._doubles.setdefault((used.path.parent, other.path.parent), {})[used.path] = other.path


def _has(place: Place, word: str) -> bool:
    # It takes light and colour, which a shelf else does without.
    from layersim.swatchcard import hue_of, lightness_of

    paint = place.paint
    if word in f"{paint.name} {paint.kind}".lower() or paint.kind in USE_WORDS.get(word, ()):
        return True
    if paint.kind in CLEAR:  # an endless film of it has a colour, which nobody sees
        return False
    if word in LIGHTNESS_WORDS:
        return word == lightness_of(paint)
    return HUE_WORDS.get(word, word) in hue_of(paint)


def _is_starter(folder: Path) -> bool:
    return _real(folder) == _real(starter_folder())


def _real(folder: Path) -> Path:
    try:
        return folder.resolve()
    except (OSError, RuntimeError):  # a link that leads back to itself
        return folder
