"""The order of work as a picture: a band a sitting, a row an area, time from left to right.

A block has the colour that its stage is predicted to have on the middle tone. Grey before it is
emptying the airbrush and getting ready; the thin line after it is the film that rests until the next step.
"""

from __future__ import annotations

import functools
import textwrap
from typing import TYPE_CHECKING, Final

from layersim.plan.order import Order
from layersim.plan.sequence import Visit
from layersim.plan.sittings import Sitting
from layersim.plan.steps import BenchStep, rest_s, steps_of
from layersim.render.sheet import Sheet
from layersim.scheme.simulate import simulate
from layersim.spectra import FloatArray
from layersim.views.order import offer_words, sitting_words, summary, waiting_words, when

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Inches.
_WIDTH: Final = 11.0
_MARGIN: Final = 0.30
_LABELS: Final = 1.62
_CHART: Final = 5.85
_ASIDE: Final = 0.20
_ROW: Final = 0.27
_HEAD: Final = 0.34
_LINE: Final = 0.14
_FAINT: Final = "#666666"
_READY: Final = "#cfcfcf"
_EMPTIES: Final = {"flush": "#a8a8a8", "clean-out": "#6f6f6f"}
_MASK: Final = "#d8b46a"
_RESTS: Final = "#8aa0b4"
_NAME: Final = 6.0
"""Points of every step's name, on its block or beside it: none is more important than another."""
_GAP: Final = 0.03
_HAIR: Final = 1e-6
_LETTER: Final = 0.062
"""Width of a letter of 7 points, about."""


def gantt_figure(plan: Order) -> Figure:
    """Return the picture of an order of work.

    Parameters
    ----------
    plan : Order

    Returns
    -------
    matplotlib.figure.Figure
    """
    lab = _stage_colours(plan)
    head = 0.86 + _LINE * len(summary(plan))
    offers = {offer.sitting: offer_words(offer) for offer in plan.offers}
    asides = [_aside(sitting, offers.get(sitting.number, "")) for sitting in plan.sittings]
    height = 2 * _MARGIN + head + sum(_band(plan, aside) for aside in asides) + 0.42
    sheet = Sheet(_WIDTH, height, plan.scheme.viewing)
    y = _MARGIN
    models = plan.scheme.batch.models
    count = "one model" if models == 1 else f"{models} models"
    sheet.text(_MARGIN, y + 0.16, f"{plan.scheme.name}: order of work for {count}", size=14, weight="bold")
    for row, sentence in enumerate(summary(plan)):
        sheet.text(_MARGIN, y + 0.42 + _LINE * row, sentence, size=7.5, ink=_FAINT)
    _draw_key(sheet, y + head - 0.26)
    y += head
    for sitting, aside in zip(plan.sittings, asides, strict=True):
        _draw_sitting(sheet, plan, sitting, aside, lab, y)
        y += _band(plan, aside)
    sheet.line(_MARGIN, _WIDTH - _MARGIN, y)
    foot = (
        f"The last film can be handled from {when(plan.handle_s)}. Times: common practice, no source; edit "
        "them under [times] in the scheme. Colours are predicted, not measured."
    )
    for row, line in enumerate(textwrap.wrap(foot, 170)):
        sheet.text(_MARGIN, y + 0.16 + _LINE * row, line, size=6.8, ink=_FAINT)
    return sheet.finish()


def _stage_colours(plan: Order) -> dict[tuple[int, int], FloatArray]:
    """Return L*a*b* of each stage's middle tone, by area and by the step's place among whole steps."""
    prediction = simulate(plan.scheme, tones=3, sites=1, draws=0)
    first = 0 if plan.scheme.batch.primer_coats else 1
    return {
        (index, number): area.lab[number + first, 1]
        for index, area in enumerate(prediction.areas)
        for number in range(len(area.stages) - first)
    }


def _band(plan: Order, aside: list[str]) -> float:
    rows = _HEAD + _ROW * len(plan.scheme.areas) + 0.16
    return max(rows, _HEAD + _LINE * len(aside) + 0.10)


def _aside(sitting: Sitting, offer: str) -> list[str]:
    lines: list[str] = []
    for words in (*(waiting_words(waiting) for waiting in sitting.waiting), offer):
        lines += textwrap.wrap(words, 54, subsequent_indent="   ")
    return lines


def _draw_key(sheet: Sheet, y: float) -> None:
    x = _MARGIN
    for fill, words in (
        (_READY, "set up, fill"),
        (_EMPTIES["flush"], "rinse"),
        (_EMPTIES["clean-out"], "clean out"),
        (_MASK, "mask"),
        (_RESTS, "film rests until the next step"),
    ):
        sheet.block(x, y - 0.05, 0.16, 0.10 if fill != _RESTS else 0.03, fill)
        sheet.text(x + 0.21, y, words, size=7)
        x += 0.36 + _LETTER * len(words)


def _draw_sitting(
    sheet: Sheet,
    plan: Order,
    sitting: Sitting,
    aside: list[str],
    lab: dict[tuple[int, int], FloatArray],
    y: float,
) -> None:
    times = plan.scheme.times
    start = sitting.visits[0].sitting * round(times.every_h * 3600)
    scale = _CHART / (times.session_h * 3600)
    left = _MARGIN + _LABELS
    sheet.line(_MARGIN, _WIDTH - _MARGIN, y)
    day, late = sitting_words(plan, sitting)
    sheet.text(_MARGIN, y + 0.13, f"Sitting {sitting.number}", size=9.5, weight="bold")
    sheet.text(_MARGIN + 0.78, y + 0.13, day, size=7, ink=_FAINT)
    if late:
        sheet.text(_MARGIN, y + 0.28, late, size=7, ink=_FAINT)
    top = y + _HEAD
    for area, one in enumerate(plan.scheme.areas):
        middle = top + _ROW * (area + 0.5)
        sheet.text(_MARGIN, middle, textwrap.shorten(one.name, 18, placeholder=" …"), size=7.5)
        sheet.line(left, left + _CHART, middle, ink="#eeeeee")
    bottom = top + _ROW * len(plan.scheme.areas)
    # A tick each half hour, or each hour of a long sitting.
    every = 1800 if times.session_h <= 4.0 else 3600
    for tick in range(0, int(times.session_h * 3600) + 1, every):
        x = left + tick * scale
        sheet.block(x, top - 0.03, 0.006, bottom - top + 0.03, "#dddddd")
        sheet.text(
            x, top - 0.10, f"{tick // 3600}:{tick % 3600 // 60:02d}", size=6, ink=_FAINT, align="center"
        )
    chains = steps_of(plan.scheme)
    masked = _masked_before(plan, sitting)
    for number, visit in enumerate(sitting.visits):
        masked = _masked_after(masked, visit)
        last = number == len(sitting.visits) - 1
        until = sitting.ends_s if last else sitting.visits[number + 1].begins
        x = left + (visit.begins - start) * scale
        for area in masked:
            sheet.block(x, top + _ROW * area + 0.08, (until - visit.begins) * scale, _ROW - 0.16, _MASK)
        _draw_visit(sheet, plan, visit, chains, lab, x0=left - start * scale, scale=scale, top=top)
    if sitting.clean_out:
        x = left + (sitting.visits[-1].ends - start) * scale
        wide = (sitting.ends_s - sitting.visits[-1].ends) * scale
        sheet.block(x, top + 0.04, wide, bottom - top - 0.08, _EMPTIES["clean-out"])
    taken = _taken(plan, sitting, x0=left - start * scale, scale=scale)
    for visit in sitting.visits:
        _label_visit(sheet, visit, taken, lab, chains, x0=left - start * scale, scale=scale, top=top)
    x = left + _CHART + _ASIDE
    if sitting.waiting:
        sheet.text(x, y + 0.17, "Waits until the next sitting", size=7.5, weight="bold")
    for row, line in enumerate(aside):
        sheet.text(x, top + 0.04 + _LINE * row, line, size=6.8)


def _draw_visit(
    sheet: Sheet,
    plan: Order,
    visit: Visit,
    chains: tuple[tuple[BenchStep, ...], ...],
    lab: dict[tuple[int, int], FloatArray],
    *,
    x0: float,
    scale: float,
    top: float,
) -> None:
    begins, starts, ends = (x0 + s * scale for s in (visit.begins, visit.starts, visit.ends))
    closes = x0 + scale * (visit.sitting * plan.scheme.times.every_h + plan.scheme.times.session_h) * 3600
    for step in visit.steps:
        y = top + _ROW * step.area
        if visit.empties:
            x, until = x0 + visit.empties_from * scale, x0 + visit.empties_until * scale
            sheet.block(x, y + 0.04, until - x, _ROW - 0.08, _EMPTIES[visit.empties])
        if starts > begins:
            sheet.block(begins, y + 0.04, starts - begins, _ROW - 0.08, _READY)
        chain = chains[step.area]
        place = chain.index(step)
        if place + 1 < len(chain):
            dry = min(ends + rest_s(step, chain[place + 1]) * scale, closes)
            sheet.block(ends, y + _ROW / 2 - 0.015, dry - ends, 0.03, _RESTS)
        sheet.tone(starts, y + 0.03, ends - starts, _ROW - 0.06, _colour_of(step, chain, lab))


def _colour_of(
    step: BenchStep, chain: tuple[BenchStep, ...], lab: dict[tuple[int, int], FloatArray]
) -> FloatArray:
    whole = sum(s.part == 1 for s in chain[: chain.index(step) + 1]) - 1
    return lab[step.area, whole]


def _taken(plan: Order, sitting: Sitting, *, x0: float, scale: float) -> list[list[tuple[float, float]]]:
    """Return where blocks stand in each area's row of a sitting, from left to right."""
    rows: list[list[tuple[float, float]]] = [[] for _ in plan.scheme.areas]
    masked = _masked_before(plan, sitting)
    for number, visit in enumerate(sitting.visits):
        masked = _masked_after(masked, visit)
        last = number == len(sitting.visits) - 1
        until = sitting.ends_s if last else sitting.visits[number + 1].begins
        for area in masked:
            rows[area].append((x0 + visit.begins * scale, x0 + until * scale))
        for step in visit.steps:
            rows[step.area].append((x0 + visit.begins * scale, x0 + visit.ends * scale))
            if visit.empties:
                rows[step.area].append((x0 + visit.empties_from * scale, x0 + visit.empties_until * scale))
    if sitting.clean_out:
        for row in rows:
            row.append((x0 + sitting.visits[-1].ends * scale, x0 + sitting.ends_s * scale))
    return [sorted(row) for row in rows]


def _label_visit(
    sheet: Sheet,
    visit: Visit,
    taken: list[list[tuple[float, float]]],
    lab: dict[tuple[int, int], FloatArray],
    chains: tuple[tuple[BenchStep, ...], ...],
    *,
    x0: float,
    scale: float,
    top: float,
) -> None:
    """Write the name of what is laid on its block, or beside it where nothing else stands."""
    begins, starts, ends = (x0 + s * scale for s in (visit.begins, visit.starts, visit.ends))
    for step in visit.steps:
        y = top + _ROW * step.area
        ink = "#000000" if _colour_of(step, chains[step.area], lab)[0] > 55.0 else "#ffffff"
        lines = _fitted(step.label, ends - starts - 0.03)
        for row, line in enumerate(lines):
            middle = y + _ROW * 0.5 + 0.09 * (row - (len(lines) - 1) / 2.0)
            sheet.text((starts + ends) / 2.0, middle, line, size=_NAME, ink=ink, align="center")
        if lines:
            continue
        width = _width(step.label)
        at = _beside(taken[step.area], begins, ends, width + 2 * _GAP) + _GAP
        before = at < begins
        sheet.text(
            at + width if before else at,
            y + 0.065,
            step.label,
            size=_NAME,
            align="right" if before else "left",
        )
        # A place of two names would be a place of none.
        taken[step.area] = sorted([*taken[step.area], (at - _GAP, at + width + _GAP)])


def _beside(taken: list[tuple[float, float]], begins: float, ends: float, width: float) -> float:
    """Return the left end of the free stretch in a row that is nearest to a block and wide enough."""
    starts = [ends, begins - width, *(right for _, right in taken), *(left - width for left, _ in taken)]
    free = [
        x
        for x in starts
        if all(x + width <= left + _HAIR or right <= x + _HAIR for left, right in taken)
        and x >= _MARGIN + _LABELS - _HAIR
    ]
    # Behind the block where that is as near as before it.
    return min(free, key=lambda x: (round(max(x - ends, begins - width - x), 3), -x))


def _fitted(words: str, width: float) -> list[str]:
    """Return words in lines that fit a block; none where they do not."""
    for letters in range(len(words), 0, -1):
        lines = textwrap.wrap(words, letters, break_long_words=False)
        if len(lines) > 2:
            break
        if all(_width(line) <= width for line in lines):
            return lines
    return []


@functools.cache
def _width(words: str) -> float:
    """Return how wide a step's name is drawn, in inches."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    points, _, _ = text_to_path.get_text_width_height_descent(words, FontProperties(size=_NAME), ismath=False)
    return float(points) / 72.0


def _masked_after(masked: set[int], visit: Visit) -> set[int]:
    return (masked | set(visit.masked)) - {step.area for step in visit.steps}


def _masked_before(plan: Order, sitting: Sitting) -> set[int]:
    masked: set[int] = set()
    for before in plan.sittings[: sitting.number - 1]:
        for visit in before.visits:
            masked = _masked_after(masked, visit)
    return masked
