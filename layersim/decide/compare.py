"""Choices side by side: how far apart they are, how sure that is, and whether it matters.

Both choices of a pair are drawn with the same hand and the same bottles (common random numbers: A.
M. Law, Simulation Modeling and Analysis, ch. 11; chapter from memory), and the film model is off in the
same way for the same paint in the same step. So what is in doubt about both alike cancels, and the range
of their difference is that of the difference itself.

Whether a choice matters is judged by that distribution of the difference. It matters on a tone where the
difference would be seen in nearly all outcomes, and does not where in nearly none; in between it can't be
told. A difference is a steady shift and no scatter: all models of a batch have it. How far two sprayings of
one and the same choice differ is told beside it, by two measures: the *repeat*, half of all times exceeded by
the difference between two of them from the same bottles, and the *mottle*, how far sprayed sites stray from
their own average.
"""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.chance import Source, check_counts, normal_hypercube, range_of
from layersim.decide.choices import Choice, checked_choices, known_areas
from layersim.decide.eye import SEEN
from layersim.errors import LayersimError
from layersim.names import named, slug
from layersim.optics.flakes import ANGLES_DEG
from layersim.scheme.factors import mix_of, told_by_name
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, GreysSprayed
from layersim.scheme.simulate import AreaModel
from layersim.shown import Shown
from layersim.spectra import FloatArray

DRAWS: Final = 200
"""Enough for a share of 5 % to be known to within 1.5 % (one standard error)."""
SURE: Final = 0.95
"""Share of outcomes from which a difference is sure to be seen; below the rest of it, sure not to be."""
REPEATS: Final = 32
"""Sprayings of one choice from which its repeat is taken."""
NO_DIFFERENCE: Final = 0.005
"""ΔE00 below which two predictions are the same but for rounding."""


@dataclass(frozen=True, eq=False)
class ChoiceInArea:
    """What one choice makes of one area."""

    name: str
    light: str
    area: AreaPrediction
    """The prediction itself; its own ranges are not worked out."""
    finish: FloatArray
    """Shape (draws, tones, 3). L*a*b* of the finish, drawn alike for all choices."""
    before: FloatArray | None
    """Shape (draws, tones, 3). The same just before the filter."""
    repeat: FloatArray
    """Shape (tones,). ΔE00 that half of all pairs of sprayings of this choice exceed."""
    looks: FloatArray | None = dataclasses.field(default=None, metadata={"json": False})
    """Shape (looks, draws, tones, 3). The finish from each side, where any choice has metal."""


@dataclass(frozen=True, eq=False)
class LookDifference:
    """How two choices differ at some degrees from the mirror direction, arrays as of :class:`Difference`."""

    degrees: float
    delta_e: FloatArray
    """ΔE00 of the finished tones."""
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True, eq=False)
class Difference:
    """How two choices differ in one area."""

    first: int
    second: int
    """Indices of the choices."""
    delta_e: FloatArray
    """Shape (tones,). ΔE00 of the finished tones."""
    low: FloatArray
    high: FloatArray
    """Shape (tones,). Range of ΔE00 that holds 90 % of outcomes: the same hand and bottles for both."""
    apart_low: FloatArray
    apart_high: FloatArray
    """Shape (tones,). The same if each choice had a hand and bottles of its own."""
    own: FloatArray
    """Shape (tones,). What happens anyway: the larger of the repeats and the mottles of the two."""
    change: FloatArray
    change_low: FloatArray
    change_high: FloatArray
    """Shape (tones, 3). Second minus first in L*, C* and hue (degrees, -180..180), with its 90 % range."""
    before_delta_e: FloatArray | None
    """Shape (tones,). ΔE00 just before the filter, where both have one."""
    under: dict[str, FloatArray]
    """Shape (tones,). ΔE00 of the finished tones under other lights."""

    seen: FloatArray
    """Shape (tones,). Share of the outcomes in which it would be seen; of metal, from any side."""
    looks: tuple[LookDifference, ...] = ()
    """From near the mirror direction to far from it, where any has metal; all else is at 45 degrees."""

    JSON_ALSO: ClassVar = ("matters", "untold")

    @property
    def matters(self) -> npt.NDArray[np.bool_]:
        """Whether it would be seen in nearly all outcomes; shape (tones,)."""
        return np.asarray(self.seen >= SURE)

    @property
    def untold(self) -> npt.NDArray[np.bool_]:
        """Whether it can't be told: seen in some outcomes and not in others; shape (tones,)."""
        return np.asarray((self.seen > 1.0 - SURE) & ~self.matters)


@dataclass(frozen=True)
class StageRow:
    """One stage of the comparison: a name, and each choice's index of that stage or None."""

    name: str
    stages: tuple[int | None, ...]


@dataclass(frozen=True)
class AreaComparison:
    """All choices in one area."""

    name: str
    choices: tuple[ChoiceInArea, ...]
    rows: tuple[StageRow, ...]
    """Stages, aligned."""
    differences: tuple[Difference, ...]
    """Of every other choice from the first."""

    JSON_ALSO: ClassVar = ("from_targets",)

    @property
    def from_targets(self) -> tuple[float, ...]:
        """Mean ΔE00 of each choice from the targets; empty where they have none, or different ones."""
        misses = [choice.area.target_misses() for choice in self.choices]
        if not misses[0] or any(miss.keys() != misses[0].keys() for miss in misses):
            return ()
        return tuple(float(np.mean([m[2] for m in miss.values()])) for miss in misses)

    @property
    def differs(self) -> bool:
        """Whether anything at all differs, at any stage."""
        return any(
            len(row.stages) != len([s for s in row.stages if s is not None]) for row in self.rows
        ) or any(
            self.stage_shift(row, k) > NO_DIFFERENCE for row in self.rows for k in range(1, len(self.choices))
        )

    def stage_shift(self, row: StageRow, choice: int) -> float:
        """Return the largest ΔE00 over the tones between the first choice and another at one stage."""
        one, two = row.stages[0], row.stages[choice]
        if one is None or two is None:
            return np.inf
        shift = colour.delta_e_2000(self.choices[0].area.lab[one], self.choices[choice].area.lab[two])
        return float(shift.max())


@dataclass(frozen=True)
class Comparison(Shown):
    """Everything that comparing some choices says."""

    choices: tuple[Choice, ...]
    areas: tuple[AreaComparison, ...]
    same: tuple[str, ...]
    """Areas in which no choice differs from the first."""
    notices: tuple[str, ...]

    def __getitem__(self, area: str) -> AreaComparison:
        """Return the area of a name; raises UnknownNameError, with the nearest one, if there is none."""
        return named(self.areas, area, kind="areas")


def compare(
    choices: Sequence[Choice],
    *,
    tones: int = 9,
    areas: Sequence[str] = (),
    lights: Sequence[str] = (),
    draws: int = DRAWS,
    seed: int = 0,
) -> Comparison:
    """Return how choices compare, the first being what the others are measured against.

    There are two to eight choices of different names. `areas` names the areas to compare, by default all, and
    `lights` other lights to compare the finish under. Hand and bottles are drawn `draws` times. Raises
    LayersimError if the choices cannot be compared: one only, two of one name, no area in common;
    UnknownNameError if there is no such area or light; SchemeError if a preshade does not get lighter; and
    ValueError if there are too few tones or draws.
    """
    check_counts(tones=tones, draws=draws, least_draws=2)
    chosen = checked_choices(choices)
    views = {light: colour.Viewing(light, chosen[0].scheme.viewing.observer) for light in lights}
    notices = [notice for choice in chosen for notice in choice.scheme.notices]
    found = []
    for name, group in _groups(chosen, areas, notices):
        found.append(_compare_area(name, chosen, group, tones, views, draws, seed, notices))
    return Comparison(
        choices=chosen,
        areas=tuple(area for area in found if area.differs),
        same=tuple(area.name for area in found if not area.differs),
        notices=tuple(dict.fromkeys(notices)),
    )


def _groups(
    choices: Sequence[Choice], wanted: Sequence[str], notices: list[str]
) -> list[tuple[str, list[Area]]]:
    """Return each area that all choices have, with every choice's own."""
    groups = []
    first = known_areas(choices[0].scheme, wanted)
    if len(first) == 1 and all(len(choice.scheme.areas) == 1 for choice in choices):
        return [(first[0].name, [choice.scheme.areas[0] for choice in choices])]
    for area in first:
        own = [{slug(a.name): a for a in choice.scheme.areas}.get(slug(area.name)) for choice in choices]
        missing = [c.name for c, a in zip(choices, own, strict=True) if a is None]
        if missing:
            notices.append(f"the area {area.name} is left out: {', '.join(missing)} has none of that name")
        else:
            groups.append((area.name, [a for a in own if a is not None]))
    if not groups:
        raise LayersimError(
            "to compare: found no area that all of the schemes have; expected areas of the same name. The "
            f"areas here are: {', '.join(dict.fromkeys(a.name for c in choices for a in c.scheme.areas))}."
        )
    return groups


def _compare_area(
    name: str,
    choices: Sequence[Choice],
    areas: Sequence[Area],
    tones: int,
    views: dict[str, colour.Viewing],
    draws: int,
    seed: int,
    notices: list[str],
) -> AreaComparison:
    models: list[AreaModel] = []
    for choice, area in zip(choices, areas, strict=True):
        # The same places of the model, whatever each sprayed preshade makes of them. Given greys do not
        # say where they lie, so they are taken in even steps from shadow to light.
        sprayed = isinstance(area.preshade, GreysSprayed) and isinstance(areas[0].preshade, GreysSprayed)
        places = models[0].places if models and sprayed else None
        models.append(AreaModel(choice.scheme, area, tones=tones, seed=seed, places=places))
    keys = [[shared_key(model.area, factor.key) for factor in model.factors] for model in models]
    every = list(dict.fromkeys(key for own in keys for key in own))
    z = normal_hypercube(len(every), draws, seed=seed)
    hand = normal_hypercube(len(every), REPEATS, seed=seed + 1)
    # Sprayed twice by the same airbrush from the same bottles, seen in the same light.
    steady = ("paint", "satin", "mist", "own film")
    hand[:, [key.kind in steady or key.of_model for key in every]] = 0.0
    rows = np.concatenate([z, hand])
    in_area: list[ChoiceInArea] = []
    for choice, model, own in zip(choices, models, keys, strict=True):
        view, first = choice.scheme.viewing, choices[0].scheme.viewing
        prediction = model.predict(view, 0, notices)
        if view != first:
            # Seen under another lamp, by an eye that is used to it.
            prediction = dataclasses.replace(
                prediction,
                lab=colour.lab_alike(prediction.xyz, under=view, to=first),
                angles=tuple(
                    dataclasses.replace(one, lab=colour.lab_alike(one.xyz, under=view, to=first))
                    for one in prediction.angles
                ),
            )
        columns = [every.index(key) for key in own]
        twin = next(
            (
                i
                for i, other in enumerate(in_area)
                if _same(prediction, other.area, own, keys[i], choice, choices[i])
            ),
            None,
        )
        if twin is not None:
            other = in_area[twin]
            finish, before, repeat, looks = other.finish, other.before, other.repeat, other.looks
        else:
            seen = model.reflectance(rows[:, columns])
            lab = colour.lab_alike(colour.xyz(seen[:, -1], view), under=view, to=first)
            finish, again = lab[:draws], lab[draws:]
            repeat = np.median(colour.delta_e_2000(again, np.roll(again, 1, axis=0)), axis=0)
            span = prediction.filter_span
            before = None
            if span is not None:
                before = colour.lab_alike(colour.xyz(seen[:draws, span[0]], view), under=view, to=first)
            looks = None
            if any(area.is_metal for area in areas):
                sides = colour.xyz(model.looks(z[:, columns]), view)
                looks = colour.lab_alike(sides, under=view, to=first)
        in_area.append(ChoiceInArea(choice.name, view.light, prediction, finish, before, repeat, looks))
    return AreaComparison(
        name=name,
        choices=tuple(in_area),
        rows=aligned_rows([[stage.name for stage in one.area.stages] for one in in_area]),
        differences=tuple(_difference(in_area, 0, k, views) for k in range(1, len(in_area))),
    )


def _same(
    one: AreaPrediction,
    two: AreaPrediction,
    keys: list[Source],
    others: list[Source],
    choice: Choice,
    other: Choice,
) -> bool:
    """Return whether two predictions are one and the same, so that their draws are, too."""
    return (
        keys == others
        and choice.scheme.hand == other.scheme.hand
        and choice.scheme.viewing == other.scheme.viewing
        and np.array_equal(one.reflectance, two.reflectance)
        and one.filter_span == two.filter_span
    )


def shared_key(area: Area, key: Source) -> Source:
    """Return what a factor is, in terms that two schemes share: steps and paints by name."""
    step = key.step
    if key.kind == "parts":
        key = key._replace(name=mix_of(area, step).ingredients[key.number][0].name, number=0)
    return key._replace(step=told_by_name(area, step)) if isinstance(step, int) else key


def _difference(
    choices: Sequence[ChoiceInArea], first: int, second: int, views: dict[str, colour.Viewing]
) -> Difference:
    one, two = choices[first], choices[second]
    delta_e = colour.delta_e_2000(one.area.lab[-1], two.area.lab[-1])
    drawn = colour.delta_e_2000(one.finish, two.finish)
    low, high = range_of(drawn, delta_e)
    shifted = np.roll(two.finish, len(two.finish) // 2, axis=0)
    apart_low, apart_high = range_of(colour.delta_e_2000(one.finish, shifted))
    change = _change(one.area.lab[-1], two.area.lab[-1])
    change_low, change_high = range_of(_change(one.finish, two.finish), change)
    before = None
    spans = one.area.filter_span, two.area.filter_span
    if spans[0] is not None and spans[1] is not None:
        before = colour.delta_e_2000(one.area.lab[spans[0][0]], two.area.lab[spans[1][0]])
    found: list[LookDifference] = []
    seen = drawn >= SEEN
    if one.looks is not None and two.looks is not None:
        usual = colour.delta_e_2000(one.area.looks(), two.area.looks())
        off = colour.delta_e_2000(one.looks, two.looks)
        seen = np.asarray((off >= SEEN).any(axis=0))
        for degrees, value, draws in zip(ANGLES_DEG, usual, off, strict=True):
            found.append(LookDifference(degrees, value, *range_of(draws, value)))
    return Difference(
        first=first,
        second=second,
        delta_e=delta_e,
        low=low,
        high=high,
        apart_low=apart_low,
        apart_high=apart_high,
        own=np.max([one.repeat, two.repeat, one.area.mottle[-1], two.area.mottle[-1]], axis=0),
        change=change,
        change_low=change_low,
        change_high=change_high,
        before_delta_e=before,
        under={
            light: colour.delta_e_2000(
                colour.lab(one.area.reflectance[-1], view), colour.lab(two.area.reflectance[-1], view)
            )
            for light, view in views.items()
        },
        seen=seen.mean(axis=0),
        looks=tuple(found),
    )


def _change(first: FloatArray, second: FloatArray) -> FloatArray:
    one, two = colour.lch(first), colour.lch(second)
    change = two - one
    change[..., 2] = (change[..., 2] + 180.0) % 360.0 - 180.0
    return change


def aligned_rows(stages: Sequence[Sequence[str]]) -> tuple[StageRow, ...]:
    """Return the stages of all choices in one order, each beside its like in the others."""
    names: list[str] = list(stages[0])
    places: list[list[int | None]] = [[i] for i in range(len(names))]
    for known, own in enumerate(stages[1:], start=1):
        matcher = difflib.SequenceMatcher(
            None, [slug(name) for name in names], [slug(name) for name in own], autojunk=False
        )
        merged: list[str] = []
        kept: list[list[int | None]] = []
        for kind, a0, a1, b0, b1 in matcher.get_opcodes():
            if kind == "equal":
                merged += names[a0:a1]
                kept += [[*places[a], b] for a, b in zip(range(a0, a1), range(b0, b1), strict=True)]
                continue
            merged += names[a0:a1] + list(own[b0:b1])
            kept += [[*places[a], None] for a in range(a0, a1)]
            kept += [[*([None] * known), b] for b in range(b0, b1)]
        names, places = merged, kept
    return tuple(StageRow(name, tuple(place)) for name, place in zip(names, places, strict=True))
