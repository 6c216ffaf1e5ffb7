"""What was really sprayed, on its way into the log: checked, added, and looked at for slips.

Every way in, typed or by the page, is this one. `mark` stands before the names of what was given, as dashes
do before those of options.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from layersim.colour import Viewing, lab_of_hex
from layersim.documents.typed import three_numbers
from layersim.errors import LayersimError, UnknownNameError, nearest_hint, quoted
from layersim.learn.beside import Compared, compared
from layersim.learn.really import (
    THINNER,
    CoatCount,
    coats_so_far,
    known_area,
    known_step,
    paint_names,
    slug,
    step_names,
    strange_drops,
)
from layersim.log import MOST_BAR, SCREEN_DOUBT, Chip, Entry, EntryError, add_entry, read_log
from layersim.scheme.records import Scheme
from layersim.spectra import FloatArray

BAR_PER_PSI = 0.0689476


@dataclass(frozen=True, eq=False)
class Added:
    """An entry that is in the log now, and what it comes to."""

    entry: Entry
    path: Path
    chips: tuple[Compared, ...]
    """Its chips beside their predictions."""
    so_far: CoatCount
    before: Entry | None
    """The entry before it."""
    strange: tuple[str, ...]
    """Paints whose drops it gives, and that its step's mix does not have."""


def new_entry(
    scheme: Scheme,
    *,
    text: str,
    area: str,
    step: str,
    at: datetime | None = None,
    coats: int | None = None,
    drops: Iterable[tuple[str, float]] = (),
    pressure_bar: float | None = None,
    cup_loss_g: float | None = None,
    card_gain_g: float | None = None,
    sprayer: str = "",
    photograph: str = "",
    chips: Sequence[Chip] = (),
    note: str = "",
    mark: str = "",
) -> Entry:
    """Return an entry as it goes into the log; raises LayersimError for what cannot have been sprayed.

    `text` is the scheme's, as it stands now; `at` is now by default.
    """
    of = scheme.areas[known_area(scheme, area)]
    stage = known_step(of, step)
    if pressure_bar is not None and not 0.0 < pressure_bar <= MOST_BAR:
        psi = f" {pressure_bar:g} psi are {pressure_bar * BAR_PER_PSI:.2g} bar." if pressure_bar > 0.0 else ""
        raise LayersimError(
            f"{mark}pressure: found {pressure_bar:g}; expected bar, above 0, at most {MOST_BAR:g}.{psi}"
        )
    counted, note = _drops(drops, scheme, mark), " ".join(note.split())
    numbers = (coats, pressure_bar, cup_loss_g, card_gain_g)
    if all(number is None for number in numbers) and not (counted or photograph or chips or note):
        raise LayersimError(
            "found nothing beside area and coat; expected what you laid or measured: coats, drops, a "
            "pressure, what the cup lost or a card gained, a chip, a photograph or a note"
        )
    named = scheme.batch.sprayer
    factor = named.film_factor if named is not None else None
    return Entry(
        at=at or datetime.now(),
        area=of.name,
        step=step_names(of)[stage],
        coats=coats,
        drops=counted,
        pressure_bar=pressure_bar,
        cup_loss_g=cup_loss_g,
        card_gain_g=card_gain_g,
        sprayer=sprayer or (named.name if named is not None else ""),
        photograph=photograph,
        chips=tuple(chips),
        note=note,
        scheme=text,
        film_factor=None if factor is None else factor.value,
    )


def _drops(given: Iterable[tuple[str, float]], scheme: Scheme, mark: str) -> dict[str, float]:
    used = {THINNER: THINNER, **{slug(name): name for name in paint_names(scheme)}}
    drops: dict[str, float] = {}
    for name, count in given:
        if slug(name) not in used:
            hint = nearest_hint(name, used.values(), kind="paints")
            raise UnknownNameError(f"{mark}drops: no paint {quoted(name)} in this scheme. {hint}")
        if used[slug(name)] in drops:
            raise LayersimError(
                f"{mark}drops: found {quoted(used[slug(name)])} twice; expected each paint once"
            )
        drops[used[slug(name)]] = count
    return drops


def typed_chip(tone: str | float, text: str, *, light: str = "D65") -> Chip | None:
    """Return a chip whose colour is typed: ``L,a,b`` as measured, or ``#rrggbb`` off a screen; else None."""
    if text.strip().startswith("#"):
        try:
            return seen_chip(tone, lab_of_hex(text.strip()), SCREEN_DOUBT, Viewing())
        except ValueError:
            return None
    lab = three_numbers(text)
    return None if lab is None else Chip(tone, lab=lab, light=light)


def seen_chip(tone: str | float, lab: FloatArray, doubt: float, viewing: Viewing) -> Chip:
    """Return a chip that was seen in a picture; `doubt` as of :class:`Chip`."""
    L, a, b = (round(float(value), 2) + 0.0 for value in lab)
    return Chip(
        tone,
        lab=(min(max(L, 0.0), 100.0), a, b),
        light=viewing.light,
        observer=viewing.observer,
        doubt=round(doubt, 1),
    )


def enter(path: Path, entry: Entry, scheme: Scheme, *, folders: Sequence[Path] = ()) -> Added:
    """Add an entry to a log, and return what it comes to.

    Raises LayersimError if the entry says what none can, and OutputError if the log can't be written.
    """
    try:
        add_entry(path, entry)
    except EntryError as fault:
        raise LayersimError(f"{fault}") from None
    log = read_log(path)
    entry = log.entries[-1]
    return Added(
        entry=entry,
        path=path,
        chips=compared(scheme, log, entry=entry, folders=folders).rows,
        so_far=coats_so_far(scheme, log, area=entry.area, step=entry.step),
        before=log.entries[-2] if len(log.entries) > 1 else None,
        strange=strange_drops(scheme, entry),
    )
