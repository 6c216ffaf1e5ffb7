"""What a scheme says about the batch: how many models, how large, and how the paint gets onto them.

Every number has a default, so that a scheme without a ``[batch]`` table can be answered, too; each
default says what it rests on. A number may be given as ``[low, high]``, a range that holds 90 %.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, NamedTuple

from layersim.errors import MissingSprayerError, SprayerFileError, StockFileError, nearest_hint, quoted
from layersim.estimate import COMMON_PRACTICE, Estimate
from layersim.files import inside_folder
from layersim.paintfile import slug
from layersim.scheme.figures import SIZES, USUAL, surface_of_size
from layersim.sprayer import Sprayer, find_sprayer
from layersim.tables import Document, Table, shown

STOCK_FORMAT: Final = 1
MOST_MODELS: Final = 10_000
MOST_SURFACE_CM2: Final = 100_000.0
TOOLS: Final = ("airbrush", "brush")
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


@dataclass(frozen=True)
class Extent:
    """How much of a model one area is; by default an equal part of what the others leave."""

    surface_cm2: Estimate | None = None
    """Estimate or None; Of one model."""
    share: float | None = None
    """Float or None; Of the model's surface instead."""


class Owned(NamedTuple):
    """A paint that somebody owns, and how much of it."""

    name: str
    ml: float


@dataclass(frozen=True)
class Batch:
    """The batch and how the paint gets onto it."""

    models: int = 1
    size: str = USUAL
    """One of :data:`layersim.scheme.figures.SIZES`."""
    surface_cm2: Estimate | None = None
    """Surface of one model, where it was given: goes before the size."""
    mesh: Path | None = None
    """A mesh of one model: goes before the size."""
    mesh_mm: float = 1.0
    """Millimetres to one unit of the mesh."""
    touch_up: float = 0.05
    """Paint kept for touching up, as a share of the work's."""
    transfer_efficiency: Estimate = TRANSFER
    """Share of the solids that stays on the work, 0..1, sprayed."""
    brush_efficiency: Estimate = BRUSH
    """The same, brushed."""
    drop_ul: Estimate = DROP_UL
    cup_ml: float = 7.0
    """What the cup holds."""
    loss_ml: Estimate = LOSS_ML
    """What stays in cup and hose each time a mix is cleaned away."""
    brush_loss_ml: Estimate = BRUSH_LOSS_ML
    """What stays on palette and brush each time."""
    reserve: float = 0.10
    """Mixed on top of everything, as a share."""
    primer_coats: int = 2
    """Coats of the primer; 0 leaves it out."""
    solids_error: float = 0.10
    """Relative error of a paint's volume solids, one standard deviation."""
    places_error: float = 0.30
    """The same of how much surface lies where a coat lands."""
    shares_error: float = 0.15
    """The same of an area's share of the model."""
    sprayer: Sprayer | None = None
    owned: tuple[Owned, ...] | None = field(default=None)
    """None where nobody said."""

    @property
    def sized(self) -> Estimate:
        """The surface of one model as given, else its size class's, cm²."""
        return self.surface_cm2 or surface_of_size(self.size)


_USUAL: Final = Batch()


def read_batch(top: Table) -> Batch:
    """Return the ``[batch]`` table of a scheme, or the defaults where there is none.

    `top` is the top of the scheme.
    """
    table = top.table("batch")
    if table is None:
        return _USUAL
    attempt = table.document.attempt
    sprayer = attempt(lambda: _sprayer(table), None)
    usual = _from_sprayer(sprayer)

    def share(key: str, default: float) -> float:
        return attempt(lambda: table.number(key, default, low=0.0, high=2.0), default)

    def estimate(key: str, default: Estimate, low: float, high: float) -> Estimate:
        return attempt(lambda: read_estimate(table, key, default, low=low, high=high), default)

    batch = Batch(
        models=attempt(lambda: table.whole("models", usual.models, low=1, high=MOST_MODELS), 1),
        size=attempt(lambda: table.choice("size", SIZES, usual.size), usual.size),
        surface_cm2=attempt(lambda: read_surface(table), None),
        mesh=attempt(lambda: _mesh(table), None),
        mesh_mm=attempt(lambda: table.number("mesh_mm", 1.0, above=0.0, high=10_000.0), 1.0),
        touch_up=share("touch_up", usual.touch_up),
        transfer_efficiency=estimate("transfer_efficiency", usual.transfer_efficiency, 0.001, 1.0),
        brush_efficiency=estimate("brush_efficiency", usual.brush_efficiency, 0.001, 1.0),
        drop_ul=estimate("drop_ul", usual.drop_ul, 1.0, 1000.0),
        cup_ml=attempt(lambda: table.number("cup_ml", usual.cup_ml, low=0.2, high=10_000.0), usual.cup_ml),
        loss_ml=estimate("loss_ml", usual.loss_ml, 0.0, 1000.0),
        brush_loss_ml=estimate("brush_loss_ml", usual.brush_loss_ml, 0.0, 1000.0),
        reserve=share("reserve", usual.reserve),
        primer_coats=attempt(lambda: table.whole("primer_coats", usual.primer_coats, low=0, high=100), 0),
        solids_error=share("solids_error", usual.solids_error),
        places_error=share("places_error", usual.places_error),
        shares_error=share("shares_error", usual.shares_error),
        sprayer=sprayer,
        owned=attempt(lambda: _owned(table), None),
    )
    with table.document.gather():
        ways = [key for key in ("surface_cm2", "size", "mesh") if key in table]
        if len(ways) > 1:
            raise table.fault(None, " and ".join(ways), "one of surface_cm2, size and mesh")
    table.no_other_keys()
    return batch


def read_extent(area: Table) -> Extent:
    """Return how much of the model an area is."""
    if "surface_cm2" in area and "share" in area:
        raise area.fault(None, "both surface_cm2 and share", "one of them")
    surface = read_surface(area)
    share = area.number("share", above=0.0, high=1.0) if "share" in area else None
    return Extent(surface, share)


def read_tool(coat: Table, *, local: bool) -> str:
    """Return what a coat is laid with; a local effect is brushed unless it says otherwise."""
    return coat.choice("by", TOOLS, TOOLS[1] if local else TOOLS[0])


def read_surface(table: Table) -> Estimate | None:
    """Return the key ``surface_cm2``, None where it is left out."""
    if "surface_cm2" not in table:
        return None
    usual = Estimate(1.0, GIVEN_ERROR)
    return read_estimate(table, "surface_cm2", usual, low=0.01, high=MOST_SURFACE_CM2)


def read_estimate(table: Table, key: str, default: Estimate, *, low: float, high: float) -> Estimate:
    """Return a number, or a range ``[low, high]`` that holds 90 %; a number keeps the default's error."""
    if key not in table:
        return default
    if isinstance(table.values[key], str):
        hint = "Write the number alone, without quotes or unit."
        raise table.fault(key, shown(table.values[key]), "one number, or [low, high]", hint)
    values = table.numbers(key, low=low, high=high)
    if len(values) == 1:
        return Estimate(values[0], default.error, f"{_AS_GIVEN}; its error is assumed")
    if len(values) != 2 or not 0.0 < values[0] <= values[1]:
        found = shown(table.values[key]) if len(values) != 2 else f"[{values[0]:g}, {values[1]:g}]"
        raise table.fault(key, found, "one number, or [low, high] above zero, the lower first")
    return Estimate.within(values[0], values[1], _AS_GIVEN)


def _from_sprayer(sprayer: Sprayer | None) -> Batch:
    if sprayer is None:
        return _USUAL
    return Batch(
        transfer_efficiency=sprayer.transfer_efficiency or TRANSFER, drop_ul=sprayer.drop_ul or DROP_UL
    )


def _sprayer(table: Table) -> Sprayer | None:
    if "sprayer" not in table:
        return None
    name = table.name("sprayer")
    try:
        return find_sprayer(name, table.document.path.parent)
    except MissingSprayerError as fault:
        raise table.fault("sprayer", quoted(name), fault.expected.rstrip(".")) from None
    except SprayerFileError as fault:
        raise table.fault("sprayer", quoted(name), "a profile that can be used", str(fault)) from None


def _mesh(table: Table) -> Path | None:
    if "mesh" not in table:
        return None
    return _beside(table, "mesh", "a mesh file beside the scheme file, or below it")


def _beside(table: Table, key: str, expected: str) -> Path:
    named = table.text(key)
    path = inside_folder(named, table.document.path.parent)
    try:
        there = path is not None and path.is_file()
    except OSError:  # a name too long for any file
        there = False
    if path is None or not there:
        raise table.fault(key, quoted(named), expected)
    return path


def _owned(table: Table) -> tuple[Owned, ...] | None:
    if "owned" not in table:
        return None
    if isinstance(table.values["owned"], str):
        path = _beside(table, "owned", "a file of paints beside the scheme file, or { name = ml, ... }")
        return read_stock(path)
    listed = table.table("owned")
    return None if listed is None else _amounts(listed)


def read_stock(path: Path) -> tuple[Owned, ...]:
    """Return the paints that somebody owns, from a file.

    Raises StockFileError with everything that is wrong in it.
    """
    document = Document(path, what="stock", error=StockFileError)
    top = document.top
    with document.gather():
        document.check_format(STOCK_FORMAT)
    nothing: tuple[Owned, ...] = ()
    found = nothing
    with document.gather():
        listed = top.table("ml")
        if listed is None:
            raise top.fault("ml", "nothing", 'a heading [ml], and below it lines such as "navy blue" = 17')
        found = _amounts(listed)
    top.no_other_keys()
    document.finish()
    return found


def _amounts(listed: Table) -> tuple[Owned, ...]:
    attempt = listed.document.attempt
    amounts: dict[str, Owned] = {}
    for name in listed.values:
        ml = attempt(functools.partial(listed.number, name, low=0.0, high=100_000.0), 0.0)
        with listed.document.gather():
            if slug(name) in amounts:
                raise listed.fault(name, "a paint named before", "each paint once")
        amounts[slug(name)] = Owned(name, ml)
    return tuple(amounts.values())


def unknown_owned(owned: tuple[Owned, ...], used: Mapping[str, str]) -> list[str]:
    """Return a sentence for each owned paint whose name looks like a slip for one that is used.

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
