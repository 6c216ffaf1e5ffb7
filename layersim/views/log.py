"""What a log says, and what it teaches, in words: lists of sentences and rows of tables.

`command` is how the log was called, "layersim log my-scheme.toml", so that what is advised can be typed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layersim import colour
from layersim.errors import quoted
from layersim.learn.beside import Compared, LogComparison
from layersim.learn.films import CoatFilm, Learned
from layersim.learn.nextchip import Wanted
from layersim.learn.really import PRESHADE, CoatCount, Unused
from layersim.learn.then import no_copy_words
from layersim.log import Chip, Entry
from layersim.names import slug
from layersim.paint import film_words
from layersim.scheme.records import Scheme
from layersim.views.parts import View, Words
from layersim.views.words import joined, light_words, size_words

_MUCH = 0.97
"""A chip is asked for where it narrows the range by so much at the least."""


def page(title: str, lines: Sequence[str]) -> View:
    """Return a page of what is said of a log: its first line, and the others."""
    return View(title, [Words([line for line in lines if line])])


def example(scheme: Scheme, command: str) -> str:
    """Return what a painter types to log the first coat of a scheme."""
    area = scheme.areas[0]
    step, coats = (area.coats[0].name, area.coats[0].coats) if area.coats else ("primer", 2)
    return f'{command} add --area "{area.name}" --coat "{step}" --coats {coats}'


def comparison_lines(answer: LogComparison, scheme: Scheme, command: str) -> list[str]:
    """Return what was sprayed, and predicted against real."""
    log = answer.log
    if not log.entries and not log.aside:
        return [
            f"{log.path}: nothing logged yet. Add what you sprayed, for example:",
            f"  {example(scheme, command)}",
        ]
    lines = [f"{answer.name}: what was really sprayed", ""]
    of_entry: dict[int, list[Compared]] = {}
    for row in answer.rows:
        of_entry.setdefault(id(row.measured.entry), []).append(row)
    for entry in log.entries:
        lines += entry_lines(entry, of_entry.get(id(entry), []))
    if answer.rows:
        off = np.array([row.delta_e for row in answer.rows])
        lines += [
            "",
            f"Predicted against real, {_count(len(off))}: mean ΔE00 {off.mean():.1f}, at most "
            f"{off.max():.1f} ({size_words(float(off.mean()))}).",
        ]
    lines += [f"Note: {_left_words(row)}." for row in answer.rows if row.turned or row.unexplained]
    lines += [f"Note: {unused_words(one)}." for one in answer.unused]
    lines += [f"Note: {no_copy_words(one)}." for one in answer.no_copies]
    for aside in log.aside:
        lines.append(f"Set aside, line {aside.line}, {aside.text}: {aside.why}. It is still in the file.")
    return lines


def entry_lines(entry: Entry, rows: Sequence[Compared] = ()) -> list[str]:
    """Return all that one entry says, a line a chip; `rows` are its chips where they were predicted."""
    chips = [_compared_words(row) for row in rows] or [
        f"{_place_words(chip):<7} {_real_words(chip)}" for chip in entry.chips
    ]
    return [_entry_words(entry), *(f"    {words}" for words in chips)]


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
    """Return coats in words; a preshade's are passes."""
    one, many = ("pass", "passes") if slug(step) == slug(PRESHADE) else ("coat", "coats")
    return f"{count} {one if count == 1 else many}"


def _compared_words(row: Compared) -> str:
    place, predicted, real, delta_e, size = compared_row(row)
    return f"{place:<7} predicted {predicted}, real {real}: ΔE00 {delta_e} ({size})"


def compared_row(row: Compared) -> tuple[str, str, str, str, str]:
    """Return a chip's place, its predicted and its real colour, ΔE00, and that in words."""
    chip = row.measured.chip
    return (
        _place_words(chip),
        _lab_words(row.predicted.tolist()),
        _real_words(chip),
        f"{row.delta_e:.1f}",
        size_words(row.delta_e),
    )


def total_lines(count: CoatCount, entry: Entry, command: str) -> list[str]:
    """Return how many coats of a step are logged so far, against the scheme; `entry` is the last one."""
    if not count.entries:
        return []
    coats = _laid_words(2, count.step).split()[1]
    plan = f"gives its greys, no {coats}" if count.planned is None else f"has {count.planned}"
    told = f"{count.step} on {count.area}: {_laid_words(count.laid, count.step)} so far; the scheme {plan}."
    too_many = count.entries > 1 and count.planned is not None and count.laid > count.planned
    if entry.coats is None or not too_many:
        return [told]
    told = f"{told} The {coats} of {count.entries} entries add up: "
    if not entry.chips:
        return [f"{told}if these are not further ones, {command} take-back."]
    return [
        f"{told}log further chips of the same {coats} without --coats. If this entry was such a chip: "
        f"{command} take-back, then add it without --coats."
    ]


def slip_words(
    entry: Entry, before: Entry | None, rows: Sequence[Compared], strange: Sequence[str], command: str
) -> list[str]:
    """Return what looks like a slip in an entry that was just added after the one before it.

    `rows` are its chips beside their predictions, `strange` the paints that its step's mix does not have.
    """
    take_back = f"If it is a slip: {command} take-back"
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
        if row.turned:
            said.append(f"{turned_words(row)}. {take_back}")
        elif row.is_far:
            said.append(
                f"{_place_words(row.measured.chip)} is ΔE00 {row.delta_e:.0f} from its prediction; 90 % of "
                f"outcomes lie within {row.reach:.0f}. {take_back}"
            )
    return said


def turned_words(row: Compared) -> str:
    """Return which chip looks as if a sign were reversed, and what it may have been."""
    one = row.measured
    meant = one.lab * [1.0, -1.0 if row.turned == "a*" else 1.0, -1.0 if row.turned == "b*" else 1.0]
    return (
        f"{_place_words(one.chip)} of {one.entry.step} on {one.entry.area}, {_lab_words(one.lab.tolist())}, "
        f"looks like {_lab_words(meant.tolist())} with {row.turned} reversed"
    )


def _left_words(row: Compared) -> str:
    if row.turned:
        return f"{turned_words(row)}. Enter it again with the right sign"
    one = row.measured
    return (
        f"{_place_words(one.chip)} of {one.entry.step} on {one.entry.area} is ΔE00 {row.delta_e:.0f} from "
        "its prediction, farther than films and bottles explain; perhaps it was another paint, coat or place"
    )


def unused_words(one: Unused) -> str:
    """Return which entry counts for nothing, and why."""
    return f"line {one.line} of {one.path.name} counts for nothing: {one.why.rstrip('.')}"


def _lab_words(values: Sequence[float]) -> str:
    L, a, b = np.round(values, 1) + 0.0
    return f"{L:.1f} {a:.1f} {b:.1f}"


def _place_words(chip: Chip) -> str:
    return chip.tone if isinstance(chip.tone, str) else f"L* {chip.tone:g}"


def _real_words(chip: Chip) -> str:
    light = "" if chip.light == "D65" else f" under {light_words(chip.light)}"
    if chip.lab is not None:
        doubt = "" if chip.doubt is None else f" ± {chip.doubt:.2g}"
        return _lab_words(chip.lab) + doubt + light
    lab = colour.lab(np.array(chip.reflectance), colour.Viewing(chip.light, chip.observer))
    return f"{_lab_words(lab.tolist())}{light}, from a spectrum"


def learned_lines(learned: Learned, command: str) -> list[str]:
    """Return what chips say about films, and which chip would say most."""
    chips = _count(learned.chips)
    lines = [
        f"From {chips}: mean ΔE00 {learned.before:.1f} as planned, {learned.after:.1f} with these films."
    ]
    if learned.left_out:
        lines.append(f"{_count(learned.left_out)} of other sprayers left out: {joined(learned.others)}.")
    if learned.too_few:
        lines.append(f"{chips[0].upper()}{chips[1:]}: too little to rely on.")
    if (factor := learned.film_factor) is not None:
        lines.append(
            f"This sprayer's film per coat is {factor.words()} of what the paints' files suggest "
            f"({factor.basis}; range 90 %)."
        )
    else:
        lines.append(
            "Every film here is given by the scheme, so the sprayer's own factor cannot be told: leave "
            "dry_film_um out where the paint's own film is meant."
        )
    if (scatter := learned.film_scatter) is not None:
        share = f"{100.0 * scatter.value:.0f} % ({100.0 * scatter.low:.0f}-{100.0 * scatter.high:.0f} %)"
        lines.append(f"From one coat to the next its films vary by {share}: previews will count with that.")
    lines += [f"  {_film_words(coat)}" for coat in learned.coats]
    given = [f"{coat.step} of {coat.area}" for coat in learned.coats if not coat.own]
    if given:
        lines.append(
            f"The scheme itself gives the film of {joined(given)}: to plan with what came out, write it "
            "there (dry_film_um)."
        )
    lines += [f"Left out: {_left_words(row)}." for row in learned.slips]
    lines += [f"Note: {unused_words(one)}." for one in learned.unused]
    lines += [f"Note: {no_copy_words(one)}." for one in learned.no_copies]
    if learned.mixed:
        lines.append(
            f"Note: chips of {', '.join(learned.mixed)} are taken as one sprayer's; with --sprayer NAME only "
            "that one's are."
        )
    if learned.below:
        lines.append(
            f"Note: some of these chips lie on areas where {', '.join(learned.below)} sprayed, too; the "
            "films of those coats are taken as this sprayer's."
        )
    return lines + wanted_lines(learned.wanted, command)


def wanted_lines(wanted: Wanted | None, command: str) -> list[str]:
    """Return the one chip that would narrow the next preview most, and how to log it."""
    if wanted is None:
        return []
    if wanted.after > _MUCH * wanted.before:
        return ["No single chip would narrow the next preview of this scheme much any more."]
    return [
        f"The chip that would narrow the next preview most: {wanted.tone} of {wanted.step} on {wanted.area}. "
        f"It brings the finish from within about ΔE {wanted.before:.1f} to within {wanted.after:.1f}:",
        f'  {command} add --area "{wanted.area}" --coat "{wanted.step}" --chip "{wanted.tone}=L,a,b"',
    ]


def _film_words(coat: CoatFilm) -> str:
    return (
        f"{coat.scheme}, {coat.area}, {coat.step}: planned {film_words(coat.planned_um)} dry a coat, "
        f"came out as {coat.film_um.words('µm')}"
    )


def _count(chips: int) -> str:
    return "one chip" if chips == 1 else f"{chips} chips"
