"""The ``[photograph]`` of a swatches file: which picture, which card, which patch is which swatch.

Most of it may be left out. The card's layout says already what each of its places is for, and
``[[swatch]]`` and ``[[ground]]`` are only written where something else was sprayed.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from layersim.errors import nearest_hint
from layersim.files import inside_folder
from layersim.measure.card import CardLayout, read_card, standard_card
from layersim.measure.cardreading import REFERENCES
from layersim.measure.photograph import ENCODINGS
from layersim.measure.photoswatch import CardGround, CardSwatch, Corners, PhotographedSet, from_layout
from layersim.measure.swatchfile import read_paint_keys, read_sprayed, refuse_doubles
from layersim.paintfile import read_sheen
from layersim.tables import Document, Table, shown


def photographed_set(document: Document) -> PhotographedSet | None:
    """Return the swatches on a photographed card that a document describes.

    Parameters
    ----------
    document : Document
        Its faults are gathered there.

    Returns
    -------
    PhotographedSet or None
        None where something is wrong.

    Raises
    ------
    CardFileError
        If the layout of the card cannot be used.
    """
    top = document.top
    keys: dict[str, Any] = {}
    with document.gather():
        keys = read_paint_keys(top)
    with document.gather():
        _refuse_readings(top)
    thinning = 0.0
    layout = standard_card()
    table = top.table("photograph")
    if table is None:
        return None
    with document.gather():
        keys["photograph"] = _file(table, "file")
    with document.gather():
        if "card" in table:
            layout = read_card(_file(table, "card"))
    with document.gather():
        thinning = table.number("thinning", 0.0, low=0.0, high=100.0)
        keys["reference"] = table.choice("reference", REFERENCES, "best")
        keys["encoding"] = table.choice("encoding", ENCODINGS, "profile")
        for key in ("corners_px", "chart_corners_px"):
            keys[key] = _corners(table, key)
        table.no_other_keys()
    grounds, swatches = from_layout(layout, thinning=thinning)
    if top.tables("ground"):
        grounds = _each(document, "ground", lambda row: _ground(row, layout))
    if top.tables("swatch"):
        names = [ground.name for ground in grounds]
        swatches = _each(
            document, "swatch", lambda row: _swatch(row, layout, keys.get("paint", ""), names, thinning)
        )
    with document.gather():
        top.no_other_keys()
        if not document.problems:
            _refuse_shared_places(top, grounds, swatches)
    if document.problems:
        return None
    return PhotographedSet(**keys, layout=layout, grounds=grounds, swatches=swatches, source=document.path)


def _each(document: Document, key: str, read: Any) -> tuple[Any, ...]:
    found = []
    for row in document.top.tables(key):
        with document.gather():
            found.append(read(row))
    with document.gather():
        refuse_doubles(document.top.tables(key))
    return tuple(found)


def _file(table: Table, key: str) -> Any:
    name = table.text(key)
    target = inside_folder(name, table.document.path.parent)
    if target is None:
        raise table.fault(key, f'"{name}"', "a file in the same folder as this one, or below it")
    return target


def _corners(table: Table, key: str) -> Corners | None:
    if key not in table:
        return None
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


def _refuse_readings(top: Table) -> None:
    for key in ("readings", "specular"):
        if key in top:
            raise top.fault(
                key,
                "it beside [photograph]",
                "one of them",
                "A photograph without glare leaves the mirror reflection out, so specular need not be said."
                if key == "specular"
                else "Swatches are either measured or photographed.",
            )


def _place(row: Table, name: str, key: str, places: Collection[str]) -> str:
    if name not in places:
        hint = nearest_hint(name, places, kind="places")
        raise row.fault(key, f'"{name}"', "a place on the card", hint)
    return name


def _ground(row: Table, layout: CardLayout) -> CardGround:
    name = row.text("name")
    places = [patch.name for patch in layout.patches]
    bare = [patch.name for patch in layout.patches if patch.ground == name and patch.coats == 0.0]
    if "patches" in row:
        bare = [_place(row, place, "patches", places) for place in _texts(row, "patches")]
    paint = row.text("paint") if "paint" in row else None
    if not bare and paint is None:
        raise row.fault(
            "patches",
            "nothing",
            'places where it lies bare, or paint = "..." (a primer on the shelf)',
        )
    sheen = read_sheen(row, "sheen", "matt")
    row.no_other_keys()
    return CardGround(name=name, patches=tuple(bare), paint=paint, sheen=sheen)


def _texts(row: Table, key: str) -> list[str]:
    given = row.values[key]
    if not isinstance(given, list) or not given or not all(isinstance(v, str) for v in given):
        raise row.fault(key, shown(given), 'names of places in square brackets, such as ["black bare 1"]')
    return [" ".join(v.split()) for v in given]


def _swatch(
    row: Table, layout: CardLayout, own_name: str, grounds: Collection[str], thinning: float
) -> CardSwatch:
    made = read_sprayed(row, own_name=own_name, grounds=grounds)
    if "thinning" not in row:
        made["thinning"] = thinning
    patch = row.text("patch")
    _place(row, patch, "patch", [place.name for place in layout.patches])
    row.no_other_keys()
    return CardSwatch(**made, patch=patch)


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
