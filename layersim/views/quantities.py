"""What to mix for a batch, in words."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

from layersim.paint import film_words
from layersim.plan.cautions import Caution
from layersim.plan.records import SURE, Amount, MixQuantity, Part, Quantities
from layersim.plan.shopping import Purchase
from layersim.plan.surfaces import cm2_words
from layersim.plan.volume import ml_words
from layersim.scheme.prediction import COVERED

_WIDTH = 108
_LEAST_SHARE = 0.05
MOST_COUNTED: Final = 20
"""Drops of thinner beyond which millilitres are told, too."""


def quantities_text(
    found: Quantities,
    *,
    bought: Sequence[Purchase],
    warned: Sequence[Caution],
    notices: Sequence[str] = (),
) -> str:
    """Return what to mix, what it adds up to, what it rests on, and what to be careful with.

    `notices`: besides those of `found`.
    """
    models = found.scheme.batch.models
    count = "one model" if models == 1 else f"{models} models"
    rows = [
        f"{found.scheme.name}: what to mix for {count}",
        f"Ranges hold {100 * COVERED:.0f} % of what hand, bottles and figures would give.",
        "",
    ]
    for quantity in found.mixes:
        rows += _mix_rows(quantity)
    rows += ["", *_total_rows(found, bought), "", *_doubt_rows(found), "", *_basis_rows(found)]
    for notice in (*found.notices, *notices):
        rows += _wrapped(f"Note: {notice}" if notice.endswith("?") else f"Note: {notice}.")
    rows.append("To print these drops beside their steps, with what [batch] says: layersim card SCHEME")
    rows += ["", "Take care"]
    rows += caution_lines(warned)
    return "\n".join(rows)


def caution_lines(warned: Sequence[Caution]) -> list[str]:
    """Return cautions in lines, the paints that they are for before them."""
    each = [f"{', '.join(one.paints)}: {one.words}" if one.paints else one.words for one in warned]
    return [line for words in each for line in _wrapped(f"- {words}", indent="  ", hanging="    ")]


def drops_words(parts: Sequence[Part], *, fillings: int = 1) -> str:
    """Return the drops of one filling in words.

    `fillings`: ≥ 1; how many there are, over which the parts' millilitres are shared. Returns such as
    "10 drops navy blue + 2 blue ink + 12 thinner"; thinner beyond what anybody counts in drops, in
    millilitres, too.
    """
    words = []
    for i, part in enumerate(parts):
        unit = ("drop " if part.drops == 1 else "drops ") if i == 0 else ""
        if part.paint is None:
            words.append(f"{part.drops} {unit}thinner{thinner_ml_words(part, fillings=fillings)}")
        else:
            words.append(f"{part.drops} {unit}{part.name}")
    return " + ".join(words)


def thinner_ml_words(thinner: Part, *, fillings: int) -> str:
    """Return thinner in millilitres for one filling, in brackets; empty where its drops are soon counted.

    `fillings`: ≥ 1.

    >>> thinner_ml_words(Part("thinner", None, 73, 7.3), fillings=2)
    ' (3.65 ml)'
    >>> thinner_ml_words(Part("thinner", None, 12, 0.6), fillings=1)
    ''
    """
    return f" ({ml_words(thinner.ml / fillings)})" if thinner.drops > MOST_COUNTED else ""


def _range_words(low: float, high: float) -> str:
    return f"{ml_words(low).removesuffix(' ml')} to {ml_words(high)}"


def _mix_rows(quantity: MixQuantity) -> Iterable[str]:
    areas = ", ".join(dict.fromkeys(use.area for use in quantity.uses))
    brushed = " (brushed)" if quantity.uses[0].by == "brush" else ""
    yield f"{quantity.name}{brushed}    {areas}"
    yield from _wrapped(_filling_words(quantity), indent="    ")
    lasts = f"lasts in {100.0 * quantity.enough:.0f} of 100 cases"
    needed = _range_words(quantity.need_low_ml, quantity.need_high_ml)
    cause = f"; in doubt above all: {quantity.causes[0].what}" if quantity.causes else ""
    yield from _wrapped(f"needed {ml_words(quantity.need_ml)} ({needed}); {lasts}{cause}", indent="    ")
    if quantity.sure.mix_ml > quantity.mix_ml:
        larger = f"to be sure {SURE * 10:.0f} times in 10: {_filling_words(quantity.sure)}"
        yield from _wrapped(larger, indent="    ", hanging="      ")
    if len(quantity.parts) == 1:
        [part] = quantity.parts
        drop_ml = part.ml / (part.drops * quantity.fillings)
        start = max(1, math.floor(quantity.need_low_ml / drop_ml))
        if start < part.drops * quantity.fillings:
            count = "1 drop" if start == 1 else f"{start} drops"
            yield f"    no ratio to keep: start with {count} and add as needed"
    yield from _wrapped(_thinner_words(quantity), indent="    ")
    if quantity.rounding_delta_e >= 0.05:
        shift = f"ΔE00 {quantity.rounding_delta_e:.1f} at the finish"
        yield f"    whole drops instead of the exact ratio: {shift}"
    for warning in quantity.warnings:
        yield from _wrapped(f"! {warning.words}", indent="    ", hanging="      ")


def _filling_words(quantity: MixQuantity | Amount) -> str:
    drops = drops_words(quantity.parts, fillings=quantity.fillings)
    if quantity.fillings == 1:
        return f"{drops}  =  {ml_words(quantity.mix_ml)}"
    return f"{quantity.fillings} fillings of the cup, each {drops};  {ml_words(quantity.mix_ml)} in all"


def _thinner_words(quantity: MixQuantity) -> str:
    """Return why there is not as much thinner as the ratio asks for; empty where there is."""
    *paints, last = quantity.parts
    exact = round(quantity.mix.thinning * sum(part.drops for part in paints), 1)
    if last.paint is not None or abs(last.drops - exact) < 0.75:
        return ""
    return (
        f"thinner: exactly in the ratio would be {exact:g} drops; {last.drops} bring the amount nearer to "
        "what is needed, and leave the paints' ratio as it is"
    )


def _total_rows(found: Quantities, bought: Sequence[Purchase]) -> Iterable[str]:
    asked = found.scheme.batch.owned is not None
    wide = max([len("in all"), *(len(one.total.name) for one in bought)])
    head = f"{'In all':<{wide + 2}}{'to mix':>10}   {'needed':<22}"
    yield (head + (f"{'owned':>10}" if asked else "")).rstrip()
    for one in bought:
        row = f"  {one.total.name:<{wide}}{ml_words(one.total.mix_ml):>10}   "
        row += f"{_range_words(one.total.need_low_ml, one.total.need_high_ml):<22}"
        if one.owned_ml is not None:
            row += f"{ml_words(one.owned_ml) if one.owned_ml else 'none':>10}  {one.words}"
        yield row.rstrip()


def _doubt_rows(found: Quantities) -> Iterable[str]:
    total = f"{ml_words(found.need_ml)} ({_range_words(found.need_low_ml, found.need_high_ml)})"
    yield f"All mixes together need {total}. What the range comes from:"
    for cause in found.causes[:4]:
        if cause.share >= _LEAST_SHARE:
            yield f"  {cause.share:>4.0%}  {cause.what}: {cause.advice}"
    if found.causes:
        known = _range_words(found.known_low_ml, found.known_high_ml)
        yield f"  If the first were known, the range would be {known}."


def _basis_rows(found: Quantities) -> Iterable[str]:
    batch = found.scheme.batch
    yield "What this rests on; write your own numbers under [batch]"
    if found.figure_cm2 is not None:
        yield from _basis("one model", found.figure_cm2.words("cm²"), found.figure_cm2.basis)
    for surface in found.surfaces:
        yield from _basis(surface.name, cm2_words(surface.cm2.value), surface.cm2.basis)
    tools = {use.by for quantity in found.mixes for use in quantity.uses}
    if "airbrush" in tools:
        efficiency, loss = batch.transfer_efficiency, batch.loss_ml
        yield from _basis("transfer_efficiency", efficiency.words(), efficiency.basis)
        yield from _basis("loss_ml", loss.words("ml"), loss.basis)
        yield from _basis("cup_ml", f"{batch.cup_ml:g} ml", "what the cup holds")
    if "brush" in tools:
        yield from _basis("brush_efficiency", batch.brush_efficiency.words(), batch.brush_efficiency.basis)
        yield from _basis("brush_loss_ml", batch.brush_loss_ml.words("ml"), batch.brush_loss_ml.basis)
    yield from _basis("drop_ul", batch.drop_ul.words("µl"), batch.drop_ul.basis)
    yield from _basis(
        "touch_up, reserve",
        f"{100 * batch.touch_up:.0f} %, {100 * batch.reserve:.0f} %",
        "common practice, no source",
    )
    if batch.primer_coats and any(use.step == "primer" for one in found.mixes for use in one.uses):
        grounds = {area.ground.name: area.ground for area in found.scheme.areas}
        films = ", ".join(f"{name} {film_words(g.dry_film_um)} dry a coat" for name, g in grounds.items())
        yield from _basis("primer_coats", f"{batch.primer_coats}", f"{films}; 0 leaves the primer out")
    yield from _wrapped(
        "Every step of the shade axis is taken to have the same share of the surface "
        f"(places_error {100 * batch.places_error:.0f} %).",
        indent="  ",
    )


def _basis(key: str, value: str, basis: str) -> Iterable[str]:
    yield from _wrapped(f"{key:<20} {value:<22} {basis}", indent="  ", hanging=" " * 46)


def _wrapped(text: str, *, indent: str = "", hanging: str | None = None) -> list[str]:
    after = indent if hanging is None else hanging
    # Runs of blanks align columns and must stay.
    return textwrap.wrap(text, _WIDTH, initial_indent=indent, subsequent_indent=after, break_on_hyphens=False)
