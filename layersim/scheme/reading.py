"""Reading a scheme file, finding its paints, and saying what is wrong with it."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from layersim.colour import LIGHTS, OBSERVERS, Viewing, lab_of_hex
from layersim.errors import PaintFileError, SchemeError, UnknownNameError
from layersim.files import inside_folder
from layersim.paint import Paint
from layersim.paintfile import read_sheen
from layersim.scheme.records import (
    Area,
    Coat,
    GreysGiven,
    GreysSprayed,
    Hand,
    Mix,
    Scheme,
    Targets,
    Where,
)
from layersim.shelf import Shelf
from layersim.spectra import FloatArray
from layersim.tables import Document, Table

FORMAT: Final = 1
DEFAULT_SPREAD: Final = 0.20
"""Relative spread of one sprayed coat, from site to site (an assumption; see docs/theory.md)."""
DEFAULT_REACH: Final = 0.02
"""Share of a pre-shade's film that drifts into the deepest shadow (an assumption)."""
MOST_COATS: Final = 100
MOST_AREAS: Final = 50
MOST_PATCHES: Final = 4
_HAND: Final = Hand()


def load_scheme(path: str | Path, shelf: Shelf | None = None) -> Scheme:
    """Return the scheme in a file, its paints found on the shelf.

    Parameters
    ----------
    path : str or Path
    shelf : Shelf, optional
        The usual one by default, after the folder that the scheme names itself.

    Returns
    -------
    Scheme

    Raises
    ------
    SchemeError
        With everything that is wrong in the file.
    """
    file = Path(path)
    document = Document(file, what="scheme", error=SchemeError)
    top = document.top
    with document.gather():
        document.check_format(FORMAT)
    document.finish()
    name, note, viewing, hand = file.stem, "", Viewing(), Hand()
    with document.gather():
        name = top.text("name")
    with document.gather():
        note = top.text("note", "")
    with document.gather():
        viewing = Viewing(top.choice("light", LIGHTS, "D65"), top.choice("observer", OBSERVERS, "2"))
    with document.gather():
        hand = _hand(top)
    if shelf is None:
        shelf = Shelf.usual()
        with document.gather():
            shelf = _own_shelf(top, file)
    areas: list[Area] = []
    with document.gather():
        rows = top.tables("area")
        if not rows:
            raise top.fault("area", "nothing", "at least one [[area]]")
        if len(rows) > MOST_AREAS:
            raise top.fault("area", f"{len(rows)} areas", f"at most {MOST_AREAS}")
        for row in rows:
            with document.gather():
                areas.append(_area(row, shelf, document))
        names = [area.name for area in areas]
        for double in sorted({n for n in names if names.count(n) > 1}):
            raise top.fault("area", f'two areas named "{double}"', "names that differ")
    top.no_other_keys()
    document.finish()
    return Scheme(
        name=name,
        areas=tuple(areas),
        viewing=viewing,
        hand=hand,
        note=note,
        path=file,
        notices=tuple(shelf.notices),
    )


def _own_shelf(top: Table, file: Path) -> Shelf:
    if "paints" not in top:
        return Shelf.usual()
    named = top.text("paints")
    folder = inside_folder(named, file.parent)
    if folder is None:
        raise top.fault("paints", f'"{named}"', "a folder beside the scheme file or below it")
    if not folder.is_dir():
        raise top.fault("paints", f'"{named}"', "a folder that is there", "Make it, or take this line out.")
    return Shelf.usual(folder)


def _hand(top: Table) -> Hand:
    table = top.table("hand")
    if table is None:
        return _HAND
    hand = Hand(
        film=table.number("film", _HAND.film, low=0.0, high=1.0),
        parts=table.number("parts", _HAND.parts, low=0.0, high=1.0),
        greys=table.number("greys", _HAND.greys, low=0.0, high=30.0),
    )
    table.no_other_keys()
    return hand


def _area(table: Table, shelf: Shelf, document: Document) -> Area:
    name = table.text("name")
    ground: Paint | None = None
    preshade: GreysGiven | GreysSprayed | None = None
    targets = Targets()
    with document.gather():
        ground = _paint(table, "ground", table.text("ground"), shelf)
    with document.gather():
        preshade = _preshade(table, shelf)
    with document.gather():
        targets = _targets(table)
    coats: list[Coat] = []
    patches: dict[str, float] = {}
    for row in table.tables("coat"):
        with document.gather():
            coats.append(_coat(row, shelf, patches))
    table.no_other_keys()
    document.finish()
    if ground is None:  # pragma: no cover - finish() has raised
        raise AssertionError
    return Area(name=name, ground=ground, preshade=preshade, coats=tuple(coats), targets=targets)


def _preshade(area: Table, shelf: Shelf) -> GreysGiven | GreysSprayed | None:
    table = area.table("preshade")
    if table is None:
        return None
    if "greys" in table and "white" in table:
        raise table.fault(None, "both greys and white", "greys (known) or white (sprayed), not both")
    preshade: GreysGiven | GreysSprayed
    if "greys" in table:
        greys = table.numbers("greys", low=0.0, high=100.0)
        if len(greys) != 2:
            raise table.fault("greys", f"{len(greys)} numbers", "two: darkest and lightest L*")
        if not greys[0] < greys[1]:
            raise table.fault("greys", f"{greys[0]:g} before {greys[1]:g}", "the darker lightness first")
        preshade = GreysGiven(darkest=greys[0], lightest=greys[1], sheen=read_sheen(table, "sheen", "matt"))
    else:
        if "white" not in table:
            raise table.fault(
                None, "neither greys nor white", "greys = [darkest, lightest], or white = the paint sprayed"
            )
        mix = Mix(
            ingredients=((_paint(table, "white", table.text("white"), shelf), 1.0),),
            thinning=table.number("thinning", 0.0, low=0.0, high=100.0),
        )
        preshade = GreysSprayed(
            mix=mix,
            passes=table.whole("passes", low=1, high=MOST_COATS),
            dry_film_um=_dry_film(table, mix),
            spread=table.number("spread", DEFAULT_SPREAD, low=0.0, high=1.0),
            reach=table.number("reach", DEFAULT_REACH, low=0.0, high=0.9),
        )
    table.no_other_keys()
    return preshade


def _coat(table: Table, shelf: Shelf, patches: dict[str, float]) -> Coat:
    mix = Mix(
        ingredients=_ingredients(table, shelf), thinning=table.number("thinning", 0.0, low=0.0, high=100.0)
    )
    where = _where(table)
    if table.values.get("patch") in patches and not where.everywhere:
        raise table.fault("where", where.words(), "no where: this patch was placed by its first coat")
    patch, coverage = _patch(table, patches)
    coat = Coat(
        name=table.text("name", mix.ingredients[0][0].name),
        mix=mix,
        coats=table.whole("coats", 1, low=1, high=MOST_COATS),
        dry_film_um=_dry_film(table, mix),
        spread=table.number("spread", DEFAULT_SPREAD, low=0.0, high=1.0),
        where=where,
        is_filter=table.flag("filter", False),
        patch=patch,
        coverage=coverage,
        sheen=read_sheen(table, "sheen") if "sheen" in table else None,
    )
    table.no_other_keys()
    return coat


def _ingredients(table: Table, shelf: Shelf) -> tuple[tuple[Paint, float], ...]:
    if "paint" in table and "mix" in table:
        raise table.fault(None, "both paint and mix", "one of them")
    if "paint" in table:
        return ((_paint(table, "paint", table.text("paint"), shelf), 1.0),)
    mix = table.table("mix")
    if mix is None:
        raise table.fault(
            None, "neither paint nor mix", 'paint = "name", or mix = { "one paint" = 5, "another" = 1 }'
        )
    if not mix.values:
        raise table.fault("mix", "an empty mix", "at least one paint with its parts")
    found = tuple(
        (_paint(mix, name, name, shelf), mix.number(name, low=0.0, high=1e6)) for name in mix.values
    )
    if not sum(parts for _, parts in found) > 0.0:
        raise table.fault("mix", "parts that are all zero", "at least one part above zero")
    return tuple((paint, parts) for paint, parts in found if parts > 0.0)


def _dry_film(table: Table, mix: Mix) -> float:
    if "dry_film_um" in table:
        if "wet_film_um" in table:
            raise table.fault(None, "both wet_film_um and dry_film_um", "one of them")
        return table.number("dry_film_um", low=0.0, high=1000.0)
    return table.number("wet_film_um", mix.wet_film_um, low=0.0, high=1000.0) * mix.volume_solids


def _where(table: Table) -> Where:
    expected = '"everywhere", { from = 60, edge = 20 } or { up_to = 40, edge = 20 }'
    if "where" not in table or table.values["where"] == "everywhere":
        return Where()
    if not isinstance(table.values["where"], dict):
        raise table.fault("where", repr(table.values["where"]).replace("'", '"'), expected)
    place = table.table("where")
    if place is None:  # pragma: no cover - the key is there, and a table
        raise AssertionError
    low = place.number("from", low=0.0, high=100.0) if "from" in place else None
    high = place.number("up_to", low=0.0, high=100.0) if "up_to" in place else None
    edge = place.number("edge", 20.0, low=0.0, high=100.0)
    place.no_other_keys()
    if low is None and high is None:
        raise table.fault("where", "neither from nor up_to", expected)
    if low is not None and high is not None and not low < high:
        raise table.fault("where", f"from {low:g} up to {high:g}", "from below up_to")
    return Where(lightest_from=low, darkest_up_to=high, edge=edge)


def _patch(table: Table, patches: dict[str, float]) -> tuple[str | None, float]:
    if "patch" not in table:
        if "coverage" in table:
            raise table.fault("coverage", "a coverage without a patch", 'patch = "chips" beside it')
        return None, 1.0
    name = table.text("patch")
    if name in patches:
        share = table.number("coverage", patches[name], low=0.0, high=1.0)
        if share != patches[name]:
            raise table.fault("coverage", f"{share:g}", f'{patches[name]:g}, as given before for "{name}"')
        return name, share
    if len(patches) == MOST_PATCHES:
        raise table.fault("patch", f'a further patch "{name}"', f"at most {MOST_PATCHES} in an area")
    patches[name] = table.number("coverage", low=0.0, high=1.0)
    return name, patches[name]


def _targets(area: Table) -> Targets:
    table = area.table("targets")
    if table is None:
        return Targets()

    def colour(key: str) -> FloatArray | None:
        if key not in table:
            return None
        if isinstance(table.values[key], str):
            try:
                return lab_of_hex(table.text(key))
            except ValueError:
                raise table.fault(
                    key, f'"{table.values[key]}"', '"#rrggbb" or [L, a, b] such as [52, 3, -20]'
                ) from None
        values = table.numbers(key, low=-200.0, high=200.0)
        if len(values) != 3 or not 0.0 <= values[0] <= 100.0:
            raise table.fault(key, f"the list {values}", "three numbers [L, a, b], L from 0 to 100")
        return np.array(values)

    targets = Targets(shadow=colour("shadow"), mid=colour("mid"), light=colour("light"))
    table.no_other_keys()
    return targets


def _paint(table: Table, key: str, name: str, shelf: Shelf) -> Paint:
    try:
        return shelf.find(name)
    except UnknownNameError as unknown:
        hint = str(unknown).split(". ", 1)[1] if ". " in str(unknown) else ""
        raise table.fault(key, f'"{name}"', "the name of a paint on the shelf", hint) from None
    except PaintFileError as broken:
        raise table.fault(key, f'"{name}", whose file cannot be used', "a paint", str(broken)) from None
