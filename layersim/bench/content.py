"""What stands on the card at the bench, before it is drawn: each step's recipe, drying, tolerance, tones.

A page to print and a page for a phone show the same content (:mod:`layersim.bench.sheets`,
:mod:`layersim.bench.page`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from layersim import colour
from layersim.decide.choices import known_areas
from layersim.decide.eye import SEEN
from layersim.decide.tolerance import AreaTolerance, Slip, tolerance
from layersim.paint import film_words
from layersim.plan.cautions import Caution, cautions
from layersim.plan.quantities import quantities
from layersim.plan.records import MixQuantity, Quantities
from layersim.plan.steps import BenchStep, rest_s, steps_of
from layersim.plan.volume import ml_words
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Scheme
from layersim.scheme.simulate import simulate
from layersim.spectra import FloatArray
from layersim.views import words
from layersim.views.quantities import thinner_ml_words
from layersim.views.tolerance import slip_words, turn_word

TONES: Final = 5
MOST_BOXES: Final = 6
"""Coats that get a tick box each; of more, one box for all."""
MOST_NAMED: Final = 5
"""Other steps with the same mix that are named where it is mixed; of more, how many there are."""
_HOUR_S: Final = 3600
_DAY_H: Final = 48

NOT_MEASURED: Final = (
    "Colours on paper and screens are not measured colours. Spray a chip beside the models, keep it here, "
    "and judge by that."
)
SCALES: Final = (
    f"L* is lightness, 0 black to 100 white. ΔE00 is how far two colours are apart: {SEEN:g} is seen "
    f"side by side by half of all people, {words.STRIKING:g} is striking."
)


class Tone(NamedTuple):
    """One tone of a stage: L*a*b*, what a screen shows for it, and whether it can."""

    lab: FloatArray
    rgb: FloatArray
    hex: str
    shown: bool


@dataclass(frozen=True, eq=False)
class CardStep:
    """One step on the card.

    Parameters
    ----------
    name : str
    tones : tuple of Tone
        From the deepest shadow to the full highlight, after this step.
    mix : MixQuantity or None
        None where nothing is known of the mix, or where it is in a cup from above.
    mixed_with : str
        Other steps on the card that the same cup serves, or the step above whose cup it is; may be empty.
    coats : str
        Such as "3 coats".
    by : str
        "airbrush" or "brush".
    place : str
        Where it is laid.
    film : str
        Dry film; may be empty.
    between : str
        What dries between coats; may be empty.
    rest : str
        How long it dries before what comes next.
    rest_before : str
        What that is.
    slips : tuple of Slip
        What may go wrong with it, that which does most to a tone of the finish first.
    boxes : int
        Tick boxes.
    """

    name: str
    tones: tuple[Tone, ...]
    mix: MixQuantity | None
    mixed_with: str
    coats: str
    by: str
    place: str
    film: str
    between: str
    rest: str
    rest_before: str
    slips: tuple[Slip, ...]
    boxes: int

    @property
    def recipe(self) -> str:
        """Its mix in whole drops; empty where there is none to make."""
        return "" if self.mix is None else _recipe(self.mix)

    @property
    def how(self) -> str:
        """Coats, tool, place and film."""
        return "; ".join(part for part in (f"{self.coats}, {self.by}, {self.place}", self.film) if part)

    @property
    def drying(self) -> str:
        """What dries for how long."""
        between = f"{self.between} between coats, then " if self.between else ""
        return f"{between}{self.rest} before {self.rest_before}"

    @property
    def forgiving(self) -> bool:
        """Whether no single slip would be seen on any tone of the finish."""
        return bool(self.slips) and self.slips[0].most < SEEN

    @property
    def tolerance(self) -> str:
        """What the two slips that do most do to the finish."""
        if self.forgiving:
            return f"forgiving: {_slip_words(self.slips[0])}"
        return "; ".join(_slip_words(slip) for slip in self.slips[:2] if slip.most >= SEEN)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What to mind about its mix."""
        return () if self.mix is None else tuple(warning.words for warning in self.mix.warnings)


@dataclass(frozen=True, eq=False)
class CardArea:
    """One area on the card.

    Parameters
    ----------
    name : str
    axis : str
        What the tones run along.
    steps : tuple of CardStep
    targets : tuple of (str, Tone, float)
        For which tone, the colour wanted, and ΔE00 of the finished tone from it.
    surest : str
        How sure the finish is, in words.
    """

    name: str
    axis: str
    steps: tuple[CardStep, ...]
    targets: tuple[tuple[str, Tone, float], ...]
    surest: str


@dataclass(frozen=True, eq=False)
class BenchCard:
    """Everything on the card.

    Parameters
    ----------
    name, note, light : str
    models : int
    viewing : Viewing
    areas : tuple of CardArea
    cautions : tuple of Caution
    notices : tuple of str
    """

    name: str
    note: str
    light: str
    models: int
    viewing: colour.Viewing
    areas: tuple[CardArea, ...]
    cautions: tuple[Caution, ...]
    notices: tuple[str, ...]

    @property
    def key(self) -> str:
        """What tells this card from others, for a page that remembers its ticks."""
        said = [self.name, str(self.models)]
        said += [
            part for area in self.areas for s in area.steps for part in (area.name, s.name, s.recipe, s.how)
        ]
        return hashlib.sha256("\n".join(said).encode()).hexdigest()[:12]


def bench_card(scheme: Scheme, *, areas: Sequence[str] = ()) -> BenchCard:
    """Return the card of a scheme.

    Parameters
    ----------
    scheme : Scheme
    areas : sequence of str
        Only these; all by default. Quantities are for the whole scheme all the same.

    Returns
    -------
    BenchCard

    Raises
    ------
    UnknownNameError
        If there is no such area.
    SchemeError
        If the scheme cannot be predicted, measured out or timed.
    """
    chosen = [area.name for area in known_areas(scheme, areas)]
    prediction = simulate(scheme, tones=TONES)
    found = quantities(scheme)
    cups = _cups(found, chosen)
    # Only its single slips are wanted here, which do not hang on how many batches are painted.
    slips = tolerance(scheme, models=2, batches=10, tones=TONES)
    chains = steps_of(scheme)
    cards = tuple(
        _area(scheme, area, predicted, cups, forgiving, _whole_steps(chain))
        for area, predicted, forgiving, chain in zip(
            scheme.areas, prediction.areas, slips.areas, chains, strict=True
        )
        if area.name in chosen
    )
    light = f"{prediction.viewing.light} ({colour.LIGHTS[prediction.viewing.light].split(';')[0]})"
    return BenchCard(
        name=scheme.name,
        note=scheme.note,
        light=light,
        models=scheme.batch.models,
        viewing=prediction.viewing,
        areas=cards,
        cautions=cautions(scheme),
        notices=tuple(dict.fromkeys((*prediction.notices, *found.notices))),
    )


def _whole_steps(chain: Sequence[BenchStep]) -> list[BenchStep]:
    return [step for step in chain if step.part == 1]


def _area(
    scheme: Scheme,
    area: Area,
    predicted: AreaPrediction,
    cups: dict[tuple[str, str], _Cup],
    forgiving: AreaTolerance,
    chain: Sequence[BenchStep],
) -> CardArea:
    labs = list(predicted.lab)
    names = [stage.name for stage in predicted.stages]
    doing: list[Area | GreysGiven | GreysSprayed | Coat] = [area]
    doing += [] if area.preshade is None else [area.preshade]
    doing += list(area.coats)
    if not scheme.batch.primer_coats:
        labs, names, doing = labs[1:], names[1:], doing[1:]
    steps = []
    for index, (name, lab, what, step) in enumerate(zip(names, labs, doing, chain, strict=True)):
        cup = cups.get((area.name, name), _Cup(None, ""))
        coats, by, place, film = _how(what, scheme, has_preshade=predicted.has_preshade)
        after = chain[index + 1] if index + 1 < len(chain) else None
        rest = rest_s(step, after) if after is not None else round(step.drying.handle_h * _HOUR_S)
        steps.append(
            CardStep(
                name=name,
                tones=tuple(_tone(value, scheme) for value in lab),
                mix=cup.mix,
                mixed_with=cup.mixed_with,
                coats=coats,
                by=by,
                place=place,
                film=film,
                between=f"{step.drying.flash_min:g} min" if step.coats > 1 else "",
                rest=_rest(rest),
                rest_before="handling" if after is None else after.name,
                slips=_slips(forgiving, name),
                boxes=step.coats if step.coats <= MOST_BOXES else 1,
            )
        )
    reach = float(predicted.reach[-1].mean())
    surest = f"9 of 10 finishes within ΔE00 {reach:.1f}, {words.size_words(reach)}" if reach > 0.05 else ""
    if predicted.causes and predicted.causes[0].delta_e >= 0.05:
        surest += f"; most in doubt: {predicted.causes[0].what}"
    return CardArea(
        name=area.name,
        axis="tones by the pre-shade's lightness" if predicted.has_preshade else "tones by facing the light",
        steps=tuple(steps),
        targets=tuple(
            (key, _tone(wanted, scheme), miss) for key, (_, wanted, miss) in predicted.target_misses().items()
        ),
        surest=surest,
    )


def _tone(lab: FloatArray, scheme: Scheme) -> Tone:
    white = scheme.viewing.white
    seen = colour.on_screen(colour.xyz_from_lab(lab, white), white)
    return Tone(lab, seen.rgb, colour.hex_of(seen.rgb), bool(seen.shown))


class _Cup(NamedTuple):
    """What is said of the mix of one step."""

    mix: MixQuantity | None
    mixed_with: str


def _cups(found: Quantities, areas: Sequence[str]) -> dict[tuple[str, str], _Cup]:
    """Return what is said of each step's mix on a card of some areas: its recipe where it comes first."""
    cups: dict[tuple[str, str], _Cup] = {}
    for mix in found.mixes:
        uses = list(dict.fromkeys((use.area, use.step) for use in mix.uses if use.area in areas))
        uses.sort(key=lambda use: areas.index(use[0]))
        for area, step in uses:
            if (area, step) in cups:
                continue
            first_area, first_step = uses[0]
            if (area, step) == uses[0]:
                cups[area, step] = _Cup(mix, _mixed_with(uses))
            else:
                whose = first_step if area == first_area else first_area
                cups[area, step] = _Cup(None, f"from the cup of {whose}")
    return cups


def _recipe(mix: MixQuantity) -> str:
    first, *rest = mix.parts
    drops = f"{_count(first.drops, 'drop')} of {first.name}"
    drops += "".join(
        f", {part.drops} {part.name}"
        + (thinner_ml_words(part, fillings=mix.fillings) if part.paint is None else "")
        for part in rest
    )
    often = "" if mix.fillings == 1 else f"; {mix.fillings} times"
    amount = f"{ml_words(mix.mix_ml)} in all".replace(" ", "\u00a0")
    return f"{drops}{often}; {amount}"


def _mixed_with(uses: Sequence[tuple[str, str]]) -> str:
    first_area, first_step = uses[0]
    if len(uses) > 1 + MOST_NAMED:
        return f"one cup with {len(uses) - 1} other steps, named where they stand"
    others: dict[str, list[str]] = {}
    for area, step in uses[1:]:
        others.setdefault(step, []).append("this area" if area == first_area else area)
    each = [
        words.joined(areas) if name == first_step else f"{name} of {words.joined(areas)}"
        for name, areas in others.items()
    ]
    return f"one cup with {words.joined(each)}" if each else ""


def _how(
    what: Area | GreysGiven | GreysSprayed | Coat, scheme: Scheme, *, has_preshade: bool
) -> tuple[str, str, str, str]:
    """Return coats, tool, place and film."""
    if isinstance(what, Area):
        return _count(scheme.batch.primer_coats, "coat"), "airbrush", "everywhere", ""
    if isinstance(what, GreysGiven):
        greys = f"from above, to L* {what.darkest:g} in the shadow and {what.lightest:g} in the light"
        return "1 coat", "airbrush", greys, ""
    if isinstance(what, GreysSprayed):
        film = f"{film_words(what.total_film_um)} dry in the light, in all"
        return _count(what.passes, "pass"), "airbrush", "from above", film
    place = _place(what, has_preshade=has_preshade)
    return _count(what.coats, "coat"), what.by, place, f"{film_words(what.dry_film_um)} dry each"


def _place(coat: Coat, *, has_preshade: bool) -> str:
    """Return where a coat lands by what can be seen on the model: how light its pre-shade is."""
    low, high = coat.where.lightest_from, coat.where.darkest_up_to
    on = "" if coat.patch is None else f"on {coat.coverage * 100:g} % of the area"
    if coat.where.everywhere:
        return on or "everywhere"
    unit = "L* {:g}" if has_preshade else "{:g} %"
    if low is not None and high is not None:
        span = f"{unit.format(low)} to {high:g}"
    else:
        span = f"under {unit.format(high)}" if low is None else f"over {unit.format(low)}"
    tones = f"where the pre-shade is {span}" if has_preshade else f"where it faces the light {span}"
    if coat.where.edge == 0.0:
        tones += ", up to a mask"
    return f"{on}, {tones}" if on else tones


def _rest(seconds: int) -> str:
    if seconds < _HOUR_S:
        return f"{seconds / 60:.0f} min"
    hours = seconds / _HOUR_S
    return f"{hours:.3g} h" if hours <= _DAY_H else f"{round(hours / 24, 1):g} days"


def _slips(forgiving: AreaTolerance, step: str) -> tuple[Slip, ...]:
    """Return what a coat, a film or a drop too many does to the finish, that which does most first.

    Each is judged on the tone that it changes most: a highlight gone wrong is not to be forgiven because
    the shadow is still right.
    """
    kinds = ("coats", "passes", "left out", "film", "greys", "mix", "drop")
    mine = [slip for slip in forgiving.slips if slip.step == step and slip.kind in kinds]
    return tuple(sorted(mine, key=lambda slip: -slip.most))


def _slip_words(slip: Slip) -> str:
    numbers = f"ΔE00 {slip.most:.1f} on the worst tone, mean {slip.delta_e:.1f}"
    turn = turn_word(slip)
    return f"{slip_words(slip)}: {words.size_words(slip.most)} ({numbers}{f', {turn}' if turn else ''})"


def _count(number: int, word: str) -> str:
    plural = "" if number == 1 else "es" if word.endswith("s") else "s"
    return f"{number} {word}{plural}"


def caution_rows(card: BenchCard) -> Iterable[str]:
    """Yield the cautions as sentences, the paints they are for before them.

    Parameters
    ----------
    card : BenchCard

    Returns
    -------
    iterable of str
    """
    for caution in card.cautions:
        yield f"{', '.join(caution.paints)}: {caution.words}" if caution.paints else caution.words
