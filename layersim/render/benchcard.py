"""What stands on the card at the bench, before it is drawn: each step's recipe, drying, tolerance, tones.

A page to print and a page for a phone show the same content (:mod:`layersim.render.benchprint`,
:mod:`layersim.render.benchpage`).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from layersim import colour
from layersim.decide import words
from layersim.decide.choices import known_areas
from layersim.decide.tolerance import AreaTolerance, Slip, tolerance
from layersim.paint import film_words
from layersim.plan.cautions import Caution, cautions
from layersim.plan.quantities import quantities
from layersim.plan.records import MixQuantity, Quantities
from layersim.plan.steps import Step, rest_s, steps_of
from layersim.render.quantities import thinner_ml_words
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Scheme
from layersim.scheme.simulate import simulate
from layersim.spectra import FloatArray

TONES: Final = 5
MOST_BOXES: Final = 6
"""Coats that get a tick box each; of more, one box for all."""
_HOUR_S: Final = 3600
_DAY_H: Final = 48

NOT_MEASURED: Final = (
    "Colours on paper and screens are not measured colours. Spray a chip beside the models, keep it here, "
    "and judge by that."
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
    recipe : str
        In whole drops; empty where nothing is known of the mix, or where it is in a cup from above.
    mixed_with : str
        Other steps on the card that the same cup serves, or the step above whose cup it is; may be empty.
    how : str
        Coats, tool, where and film.
    drying : str
    tolerance : str
    boxes : int
        Tick boxes.
    warnings : tuple of str
    """

    name: str
    tones: tuple[Tone, ...]
    recipe: str
    mixed_with: str
    how: str
    drying: str
    tolerance: str
    boxes: int
    warnings: tuple[str, ...]


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


def _whole_steps(chain: Sequence[Step]) -> list[Step]:
    return [step for step in chain if step.part == 1]


def _area(
    scheme: Scheme,
    area: Area,
    predicted: AreaPrediction,
    cups: dict[tuple[str, str], _Cup],
    forgiving: AreaTolerance,
    chain: Sequence[Step],
) -> CardArea:
    labs = list(predicted.lab)
    names = [stage.name for stage in predicted.stages]
    doing: list[Area | GreysGiven | GreysSprayed | Coat] = [area]
    doing += [] if area.preshade is None else [area.preshade]
    doing += list(area.coats)
    if not scheme.batch.primer_coats:
        labs, names, doing = labs[1:], names[1:], doing[1:]
    steps = tuple(
        CardStep(
            name=name,
            tones=tuple(_tone(value, scheme) for value in lab),
            recipe=cup.recipe,
            mixed_with=cup.mixed_with,
            how=_how(what, scheme),
            drying=_drying(chain, index),
            tolerance=_tolerance(forgiving, name),
            boxes=step.coats if step.coats <= MOST_BOXES else 1,
            warnings=cup.warnings,
        )
        for index, (name, lab, what, step) in enumerate(zip(names, labs, doing, chain, strict=True))
        for cup in [cups.get((area.name, name), _NO_CUP)]
    )
    reach = float(predicted.reach[-1].mean())
    surest = f"9 of 10 finishes within ΔE00 {reach:.1f}, {words.size_words(reach)}" if reach > 0.05 else ""
    if predicted.causes and predicted.causes[0].delta_e >= 0.05:
        surest += f"; most in doubt: {predicted.causes[0].what}"
    return CardArea(
        name=area.name,
        axis="tones by the pre-shade's lightness" if predicted.has_preshade else "tones by facing the light",
        steps=steps,
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

    recipe: str
    mixed_with: str
    warnings: tuple[str, ...]


_NO_CUP: Final = _Cup("", "", ())


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
                cups[area, step] = _Cup(_recipe(mix), _mixed_with(uses), mix.warnings)
            else:
                whose = first_step if area == first_area else first_area
                cups[area, step] = _Cup("", f"from the cup of {whose}", ())
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
    return f"{drops}{often}; {mix.mix_ml:.2g}\u00a0ml\u00a0in\u00a0all"


def _mixed_with(uses: Sequence[tuple[str, str]]) -> str:
    others: dict[str, list[str]] = {}
    for area, step in uses[1:]:
        others.setdefault(step, []).append("this area" if area == uses[0][0] else area)
    each = [f"{name} of {words.joined(areas)}" for name, areas in others.items()]
    return f"one cup with {words.joined(each)}" if each else ""


def _how(what: Area | GreysGiven | GreysSprayed | Coat, scheme: Scheme) -> str:
    if isinstance(what, Area):
        return f"{_count(scheme.batch.primer_coats, 'coat')} of {what.ground.name}, airbrush, everywhere"
    if isinstance(what, GreysGiven):
        return f"greys given: from L* {what.darkest:g} in the shadow to {what.lightest:g} in the light"
    if isinstance(what, GreysSprayed):
        film = film_words(what.total_film_um)
        return f"{_count(what.passes, 'pass')}, airbrush, from above; {film} dry in the light"
    local = "" if what.patch is None else f", on {what.coverage * 100:g} % of the area"
    return (
        f"{_count(what.coats, 'coat')}, {what.by}, {what.where.words()}{local}; "
        f"{film_words(what.dry_film_um)} dry each"
    )


def _drying(chain: Sequence[Step], index: int) -> str:
    step = chain[index]
    rests = []
    if step.coats > 1:
        rests.append(f"{step.drying.flash_min:g} min between coats")
    if index + 1 < len(chain):
        after = chain[index + 1]
        rests.append(f"{_rest(rest_s(step, after))} before {after.name}")
    else:
        rests.append(f"{_rest(round(step.drying.handle_h * _HOUR_S))} before handling")
    return ", then ".join(rests)


def _rest(seconds: int) -> str:
    if seconds < _HOUR_S:
        return f"{seconds / 60:.0f} min"
    hours = seconds / _HOUR_S
    return f"{hours:.3g} h" if hours <= _DAY_H else f"{hours / 24:.2g} days"


def _tolerance(forgiving: AreaTolerance, step: str) -> str:
    """Return what a coat, a film or a drop too many does to the finish, the two that do most.

    Each is judged on the tone that it changes most: a highlight gone wrong is not to be forgiven because
    the shadow is still right.
    """
    mine = [
        slip
        for slip in forgiving.slips
        if slip.step == step and slip.kind in ("coats", "film", "mix", "drop")
    ]
    if not mine:
        return ""
    mine.sort(key=lambda slip: -slip.most)
    if mine[0].most < words.SEEN:
        return f"forgiving: {_slip_words(mine[0])}"
    return "; ".join(_slip_words(slip) for slip in mine[:2] if slip.most >= words.SEEN)


def _slip_words(slip: Slip) -> str:
    turn = ""
    if abs(slip.darker) >= words.LEAST_LIGHTNESS:
        turn = ", darker" if slip.darker < 0.0 else ", lighter"
    numbers = f"ΔE00 {slip.most:.1f} on the worst tone, mean {slip.delta_e:.1f}"
    return f"{slip.what}: {words.size_words(slip.most)} ({numbers}{turn})"


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
