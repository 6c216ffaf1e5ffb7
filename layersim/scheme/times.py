"""How long things take at the bench: drying by kind of paint, and the hands-on minutes of one step.

Every default is common practice, no source, and can be edited in a scheme's ``[times]`` table. Drying is
told by what carries the paint; a kind of paint may ask for longer, and of a mix the slowest counts.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, Final

from layersim.documents.keys import Key, keys_of, read_keys, section
from layersim.documents.kinds import number, special, word
from layersim.documents.table import Table
from layersim.paint import CARRIERS, KINDS, Paint

BETWEEN: Final = ("shield", "mask")
"""How the other areas are kept from overspray: by a card held before them and by aim, or by masks."""
MOST_MINUTES: Final = 60.0 * 24 * 60
MOST_HOURS: Final = 24.0 * 60


_MINUTES: Final = number(0, MOST_MINUTES, unit="minutes")
_HOURS: Final = number(0, MOST_HOURS, unit="hours")


@dataclass(frozen=True)
class Drying:
    """How long a dry-looking film must rest before the next thing is done to it."""

    flash_min: Annotated[float, Key(_MINUTES, "before the same coat is laid again")] = 0.0
    recoat_min: Annotated[float, Key(_MINUTES, "before another paint goes over it")] = 0.0
    mask_h: Annotated[float, Key(_HOURS, "before a mask is laid on it")] = 0.0
    wash_h: Annotated[float, Key(_HOURS, "before an oil or brushed wash")] = 0.0
    varnish_h: Annotated[float, Key(_HOURS, "before varnish")] = 0.0
    handle_h: Annotated[float, Key(_HOURS, "before it is handled")] = 0.0

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

    session_h: Annotated[
        float, Key(number(above=0, high=24, unit="hours"), "how long one sits at the bench")
    ] = 3.0
    every_h: Annotated[
        float, Key(_HOURS, "from one sitting's start to the next's, no shorter than a sitting")
    ] = 24.0
    between: Annotated[
        str, Key(word(BETWEEN), "how the other areas are kept from overspray: a card held, or masks")
    ] = BETWEEN[0]
    set_up_min: Annotated[
        float, Key(_MINUTES, "getting a sitting ready and tidying up, cleaning left out")
    ] = 20.0
    airbrush_min: Annotated[float, Key(_MINUTES, "one coat on a whole model; an area takes its share")] = 1.0
    pass_min: Annotated[float, Key(_MINUTES, "one pass of preshade on a whole model")] = 0.1
    brush_min: Annotated[float, Key(_MINUTES, "one brushed coat on a whole model")] = 4.0
    fill_min: Annotated[float, Key(_MINUTES, "mixing and filling")] = 2.0
    flush_min: Annotated[float, Key(_MINUTES, "rinsing between two mixes")] = 3.0
    clean_out_min: Annotated[float, Key(_MINUTES, "stripping and cleaning the airbrush")] = 10.0
    mask_min: Annotated[float, Key(_MINUTES, "laying a mask on one area of one model and lifting it")] = 3.0
    drying: Mapping[str, Drying] = field(default_factory=lambda: dict(USUAL_DRYING))
    """By carrier and by kind of paint."""

    def drying_of(self, paint: Paint) -> Drying:
        """Return how long a film of a paint must rest, by its carrier and its kind."""
        carried = self.drying[paint.carrier or UNKNOWN_CARRIER]
        return carried.or_longer(self.drying.get(paint.kind, Drying()))


TIMES_KEYS: Final = keys_of(
    Times,
    **{
        row: Key(section(keys_of(Drying)), f"drying of {row}, where it differs from the usual", None)
        for row in (*CARRIERS, *KINDS)
    },
)


def read_times(table: Table | None) -> Times:
    """Return what the ``[times]`` table of a scheme says, the defaults where there is none."""
    if table is None:
        return Times()
    # A sitting must be read first: the next can't begin before it is over.
    session_h = TIMES_KEYS["session_h"]
    least = table.document.attempt(lambda: session_h.read(table, "session_h"), 24.0)
    every = Key(number(least, MOST_HOURS), default=max(least, Times().every_h), field="every_h")
    first = Key(special(lambda *_: least, ""), default=least, field="session_h")
    values = read_keys(table, {**TIMES_KEYS, "session_h": first, "every_h": every})
    drying = dict(USUAL_DRYING)
    for row in (*CARRIERS, *KINDS):
        if (own := values.pop(row)) is not None:
            usual = drying.get(row, Drying())
            keys = {n: replace(key, default=getattr(usual, n)) for n, key in keys_of(Drying).items()}
            drying[row] = Drying(**read_keys(own, keys))
    return Times(**values, drying=drying)


def times_text(times: Times) -> str:
    """Return times as a table to paste into a scheme and edit."""
    rows = ["[times]     # defaults: common practice, no source"]
    rows += [f"session_h = {times.session_h:g}", f"every_h = {times.every_h:g}"]
    rows.append(f'between = "{times.between}"     # {" or ".join(BETWEEN)}')
    rows += [f"{key} = {getattr(times, key):g}" for key in vars(times) if key.endswith("_min")]
    for name, drying in times.drying.items():
        said = ((entry.name, getattr(drying, entry.name)) for entry in dataclasses.fields(drying))
        rows += ["", f"[times.{name}]", *(f"{key} = {value:g}" for key, value in said if value)]
    return "\n".join(rows) + "\n"
