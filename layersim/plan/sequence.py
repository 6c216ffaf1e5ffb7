"""The search for the best sequence of visits: labels over how far each area has got.

A visit does the next step of one or more areas that share a recipe. What is least is, first, the time
spent on anything but laying paint (setting up, filling, rinsing, cleaning out, masking) and, of sequences
equal in that, when the last coat is done; or, where the batch is wanted soon, first the sitting of the last
coat, then that time.

Labels are worked through by the number of steps done. A label's times are counted from its own sitting's
start. Two labels with the same progress, mix in the airbrush and masks can then be compared, whatever their
sittings: one that has cost no more, stands in no later sitting, is no later in it, and whose films have dried
no less is at least as good. Whatever the other goes on to do, it can do at the same times of a sitting, or as
many sittings sooner. Within a sitting an earlier start never hurts, so each visit starts as early as it may;
that waiting for a later sitting can save a clean-out is tried as a choice of its own, up to the first sitting
that finds everything dry.

Paint must not stand in the airbrush for long. What another mix drives out is out before anything is waited
for, and before a brushed step the airbrush is rinsed, or cleaned out for good. Where the mix in the airbrush
is wanted again after a longer wait, it is rinsed out and filled again: nothing is begun later to save that.
So of labels whose mix is wanted again, one that was laid earlier is only as good if it is cheaper by that.

Nobody waits in the middle of a sitting to save a rinse: visits that do, though something else could be done
meanwhile and they be no later for it, are left out. (A label that is at least as good may then be barred from
what the other may do, so nothing is proven by this.) Then the search is run with them, for sequences better
than the one found: it proves that there are none, or tells what waiting would save.

A label is dropped before it is built where its cost and a bound on what is left to pay are above the best
sequence found so far. The bound counts the fillings that are left, the sittings that rests make
necessary, and those that the bench itself needs, since a sitting holds only so much of it.

The search is run with few labels a stage first, which gives a sequence at once, and again with more. It
is exact unless labels were cut even then. The least that a cut label could have led to is kept: nothing
costs less than :attr:`BestSequence.least_s`.

(A shortest path with resource constraints: M. Desrochers and F. Soumis, INFOR 26 (1988) 191, from memory.)
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal, NamedTuple

from layersim.plan.steps import BenchStep, cleans_out, hours_s, rest_s, seconds, stands_s, work_s
from layersim.scheme.times import Times

MOST_LABELS: Final = 2000
"""Labels kept at one stage."""
_FIRST_WIDTHS: Final = (30, 300)
MOST_JOINED: Final = 4
"""Areas with the same recipe of which every choice is tried; of more, all or one."""
_NO_MIX: Final = -1
_RINSED: Final = -2
"""Rinsed of mix m it is _RINSED − m: what is filled next may still ask for a clean-out."""
_NOT_BEGUN: Final = -1
_DRY: Final = -(10**12)

Goal = Literal["least", "soonest"]
Progress = Callable[[int, int], None]


class Visit(NamedTuple):
    """What is done with one mix in one go; seconds from the first sitting's start."""

    sitting: int
    """From 0."""
    begins_s: int
    """When getting ready begins."""
    starts_s: int
    """When laying paint starts."""
    ends_s: int
    steps: tuple[BenchStep, ...]
    masked: tuple[int, ...]
    """Areas masked beforehand."""
    fills: bool
    """Whether its mix is filled in, or else still in the airbrush."""
    empties: str
    """"", "flush" or "clean-out": what empties the airbrush before."""
    empties_from_s: int
    empties_until_s: int
    """Both are `begins_s` where nothing does. Whatever is waited for is waited for afterwards."""

    @property
    def sprays(self) -> bool:
        """Whether it is done with the airbrush."""
        return self.steps[0].by == "airbrush"


class BestSequence(NamedTuple):
    """A sequence of visits, and what it costs beside laying paint."""

    visits: tuple[Visit, ...]
    cost_s: int
    ends_s: int
    proven: bool
    """Whether none can be better."""
    least_s: int
    """No sequence costs less; where `proven` and the goal is "least", this one's cost."""
    waited_s: int = 0
    """Waiting in the middle of sittings."""
    idles: bool = False
    """Whether it waits somewhere in the middle of a sitting where something else could be done."""


@dataclass(frozen=True)
class Work:
    """What the search needs to know, in whole seconds."""

    chains: tuple[tuple[BenchStep, ...], ...]
    """The steps of each area, in order."""
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
        return self._rests[area][done]

    @cached_property
    def _rests(self) -> list[list[int]]:
        return [
            [0, *(rest_s(one, other) for one, other in itertools.pairwise(chain)), 0] for chain in self.chains
        ]


class _State(NamedTuple):
    """What two labels must share to be compared."""

    done: tuple[int, ...]
    mix: int
    masked: int


class _Turn(NamedTuple):
    """The next steps of some areas that share a recipe."""

    areas: tuple[int, ...]
    steps: tuple[BenchStep, ...]
    recipe: int
    sprays: bool
    works_s: int
    edges: int
    """Masks to lay on the areas themselves."""


class _Label(NamedTuple):
    """Times count from its sitting's start; `visit` has them from the first sitting's."""

    state: _State
    cost: int
    waited: int
    sitting: int
    clock: int
    laid: int
    """When the mix in the airbrush was last laid, where it is wanted again."""
    ends: tuple[int, ...]
    before: _Label | None
    visit: Visit | None


def best_sequence(
    work: Work,
    *,
    most_labels: int = MOST_LABELS,
    goal: Goal = "least",
    known: BestSequence | None = None,
    progress: Progress | None = None,
) -> BestSequence:
    """Return the best sequence of visits that does every step, or the best that so many labels find.

    `known` is a sequence to be better than. `progress` is told the stages done and those there may be.
    """
    total = sum(len(chain) for chain in work.chains)
    if total == 0:
        return BestSequence((), 0, 0, proven=True, least_s=0)

    def told(half: int) -> Progress | None:
        return None if progress is None else lambda done, every: progress(half * every + done, 2 * every)

    found = _widened(work, most_labels, goal, known, told(0), busy=True)
    # Where even the first had to cut, the second only tells how much better another may be.
    labels = most_labels if found.proven else max(1, most_labels // 4)
    free = _widened(work, labels, goal, found, told(1), busy=False)
    if not free.idles:
        return free
    as_good = found.cost_s == free.cost_s and found.visits[-1].sitting == free.visits[-1].sitting
    return found._replace(proven=free.proven and as_good, least_s=free.least_s)


def _widened(
    work: Work,
    most_labels: int,
    goal: Goal,
    known: BestSequence | None,
    progress: Progress | None,
    *,
    busy: bool,
) -> BestSequence:
    """Return the best sequence that more and more labels find."""
    total = sum(len(chain) for chain in work.chains)
    best = None if known is None else known._replace(proven=False, least_s=0)
    widths = [*(width for width in _FIRST_WIDTHS if width < most_labels), most_labels]
    for number, width in enumerate(widths):

        def told(level: int, before: int = number * total) -> None:
            if progress is not None:
                progress(before + level, len(widths) * total)

        search = _Search(work, goal, best, told, busy=busy)
        best = search.run(width)
        if best.proven or search.cut is None:
            break
    if best is None:
        raise AssertionError("there is always one width to search with")
    return best


class _Search:
    """One search, for sequences no worse than one that is known."""

    def __init__(
        self, work: Work, goal: Goal, known: BestSequence | None, told: Callable[[int], None], *, busy: bool
    ) -> None:
        self.work, self.known, self.told, self.busy = work, known, told, busy
        self.soonest = goal == "soonest"
        self._goal = () if known is None else self._merit_of(known)
        # The best that a label which was cut could have led to.
        self.cut: tuple[int, ...] | None = None
        times = work.times
        self.fill, self.flush = seconds(times.fill_min), seconds(times.flush_min)
        self.clean, self.set_up = seconds(times.clean_out_min), seconds(times.set_up_min)
        self.empty = {"": 0, "flush": self.flush, "clean-out": self.clean}
        self.session, self.every = hours_s(times.session_h), hours_s(times.every_h)
        every_step = [step for chain in work.chains for step in chain]
        recipes = list(dict.fromkeys(step.recipe for step in every_step))
        self.number = {recipe: i for i, recipe in enumerate(recipes)}
        self.recipe = [[self.number[step.recipe] for step in chain] for chain in work.chains]
        mixes = {self.number[step.recipe]: step.mix for step in every_step}
        self.stands = [stands_s(step for step in every_step if step.recipe == recipe) for recipe in recipes]
        self.strips = {
            (a, b): cleans_out(mixes[a], mixes[b]) for a, b in itertools.permutations(range(len(recipes)), 2)
        }
        # Where each step stands that is done on the whole model at once.
        self.together: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for area, chain in enumerate(work.chains):
            for n, step in enumerate(chain):
                if step.whole:
                    key = (self.recipe[area][n], step.part)
                    self.together.setdefault(key, []).append((area, n))
        self.sittings_left = [
            [
                {here: self._sittings_of_rests(area, done, here=here) for here in (False, True)}
                for done in range(len(chain) + 1)
            ]
            for area, chain in enumerate(work.chains)
        ]
        self._left: dict[tuple[tuple[int, ...], int], _Left] = {}
        self._known_choices: dict[tuple[int, ...], tuple[list[_Turn], bool]] = {}

    def run(self, most_labels: int) -> BestSequence:
        """Return the best sequence that is found with so many labels at a stage."""
        chains = self.work.chains
        total = sum(len(chain) for chain in chains)
        levels: list[dict[_State, list[_Label]]] = [{} for _ in range(total + 1)]
        nothing = tuple(0 for _ in chains)
        begin = _State(nothing, _NO_MIX, 0)
        start = _Label(begin, 0, 0, _NOT_BEGUN, self.session, 0, tuple(_DRY for _ in chains), None, None)
        levels[0][begin] = [start]
        for level in range(total):
            states = levels[level]
            if sum(len(labels) for labels in states.values()) > most_labels:
                states = self._the_best(states, most_labels)
            for label in itertools.chain(*states.values()):
                for new in self._next(label):
                    _keep(levels[sum(new.state.done)].setdefault(new.state, []), new, self.fill + self.flush)
            levels[level] = {}
            self.told(level + 1)
        found = min(itertools.chain(*levels[total].values()), key=self._merit, default=None)
        if found is None:
            return self._judged(self.known)
        visits: list[Visit] = []
        idles, at = False, found
        while at.before is not None and at.visit is not None:
            visits.append(at.visit)
            idles = idles or self._is_idle(at.before, at.visit)
            at = at.before
        return self._judged(
            BestSequence(tuple(reversed(visits)), found.cost, visits[0].ends_s, False, 0, found.waited, idles)
        )

    def _judged(self, found: BestSequence | None) -> BestSequence:
        """Return a sequence with what is known of its distance from the best."""
        if found is None:
            raise AssertionError("a search without a bound must find a sequence")
        proven = self.cut is None or self.cut >= self._merit_of(found)[:-1]
        least = found.cost_s if self.cut is None else min(found.cost_s, self.cut[0])
        before = 0 if self.known is None else self.known.least_s
        return found._replace(proven=proven, least_s=0 if self.soonest else max(least, before))

    def _merit(self, label: _Label) -> tuple[int, ...]:
        ends = label.sitting * self.every + label.clock
        merit = (label.sitting, label.cost, ends) if self.soonest else (label.cost, ends)
        return (*merit, label.waited)

    def _merit_of(self, found: BestSequence) -> tuple[int, ...]:
        cost, ends = found.cost_s, found.ends_s
        merit = (found.visits[-1].sitting, cost, ends) if self.soonest else (cost, ends)
        return (*merit, found.waited_s)

    def _the_best(self, states: dict[_State, list[_Label]], most: int) -> dict[_State, list[_Label]]:
        every = sorted(itertools.chain(*states.values()), key=self._bound_of)
        self._cut_at(self._bound_of(every[most]))
        kept: dict[_State, list[_Label]] = {}
        for label in every[:most]:
            kept.setdefault(label.state, []).append(label)
        return kept

    def _bound_of(self, label: _Label) -> tuple[int, ...]:
        return self._bound(label.state, label.cost, label.sitting, label.clock)

    def _cut_at(self, bound: tuple[int, ...]) -> None:
        self.cut = bound if self.cut is None else min(self.cut, bound)

    def _bound(self, state: _State, cost: int, sitting: int, clock: int) -> tuple[int, ...]:
        """Return what any sequence from here on costs and ends at the least, as :meth:`_merit` has them."""
        left = self._left_of(state)
        begun, sprayed = left.sittings(clock)
        last = sitting + max(begun, left.last)
        ends = last * self.every + clock if last == sitting else last * self.every
        least = cost + left.cost(begun, sprayed)
        return (last, least, ends) if self.soonest else (least, ends)

    def _left_of(self, state: _State) -> _Left:
        key = (state.done, state.mix)
        if key not in self._left:
            self._left[key] = _Left(self, state)
        return self._left[key]

    def _sittings_of_rests(self, area: int, done: int, *, here: bool) -> tuple[int, int, int]:
        """Return how many sittings an area's rests begin, how many end with a clean-out, and its last one.

        Where an area must rest for longer than a sitting, a new one is begun. `here` says whether the
        airbrush is in use already.
        """
        chain = self.work.chains[area]
        begun = cleaned = last = 0
        for index in range(done, len(chain)):
            rest = self.work.rest_s(area, index)
            if index > done and rest >= self.session:
                begun, here = begun + 1, False
                last += max(1, math.ceil((rest - self.session) / self.every))
            if chain[index].by == "airbrush" and not here:
                cleaned, here = cleaned + 1, True
        return begun, cleaned, last

    def _next(self, label: _Label) -> Iterator[_Label]:
        """Yield everything that can be done next, in this sitting or a later one."""
        # Once everything is dry, later sittings change nothing but the date.
        dry = max((end + self._longest_rest(label, area) for area, end in enumerate(label.ends)), default=0)
        last = label.sitting + max(1, math.ceil(dry / self.every)) if label.sitting >= 0 else 0
        tasks, narrowed = self._choices(label.state.done)
        for task in tasks:
            for sitting in range(max(label.sitting, 0), last + 1):
                for new in self._visits(label, task, sitting):
                    if not (self.busy and new.visit is not None and self._is_idle(label, new.visit)):
                        yield new
        if narrowed:
            self._cut_at(self._bound_of(label))

    def _is_idle(self, label: _Label, visit: Visit) -> bool:
        """Return whether something else could be done while a visit waits, and it be no later for that."""
        if visit.sitting != label.sitting or visit.begins_s <= self._free_s(label, visit):
            return False
        for others in self._choices(label.state.done)[0]:
            left = tuple(step.area for step in visit.steps if step.area not in others.areas)
            if left:
                for meanwhile in self._visits(label, others, label.sitting, judged=False):
                    task = self._task(left, meanwhile.state.done)
                    for after in self._visits(meanwhile, task, label.sitting, judged=False):
                        if after.visit is not None and after.visit.starts_s <= visit.starts_s:
                            return True
        return False

    def _free_s(self, label: _Label, visit: Visit) -> int:
        """Return from when on a visit could be got ready for, but for what must dry."""
        return label.sitting * self.every + label.clock + self.empty[visit.empties]

    def _longest_rest(self, label: _Label, area: int) -> int:
        """Return how long an area may still keep others waiting after its last step."""
        if label.ends[area] == _DRY:
            return 0
        done = label.state.done[area]
        mask = self.work.rest_to_mask_s(area, done) if self.work.masking else 0
        return max(self.work.rest_s(area, done), mask)

    def _choices(self, done: tuple[int, ...]) -> tuple[list[_Turn], bool]:
        """Return sets of areas whose next steps share a recipe, and whether some are left out."""
        if done in self._known_choices:
            return self._known_choices[done]
        by_recipe: dict[int, list[int]] = {}
        wholes: dict[tuple[int, int], None] = {}
        for area, chain in enumerate(self.work.chains):
            if done[area] < len(chain):
                step, recipe = chain[done[area]], self.recipe[area][done[area]]
                if step.whole:
                    wholes[recipe, step.part] = None
                else:
                    by_recipe.setdefault(recipe, []).append(area)
        sets: list[tuple[int, ...]] = [
            tuple(area for area, _ in self.together[key])
            for key in wholes
            if all(done[area] == n for area, n in self.together[key])
        ]
        for areas in by_recipe.values():
            few = len(areas) <= MOST_JOINED
            for count in range(1, len(areas) + 1) if few else (1, len(areas)):
                sets += itertools.combinations(areas, count)
        narrowed = any(len(areas) > MOST_JOINED for areas in by_recipe.values())
        self._known_choices[done] = [self._task(areas, done) for areas in sets], narrowed
        return self._known_choices[done]

    def _task(self, areas: tuple[int, ...], done: tuple[int, ...]) -> _Turn:
        steps = tuple(self.work.chains[area][done[area]] for area in areas)
        return _Turn(
            areas,
            steps,
            self.recipe[areas[0]][done[areas[0]]],
            steps[0].by == "airbrush",
            work_s(steps),
            sum(step.hard_edge and step.part == 1 for step in steps),
        )

    def _visits(self, label: _Label, task: _Turn, sitting: int, *, judged: bool = True) -> Iterator[_Label]:
        """Yield the visit in some sitting, as early as it may be, for each way to have the airbrush ready.

        `judged` leaves out what cannot lead to anything as good as what is known.
        """
        mix = label.state.mix if sitting == label.sitting else _NO_MIX
        make = _Maker(self, label, task, sitting, judged)
        if not task.sprays:
            found = [
                make.visit(empties=empties) for empties in (("flush", "clean-out") if mix >= 0 else ("",))
            ]
        elif mix == task.recipe:
            found = [make.visit(fills=False) or make.visit(empties="flush")]
        else:
            empties = "flush" if mix >= 0 else ""
            last = _RINSED - mix if mix <= _RINSED else mix
            if self.strips.get((last, task.recipe)):
                empties = "clean-out"
            found = [make.visit(empties=empties)]
        yield from filter(None, found)

    def state_after(self, state: _State, task: _Turn, mix: int, masked: int, *, empties: str) -> _State:
        """Return how far everything has got after a visit; `mix` is in the airbrush before."""
        after = list(state.done)
        for area in task.areas:
            after[area] += 1
            masked &= ~(1 << area)
        left = (
            task.recipe if task.sprays else {"": mix, "flush": _RINSED - mix, "clean-out": _NO_MIX}[empties]
        )
        return _State(tuple(after), left, masked)

    def wanted(self, state: _State) -> bool:
        """Return whether the mix in the airbrush is wanted again."""
        return state.mix >= 0 and self._left_of(state).wanted

    def worth(self, to: _State, cost: int, sitting: int, clock: int) -> bool:
        """Return whether a label may lead to anything as good as what is known."""
        return self.known is None or self._bound(to, cost, sitting, clock) < self._goal

    def settled(self, ends: Sequence[int], to: _State, clock: int) -> tuple[int, ...]:
        """Return when each area was finished with, or that it does not matter any more."""
        settled = []
        for area, end in enumerate(ends):
            rest = self.work.rest_s(area, to.done[area]) if end != _DRY else 0
            if end != _DRY and self.work.masking:
                mask = 0 if to.masked >> area & 1 else self.work.rest_to_mask_s(area, to.done[area])
                rest = max(rest, mask)
            settled.append(_DRY if end == _DRY or end + rest <= clock else end)
        return tuple(settled)


class _Left:
    """What is left to do at the least, from some progress with some mix in the airbrush.

    Every recipe that is left must be filled. Each clean-out at the end of a sitting saves rinsing before
    one mix; all other mixes are rinsed for. Sittings are begun for an area's rests, and for all the work.
    """

    def __init__(self, search: _Search, state: _State) -> None:
        self._search = search
        chains = search.work.chains
        left = [chain[n:] for chain, n in zip(chains, state.done, strict=True)]
        by_recipe = {search.number[s.recipe]: s.by == "airbrush" for chain in left for s in chain}
        sprays = any(by_recipe.values())
        self.wanted = by_recipe.pop(state.mix, None) is not None
        here = state.mix != _NO_MIX
        rests = [search.sittings_left[area][n][here] for area, n in enumerate(state.done)]
        self.last = max(last for _, _, last in rests)
        self._rests = {(begun, cleaned) for begun, cleaned, _ in rests}
        # What it was rinsed for already need not be rinsed for again.
        self._rinses = sum(by_recipe.values()) - (state.mix <= _RINSED)
        # What is only brushed is filled, too: onto the palette.
        self._fills = search.fill * len(by_recipe)
        laying = [(s.coats * s.round_s, s.by == "airbrush") for chain in left for s in chain]
        self._work = sum(s for s, _ in laying) + self._fills
        self._spray_work = sum(s for s, by in laying if by) + search.fill * sum(by_recipe.values())
        self._sprays = sprays
        self._costs: dict[tuple[int, int], int] = {}

    def sittings(self, clock: int) -> tuple[int, int]:
        """Return how many sittings the work needs after the one it is in, and how many of them spray."""
        search = self._search
        session, set_up, clean = search.session, search.set_up, search.clean
        begun = _times_over(self._work - max(session - clock, 0), session - set_up)
        room = max(session - clean - clock, 0)
        return begun, _times_over(self._spray_work - room, session - set_up - clean)

    def cost(self, begun: int, sprayed: int) -> int:
        """Return what is left to pay at the least, where the work needs so many sittings."""
        key = (begun, sprayed)
        if key not in self._costs:
            search = self._search
            rinse = min(search.flush, search.clean)
            self._costs[key] = self._fills + max(
                max(b, begun) * search.set_up
                + max(c, sprayed) * search.clean
                + rinse * max(0, self._rinses - max(c, sprayed))
                for b, c in self._rests
            )
        return self._costs[key]


def _times_over(work: int, room: int) -> int:
    if work <= 0:
        return 0
    return -(-work // room) if room > 0 else 1


class _Maker:
    """One task in one sitting: the visits that may be made of it."""

    def __init__(self, search: _Search, label: _Label, task: _Turn, sitting: int, judged: bool) -> None:
        self.search, self.label, self.task, self.sitting, self.judged = search, label, task, sitting, judged
        state = label.state
        work, done = search.work, state.done
        self.fresh = sitting != label.sitting
        self.mix = _NO_MIX if self.fresh else state.mix
        self.to_mask: tuple[int, ...] = ()
        if work.masking and task.sprays:
            self.to_mask = tuple(
                other
                for other in range(len(done))
                if other not in task.areas and done[other] > 0 and not state.masked >> other & 1
            )
        self.ready = search.set_up if self.fresh else 0
        if self.to_mask or task.edges:
            self.ready += work.mask_s(len(self.to_mask) + task.edges)
        # From here on, times count from the sitting's start.
        moved = (sitting - label.sitting) * search.every
        self.opens = 0 if self.fresh else label.clock
        self.masks_from, self.starts_from = 0, 0
        for other in self.to_mask:
            if label.ends[other] != _DRY:
                ready = label.ends[other] - moved + work.rest_to_mask_s(other, done[other])
                self.masks_from = max(self.masks_from, ready)
        for area, step in zip(task.areas, task.steps, strict=True):
            if label.ends[area] != _DRY:
                ready = label.ends[area] - moved + work.rest_s(area, done[area])
                self.starts_from = max(self.starts_from, ready)
                # A mask on the area itself is laid when its film can bear it, which is its rest.
                if step.hard_edge:
                    self.masks_from = max(self.masks_from, ready)
        self.moved = moved

    def visit(self, *, empties: str = "", fills: bool = True) -> _Label | None:
        """Return the visit with the airbrush emptied or filled so; None where it does not fit or serve."""
        search, label, task, state = self.search, self.label, self.task, self.label.state
        emptying = search.empty[empties]
        ready = self.ready + (search.fill if fills else 0)
        opens = self.opens + emptying
        starts = max(max(opens, self.masks_from) + ready, self.starts_from)
        ends = starts + task.works_s
        used = task.sprays or (self.mix != _NO_MIX and empties != "clean-out")
        if ends + (search.clean if used else 0) > search.session:
            return None
        if not fills and starts - label.clock > search.stands[self.mix]:
            return None
        # Who fills a clean airbrush pays for cleaning it out, before what is brushed or as the sitting ends.
        cleaning = search.clean if task.sprays and self.mix == _NO_MIX else 0
        cost = label.cost + ready + cleaning + (emptying if task.sprays or empties == "flush" else 0)
        masked = state.masked
        for other in self.to_mask:
            masked |= 1 << other
        to = search.state_after(state, task, self.mix, masked, empties=empties)
        if self.judged and not search.worth(to, cost, self.sitting, ends):
            return None
        zero = self.sitting * search.every
        visit = Visit(
            sitting=self.sitting,
            begins_s=zero + starts - ready,
            starts_s=zero + starts,
            ends_s=zero + ends,
            steps=task.steps,
            masked=self.to_mask,
            fills=fills,
            empties=empties,
            empties_from_s=zero + (self.opens if empties else starts - ready),
            empties_until_s=zero + (opens if empties else starts - ready),
        )
        when = [end if end == _DRY else end - self.moved for end in label.ends]
        for area in task.areas:
            when[area] = ends
        return _Label(
            state=to,
            cost=cost,
            waited=label.waited + (0 if self.fresh else starts - ready - opens),
            sitting=self.sitting,
            clock=ends,
            laid=ends if search.wanted(to) else 0,
            ends=search.settled(when, to, ends),
            before=label,
            visit=visit,
        )


def _keep(labels: list[_Label], new: _Label, refill_s: int) -> None:
    """Add a label, unless one that is there is as good; drop those that it is as good as."""
    if not any(_as_good(old, new, refill_s) for old in labels):
        labels[:] = [old for old in labels if not _as_good(new, old, refill_s)]
        labels.append(new)


def _as_good(one: _Label, other: _Label, refill_s: int) -> bool:
    if one.sitting > other.sitting or one.clock > other.clock:
        return False
    if one.cost > other.cost:
        return False
    # The other's mix may stand until later: to do the same, this one is rinsed out and filled again.
    if one.laid != other.laid and max(one.cost - other.cost, one.clock - other.clock) > -refill_s:
        return False
    return all(a <= b for a, b in zip(one.ends, other.ends, strict=True))


def changes(visits: Sequence[Visit]) -> int:
    """Return how often another mix is put into the airbrush within a sitting."""
    sprayed = [visit for visit in visits if visit.sprays]
    return sum(
        one.sitting == other.sitting and one.steps[0].recipe != other.steps[0].recipe
        for one, other in itertools.pairwise(sprayed)
    )
