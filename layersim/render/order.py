"""The order of work as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from layersim.plan.order import Order, Sitting, Waiting
from layersim.plan.sequence import Bench, Visit
from layersim.plan.steps import steps_of

_MINUTE_S = 60
_DAY_S = 86_400


def order_text(plan: Order) -> str:
    """Return the order of work, sitting by sitting.

    Parameters
    ----------
    plan : Order

    Returns
    -------
    str
    """
    models = plan.scheme.batch.models
    count = "one model" if models == 1 else f"{models} models"
    rows = [f"{plan.scheme.name}: order of work for {count}", *summary(plan)]
    rows.append("Times are h:mm from the hour at which the first sitting starts.")
    offers = sooner(plan)
    for sitting in plan.sittings:
        rows += ["", *_sitting_rows(plan, sitting)]
        if sitting.number in offers:
            rows.append(f"  {sooner_words(sitting, *offers[sitting.number])}")
    rows.append("")
    rows.append(f"The last film can be handled from {when(plan.handle_s)}.")
    rows += [f"Note: {notice}." for notice in plan.notices]
    rows.append("")
    rows.append(
        "All times are common practice, no source. See and edit them with: layersim order SCHEME --times"
    )
    return "\n".join(rows)


def summary(plan: Order) -> list[str]:
    """Return what the order comes to, in sentences.

    Parameters
    ----------
    plan : Order

    Returns
    -------
    list of str
    """
    times = plan.scheme.times
    kept = (
        "Areas are masked from each other."
        if times.between == "mask"
        else 'Areas are kept apart by a card and by aim; with between = "mask" under [times], by masks.'
    )
    sure = (
        "No other order takes less time beside laying paint."
        if plan.proven
        else "The best order found; there are too many to be sure that none is better."
    )
    sittings = "1 sitting" if len(plan.sittings) == 1 else f"{len(plan.sittings)} sittings"
    first = (
        f"{sittings} of at most {times.session_h:g} h, {_count(plan.changes, 'change')} of mix in the "
        f"airbrush, {_count(plan.clean_outs, 'clean-out')}, {_count(plan.maskings, 'mask')}; "
        f"{minutes(plan.beside_s)} beside laying paint."
    )
    return [first, sure, *([kept] if len(plan.scheme.areas) > 1 else [])]


def minutes(seconds: int) -> str:
    """Return a time in words: "45 min", "2 h 05".

    Parameters
    ----------
    seconds : int

    Returns
    -------
    str

    Examples
    --------
    >>> minutes(2700), minutes(7500), minutes(10)
    ('45 min', '2 h 05', '1 min')
    """
    whole = -(-seconds // _MINUTE_S)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d}"


def when(seconds: int) -> str:
    """Return when something is: the day, and h:mm from the hour at which the first sitting starts.

    Parameters
    ----------
    seconds : int
        From the first sitting's start.

    Returns
    -------
    str

    Examples
    --------
    >>> when(90_000)
    'day 2, 1:00'
    """
    day, rest = divmod(seconds, _DAY_S)
    return f"day {day + 1}, {_clock(rest)}"


def visit_words(visits: Sequence[Visit]) -> str:
    """Return what is laid in visits: "base on cloth, 3 coats; ...".

    Parameters
    ----------
    visits : sequence of Visit

    Returns
    -------
    str
    """
    areas: dict[tuple[str, int], list[str]] = {}
    for step in (step for visit in visits for step in visit.steps):
        areas.setdefault((step.label, step.coats), []).append(step.area_name)
    each = []
    for (label, coats), names in areas.items():
        joined = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
        each.append(f"{label} on {joined}" + ("" if coats == 1 else f", {coats} coats"))
    return "; ".join(each)


def at_one_go(visits: Sequence[Visit]) -> list[list[Visit]]:
    """Return visits grouped where one follows the other with the same mix and nothing in between.

    Parameters
    ----------
    visits : sequence of Visit

    Returns
    -------
    list of list of Visit
    """
    groups: list[list[Visit]] = []
    for visit in visits:
        before = groups[-1][-1] if groups else None
        same = before is not None and before.steps[0].recipe == visit.steps[0].recipe
        if same and before is not None and not visit.change and before.ends == visit.starts:
            groups[-1].append(visit)
        else:
            groups.append([visit])
    return groups


def overnight(waiting: Waiting, sitting: Sitting) -> bool:
    """Return whether what waits after a sitting is ready on another day only.

    Parameters
    ----------
    waiting : Waiting
    sitting : Sitting

    Returns
    -------
    bool
    """
    return bool(waiting.before) and waiting.ready_s // _DAY_S > sitting.begins_s // _DAY_S


def waiting_words(waiting: Waiting, sitting: Sitting) -> str:
    """Return what an area waits for between two sittings.

    Parameters
    ----------
    waiting : Waiting
    sitting : Sitting
        The one after which it waits.

    Returns
    -------
    str
    """
    mask = ", its mask on" if waiting.masked else ""
    if not waiting.before:
        return f"{waiting.area}: done{mask}"
    ready = (
        when(waiting.ready_s)
        if overnight(waiting, sitting)
        else f"{_clock(waiting.ready_s % _DAY_S)}, next sitting"
    )
    return f"{waiting.area}: {waiting.after} dries for {waiting.before}{mask}, ready {ready}"


def sitting_words(plan: Order, sitting: Sitting) -> tuple[str, str]:
    """Return a sitting's day and how long it takes, and its start where that is later than usual.

    Parameters
    ----------
    plan : Order
    sitting : Sitting

    Returns
    -------
    tuple of str
        Such as "day 3, 35 min" and "start at 1:27"; the second may be empty.
    """
    late = sitting.begins_s - _opens(plan, sitting)
    return (
        f"day {day_of(sitting)}, {minutes(sitting.ends_s - sitting.begins_s)}",
        f"start at {_clock(late)}" if late >= _MINUTE_S else "",
    )


def sooner(plan: Order) -> dict[int, tuple[int, int]]:
    """Return sittings that may start later on an earlier day, where the batch is done a day sooner so.

    A rest that ends in the middle of a day's hours costs a whole day where what follows does not fit into
    what is left of them. A sitting that starts late that day runs past its usual end, but saves the day.

    Parameters
    ----------
    plan : Order

    Returns
    -------
    dict of int to (int, int)
        When it begins and ends instead, by the sitting's number; each supposes those before it.
    """
    times = plan.scheme.times
    every, hours = round(times.every_h * 3600), round(times.session_h * 3600)
    bench = Bench(steps_of(plan.scheme), times, plan.scheme.batch.models)
    done, ends = [0] * len(bench.chains), [0] * len(bench.chains)
    found: dict[int, tuple[int, int]] = {}
    free, moved, before = 0, 0, -1
    for sitting in plan.sittings:
        begins = max(free, sitting.begins_s - _slack(bench, sitting, done, ends))
        # Not after the day's hours, and no second sitting on one day.
        slot = begins // every
        if begins - slot * every > hours or slot <= before:
            slot = max(slot, before) + 1
            begins = max(free, slot * every)
        earlier = sitting.begins_s // _DAY_S - begins // _DAY_S
        if sitting.number > 1 and earlier >= 1:
            moved = sitting.begins_s - begins
            found[sitting.number] = (begins, sitting.ends_s - moved)
        else:
            moved = 0
        before, free = (sitting.begins_s - moved) // every, sitting.ends_s - moved
        for visit in sitting.visits:
            for step in visit.steps:
                done[step.area] += 1
                ends[step.area] = visit.ends - moved
    # What is only waited for later on saves nothing.
    last = plan.sittings[-1].number if plan.sittings else 0
    return found if last in found else {}


def sooner_words(sitting: Sitting, begins_s: int, ends_s: int) -> str:
    """Return what :func:`sooner` offers for a sitting, in a sentence.

    Parameters
    ----------
    sitting : Sitting
    begins_s, ends_s : int

    Returns
    -------
    str
    """
    day = begins_s // _DAY_S
    days = day_of(sitting) - 1 - day
    return (
        f"Or start day {day + 1} at {_clock(begins_s - day * _DAY_S)} instead, until "
        f"{_clock(ends_s - day * _DAY_S)}: {'a day' if days == 1 else f'{days} days'} sooner."
    )


def _slack(bench: Bench, sitting: Sitting, done: Sequence[int], ends: Sequence[int]) -> int:
    """Return by how much a sitting may begin earlier for all that rests before it."""
    mine = list(done)
    spare = [sitting.begins_s]
    for visit in sitting.visits:
        # What was laid in this sitting moves along with it.
        spare += [
            visit.begins - ends[area] - bench.rest_to_mask_s(area, mine[area])
            for area in visit.masked
            if mine[area] == done[area] > 0
        ]
        for step in visit.steps:
            if mine[step.area] == done[step.area] > 0:
                # A mask on the area itself is laid when getting ready begins.
                needed = visit.begins if step.hard_edge else visit.starts
                rest = bench.rest_s(step.area, mine[step.area])
                spare.append(needed - ends[step.area] - rest)
        for step in visit.steps:
            mine[step.area] += 1
    return min(spare)


def day_of(sitting: Sitting) -> int:
    """Return the day of a sitting, from 1; sittings may be more or less than a day apart."""
    return sitting.begins_s // _DAY_S + 1


def _sitting_rows(plan: Order, sitting: Sitting) -> Iterable[str]:
    start = _opens(plan, sitting)
    yield f"Sitting {sitting.number}, {', '.join(part for part in sitting_words(plan, sitting) if part)}"
    for group in at_one_go(sitting.visits):
        visit = group[0]
        names = [plan.scheme.areas[area].name for area in visit.masked]
        names += [f"the edge on {s.area_name}" for s in visit.steps if s.hard_edge and s.part == 1]
        ready = [f"mask {', '.join(names)}"] if names else []
        tool = visit.steps[0].by
        if visit.change:
            ready.append(
                {"fill": "fill", "flush": "rinse, fill", "clean-out": "clean out, fill"}[visit.change]
            )
        before = f"({'; '.join(ready)}) " if ready and tool == "airbrush" else ""
        span = f"{_clock(visit.starts - start)}-{_clock(group[-1].ends - start)}"
        yield f"  {span}  {tool:<8} {before}{visit_words(group)}"
    if sitting.clean_out:
        yield f"  {_clock(sitting.ends_s - start)}         clean out the airbrush"
    for waiting in sitting.waiting:
        kind = "overnight" if overnight(waiting, sitting) else "rests"
        yield f"    {kind:<9}  {waiting_words(waiting, sitting)}"


def _opens(plan: Order, sitting: Sitting) -> int:
    """Return the hour from which a sitting's times are told."""
    return sitting.visits[0].sitting * round(plan.scheme.times.every_h * 3600)


def _clock(seconds: int) -> str:
    whole = -(-seconds // _MINUTE_S)
    return f"{whole // 60}:{whole % 60:02d}"


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
