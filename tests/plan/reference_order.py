"""Slow and literal: every sequence of visits in every sitting, and the rules of the bench, one by one.

Written from the rules in docs/bench.md, not from the search: nothing of layersim.plan.sequence is used
but the record of a visit, which is only read.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from layersim.plan.sequence import Bench, Visit
from layersim.plan.steps import Step

MINUTE, HOUR = 60, 3600


def rest(before: Step, after: Step) -> float:
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


def laying(steps: Sequence[Step]) -> float:
    """Lay coat after coat on a clock, each round waiting for the last to flash off."""
    clock = 0.0
    free = 0.0
    for number in range(max(step.coats for step in steps)):
        clock = max(clock, free)
        begun = clock
        clock += sum(step.round_s for step in steps if step.coats > number)
        free = begun + max([0.0] + [s.drying.flash_min * MINUTE for s in steps if s.coats > number + 1])
    return clock


def every_plan(
    bench: Bench, strips: dict[tuple[object, object], bool], sittings: int
) -> Iterator[tuple[float, float]]:
    """Yield cost and end of everything that can be done, each visit as early as it may be in its sitting."""
    times, count = bench.times, len(bench.chains)
    session, every = times.session_h * HOUR, times.every_h * HOUR

    def go(
        done: list[int],
        ends: list[float],
        masked: frozenset[int],
        mix: object,
        sitting: int,
        clock: float,
        cost: float,
    ) -> Iterator[tuple[float, float]]:
        open_areas = [a for a in range(count) if done[a] < len(bench.chains[a])]
        if not open_areas:
            yield cost, clock
            return
        for size in range(1, len(open_areas) + 1):
            for areas in itertools.combinations(open_areas, size):
                steps = [bench.chains[a][done[a]] for a in areas]
                if len({step.recipe for step in steps}) > 1:
                    continue
                for now in range(max(sitting, 0), sittings):
                    yield from visit(areas, steps, now, done, ends, masked, mix, sitting, clock, cost)

    def visit(areas, steps, now, done, ends, masked, mix, sitting, clock, cost):  # type: ignore[no-untyped-def]
        sprays = steps[0].by == "airbrush"
        fresh = now != sitting
        loaded = None if fresh else mix
        ready = times.set_up_min if fresh else 0.0
        if not sprays or loaded is None:
            ready += times.fill_min
        elif loaded != steps[0].recipe:
            ready += times.fill_min + (
                times.clean_out_min if strips[loaded, steps[0].recipe] else times.flush_min
            )
        to_mask = [
            a
            for a in range(count)
            if sprays and times.between == "mask" and a not in areas and done[a] and a not in masked
        ]
        ready += (
            times.mask_min * bench.models * (len(to_mask) + sum(s.hard_edge and s.part == 1 for s in steps))
        )
        begins = max(clock, now * every)
        for a in to_mask:
            begins = max(begins, ends[a] + bench.chains[a][done[a] - 1].drying.mask_h * HOUR)
        starts = begins + ready * MINUTE
        for a, step in zip(areas, steps, strict=True):
            if done[a]:
                dry = ends[a] + rest(bench.chains[a][done[a] - 1], step)
                starts = max(starts, dry + (ready * MINUTE if step.hard_edge else 0.0))
        finish = starts + laying(steps)
        tidy = times.clean_out_min * MINUTE if sprays or loaded is not None else 0.0
        if finish + tidy > now * every + session:
            return
        paid = ready * MINUTE + (times.clean_out_min * MINUTE if sprays and loaded is None else 0.0)
        new_done, new_ends = list(done), list(ends)
        for a in areas:
            new_done[a] += 1
            new_ends[a] = finish
        yield from go(
            new_done,
            new_ends,
            (masked | set(to_mask)) - set(areas),
            steps[0].recipe if sprays else loaded,
            now,
            finish,
            cost + paid,
        )

    yield from go([0] * count, [0.0] * count, frozenset(), None, -1, 0.0, 0.0)


def broken_rules(bench: Bench, visits: Sequence[Visit]) -> list[str]:
    """Return what is wrong with a plan: an empty list where it can be done."""
    times, wrong = bench.times, []
    done, ends = [0] * len(bench.chains), [0.0] * len(bench.chains)
    masked: set[int] = set()
    for before, after in itertools.pairwise(visits):
        if after.begins < before.ends:
            wrong.append("two things at once")
    for number, visit in enumerate(visits):
        areas = [step.area for step in visit.steps]
        if len({step.recipe for step in visit.steps}) != 1:
            wrong.append("two mixes at once")
        sprays = visit.steps[0].by == "airbrush"
        opens, closes = (
            visit.sitting * times.every_h * HOUR,
            visit.sitting * times.every_h * HOUR + times.session_h * HOUR,
        )
        used = any(v.steps[0].by == "airbrush" for v in visits[: number + 1] if v.sitting == visit.sitting)
        if visit.begins < opens or visit.ends + (times.clean_out_min * MINUTE if used else 0) > closes:
            wrong.append("outside its sitting")
        if visit.ends - visit.starts < laying(visit.steps):
            wrong.append("too fast")
        for a in visit.masked:
            if a in areas or visit.begins < ends[a] + bench.chains[a][done[a] - 1].drying.mask_h * HOUR:
                wrong.append("masked too early")
            masked.add(a)
        if sprays and times.between == "mask":
            for a in range(len(bench.chains)):
                if a not in areas and done[a] and a not in masked:
                    wrong.append("overspray on a bare area")
        for step in visit.steps:
            a = step.area
            if bench.chains[a][done[a]] != step:
                wrong.append("out of order")
            if done[a] and visit.starts < ends[a] + rest(bench.chains[a][done[a] - 1], step):
                wrong.append("not dry")
            done[a] += 1
            ends[a] = visit.ends
            masked.discard(a)
    if done != [len(chain) for chain in bench.chains]:
        wrong.append("something left undone")
    return wrong
