"""The ``[photograph]`` of a swatches file: which picture, which card, which patch is which swatch.

Most of it may be left out. The card's layout says already what each of its places is for, and
``[[swatch]]`` and ``[[ground]]`` are only written where something else was sprayed. A ``[[ground]]``
changes that one ground; ``[[swatch]]``, where there is one, stands for all swatches.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from layersim.errors import SwatchFileError, first_of, nearest_hint, quoted
from layersim.files import inside_folder
from layersim.measure.card import CardLayout, read_card, standard_card
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
    FORMAT,
    STARTER_OF_LIQUID,
    read_paint_keys,
    read_sprayed,
    read_thinning,
    refuse_doubles,
    starter_name_line,
)
from layersim.paint import KINDS
from layersim.paintfile import read_sheen
from layersim.tables import Document, Table, shown

PICTURE_SUFFIXES: Final = RAW_SUFFIXES | {".jpg", ".jpeg", ".png", ".tif", ".tiff"}
"""Names that pictures of a card end in."""
MOST_LISTED: Final = 6
PLACEHOLDER: Final = "my paint"
"""Name in a swatches file to start from, where nothing tells the paint's."""
_HEAD_BYTES: Final = 4096


STARTER_PICTURE: Final = "card.jpg"
"""What a file to start from calls the photograph."""


def is_picture(path: Path) -> bool:
    """Return whether a file is there and is named as pictures are.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bool
    """
    return path.suffix.lower() in PICTURE_SUFFIXES and path.is_file()


def refuse_missing_photographs(card: PhotographedSet) -> None:
    """Say which key names a photograph that is not there, and which pictures are.

    Parameters
    ----------
    card : PhotographedSet

    Raises
    ------
    SwatchFileError
        For the first photograph that is not there.
    """
    for key, path in zip(("[photograph]", "[photograph.other_light]"), card.photographs, strict=False):
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
    keys = read_paint_keys(top)
    with document.gather():
        _refuse_readings(top)
    thinning, said = 0.0, False
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
        said = "thinning" in table
        thinning = read_thinning(table)
        keys["reference"] = table.choice("reference", REFERENCES, "best")
        keys["encoding"] = table.choice("encoding", ENCODINGS, "profile")
        for key in ("corners_px", "chart_corners_px"):
            keys[key] = _corners(table, key)
    with document.gather():
        keys["other_light"] = _other_light(table)
    with document.gather():
        table.no_other_keys()
    grounds, swatches = from_layout(layout, thinning=thinning, thinning_said=said)
    if top.tables("ground"):
        grounds = _with_others(_each(document, "ground", lambda row: _ground(row, layout)), grounds)
    if top.tables("swatch"):
        names = [ground.name for ground in grounds]
        swatches = _each(
            document, "swatch", lambda row: _swatch(row, layout, keys["paint"], names, thinning, said)
        )
    else:
        with document.gather():
            _refuse_lost_grounds(top, layout, grounds, swatches)
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


def _other_light(table: Table) -> OtherLight | None:
    other = table.table("other_light")
    if other is None:
        return None
    found = OtherLight(
        photograph=_file(other, "file"),
        corners_px=_corners(other, "corners_px"),
        chart_corners_px=_corners(other, "chart_corners_px"),
    )
    if other.text("file") == table.values.get("file"):
        raise other.fault("file", "the same picture again", "a second one, taken under another kind of lamp")
    other.no_other_keys()
    return found


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
            nearest_hint(name, {patch.ground for patch in layout.patches}, kind="grounds"),
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
    row: Table,
    layout: CardLayout,
    own_name: str,
    grounds: Collection[str],
    thinning: float,
    thinning_said: bool,
) -> CardSwatch:
    made = read_sprayed(row, own_name=own_name, grounds=grounds)
    if "thinning" not in row:
        made["thinning"], made["thinning_said"] = thinning, thinning_said
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


# --- a document to start from ---------------------------------------------------------------


def photograph_starter_text(*, card: str | None = None, paint: str = "") -> str:
    """Return a swatches file for a photographed card to start from, every key explained.

    Parameters
    ----------
    card : str, optional
        Name of the layout file; the standard card's layout needs none.
    paint : str
        Name of the paint, so far; :data:`PLACEHOLDER` where it is blank.

    Returns
    -------
    str

    Examples
    --------
    >>> print(photograph_starter_text().splitlines()[0])
    # Swatches of one paint on a photographed test card.
    """
    key = f'card = "{card}"' if card else '# card = "card.toml"'
    remark = "the card's layout; it says which place is which swatch"
    if not card:
        remark += ". Without it: the card as testcard prints it"
    file = f'file = "{STARTER_PICTURE}"'
    text = _STARTER
    for place, line in (
        ("NAME", starter_name_line(paint or PLACEHOLDER)),
        ("FILE", f"{file:<25} # in this folder: JPEG, PNG, TIFF or camera raw"),
        ("CARD", f"{key:<25} # {remark}"),
    ):
        text = text.replace(f"\n{place}\n", f"\n{line}\n")
    return text


_STARTER: Final = f"""\
# Swatches of one paint on a photographed test card.
# Everything after a # is a remark. Change what differs, delete what you did not do.
# No card yet? layersim testcard card.pdf writes one to print. An instrument instead of a camera?
# layersim start my-swatches.toml --swatches writes the file for measured swatches.
format = "layersim swatches {FORMAT}"

NAME
kind = "paint"            # {", ".join(KINDS)}
volume_solids = 0.28      # share of the liquid's volume that stays when dry: see its data sheet
wet_film_um = 15.0        # wet film of one coat, micrometres; with volume_solids it says what a coat is
{STARTER_OF_LIQUID}
sheen = "matt"            # of the dry paint: gloss, satin, matt, or a number from 0 (gloss) to 1 (matt)
provenance = ""           # who sprayed and photographed, when, with what
note = ""

[photograph]
FILE
CARD
thinning = 1.0            # parts of thinner to one part of paint, for all swatches
reference = "best"        # a 24-patch "chart" in the picture, or else "neutrals" on the card
encoding = "profile"      # as the file says; "linear" where a developer wrote light itself

# Only where it is needed, in [photograph]:
#   corners_px = [[90, 80], [950, 82], [940, 690], [88, 685]]         a card without tags: its corners in
#                                 pixels of the upright picture, clockwise, upper left first
#   chart_corners_px = [[200, 760], [760, 765], [755, 1130], [198, 1125]]       a chart that is not found

# To be much surer of strong blues, greens and purples: the same card and chart once more, under another
# kind of lamp (a warm bulb and a cool LED, say).
#
# [photograph.other_light]
# file = "card-other-lamp.jpg"      # and, only where they are needed, its own corners_px, chart_corners_px

# Only where something else was sprayed than the card's layout says. A [[ground]] changes that one, and the
# others stay as they are; [[swatch]] must then be written for every swatch:
#
# [[ground]]
# name = "black"
# patches = ["black bare 1", "black bare 2"]      # places of the card where it lies bare
# sheen = "matt"                                  # of the bare primer
#
# [[swatch]]
# name = "a mist over black"
# ground = "black"
# patch = "black 1"         # the place on the card
# coats = 0.5               # or total_dry_film_um, or opaque = true, and mix = {{ ... }} for a tint
"""
