"""Sittings that may start late on an earlier day: the batch is then done a day sooner.

A rest that ends in the middle of a day's hours costs a whole day where what follows does not fit into what
is left of them. A sitting that starts late that day runs past its usual end, but saves the day.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from layersim.plan.sequence import Work
from layersim.plan.sittings import DAY_S, Sitting
from layersim.plan.steps import hours_s


class Offer(NamedTuple):
    """One sitting on an earlier day than the order has it."""

    sitting: int
    """Its number."""
    begins_s: int
    ends_s: int
    """When it begins and ends instead, seconds from the first sitting's start, the offers before it taken."""
    days_sooner: int


def offers_of(work: Work, sittings: Sequence[Sitting]) -> tuple[Offer, ...]:
    """Return sittings that may start later on an earlier day, where the batch is done a day sooner so.

    Returns none where the last sitting stays on its day: what is only waited for later on saves
    nothing.
    """
    every, hours = hours_s(work.times.every_h), hours_s(work.times.session_h)
    done, ends = [0] * len(work.chains), [0] * len(work.chains)
    found: list[Offer] = []
    free, moved, before = 0, 0, -1
    for sitting in sittings:
        begins = max(free, sitting.begins_s - _slack(work, sitting, done, ends))
        # Not after the day's hours, and no second sitting on one day.
        slot = begins // every
        if begins - slot * every > hours or slot <= before:
            slot = max(slot, before) + 1
            begins = max(free, slot * every)
        earlier = sitting.begins_s // DAY_S - begins // DAY_S
        moved = 0
        if sitting.number > 1 and earlier >= 1:
            moved = sitting.begins_s - begins
            found.append(Offer(sitting.number, begins, sitting.ends_s - moved, earlier))
        before, free = (sitting.begins_s - moved) // every, sitting.ends_s - moved
        for visit in sitting.visits:
            for step in visit.steps:
                done[step.area] += 1
                ends[step.area] = visit.ends_s - moved
    # Only those count that hand their gain on, one to the next, to the last sitting.
    last = sittings[-1].number if sittings else 0
    kept: list[Offer] = []
    for offer in reversed(found):
        if offer.sitting != last:
            break
        kept.insert(0, offer)
        last -= 1
    return tuple(kept)


def _slack(work: Work, sitting: Sitting, done: Sequence[int], ends: Sequence[int]) -> int:
    """Return by how much a sitting may begin earlier for all that rests before it."""
    mine = list(done)
    spare = [sitting.begins_s]
    for visit in sitting.visits:
        # What was laid in this sitting moves along with it.
        spare += [
            visit.begins_s - ends[area] - work.rest_to_mask_s(area, mine[area])
            for area in visit.masked
            if mine[area] == done[area] > 0
        ]
        for step in visit.steps:
            if mine[step.area] == done[step.area] > 0:
                # A mask on the area itself is laid when getting ready begins.
                needed = visit.begins_s if step.hard_edge else visit.starts_s
                rest = work.rest_s(step.area, mine[step.area])
                spare.append(needed - ends[step.area] - rest)
        for step in visit.steps:
            mine[step.area] += 1
    return min(spare)
