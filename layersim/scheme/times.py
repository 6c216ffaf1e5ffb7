"""How long things take at the bench: drying by kind of paint, and the hands-on minutes of one step.

Every default is common practice, no source, and can be edited in a scheme's ``[times]`` table. Drying is
told by what carries the paint; a kind of paint may ask for longer, and of a mix the slowest counts.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from layersim.paint import CARRIERS, KINDS, Paint
from layersim.tables import Table

BETWEEN: Final = ("shield", "mask")
"""How the other areas are kept from overspray: by a card held before them and by aim, or by masks."""
MOST_MINUTES: Final = 60.0 * 24 * 60
MOST_HOURS: Final = 24.0 * 60


@dataclass(frozen=True)
class Drying:
    """How long a dry-looking film must rest before the next thing is done to it."""

    flash_min: float = 0.0
    """Between two coats of one step."""
    recoat_min: float = 0.0
    """Before another paint goes over it."""
    mask_h: float = 0.0
    """Before a mask is laid on it."""
    wash_h: float = 0.0
    """Before an oil wash or a brushed one."""
    varnish_h: float = 0.0
    handle_h: float = 0.0
    """Before it is handled."""

    def or_longer(self, other: Drying) -> Drying:
        """Return the longer of each time."""
        names = [entry.name for entry in dataclasses.fields(self)]
        return Drying(**{name: max(getattr(self, name), getattr(other, name)) for name in names})


USUAL_DRYING: Final[Mapping[str, Drying]] = {
    "water": Drying(flash_min=5, recoat_min=30, mask_h=12, wash_h=24, varnish_h=24, handle_h=24),
    "solvent": Drying(flash_min=10, recoat_min=60, mask_h=24, wash_h=24, varnish_h=24, handle_h=24),
    "oil": Drying(flash_min=30, recoat_min=1440, mask_h=48, wash_h=48, varnish_h=48, handle_h=48),
    "two-pack": Drying(flash_min=15, recoat_min=720, mask_h=24, wash_h=24, varnish_h=24, handle_h=48),
    "primer": Drying(recoat_min=60),
    "wash": Drying(recoat_min=60),
    "varnish": Drying(recoat_min=60, mask_h=24, wash_h=24),
}
"""Of carriers, and of kinds that ask for longer; common practice, no source."""
UNKNOWN_CARRIER: Final = "solvent"
"""A paint whose file does not say what carries it is given the times of these."""


@dataclass(frozen=True)
class Times:
    """Everything about time that a scheme's ``[times]`` table can say."""

    session_h: float = 3.0
    """How long one sits at the bench."""
    every_h: float = 24.0
    """From one sitting's start to the next's."""
    between: str = BETWEEN[0]
    """One of :data:`BETWEEN`."""
    set_up_min: float = 20.0
    """Getting a sitting ready and tidying up after it, cleaning the airbrush left out."""
    airbrush_min: float = 1.0
    """Laying one coat, one pass of pre-shade, or one brushed coat on one area of one model."""
    pass_min: float = 0.1
    """Laying one coat, one pass of pre-shade, or one brushed coat on one area of one model."""
    brush_min: float = 4.0
    """Laying one coat, one pass of pre-shade, or one brushed coat on one area of one model."""
    fill_min: float = 2.0
    """Mixing and filling; rinsing between two mixes; stripping and cleaning the airbrush."""
    flush_min: float = 3.0
    """Mixing and filling; rinsing between two mixes; stripping and cleaning the airbrush."""
    clean_out_min: float = 10.0
    """Mixing and filling; rinsing between two mixes; stripping and cleaning the airbrush."""
    mask_min: float = 3.0
    """Laying a mask on one area of one model and lifting it again."""
    drying: Mapping[str, Drying] = field(default_factory=lambda: dict(USUAL_DRYING))
    """By carrier and by kind of paint."""

    def drying_of(self, paint: Paint) -> Drying:
        """Return how long a film of a paint must rest, by its carrier and its kind."""
        carried = self.drying[paint.carrier or UNKNOWN_CARRIER]
        return carried.or_longer(self.drying.get(paint.kind, Drying()))


_USUAL: Final = Times()
_MINUTES: Final = (
    "set_up_min",
    "airbrush_min",
    "pass_min",
    "brush_min",
    "fill_min",
    "flush_min",
    "clean_out_min",
    "mask_min",
)


def read_times(top: Table) -> Times:
    """Return the ``[times]`` table of a scheme, or the defaults where there is none.

    `top` is the top of the scheme.
    """
    table = top.table("times")
    if table is None:
        return _USUAL
    attempt = table.document.attempt

    def minutes(key: str) -> float:
        return attempt(lambda: table.number(key, getattr(_USUAL, key), low=0.0, high=MOST_MINUTES), 0.0)

    session_h = attempt(lambda: table.number("session_h", _USUAL.session_h, above=0.0, high=24.0), 24.0)
    drying = dict(USUAL_DRYING)
    for row in (*CARRIERS, *KINDS):
        if row in table:
            drying[row] = attempt(lambda row=row: _drying(table, row, drying.get(row, Drying())), Drying())  # type: ignore[misc]
    times = Times(
        session_h=session_h,
        every_h=attempt(
            lambda: table.number("every_h", max(session_h, _USUAL.every_h), low=session_h, high=MOST_HOURS),
            session_h,
        ),
        between=attempt(lambda: table.choice("between", BETWEEN, _USUAL.between), _USUAL.between),
        drying=drying,
        **{key: minutes(key) for key in _MINUTES},
    )
    table.no_other_keys()
    return times


def _drying(times: Table, key: str, usual: Drying) -> Drying:
    table = times.table(key)
    if table is None:  # pragma: no cover - asked only where it is there
        raise AssertionError
    attempt = table.document.attempt
    found = {}
    for entry in dataclasses.fields(usual):
        high = MOST_MINUTES if entry.name.endswith("_min") else MOST_HOURS
        default: float = getattr(usual, entry.name)
        found[entry.name] = attempt(
            lambda name=entry.name, default=default, high=high: table.number(  # type: ignore[misc]
                name, default, low=0.0, high=high
            ),
            default,
        )
    table.no_other_keys()
    return Drying(**found)


def times_text(times: Times) -> str:
    """Return times as a table to paste into a scheme and edit."""
    rows = ["[times]     # defaults: common practice, no source"]
    rows += [f"session_h = {times.session_h:g}", f"every_h = {times.every_h:g}"]
    rows.append(f'between = "{times.between}"     # {" or ".join(BETWEEN)}')
    rows += [f"{key} = {getattr(times, key):g}" for key in _MINUTES]
    for name, drying in times.drying.items():
        said = ((entry.name, getattr(drying, entry.name)) for entry in dataclasses.fields(drying))
        rows += ["", f"[times.{name}]", *(f"{key} = {value:g}" for key, value in said if value)]
    return "\n".join(rows) + "\n"
