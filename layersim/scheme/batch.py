"""What a scheme says about the batch: how many models, how large, and how the paint gets onto them.

Every number has a default, so that a scheme without a ``[batch]`` table can be answered, too; each
default says what it rests on. A number may be given as ``[low, high]``, a range that holds 90 %.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final, NamedTuple

from layersim.documents.document import Document
from layersim.documents.keys import Key, keys_of, read_keys
from layersim.documents.kinds import Kind, number, special, whole, word
from layersim.documents.table import Table, shown
from layersim.errors import MissingSprayerError, SprayerFileError, StockFileError, nearest_hint, quoted
from layersim.estimate import COMMON_PRACTICE, Estimate
from layersim.files import inside_folder, is_file
from layersim.names import FINDABLE, slug
from layersim.scheme.figures import SIZES, USUAL, surface_of_size
from layersim.sprayer import Sprayer, find_sprayer

STOCK_FORMAT: Final = 1
MOST_MODELS: Final = 10_000
MOST_SURFACE_CM2: Final = 100_000.0
TOOLS: Final = ("airbrush", "brush")
MOST_OWNED: Final = 500
"""Paints that somebody owns."""
GIVEN_ERROR: Final = 0.10
"""Relative error of a surface that is given as one number (an assumption)."""
MESH_ERROR: Final = 0.15
"""Relative error of a mesh's surface as the surface to paint (an assumption: what is hidden counts)."""
EQUAL_ERROR: Final = 0.50
"""Relative error of an area's share where nobody gave one and all are taken as equal (an assumption)."""

TRANSFER: Final = Estimate.within(0.15, 0.40, f"small figures, 15 to 40 %: {COMMON_PRACTICE}")
BRUSH: Final = Estimate(0.90, 0.05, f"a brush: {COMMON_PRACTICE}")
DROP_UL: Final = Estimate(50.0, 0.25, "the metric drop, 1/20 ml; real droppers give 20 to 70 µl")
LOSS_ML: Final = Estimate.within(0.25, 1.0, f"cup, needle and hose: {COMMON_PRACTICE}")
BRUSH_LOSS_ML: Final = Estimate.within(0.05, 0.20, f"palette and brush: {COMMON_PRACTICE}")
_AS_GIVEN: Final = "as given"


def _estimate(low: float, high: float, *, unit: str = "") -> Kind:
    """Return the kind of a number, or of a range that holds 90 %; a number keeps the default's error."""

    def read(table: Table, key: str, usual: Estimate | None) -> Estimate:
        value = table.values[key]
        if isinstance(value, str) and "%" not in value:
            hint = "Write the number alone, without quotes or unit."
            raise table.fault(key, shown(value), "one number, or [low, high]", hint)
        if isinstance(value, str):
            values = [table.number(key, low=low, high=high)]
        else:
            values = table.numbers(key, low=low, high=high)
        if len(values) == 1:
            error = GIVEN_ERROR if usual is None else usual.error
            return Estimate(values[0], error, f"{_AS_GIVEN}; its error is assumed")
        if len(values) != 2 or not 0.0 < values[0] <= values[1]:
            found = shown(value) if len(values) != 2 else f"[{values[0]:g}, {values[1]:g}]"
            raise table.fault(key, found, "one number, or [low, high] above zero, the lower first")
        return Estimate.within(values[0], values[1], _AS_GIVEN)

    said = f"a number from {low:g} to {high:g}, or a range [low, high]"
    return Kind(read, said + (f", {unit}" if unit else ""))


_SURFACE: Final = _estimate(0.01, MOST_SURFACE_CM2, unit="cm²")
_ERROR: Final = number(0.0, 2.0)


@dataclass(frozen=True)
class Extent:
    """How much of a model one area is; by default an equal part of what the others leave."""

    surface_cm2: Annotated[Estimate | None, Key(_SURFACE, "of this area on one model")] = None
    share: Annotated[float | None, Key(number(above=0, high=1), "of the model's surface instead")] = None


EXTENT_KEYS: Final = keys_of(Extent)


class Owned(NamedTuple):
    """A paint that somebody owns, and how much of it."""

    name: str
    ml: float


def _sprayer(table: Table, key: str) -> Sprayer:
    name = table.name(key)
    try:
        return find_sprayer(name, table.document.path.parent)
    except MissingSprayerError as fault:
        raise table.fault(key, quoted(name), fault.expected.rstrip(".")) from None
    except SprayerFileError as fault:
        raise table.fault(key, quoted(name), "a profile that can be used", str(fault)) from None


def _beside(table: Table, key: str, expected: str) -> Path:
    named = table.text(key)
    path = inside_folder(named, table.document.path.parent)
    if path is None or not is_file(path):
        raise table.fault(key, quoted(named), expected)
    return path


def _mesh(table: Table, key: str) -> Path:
    return _beside(table, key, "a mesh file beside the scheme file, or below it")


def _owned(table: Table, key: str) -> tuple[Owned, ...] | None:
    if isinstance(table.values[key], str):
        return read_stock(
            _beside(table, key, "a file of paints beside the scheme file, or { name = ml, ... }")
        )
    listed = table.table(key)
    return None if listed is None else _amounts(listed)


@dataclass(frozen=True)
class Batch:
    """The batch and how the paint gets onto it."""

    models: Annotated[int, Key(whole(1, MOST_MODELS), "how many are painted alike")] = 1
    size: Annotated[str, Key(word(tuple(SIZES)), "of one model")] = USUAL
    surface_cm2: Annotated[Estimate | None, Key(_SURFACE, "of one model, instead of its size")] = None
    mesh: Annotated[Path | None, Key(special(_mesh, "a file"), "of one model, instead of its size")] = None
    mesh_mm: Annotated[
        float, Key(number(above=0, high=10_000, unit="mm"), "millimetres to one unit of the mesh")
    ] = 1.0
    touch_up: Annotated[float, Key(_ERROR, "paint kept for touching up, as a share of the work's")] = 0.05
    transfer_efficiency: Annotated[
        Estimate, Key(_estimate(0.001, 1.0), "share of the solids that stays on the work, sprayed")
    ] = TRANSFER
    brush_efficiency: Annotated[Estimate, Key(_estimate(0.001, 1.0), "the same, brushed")] = BRUSH
    drop_ul: Annotated[Estimate, Key(_estimate(1.0, 1000.0, unit="µl"), "one drop")] = DROP_UL
    cup_ml: Annotated[float, Key(number(0.2, 10_000, unit="ml"), "what the cup holds")] = 7.0
    loss_ml: Annotated[
        Estimate, Key(_estimate(0, 1000, unit="ml"), "what stays in cup and hose when a mix is cleaned away")
    ] = LOSS_ML
    brush_loss_ml: Annotated[
        Estimate, Key(_estimate(0, 1000, unit="ml"), "the same on palette and brush")
    ] = BRUSH_LOSS_ML
    reserve: Annotated[float, Key(_ERROR, "mixed on top of everything, as a share")] = 0.10
    primer_coats: Annotated[int, Key(whole(0, 100), "coats of the primer; 0 leaves it out")] = 2
    solids_error: Annotated[float, Key(_ERROR, "relative error of a paint's volume solids")] = 0.10
    places_error: Annotated[float, Key(_ERROR, "relative error of how much lies where a coat lands")] = 0.30
    shares_error: Annotated[float, Key(_ERROR, "relative error of an area's share of the model")] = 0.15
    sprayer: Annotated[
        Sprayer | None, Key(special(_sprayer, "name of a profile"), "whose numbers stand for those left out")
    ] = None
    owned: Annotated[
        tuple[Owned, ...] | None,
        Key(
            special(_owned, f"a file, or {{ name = ml, ... }}, {MOST_OWNED} at most"),
            "paints on hand; nobody said where it is left out",
        ),
    ] = None

    @property
    def sized(self) -> Estimate:
        """The surface of one model as given, else its size class's, cm²."""
        return self.surface_cm2 or surface_of_size(self.size)


BATCH_KEYS: Final = keys_of(Batch)


def read_batch(table: Table | None) -> Batch:
    """Return what the ``[batch]`` table of a scheme says, the defaults where there is none."""
    if table is None:
        return Batch()
    document = table.document
    keys = dict(BATCH_KEYS)
    sprayer: Sprayer | None = document.attempt(
        functools.partial(keys["sprayer"].read, table, "sprayer"), None
    )
    for name in ("transfer_efficiency", "drop_ul"):
        if sprayer is not None and (own := getattr(sprayer, name)):
            keys[name] = dataclasses.replace(keys[name], default=own)
    # Read already: a fault of it is told once.
    keys["sprayer"] = Key(special(lambda *_: sprayer, ""), default=None, field="sprayer")
    values = read_keys(table, keys)
    with document.gather():
        ways = [key for key in ("surface_cm2", "size", "mesh") if key in table]
        if len(ways) > 1:
            raise table.fault(None, " and ".join(ways), "one of surface_cm2, size and mesh")
    return Batch(**values)


def read_extent(area: Table, values: Mapping[str, Any]) -> Extent:
    """Return how much of the model an area is, of the values that were read of it."""
    with area.document.gather():
        if "surface_cm2" in area and "share" in area:
            raise area.fault(None, "both surface_cm2 and share", "one of them")
    return Extent(values["surface_cm2"], values["share"])


STOCK_KEYS: Final = {
    "ml": Key(
        special(lambda table, key: table.table(key), f'lines such as "navy blue" = 17, {MOST_OWNED} at most'),
        "millilitres of each paint",
        None,
    )
}


def read_stock(path: Path) -> tuple[Owned, ...]:
    """Return the paints that somebody owns, from a file.

    Raises StockFileError with everything that is wrong in it.
    """
    document = Document(path, what="stock", error=StockFileError, keys=STOCK_KEYS)
    top = document.top
    with document.gather():
        document.check_format(STOCK_FORMAT)
    listed = read_keys(top, STOCK_KEYS)["ml"]
    found: tuple[Owned, ...] = ()
    with document.gather():
        if listed is not None:
            found = _amounts(listed)
        elif not document.problems:
            raise top.fault("ml", "nothing", 'a heading [ml], and below it lines such as "navy blue" = 17')
    document.finish()
    return found


def _amounts(listed: Table) -> tuple[Owned, ...]:
    if len(listed.values) > MOST_OWNED:
        raise listed.fault(None, f"{len(listed.values)} paints", f"at most {MOST_OWNED}")
    amounts: dict[str, Owned] = {}
    for name in listed.values:
        ml = listed.document.attempt(functools.partial(listed.number, name, low=0.0, high=100_000.0), 0.0)
        with listed.document.gather():
            if not slug(name):
                raise listed.fault(name, quoted(name), FINDABLE)
            if slug(name) in amounts:
                raise listed.fault(name, "a paint named before", "each paint once")
        amounts[slug(name)] = Owned(name, ml)
    return tuple(amounts.values())


def unknown_owned(owned: tuple[Owned, ...], used: Mapping[str, str]) -> list[str]:
    """Return a sentence for each owned paint whose name looks like a slip for one in use.

    `used` has the names of the paints in use by their slugs.
    """
    have = {slug(entry.name) for entry in owned}
    open_names = [name for key, name in used.items() if key not in have]
    found = []
    for entry in owned:
        if slug(entry.name) not in used:
            hint = nearest_hint(entry.name, open_names, listed=False) if open_names else ""
            if hint:
                found.append(f"owned: {quoted(entry.name)} is not used here. {hint.rstrip('?')}?")
    return found
