"""How forgiving a scheme is: what one slip does, coat by coat, and how far a batch drifts apart.

Slips are of the sizes that happen (common practice, no source): a coat too many or too few, a
film a fifth thicker or thinner, a tenth too much of one paint in a mix, one drop wrong, another
bottle of the same paint, a finish somewhat glossier or more matt, another light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from layersim import colour
from layersim.chance import Source
from layersim.decide import batch
from layersim.decide.batch import BatchFit, Bench, Draws, Habits
from layersim.decide.choices import known_areas
from layersim.decide.drops import drops_needed, fold
from layersim.decide.eye import DISTURBS
from layersim.errors import LayersimError
from layersim.names import named
from layersim.scheme.factors import mix_of
from layersim.scheme.records import Area, GreysSprayed, Scheme
from layersim.shown import Shown
from layersim.spectra import FloatArray

FILM_SLIP: Final = 0.20
MIX_SLIP: Final = 0.10
SHEEN_SLIP: Final = 0.20
GREYS_SLIP: Final = 5.0
"""L* by which greys read off a photograph may be wrong."""
LIGHTS: Final = ("A", "LED-B3")
"""Lights in which painted models are looked at, besides the scheme's."""
TONES: Final = 5
MODELS: Final = 10
BATCHES: Final = 10_000
VISIBLE: Final = DISTURBS
"""ΔE00 from which two models of a batch are called visibly different."""
MOST_MODELS: Final = 60
MOST_SIMULATED: Final = 1_000_000
"""Models in all batches together: what a small computer's memory holds."""
ROUGH: Final = 0.3
"""ΔE00 by which the fit may put pairs off before it is called rough."""
HABIT_BATCHES: Final = 2_000
"""Batches painted again with each better habit, and without it, to see what it changes."""
SlipKind = Literal["coats", "passes", "left out", "film", "greys", "mix", "drop", "bottle", "sheen", "light"]
Habit = Literal["even", "drift", "count", "mix", "varnish"]
"""Spray a step twice as evenly; let no film drift; count the coats; mix once; half the error of sheen."""


@dataclass(frozen=True)
class Slip:
    """One thing gone wrong and what it does to the finish."""

    step: str
    """The step it happens in, or the steps of a bottle; "finish" for sheen and light."""
    kind: SlipKind
    of: str
    """The paint of a mix, a drop or a bottle; the light."""
    change: float
    """Of the direction that does more: coats or passes; L* of greys; shares of the film, of the paint in a
    mix or of its drops; sheen."""
    delta_e: float
    """Mean ΔE00 over the tones."""
    most: float
    """ΔE00 on the tone that changes most."""
    other: float
    """Mean ΔE00 of the other direction; the same where there is one only."""
    darker: float
    """Mean change of L*; below zero is darker."""


@dataclass(frozen=True)
class Gain:
    """What one habit would do for a batch."""

    habit: Habit
    step: str
    """Of the habit "even"."""
    chance: float
    """Chance of a visible worst pair with it."""
    typical: float
    """ΔE00 of the worst pair in half of all batches with it."""


@dataclass(frozen=True, eq=False)
class AreaTolerance:
    """How forgiving one area is."""

    name: str
    lab: FloatArray
    """Shape (tones, 3). The finish without any slip."""
    slips: tuple[Slip, ...]
    """Largest first."""
    worst: FloatArray
    """Shape (batches,). ΔE00 of the worst pair of every batch, at its worst tone."""
    chance: float
    """Share of the batches whose worst pair differs visibly."""
    gains: tuple[Gain, ...]
    """What helps most first."""
    fit_error: tuple[float, float, float, float]
    """Mean and largest ΔE00 of the fit from the full model, then mean and largest error of the ΔE00 of a
    pair."""

    @property
    def typical(self) -> float:
        """ΔE00 of the worst pair in half of all batches."""
        return float(np.median(self.worst))


@dataclass(frozen=True)
class Tolerance(Shown):
    """How forgiving a scheme is."""

    scheme: Scheme
    areas: tuple[AreaTolerance, ...]
    models: int
    batches: int
    seed: int
    visible: float
    """Threshold ΔE00."""
    chance: float
    """Chance that the worst pair of models differs visibly in any of the areas."""

    def __getitem__(self, area: str) -> AreaTolerance:
        """Return the area of a name; raises UnknownNameError, with the nearest one, if there is none."""
        return named(self.areas, area, kind="areas")


def usual_models(scheme: Scheme) -> int:
    """Return how many models are taken where nobody says: the scheme's own, as far as there may be so many.

    One model, which is also what a scheme without a batch says, has nothing to differ from.
    """
    planned = scheme.batch.models
    return min(planned, MOST_MODELS) if planned > 1 else MODELS


def tolerance(
    scheme: Scheme,
    *,
    areas: Sequence[str] = (),
    models: int = MODELS,
    batches: int = BATCHES,
    visible: float = VISIBLE,
    tones: int = TONES,
    seed: int = 0,
) -> Tolerance:
    """Return how forgiving a scheme is.

    The scheme's `hand` says how exactly the painter works. `areas` names the areas to look at; by default
    all. `batches`, 10 or more, of 2 to 60 `models` are simulated, a million models at most. Two models differ
    visibly from ΔE00 `visible` on. The same `seed` gives the same answer. Raises LayersimError if a number is
    out of its range, UnknownNameError if there is no such area, and SchemeError if a preshade does not get
    lighter.
    """
    if not 2 <= models <= MOST_MODELS:
        raise LayersimError(
            f"models in a batch: found {models}; expected a whole number from 2 to {MOST_MODELS} "
            "(a single model has nothing to differ from)"
        )
    most = MOST_SIMULATED // models
    if not 10 <= batches <= most:
        raise LayersimError(f"batches: found {batches}; expected a whole number from 10 to {most}")
    if not 0.0 < visible <= 100.0:
        raise LayersimError(f"visible: found {visible:g}; expected a ΔE00 above 0, at most 100")
    if not 2 <= tones <= 60:
        raise LayersimError(f"tones: found {tones}; expected a whole number from 2 to 60")
    chosen = known_areas(scheme, areas)
    found = [
        _area(scheme, area, models=models, batches=batches, visible=visible, tones=tones, seed=seed + 101 * i)
        for i, area in enumerate(chosen)
    ]
    together = np.max([area.worst for area in found], axis=0)
    return Tolerance(
        scheme=scheme,
        areas=tuple(found),
        models=models,
        batches=batches,
        seed=seed,
        visible=visible,
        chance=float((together > visible).mean()),
    )


def _area(
    scheme: Scheme, area: Area, *, models: int, batches: int, visible: float, tones: int, seed: int
) -> AreaTolerance:
    bench = Bench(scheme, area, tones=tones)
    hand = scheme.hand
    fit = batch.fitted(bench, hand, seed=seed)
    draws = batch.drawn(bench, batches=batches, models=models, mixes=hand.mixes, seed=seed)
    session, habits = bench.session(hand), bench.habits(hand)
    worst = batch.worst_pairs(bench, fit, draws, session, habits)
    return AreaTolerance(
        name=area.name,
        lab=bench.lab,
        slips=_slips(bench),
        worst=worst,
        chance=float((worst > visible).mean()),
        gains=_gains(bench, fit, draws, habits, worst, visible),
        fit_error=fit.error,
    )


# ---------------------------------------------------------------- one slip at a time


def _slips(bench: Bench) -> tuple[Slip, ...]:
    slips = _coat_slips(bench) + _row_slips(bench) + _finish_slips(bench)
    return tuple(sorted((s for s in slips if s.delta_e > 0.0), key=lambda s: (-s.delta_e, s.step, s.of)))


def _slip(
    bench: Bench,
    step: str,
    kind: SlipKind,
    labs: Sequence[FloatArray],
    changes: Sequence[float],
    of: str = "",
) -> Slip:
    """Return the worse of some directions of one slip."""
    shifts = [colour.delta_e_2000(lab, bench.lab) for lab in labs]
    means = [float(shift.mean()) for shift in shifts]
    worse = int(np.argmax(means))
    return Slip(
        step=step,
        kind=kind,
        of=of,
        change=changes[worse],
        delta_e=means[worse],
        most=float(shifts[worse].max()),
        other=means[1 - worse] if len(means) == 2 else means[worse],
        darker=float((labs[worse] - bench.lab)[:, 0].mean()),
    )


def _coat_slips(bench: Bench) -> list[Slip]:
    slips = []
    for step, name in zip(bench.steps, bench.step_names, strict=True):
        if step != "greys":
            labs = [bench.slip(step, change) for change in (-1, 1)]
            slip = _slip(bench, name, "passes" if step == "preshade" else "coats", labs, (-1.0, 1.0))
            single = isinstance(step, int) and bench.area.coats[step].coats == 1 and slip.change < 0.0
            slips.append(replace(slip, kind="left out") if single else slip)
    return slips


def _row_slips(bench: Bench) -> list[Slip]:
    """Return slips of film, mix, drops, bottles and greys, all worked out at once."""
    asked: list[tuple[str, SlipKind, str, int, tuple[float, ...]]] = []
    bottles: dict[str, list[int]] = {}
    for column, key in enumerate(bench.keys):
        if key.kind == "film":
            name = bench.step_names[bench.steps.index(key.step)]
            asked.append((name, "film", "", column, (-FILM_SLIP, FILM_SLIP)))
        elif key.kind == "greys":
            asked.append(("preshade", "greys", "", column, (-GREYS_SLIP, GREYS_SLIP)))
        elif key.kind == "parts":
            name, paint, parts = _ingredient(bench, key)
            asked.append((name, "mix", paint, column, (-MIX_SLIP, MIX_SLIP)))
            # To leave the only drop out is no mistake of a drop.
            drops = (1.0 / parts, -1.0 / parts) if parts > 1.0 else (1.0 / parts,)
            asked.append((name, "drop", paint, column, drops))
        elif key.kind == "paint":  # how well a sprayer's own film is known is no slip
            bottles.setdefault(key.name, []).append(column)
    moves = [
        (column, change if kind == "greys" else float(np.log1p(change)))
        for _, kind, _, column, changes in asked
        for change in changes
    ]
    moves += [(column, 1.0) for columns in bottles.values() for column in columns]
    z = np.zeros((len(moves), len(bench.keys)))
    for row, (column, deviate) in enumerate(moves):
        z[row, column] = deviate
    labs = iter(bench.finish(z) if moves else ())
    slips = [
        _slip(bench, step, kind, [next(labs) for _ in changes], changes, of)
        for step, kind, of, _, changes in asked
    ]
    for paint, columns in bottles.items():
        own = [next(labs) for _ in columns]
        # A paint's doubts are independent of each other, so their squares add.
        shift = np.sqrt((colour.delta_e_2000(np.array(own), bench.lab) ** 2).sum(axis=0))
        darker = float((np.array(own) - bench.lab)[..., 0].mean(axis=-1).sum())
        mean, most = float(shift.mean()), float(shift.max())
        slips.append(Slip(_steps_with(bench.area, paint), "bottle", paint, 1.0, mean, most, mean, darker))
    return slips


def _ingredient(bench: Bench, key: Source) -> tuple[str, str, float]:
    """Return the step, the paint and the drops, as the batch is mixed, that a factor of a mix stands for."""
    area, mix = bench.area, mix_of(bench.area, key.step)
    paint, parts = mix.ingredients[key.number]
    if not isinstance(key.step, int):
        return "preshade", paint.name, parts
    coat = area.coats[key.step]
    landed = coat.coverage * float(coat.where.film_share(bench.model.shade).mean())
    need = drops_needed(bench.scheme, area, coat, landed=landed)
    return coat.name, paint.name, parts * fold(need, mix.parts.tolist())


def _steps_with(area: Area, paint: str) -> str:
    """Return the steps that a paint is used in, with commas between them."""
    used = ["primer"] if area.ground.name == paint else []
    if isinstance(area.preshade, GreysSprayed) and area.preshade.mix.ingredients[0][0].name == paint:
        used.append("preshade")
    used += [coat.name for coat in area.coats if paint in [p.name for p, _ in coat.mix.ingredients]]
    return ", ".join(dict.fromkeys(used))


def _finish_slips(bench: Bench) -> list[Slip]:
    changes = (-SHEEN_SLIP, SHEEN_SLIP)
    slips = [_slip(bench, "finish", "sheen", list(bench.with_sheen(np.array(changes))), changes)]
    for light in LIGHTS:
        if light != bench.view.light:
            lamp = colour.Viewing(light, bench.view.observer)
            lab = colour.lab_alike(colour.xyz(bench.reflectance, lamp), under=lamp, to=bench.view)
            slips.append(_slip(bench, "finish", "light", [lab], (1.0,), light))
    return slips


# ---------------------------------------------------------------- habits


def _gains(
    bench: Bench, fit: BatchFit, draws: Draws, habits: Habits, worst: FloatArray, visible: float
) -> tuple[Gain, ...]:
    """Return what each single habit would do, the same batches being painted again with it."""
    some = draws.only(HABIT_BATCHES)
    before = worst[:HABIT_BATCHES]
    gains = []
    for habit, step, better in _better_habits(bench, habits):
        after = batch.worst_pairs(bench, fit, some, bench.session(bench.scheme.hand), better)
        # What the habit changes in these batches, taken off the figures for all of them.
        chance = (worst > visible).mean() + (after > visible).mean() - (before > visible).mean()
        typical = np.median(worst) + np.median(after) - np.median(before)
        gains.append(Gain(habit, step, float(np.clip(chance, 0.0, 1.0)), max(float(typical), 0.0)))
    return tuple(sorted(gains, key=lambda gain: (round(gain.typical, 3), gain.chance)))


def _better_habits(bench: Bench, habits: Habits) -> list[tuple[Habit, str, Habits]]:
    better: list[tuple[Habit, str, Habits]] = []
    for index, name in enumerate(bench.step_names):
        if habits.models[index] > 0.0:
            models = habits.models.copy()
            models[index] *= 0.5
            better.append(("even", name, replace(habits, models=models)))
    if habits.drift.any():
        better.append(("drift", "", replace(habits, drift=np.zeros_like(habits.drift))))
    if habits.slips > 0.0:
        better.append(("count", "", replace(habits, slips=0.0)))
    if habits.mixes > 1 and any(key.kind == "parts" for key in bench.keys):
        better.append(("mix", "", replace(habits, mixes=1)))
    if habits.sheen > 0.0:
        better.append(("varnish", "", replace(habits, sheen=0.5 * habits.sheen)))
    return better
