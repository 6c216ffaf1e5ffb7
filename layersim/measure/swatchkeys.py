"""What every swatches file says, measured or photographed: of the paint, and how each swatch was made."""

from __future__ import annotations

import json
from collections.abc import Collection
from typing import Any, Final

from layersim.errors import nearest_hint
from layersim.measure.swatch import LAID, THIS_PAINT
from layersim.paint import CARRIERS, HAZARDS, KINDS
from layersim.paintfile import read_hazards, read_sheen, slug
from layersim.tables import Table

FORMAT: Final = 1

MOST_COATS: Final = 1000.0
THICKEST_UM: Final = 10000.0
THINNEST_WET_UM: Final = 0.5
"""No coat of liquid is thinner than its pigment; a smaller number is in another unit."""

_LAID_WORDS: Final = {
    "sprayed": ("spray", "airbrush", "airbrushed", "by airbrush", "misted", "spray gun"),
    "brushed": ("brush", "by brush", "with a brush", "painted"),
}

THINNING: Final = "a number from 0 to 100, drops of thinner to one drop of paint"

STARTER_OF_LIQUID: Final = f"""\
# carrier = "water"       # what carries it: {", ".join(CARRIERS)}
# hazards = ["cobalt"]    # never as mist or dust: {", ".join(HAZARDS)}
# laid = "brushed"        # how the swatches were laid: {" or ".join(LAID)}; brushed films vary more"""
"""Lines of both starters: what the paint's label says of the liquid, which no swatch tells."""


def starter_name_line(name: str) -> str:
    """Return the line of a file to start from that names the paint, to be put right.

    Parameters
    ----------
    name : str
        Of one line.

    Returns
    -------
    str

    Examples
    --------
    >>> starter_name_line("blue")
    'name = "blue"             # put it right: what the paint is called; the paint that is fitted gets it'
    """
    key = f"name = {json.dumps(name, ensure_ascii=False)}"
    return f"{key:<25} # put it right: what the paint is called; the paint that is fitted gets it"


def read_paint_keys(top: Table) -> dict[str, Any]:
    """Return what a swatches file says of the paint itself, whatever the swatches were looked at with.

    Parameters
    ----------
    top : Table
        Keys that are not as they should be are noted in its document.

    Returns
    -------
    dict
    """
    attempt = top.document.attempt
    no_hazards: tuple[str, ...] = ()
    wet = f"a number from {THINNEST_WET_UM:g} to 1000, in micrometres (thousandths of a millimetre)"
    return {
        "paint": attempt(lambda: top.text("name"), ""),
        "kind": attempt(lambda: top.choice("kind", KINDS, "paint"), "paint"),
        "volume_solids": attempt(lambda: top.number("volume_solids", above=0.0, high=1.0), 1.0),
        "wet_film_um": attempt(
            lambda: top.number("wet_film_um", low=THINNEST_WET_UM, high=1000.0, expected=wet), 1.0
        ),
        "sheen": attempt(lambda: read_sheen(top, "sheen"), 1.0),
        "invented": attempt(lambda: top.flag("invented", False), False),
        "provenance": attempt(lambda: top.text("provenance", ""), ""),
        "note": attempt(lambda: top.text("note", ""), ""),
        "carrier": attempt(lambda: top.choice("carrier", CARRIERS) if "carrier" in top else "", ""),
        "hazards": attempt(lambda: read_hazards(top), no_hazards),
        "laid": attempt(lambda: _laid(top), str(LAID[0])),
    }


def _laid(top: Table) -> str:
    """Return how the swatches were laid, by whichever word painters have for it."""
    if "laid" not in top:
        return LAID[0]
    word = top.text("laid").strip().casefold()
    for laid, said in _LAID_WORDS.items():
        if word == laid or word in said:
            return laid
    raise top.fault("laid", f'"{word}"', f'"{LAID[0]}" or "{LAID[1]}"')


def read_sprayed(row: Table, *, own_name: str, grounds: Collection[str]) -> dict[str, Any]:
    """Return how a swatch was made: the arguments of :class:`layersim.measure.swatch.Sprayed`.

    Parameters
    ----------
    row : Table
        A table ``[[swatch]]``; the keys of its spectrum are left to the caller.
    own_name : str
        Name of the paint, which may stand in a mix for "this paint".
    grounds : collection of str
        Names of the grounds.

    Returns
    -------
    dict

    Raises
    ------
    Fault
        For the first key that is not as it should be; see :meth:`Document.gather`.
    """
    name = row.text("name")
    opaque = row.flag("opaque", False)
    ground = None
    if "ground" in row or not opaque:
        ground = row.text("ground")
        if ground not in grounds:
            hint = nearest_hint(ground, grounds, kind="grounds") or "There are no headings [[ground]] yet."
            raise row.fault("ground", f'"{ground}"', "the name of a [[ground]] in this file", hint)
    coats, dry_film_um = _thickness(row, opaque=opaque)
    return {
        "name": name,
        "ground": ground,
        "parts": _parts(row, own_name),
        "thinning": read_thinning(row),
        "thinning_said": "thinning" in row,
        "coats": coats,
        "dry_film_um": dry_film_um,
        "opaque": opaque,
        "note": row.text("note", ""),
    }


def read_thinning(table: Table) -> float:
    """Return the parts of thinner to one of paint; none where nothing is said.

    Parameters
    ----------
    table : Table

    Returns
    -------
    float

    Raises
    ------
    Fault
        If it is no number, or out of its range.
    """
    return table.number("thinning", 0.0, low=0.0, high=100.0, expected=THINNING)


def _thickness(row: Table, *, opaque: bool) -> tuple[float | None, float | None]:
    """Return the number of coats and the dry film of all of them, as far as they are known."""
    coats = row.number("coats", above=0.0, high=MOST_COATS) if "coats" in row else None
    one_um = row.number("dry_film_um", above=0.0, high=THICKEST_UM) if "dry_film_um" in row else None
    all_um = (
        row.number("total_dry_film_um", above=0.0, high=THICKEST_UM) if "total_dry_film_um" in row else None
    )
    given = [
        key
        for key, value in (("coats", coats), ("dry_film_um", one_um), ("total_dry_film_um", all_um))
        if value is not None
    ]
    if opaque and given:
        raise row.fault(
            None, f"opaque = true and {given[0]}", "one of them: an opaque film has no thickness to tell"
        )
    if one_um is not None and all_um is not None:
        raise row.fault(
            None, "both dry_film_um and total_dry_film_um", "one of them: of one coat, or of all together"
        )
    if one_um is not None and coats is None:
        raise row.fault(
            "coats",
            "nothing",
            "a number above 0",
            "dry_film_um is the film of one coat; for the whole film write total_dry_film_um.",
        )
    if not given and not opaque:
        raise row.fault(
            "coats",
            "nothing",
            "coats, or total_dry_film_um, or opaque = true",
            "Without its thickness a swatch tells neither K nor S.",
        )
    if one_um is not None and coats is not None:
        return coats, one_um * coats
    return coats, all_um


def _parts(row: Table, own_name: str) -> tuple[tuple[str, float], ...]:
    mix = row.table("mix")
    if mix is None:
        return ((THIS_PAINT, 1.0),)
    parts: dict[str, float] = {}
    for key in mix.values:
        amount = mix.number(key, low=0.0, high=1e6)
        if not slug(key):
            raise row.fault("mix", f'"{key}"', f'the name of a paint, or "{THIS_PAINT}"')
        own = slug(key) in {slug(THIS_PAINT), slug(own_name)}
        name = THIS_PAINT if own else " ".join(key.split())
        if slug(name) in {slug(other) for other in parts}:
            raise row.fault("mix", f'"{key}" twice', "each paint once")
        if amount > 0.0:
            parts[name] = amount
    if THIS_PAINT not in parts:
        raise row.fault(
            "mix",
            f"no parts of {THIS_PAINT}",
            f'"{THIS_PAINT}" among the others, such as {{ "{THIS_PAINT}" = 1, "titanium white" = 9 }}',
        )
    return tuple(parts.items())


def refuse_doubles(rows: list[Table]) -> None:
    """Raise a fault where two rows have one name.

    Parameters
    ----------
    rows : list of Table
    """
    seen: set[str] = set()
    for row in rows:
        name = str(row.values.get("name", "")).strip()
        if name and name in seen:
            raise row.fault("name", f'"{name}" a second time', "a name of its own")
        seen.add(name)
