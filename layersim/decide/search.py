"""The search: every recipe within the limits, and proof that none of the best is lost.

**What is searched for.** A recipe's *closeness* is ½ (mean + worst) of ΔE00 over the T tones that
have targets: half for the whole, half for the tone that shows. For each number of paints the best
`keep` *sets* of paints are wanted, each with its best recipe.

**Bound.** Of the tones worked out so far, in any order, let Σ be the sum of their ΔE00 and M the
largest. ΔE00 is never negative, so closeness ≥ ½ (Σ/T + M). A recipe whose bound is above the
`keep`-th best closeness found so far (of another set, and of as many paints) can be dropped: its set
cannot be among the best by this recipe, and that threshold only ever falls. So whatever is dropped
is not wanted, in whatever order recipes come: the search is complete. The better the first tones tell
recipes apart, the fewer are worked out in full; their order is chosen by a sample, whose best sets are the
first threshold. Both change the time and never the result.

**Cheaper lower bounds of one ΔE00**, tried first. With CIEDE2000's own terms

    ΔE00² = (ΔL/S_L)² + c² + h² + R_T c h,   c = ΔC'/S_C,  h = ΔH'/S_H                      (Z1)

c² + h² + R_T c h ≥ (1 − |R_T|/2)(c² + h²) ≥ 0 since |R_T| ≤ 2 sin 60° R, R = √(C̄⁷/(C̄⁷ + 25⁷)) ≤ 1; so
ΔE00 ≥ |ΔL|/S_L, which is an interval of Y outside which a recipe is dropped. And ΔC'² + ΔH'² =
Δa'² + Δb² ≥ Δa² + Δb² (a' = (1 + G) a with the same G ≥ 0 for both colours), S_H ≤ S_C (T ≤ 1.93 <
3), and S_C ≤ 1 + 0.045 · ¾ (C₁ + C₂) (since G ≤ ½), so

    ΔE00² ≥ (ΔL/S_L)² + (1 − sin 60° R)(Δa² + Δb²)/S_C²                                     (Z2)

with the larger C̄ in R and S_C.

**Rounding.** Recipes are dropped on numbers in single precision, which are off by far less than `SLACK`;
thresholds are widened by it. Of a set only those are left that may be its best, and of all sets those that
may be among the best. They are worked out in double precision with the same films as a preview, and only
that is compared and kept.

**Quick search.** With `quick`, sets of three paints are searched only where they hold one of the best
pairs found. That takes a fraction of the time and is no proof: three paints may do what no two of
them come near.

**Carriers.** Paints that cannot be mixed in one film (:func:`layersim.paint.mixable`) stand in no set.

**Ratios** are tried once, in lowest terms, and equal films once, in the fewest coats.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, fields
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.decide.opening import Opening
from layersim.decide.recipes import Level, Limits, Pots, Recipe, levels, ratios
from layersim.decide.targets import ToneTargets
from layersim.optics import bulk, cones
from layersim.optics.surface import SHEEN_DEPTH_UM
from layersim.spectra import FloatArray

KEEP: Final = 12
"""Sets of paints kept for each number of paints."""
MOST_KEPT: Final = 200
NEAR: Final = 0.5
"""ΔE00 of closeness within which other recipes of a set are kept beside its best: sprayed films are not even,
which may turn the order of recipes round by as much."""
_MOST_NEAR: Final = 12
SLACK: Final = 0.05
"""ΔE00 by which thresholds are widened against rounding; single precision is off by a tenth of it."""

# Ratios in one block: numpy's calls cost little beside the work, and a block stays in cache.
_BLOCK: Final = 1000
_SAMPLE: Final = 400
# Stacks worked out exactly at a time: their arrays stay in cache.
_EXACT: Final = 512
# Recipes that wait for their other tones, so that these are worked out many at a time.
_WAITING: Final = 2048
# Below this share of recipes left, lines are worked out again for those alone.
_WORTH_KEEPING: Final = 0.6
_SIN_60: Final = float(np.sin(np.radians(60.0)))

Progress = Callable[[int, int], None]
Array = npt.NDArray[Any]
Ints = npt.NDArray[np.int64]


def closeness(delta_e: FloatArray) -> FloatArray:
    """Return ½ (mean + worst) over the last axis.

    >>> float(closeness(np.array([1.0, 2.0, 3.0])))
    2.5
    """
    return np.asarray(0.5 * (delta_e.mean(axis=-1) + delta_e.max(axis=-1)))


@dataclass(frozen=True, eq=False)
class Found:
    """One recipe and how close it comes, with even films."""

    recipe: Recipe
    opening: int
    """Which of the openings searched it belongs to."""
    delta_e: FloatArray
    """At each tone that has a target."""

    @property
    def closeness(self) -> float:
        """½ (mean + worst) of ΔE00."""
        return float(closeness(self.delta_e))


@dataclass
class Tally:
    """How much was searched, and how."""

    recipes: int = 0
    """Recipes that the limits and the paints' carriers allow, equal films counted once."""
    tones: int = 0
    """Tones with a target."""
    screened: int = 0
    """Recipe-tones worked out in single precision."""
    in_full: int = 0
    """Recipes worked out at every tone, in double precision."""
    skipped: int = 0
    """Recipes that a quick search left out; they are not among `recipes`."""


@dataclass
class Findings:
    """What a search found."""

    best: dict[int, list[Found]] = field(default_factory=dict)
    """Number of paints to the best of each set, closest first."""
    near: dict[tuple[int, ...], list[Found]] = field(default_factory=dict)
    """Set of paints to other recipes of it that come nearly as close, as far as they were worked out."""
    tally: Tally = field(default_factory=Tally)


def search(
    openings: Sequence[Opening],
    pots: Pots,
    limits: Limits,
    targets: ToneTargets,
    *,
    keep: int = KEEP,
    quick: bool = False,
    below: float = np.inf,
    holding: int | None = None,
    progress: Progress | None = None,
) -> Findings:
    """Return the best recipes of every set of paints, the best sets first, for each number of paints.

    The openings, such as with and without a filter after, are searched together. The search is complete
    for `keep` sets of each number of paints, but with `quick`, which tries three paints only where two of
    them are among the best pairs. Nothing farther from the targets than `below` is wanted; with `holding`
    only sets that hold that paint are. `progress` is told the recipes done and those in all.
    """
    steps = levels(limits)
    tally = Tally(tones=int(targets.counted.sum()))
    spaces = [
        _Space(pots, m, ratios(paints=m, drops=limits.drops, least_drops=limits.least_drops), holding)
        for m in range(1, min(limits.paints_at_most, len(pots.paints)) + 1)
    ]
    spaces = [space for space in spaces if len(space.parts) and len(space.sets)]
    each = len(steps) * len(openings)
    tally.recipes = sum(len(space.sets) * len(space.parts) for space in spaces) * each
    findings = Findings(tally=tally)
    told = 0
    best_pairs: list[tuple[int, ...]] = []
    for space in spaces:
        best = _Best(keep, below)
        space.order_by(best_pairs)
        if quick and space.paints == 3:
            skipped = space.keep_promising(best_pairs) * len(space.parts) * each
            tally.recipes -= skipped
            tally.skipped += skipped
            if not len(space.sets):
                continue
        screens = [_Screen(i, o, targets, steps, space, best) for i, o in enumerate(openings)]
        for part in space.blocks():
            for screen in screens:
                tally.screened += screen.block(part)
                told += (part.stop - part.start) * len(space.parts) * len(steps)
                if progress is not None:
                    progress(told, tally.recipes)
        tally.screened += sum(screen.finish() for screen in screens)
        tally.in_full += best.looked_at
        found = best.sorted()
        if found:
            findings.best[space.paints] = found
            findings.near |= {one.recipe.paints: best.others(one) for one in found}
        best_pairs = [one.recipe.paints for one in found]
    return findings


class _Space:
    """All recipes of one number of paints."""

    def __init__(self, pots: Pots, paints: int, parts: Ints, holding: int | None) -> None:
        self.pots, self.paints, self.parts = pots, paints, parts
        every = list(itertools.combinations(range(len(pots.paints)), paints))
        sets = np.array(every, dtype=np.int64).reshape(-1, paints)
        allowed = np.ones(len(sets), dtype=bool) if holding is None else (sets == holding).any(axis=1)
        for one, two in itertools.combinations(range(paints), 2):
            allowed &= pots.may_mix[sets[:, one], sets[:, two]]
        self.sets = sets[allowed]

    def order_by(self, promising: list[tuple[int, ...]]) -> None:
        """Put the sets first that hold the best smaller sets: a low threshold early saves the most."""
        if not promising or len(self.sets) < 2:
            return
        rank = np.full(len(self.sets), len(promising))
        for place, smaller in reversed(list(enumerate(promising))):
            holds = np.ones(len(self.sets), dtype=bool)
            for paint in smaller:
                holds &= (self.sets == paint).any(axis=1)
            rank[holds] = place
        self.sets = self.sets[np.argsort(rank, kind="stable")]

    def keep_promising(self, pairs: list[tuple[int, ...]]) -> int:
        """Keep the sets that hold one of some pairs; return how many went."""
        before = len(self.sets)
        kept = np.zeros(before, dtype=bool)
        for one, two in pairs:
            kept |= (self.sets == one).any(axis=1) & (self.sets == two).any(axis=1)
        self.sets = self.sets[kept]
        return before - len(self.sets)

    def blocks(self) -> Iterator[slice]:
        step = max(1, _BLOCK // len(self.parts))
        for first in range(0, len(self.sets), step):
            yield slice(first, min(first + step, len(self.sets)))


class _Best:
    """The best sets so far."""

    def __init__(self, keep: int, below: float) -> None:
        self.keep, self.threshold, self.looked_at = keep, below, 0
        self._best: dict[tuple[int, ...], list[Found]] = {}

    def offer(self, several: list[Found], looked_at: int) -> None:
        self.looked_at += looked_at
        for found in several:
            own = self._best.setdefault(found.recipe.paints, [])
            if (found.recipe, found.opening) not in [(one.recipe, one.opening) for one in own]:
                own.append(found)
                own.sort(key=_rank)
                del own[_MOST_NEAR:]
        if len(self._best) >= self.keep:
            firsts = self.sorted()
            self._best = {found.recipe.paints: self._best[found.recipe.paints] for found in firsts}
            self.threshold = min(self.threshold, firsts[-1].closeness)

    def sorted(self) -> list[Found]:
        """Return the best of each set, closest first."""
        return sorted((own[0] for own in self._best.values()), key=_rank)[: self.keep]

    def others(self, first: Found) -> list[Found]:
        """Return the other recipes of a set that are near its best."""
        own = self._best[first.recipe.paints]
        return [one for one in own[1:] if one.closeness <= first.closeness + NEAR]


def _rank(found: Found) -> tuple[object, ...]:
    """Closest first; of equals the one with fewer coats and drops: the same whichever came first."""
    recipe = found.recipe
    return (
        round(found.closeness, 9),
        recipe.coats,
        sum(recipe.drops),
        recipe.paints,
        recipe.drops,
        recipe.thinning,
        found.opening,
    )


@dataclass(frozen=True, eq=False)
class _Held:
    """Recipes that passed the first tone, one a column."""

    K: Array
    """Shape (31, n), times the whole film, as S is."""
    S: Array
    sheen: Array
    film: Array
    """Of one coat, unthinned."""
    sets: Ints
    """Row of the space's sets."""
    ratio: Ints
    """Row of its ratios."""
    which: Ints
    """Level."""
    total: FloatArray
    """Sum of ΔE00 over the tones worked out."""
    worst: FloatArray
    sure: npt.NDArray[np.bool_]
    """Whether none of them is only a lower bound."""

    def only(self, some: Array) -> _Held:
        return _Held(*(getattr(self, entry.name)[..., some] for entry in fields(self)))

    @staticmethod
    def joined(several: list[_Held]) -> _Held:
        return _Held(
            *(np.concatenate([getattr(h, entry.name) for h in several], axis=-1) for entry in fields(_Held))
        )


class _Screen:
    """One opening, ready to tell bad recipes in single precision."""

    def __init__(
        self,
        number: int,
        opening: Opening,
        targets: ToneTargets,
        steps: tuple[Level, ...],
        space: _Space,
        best: _Best,
    ) -> None:
        self.number, self.opening, self.targets = number, opening, targets
        self.steps, self.space, self.best = steps, space, best
        self.tones = int(targets.counted.sum())
        self.units = np.array([level.units for level in steps])
        self.coats = np.array([level.coats for level in steps])
        z, above = bulk.coordinates(opening.below), opening.above
        self.wide, self.narrow = (bulk.Between(below=z, above=above, kind=np.float32) for _ in range(2))
        self.weights = np.ascontiguousarray(opening.viewing.weights.T, dtype=np.float32)
        self.surface = (cones.directions().k1 * opening.viewing.white).astype(np.float32)
        self._windows: dict[float, tuple[float, float]] = {}
        self._waiting: list[_Held] = []
        self.order = self._tone_order()

    def block(self, part: slice) -> int:
        """Search some sets of paints; return how many recipe-tones were worked out."""
        space, pots = self.space, self.space.pots
        sets = space.sets[part]
        amounts, sheen = pots.amounts(sets[:, np.newaxis], space.parts)
        single = amounts.astype(np.float32).transpose(0, 2, 1)
        # (sets, 31, m) @ (sets, m, ratios), then the wavelengths first.
        KX, SX = (
            np.ascontiguousarray(
                np.matmul(constants.astype(np.float32)[sets].transpose(0, 2, 1), single).transpose(1, 0, 2)
            ).reshape(constants.shape[1], -1)
            for constants in (pots.K_per_um, pots.S_per_um)
        )
        flat_sheen, film = (v.astype(np.float32).reshape(-1) for v in (sheen, amounts.sum(axis=-1)))
        mixes, which, miss, sure = self._first_tone(KX, SX, flat_sheen, film)
        row, ratio = np.divmod(mixes, len(space.parts))
        units = self.units[which].astype(np.float32)
        self._waiting.append(
            _Held(
                KX[:, mixes] * units,
                SX[:, mixes] * units,
                flat_sheen[mixes],
                film[mixes],
                row + part.start,
                ratio,
                which,
                miss,
                miss,
                sure,
            )
        )
        screened = len(self.steps) * KX.shape[1]
        if sum(held.total.size for held in self._waiting) >= _WAITING:
            screened += self.finish()
        return screened

    def finish(self) -> int:
        """Work out what waits; return how many recipe-tones that took."""
        waiting, self._waiting = self._waiting, []
        if not sum(held.total.size for held in waiting):
            return 0
        left, screened = self._other_tones(_Held.joined(waiting))
        left = left.only(self._may_be_best(left))
        if left.total.size:
            self._offer(left.sets, left.ratio, left.which)
        return screened

    def _first_tone(
        self, K: Array, S: Array, sheen: Array, film: Array
    ) -> tuple[Ints, Ints, FloatArray, npt.NDArray[np.bool_]]:
        """Return which mixes at which level may be close enough, their ΔE00, and whether that is sure."""
        tone = self.order[0]
        most = 2.0 * (self.best.threshold + SLACK) * self.tones / (1 + self.tones)
        self.wide.paints(K, S)
        coefficients = self.wide.coefficients(tone)
        low, high = self._window(tone, most)
        units = (self.units * self.opening.share[tone]).tolist()
        mixes, which, inside = [], [], []
        for number, seen in enumerate(self.wide.seen(coefficients, units)):
            xyz = self.weights @ seen
            xyz += (
                self._sheen(tone, sheen, film * np.float32(self.units[number])) * self.surface[:, np.newaxis]
            )
            some = np.flatnonzero((xyz[1] >= low) & (xyz[1] <= high))
            mixes.append(some)
            which.append(np.full(some.size, number))
            inside.append(xyz[:, some])
        miss, sure = self._misses(np.concatenate(inside, axis=1), tone)
        good = miss <= most
        return np.concatenate(mixes)[good], np.concatenate(which)[good], miss[good], sure[good]

    def _other_tones(self, held: _Held) -> tuple[_Held, int]:
        """Return what is left after all the other tones, and how many recipe-tones that took."""
        screened, fresh = 0, True
        limit = 2.0 * (self.best.threshold + SLACK)
        total, worst, sure = held.total, held.worst, held.sure
        alive = total / self.tones + worst <= limit
        for tone in self.order[1:]:
            if fresh or alive.mean() < _WORTH_KEEPING:
                held, total, worst, sure = held.only(alive), total[alive], worst[alive], sure[alive]
                alive = np.ones(total.size, dtype=bool)
                if not alive.size:
                    break
                self.narrow.paints(held.K, held.S)
                fresh = False
            share = float(self.opening.share[tone])
            xyz = self.weights @ next(self.narrow.seen(self.narrow.coefficients(tone), [share]))
            film = held.film * self.units[held.which].astype(np.float32)
            xyz += self._sheen(tone, held.sheen, film) * self.surface[:, np.newaxis]
            screened += total.size
            miss, exact = self._misses(xyz, tone)
            total, worst, sure = total + miss, np.maximum(worst, miss), sure & exact
            alive &= total / self.tones + worst <= limit
        return dataclasses.replace(held, total=total, worst=worst, sure=sure).only(alive), screened

    def _may_be_best(self, held: _Held) -> npt.NDArray[np.bool_]:
        """Return which recipes may be the best of their sets, or near it, and these among the best sets."""
        near = 0.5 * (held.total / self.tones + held.worst)
        most = np.where(held.sure, near + SLACK, np.inf)
        sets, row = np.unique(held.sets, return_inverse=True)
        of_set = np.full(len(sets), np.inf)
        np.minimum.at(of_set, row, most)
        limit = self.best.threshold
        if len(sets) >= self.best.keep:
            limit = min(limit, float(np.sort(of_set)[self.best.keep - 1]))
        return np.asarray(near - SLACK <= np.minimum(of_set[row] + NEAR, limit))

    def _exact(self, rows: Ints, ratio: Ints, which: Ints) -> FloatArray:
        """Return ΔE00 in double precision, shape (n, counted)."""
        space = self.space
        lab = exact_lab(
            self.opening,
            space.pots,
            space.sets[rows],
            space.parts[ratio],
            units=self.units[which],
            tones=self.targets.counted,
        )
        return colour.delta_e_2000(lab, self.targets.lab[self.targets.counted])

    def _offer(self, rows: Ints, ratio: Ints, which: Ints, delta_e: FloatArray | None = None) -> None:
        """Work out recipes in double precision, and offer the best few of each set."""
        delta_e = self._exact(rows, ratio, which) if delta_e is None else delta_e
        sets, parts = self.space.sets[rows], self.space.parts[ratio]
        close, coats = closeness(delta_e), self.coats[which]
        few = np.flatnonzero(close <= self.best.threshold)
        # The best of each set, of equals those with fewest coats and drops.
        keys = (which, ratio, parts.sum(axis=1), coats, close.round(9), rows)
        few = few[np.lexsort([key[few] for key in keys])]
        _, first, row = np.unique(rows[few], return_index=True, return_inverse=True)
        place = np.arange(len(few)) - first[row]
        few = few[(place < _MOST_NEAR) & (close[few] <= close[few[first]][row] + NEAR)]
        found = [
            Found(
                Recipe(
                    paints=tuple(sets[i].tolist()),
                    drops=tuple(parts[i].tolist()),
                    thinning=self.steps[which[i]].thinning,
                    coats=int(coats[i]),
                ),
                self.number,
                delta_e[i],
            )
            for i in few
        ]
        self.best.offer(found, len(rows))

    def _tone_order(self) -> list[int]:
        """Return the counted tones, those that tell most recipes from the best first, by a sample.

        The sample's best are offered.
        """
        draw = np.random.default_rng(0)
        ends = len(self.space.sets), len(self.space.parts), len(self.steps)
        count = min(_SAMPLE, max(60, int(np.prod(ends)) // 40))
        rows, ratio, which = (draw.integers(0, end, count) for end in ends)
        delta_e = self._exact(rows, ratio, which)
        self._offer(rows, ratio, which, delta_e)
        counted = np.flatnonzero(self.targets.counted)
        limit = min(float(closeness(delta_e).min()), self.best.threshold)
        T = len(counted)
        total, worst = np.zeros(count), np.zeros(count)
        order: list[int] = []
        left = list(range(T))
        while left:
            lost = []
            for tone in left:
                bound = 0.5 * ((total + delta_e[:, tone]) / T + np.maximum(worst, delta_e[:, tone]))
                lost.append((int((bound <= limit).sum()), -float(bound.mean()), tone))
            tone = min(lost)[2]
            order.append(int(counted[tone]))
            total, worst = total + delta_e[:, tone], np.maximum(worst, delta_e[:, tone])
            left.remove(tone)
        return order

    def _sheen(self, tone: int, sheen: Array, film: Array) -> Array:
        o, f = self.opening, np.float32
        left = np.exp(film * f(-o.share[tone] / SHEEN_DEPTH_UM))
        new = sheen + (f(o.sheen_below[tone]) - sheen) * left
        return np.asarray(f(o.sheen_kept[tone]) * new + f(o.sheen_added[tone]))

    def _window(self, tone: int, most: float) -> tuple[float, float]:
        """Return between which Y the lightness alone allows a ΔE00 of `most`."""
        key = round(min(most, 200.0), 2) + 0.01
        if key not in self._windows:
            target = float(self.targets.lab[tone, 0])
            lightness = np.linspace(0.0, 100.0, 20001)
            inside = np.flatnonzero(_lightness_terms(lightness, target) <= key)
            ends = lightness[[max(inside[0] - 1, 0), min(inside[-1] + 1, 20000)]]
            lab = np.stack([ends, np.zeros(2), np.zeros(2)], axis=-1)
            low, high = colour.xyz_from_lab(lab, self.opening.viewing.white)[:, 1]
            self._windows[key] = (
                float(low) if ends[0] > 0.0 else -np.inf,
                float(high) if ends[1] < 100.0 else np.inf,
            )
        return self._windows[key]

    def _misses(self, xyz: Array, tone: int) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
        return near_delta_e(xyz, self.targets.lab[tone], self.opening.viewing.white)


def near_delta_e(
    xyz: Array, target: FloatArray, white: FloatArray
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Return ΔE00 from one target in single precision, for a tenth of the cost, and where it is sure.

    `xyz` has shape (3, n), `target` is L*a*b*. As :func:`colour.delta_e_2000` to about 1e-3, except where
    two hues are opposite: there the mean hue jumps, and the lower bound (Z2) is given.
    """
    f: Any = np.float32
    t: Array = np.maximum(xyz, f(0.0)) / white.astype(f)[:, np.newaxis]
    root = np.cbrt(t)
    x, y, z = root if t.min(initial=1.0) > f(0.01) else _with_black(t, root)
    L, a, b = f(116.0) * y - f(16.0), f(500.0) * (x - y), f(200.0) * (y - z)
    L2, a2, b2 = (f(value) for value in target)
    C = np.sqrt(a * a + b * b)
    seventh = _seventh(f(0.5) * (C + f(np.hypot(target[1], target[2]))))
    G = f(1.5) - f(0.5) * np.sqrt(seventh / (seventh + f(25.0**7)))
    a1, a2 = G * a, G * a2
    C1, C2 = np.sqrt(a1 * a1 + b * b), np.sqrt(a2 * a2 + b2 * b2)
    h1, h2 = np.arctan2(b, a1), np.arctan2(b2, a2)
    pi = f(np.pi)
    turn = h2 - h1
    turn -= f(2.0) * pi * np.rint(turn / (f(2.0) * pi))
    mean = h1 + f(0.5) * turn
    grey = C1 * C2 == 0.0
    mean = np.where(grey, h1 + h2, mean)
    dH = f(2.0) * np.sqrt(C1 * C2) * np.sin(f(0.5) * turn)
    Cm = f(0.5) * (C1 + C2)
    T = (
        f(1.0)
        - f(0.17) * np.cos(mean - f(np.radians(30.0)))
        + f(0.24) * np.cos(f(2.0) * mean)
        + f(0.32) * np.cos(f(3.0) * mean + f(np.radians(6.0)))
        - f(0.20) * np.cos(f(4.0) * mean - f(np.radians(63.0)))
    )
    away = f(0.5) * (L + L2) - f(50.0)
    away *= away
    l_term = (L2 - L) / (f(1.0) + f(0.015) * away / np.sqrt(f(20.0) + away))
    c_term = (C2 - C1) / (f(1.0) + f(0.045) * Cm)
    h_term = dH / (f(1.0) + f(0.015) * Cm * T)
    seventh = _seventh(Cm)
    from_blue = mean - f(np.radians(275.0))
    from_blue -= f(2.0) * pi * np.rint(from_blue / (f(2.0) * pi))
    bump = f(np.radians(60.0)) * np.exp(-((from_blue * f(1.0 / np.radians(25.0))) ** 2))
    RT = f(-2.0) * np.sqrt(seventh / (seventh + f(25.0**7))) * np.sin(bump)
    miss = np.sqrt(np.maximum(l_term**2 + c_term**2 + h_term**2 + RT * c_term * h_term, 0.0)).astype(float)
    opposite = (np.abs(turn) > f(3.13)) & ~grey
    if opposite.any():
        miss[opposite] = lowest_delta_e(np.stack([L, a, b], axis=-1)[opposite].astype(float), target)
    return np.asarray(miss), ~opposite


def _with_black(t: Array, root: Array) -> Array:
    f, delta = np.float32, np.float32(6.0 / 29.0)
    return np.asarray(np.where(t > delta**3, root, t / (f(3.0) * delta**2) + f(4.0 / 29.0)))


def _seventh(C: Array) -> Array:
    cube = C * C * C
    return np.asarray(cube * cube * C)


def _lightness_terms(L: FloatArray, target: float) -> FloatArray:
    mean = 0.5 * (L + target) - 50.0
    SL = 1.0 + 0.015 * mean**2 / np.sqrt(20.0 + mean**2)
    return np.asarray(np.abs(L - target) / SL)


def lowest_delta_e(lab: FloatArray, target: FloatArray) -> FloatArray:
    """Return a lower bound of ΔE00, equation (Z2), of colours of shape (..., 3) from one target."""
    away = lab - target
    chroma = 0.75 * (np.hypot(lab[..., 1], lab[..., 2]) + np.hypot(target[1], target[2]))
    seventh = chroma**7
    kept = 1.0 - _SIN_60 * np.sqrt(seventh / (seventh + 25.0**7))
    SC = 1.0 + 0.045 * chroma
    light = _lightness_terms(lab[..., 0], float(target[0]))
    return np.asarray(np.sqrt(light**2 + kept * (away[..., 1] ** 2 + away[..., 2] ** 2) / SC**2))


def exact_lab(
    opening: Opening,
    pots: Pots,
    sets: Ints,
    parts: Ints,
    *,
    units: FloatArray,
    tones: npt.NDArray[np.bool_] | None = None,
) -> FloatArray:
    """Return L*a*b* of finished tones in double precision, shape (n, tones, 3).

    `sets` and `parts`, shape (n, m), are paints of the pots and their drops. As many coats' worth as `units`
    says, unthinned, is laid. Of `tones` only those that are true come back.
    """
    amounts, sheen = pots.amounts(sets, parts)
    K, S = (np.einsum("nm,nmw->nw", amounts, of[sets]) for of in (pots.K_per_um, pots.S_per_um))
    wanted = np.arange(len(opening.share)) if tones is None else np.flatnonzero(tones)
    finish = opening.sheen(coat_sheen=sheen, film_um=amounts.sum(axis=-1) * units)[:, wanted]
    bare = opening.below
    over = cones.Admittance(*(part[wanted] for part in (bare.cone, bare.cross, bare.trapped)))
    above = bulk.Rows(
        *(rows[:, np.newaxis, wanted] for rows in (opening.above.numerator, opening.above.denominator))
    )
    out = np.empty((len(units), len(wanted), 3))
    step = max(1, _EXACT // max(len(wanted), 1))
    for first in range(0, len(units), step):
        some = slice(first, first + step)
        paint = cones.medium(K_per_um=K[some, np.newaxis], S_per_um=S[some, np.newaxis])
        units_here = (units[some, np.newaxis] * opening.share[wanted])[..., np.newaxis]
        below = bulk.coordinates(cones.lay(paint, thickness_um=units_here, over=over))
        seen = bulk.seen_through(above, below, sheen=finish[some, :, np.newaxis])
        out[some] = seen @ opening.viewing.weights
    return colour.lab_from_xyz(out, opening.viewing.white)
