"""What the card at the bench tells of each step: its tones, its mix, how it is laid, drying, and slips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from layersim.decide.choices import known_areas
from layersim.decide.tolerance import AreaTolerance, Slip, tolerance
from layersim.plan.cautions import Caution, cautions
from layersim.plan.quantities import quantities
from layersim.plan.records import MixQuantity, Quantities
from layersim.plan.steps import BenchStep, hours_s, rest_s, steps_of
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Scheme
from layersim.scheme.simulate import simulate
from layersim.shown import Shown
from layersim.spectra import FloatArray

TONES: Final = 5
_SLIPS: Final = ("coats", "film", "mix", "drop")
"""Slips that a hand at the bench makes."""

Cup = tuple[tuple[str, str], ...]


@dataclass(frozen=True, eq=False)
class CardStep:
    """One step on the card."""

    name: str
    lab: FloatArray
    """L*a*b* after this step from the deepest shadow to the full highlight, shape (tones, 3)."""
    laid: Coat | GreysSprayed | GreysGiven | None
    """What the scheme says of it; None for primer."""
    coats: int
    """The passes of a preshade are one."""
    by: str
    mix: MixQuantity | None
    """None where nothing is known of the mix, or where it is in a cup from above."""
    cup: Cup
    """Area and name of each step on the card that has its mix from the same cup, the first one first."""
    between_min: float
    """What dries between coats; 0 for a single one."""
    rest_s: int
    """How long it dries before what comes next."""
    before: str
    """What comes next; empty for handling the model."""
    slips: tuple[Slip, ...]
    """What may go wrong with it; that which does most to any tone of the finish comes first."""


@dataclass(frozen=True, eq=False)
class CardTarget:
    """A colour that somebody wants of one tone, and what the finish comes to there."""

    key: str
    wanted: FloatArray
    finish: FloatArray
    """L*a*b* of both."""
    delta_e: float


@dataclass(frozen=True, eq=False)
class CardArea:
    """One area on the card."""

    name: str
    has_preshade: bool
    steps: tuple[CardStep, ...]
    targets: tuple[CardTarget, ...]
    reach: float
    """ΔE00 that 9 of 10 finishes keep within, averaged over the tones."""
    cause: str
    """What makes most of that; empty where nothing does."""
    is_metal: bool
    """Whether its tones are one look of several."""


@dataclass(frozen=True, eq=False)
class BenchCard(Shown):
    """Everything on the card."""

    scheme: Scheme
    areas: tuple[CardArea, ...]
    cautions: tuple[Caution, ...]
    notices: tuple[str, ...]


def bench_card(scheme: Scheme, *, areas: Sequence[str] = ()) -> BenchCard:
    """Return the card of a scheme, of all areas or of some.

    Quantities are for the whole scheme all the same. Raises UnknownNameError if there is no such area, and
    SchemeError if the scheme cannot be predicted, measured out or timed.
    """
    chosen = [area.name for area in known_areas(scheme, areas)]
    prediction = simulate(scheme, tones=TONES)
    found = quantities(scheme)
    cups = _cups(found, chosen)
    # Only its single slips are wanted here, which do not hang on how many batches are painted.
    slips = tolerance(scheme, models=2, batches=10, tones=TONES)
    every = zip(scheme.areas, prediction.areas, slips.areas, steps_of(scheme), strict=True)
    return BenchCard(
        scheme=scheme,
        areas=tuple(_area(scheme, *one, cups) for one in every if one[0].name in chosen),
        cautions=cautions(scheme),
        notices=tuple(dict.fromkeys((*prediction.notices, *found.notices))),
    )


def _area(
    scheme: Scheme,
    area: Area,
    predicted: AreaPrediction,
    forgiving: AreaTolerance,
    chain: Sequence[BenchStep],
    cups: dict[tuple[str, str], tuple[MixQuantity, Cup]],
) -> CardArea:
    whole = [step for step in chain if step.part == 1]
    laid = [None, *([] if area.preshade is None else [area.preshade]), *area.coats]
    first = 0 if scheme.batch.primer_coats else 1
    steps = []
    for number, (step, lab, does) in enumerate(zip(whole, predicted.lab[first:], laid[first:], strict=True)):
        after = whole[number + 1] if number + 1 < len(whole) else None
        coats = does.coats if isinstance(does, Coat) else 1 if does else scheme.batch.primer_coats
        mix, cup = cups.get((area.name, step.name), (None, ()))
        slips = [s for s in forgiving.slips if s.step == step.name and s.kind in _SLIPS]
        steps.append(
            CardStep(
                name=step.name,
                lab=lab,
                laid=does,
                coats=coats,
                by=step.by,
                mix=mix if cup[:1] == ((area.name, step.name),) else None,
                cup=cup,
                between_min=step.drying.flash_min if coats > 1 else 0.0,
                rest_s=hours_s(step.drying.handle_h) if after is None else rest_s(step, after),
                before="" if after is None else after.name,
                # A highlight gone wrong is not to be forgiven because the shadow is still right.
                slips=tuple(sorted(slips, key=lambda slip: -slip.most)),
            )
        )
    causes = [cause.what for cause in predicted.causes if cause.delta_e >= 0.05]
    return CardArea(
        name=area.name,
        has_preshade=predicted.has_preshade,
        steps=tuple(steps),
        targets=tuple(
            CardTarget(key, wanted, predicted.lab[-1, tone], miss)
            for key, (tone, wanted, miss) in predicted.target_misses().items()
        ),
        reach=0.0 if predicted.reach is None else float(predicted.reach[-1].mean()),
        cause=causes[0] if causes else "",
        is_metal=area.is_metal,
    )


def _cups(found: Quantities, areas: Sequence[str]) -> dict[tuple[str, str], tuple[MixQuantity, Cup]]:
    """Return each step's mix, and every step on a card of some areas that the same cup serves."""
    cups: dict[tuple[str, str], tuple[MixQuantity, Cup]] = {}
    for mix in found.mixes:
        uses = dict.fromkeys((use.area, use.step) for use in mix.uses if use.area in areas)
        cup = tuple(sorted(uses, key=lambda use: areas.index(use[0])))
        for use in cup:
            cups.setdefault(use, (mix, cup))
    return cups
