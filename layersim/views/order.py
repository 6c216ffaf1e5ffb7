"""The order of work in words."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

from layersim.plan.cautions import GENERAL, cautions
from layersim.plan.offers import Offer
from layersim.plan.order import Order
from layersim.plan.sequence import Visit
from layersim.plan.sittings import DAY_S, Sitting, Waiting
from layersim.views.quantities import caution_lines

_MINUTE_S = 60
_EMPTIES = {"flush": "rinse", "clean-out": "clean out"}


def order_rows(plan: Order) -> list[str]:
    """Return the order of work, sitting by sitting, in lines."""
    models = plan.scheme.batch.models
    count = "one model" if models == 1 else f"{models} models"
    rows = [f"{plan.scheme.name}: order of work for {count}", *summary(plan)]
    rows.append("Times are h:mm from the hour at which the first sitting starts.")
    rows += _plan_rows(plan)
    if plan.sooner is not None:
        rows += ["", f"Done sooner: {sooner_words(plan)}", *_sooner_rows(plan, plan.sooner)]
    rows += [f"Note: {notice}." for notice in plan.notices]
    rows.append("")
    rows.append(
        "All times are common practice, no source. See and edit them with: layersim order SCHEME --times"
    )
    special = [caution for caution in cautions(plan.scheme) if caution.key not in GENERAL]
    if special:
        rows += ["", "Take care (and see the card)", *caution_lines(special)]
    return rows


def _sooner_rows(plan: Order, other: Order) -> Iterable[str]:
    pairs = zip(plan.sittings, other.sittings, strict=False)
    same = sum(1 for _ in itertools.takewhile(lambda pair: pair[0].visits == pair[1].visits, pairs))
    if same:
        yield "Sitting 1 is the same." if same == 1 else f"Sittings 1 to {same} are the same."
    yield from _plan_rows(other, after=same)


def _plan_rows(plan: Order, *, after: int = 0) -> Iterable[str]:
    offers = {offer.sitting: offer_words(offer) for offer in plan.offers}
    for sitting in plan.sittings[after:]:
        yield ""
        yield from _sitting_rows(plan, sitting)
        if sitting.number in offers:
            yield f"  {offers[sitting.number]}"
    yield ""
    yield f"The last film can be handled from {when(plan.handle_s)}."


def sooner_words(plan: Order) -> str:
    """Return what the order that is done soonest gains and costs; empty where there is none."""
    other = plan.sooner
    if other is None:
        return ""
    more = other.clean_outs - plan.clean_outs
    strips = f", with {_count(more, 'clean-out')} more" if more > 0 else ""
    return (
        f"the last film can be handled from {when(other.handle_s)} instead of {when(plan.handle_s)}, "
        f"for {minutes(other.beside_s - plan.beside_s)} more beside laying paint{strips}."
    )


def summary(plan: Order) -> list[str]:
    """Return what the order comes to, in sentences."""
    times = plan.scheme.times
    kept = (
        "Areas are masked from each other."
        if times.between == "mask"
        else 'Areas are kept apart by a card and by aim; with between = "mask" under [times], by masks.'
    )
    sure = (
        "No other order takes less time beside laying paint."
        if plan.proven or plan.gap_s == 0
        else f"The best order found; another may take up to {minutes(plan.gap_s)} less beside laying paint."
    )
    sittings = "1 sitting" if len(plan.sittings) == 1 else f"{len(plan.sittings)} sittings"
    first = (
        f"{sittings} of at most {times.session_h:g} h, {_count(plan.changes, 'change')} of mix in the "
        f"airbrush, {_count(plan.clean_outs, 'clean-out')}, {_count(plan.maskings, 'mask')}; "
        f"{minutes(plan.beside_s)} beside laying paint."
    )
    soon = [f"Another order is done sooner: {sooner_words(plan)}"] if plan.sooner is not None else []
    return [first, sure, *soon, *([kept] if len(plan.scheme.areas) > 1 else [])]


def minutes(seconds: int) -> str:
    """Return a time in words: "45 min", "2 h 05".

    >>> minutes(2700), minutes(7500), minutes(10)
    ('45 min', '2 h 05', '1 min')
    """
    whole = -(-seconds // _MINUTE_S)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d}"


def when(seconds: int) -> str:
    """Return when something is: the day, and h:mm from the hour at which the first sitting starts.

    `seconds`: from the first sitting's start.

    >>> when(90_000)
    'day 2, 1:00'
    """
    day, rest = divmod(seconds, DAY_S)
    return f"day {day + 1}, {_clock(rest)}"


def visit_words(visits: Sequence[Visit]) -> str:
    """Return what is laid in visits: "base on cloth, 3 coats; ..."."""
    areas: dict[tuple[str, int], list[str]] = {}
    for step in (step for visit in visits for step in visit.steps):
        areas.setdefault((step.label, step.coats), []).append(step.area_name)
    each = []
    for (label, coats), names in areas.items():
        joined = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
        each.append(f"{label} on {joined}" + ("" if coats == 1 else f", {coats} coats"))
    return "; ".join(each)


def waiting_words(waiting: Waiting) -> str:
    """Return what an area waits for between two sittings."""
    mask = ", its mask on" if waiting.masked else ""
    if not waiting.before:
        return f"{waiting.area}: done{mask}"
    if waiting.dry:
        return f"{waiting.area}: {waiting.after} is dry, waits for {waiting.before}{mask}"
    ready = when(waiting.ready_s) if waiting.overnight else f"{_clock(waiting.ready_s % DAY_S)}, next sitting"
    return f"{waiting.area}: {waiting.after} dries for {waiting.before}{mask}, ready {ready}"


def sitting_words(plan: Order, sitting: Sitting) -> tuple[str, str]:
    """Return a sitting's day and how long it takes, and its start where that is later than usual.

    Returns such as "day 3, 35 min" and "start at 1:27"; the second may be empty.
    """
    late = sitting.begins_s - _opens(plan, sitting)
    return (
        f"day {sitting.day}, {minutes(sitting.ends_s - sitting.begins_s)}",
        f"start at {_clock(late)}" if late >= _MINUTE_S else "",
    )


def offer_words(offer: Offer) -> str:
    """Return an offer of an earlier start in a sentence."""
    day = offer.begins_s // DAY_S
    days = "a day" if offer.days_sooner == 1 else f"{offer.days_sooner} days"
    return (
        f"Or start day {day + 1} at {_clock(offer.begins_s - day * DAY_S)} instead, until "
        f"{_clock(offer.ends_s - day * DAY_S)}: {days} sooner."
    )


def _sitting_rows(plan: Order, sitting: Sitting) -> Iterable[str]:
    start = _opens(plan, sitting)
    yield f"Sitting {sitting.number}, {', '.join(part for part in sitting_words(plan, sitting) if part)}"
    for group in sitting.at_one_go:
        visit = group[0]
        names = [plan.scheme.areas[area].name for area in visit.masked]
        names += [f"the edge on {s.area_name}" for s in visit.steps if s.hard_edge and s.part == 1]
        ready = [f"mask {', '.join(names)}"] if names else []
        filling = ["fill"] if visit.fills and visit.sprays else []
        if visit.empties and visit.sprays and visit.begins == visit.empties_until:
            filling.insert(0, _EMPTIES[visit.empties])
        elif visit.empties:
            yield f"  {_clock(visit.empties_until - start)}         {_EMPTIES[visit.empties]} the airbrush"
        ready += [", ".join(filling)] if filling else []
        before = f"({'; '.join(ready)}) " if ready else ""
        span = f"{_clock(visit.starts - start)}-{_clock(group[-1].ends - start)}"
        yield f"  {span}  {visit.steps[0].by:<8} {before}{visit_words(group)}"
    if sitting.clean_out:
        yield f"  {_clock(sitting.ends_s - start)}         {_EMPTIES['clean-out']} the airbrush"
    for waiting in sitting.waiting:
        kind = "overnight" if waiting.overnight else "waits" if waiting.dry or not waiting.before else "rests"
        yield f"    {kind:<9}  {waiting_words(waiting)}"


def _opens(plan: Order, sitting: Sitting) -> int:
    """Return the hour from which a sitting's times are told."""
    return sitting.visits[0].sitting * round(plan.scheme.times.every_h * 3600)


def _clock(seconds: int) -> str:
    whole = -(-seconds // _MINUTE_S)
    return f"{whole // 60}:{whole % 60:02d}"


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
