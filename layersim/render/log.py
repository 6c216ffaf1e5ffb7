"""What a log says, as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layersim import colour
from layersim.decide.words import joined, light_words, size_words
from layersim.errors import quoted
from layersim.learn.films import Learned
from layersim.learn.really import PRESHADE, CoatCount, Compared
from layersim.log import Chip, Entry, Log
from layersim.names import slug
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
        lines.append(entry_text(entry, by_entry.get(id(entry), [])))
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


def entry_text(entry: Entry, rows: Sequence[Compared] = ()) -> str:
    """Return all that one entry says, a line a chip.

    Parameters
    ----------
    entry : Entry
    rows : sequence of Compared
        Its chips beside their predictions; empty where nothing was predicted.

    Returns
    -------
    str
    """
    chips = [_compared_words(row) for row in rows] or [_chip_words(chip) for chip in entry.chips]
    return "\n".join([_entry_words(entry), *(f"    {words}" for words in chips)])


def _entry_words(entry: Entry) -> str:
    said = []
    if entry.coats is not None:
        said.append(_laid_words(entry.coats, entry.step))
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


def _laid_words(count: int, step: str) -> str:
    """Return coats in words; a pre-shade's are passes."""
    one = "pass" if slug(step) == slug(PRESHADE) else "coat"
    many = "passes" if one == "pass" else "coats"
    return f"{count} {one if count == 1 else many}"


def total_words(count: CoatCount, entry: Entry) -> str:
    """Return how many coats of a step are logged so far, against the scheme.

    Parameters
    ----------
    count : CoatCount
    entry : Entry
        The last one.

    Returns
    -------
    str
        Empty where no entry gives coats; with a hint where this one makes them more than planned.
    """
    if not count.entries:
        return ""
    _, coats = _laid_words(2, count.step).split()
    plan = f"gives its greys, no {coats}" if count.planned is None else f"has {count.planned}"
    told = f"{count.step} on {count.area}: {_laid_words(count.laid, count.step)} so far; the scheme {plan}."
    too_many = count.entries > 1 and count.planned is not None and count.laid > count.planned
    if entry.coats is None or not too_many:
        return told
    told = f"{told} The {coats} of {count.entries} entries add up: "
    if not entry.chips:
        return f"{told}if these are not further ones, layersim log SCHEME take-back."
    return (
        f"{told}log further chips of the same {coats} without --coats. If this entry was such a chip: "
        "layersim log SCHEME take-back, then add it without --coats."
    )


def entry_notices(
    entry: Entry, before: Entry | None, rows: Sequence[Compared], strange: Sequence[str]
) -> list[str]:
    """Return what looks like a slip in an entry that was just added.

    Parameters
    ----------
    entry : Entry
    before : Entry or None
        The entry before it.
    rows : sequence of Compared
        Its chips beside their predictions.
    strange : sequence of str
        Paints that its step's mix does not have.

    Returns
    -------
    list of str
    """
    take_back = "If it is a slip: layersim log SCHEME take-back"
    said = []
    if strange:
        names = joined([quoted(name) for name in strange])
        are, count = ("is", "counts") if len(strange) == 1 else ("are", "count")
        said.append(
            f"{names} {are} not in the scheme's mix for {entry.step}, and {count} for nothing in predictions"
        )
    if before is not None and (slug(before.area), slug(before.step)) == (slug(entry.area), slug(entry.step)):
        again = [_place_words(chip) for chip in entry.chips if chip in before.chips]
        if again:
            said.append(f"{joined(again)}: exactly as in the entry before. {take_back}")
    for row in rows:
        if row.is_far:
            place = _place_words(row.measured.chip)
            said.append(
                f"{place} is ΔE00 {row.delta_e:.0f} from its prediction; 90 % of outcomes lie within "
                f"{row.reach:.0f}. {take_back}"
            )
    return said


def _lab_words(values: Sequence[float]) -> str:
    L, a, b = np.round(values, 1) + 0.0
    return f"{L:.1f} {a:.1f} {b:.1f}"


def _place_words(chip: Chip) -> str:
    return chip.tone if isinstance(chip.tone, str) else f"L* {chip.tone:g}"


def _real_words(chip: Chip) -> str:
    light = "" if chip.light == "D65" else f" under {light_words(chip.light)}"
    if chip.lab is not None:
        return _lab_words(chip.lab) + light
    lab = colour.lab(np.array(chip.reflectance), colour.Viewing(chip.light, chip.observer))
    return f"{_lab_words(lab.tolist())}{light}, from a spectrum"


def _chip_words(chip: Chip) -> str:
    """Return a chip as it was measured, with nothing beside it."""
    return f"{_place_words(chip):<7} {_real_words(chip)}"


def _compared_words(row: Compared) -> str:
    chip, predicted = row.measured.chip, _lab_words(row.predicted.tolist())
    return (
        f"{_place_words(chip):<7} predicted {predicted}, real {_real_words(chip)}: ΔE00 {row.delta_e:.1f} "
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
