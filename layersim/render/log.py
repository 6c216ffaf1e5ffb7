"""What a log says, as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layersim.decide.words import joined, size_words
from layersim.learn.films import Learned
from layersim.learn.really import CoatCount, Compared
from layersim.log import Entry, Log
from layersim.paint import film_words
from layersim.scheme.records import Scheme


def log_text(scheme: Scheme, log: Log, rows: Sequence[Compared]) -> str:
    """Return what was sprayed, and predicted against real.

    Parameters
    ----------
    scheme : Scheme
    log : Log
    rows : sequence of Compared

    Returns
    -------
    str
    """
    if not log.entries and not log.aside:
        return f"{log.path}: nothing logged yet. Add what you sprayed, for example:\n  {_example(scheme)}"
    lines = [f"{scheme.name}: what was really sprayed", ""]
    by_entry: dict[int, list[Compared]] = {}
    for row in rows:
        by_entry.setdefault(id(row.measured.entry), []).append(row)
    for entry in log.entries:
        lines.append(entry_words(entry))
        lines += [f"    {_chip_words(row)}" for row in by_entry.get(id(entry), [])]
    if rows:
        off = np.array([row.delta_e for row in rows])
        chips = "one chip" if len(rows) == 1 else f"{len(rows)} chips"
        lines += [
            "",
            f"Predicted against real, {chips}: mean ΔE00 {off.mean():.1f}, at most {off.max():.1f} "
            f"({size_words(float(off.mean()))}).",
        ]
    notices = dict.fromkeys(text for row in rows for text in row.measured.notices)
    lines += [f"Note: {text}." for text in notices]
    for aside in log.aside:
        lines.append(f"Set aside, line {aside.line}, {aside.text}: {aside.why}. It is still in the file.")
    return "\n".join(lines)


def _example(scheme: Scheme) -> str:
    """Return what a painter types to log the first coat of a scheme."""
    area = scheme.areas[0]
    name = scheme.path.name if scheme.path is not None else "SCHEME"
    step, coats = (area.coats[0].name, area.coats[0].coats) if area.coats else ("primer", 2)
    return f'layersim log "{name}" add --area "{area.name}" --step "{step}" --coats {coats}'


def entry_words(entry: Entry) -> str:
    """Return what one entry says, on a line.

    Parameters
    ----------
    entry : Entry

    Returns
    -------
    str
    """
    said = []
    if entry.coats is not None:
        said.append(f"{entry.coats} coat{'' if entry.coats == 1 else 's'}")
    if entry.drops:
        said.append("drops " + ", ".join(f"{count:g} {name}" for name, count in entry.drops.items()))
    for value, words in (
        (entry.pressure_bar, "{:g} bar"),
        (entry.cup_loss_g, "cup lost {:g} g"),
        (entry.card_gain_g, "card gained {:g} g"),
    ):
        if value is not None:
            said.append(words.format(value))
    said += [part for part in (entry.sprayer, entry.photograph, entry.note) if part]
    tail = f": {'; '.join(said)}" if said else ""
    return f"{entry.at:%Y-%m-%d %H:%M}  {entry.area}, {entry.step}{tail}"


def total_words(count: CoatCount) -> str:
    """Return how many coats of a step are logged so far, against the scheme.

    Parameters
    ----------
    count : CoatCount

    Returns
    -------
    str
        Empty where no entry gives coats; with a hint where entries add up to more than planned.
    """
    if not count.entries:
        return ""
    coats = "one coat" if count.laid == 1 else f"{count.laid} coats"
    plan = "gives its greys, no coats" if count.planned is None else f"has {count.planned}"
    told = f"{count.step} on {count.area}: {coats} so far; the scheme {plan}"
    if count.entries < 2 or count.planned is None or count.laid <= count.planned:
        return f"{told}."
    return (
        f"{told}. The coats of {count.entries} entries add up: log further chips of the same coats without "
        "--coats. If this entry was such a chip: layersim log SCHEME take-back, then add it without --coats."
    )


def _chip_words(row: Compared) -> str:
    def lab(values: Sequence[float]) -> str:
        L, a, b = np.round(values, 1) + 0.0
        return f"{L:.1f} {a:.1f} {b:.1f}"

    tone = row.measured.chip.tone
    place = tone if isinstance(tone, str) else f"L* {tone:g}"
    real, predicted = row.measured.lab, row.predicted
    return (
        f"{place:<7} predicted {lab(predicted.tolist())}, real {lab(real.tolist())}: ΔE00 {row.delta_e:.1f} "
        f"({size_words(row.delta_e)})"
    )


def learned_text(learned: Learned) -> str:
    """Return what chips say about films.

    Parameters
    ----------
    learned : Learned

    Returns
    -------
    str
    """
    chips = "one chip" if learned.chips == 1 else f"{learned.chips} chips"
    lines = [
        f"From {chips}: mean ΔE00 {learned.before:.1f} as planned, {learned.after:.1f} with these films."
    ]
    if learned.left_out:
        left = "One chip" if learned.left_out == 1 else f"{learned.left_out} chips"
        lines.append(f"{left} of other sprayers left out: {joined(list(learned.others))}.")
    if learned.too_few:
        lines.append(f"{chips[0].upper()}{chips[1:]}: too little to rely on.")
    if learned.film_factor is not None:
        factor = learned.film_factor
        lines.append(
            f"This sprayer's film per coat is {factor.words()} of what the paints' files suggest "
            f"({factor.basis}; range 90 %)."
        )
    else:
        lines.append(
            "Every film here is given by the scheme, so the sprayer's own factor cannot be told: leave "
            "dry_film_um out where the paint's own film is meant."
        )
    for coat in learned.coats:
        lines.append(
            f"  {coat.scheme}, {coat.area}, {coat.step}: planned {film_words(coat.planned_um)} dry a coat, "
            f"came out as {coat.film_um.words('µm')}"
        )
    given = [coat for coat in learned.coats if not coat.own]
    if given:
        names = joined([f"{coat.step} of {coat.area}" for coat in given])
        lines.append(
            f"The scheme itself gives the film of {names}: to plan with what came out, write it there "
            "(dry_film_um)."
        )
    lines += [f"Note: {text}." for text in learned.notices]
    return "\n".join(lines)
