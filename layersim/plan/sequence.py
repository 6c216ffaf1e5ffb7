"""The search for the best sequence of visits: labels over how far each area has got.

A visit does the next step of one or more areas that share a recipe. What is least is, first, the time
spent on anything but laying paint (setting up, filling, rinsing, cleaning out, masking) and, of sequences
equal in that, when the last coat is done.

Labels are worked through by the number of steps done. Two labels with the same progress, mix in the
airbrush, masks and sitting can be compared: one that has cost no more, is no later, and whose films have
dried no less is at least as good, since whatever the other goes on to do, it can do at the same times.
Within a sitting an earlier start never hurts, so each visit starts as early as it may; that waiting for
a later sitting can save a clean-out is tried as a choice of its own.

Paint must not stand in the airbrush for long. What another mix drives out is out before anything is waited
for, and before a brushed step the airbrush is rinsed, or cleaned out for good. Where the mix in the airbrush
is wanted again after a longer wait, there are two choices: to rinse and fill again, or to begin what it
served before (since it was filled) so much later that it need not stand. The least times of the second are a
fixed point (:func:`_together`), and labels whose mix is wanted again are compared only where it has
served the same so far.

Labels that cannot lead to anything
better than a sequence found beforehand are dropped, by a bound on what is left to pay. The search is
therefore exact, unless there are more labels at one stage than :data:`MOST_LABELS`; then those of the best
bounds are kept, and that is said.

(A shortest path with resource constraints: M. Desrochers and F. Soumis, INFOR 26 (1988) 191, from memory.)
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from layersim.plan.steps import Step, cleans_out, hours_s, rest_s, seconds, stands_s, work_s
from layersim.scheme.times import Times

MOST_LABELS: Final = 6000
"""Labels kept at one stage."""
_FEW_LABELS: Final = 40
"""Labels kept at one stage of the quick search that comes first."""
MOST_JOINED: Final = 4
"""Areas with the same recipe of which every choice is tried; of more, all or one."""
_NO_MIX: Final = -1
_RINSED: Final = -2
"""Rinsed of mix m it is _RINSED − m: what is filled next may still ask for a clean-out."""
_NOT_BEGUN: Final = -1
_DRY: Final = -1


class Visit(NamedTuple):
    """What is done with one mix in one go; seconds from the first sitting's start.

    Parameters
    ----------
    sitting : int
        From 0.
    begins, starts, ends : int
        Getting ready begins, laying paint starts and ends.
    steps : tuple of Step
    masked : tuple of int
        Areas masked beforehand.
    fills : bool
        Whether its mix is filled in, or else still in the airbrush.
    empties : str
        "", "flush" or "clean-out": what empties the airbrush before.
    empties_from, empties_until : int
        When; both are `begins` where nothing does. Whatever is waited for is waited for afterwards.
    """

    sitting: int
    begins: int
    starts: int
    ends: int
    steps: tuple[Step, ...]
    masked: tuple[int, ...]
    fills: bool
    empties: str
    empties_from: int
    empties_until: int

    @property
    def sprays(self) -> bool:
        """Whether it is done with the airbrush."""
        return self.steps[0].by == "airbrush"


class Found(NamedTuple):
    """A sequence of visits, what it costs beside laying paint, and whether none can be better."""

    visits: tuple[Visit, ...]
    cost_s: int
    ends: int
    proven: bool


@dataclass(frozen=True)
class Bench:
    """What the search needs to know, in whole seconds.

    Parameters
    ----------
    chains : tuple of tuple of Step
        The steps of each area, in order.
    times : Times
    models : int
    """

    chains: tuple[tuple[Step, ...], ...]
    times: Times
    models: int

    @property
    def masking(self) -> bool:
        """Whether areas are masked from each other."""
        return self.times.between == "mask" and len(self.chains) > 1

    def mask_s(self, areas: int) -> int:
        """Return what masking some areas of all models takes."""
        return areas * seconds(self.times.mask_min * self.models)

    def rest_to_mask_s(self, area: int, done: int) -> int:
        """Return how long an area must rest before it can be masked."""
        return hours_s(self.chains[area][done - 1].drying.mask_h)

    def rest_s(self, area: int, done: int) -> int:
        """Return how long an area must rest before its next step."""
        chain = self.chains[area]
        return rest_s(chain[done - 1], chain[done]) if 0 < done < len(chain) else 0

    @property
    def longest_rest_s(self) -> int:
        """The longest that anything ever rests."""
        rests = [self.rest_s(a, i) for a, chain in enumerate(self.chains) for i in range(len(chain))]
        if self.masking:
            rests += [hours_s(step.drying.mask_h) for chain in self.chains for step in chain]
        return max(rests, default=0)


class _Label(NamedTuple):
    cost: int
    clock: int
    ends: tuple[int, ...]
    served_ends: tuple[int, ...]
    before: _Label | None
    visit: Visit | None


class _Place(NamedTuple):
    """What two labels must share to be compared.

    `served` are the areas of each visit since the mix was filled; empty where it is not wanted again.
    """

    done: tuple[int, ...]
    mix: int
    masked: int
    sitting: int
    served: tuple[tuple[int, ...], ...] = ()


def best_sequence(bench: Bench, *, most_labels: int = MOST_LABELS) -> Found:
    """Return the best sequence of visits that does every step.

    Parameters
    ----------
    bench : Bench
    most_labels : int

    Returns
    -------
    Found
    """
    quick = _search(bench, min(_FEW_LABELS, most_labels), None)
    if quick is None or quick.proven:
        return quick or Found((), 0, 0, proven=True)
    thorough = _search(bench, most_labels, quick)
    if thorough is None:
        raise AssertionError("a search bounded by a sequence must find that sequence or a better one")
    return thorough


def _search(bench: Bench, most_labels: int, bound: Found | None) -> Found | None:
    """Return the best sequence, no worse than `bound`; None where there is nothing to do."""
    search = _Search(bench)
    total = sum(len(chain) for chain in bench.chains)
    if total == 0:
        return None
    nothing = tuple(0 for _ in bench.chains)
    levels: list[dict[_Place, list[_Label]]] = [defaultdict(list) for _ in range(total + 1)]
    start = _Label(0, 0, tuple(_DRY for _ in bench.chains), (), None, None)
    levels[0][_Place(nothing, _NO_MIX, 0, _NOT_BEGUN)] = [start]
    for level in range(total):
        places = levels[level]
        if sum(len(labels) for labels in places.values()) > most_labels:
            search.proven = False
            places = _the_best(places, most_labels, search)
        for place, labels in places.items():
            for label in labels:
                for to, new in search.next(place, label):
                    if bound is None or (new.cost + search.left(to), new.clock) <= (bound.cost_s, bound.ends):
                        _keep(levels[sum(to.done)][to], new)
        levels[level] = {}
    ends = [label for labels in levels[total].values() for label in labels]
    last = min(ends, key=lambda label: (label.cost, label.clock))
    visits: list[Visit] = []
    at: _Label | None = last
    while at is not None:
        if at.visit is not None:
            visits.append(at.visit)
        at = at.before
    return Found(tuple(reversed(visits)), last.cost, last.clock, search.proven)


def _keep(labels: list[_Label], new: _Label) -> None:
    """Add a label, unless one that is there is as good; drop those that it is as good as."""
    for old in labels:
        if _as_good(old, new):
            return
    labels[:] = [old for old in labels if not _as_good(new, old)]
    labels.append(new)


def _as_good(one: _Label, other: _Label) -> bool:
    return (
        one.cost <= other.cost
        and one.clock <= other.clock
        and all(a <= b for a, b in zip(one.ends, other.ends, strict=True))
        and all(a <= b for a, b in zip(one.served_ends, other.served_ends, strict=True))
    )


def _the_best(places: dict[_Place, list[_Label]], most: int, search: _Search) -> dict[_Place, list[_Label]]:
    every = [
        (label.cost + search.left(place), label.clock, i, place, label)
        for i, (place, label) in enumerate(_flat(places))
    ]
    kept: dict[_Place, list[_Label]] = defaultdict(list)
    for *_, place, label in sorted(every, key=lambda row: row[:3])[:most]:
        kept[place].append(label)
    return kept


def _flat(places: dict[_Place, list[_Label]]) -> Iterable[tuple[_Place, _Label]]:
    return ((place, label) for place, labels in places.items() for label in labels)


class _Search:
    """The steps from one label to the next."""

    def __init__(self, bench: Bench) -> None:
        self.bench, self.proven = bench, True
        times = bench.times
        self.fill, self.flush = seconds(times.fill_min), seconds(times.flush_min)
        self.clean, self.set_up = seconds(times.clean_out_min), seconds(times.set_up_min)
        self.empty = {"": 0, "flush": self.flush, "clean-out": self.clean}
        self.session, self.every = hours_s(times.session_h), hours_s(times.every_h)
        # After so many sittings everything is dry; one more may be worth its clean-out where that is
        # less than rinsing. To wait for any further one changes nothing but the date.
        self.patience = math.ceil(bench.longest_rest_s / self.every) + 2
        every_step = [step for chain in bench.chains for step in chain]
        recipes = list(dict.fromkeys(step.recipe for step in every_step))
        self.number = {recipe: i for i, recipe in enumerate(recipes)}
        mixes = {self.number[step.recipe]: step.mix for step in every_step}
        self.strips = {
            (a, b): cleans_out(mixes[a], mixes[b]) for a, b in itertools.permutations(range(len(recipes)), 2)
        }
        self._left: dict[tuple[tuple[int, ...], int], int] = {}

    def next(self, place: _Place, label: _Label) -> Iterable[tuple[_Place, _Label]]:
        """Yield everything that can be done next, in this sitting or a later one."""
        for areas in self._choices(place.done):
            tried = range(max(place.sitting, 0), place.sitting + 2 * self.patience + 1)
            fitting = (tuple(self._visits(place, label, areas, sitting)) for sitting in tried)
            for new in itertools.islice(filter(None, fitting), self.patience):
                yield from new

    def left(self, place: _Place) -> int:
        """Return what is left to pay at the least, for the area that says most.

        Every recipe that is left must be filled. Where an area must rest for longer than a sitting, a new one
        is begun, and cleaned up if the airbrush is used in what follows. Each clean-out at the end of a
        sitting saves rinsing before one mix; all other mixes are rinsed for.
        """
        key = (place.done, place.mix)
        if key not in self._left:
            chains = [chain[n:] for chain, n in zip(self.bench.chains, place.done, strict=True)]
            sprayed = {step.by == "airbrush" for chain in chains for step in chain}
            by_recipe = {self.number[s.recipe]: s.by == "airbrush" for chain in chains for s in chain}
            by_recipe.pop(place.mix, None)
            # What it was rinsed for already need not be rinsed for again.
            airbrush = sum(by_recipe.values()) - (place.mix <= _RINSED)
            least = self.fill * len(by_recipe)
            rinse = min(self.flush, self.clean)
            most = 0
            for area in range(len(chains)):
                begun, cleaned = self._sittings_left(area, place)
                rinsed = rinse * max(0, airbrush - cleaned)
                most = max(most, begun * self.set_up + cleaned * self.clean + rinsed)
            self._left[key] = least + most if sprayed else 0
        return self._left[key]

    def _sittings_left(self, area: int, place: _Place) -> tuple[int, int]:
        """Return how many sittings an area's rests will begin, and how many will end with a clean-out."""
        chain, done = self.bench.chains[area], place.done[area]
        begun, cleaned = 0, 0
        here = place.mix != _NO_MIX
        for index in range(done, len(chain)):
            if index > done and self.bench.rest_s(area, index) >= self.session:
                begun, here = begun + 1, False
            if chain[index].by == "airbrush" and not here:
                cleaned, here = cleaned + 1, True
        return begun, cleaned

    def _choices(self, done: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
        """Yield sets of areas whose next steps share a recipe."""
        by_recipe: dict[int, list[int]] = {}
        for area, chain in enumerate(self.bench.chains):
            if done[area] < len(chain):
                by_recipe.setdefault(self.number[chain[done[area]].recipe], []).append(area)
        for areas in by_recipe.values():
            if len(areas) > MOST_JOINED:
                self.proven = False
                yield tuple(areas)
                yield from ((area,) for area in areas)
                continue
            for count in range(1, len(areas) + 1):
                yield from itertools.combinations(areas, count)

    def _visits(
        self, place: _Place, label: _Label, areas: tuple[int, ...], sitting: int
    ) -> Iterable[tuple[_Place, _Label]]:
        """Yield the visit in some sitting, as early as it may be, for each way to have the airbrush ready."""
        first = self.bench.chains[areas[0]][place.done[areas[0]]]
        mix = place.mix if sitting == place.sitting else _NO_MIX
        recipe = self.number[first.recipe]
        found: list[tuple[_Place, _Label] | None] = []
        if first.by != "airbrush":
            for empties in ("flush", "clean-out") if mix >= 0 else ("",):
                found.append(self._visit(place, label, areas, sitting, empties=empties))
        elif mix == recipe:
            found.append(self._visit(place, label, areas, sitting, fills=False))
            if found[0] is None or found[0][1].before is not label:
                found.append(self._visit(place, label, areas, sitting, empties="flush"))
        else:
            empties = "flush" if mix >= 0 else ""
            last = _RINSED - mix if mix <= _RINSED else mix
            if self.strips.get((last, recipe)):
                empties = "clean-out"
            found.append(self._visit(place, label, areas, sitting, empties=empties))
        return (new for new in found if new is not None)

    def _visit(
        self,
        place: _Place,
        label: _Label,
        areas: tuple[int, ...],
        sitting: int,
        *,
        empties: str = "",
        fills: bool = True,
    ) -> tuple[_Place, _Label] | None:
        """Return the visit with the airbrush emptied or filled so; None where it does not fit."""
        bench, done = self.bench, place.done
        steps = tuple(bench.chains[area][done[area]] for area in areas)
        sprays = steps[0].by == "airbrush"
        mix = place.mix if sitting == place.sitting else _NO_MIX
        to_mask: tuple[int, ...] = ()
        if bench.masking and sprays:
            to_mask = tuple(
                other
                for other in range(len(done))
                if other not in areas and done[other] > 0 and not place.masked >> other & 1
            )
        edges = sum(step.hard_edge and step.part == 1 for step in steps)
        emptying = self.empty[empties]
        ready = bench.mask_s(len(to_mask) + edges) + (self.fill if fills else 0)
        ready += self.set_up if sitting != place.sitting else 0
        begins = max(label.clock + emptying, sitting * self.every)
        for other in to_mask:
            if label.ends[other] != _DRY:
                begins = max(begins, label.ends[other] + bench.rest_to_mask_s(other, done[other]))
        for area, step in zip(areas, steps, strict=True):
            # A mask on the area itself is laid when its film can bear it, which is its rest.
            if step.hard_edge and label.ends[area] != _DRY:
                begins = max(begins, label.ends[area] + bench.rest_s(area, done[area]))
        starts = begins + ready
        for area in areas:
            if label.ends[area] != _DRY:
                starts = max(starts, label.ends[area] + bench.rest_s(area, done[area]))
        visit = Visit(
            sitting=sitting,
            begins=starts - ready,
            starts=starts,
            ends=starts + work_s(steps),
            steps=steps,
            masked=to_mask,
            fills=fills,
            empties=empties,
            empties_from=label.clock if empties else starts - ready,
            empties_until=label.clock + emptying if empties else starts - ready,
        )
        served: tuple[Visit, ...] = ()
        if not fills:
            kept = _kept(label, len(place.served), visit)
            if kept is None:
                return None
            before, served, visit = kept
        else:
            before = label
        used = sprays or (mix != _NO_MIX and empties != "clean-out")
        if visit.ends + (self.clean if used else 0) > sitting * self.every + self.session:
            return None
        # Who fills a clean airbrush pays for cleaning it out, before what is brushed or as the sitting ends.
        cleaning = self.clean if sprays and mix == _NO_MIX else 0
        emptying = emptying if sprays or empties == "flush" else 0
        masked = place.masked
        for other in to_mask:
            masked |= 1 << other
        for area in areas:
            masked &= ~(1 << area)
        when = list(label.ends)
        for one in (*served, visit):
            for step in one.steps:
                when[step.area] = one.ends
        to = self._place(place, areas, sitting, masked, empties=empties, fills=fills)
        return to, _Label(
            cost=label.cost + emptying + ready + cleaning,
            clock=visit.ends,
            ends=self._settled(tuple(when), to.done, masked, visit.ends),
            served_ends=tuple(one.ends for one in (*served, visit)) if to.served else (),
            before=before,
            visit=visit,
        )

    def _place(
        self, place: _Place, areas: tuple[int, ...], sitting: int, masked: int, *, empties: str, fills: bool
    ) -> _Place:
        """Return how far everything has got after a visit."""
        step = self.bench.chains[areas[0]][place.done[areas[0]]]
        done = tuple(n + (area in areas) for area, n in enumerate(place.done))
        if step.by == "airbrush":
            mix = self.number[step.recipe]
            served = (*(() if fills else place.served), areas)
            return _Place(done, mix, masked, sitting, served if self._wanted(mix, done) else ())
        mix = place.mix if sitting == place.sitting else _NO_MIX
        after = {"": mix, "flush": _RINSED - mix, "clean-out": _NO_MIX}
        return _Place(done, after[empties], masked, sitting)

    def _wanted(self, mix: int, done: tuple[int, ...]) -> bool:
        """Return whether a mix is wanted again."""
        chains = zip(self.bench.chains, done, strict=True)
        return any(self.number[step.recipe] == mix for chain, n in chains for step in chain[n:])

    def _settled(
        self, ends: tuple[int, ...], done: tuple[int, ...], masked: int, clock: int
    ) -> tuple[int, ...]:
        """Return when each area was finished with, or that it does not matter any more."""
        settled = []
        for area, end in enumerate(ends):
            rest = self.bench.rest_s(area, done[area]) if end != _DRY else 0
            if end != _DRY and self.bench.masking:
                rest = max(rest, 0 if masked >> area & 1 else self.bench.rest_to_mask_s(area, done[area]))
            settled.append(_DRY if end == _DRY or end + rest <= clock else end)
        return tuple(settled)


def _kept(label: _Label, count: int, visit: Visit) -> tuple[_Label, tuple[Visit, ...], Visit] | None:
    """Return a visit with the mix that is in the airbrush, such that it has never stood for too long.

    Parameters
    ----------
    label : _Label
        What leads to it.
    count : int
        How many visits the mix has served since it was filled.
    visit : Visit
        As early as it may be.

    Returns
    -------
    tuple of _Label, tuple of Visit, Visit, or None
        The label, the visits served, and the visit, all later where need be; None where the mix stands for
        too long whatever is done.
    """
    served: list[Visit] = []
    at = label
    while len(served) < count:
        if at.visit is None or at.before is None:
            raise AssertionError("a mix cannot have served what was not done")
        served.insert(0, at.visit)
        at = at.before
    later = _together([*served, visit])
    if later is None:
        return None
    if later[:-1] == served:
        return label, tuple(served), later[-1]
    fields = []
    one: _Label | None = label
    while one is not None and one is not at:
        fields.append(one)
        one = one.before
    for old, new in zip(reversed(fields), later, strict=False):
        at = old._replace(before=at, visit=new)
    return at, tuple(later[:-1]), later[-1]


def _together(visits: Sequence[Visit]) -> list[Visit] | None:
    """Return visits with one filling so late that the mix stands for no longer than it may between them.

    Least times under bounds on differences of times: each round raises what a bound asks for, and as many
    rounds as there are visits are enough where there are such times.
    """
    starts = [visit.starts for visit in visits]
    works = [visit.ends - visit.starts for visit in visits]
    for _ in range(len(visits) + 1):
        before = list(starts)
        last: dict[int, tuple[Step, int]] = {}
        for i, visit in enumerate(visits):
            ready = visit.starts - visit.begins
            least = [starts[i]]
            if i:
                least.append(starts[i - 1] + works[i - 1] + ready)
            least += [
                last[area][1] + hours_s(last[area][0].drying.mask_h) + ready
                for area in visit.masked
                if area in last
            ]
            for step in visit.steps:
                if step.area in last:
                    dry, ends = last[step.area]
                    least.append(ends + rest_s(dry, step) + (ready if step.hard_edge else 0))
            starts[i] = max(least)
            last |= {step.area: (step, starts[i] + works[i]) for step in visit.steps}
        for i in reversed(range(len(visits) - 1)):
            starts[i] = max(starts[i], starts[i + 1] - stands_s(visits[i].steps) - works[i])
        if starts == before:
            return [_later(visit, start - visit.starts) for visit, start in zip(visits, starts, strict=True)]
    return None


def _later(visit: Visit, by: int) -> Visit:
    """Return a visit that begins later; what empties the airbrush does not wait."""
    return visit._replace(begins=visit.begins + by, starts=visit.starts + by, ends=visit.ends + by)


def changes(visits: Sequence[Visit]) -> int:
    """Return how often another mix is put into the airbrush within a sitting.

    Parameters
    ----------
    visits : sequence of Visit

    Returns
    -------
    int
    """
    sprayed = [visit for visit in visits if visit.sprays]
    return sum(
        one.sitting == other.sitting and one.steps[0].recipe != other.steps[0].recipe
        for one, other in itertools.pairwise(sprayed)
    )
