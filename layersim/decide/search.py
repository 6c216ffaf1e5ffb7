"""The search: every recipe within the limits, and proof that none of the best is lost.

**What is searched for.** A recipe's *closeness* is ½ (mean + worst) of ΔE00 over the T tones that
have targets: half for the whole, half for the tone that shows. For each number of paints the best
`keep` *sets* of paints are wanted, each with its best recipe.

**Bound.** Of the tones worked out so far, in any order, let Σ be the sum of their ΔE00 and M the
largest. ΔE00 is never negative, so closeness ≥ ½ (Σ/T + M). A recipe whose bound is above the
`keep`-th best closeness found so far (of another set, and of as many paints) can be dropped: its set
cannot be among the best by this recipe, and that threshold only ever falls. So whatever is dropped
is not wanted, in whatever order recipes come and however many threads work: the search is
complete. The better the first tones tell recipes apart, the fewer are worked out in full; their
order is chosen by a sample, which changes the time and never the result.

**Cheaper lower bounds of one ΔE00**, tried first. With CIEDE2000's own terms

    ΔE00² = (ΔL/S_L)² + c² + h² + R_T c h,   c = ΔC'/S_C,  h = ΔH'/S_H                      (Z1)

c² + h² + R_T c h ≥ (1 − |R_T|/2)(c² + h²) ≥ 0 since |R_T| ≤ 2 sin 60° R, R = √(C̄⁷/(C̄⁷ + 25⁷)) ≤ 1; so
ΔE00 ≥ |ΔL|/S_L, which is an interval of Y outside which a recipe is dropped. And ΔC'² + ΔH'² =
Δa'² + Δb² ≥ Δa² + Δb² (a' = (1 + G) a with the same G ≥ 0 for both colours), S_H ≤ S_C (T ≤ 1.93 <
3), and S_C ≤ 1 + 0.045 · ¾ (C₁ + C₂) (since G ≤ ½), so

    ΔE00² ≥ (ΔL/S_L)² + (1 − sin 60° R)(Δa² + Δb²)/S_C²                                     (Z2)

with the larger C̄ in R and S_C.

**Rounding.** Recipes are dropped on numbers in single precision, whose bounds are off by far less
than `SLACK`; the threshold is widened by it. What remains is worked out in double precision with
the same films as a preview, and only that is compared and kept.

**Quick search.** With `quick`, sets of three paints are searched only where they hold one of the best
pairs found. That takes a fraction of the time and is no proof: three paints may do what no two of
them come near.

**Carriers.** Paints that cannot be mixed in one film (:func:`layersim.paint.mixable`) stand in no set.

**Ratios** are tried once, in lowest terms, and equal films once, in the fewest coats.
"""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
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

KEEP: Final = 24
"""Sets of paints kept for each number of paints."""
SLACK: Final = 0.05
"""ΔE00 by which thresholds are widened against rounding; single precision is off by a tenth of it."""

# Ratios in one block: numpy's calls cost little beside the work, and a block stays in cache.
_BLOCK: Final = 1000
_SAMPLE: Final = 1500
# Stacks worked out exactly at a time: their arrays stay in cache.
_EXACT: Final = 512
# Recipes that wait for their other tones, so that these are worked out many at a time.
_BATCH: Final = 2048
# Below this share of recipes left, lines are worked out again for those alone.
_WORTH_KEEPING: Final = 0.6
_SIN_60: Final = float(np.sin(np.radians(60.0)))

Progress = Callable[[int, int], None]
Array = npt.NDArray[Any]


def closeness(delta_e: FloatArray) -> FloatArray:
    """Return ½ (mean + worst) over the last axis.

    Parameters
    ----------
    delta_e : ndarray, shape (..., tones)

    Returns
    -------
    ndarray

    Examples
    --------
    >>> float(closeness(np.array([1.0, 2.0, 3.0])))
    2.5
    """
    return np.asarray(0.5 * (delta_e.mean(axis=-1) + delta_e.max(axis=-1)))


@dataclass(frozen=True, eq=False)
class Found:
    """One recipe and how close it comes, with even films.

    Parameters
    ----------
    recipe : Recipe
    opening : int
        Which of the openings searched it belongs to.
    delta_e : ndarray, shape (counted tones,)
    """

    recipe: Recipe
    opening: int
    delta_e: FloatArray

    @property
    def closeness(self) -> float:
        """½ (mean + worst) of ΔE00."""
        return float(closeness(self.delta_e))


@dataclass
class Tally:
    """How much was searched, and how.

    Parameters
    ----------
    recipes : int
        Recipes that the limits and the paints' carriers allow, equal films counted once.
    tones : int
        Tones with a target.
    screened : int
        Recipe-tones worked out in single precision.
    in_full : int
        Recipes worked out at every tone, in double precision.
    skipped : int
        Recipes that a quick search left out; they are not among `recipes`.
    """

    recipes: int = 0
    tones: int = 0
    screened: int = 0
    in_full: int = 0
    skipped: int = 0


@dataclass
class Findings:
    """What a search found.

    Parameters
    ----------
    best : dict
        Number of paints to the best of each set, closest first.
    tally : Tally
    """

    best: dict[int, list[Found]] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)


def search(
    openings: Sequence[Opening],
    pots: Pots,
    limits: Limits,
    targets: ToneTargets,
    *,
    keep: int = KEEP,
    quick: bool = False,
    threads: int = 2,
    progress: Progress | None = None,
) -> Findings:
    """Return the best recipes of every set of paints, the best sets first, for each number of paints.

    Parameters
    ----------
    openings : sequence of Opening
        Such as with and without a filter after; searched together.
    pots : Pots
    limits : Limits
    targets : ToneTargets
    keep : int
        Sets kept for each number of paints; the search is complete for these.
    quick : bool
        Three paints only where two of them are among the best pairs: much faster, and not complete.
    threads : int
    progress : callable of (recipes done, recipes in all), optional

    Returns
    -------
    Findings
    """
    steps = levels(limits)
    tally = Tally(tones=int(targets.counted.sum()))
    spaces = [
        _Space(pots, m, ratios(paints=m, drops=limits.drops, least_drops=limits.least_drops))
        for m in range(1, min(limits.paints_at_most, len(pots.paints)) + 1)
    ]
    spaces = [space for space in spaces if len(space.parts) and len(space.sets)]
    each = len(steps) * len(openings)
    tally.recipes = sum(len(space.sets) * len(space.parts) for space in spaces) * each
    findings = Findings(tally=tally)
    told = 0

    def tell(recipes: int) -> None:
        nonlocal told
        told += recipes
        if progress is not None:
            progress(told, tally.recipes)

    best_pairs: list[tuple[int, ...]] = []
    for space in spaces:
        shelf = _Best(keep)
        space.order_by(best_pairs)
        if quick and space.paints == 3:
            skipped = space.keep_promising(best_pairs) * len(space.parts) * each
            tally.recipes -= skipped
            tally.skipped += skipped
            if not len(space.sets):
                continue
        orders = [_tone_order(o, pots, space, steps, targets) for o in openings]
        crew = _Crew(openings, targets, orders, steps, space, shelf)

        def work(task: tuple[int, slice], space: _Space = space, crew: _Crew = crew) -> None:
            number, part = task
            screened = crew.screen(number).block(part)
            with crew.lock:
                tally.screened += screened
                tell((part.stop - part.start) * len(space.parts) * len(steps))

        _share(work, [(number, part) for part in space.blocks() for number in range(len(openings))], threads)
        tally.screened += crew.finish()
        tally.in_full += shelf.offered
        best = shelf.sorted()
        if best:
            findings.best[space.paints] = best
        best_pairs = [found.recipe.paints for found in best]
    return findings


def _share(work: Callable[[tuple[int, slice]], None], tasks: list[tuple[int, slice]], threads: int) -> None:
    if threads <= 1 or len(tasks) == 1:
        for task in tasks:
            work(task)
        return
    with ThreadPoolExecutor(threads) as pool:
        # Not a future for every block: a stopped search should stop.
        for _ in pool.map(work, tasks):
            pass


class _Space:
    """All recipes of one number of paints."""

    def __init__(self, pots: Pots, paints: int, parts: npt.NDArray[np.int64]) -> None:
        self.pots, self.paints, self.parts = pots, paints, parts
        every = list(itertools.combinations(range(len(pots.paints)), paints))
        sets = np.array(every, dtype=np.int64).reshape(-1, paints)
        allowed = np.ones(len(sets), dtype=bool)
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
    """The best sets so far, shared by all threads."""

    def __init__(self, keep: int) -> None:
        self.keep = keep
        self.threshold = np.inf
        self.offered = 0
        self._lock = threading.Lock()
        self._best: dict[tuple[int, ...], Found] = {}

    def offer(self, several: list[Found], looked_at: int) -> None:
        with self._lock:
            self.offered += looked_at
            for found in several:
                before = self._best.get(found.recipe.paints)
                if before is None or _rank(found) < _rank(before):
                    self._best[found.recipe.paints] = found
            if len(self._best) >= self.keep:
                self._best = {found.recipe.paints: found for found in self.sorted()}
                self.threshold = list(self._best.values())[-1].closeness

    def sorted(self) -> list[Found]:
        return sorted(self._best.values(), key=_rank)[: self.keep]


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
class _Batch:
    """Recipes that passed the first tone, one a column.

    Parameters
    ----------
    K, S : ndarray, shape (31, n)
        Times the whole film.
    sheen, film : ndarray, shape (n,)
        Film of one coat, unthinned.
    sets, ratio, which : ndarray of int, shape (n,)
        Row of the space's sets, row of its ratios, level.
    miss : ndarray, shape (n,)
        ΔE00 at the first tone.
    """

    K: Array
    S: Array
    sheen: Array
    film: Array
    sets: npt.NDArray[np.int64]
    ratio: npt.NDArray[np.int64]
    which: npt.NDArray[np.int64]
    miss: FloatArray

    def only(self, some: Array) -> _Batch:
        return _Batch(
            self.K[:, some],
            self.S[:, some],
            *(getattr(self, n)[some] for n in ("sheen", "film", "sets", "ratio", "which", "miss")),
        )

    @staticmethod
    def joined(batches: list[_Batch]) -> _Batch:
        return _Batch(
            np.concatenate([b.K for b in batches], axis=1),
            np.concatenate([b.S for b in batches], axis=1),
            *(
                np.concatenate([getattr(b, n) for b in batches])
                for n in ("sheen", "film", "sets", "ratio", "which", "miss")
            ),
        )


class _Crew:
    """The screens of every thread, so that none leaves before its last batch is done."""

    def __init__(
        self,
        openings: Sequence[Opening],
        targets: ToneTargets,
        orders: list[list[int]],
        steps: tuple[Level, ...],
        space: _Space,
        shelf: _Best,
    ) -> None:
        self._openings, self._targets, self._orders = openings, targets, orders
        self._steps, self._space, self._shelf = steps, space, shelf
        self.lock = threading.Lock()
        self._screens: dict[tuple[int, int], _Screen] = {}

    def screen(self, number: int) -> _Screen:
        key = (threading.get_ident(), number)
        if key not in self._screens:
            made = _Screen(
                number,
                self._openings[number],
                self._targets,
                self._orders[number],
                self._steps,
                self._space,
                self._shelf,
            )
            with self.lock:
                self._screens[key] = made
        return self._screens[key]

    def finish(self) -> int:
        return sum(screen.finish() for screen in self._screens.values())


class _Screen:
    """One opening, ready to tell bad recipes in single precision; one for each thread."""

    def __init__(
        self,
        number: int,
        opening: Opening,
        targets: ToneTargets,
        order: list[int],
        steps: tuple[Level, ...],
        space: _Space,
        shelf: _Best,
    ) -> None:
        self.number, self.opening, self.targets = number, opening, targets
        self.steps, self.order, self.space, self.shelf = steps, order, space, shelf
        self.tones = len(order)
        self.units = np.array([level.units for level in steps])
        z, above = bulk.coordinates(opening.below), opening.above
        self.wide, self.narrow = (bulk.Between(below=z, above=above, kind=np.float32) for _ in range(2))
        self.weights = np.ascontiguousarray(opening.viewing.weights.T, dtype=np.float32)
        self.surface = (cones.directions().k1 * opening.viewing.white).astype(np.float32)
        self._windows: dict[float, tuple[float, float]] = {}
        self._waiting: list[_Batch] = []

    def block(self, part: slice) -> int:
        """Search some sets of paints; return how many recipe-tones were worked out."""
        space, pots = self.space, self.space.pots
        sets = space.sets[part]
        amounts, sheen = pots.amounts(sets, space.parts)
        single = amounts.astype(np.float32).transpose(0, 2, 1)
        # (sets, 31, m) @ (sets, m, ratios), then the wavelengths first.
        KX, SX = (
            np.ascontiguousarray(
                np.matmul(constants.astype(np.float32)[sets].transpose(0, 2, 1), single).transpose(1, 0, 2)
            ).reshape(constants.shape[1], -1)
            for constants in (pots.K_per_um, pots.S_per_um)
        )
        flat_sheen, film = (v.astype(np.float32).reshape(-1) for v in (sheen, amounts.sum(axis=-1)))
        mixes, which, miss = self._first_tone(KX, SX, flat_sheen, film)
        row, ratio = np.divmod(mixes, len(space.parts))
        units = self.units[which].astype(np.float32)
        self._waiting.append(
            _Batch(
                KX[:, mixes] * units,
                SX[:, mixes] * units,
                flat_sheen[mixes],
                film[mixes],
                row + part.start,
                ratio,
                which,
                miss,
            )
        )
        screened = len(self.steps) * KX.shape[1]
        if sum(batch.miss.size for batch in self._waiting) >= _BATCH:
            screened += self.finish()
        return screened

    def finish(self) -> int:
        """Work out what waits; return how many recipe-tones that took."""
        waiting, self._waiting = self._waiting, []
        if not sum(batch.miss.size for batch in waiting):
            return 0
        left, screened = self._other_tones(_Batch.joined(waiting))
        if left.miss.size:
            self._offer(left)
        return screened

    def _first_tone(
        self, K: Array, S: Array, sheen: Array, film: Array
    ) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64], FloatArray]:
        """Return which mixes at which level may be close enough, and their ΔE00."""
        tone = self.order[0]
        most = 2.0 * (self.shelf.threshold + SLACK) * self.tones / (1 + self.tones)
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
        miss = self._misses(np.concatenate(inside, axis=1), tone)
        good = miss <= most
        return np.concatenate(mixes)[good], np.concatenate(which)[good], miss[good]

    def _other_tones(self, batch: _Batch) -> tuple[_Batch, int]:
        """Return what is left after all the other tones, and how many recipe-tones that took."""
        screened, fresh = 0, True
        limit = 2.0 * (self.shelf.threshold + SLACK)
        total, worst = batch.miss, batch.miss
        alive = total / self.tones + worst <= limit
        for tone in self.order[1:]:
            if fresh or alive.mean() < _WORTH_KEEPING:
                batch, total, worst = batch.only(alive), total[alive], worst[alive]
                alive = np.ones(total.size, dtype=bool)
                if not alive.size:
                    break
                self.narrow.paints(batch.K, batch.S)
                fresh = False
            share = float(self.opening.share[tone])
            xyz = self.weights @ next(self.narrow.seen(self.narrow.coefficients(tone), [share]))
            film = batch.film * self.units[batch.which].astype(np.float32)
            xyz += self._sheen(tone, batch.sheen, film) * self.surface[:, np.newaxis]
            screened += total.size
            miss = self._misses(xyz, tone)
            total, worst = total + miss, np.maximum(worst, miss)
            alive &= total / self.tones + worst <= limit
        return batch.only(alive), screened

    def _offer(self, batch: _Batch) -> None:
        """Work out what is left in double precision, and offer the best of each set."""
        space, pots = self.space, self.space.pots
        sets, parts = space.sets[batch.sets], space.parts[batch.ratio]
        amounts, sheen = pots.amounts_of(sets, parts)
        delta_e = exact_delta_e(
            self.opening,
            self.targets,
            K=np.einsum("nm,nmw->nw", amounts, pots.K_per_um[sets]),
            S=np.einsum("nm,nmw->nw", amounts, pots.S_per_um[sets]),
            units=self.units[batch.which],
            sheen=sheen,
            film=amounts.sum(axis=-1),
        )
        close = closeness(delta_e)
        coats = np.array([level.coats for level in self.steps])[batch.which]
        few = np.flatnonzero(close <= self.shelf.threshold)
        # The best of each set, and of equals the one with fewest coats and drops.
        keys = (batch.which, batch.ratio, parts.sum(axis=1), coats, close.round(9), batch.sets)
        few = few[np.lexsort([key[few] for key in keys])]
        firsts = few[np.unique(batch.sets[few], return_index=True)[1]]
        found = [
            Found(
                Recipe(
                    paints=tuple(sets[i].tolist()),
                    drops=tuple(parts[i].tolist()),
                    thinning=self.steps[batch.which[i]].thinning,
                    coats=int(coats[i]),
                ),
                self.number,
                delta_e[i],
            )
            for i in firsts
        ]
        self.shelf.offer(found, batch.miss.size)

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

    def _misses(self, xyz: Array, tone: int) -> FloatArray:
        """Return ΔE00 in single precision, or where that could be far off, a lower bound of it."""
        return near_delta_e(xyz, self.targets.lab[tone], self.opening.viewing.white)


def near_delta_e(xyz: Array, target: FloatArray, white: FloatArray) -> FloatArray:
    """Return ΔE00 from one target in single precision, for a tenth of the cost.

    As :func:`colour.delta_e_2000` to about 1e-3, except where two hues are opposite: there the mean
    hue jumps, and the lower bound (Z2) is given.

    Parameters
    ----------
    xyz : ndarray of float32, shape (3, n)
    target : ndarray, shape (3,)
        L*a*b*.
    white : ndarray, shape (3,)

    Returns
    -------
    ndarray, shape (n,)
    """
    f: Any = np.float32
    t: Array = np.maximum(xyz, f(0.0)) / white.astype(f)[:, np.newaxis]
    # A cube root from a logarithm: numpy's own is five times slower in single precision.
    root = np.exp(np.log(np.maximum(t, f(1e-9))) * f(1.0 / 3.0))
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
    opposite = np.flatnonzero((np.abs(turn) > f(3.13)) & ~grey)
    if opposite.size:
        miss[opposite] = lowest_delta_e(np.stack([L, a, b], axis=-1)[opposite].astype(float), target)
    return np.asarray(miss)


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
    """Return a lower bound of ΔE00, equation (Z2).

    Parameters
    ----------
    lab : ndarray, shape (..., 3)
    target : ndarray, shape (3,)

    Returns
    -------
    ndarray
    """
    away = lab - target
    chroma = 0.75 * (np.hypot(lab[..., 1], lab[..., 2]) + np.hypot(target[1], target[2]))
    seventh = chroma**7
    kept = 1.0 - _SIN_60 * np.sqrt(seventh / (seventh + 25.0**7))
    SC = 1.0 + 0.045 * chroma
    light = _lightness_terms(lab[..., 0], float(target[0]))
    return np.asarray(np.sqrt(light**2 + kept * (away[..., 1] ** 2 + away[..., 2] ** 2) / SC**2))


def exact_lab(
    opening: Opening,
    *,
    K: FloatArray,
    S: FloatArray,
    units: FloatArray,
    sheen: FloatArray,
    film: FloatArray,
    viewing: colour.Viewing | None = None,
) -> FloatArray:
    """Return L*a*b* of finished tones in double precision.

    Parameters
    ----------
    opening : Opening
    K, S : ndarray, shape (n, 31)
        Of one coat unthinned, times its film.
    units : ndarray, shape (n,)
        Coats' worth.
    sheen, film : ndarray, shape (n,)
        Of one coat unthinned.
    viewing : Viewing, optional
        Instead of the opening's.

    Returns
    -------
    ndarray, shape (n, tones, 3)
    """
    view = viewing or opening.viewing
    finish = opening.sheen(coat_sheen=sheen, film_um=film * units)
    above = bulk.Rows(*(rows[:, np.newaxis] for rows in (opening.above.numerator, opening.above.denominator)))
    out = np.empty((len(units), len(opening.share), 3))
    step = max(1, _EXACT // len(opening.share))
    for first in range(0, len(units), step):
        some = slice(first, first + step)
        paint = cones.medium(K_per_um=K[some, np.newaxis], S_per_um=S[some, np.newaxis])
        units_here = (units[some, np.newaxis] * opening.share)[..., np.newaxis]
        below = bulk.coordinates(cones.lay(paint, thickness_um=units_here, over=opening.below))
        seen = bulk.seen_through(above, below, sheen=finish[some, :, np.newaxis])
        out[some] = seen @ view.weights
    return colour.lab_from_xyz(out, view.white)


def exact_delta_e(
    opening: Opening,
    targets: ToneTargets,
    *,
    K: FloatArray,
    S: FloatArray,
    units: FloatArray,
    sheen: FloatArray,
    film: FloatArray,
) -> FloatArray:
    """Return ΔE00 from the targets at every counted tone, shape (n, counted); as :func:`exact_lab`."""
    lab = exact_lab(opening, K=K, S=S, units=units, sheen=sheen, film=film)
    return colour.delta_e_2000(lab[:, targets.counted], targets.lab[targets.counted])


def _tone_order(
    opening: Opening, pots: Pots, space: _Space, steps: tuple[Level, ...], targets: ToneTargets
) -> list[int]:
    """Return the counted tones, those that tell most recipes from the best first, by a sample."""
    draw = np.random.default_rng(0)
    some = draw.integers(0, len(space.sets), _SAMPLE)
    ratio = draw.integers(0, len(space.parts), _SAMPLE)
    sets, parts = space.sets[some], space.parts[ratio]
    amounts, sheen = pots.amounts_of(sets, parts)
    delta_e = exact_delta_e(
        opening,
        targets,
        K=np.einsum("nm,nmw->nw", amounts, pots.K_per_um[sets]),
        S=np.einsum("nm,nmw->nw", amounts, pots.S_per_um[sets]),
        units=np.array([level.units for level in steps])[draw.integers(0, len(steps), _SAMPLE)],
        sheen=sheen,
        film=amounts.sum(axis=1),
    )
    counted = np.flatnonzero(targets.counted)
    limit = float(closeness(delta_e).min())
    T = len(counted)
    total, worst = np.zeros(_SAMPLE), np.zeros(_SAMPLE)
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
