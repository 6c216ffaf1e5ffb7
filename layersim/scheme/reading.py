"""Reading a scheme file, finding its paints, and saying what is wrong with it."""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from layersim.colour import LAMPS_MEANT, LIGHTS, OBSERVERS, Viewing
from layersim.documents import kinds
from layersim.documents.document import Document
from layersim.documents.keys import Key, keys_of, read_keys, rows, section
from layersim.documents.kinds import flag, number, special, whole, word
from layersim.documents.recipes import coats_of, mix_of, place_of
from layersim.documents.table import Table, shown
from layersim.errors import PaintFileError, SchemeError, UnknownNameError, quoted
from layersim.files import inside_folder
from layersim.optics import spray
from layersim.paint import Paint, sheen
from layersim.scheme import modelerror
from layersim.scheme.batch import BATCH_KEYS, EXTENT_KEYS, TOOLS, Batch, read_batch, read_extent
from layersim.scheme.oddities import scheme_oddities
from layersim.scheme.ownfilms import with_own_films, with_own_scatter
from layersim.scheme.records import (
    MOST_COATS,
    ON_FORM,
    SHARE,
    Area,
    Coat,
    GreysGiven,
    GreysSprayed,
    Hand,
    Mix,
    Scheme,
    Targets,
    Where,
    targets_of,
)
from layersim.scheme.times import TIMES_KEYS, Times, read_times
from layersim.shelf import Shelf
from layersim.spectra import BANDS

FORMAT: Final = 1
DEFAULT_SPREAD: Final = 0.20
"""Relative spread of one sprayed coat, from site to site (an assumption; see docs/theory.md)."""
DEFAULT_REACH: Final = 0.02
"""Share of a preshade's film that drifts into the deepest shadow (an assumption)."""
DROPLET_UM: Final = 10.0
"""Diameter of a preshade's droplets as they land, of a fine airbrush (common practice, no source)."""
MOST_AREAS: Final = 50
MOST_STEPS: Final = 100
"""Steps of one area."""
MOST_STEPS_IN_ALL: Final = 500
"""Steps of all areas: what takes a few seconds to work out, and some pages to print."""
MOST_PATCHES: Final = 4
MOST_INGREDIENTS: Final = 20
MOST_PARTS: Final = 1e5
_HAND: Final = Hand(satin=0.10)
"""The hand of a scheme that does not say: assumptions, common practice, no source."""
# Stands where a paint was not found, until the document's problems are told.
_NO_PAINT: Final = Paint(
    name="not found",
    kind="paint",
    K_per_um=np.zeros(BANDS),
    S_per_um=np.zeros(BANDS),
    volume_solids=1.0,
    wet_film_um=1.0,
    sheen=0.0,
    provenance="",
    invented=True,
)

# --- what may stand in the file ------------------------------------------------------------------

_PLACES: Final = '"everywhere", { from = 60, edge = 20 } or { up_to = 40, edge = 20 }'


def _where(table: Table, key: str) -> Where:
    value = table.values[key]
    if isinstance(value, str):
        if value.strip() == "everywhere":
            return Where()
        value = place_of(value) or value
    if not isinstance(value, dict):
        raise table.fault(key, shown(value), _PLACES)
    place = Table(table.document, value, where=f"{table.where}, {key}", address=(*table.address, key))
    found = Where(**read_keys(place, keys_of(Where)))
    low, high = found.lightest_from, found.darkest_up_to
    if "from" not in place and "up_to" not in place:
        raise table.fault(key, "neither from nor up_to", _PLACES)
    if low is not None and high is not None and not low < high:
        raise table.fault(key, f"from {low:g} up to {high:g}", "from below up_to")
    return found


def _ends(table: Table, key: str) -> tuple[float, float]:
    greys = table.numbers(key, low=0.0, high=100.0)
    if len(greys) != 2:
        raise table.fault(key, f"{len(greys)} numbers", "two: the darkest and the lightest L*")
    if not greys[0] < greys[1]:
        raise table.fault(key, f"{greys[0]:g} before {greys[1]:g}", "the darker lightness first")
    return greys[0], greys[1]


def _coats(table: Table, key: str) -> float:
    """Return a number of coats, whole or with a half."""
    value = table.values[key]
    said = coats_of(value) if isinstance(value, str) else None
    expected = f"a whole number from 1 to {MOST_COATS}, or a half such as 1.5"
    coats = table.number(key, low=0.5, high=MOST_COATS, expected=expected) if said is None else said
    if not 0.5 <= coats <= MOST_COATS or 2.0 * coats != int(2.0 * coats):
        raise table.fault(key, shown(value), expected)
    return coats


def _mix(table: Table, key: str) -> Table:
    """Return the table of a mix; one that is written as a text is made one."""
    value = table.values[key]
    if not isinstance(value, str):
        mix = table.table(key)
    elif (parsed := mix_of(value)) is None:
        expected = 'a mix such as "5 navy blue : 1 blue ink", or { "navy blue" = 5, "blue ink" = 1 }'
        raise table.fault(key, quoted(value), expected)
    else:
        parts, rest = parsed
        for other, said in rest.items():
            if table.values.setdefault(other, said) != said:
                raise table.fault(key, f"{other} in it, and another beside it", "one of them")
        mix = Table(table.document, dict(parts), where=f"{table.where}, {key}", address=(*table.address, key))
    if mix is None or not mix.values:
        raise table.fault(key, "an empty mix", "at least one paint with its parts")
    if len(mix.values) > MOST_INGREDIENTS:
        raise table.fault(key, f"{len(mix.values)} paints", f"at most {MOST_INGREDIENTS}")
    return mix


_FILM: Final = number(0, 1000, unit="µm")
_THINNING: Final = Key(number(0, 100), "drops of thinner to one drop of paint", 0.0)
_WET: Final = Key(_FILM, "wet film of one coat, if not the paints' own", None)
_DRY: Final = Key(_FILM, "dry film of one coat instead", None)
_SPREAD: Final = Key(SHARE, "relative spread of one coat's film from site to site", DEFAULT_SPREAD)
COAT_KEYS: Final = {
    "name": Key(kinds.name(), "of the coat; its first paint's where it is left out", None),
    "paint": Key(kinds.name(), "name of a paint on the shelf", None),
    "mix": Key(
        special(_mix, f'"5 navy blue : 1 blue ink" or {{ "navy blue" = 5, "blue ink" = 1 }}, '
                f"{MOST_INGREDIENTS} paints at most, parts from 0 to {MOST_PARTS:g}"),
        "paints by their drops, instead of one paint",
        None,
    ),
    "thinning": _THINNING,
    "coats": Key(
        special(_coats, f"a whole number from 1 to {MOST_COATS}, or a half such as 1.5 or 0.5", 1.0),
        "how many coats; half a coat is one of half the film",
        1.0,
    ),
    "wet_film_um": _WET,
    "dry_film_um": _DRY,
    "spread": _SPREAD,
    "where": Key(
        special(_where, f'{_PLACES}, or such as "from 60 up"', Where()), "along the preshade", Where()
    ),
    "filter": Key(flag(), "the glaze whose effect is shown before and after", False),
    "patch": Key(
        kinds.name(), f"a local effect such as chips; {MOST_PATCHES} patches in an area at most", None
    ),
    "coverage": Key(SHARE, "share of the area under the patch", None),
    "sheen": Key(sheen(), "of the dry coat, if not the mix's own", None),
    "by": Key(word(TOOLS), "what it is laid with; a patch by brush, all else by airbrush", None),
    "on_form": Key(
        word(ON_FORM),
        "where it lands on a form in space, or from where it is sprayed at it; only figure goes by it",
        None,
    ),
    "off": Key(flag(), "true leaves the coat out, as if it were not written", False),
}  # fmt: skip
PRESHADE_KEYS: Final = {
    "greys": Key(special(_ends, "[darkest, lightest], L* from 0 to 100"), "the greys, if known", None),
    "sheen": Key(sheen(), "of those greys", 1.0),
    "spotted": Key(SHARE, "how far they are spots rather than even films", modelerror.SPOTTED),
    "white": Key(kinds.name(), "the paint that is sprayed, instead of greys", None),
    "thinning": _THINNING,
    "passes": Key(whole(1, MOST_COATS), "of the white"),
    "wet_film_um": _WET,
    "dry_film_um": _DRY,
    "spread": _SPREAD,
    "reach": Key(number(0, 0.9), "share of the film that drifts into the deepest shadow", DEFAULT_REACH),
    "drops_um": Key(number(0, 200, unit="µm"), "diameter of the droplets as they land", DROPLET_UM),
}
AREA_KEYS: Final = {
    "name": Key(kinds.name(), "of the area"),
    "primer": Key(kinds.name(), "what the model is primed with, a paint on the shelf", was="ground"),
    "preshade": Key(section(PRESHADE_KEYS), "greys under the coats", None),
    "targets": Key(section(keys_of(Targets), targets_of), "colours to reach", Targets()),
    "coat": Key(
        rows(COAT_KEYS, most=MOST_STEPS), f"a coat, in order of work; {MOST_STEPS_IN_ALL} in all", []
    ),
    **EXTENT_KEYS,
}
HAND_KEYS: Final = {
    name: dataclasses.replace(key, default=getattr(_HAND, name)) for name, key in keys_of(Hand).items()
}
SCHEME_KEYS: Final = {
    "name": Key(kinds.name(), "of the scheme"),
    "note": Key(kinds.text(), "anything to know", ""),
    "lamp": Key(
        word(tuple(LIGHTS), LAMPS_MEANT), "the lamp, or daylight, it is judged under", "D65", was="light"
    ),
    "observer": Key(word(tuple(OBSERVERS)), "the CIE observer, in degrees", "2"),
    "paints": Key(kinds.text(), "a folder of paints beside the scheme file", None),
    "hand": Key(
        section(HAND_KEYS, Hand), "how exactly the painter works, one standard deviation each", _HAND
    ),
    "batch": Key(section(BATCH_KEYS), "how many models, and how the paint gets onto them", None),
    "times": Key(section(TIMES_KEYS), "how long things take", None),
    "area": Key(rows(AREA_KEYS, most=MOST_AREAS, least=1), "a part of the model that is painted alike"),
}
ONCE: Final = {key.was: name for keys in (SCHEME_KEYS, AREA_KEYS) for name, key in keys.items() if key.was}
"""What keys of a scheme and of its areas were once called, and are now."""

# --- reading it ------------------------------------------------------------------------------------


def load_scheme(
    path: str | Path,
    shelf: Shelf | None = None,
    *,
    folders: Sequence[Path] = (),
    text: str | None = None,
    usual: Callable[..., Shelf] = Shelf.usual,
    edit: Callable[[dict[str, Any]], None] | None = None,
) -> Scheme:
    """Return the scheme in a file, its paints found on the shelf.

    Without a shelf, paints are looked for in `folders`, then in the folder that the scheme names itself, then
    on the usual shelf; `usual` makes that of the folders to search first. `text` is read in place of the
    file's own. `edit` changes what the file says (the tables as TOML gives them) before it is checked.

    Raises SchemeError with everything that is wrong in the file.
    """
    file = Path(path)
    document = Document(file, what="scheme", error=SchemeError, keys=SCHEME_KEYS, text=text)
    if edit is not None:
        edit(document.top.values)
    top, attempt = document.top, document.attempt
    with document.gather():
        document.check_format(FORMAT)
    values = read_keys(top, SCHEME_KEYS)
    own = attempt(lambda: _own_folder(top, values["paints"], file), None)
    if shelf is None:
        shelf = usual(*folders, *([own] if own else []))
    scheme = Scheme(
        name=values["name"],
        note=values["note"],
        viewing=Viewing(values["lamp"], values["observer"]),
        hand=values["hand"],
        areas=attempt(lambda: _areas(top, values["area"], shelf), ()),
        path=file,
        batch=attempt(lambda: read_batch(values["batch"]), Batch()),
        times=attempt(lambda: read_times(values["times"]), Times()),
    )
    document.finish()
    notices = (*shelf.notices, *document.notices, *scheme_oddities(scheme))
    scheme = with_own_films(dataclasses.replace(scheme, notices=notices))
    # What the scheme says of its hand goes before what its sprayer's profile says.
    said = top.values.get("hand", {})
    return scheme if "film" in said else with_own_scatter(scheme)


def _own_folder(top: Table, named: str | None, file: Path) -> Path | None:
    if named is None:
        return None
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


def _areas(top: Table, tables: Sequence[Table], shelf: Shelf) -> tuple[Area, ...]:
    areas: list[Area] = []
    for table in tables:
        areas.append(area := _area(table, shelf))
        if area.name and area.name in [other.name for other in areas[:-1]]:
            double = table.fault("name", quoted(area.name), "a name that no other area has")
            top.document.problems.append(double.problem)
    steps = sum(len(area.coats) for area in areas)
    if steps > MOST_STEPS_IN_ALL:
        raise top.fault("area", f"{steps} coats in all areas together", f"at most {MOST_STEPS_IN_ALL}")
    return tuple(areas)


def _area(table: Table, shelf: Shelf) -> Area:
    attempt = table.document.attempt
    values = read_keys(table, AREA_KEYS)
    patches: dict[str, float] = {}
    coats = [_coat(row, shelf, patches) for row in values["coat"]]
    return Area(
        name=values["name"],
        ground=attempt(lambda: _paint(table, "primer", values["primer"], shelf, rather="primer"), _NO_PAINT),
        preshade=attempt(lambda: _preshade(values["preshade"], shelf), None),
        coats=_switched_on(coats, [row.values.get("off") is True for row in values["coat"]]),
        targets=values["targets"],
        extent=read_extent(table, values),
    )


def _preshade(table: Table | None, shelf: Shelf) -> GreysGiven | GreysSprayed | None:
    if table is None:
        return None
    if "greys" in table and "white" in table:
        raise table.fault(None, "both greys and white", "greys (known) or white (sprayed), not both")
    if "greys" in table:
        values = read_keys(table, {key: PRESHADE_KEYS[key] for key in ("greys", "sheen", "spotted")})
        darkest, lightest = values["greys"] or (0.0, 100.0)
        return GreysGiven(
            darkest=darkest,
            lightest=lightest,
            sheen=values["sheen"],
            spotted=values["spotted"],
            tint=modelerror.TINT,
        )
    if "white" not in table:
        raise table.fault(
            None, "neither greys nor white", "greys = [darkest, lightest], or white = the paint sprayed"
        )
    not_sprayed = ("greys", "sheen", "spotted")
    values = read_keys(table, {key: one for key, one in PRESHADE_KEYS.items() if key not in not_sprayed})
    attempt = table.document.attempt
    white = attempt(lambda: _paint(table, "white", values["white"] or "", shelf), _NO_PAINT)
    mix = Mix(((white, 1.0),), values["thinning"])
    return GreysSprayed(
        mix=mix,
        passes=values["passes"],
        dry_film_um=attempt(lambda: _dry_film(table, mix, values), 0.0),
        spread=values["spread"],
        reach=values["reach"],
        film_from=_film_from(table),
        spot_um=spray.spot_of_droplet(droplet_um=values["drops_um"], volume_solids=mix.volume_solids),
    )


def _coat(table: Table, shelf: Shelf, patches: dict[str, float]) -> Coat:
    attempt = table.document.attempt
    values = read_keys(table, COAT_KEYS)
    mix = Mix(
        attempt(lambda: _ingredients(table, values, shelf), ((_NO_PAINT, 1.0),)),
        values["thinning"],
    )
    no_patch: tuple[str | None, float] = (None, 1.0)
    patch, coverage = attempt(lambda: _patch(table, values, patches), no_patch)
    coats = math.ceil(values["coats"])
    film_um = attempt(lambda: _dry_film(table, mix, values), 0.0)
    name = values["name"] or mix.ingredients[0][0].name
    if coats != values["coats"]:
        thin = values["coats"] / coats
        film_um *= thin
        several = "coat" if coats == 1 else "coats"
        table.document.notices.append(
            f"{table.where}: {values['coats']:g} coats are taken as {coats} thin {several} of {thin:g} film"
        )
    return Coat(
        name=name,
        mix=mix,
        coats=coats,
        dry_film_um=film_um,
        spread=values["spread"],
        where=values["where"],
        is_filter=values["filter"],
        patch=patch,
        coverage=coverage,
        sheen=values["sheen"],
        by=values["by"] or TOOLS[patch is not None],
        on_form=values["on_form"],
        film_from=_film_from(table),
    )


def _switched_on(coats: Sequence[Coat], off: Sequence[bool]) -> tuple[Coat, ...]:
    """Return the coats that are not switched off; where a patch's first is, its next takes its place."""
    places: dict[str, tuple[Where, str | None]] = {}
    kept: list[Coat] = []
    for coat, left_out in zip(coats, off, strict=True):
        own = coat.where, coat.on_form
        where, on_form = places.setdefault(coat.patch, own) if coat.patch is not None else own
        if not left_out:
            first = coat.patch is not None and coat.patch not in [other.patch for other in kept]
            kept.append(dataclasses.replace(coat, where=where, on_form=on_form) if first else coat)
    return tuple(kept)


def _ingredients(table: Table, values: dict[str, Any], shelf: Shelf) -> tuple[tuple[Paint, float], ...]:
    if "paint" in table and "mix" in table:
        raise table.fault(None, "both paint and mix", "one of them")
    if "paint" not in table and "mix" not in table:
        raise table.fault(
            None, "neither paint nor mix", 'paint = "name", or mix = { "one paint" = 5, "another" = 1 }'
        )
    if "paint" in table:
        paint = values["paint"]
        return ((_NO_PAINT if paint is None else _paint(table, "paint", paint, shelf), 1.0),)
    mix: Table | None = values["mix"]
    if mix is None:  # its fault is told
        return ((_NO_PAINT, 1.0),)
    attempt = table.document.attempt
    found = [
        (
            attempt(functools.partial(_paint, mix, name, name, shelf), _NO_PAINT),
            attempt(functools.partial(mix.number, name, low=0.0, high=MOST_PARTS), 1.0),
        )
        for name in mix.values
    ]
    if not sum(parts for _, parts in found) > 0.0:
        raise table.fault("mix", "parts that are all zero", "at least one part above zero")
    return tuple((paint, parts) for paint, parts in found if parts > 0.0)


def _dry_film(table: Table, mix: Mix, values: dict[str, Any]) -> float:
    wet_um, dry_um = values["wet_film_um"], values["dry_film_um"]
    if "dry_film_um" in table and "wet_film_um" in table:
        raise table.fault(None, "both wet_film_um and dry_film_um", "one of them")
    if dry_um is not None:
        return float(dry_um)
    return float(mix.wet_film_um if wet_um is None else wet_um) * mix.volume_solids


def _film_from(table: Table) -> str:
    return "dry" if "dry_film_um" in table else "wet" if "wet_film_um" in table else "paint"


def _patch(table: Table, values: dict[str, Any], patches: dict[str, float]) -> tuple[str | None, float]:
    """Return a coat's patch and its coverage; `patches` holds those of the coats before it."""
    name, coverage = values["patch"], values["coverage"]
    if name is None:
        if "coverage" in table and "patch" not in table:
            raise table.fault("coverage", "a coverage without a patch", 'patch = "chips" beside it')
        return None, 1.0
    if name in patches:
        where: Where = values["where"]
        if not where.everywhere:
            raise table.fault("where", where.words(), "no where: this patch was placed by its first coat")
        if values["on_form"] is not None:
            placed = "no on_form: this patch was placed by its first coat"
            raise table.fault("on_form", quoted(values["on_form"]), placed)
        if coverage not in (None, patches[name]):
            before = f"{patches[name]:g}, as given before for {quoted(name)}"
            raise table.fault("coverage", f"{coverage:g}", before)
        return name, patches[name]
    if len(patches) == MOST_PATCHES:
        raise table.fault("patch", f"a further patch {quoted(name)}", f"at most {MOST_PATCHES} in an area")
    patches[name] = 1.0 if coverage is None else coverage
    if "coverage" not in table:
        raise table.fault("coverage", "nothing", SHARE.words, "This key is missing.")
    return name, patches[name]


def _paint(table: Table, key: str, name: str, shelf: Shelf, *, rather: str = "") -> Paint:
    if not name:  # its fault is told
        return _NO_PAINT
    try:
        return shelf.find(name)
    except UnknownNameError:
        wanted = "the name of a paint on the shelf"
        raise table.fault(key, quoted(name), wanted, shelf.nearest(name, rather=rather)) from None
    except PaintFileError as broken:
        raise table.fault(key, f"{quoted(name)}, whose file cannot be used", "a paint", str(broken)) from None
