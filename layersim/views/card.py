"""The card for the bench: what to mix, lay and tick, area by area, with the tones that it comes to."""

from __future__ import annotations

from typing import Final

from layersim.bench.content import BenchCard, CardArea, CardStep
from layersim.decide.eye import SEEN
from layersim.decide.targets import PLACE_WORDS
from layersim.decide.tolerance import Slip
from layersim.optics.flakes import TURNED
from layersim.paint import film_words
from layersim.plan.records import LEAST_DROPS
from layersim.plan.volume import ml_words
from layersim.scheme.records import Coat, GreysGiven
from layersim.views import words
from layersim.views.parts import Beside, Heading, Part, Places, Row, Strips, Task, Tasks, Tone, View, Words
from layersim.views.preview import lightness_words
from layersim.views.quantities import care, filling_words
from layersim.views.tolerance import slip_words, turn_word

_MOST_BOXES: Final = 6
"""Coats that get a tick box each; of more, one box for all."""
_MOST_NAMED: Final = 5
"""Other steps with the same mix that are named where it is mixed; of more, how many there are."""
_HEADS: Final = ("tick each coat", "tones after it, L*", "mix", "lay, then dry", "if it slips, the finish")
_WIDTHS: Final = (0.455, 0.31, 0.235)
_CHIPS: Final = "Spray a chip beside the models, keep it here, and judge by that."
_FOOT: Final = (
    f"* Under {LEAST_DROPS} drops cannot be repeated: weigh them, or mix the larger amount.",
    f"L* is lightness, 0 black to 100 white. ΔE00 is how far two colours are apart: {SEEN:g} is seen "
    f"side by side by half of all people, {words.STRIKING:g} is striking.",
    "Films are those of dry paint. Drops, drying times and tolerances are estimates, common practice and a "
    "model: no substitute for a test piece.",
)


def view(card: BenchCard) -> View:
    """Return the card, for a phone and for paper."""
    scheme = card.scheme
    models = words.models_words(scheme.batch.models)
    light = words.lamp_words(scheme.viewing.light)
    parts: list[Part] = [Words([scheme.note])] if scheme.note else []
    for area in card.areas:
        parts += _area(area)
    chips = Places("Real chip, what was measured and done", [area.name for area in card.areas])
    parts.append(
        Beside(
            [Heading("Real chips"), Words([_CHIPS]), chips],
            [*care(card.cautions), Words(_FOOT, kind="faint")],
        ),
    )
    return View(
        title=scheme.name,
        aside=f"Bench card for {models}. Tones predicted under {light}, deepest shadow on the left. "
        "Colours on paper and screens are not measured colours.",
        parts=parts,
        notices=card.notices,
        viewing=scheme.viewing,
        paper=True,
    )


def _area(area: CardArea) -> list[Part]:
    parts: list[Part] = [Heading(area.name)]
    sure = [
        f"9 of 10 finishes within ΔE00 {area.reach:.1f}, {words.size_words(area.reach)}"
        if area.reach > 0.05
        else "",
        f"most in doubt: {area.cause}" if area.cause else "",
        f"metal is shown turned by {TURNED:.0f}° from its glint" if area.is_metal else "",
    ]
    if any(sure):
        parts.append(Words(["; ".join(filter(None, sure))]))
    if area.targets:
        rows = [
            Row("finish", [Tone(one.finish, lightness_words(one.finish[0])) for one in area.targets]),
            Row("target", [Tone(one.wanted, lightness_words(one.wanted[0])) for one in area.targets]),
            Row("", [f"{PLACE_WORDS[one.key]}, ΔE00 {one.delta_e:.1f}" for one in area.targets]),
        ]
        parts.append(Strips(rows))
    tasks = [_task(area, step) for step in area.steps]
    return [*parts, Tasks(_HEADS, tasks, _WIDTHS)]


def _task(area: CardArea, step: CardStep) -> Task:
    boxes = step.coats if step.coats <= _MOST_BOXES else 1
    mix = "" if step.mix is None else filling_words(step.mix, stars=True)
    if step.mix is not None and step.mix.few:
        mix += f"; * weigh, or mix {ml_words(step.mix.repeatable_ml)}"
    lines = (
        [mix, *_mix_lines(area, step)],
        [_laid_words(area, step), f"dry {_drying_words(step)}"],
        [slips_words(step)],
    )
    return Task(
        name=step.name,
        tones=[Tone(lab, lightness_words(lab[0])) for lab in step.lab],
        columns=[[line for i, line in enumerate(column) if line or not i] for column in lines],
        ticks=["done"] if boxes == 1 else [f"coat {number}" for number in range(1, boxes + 1)],
    )


def _mix_lines(area: CardArea, step: CardStep) -> list[str]:
    """Return where else the mix is used, or where it comes from, and what to mind about it."""
    if step.mix is None:
        if not step.cup:
            return []
        first_area, first_step = step.cup[0]
        return [f"from the cup of {first_step if first_area == area.name else first_area}"]
    return [_shared_words(area, step), *(one.words for one in step.mix.warnings if one.key != "few")]


def _shared_words(area: CardArea, step: CardStep) -> str:
    uses = step.cup[1:]
    if len(uses) > _MOST_NAMED:
        return f"one cup with {len(uses)} other coats, named where they stand"
    others: dict[str, list[str]] = {}
    for where, name in uses:
        others.setdefault(name, []).append("this area" if where == area.name else where)
    each = [
        words.joined(areas) if name == step.name else f"{name} of {words.joined(areas)}"
        for name, areas in others.items()
    ]
    return f"one cup with {words.joined(each)}" if each else ""


def _laid_words(area: CardArea, step: CardStep) -> str:
    """Return how often and where a step is laid, and its dry film."""
    laid = step.laid
    if laid is None:
        return f"{words.counted(step.coats, 'coat')} everywhere"
    if isinstance(laid, GreysGiven):
        return f"1 coat from above, to L* {laid.darkest:g} in the shadow and {laid.lightest:g} in the light"
    if not isinstance(laid, Coat):
        return f"{laid.passes} passes from above to {film_words(laid.total_film_um)} in the light"
    brush = " by brush" if laid.by == "brush" else ""
    coats = f"{words.counted(laid.coats, 'coat')}{brush} of {film_words(laid.dry_film_um)}"
    return f"{coats} {_place(laid, has_preshade=area.has_preshade)}"


def _place(coat: Coat, *, has_preshade: bool) -> str:
    """Return where a coat lands by what can be seen on the model: how light its preshade is."""
    low, high = coat.where.lightest_from, coat.where.darkest_up_to
    on = "" if coat.patch is None else f"on {coat.coverage * 100:g} % of the area"
    if coat.where.everywhere:
        return on or "everywhere"
    unit = "L* {:g}" if has_preshade else "{:g} %"
    if low is not None and high is not None:
        span = f"{unit.format(low)} to {high:g}"
    else:
        span = f"under {unit.format(high)}" if low is None else f"over {unit.format(low)}"
    tones = f"where the preshade is {span}" if has_preshade else f"where it faces the light {span}"
    if coat.where.edge == 0.0:
        tones += ", up to a mask"
    return f"{on}, {tones}" if on else tones


def _drying_words(step: CardStep) -> str:
    between = f"{step.between_min:g} min between, then " if step.between_min else ""
    hours = step.rest_s / 3600
    rest = (
        f"{hours * 60:.0f} min"
        if hours < 1
        else f"{hours:.3g} h"
        if hours <= 48
        else f"{hours / 24:.3g} days"
    )
    return f"{between}{rest}{'' if step.before else ' before handling'}"


def slips_words(step: CardStep) -> str:
    """Return what the two slips that do most do to the finish, each by the tone that it changes most."""
    seen = [slip for slip in step.slips[:1] if slip.most >= SEEN]
    if seen or not step.slips:
        return "; ".join(_slip_words(slip) for slip in seen)
    return f"forgiving (ΔE00 {step.slips[0].most:.1f} at most)"


def _slip_words(slip: Slip) -> str:
    size = words.size_words(slip.most).removeprefix("to be ")
    turn = turn_word(slip)
    return f"{slip_words(slip)}: {size}{f', {turn}' if turn else ''} (ΔE00 {slip.most:.1f})"
