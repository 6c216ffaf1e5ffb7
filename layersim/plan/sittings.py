"""The sittings that an order of work falls into: what is done in each, and what waits until the next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from layersim.plan.sequence import Visit, Work
from layersim.plan.steps import hours_s, rest_s, seconds

DAY_S: Final = 86_400


@dataclass(frozen=True)
class Waiting:
    """What an area waits for between two sittings."""

    area: str
    after: str
    """The area, and the step it has just had."""
    before: str
    """The step that comes next; empty where there is none."""
    ready_s: int
    """From when it has dried enough; seconds from the first sitting's start."""
    masked: bool
    """Whether its mask stays on."""
    overnight: bool
    """Whether it is ready on another day only."""
    dry: bool
    """Whether it is ready when the sitting ends."""


@dataclass(frozen=True)
class Sitting:
    """One sitting at the bench."""

    number: int
    """From 1; sittings that nothing happens in are left out."""
    begins_s: int
    ends_s: int
    """Of what is done in it, cleaning included; seconds from the first sitting's start."""
    visits: tuple[Visit, ...]
    clean_out: bool
    """Whether it ends with cleaning the airbrush; not where that came before what was brushed last."""
    waiting: tuple[Waiting, ...]
    """What waits until the next one."""

    @property
    def day(self) -> int:
        """The day of its beginning, from 1; sittings may be more or less than a day apart."""
        return self.begins_s // DAY_S + 1

    @property
    def at_one_go(self) -> tuple[tuple[Visit, ...], ...]:
        """Its visits, those together where one follows the other with the same mix and nothing in between."""
        groups: list[list[Visit]] = []
        for visit in self.visits:
            before = groups[-1][-1] if groups else None
            same = before is not None and before.steps[0].recipe == visit.steps[0].recipe
            if same and before is not None and not visit.fills and before.ends_s == visit.starts_s:
                groups[-1].append(visit)
            else:
                groups.append([visit])
        return tuple(tuple(group) for group in groups)


def sittings_of(work: Work, visits: tuple[Visit, ...]) -> tuple[Sitting, ...]:
    """Return the sittings of a sequence of visits, with what waits between them."""
    numbers = list(dict.fromkeys(visit.sitting for visit in visits))
    done = [0] * len(work.chains)
    ends = [0] * len(work.chains)
    masked: set[int] = set()
    sittings = []
    for position, number in enumerate(numbers):
        mine = tuple(visit for visit in visits if visit.sitting == number)
        for visit in mine:
            masked |= set(visit.masked)
            for step in visit.steps:
                done[step.area] += 1
                ends[step.area] = visit.ends_s
                masked.discard(step.area)
        loaded = False
        for visit in mine:
            loaded = visit.sprays or (loaded and visit.empties != "clean-out")
        clean = seconds(work.times.clean_out_min) if loaded else 0
        last = position == len(numbers) - 1
        sittings.append(
            Sitting(
                number=position + 1,
                begins_s=mine[0].begins_s,
                ends_s=mine[-1].ends_s + clean,
                visits=mine,
                clean_out=loaded,
                waiting=()
                if last
                else _waiting(work, done, ends, masked, mine[0].begins_s, mine[-1].ends_s + clean),
            )
        )
    return tuple(sittings)


def _waiting(
    work: Work, done: list[int], ends: list[int], masked: set[int], begins_s: int, ends_s: int
) -> tuple[Waiting, ...]:
    """Return what waits after a sitting from `begins_s` to `ends_s`."""
    found = []
    for area, chain in enumerate(work.chains):
        if done[area] == 0:
            continue
        before = chain[done[area] - 1]
        after = chain[done[area]] if done[area] < len(chain) else None
        rest = rest_s(before, after) if after is not None else hours_s(before.drying.handle_h)
        found.append(
            Waiting(
                area=before.area_name,
                after=before.label,
                before=after.label if after is not None else "",
                ready_s=ends[area] + rest,
                masked=area in masked,
                overnight=after is not None and (ends[area] + rest) // DAY_S > begins_s // DAY_S,
                dry=ends[area] + rest <= ends_s,
            )
        )
    return tuple(found)
