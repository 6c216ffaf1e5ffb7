"""What every swatches file says, measured or photographed: how each swatch was made."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from layersim.documents import kinds
from layersim.documents.keys import Key, keys_of, read_keys
from layersim.documents.kinds import Kind, flag, number, special, text
from layersim.documents.recipes import mix_of
from layersim.documents.table import Table
from layersim.documents.writing import toml
from layersim.errors import nearest_hint, quoted
from layersim.files import inside_folder
from layersim.measure.swatch import THIS_PAINT, OfPaint
from layersim.names import slug
from layersim.paint import METAL, sheen
from layersim.resources import data_folder

FORMAT: Final = 1
MOST_COATS: Final = 1000.0
MOST_SWATCHES: Final = 200
MOST_GROUNDS: Final = 20
MOST_INGREDIENTS: Final = 20
THICKEST_UM: Final = 10000.0

OF_PAINT_KEYS: Final = keys_of(OfPaint)


def _mix(row: Table, key: str) -> Table | None:
    """Return the table of a mix; one that is written as a recipe is made one."""
    value = row.values[key]
    parsed = mix_of(value) if isinstance(value, str) else None
    if parsed is None:
        mix = row.table(key)
    else:
        mix = Table(row.document, dict(parsed[0]), where=f"{row.where}, {key}", address=(*row.address, key))
    if mix is not None and len(mix.values) > MOST_INGREDIENTS:
        raise row.fault(key, f"{len(mix.values)} paints", f"at most {MOST_INGREDIENTS}")
    return mix


_FILM: Final = number(above=0, high=THICKEST_UM, unit="µm")
THINNING: Final = Key(
    number(0, 100, expected="a number from 0 to 100, drops of thinner to one drop of paint"),
    "drops of thinner to one drop of paint",
    0.0,
)
MADE_KEYS: Final = {
    "name": Key(kinds.name(), "of the swatch"),
    "ground": Key(kinds.name(), "name of the ground it lies on; an opaque one needs none", None),
    "coats": Key(number(above=0, high=MOST_COATS), "how many, such as 0.5 for half as many passes", None),
    "dry_film_um": Key(_FILM, "dry film of one coat, measured", None),
    "total_dry_film_um": Key(_FILM, "dry film of all coats together, measured", None),
    "opaque": Key(flag(), "true where more coats change nothing; instead of any thickness", False),
    "mix": Key(
        special(_mix, f'{{ "{THIS_PAINT}" = 1, "titanium white" = 9 }}, {MOST_INGREDIENTS} at most'),
        "parts by volume, for a tint",
        None,
    ),
    "thinning": THINNING,
    "note": Key(text(), "anything to know", ""),
}
GROUND_KEYS: Final = {
    "name": Key(kinds.name(), "of the ground"),
    "paint": Key(kinds.name(), "a primer on the shelf, instead of a measurement", None),
    "sheen": Key(sheen(), "of the bare primer", 1.0),
}


def refuse_metal_of_others(top: Table) -> None:
    """Raise where the metal of flakes is said of a paint that is none."""
    if "metal" in top and top.values.get("kind") != METAL:
        raise top.fault("metal", "it", 'it only where kind = "metal"')


def file_beside(said: str) -> Kind:
    """Return the kind of a file in the folder of a document, or below it."""

    def read(table: Table, key: str) -> Path:
        named = table.text(key)
        target = inside_folder(named, table.document.path.parent)
        if target is None:
            raise table.fault(key, quoted(named), "a file in the same folder as this one, or below it")
        return target

    return special(read, said)


def starter(name: str, lines: Mapping[str, str]) -> str:
    """Return a file to start from, every key explained, with some of its lines replaced by how they begin."""
    rows = (data_folder() / "starters" / name).read_text(encoding="utf-8").split("\n")
    return "\n".join(next((new for old, new in lines.items() if row.startswith(old)), row) for row in rows)


def name_line(name: str) -> str:
    """Return the line of a file to start from that names the paint.

    >>> name_line("blue")
    'name = "blue"             # put it right: what the paint is called; the paint that is fitted gets it'
    """
    key = f"name = {toml(name)}"
    return f"{key:<25} # put it right: what the paint is called; the paint that is fitted gets it"


def each(
    rows: Sequence[Table],
    keys: Mapping[str, Key],
    make: Callable[[Table, dict[str, Any]], Any],
    *,
    named: str = "name",
) -> tuple[Any, ...]:
    """Return what is made of each row, of those whose keys are sound.

    It is a fault if two rows have one name, which stands under the key `named`.
    """
    found, seen = [], set()
    for row in rows:
        document = row.document
        before = len(document.problems)
        values = read_keys(row, keys)
        if len(document.problems) == before:
            with document.gather():
                found.append(make(row, values))
        name = str(row.values.get(named, "")).strip()
        if name and name in seen:
            double = row.fault(named, f"{quoted(name)} a second time", "one of its own")
            document.problems.append(double.problem)
        seen.add(name)
    return tuple(found)


def made(row: Table, values: dict[str, Any], *, own_name: str, grounds: Collection[str]) -> dict[str, Any]:
    """Return how a swatch was made: the arguments of :class:`layersim.measure.swatch.Sprayed`.

    `own_name` is the paint's name, which may stand in a mix for "this paint". Raises Fault where what
    was read of the row does not go together.
    """
    ground, opaque = values["ground"], values["opaque"]
    if ground is None and not opaque:
        raise row.fault("ground", "nothing", "a text in quotes", "This key is missing.")
    if ground is not None and ground not in grounds:
        hint = nearest_hint(ground, grounds, kind="grounds") or "There are no headings [[ground]] yet."
        raise row.fault("ground", quoted(ground), "the name of a [[ground]] in this file", hint)
    coats, dry_film_um = _thickness(row, values)
    return {
        "name": values["name"],
        "ground": ground,
        "parts": _parts(row, values["mix"], own_name),
        "thinning": values["thinning"],
        "thinning_said": "thinning" in row,
        "coats": coats,
        "dry_film_um": dry_film_um,
        "opaque": opaque,
        "note": values["note"],
    }


def _thickness(row: Table, values: dict[str, Any]) -> tuple[float | None, float | None]:
    """Return the number of coats and the dry film of all of them, as far as they are known."""
    coats, one_um, all_um = (values[key] for key in ("coats", "dry_film_um", "total_dry_film_um"))
    given = [key for key in ("coats", "dry_film_um", "total_dry_film_um") if values[key] is not None]
    if values["opaque"] and given:
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
    if not given and not values["opaque"]:
        raise row.fault(
            "coats",
            "nothing",
            "coats, or total_dry_film_um, or opaque = true",
            "Without its thickness a swatch tells neither K nor S.",
        )
    return coats, one_um * coats if one_um is not None else all_um


def _parts(row: Table, mix: Table | None, own_name: str) -> tuple[tuple[str, float], ...]:
    if mix is None:
        return ((THIS_PAINT, 1.0),)
    parts: dict[str, float] = {}
    for key in mix.values:
        amount = mix.number(key, low=0.0, high=1e6)
        if not slug(key):
            raise row.fault("mix", quoted(key), f'the name of a paint, or "{THIS_PAINT}"')
        own = slug(key) in {slug(THIS_PAINT), slug(own_name)}
        name = THIS_PAINT if own else " ".join(key.split())
        if slug(name) in {slug(other) for other in parts}:
            raise row.fault("mix", f"{quoted(key)} twice", "each paint once")
        if amount > 0.0:
            parts[name] = amount
    if THIS_PAINT not in parts:
        raise row.fault(
            "mix",
            f"no parts of {THIS_PAINT}",
            f'"{THIS_PAINT}" among the others, such as {{ "{THIS_PAINT}" = 1, "titanium white" = 9 }}',
        )
    return tuple(parts.items())
