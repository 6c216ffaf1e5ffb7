"""The order of work, sitting by sitting."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

from layersim.plan.cautions import GENERAL
from layersim.plan.offers import Offer
from layersim.plan.order import Order
from layersim.plan.sequence import Visit
from layersim.plan.sittings import DAY_S, Sitting, Waiting
from layersim.plan.steps import rest_s, steps_of
from layersim.spectra import FloatArray
from layersim.views.parts import Heading, Part, Span, TablePart, Timeline, View, Words
from layersim.views.quantities import care
from layersim.views.words import counted, joined, models_words

_MINUTE_S = 60
_EMPTIES = {"flush": "rinse", "clean-out": "clean out"}


def view(plan: Order, *, typed: bool = True) -> View:
    """Return the page of an order of work; without `typed` it names no command to type."""
    models = plan.scheme.batch.models
    edit = "See and edit them with: layersim order SCHEME --times" if typed else "Yours go under [times]."
    rest = f"All times are common practice, no source. {edit}"
    special = [caution for caution in plan.cautions if caution.key not in GENERAL]
    parts = [Words(summary(plan)), *_plan_parts(plan)]
    if plan.sooner is not None:
        parts += [Heading("Done sooner"), Words([sooner_words(plan)]), *_sooner(plan, plan.sooner)]
    return View(
        title=f"{plan.scheme.name}: order of work for {models_words(models)}",
        aside="Times are h:mm from the hour at which the first sitting starts.",
        parts=[*parts, Words([rest], kind="faint"), *care(special, "and see the card")],
        notices=(*plan.notices, *plan.scheme.notices),
        viewing=plan.scheme.viewing,
    )


def _sooner(plan: Order, other: Order) -> list[Part]:
    pairs = zip(plan.sittings, other.sittings, strict=False)
    same = sum(1 for _ in itertools.takewhile(lambda pair: pair[0].visits == pair[1].visits, pairs))
    said = "Sitting 1 is the same." if same == 1 else f"Sittings 1 to {same} are the same."
    return [*([Words([said])] if same else []), *_plan_parts(other, after=same)]


def _plan_parts(plan: Order, *, after: int = 0) -> list[Part]:
    """Return the sittings after some of them, and when the last film can be handled."""
    offers = {offer.sitting: offer_words(offer) for offer in plan.offers}
    masks = _masked_at_start(plan)
    parts: list[Part] = []
    for sitting, masked in list(zip(plan.sittings, masks, strict=True))[after:]:
        day, late = sitting_words(plan, sitting)
        parts += [
            Heading(f"Sitting {sitting.number}: {day}", late),
            _timeline(plan, sitting, masked),
            TablePart(["", "", "", ""], list(_rows(plan, sitting))),
        ]
        if sitting.waiting:
            parts.append(TablePart(["", ""], [_waiting(one) for one in sitting.waiting], faint=True))
        if sitting.number in offers:
            parts.append(Words([offers[sitting.number]]))
    return [*parts, Words([f"The last film can be handled from {when(plan.handle_s)}."], kind="strong")]


def _timeline(plan: Order, sitting: Sitting, masked: set[int]) -> Timeline:
    start, times = _opens(plan, sitting), plan.scheme.times
    ends = times.session_h * 3600.0
    rows: list[list[Span]] = [[] for _ in plan.scheme.areas]
    chains = steps_of(plan.scheme)

    def add(
        area: int, begins: float, until: float, kind: str, words: str = "", lab: FloatArray | None = None
    ) -> None:
        if until > begins:
            rows[area].append(Span(begins - start, until - start, kind, words, lab))

    for number, visit in enumerate(sitting.visits):
        masked = _masked_after(masked, visit)
        last = number == len(sitting.visits) - 1
        for area in masked:
            add(
                area,
                visit.begins_s,
                sitting.ends_s if last else sitting.visits[number + 1].begins_s,
                "masked",
            )
        for step in visit.steps:
            chain = chains[step.area]
            place = chain.index(step)
            if visit.empties:
                add(step.area, visit.empties_from_s, visit.empties_until_s, _EMPTIES[visit.empties])
            add(step.area, visit.begins_s, visit.starts_s, "get ready")
            if place + 1 < len(chain):
                dry = visit.ends_s + rest_s(step, chain[place + 1])
                add(step.area, visit.ends_s, min(dry, start + ends), "dries")
            whole = sum(s.part == 1 for s in chain[: place + 1]) - 1
            add(step.area, visit.starts_s, visit.ends_s, "work", step.label, plan.stages[step.area][whole])
    if sitting.clean_out:
        for area in range(len(rows)):
            add(area, sitting.visits[-1].ends_s, sitting.ends_s, _EMPTIES["clean-out"])
    # A tick each half hour, or each hour of a long sitting.
    every = 1800 if times.session_h <= 4.0 else 3600
    ticks = [(float(s), f"{s // 3600}:{s % 3600 // 60:02d}") for s in range(0, int(ends) + 1, every)]
    names = [area.name for area in plan.scheme.areas]
    return Timeline(list(zip(names, rows, strict=True)), max(ends, float(sitting.ends_s - start)), ticks)


def _masked_after(masked: set[int], visit: Visit) -> set[int]:
    return (masked | set(visit.masked)) - {step.area for step in visit.steps}


def _masked_at_start(plan: Order) -> list[set[int]]:
    """Return which areas are masked when each sitting begins."""
    found: list[set[int]] = []
    masked: set[int] = set()
    for sitting in plan.sittings:
        found.append(masked)
        for visit in sitting.visits:
            masked = _masked_after(masked, visit)
    return found


def _waiting(waiting: Waiting) -> tuple[str, str]:
    kind = "overnight" if waiting.overnight else "waits" if waiting.dry or not waiting.before else "rests"
    return kind, waiting_words(waiting)


def _rows(plan: Order, sitting: Sitting) -> Iterable[tuple[str, str, str, str]]:
    """Return what is done when: time, tool, how it is made ready, what is laid."""
    start = _opens(plan, sitting)
    for group in sitting.at_one_go:
        visit = group[0]
        names = [plan.scheme.areas[area].name for area in visit.masked]
        names += [f"the edge on {s.area_name}" for s in visit.steps if s.hard_edge and s.part == 1]
        ready = [f"mask {', '.join(names)}"] if names else []
        filling = ["fill"] if visit.fills and visit.sprays else []
        if visit.empties and visit.sprays and visit.begins_s == visit.empties_until_s:
            filling.insert(0, _EMPTIES[visit.empties])
        elif visit.empties:
            yield _clock(visit.empties_until_s - start), "", f"{_EMPTIES[visit.empties]} the airbrush", ""
        ready += [", ".join(filling)] if filling else []
        span = f"{_clock(visit.starts_s - start)}-{_clock(group[-1].ends_s - start)}"
        yield span, visit.steps[0].by, "; ".join(ready), visit_words(group)
    if sitting.clean_out:
        yield _clock(sitting.ends_s - start), "", f"{_EMPTIES['clean-out']} the airbrush", ""


def sooner_words(plan: Order) -> str:
    """Return what the order that is done soonest gains and costs; empty where there is none."""
    other = plan.sooner
    if other is None:
        return ""
    more = other.clean_outs - plan.clean_outs
    strips = f", with {counted(more, 'clean-out')} more" if more > 0 else ""
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
    first = (
        f"{counted(len(plan.sittings), 'sitting')} of at most {times.session_h:g} h, "
        f"{counted(plan.changes, 'change')} of mix in the airbrush, {counted(plan.clean_outs, 'clean-out')}, "
        f"{counted(plan.maskings, 'mask')}; {minutes(plan.beside_s)} beside laying paint."
    )
    soon = [f"Another order is done sooner: {sooner_words(plan)}"] if plan.sooner is not None else []
    if not plan.soonest:
        soon.append("It is not certain that no other order is done in an earlier sitting.")
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
        each.append(f"{label} on {joined(names)}" + ("" if coats == 1 else f", {coats} coats"))
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
    """Return a sitting's day and how long it takes, and its start where that is later than usual."""
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


def _opens(plan: Order, sitting: Sitting) -> int:
    """Return the hour from which a sitting's times are told."""
    return sitting.visits[0].sitting * round(plan.scheme.times.every_h * 3600)


def _clock(seconds: int) -> str:
    whole = -(-seconds // _MINUTE_S)
    return f"{whole // 60}:{whole % 60:02d}"
