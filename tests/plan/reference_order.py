"""Slow and literal: every sequence of visits in every sitting, and the rules of the bench, one by one.

Written from the rules in docs/bench.md, not from the search: nothing of layersim.plan.sequence is used
but the record of a visit, which is only read.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from layersim.plan.sequence import Visit, Work
from layersim.plan.steps import BenchStep

MINUTE, HOUR = 60, 3600


def rest(before: BenchStep, after: BenchStep) -> float:
    dry = before.drying
    if after.part > 1:
        return dry.flash_min * MINUTE if after.split == "coats" else 0.0
    asked = [dry.recoat_min * MINUTE]
    if after.kind == "varnish":
        asked.append(dry.varnish_h * HOUR)
    if after.kind == "wash":
        asked.append(dry.wash_h * HOUR)
    if after.hard_edge:
        asked.append(dry.mask_h * HOUR)
    return max(asked)


def laying(steps: Sequence[BenchStep]) -> float:
    """Lay coat after coat on a clock, each round waiting for the last to flash off."""
    clock = 0.0
    free = 0.0
    for number in range(max(step.coats for step in steps)):
        clock = max(clock, free)
        begun = clock
        clock += sum(step.round_s for step in steps if step.coats > number)
        free = begun + max([0.0] + [s.drying.flash_min * MINUTE for s in steps if s.coats > number + 1])
    return clock


class Done(NamedTuple):
    """One visit of a plan that is being tried, with its choices and no times yet."""

    steps: list[BenchStep]
    sitting: int
    masks: list[int]
    emptying: float
    ready: float
    keeps: bool


def stands(bench: Work, steps: Sequence[BenchStep]) -> float:
    """As long as a mix's coats flash off, wherever it is laid."""
    alike = [s for chain in bench.chains for s in chain if s.recipe == steps[0].recipe]
    return min(step.drying.flash_min for step in alike) * MINUTE


def timed(plan: Sequence[Done], bench: Work) -> list[float] | None:
    """Return when laying starts, each as early as all that is asked for lets it; None where it never ends.

    Times are pushed back, one reason after another, until nothing pushes any more. None, too, where a mix
    that is kept would stand for too long.
    """
    starts = [0.0] * len(plan)
    every, session = bench.times.every_h * HOUR, bench.times.session_h * HOUR
    while True:
        before = list(starts)
        last: dict[int, tuple[BenchStep, float]] = {}
        for i, one in enumerate(plan):
            begins = one.sitting * every
            if i:
                begins = max(begins, starts[i - 1] + laying(plan[i - 1].steps) + one.emptying)
            for a in one.masks:
                begins = max(begins, last[a][1] + last[a][0].drying.mask_h * HOUR)
            starts[i] = max(starts[i], begins + one.ready)
            for step in one.steps:
                if step.area in last:
                    dry = last[step.area][1] + rest(last[step.area][0], step)
                    starts[i] = max(starts[i], dry + (one.ready if step.hard_edge else 0.0))
            for step in one.steps:
                last[step.area] = (step, starts[i] + laying(one.steps))
            if starts[i] > one.sitting * every + session:
                return None
        if starts == before:
            break
    for i, one in enumerate(plan):
        # The mix may not stand; nothing is begun later for it.
        if one.keeps and starts[i] - starts[i - 1] - laying(plan[i - 1].steps) > stands(
            bench, plan[i - 1].steps
        ):
            return None
    return starts


def split_whole(bench: Work, steps: Sequence[BenchStep], done: Sequence[int]) -> bool:
    """Return whether an area is left out of what the whole model gets at once."""
    if not any(step.whole for step in steps):
        return False
    left = [step for chain, n in zip(bench.chains, done, strict=True) for step in chain[n:]]
    alike = [s for s in left if s.whole and (s.recipe, s.part) == (steps[0].recipe, steps[0].part)]
    return sorted(s.area for s in alike) != sorted(s.area for s in steps)


def every_plan(
    bench: Work, strips: dict[tuple[object, object], bool], sittings: int
) -> Iterator[tuple[float, float]]:
    """Yield cost and end of everything that can be done, each visit as early as it may be in its sitting."""
    times, count = bench.times, len(bench.chains)
    session, every = times.session_h * HOUR, times.every_h * HOUR

    def go(
        plan: list[Done], masked: frozenset[int], mix: object, rinsed: bool, cost: float, clock: float
    ) -> Iterator[tuple[float, float]]:
        done = [sum(step.area == a for one in plan for step in one.steps) for a in range(count)]
        open_areas = [a for a in range(count) if done[a] < len(bench.chains[a])]
        if not open_areas:
            yield cost + (times.clean_out_min * MINUTE if mix is not None else 0.0), clock
            return
        sitting = plan[-1].sitting if plan else -1
        for size in range(1, len(open_areas) + 1):
            for areas in itertools.combinations(open_areas, size):
                steps = [bench.chains[a][done[a]] for a in areas]
                if len({step.recipe for step in steps}) > 1 or split_whole(bench, steps, done):
                    continue
                for now in range(max(sitting, 0), sittings):
                    yield from visit(plan, steps, now, done, masked, mix, rinsed, cost)

    def visit(plan, steps, now, done, masked, mix, rinsed, cost):  # type: ignore[no-untyped-def]
        fresh = not plan or now != plan[-1].sitting
        loaded, rinsed = (None, False) if fresh else (mix, rinsed)
        sprays, recipe = steps[0].by == "airbrush", steps[0].recipe
        areas = [step.area for step in steps]
        to_mask = [
            a
            for a in range(count)
            if sprays and times.between == "mask" and a not in areas and done[a] and a not in masked
        ]
        edges = sum(s.hard_edge and s.part == 1 for s in steps)
        masking = times.mask_min * bench.models * (len(to_mask) + edges)
        masking += times.set_up_min if fresh else 0.0
        rinse, clean = times.flush_min, times.clean_out_min
        # What empties the airbrush, whether it is filled, and what is in it afterwards.
        if not sprays and (loaded is None or rinsed):
            ways = [(0.0, True, loaded, rinsed)]
        elif not sprays:
            ways = [(rinse, True, loaded, True), (clean, True, None, False)]
        elif loaded is None:
            ways = [(0.0, True, recipe, False)]
        elif loaded == recipe:
            ways = [(0.0, True, recipe, False)] if rinsed else []
            ways += [] if rinsed else [(0.0, False, recipe, False), (rinse, True, recipe, False)]
        elif strips[loaded, recipe]:
            ways = [(clean, True, recipe, False)]
        else:
            ways = [(0.0 if rinsed else rinse, True, recipe, False)]
        for emptying, fills, then, now_rinsed in ways:
            ready = masking + (times.fill_min if fills else 0.0)
            one = Done(steps, now, to_mask, emptying * MINUTE, ready * MINUTE, not fills)
            starts = timed([*plan, one], bench)
            if starts is None:
                continue
            finish = starts[-1] + laying(steps)
            if finish + (clean * MINUTE if then is not None else 0.0) > now * every + session:
                continue
            # What is still in the airbrush at a sitting's end is cleaned out then.
            paid = emptying + ready + (clean if fresh and mix is not None else 0.0)
            after = (masked | set(to_mask)) - set(areas)
            yield from go([*plan, one], after, then, now_rinsed, cost + paid * MINUTE, finish)

    yield from go([], frozenset(), None, False, 0.0, 0.0)


def broken_rules(bench: Work, visits: Sequence[Visit]) -> list[str]:
    """Return what is wrong with a plan: an empty list where it can be done."""
    times, wrong = bench.times, []
    done, ends = [0] * len(bench.chains), [0.0] * len(bench.chains)
    masked: set[int] = set()
    for before, after in itertools.pairwise(visits):
        if after.begins_s < before.ends_s:
            wrong.append("two things at once")
    wrong += standing(bench, visits)
    for number, visit in enumerate(visits):
        areas = [step.area for step in visit.steps]
        if len({step.recipe for step in visit.steps}) != 1:
            wrong.append("two mixes at once")
        sprays = visit.steps[0].by == "airbrush"
        opens, closes = (
            visit.sitting * times.every_h * HOUR,
            visit.sitting * times.every_h * HOUR + times.session_h * HOUR,
        )
        mine = [v for v in visits[: number + 1] if v.sitting == visit.sitting]
        sprayed = [i for i, v in enumerate(mine) if v.steps[0].by == "airbrush"]
        used = bool(sprayed) and all(v.empties != "clean-out" for v in mine[sprayed[-1] + 1 :])
        if visit.begins_s < opens or visit.ends_s + (times.clean_out_min * MINUTE if used else 0) > closes:
            wrong.append("outside its sitting")
        if visit.ends_s - visit.starts_s < laying(visit.steps):
            wrong.append("too fast")
        for a in visit.masked:
            if a in areas or visit.begins_s < ends[a] + bench.chains[a][done[a] - 1].drying.mask_h * HOUR:
                wrong.append("masked too early")
            masked.add(a)
        if sprays and times.between == "mask":
            for a in range(len(bench.chains)):
                if a not in areas and done[a] and a not in masked:
                    wrong.append("overspray on a bare area")
        if split_whole(bench, visit.steps, done):
            wrong.append("part of a whole")
        for step in visit.steps:
            a = step.area
            if bench.chains[a][done[a]] != step:
                wrong.append("out of order")
            if done[a] and visit.starts_s < ends[a] + rest(bench.chains[a][done[a] - 1], step):
                wrong.append("not dry")
            done[a] += 1
            ends[a] = visit.ends_s
            masked.discard(a)
    if done != [len(chain) for chain in bench.chains]:
        wrong.append("something left undone")
    return wrong


def idle_waits(
    bench: Work, strips: dict[tuple[object, object], bool], visits: Sequence[Visit]
) -> list[tuple[int, int]]:
    """Return visits that wait in a sitting while one other area could be sprayed, and that area; no masks."""
    times, wrong = bench.times, []

    def emptied(old: BenchStep, new: BenchStep) -> float:
        if old.by != "airbrush":
            return times.clean_out_min * MINUTE
        return (times.clean_out_min if strips.get((old.recipe, new.recipe)) else times.flush_min) * MINUTE

    done, ends = [0] * len(bench.chains), [0.0] * len(bench.chains)
    for number, (before, after) in enumerate(itertools.pairwise(visits)):
        for step in before.steps:
            done[step.area] += 1
            ends[step.area] = before.ends_s
        free = after.empties_until_s if after.empties else before.ends_s
        waits = after.sitting == before.sitting and after.begins_s > free and times.between != "mask"
        for area, chain in enumerate(bench.chains):
            if not waits or done[area] == len(chain) or [step.area for step in after.steps] == [area]:
                continue
            other = chain[done[area]]
            if other.whole or other.hard_edge or other.by != "airbrush" or not after.sprays:
                continue
            begins = before.ends_s + emptied(before.steps[0], other) + times.fill_min * MINUTE
            if done[area]:
                begins = max(begins, ends[area] + rest(chain[done[area] - 1], other))
            ready = emptied(other, after.steps[0]) + times.fill_min * MINUTE
            ready += 2 * times.mask_min * bench.models * MINUTE * sum(s.hard_edge for s in after.steps)
            if begins + laying([other]) + ready <= after.starts_s:
                wrong.append((number + 1, area))
    return wrong


def standing(bench: Work, visits: Sequence[Visit]) -> list[str]:
    """Return where paint stands in the airbrush for too long, or what empties it has no time."""
    wrong = []
    takes = {"": 0.0, "flush": bench.times.flush_min, "clean-out": bench.times.clean_out_min}
    for before, after in itertools.pairwise(visits):
        if after.empties:
            if after.sitting != before.sitting or after.empties_from_s != before.ends_s:
                wrong.append("emptied at another time")
            if after.empties_until_s - after.empties_from_s != takes[after.empties] * MINUTE:
                wrong.append("emptied too fast")
            if after.begins_s < after.empties_until_s:
                wrong.append("emptied beside something else")
    for sitting in {visit.sitting for visit in visits}:
        loaded: Visit | None = None
        for visit in (v for v in visits if v.sitting == sitting):
            loaded = None if visit.empties else loaded
            if visit.steps[0].by == "airbrush":
                if loaded is None:
                    if not visit.fills:
                        wrong.append("nothing in the airbrush")
                elif loaded.steps[0].recipe != visit.steps[0].recipe:
                    wrong.append("one mix on another")
                elif visit.starts_s - loaded.ends_s > stands(bench, loaded.steps):
                    wrong.append("stands in the airbrush")
                loaded = visit
            elif loaded is not None:
                wrong.append("stands while something is brushed")
    return wrong
