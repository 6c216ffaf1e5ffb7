"""What to mix for a batch: drops and millilitres, what that rests on, what to buy, and cautions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

from layersim.chance import COVERED
from layersim.paint import film_words
from layersim.plan.cautions import Caution
from layersim.plan.records import SURE, Amount, MixQuantity, Part, Quantities
from layersim.plan.shopping import Purchase, purchases
from layersim.plan.surfaces import cm2_words
from layersim.plan.volume import ml_words
from layersim.views import parts
from layersim.views.parts import Heading, TablePart, View, Words
from layersim.views.words import models_words

_LEAST_SHARE: Final = 0.05
MOST_COUNTED: Final = 20
"""Drops of thinner beyond which millilitres are told, too."""


def view(found: Quantities) -> View:
    """Return the page of a batch's quantities."""
    models = found.scheme.batch.models
    bought, slips = purchases(found)
    shown: list[parts.Part] = []
    for quantity in found.mixes:
        shown += _mix(quantity)
    shown += [Heading("In all"), _totals(found, bought)]
    shown += [Heading("How sure this is"), *_doubts(found)]
    shown += [Heading("What this rests on", "write your own numbers under [batch]"), *_basis(found)]
    shown += [Words(["To print these drops beside their coats: layersim card SCHEME"])]
    shown += care(found.cautions)
    return View(
        title=f"{found.scheme.name}: what to mix for {models_words(models)}",
        aside=f"Ranges hold {100 * COVERED:.0f} % of what hand, bottles and figures would give.",
        parts=shown,
        notices=(*found.notices, *slips),
        viewing=found.scheme.viewing,
    )


def care(warned: Sequence[Caution], aside: str = "") -> list[parts.Part]:
    """Return cautions, each with the paints that it is for; nothing without any."""
    lines = [f"{', '.join(one.paints)}: {one.words}" if one.paints else one.words for one in warned]
    return [Heading("Take care", aside), Words(lines, kind="list")] if lines else []


def drops_words(mixed: Sequence[Part], *, fillings: int = 1, starred: Sequence[Part] = ()) -> str:
    """Return the drops of one filling, such as "10 drops navy blue + 2 blue ink + 12 thinner".

    Thinner beyond what anybody counts in drops is told in millilitres, too; the parts' millilitres are those
    of all fillings together. Parts that are `starred` have a star at their number.
    """
    words = []
    for i, part in enumerate(mixed):
        unit = "" if i else "drop " if part.drops == 1 else "drops "
        name = part.name if part.paint else f"thinner{thinner_ml_words(part, fillings=fillings)}"
        words.append(f"{part.drops}{'*' if part in starred else ''} {unit}{name}")
    return " + ".join(words)


def thinner_ml_words(thinner: Part, *, fillings: int) -> str:
    """Return thinner in millilitres for one filling, in brackets; empty where its drops are soon counted.

    >>> thinner_ml_words(Part("thinner", None, 73, 7.3), fillings=2)
    ' (3.65 ml)'
    >>> thinner_ml_words(Part("thinner", None, 12, 0.6), fillings=1)
    ''
    """
    return f" ({ml_words(thinner.ml / fillings)})" if thinner.drops > MOST_COUNTED else ""


def _range_words(low: float, high: float) -> str:
    return f"{ml_words(low).removesuffix(' ml')} to {ml_words(high)}"


def _mix(quantity: MixQuantity) -> list[parts.Part]:
    areas = ", ".join(dict.fromkeys(use.area for use in quantity.uses))
    brushed = " (brushed)" if quantity.uses[0].by == "brush" else ""
    lasts = f"lasts in {100.0 * quantity.enough:.0f} of 100 cases"
    needed = _range_words(quantity.need_low_ml, quantity.need_high_ml)
    cause = f"; in doubt above all: {quantity.causes[0].what}" if quantity.causes else ""
    lines = [f"needed {ml_words(quantity.need_ml)} ({needed}); {lasts}{cause}"]
    if quantity.sure.mix_ml > quantity.mix_ml:
        lines.append(f"to be sure {SURE * 10:.0f} times in 10: {filling_words(quantity.sure)}")
    if len(quantity.parts) == 1:
        [part] = quantity.parts
        drop_ml = part.ml / (part.drops * quantity.fillings)
        start = max(1, math.floor(quantity.need_low_ml / drop_ml))
        if start < part.drops * quantity.fillings:
            count = "1 drop" if start == 1 else f"{start} drops"
            lines.append(f"no ratio to keep: start with {count} and add as needed")
    if thinner := _thinner_words(quantity):
        lines.append(thinner)
    if quantity.rounding_delta_e >= 0.05:
        shift = f"ΔE00 {quantity.rounding_delta_e:.1f} at the finish"
        lines.append(f"whole drops instead of the exact ratio: {shift}")
    shown: list[parts.Part] = [
        Heading(f"{quantity.name}{brushed}", areas),
        Words([filling_words(quantity)], kind="strong"),
        Words(lines),
    ]
    if quantity.warnings:
        shown.append(Words([warning.words for warning in quantity.warnings], kind="warning"))
    return shown


def filling_words(quantity: MixQuantity | Amount, *, stars: bool = False) -> str:
    """Return the drops of a mix and what they come to; with a star at those too few to be repeated."""
    few = quantity.few if stars and isinstance(quantity, MixQuantity) else ()
    drops = drops_words(quantity.parts, fillings=quantity.fillings, starred=few)
    if quantity.fillings == 1:
        return f"{drops} = {ml_words(quantity.mix_ml)}"
    return f"{quantity.fillings} fillings of {drops}; {ml_words(quantity.mix_ml)} in all"


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


def _totals(found: Quantities, bought: Sequence[Purchase]) -> TablePart:
    asked = found.scheme.batch.owned is not None
    rows = []
    for one in bought:
        row = [
            one.total.name,
            ml_words(one.total.mix_ml),
            _range_words(one.total.need_low_ml, one.total.need_high_ml),
        ]
        if asked:
            owned = "" if one.owned_ml is None else ml_words(one.owned_ml) if one.owned_ml else "none"
            row += [owned, one.words]
        rows.append(row)
    heads = ["", "to mix", "needed", *(["owned", ""] if asked else [])]
    return TablePart(heads, rows, right=(1, 3))


def _doubts(found: Quantities) -> list[parts.Part]:
    total = f"{ml_words(found.need_ml)} ({_range_words(found.need_low_ml, found.need_high_ml)})"
    rows = [
        [f"{cause.share:.0%}", f"{cause.what}: {cause.advice}"]
        for cause in found.causes[:4]
        if cause.share >= _LEAST_SHARE
    ]
    shown: list[parts.Part] = [Words([f"All mixes together need {total}. What the range comes from:"])]
    if rows:
        known = _range_words(found.known_low_ml, found.known_high_ml)
        shown += [
            TablePart(["", ""], rows, right=(0,)),
            Words([f"If the first were known, the range would be {known}."]),
        ]
    return shown


def _basis(found: Quantities) -> list[parts.Part]:
    same = (
        "Every step of the shade axis is taken to have the same share of the surface "
        f"(places_error {100 * found.scheme.batch.places_error:.0f} %)."
    )
    return [TablePart(["", "", ""], list(_basis_rows(found)), faint=True), Words([same], kind="faint")]


def _basis_rows(found: Quantities) -> Iterable[tuple[str, str, str]]:
    batch = found.scheme.batch
    if found.figure_cm2 is not None:
        yield ("one model", found.figure_cm2.words("cm²"), found.figure_cm2.basis)
    for surface in found.surfaces:
        yield (surface.name, cm2_words(surface.cm2.value), surface.cm2.basis)
    tools = {use.by for quantity in found.mixes for use in quantity.uses}
    if "airbrush" in tools:
        efficiency, loss = batch.transfer_efficiency, batch.loss_ml
        yield ("transfer_efficiency", efficiency.words(), efficiency.basis)
        yield ("loss_ml", loss.words("ml"), loss.basis)
        yield ("cup_ml", f"{batch.cup_ml:g} ml", "what the cup holds")
    if "brush" in tools:
        yield ("brush_efficiency", batch.brush_efficiency.words(), batch.brush_efficiency.basis)
        yield ("brush_loss_ml", batch.brush_loss_ml.words("ml"), batch.brush_loss_ml.basis)
    yield ("drop_ul", batch.drop_ul.words("µl"), batch.drop_ul.basis)
    yield (
        "touch_up, reserve",
        f"{100 * batch.touch_up:.0f} %, {100 * batch.reserve:.0f} %",
        "common practice, no source",
    )
    if batch.primer_coats and any(use.step == "primer" for one in found.mixes for use in one.uses):
        grounds = {area.ground.name: area.ground for area in found.scheme.areas}
        films = ", ".join(f"{name} {film_words(g.dry_film_um)} dry a coat" for name, g in grounds.items())
        yield ("primer_coats", f"{batch.primer_coats}", f"{films}; 0 leaves the primer out")
