"""Reading a scheme file, finding its paints, and saying what is wrong with it."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from layersim.colour import LIGHTS, OBSERVERS, Viewing, lab_of_hex
from layersim.errors import PaintFileError, SchemeError, UnknownNameError, quoted
from layersim.files import inside_folder
from layersim.optics import spray
from layersim.paint import Paint
from layersim.paintfile import read_sheen
from layersim.scheme import modelerror
from layersim.scheme.batch import Extent, read_batch, read_extent, read_tool
from layersim.scheme.ownfilms import with_own_films, with_own_scatter
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
from layersim.scheme.times import read_times
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray
from layersim.tables import Document, Table, shown

FORMAT: Final = 1
DEFAULT_SPREAD: Final = 0.20
"""Relative spread of one sprayed coat, from site to site (an assumption; see docs/theory.md)."""
DEFAULT_REACH: Final = 0.02
"""Share of a pre-shade's film that drifts into the deepest shadow (an assumption)."""
DROPLET_UM: Final = 10.0
"""Diameter of a pre-shade's droplets as they land, of a fine airbrush (common practice, no source)."""
MOST_COATS: Final = 100
MOST_AREAS: Final = 50
MOST_PATCHES: Final = 4
MOST_INGREDIENTS: Final = 20
MOST_PARTS: Final = 1e5
MOST_THINNER: Final = 100.0
_HAND: Final = Hand(satin=0.10)
"""The hand of a scheme that does not say: assumptions, common practice, no source."""
# Stands where a paint was not found, until the document's problems are told.
_NO_PAINT: Final = Paint(
    name="",
    kind="paint",
    K_per_um=np.zeros(BANDS),
    S_per_um=np.zeros(BANDS),
    volume_solids=1.0,
    wet_film_um=1.0,
    sheen=0.0,
    provenance="",
    invented=True,
)


def load_scheme(
    path: str | Path,
    shelf: Shelf | None = None,
    *,
    folders: Sequence[Path] = (),
    edit: Callable[[dict[str, Any]], None] | None = None,
) -> Scheme:
    """Return the scheme in a file, its paints found on the shelf.

    Parameters
    ----------
    path : str or Path
    shelf : Shelf, optional
        Where all paints are looked for. By default `folders`, then the folder that the scheme names
        itself, then the usual shelf.
    folders : sequence of Path
        Searched first, where no shelf is given.
    edit : callable, optional
        Changes what the file says (the tables as TOML gives them) before it is checked.

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
    if edit is not None:
        edit(document.top.values)
    top, attempt = document.top, document.attempt
    with document.gather():
        document.check_format(FORMAT)
    own = attempt(lambda: _own_folder(top, file), None)
    if shelf is None:
        shelf = Shelf.usual(*folders, *([own] if own else []))
    scheme = Scheme(
        name=attempt(lambda: top.name("name"), ""),
        note=attempt(lambda: top.text("note", ""), ""),
        viewing=Viewing(
            attempt(lambda: top.choice("light", LIGHTS, "D65"), "D65"),
            attempt(lambda: top.choice("observer", OBSERVERS, "2"), "2"),
        ),
        hand=attempt(lambda: _hand(top), _HAND),
        areas=attempt(lambda: _areas(top, shelf), ()),
        path=file,
        batch=read_batch(top),
        times=read_times(top),
    )
    top.no_other_keys()
    document.finish()
    scheme = with_own_films(dataclasses.replace(scheme, notices=tuple(shelf.notices)))
    hand = top.table("hand")
    return scheme if hand is not None and "film" in hand else with_own_scatter(scheme)


def _own_folder(top: Table, file: Path) -> Path | None:
    if "paints" not in top:
        return None
    named = top.text("paints")
    folder = inside_folder(named, file.parent)
    if folder is None:
        raise top.fault("paints", quoted(named), "a folder beside the scheme file, or below it")
    try:
        there = folder.is_dir()
    except OSError:  # a name too long for any folder
        there = False
    if not there:
        raise top.fault("paints", quoted(named), "a folder that is there", "Make it, or take this line out.")
    return folder


def _hand(top: Table) -> Hand:
    table = top.table("hand")
    if table is None:
        return _HAND
    attempt = table.document.attempt
    hand = Hand(
        film=attempt(lambda: table.number("film", _HAND.film, low=0.0, high=1.0), 0.0),
        parts=attempt(lambda: table.number("parts", _HAND.parts, low=0.0, high=1.0), 0.0),
        greys=attempt(lambda: table.number("greys", _HAND.greys, low=0.0, high=30.0), 0.0),
        models=attempt(lambda: table.number("models", _HAND.models, low=0.0, high=1.0), 0.0),
        drift=attempt(lambda: table.number("drift", _HAND.drift, low=0.0, high=1.0), 0.0),
        slips=attempt(lambda: table.number("slips", _HAND.slips, low=0.0, high=1.0), 0.0),
        mixes=attempt(lambda: table.whole("mixes", _HAND.mixes, low=1, high=MOST_COATS), 1),
        sheen=attempt(lambda: table.number("sheen", _HAND.sheen, low=0.0, high=1.0), 0.0),
        satin=attempt(lambda: table.number("satin", _HAND.satin, low=0.0, high=0.5), 0.0),
        model=attempt(lambda: table.number("model", _HAND.model, low=0.0, high=5.0), 0.0),
    )
    table.no_other_keys()
    return hand


def _areas(top: Table, shelf: Shelf) -> tuple[Area, ...]:
    rows = top.tables("area")
    if not rows:
        raise top.fault("area", "nothing", "at least one area, under a heading [[area]]")
    if len(rows) > MOST_AREAS:
        raise top.fault("area", f"{len(rows)} areas", f"at most {MOST_AREAS}")
    areas: list[Area] = []
    for row in rows:
        areas.append(area := _area(row, shelf))
        if area.name and area.name in [other.name for other in areas[:-1]]:
            double = row.fault("name", quoted(area.name), "a name that no other area has")
            top.document.problems.append(double.problem)
    return tuple(areas)


def _area(table: Table, shelf: Shelf) -> Area:
    attempt = table.document.attempt
    patches: dict[str, float] = {}

    def coats() -> tuple[Coat, ...]:
        rows = table.tables("coat")
        if len(rows) > MOST_COATS:
            raise table.fault("coat", f"{len(rows)} coats", f"at most {MOST_COATS}")
        return tuple(_coat(row, shelf, patches) for row in rows)

    no_coats: tuple[Coat, ...] = ()
    area = Area(
        name=attempt(lambda: table.name("name"), ""),
        ground=attempt(
            lambda: _paint(table, "ground", table.name("ground"), shelf, rather="primer"), _NO_PAINT
        ),
        preshade=attempt(lambda: _preshade(table, shelf), None),
        coats=attempt(coats, no_coats),
        targets=attempt(lambda: _targets(table), Targets()),
        extent=attempt(lambda: read_extent(table), Extent()),
    )
    table.no_other_keys()
    return area


def _preshade(area: Table, shelf: Shelf) -> GreysGiven | GreysSprayed | None:
    table = area.table("preshade")
    if table is None:
        return None
    if "greys" in table and "white" in table:
        raise table.fault(None, "both greys and white", "greys (known) or white (sprayed), not both")
    preshade: GreysGiven | GreysSprayed
    if "greys" in table:
        preshade = _greys_given(table)
    elif "white" in table:
        preshade = _greys_sprayed(table, shelf)
    else:
        raise table.fault(
            None, "neither greys nor white", "greys = [darkest, lightest], or white = the paint sprayed"
        )
    table.no_other_keys()
    return preshade


def _greys_given(table: Table) -> GreysGiven:
    def ends() -> tuple[float, float]:
        greys = table.numbers("greys", low=0.0, high=100.0)
        if len(greys) != 2:
            raise table.fault("greys", f"{len(greys)} numbers", "two: the darkest and the lightest L*")
        if not greys[0] < greys[1]:
            raise table.fault("greys", f"{greys[0]:g} before {greys[1]:g}", "the darker lightness first")
        return greys[0], greys[1]

    attempt = table.document.attempt
    darkest, lightest = attempt(ends, (0.0, 100.0))
    sheen = attempt(lambda: read_sheen(table, "sheen", "matt"), 1.0)
    return GreysGiven(
        darkest=darkest,
        lightest=lightest,
        sheen=sheen,
        spotted=attempt(lambda: table.number("spotted", modelerror.SPOTTED, low=0.0, high=1.0), 0.0),
        tint=modelerror.TINT,
    )


def _greys_sprayed(table: Table, shelf: Shelf) -> GreysSprayed:
    attempt = table.document.attempt
    mix = Mix(
        ingredients=((attempt(lambda: _paint(table, "white", table.name("white"), shelf), _NO_PAINT), 1.0),),
        thinning=attempt(lambda: table.number("thinning", 0.0, low=0.0, high=MOST_THINNER), 0.0),
    )
    return GreysSprayed(
        mix=mix,
        passes=attempt(lambda: table.whole("passes", low=1, high=MOST_COATS), 1),
        dry_film_um=attempt(lambda: _dry_film(table, mix), 0.0),
        spread=attempt(lambda: table.number("spread", DEFAULT_SPREAD, low=0.0, high=1.0), 0.0),
        reach=attempt(lambda: table.number("reach", DEFAULT_REACH, low=0.0, high=0.9), 0.0),
        film_from=_film_from(table),
        spot_um=attempt(lambda: _spot(table, mix), 0.0),
    )


def _spot(table: Table, mix: Mix) -> float:
    droplet_um = table.number("drops_um", DROPLET_UM, low=0.0, high=200.0)
    return spray.spot_of_droplet(droplet_um=droplet_um, volume_solids=mix.volume_solids)


def _coat(table: Table, shelf: Shelf, patches: dict[str, float]) -> Coat:
    attempt = table.document.attempt
    mix = Mix(
        ingredients=attempt(lambda: _ingredients(table, shelf), ((_NO_PAINT, 1.0),)),
        thinning=attempt(lambda: table.number("thinning", 0.0, low=0.0, high=MOST_THINNER), 0.0),
    )
    where = attempt(lambda: _where(table), Where())
    no_patch: tuple[str | None, float] = (None, 1.0)
    patch, coverage = attempt(lambda: _patch(table, where, patches), no_patch)
    coat = Coat(
        name=attempt(lambda: table.name("name", mix.ingredients[0][0].name), ""),
        mix=mix,
        coats=attempt(lambda: table.whole("coats", 1, low=1, high=MOST_COATS), 1),
        dry_film_um=attempt(lambda: _dry_film(table, mix), 0.0),
        spread=attempt(lambda: table.number("spread", DEFAULT_SPREAD, low=0.0, high=1.0), 0.0),
        where=where,
        is_filter=attempt(lambda: table.flag("filter", False), False),
        patch=patch,
        coverage=coverage,
        sheen=attempt(lambda: read_sheen(table, "sheen") if "sheen" in table else None, None),
        by=attempt(lambda: read_tool(table, local=patch is not None), "airbrush"),
        film_from=_film_from(table),
    )
    table.no_other_keys()
    return coat


def _ingredients(table: Table, shelf: Shelf) -> tuple[tuple[Paint, float], ...]:
    if "paint" in table and "mix" in table:
        raise table.fault(None, "both paint and mix", "one of them")
    if "paint" in table:
        return ((_paint(table, "paint", table.name("paint"), shelf), 1.0),)
    mix = table.table("mix")
    if mix is None:
        raise table.fault(
            None, "neither paint nor mix", 'paint = "name", or mix = { "one paint" = 5, "another" = 1 }'
        )
    if not mix.values:
        raise table.fault("mix", "an empty mix", "at least one paint with its parts")
    if len(mix.values) > MOST_INGREDIENTS:
        raise table.fault("mix", f"{len(mix.values)} paints", f"at most {MOST_INGREDIENTS}")
    attempt = table.document.attempt
    found = tuple(
        (
            attempt(functools.partial(_paint, mix, name, name, shelf), _NO_PAINT),
            attempt(functools.partial(mix.number, name, low=0.0, high=MOST_PARTS), 1.0),
        )
        for name in mix.values
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


def _film_from(table: Table) -> str:
    return "dry" if "dry_film_um" in table else "wet" if "wet_film_um" in table else "paint"


def _where(table: Table) -> Where:
    expected = '"everywhere", { from = 60, edge = 20 } or { up_to = 40, edge = 20 }'
    if "where" not in table or table.values["where"] == "everywhere":
        return Where()
    if not isinstance(table.values["where"], dict):
        raise table.fault("where", shown(table.values["where"]), expected)
    place = table.table("where")
    if place is None:  # pragma: no cover - the key is there, and a table
        raise AssertionError
    attempt = table.document.attempt
    low = attempt(lambda: place.number("from", low=0.0, high=100.0) if "from" in place else None, None)
    high = attempt(lambda: place.number("up_to", low=0.0, high=100.0) if "up_to" in place else None, None)
    edge = attempt(lambda: place.number("edge", 20.0, low=0.0, high=100.0), 20.0)
    place.no_other_keys()
    if "from" not in place and "up_to" not in place:
        raise table.fault("where", "neither from nor up_to", expected)
    if low is not None and high is not None and not low < high:
        raise table.fault("where", f"from {low:g} up to {high:g}", "from below up_to")
    return Where(lightest_from=low, darkest_up_to=high, edge=edge)


def _patch(table: Table, where: Where, patches: dict[str, float]) -> tuple[str | None, float]:
    """Return a coat's patch and its coverage; `patches` holds those of the coats before it."""
    sized = "coverage" in table
    if "patch" not in table:
        if sized:
            raise table.fault("coverage", "a coverage without a patch", 'patch = "chips" beside it')
        return None, 1.0
    name = table.name("patch")
    if name in patches:
        if not where.everywhere:
            raise table.fault("where", where.words(), "no where: this patch was placed by its first coat")
        share = table.number("coverage", patches[name], low=0.0, high=1.0)
        if share != patches[name]:
            before = f"{patches[name]:g}, as given before for {quoted(name)}"
            raise table.fault("coverage", f"{share:g}", before)
        return name, share
    if len(patches) == MOST_PATCHES:
        raise table.fault("patch", f"a further patch {quoted(name)}", f"at most {MOST_PATCHES} in an area")
    coverage = functools.partial(table.number, "coverage", low=0.0, high=1.0)
    patches[name] = table.document.attempt(coverage, 1.0)
    return name, patches[name]


def _targets(area: Table) -> Targets:
    table = area.table("targets")
    if table is None:
        return Targets()
    shadow, mid, light = (
        table.document.attempt(functools.partial(_target, table, key), None)
        for key in ("shadow", "mid", "light")
    )
    table.no_other_keys()
    return Targets(shadow=shadow, mid=mid, light=light)


def _target(table: Table, key: str) -> FloatArray | None:
    expected = '"#rrggbb" such as "#3d4c74", or [L, a, b] such as [52, 3, -20]'
    if key not in table:
        return None
    if isinstance(table.values[key], str):
        try:
            return lab_of_hex(table.text(key))
        except ValueError:
            raise table.fault(key, quoted(table.values[key]), expected) from None
    if not isinstance(table.values[key], list):
        raise table.fault(key, shown(table.values[key]), expected)
    values = table.numbers(key, low=-200.0, high=200.0)
    if len(values) != 3:
        raise table.fault(key, f"{len(values)} numbers", expected)
    if not 0.0 <= values[0] <= 100.0:
        raise table.fault(key, f"a lightness L of {values[0]:g}", "one from 0 to 100")
    return np.array(values)


def _paint(table: Table, key: str, name: str, shelf: Shelf, *, rather: str = "") -> Paint:
    try:
        return shelf.find(name)
    except UnknownNameError:
        wanted = "the name of a paint on the shelf"
        raise table.fault(key, quoted(name), wanted, shelf.nearest(name, rather=rather)) from None
    except PaintFileError as broken:
        raise table.fault(key, f"{quoted(name)}, whose file cannot be used", "a paint", str(broken)) from None
