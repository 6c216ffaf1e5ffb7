"""The ``[photograph]`` of a swatches file: which picture, which card, which patch is which swatch.

Most of it may be left out. The card's layout says already what each of its places is for, and
``[[swatch]]`` and ``[[ground]]`` are only written where something else was sprayed. A ``[[ground]]``
changes that one ground; ``[[swatch]]``, where there is one, stands for all swatches.
"""

from __future__ import annotations

import difflib
import functools
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from layersim.documents.document import Document
from layersim.documents.keys import Key, read_keys, rows, section
from layersim.documents.kinds import special, text, word
from layersim.documents.table import Table, shown
from layersim.documents.writing import toml
from layersim.errors import SwatchFileError, first_of, nearest_hint, quoted
from layersim.files import inside_folder
from layersim.measure.card import CardLayout, standard_card
from layersim.measure.cardfile import read_card
from layersim.measure.cardreading import REFERENCES
from layersim.measure.photograph import ENCODINGS, RAW_SUFFIXES
from layersim.measure.photoswatch import (
    CardGround,
    CardSwatch,
    Corners,
    OtherLight,
    PhotographedSet,
    from_layout,
)
from layersim.measure.swatchkeys import (
    GROUND_KEYS,
    MADE_KEYS,
    MOST_GROUNDS,
    MOST_SWATCHES,
    OF_PAINT_KEYS,
    THINNING,
    each,
    file_beside,
    made,
    name_line,
    refuse_metal_of_others,
    starter,
)
from layersim.paint import METAL

PICTURE_SUFFIXES: Final = RAW_SUFFIXES | {".jpg", ".jpeg", ".png", ".tif", ".tiff"}
"""Names that pictures of a card end in."""
MOST_LISTED: Final = 6
_HEAD_BYTES: Final = 4096
PLACEHOLDER: Final = "my paint"
"""Name in a swatches file to start from, where nothing tells the paint's."""
STARTER_PICTURE: Final = "card.jpg"
"""What a file to start from calls the photograph."""


def _corners(table: Table, key: str) -> Corners:
    given = table.values[key]
    pairs = given if isinstance(given, list) else []
    good = len(pairs) == 4 and all(
        isinstance(pair, list)
        and len(pair) == 2
        and all(isinstance(v, int | float) and not isinstance(v, bool) and abs(v) < 1e6 for v in pair)
        for pair in pairs
    )
    if not good:
        raise table.fault(
            key,
            f"{len(pairs)} entries" if isinstance(given, list) else shown(given),
            "four corners in pixels, [[x, y], [x, y], [x, y], [x, y]], clockwise from the upper left",
        )
    return tuple((float(x), float(y)) for x, y in pairs)


def _texts(row: Table, key: str) -> list[str]:
    given = row.values[key]
    if not isinstance(given, list) or not given or not all(isinstance(v, str) for v in given):
        raise row.fault(key, shown(given), 'names of places in square brackets, such as ["black bare 1"]')
    return [" ".join(v.split()) for v in given]


def _tilted(row: Table, key: str) -> tuple[Path, ...]:
    found = []
    for named in _texts(row, key):
        target = inside_folder(named, row.document.path.parent)
        if target is None:
            raise row.fault(key, quoted(named), "files in the same folder as this one, or below it")
        found.append(target)
    return tuple(found)


def _lamp(row: Table, key: str) -> tuple[float, ...]:
    where = tuple(row.numbers(key, low=-5000.0, high=5000.0))
    if len(where) != 3:
        raise row.fault(key, f"{len(where)} numbers", "three: [right, down, ahead], mm from the lens")
    return where


_CORNERS: Final = special(_corners, "four corners [x, y] in pixels, clockwise from the upper left")
_ONE_LIGHT: Final = {
    "file": Key(file_beside("a file: JPEG, PNG, TIFF or camera raw"), "the photograph"),
    "corners_px": Key(_CORNERS, "of the card, if it is not found by itself", None),
    "chart_corners_px": Key(_CORNERS, "of the chart, if it is not found by itself", None),
}
PHOTOGRAPH_KEYS: Final = {
    **_ONE_LIGHT,
    "card": Key(file_beside("a file"), "the card's layout; the card as testcard prints it without", None),
    "tilted": Key(
        special(_tilted, "files in square brackets"),
        "of a metal: the card beside its chart once more, the board tilted otherwise to the camera",
        None,
    ),
    "lamp_mm": Key(
        special(_lamp, "[right, down, ahead], mm"), "of a metal: where the lamp is, from the lens", None
    ),
    "thinning": THINNING,
    "reference": Key(word(tuple(REFERENCES)), "by what colours are calibrated", "best"),
    "encoding": Key(word(tuple(ENCODINGS)), "as the file says, or light itself", "profile"),
    "other_lamp": Key(
        section(_ONE_LIGHT), "the same card once more, under another kind of lamp", None, was="other_light"
    ),
}
CARD_GROUND_KEYS: Final = {
    **GROUND_KEYS,
    "patches": Key(
        special(_texts, "names in square brackets"), "places of the card where it lies bare", None
    ),
}
CARD_SWATCH_KEYS: Final = {**MADE_KEYS, "patch": Key(text(), "its place on the card")}
PHOTOGRAPHED_KEYS: Final = {
    **OF_PAINT_KEYS,
    "photograph": Key(section(PHOTOGRAPH_KEYS), "the photograph, and what may be said of it"),
    "ground": Key(rows(CARD_GROUND_KEYS, most=MOST_GROUNDS), "a ground other than the card's own", []),
    "swatch": Key(
        rows(CARD_SWATCH_KEYS, most=MOST_SWATCHES), "all swatches, if other than the card's own", []
    ),
}


def is_picture(path: Path, *, there: bool = True) -> bool:
    """Return whether a file is named as pictures are, and is there."""
    return path.suffix.lower() in PICTURE_SUFFIXES and (not there or path.is_file())


def refuse_missing_photographs(card: PhotographedSet) -> None:
    """Raise SwatchFileError for the first photograph that is not there, with the pictures that are."""
    other = [] if card.other_light is None else ["[photograph.other_lamp]"]
    keys = ["[photograph]", *other, *["[photograph] tilted"] * len(card.tilted)]
    for key, path in zip(keys, card.photographs, strict=True):
        if path.exists():
            continue
        where = (
            "this folder"
            if card.source and path.parent == card.source.parent
            else f"the folder {path.parent}"
        )
        named = {other.name for other in card.photographs}
        raise SwatchFileError(
            card.source or path,
            f"{key} file: found {quoted(path.name)}, which is not there; expected a photograph in {where}. "
            + _pictures_hint(path, but=named),
        )


def _pictures_hint(missing: Path, *, but: Collection[str]) -> str:
    """Return which picture may be meant by one that is not there; those named already are not."""
    name = missing.name
    if not missing.parent.is_dir():
        return "That folder is not there either."
    there = [
        other.name
        for other in missing.parent.glob("*")
        if is_picture(other) and other.name not in but and not _drawn_here(other)
    ]
    if hint := nearest_hint(name, there, listed=False):
        return hint
    there.sort(key=lambda other: (-difflib.SequenceMatcher(None, name.lower(), other.lower()).ratio(), other))
    return f"Pictures there: {first_of(there, MOST_LISTED)}." if there else "No other picture is there."


def _drawn_here(picture: Path) -> bool:
    """Return whether a picture is one that this program drew of the paint or scheme beside it."""
    if picture.suffix.lower() != ".png":
        return False
    scheme = picture.with_name(f"{picture.stem.rpartition('-')[0]}.toml")
    return _begins(picture.with_suffix(".toml"), "paint") or _begins(scheme, "scheme")


def _begins(path: Path, what: str) -> bool:
    """Return whether a file is there and says of itself that it is such a file of this program."""
    try:
        with path.open("rb") as file:
            return f'format = "layersim {what} '.encode() in file.read(_HEAD_BYTES)
    except OSError:
        return False


def photographed_set(document: Document) -> PhotographedSet | None:
    """Return the swatches on a photographed card that a document describes; None where something is wrong.

    Its faults are gathered there. Raises CardFileError if the layout of the card can't be used.
    """
    top = document.top
    with document.gather():
        _refuse_readings(top)
        refuse_metal_of_others(top)
    keys = read_keys(top, PHOTOGRAPHED_KEYS)
    table, ground_rows, swatch_rows = (keys.pop(key) for key in ("photograph", "ground", "swatch"))
    if table is None:
        return None
    photo = read_keys(table, PHOTOGRAPH_KEYS)
    card, thinning, other = (photo.pop(key) for key in ("card", "thinning", "other_lamp"))
    said = "thinning" in table
    layout = standard_card() if card is None else read_card(card)
    grounds, swatches = from_layout(layout, thinning=thinning, thinning_said=said)
    if ground_rows:
        written = each(ground_rows, CARD_GROUND_KEYS, functools.partial(_ground, layout=layout))
        grounds = _with_others(written, grounds)
    if swatch_rows:
        own = functools.partial(
            _swatch, layout=layout, own_name=keys["paint"], grounds=[ground.name for ground in grounds]
        )
        swatches = each(swatch_rows, CARD_SWATCH_KEYS, own)
        swatches = tuple(
            s if s.thinning_said else replace(s, thinning=thinning, thinning_said=said) for s in swatches
        )
    else:
        with document.gather():
            _refuse_lost_grounds(top, layout, grounds, swatches)
    other_light, tilted, lamp_mm = None, photo.pop("tilted"), photo.pop("lamp_mm")
    with document.gather():
        for key in ("tilted", "lamp_mm"):
            if key in table and keys["kind"] != METAL:
                raise table.fault(key, "it", 'it only where kind = "metal"')
    with document.gather():
        other_light = _other_light(table, other)
        if not document.problems:
            _refuse_shared_places(top, grounds, swatches)
    if document.problems:
        return None
    return PhotographedSet(
        **keys,
        photograph=photo.pop("file"),
        **photo,
        layout=layout,
        grounds=grounds,
        swatches=swatches,
        other_light=other_light,
        tilted=tilted or (),
        lamp_mm=lamp_mm or (0.0, 0.0, 0.0),
        source=document.path,
    )


def _with_others(
    written: tuple[CardGround, ...], of_layout: tuple[CardGround, ...]
) -> tuple[CardGround, ...]:
    """Return the grounds of the layout, those that are written instead, and those it does not have.

    A ground that is not written keeps the places that no written one takes.
    """
    own = {ground.name: ground for ground in written}
    taken = {place for ground in written for place in ground.patches}
    kept = []
    for ground in of_layout:
        left = tuple(place for place in ground.patches if place not in taken)
        if ground.name in own:
            kept.append(own.pop(ground.name))
        elif left:
            kept.append(replace(ground, patches=left))
    return (*kept, *own.values())


def _refuse_lost_grounds(
    top: Table, layout: CardLayout, grounds: tuple[CardGround, ...], swatches: tuple[CardSwatch, ...]
) -> None:
    """Raise where the layout's own swatches have no ground, or where there are none."""
    if not swatches:
        raise top.fault(
            "swatch", "none, and the card has no place for one", "at least one heading [[swatch]]"
        )
    names = {ground.name for ground in grounds}
    lost = next((s.ground for s in swatches if s.ground is not None and s.ground not in names), None)
    if lost is None:
        return
    bare = {patch.name for patch in layout.patches if patch.ground == lost and patch.coats == 0.0}
    other = next((ground.name for ground in grounds if bare & set(ground.patches)), None)
    raise top.fault(
        "ground",
        f"no place where {quoted(lost)} lies bare",
        f'a heading [[ground]] with name = {quoted(lost)} and patches = [...], or paint = "..." (a primer on '
        "the shelf)",
        f"Its places went to {quoted(other)}; was {quoted(lost)} meant there?" if other else "",
    )


def _other_light(table: Table, other: Table | None) -> OtherLight | None:
    if other is None:
        return None
    values = read_keys(other, _ONE_LIGHT)
    if other.values.get("file") == table.values.get("file"):
        raise other.fault("file", "the same picture again", "a second one, taken under another kind of lamp")
    return OtherLight(photograph=values.pop("file"), **values)


def _refuse_readings(top: Table) -> None:
    hints = {
        "readings": "Swatches are either measured or photographed.",
        "specular": "A photograph without glare leaves the mirror reflection out, "
        "so specular need not be said.",
    }
    for key, hint in hints.items():
        if key in top:
            raise top.fault(key, "it beside [photograph]", "one of them", hint)


def _place(row: Table, name: str, key: str, layout: CardLayout) -> str:
    places = [patch.name for patch in layout.patches]
    if name not in places:
        raise row.fault(key, quoted(name), "a place on the card", nearest_hint(name, places, kind="places"))
    return name


def _ground(row: Table, values: dict[str, Any], *, layout: CardLayout) -> CardGround:
    name, paint = values["name"], values["paint"]
    bare = [patch.name for patch in layout.patches if patch.ground == name and patch.coats == 0.0]
    if values["patches"] is not None:
        bare = [_place(row, place, "patches", layout) for place in values["patches"]]
    if not bare and paint is None:
        raise row.fault(
            "patches",
            "nothing",
            'places where it lies bare, or paint = "..." (a primer on the shelf)',
            nearest_hint(name, {patch.ground for patch in layout.patches}, kind="grounds"),
        )
    return CardGround(name=name, patches=tuple(bare), paint=paint, sheen=values["sheen"])


def _swatch(
    row: Table, values: dict[str, Any], *, layout: CardLayout, own_name: str, grounds: Collection[str]
) -> CardSwatch:
    how = made(row, values, own_name=own_name, grounds=grounds)
    return CardSwatch(**how, patch=_place(row, values["patch"], "patch", layout))


def _refuse_shared_places(
    top: Table, grounds: tuple[CardGround, ...], swatches: tuple[CardSwatch, ...]
) -> None:
    used = [(name, f'ground "{ground.name}"') for ground in grounds for name in ground.patches]
    used += [(swatch.patch, f'swatch "{swatch.name}"') for swatch in swatches]
    seen: dict[str, str] = {}
    for place, by in used:
        if place in seen:
            raise top.fault(None, f'the place "{place}" for both {seen[place]} and {by}', "each place once")
        seen[place] = by


def photograph_starter_text(*, card: str | None = None, paint: str = "") -> str:
    """Return a swatches file for a photographed card to start from, every key explained.

    `card` names the layout file; the standard card's layout needs none.

    >>> print(photograph_starter_text().splitlines()[0])
    # Swatches of one paint on a photographed test card.
    """
    lines = {"name = ": name_line(paint or PLACEHOLDER)}
    if card:
        key = f"card = {toml(card)}"
        lines["# card = "] = f"{key:<25} # the card's layout; it says which place is which swatch"
    return starter("photograph.toml", lines)
