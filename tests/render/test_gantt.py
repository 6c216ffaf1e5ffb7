"""The picture and the text of an order of work."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from layersim.plan.order import Order, order
from layersim.plan.sittings import Waiting
from layersim.render.gantt import gantt_figure
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme
from layersim.shelf import Shelf
from layersim.views.order import (
    minutes,
    order_rows,
    sitting_words,
    visit_words,
    waiting_words,
    when,
)

DEMO = Path(__file__).parents[2] / "data" / "schemes" / "tide-lamplighters.toml"


@pytest.fixture(scope="module")
def demo() -> Order:
    return order(load_scheme(DEMO, Shelf.usual()))


def words_of(scheme: Scheme) -> list[str]:
    return [text.get_text() for text in gantt_figure(order(scheme)).axes[0].texts]


def test_every_sitting_area_and_step_is_in_the_picture(rig: Scheme) -> None:
    plan = order(rig)
    words = words_of(rig)
    for sitting in plan.sittings:
        assert f"Sitting {sitting.number}" in words
    assert words.count("cloth") == len(plan.sittings)
    laid = " ".join(words)
    for visit in plan.visits:
        for step in visit.steps:
            assert all(part in laid for part in step.name.split())


def test_a_block_is_as_long_as_its_work(rig: Scheme) -> None:
    long = dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=8))
    plan = order(long)
    figure = gantt_figure(plan)
    corners = [np.asarray(path.vertices) for path in figure.axes[0].collections[0].get_paths()]
    widths = {round(float(c[:, 0].max() - c[:, 0].min()), 2) for c in corners}
    scale = 5.85 / (long.times.session_h * 3600)
    for visit in plan.visits:
        assert any(abs(w - (visit.ends - visit.starts) * scale) < 0.02 for w in widths)


def test_masks_and_waiting_are_told(rig: Scheme) -> None:
    masked = dataclasses.replace(rig, times=dataclasses.replace(rig.times, between="mask"))
    plan = order(masked)
    text = "\n".join(order_rows(plan))
    assert "Areas are masked from each other." in text
    assert "(mask " in text
    assert "overnight  " in text
    assert f"handled from {when(plan.handle_s)}" in text
    assert any(line.startswith("Waits until") for line in words_of(masked))


def test_one_area_and_no_primer(rig: Scheme) -> None:
    one = dataclasses.replace(
        rig, areas=rig.areas[:1], batch=dataclasses.replace(rig.batch, primer_coats=0, models=3)
    )
    words = words_of(one)
    assert "primer" not in words
    assert not any("Areas are" in line for line in words)


def test_visits_with_one_mix_are_told_together(rig: Scheme) -> None:
    plan = order(rig)
    groups = plan.sittings[0].at_one_go
    assert "primer on cloth and strap" in visit_words(groups[0])
    assert sum(len(group) for group in groups) == len(plan.sittings[0].visits)


def test_words_for_times() -> None:
    assert [minutes(s) for s in (0, 1, 3600, 3660)] == ["0 min", "1 min", "1 h 00", "1 h 01"]
    assert when(0) == "day 1, 0:00"


def test_a_label_stands_on_its_block_or_beside_all_blocks(demo: Order) -> None:
    """Drawn as it is printed: no small name of a step runs half into a block."""
    figure = gantt_figure(demo)
    axes = figure.axes[0]
    FigureCanvasAgg(figure)
    labels = {step.label for visit in demo.visits for step in visit.steps}
    corners = [np.asarray(path.vertices) for path in axes.collections[0].get_paths()]
    boxes = [
        axes.transData.transform(c) for c in corners if np.ptp(c[:, 1]) > 0.15 and np.ptp(c[:, 0]) > 0.02
    ]
    beside = 0
    for text in axes.texts:
        if text.get_text() not in labels:
            continue
        box = text.get_window_extent()
        over = [
            b
            for b in boxes
            if b[:, 0].min() < box.x1 and box.x0 < b[:, 0].max() and b[:, 1].min() < box.y1 < b[:, 1].max()
        ]
        beside += not over
        # On its block it is on that block alone, whole.
        assert len(over) <= 1, text.get_text()
        assert all(b[:, 0].min() <= box.x0 and box.x1 <= b[:, 0].max() for b in over), text.get_text()
    assert beside >= 3


def test_all_names_of_steps_are_of_one_size(demo: Order) -> None:
    labels = {step.label for visit in demo.visits for step in visit.steps}
    texts = [text for text in gantt_figure(demo).axes[0].texts if text.get_text() in labels]
    assert {text.get_text() for text in texts} == labels
    assert len({text.get_fontsize() for text in texts}) == 1


def test_a_late_start_stands_clear_of_the_hours(demo: Order) -> None:
    first = dataclasses.replace(demo.sittings[0], begins_s=5100)
    figure = gantt_figure(dataclasses.replace(demo, sittings=(first, *demo.sittings[1:])))
    FigureCanvasAgg(figure)
    texts = figure.axes[0].texts
    [late] = [text.get_window_extent() for text in texts if text.get_text() == "start at 1:25"]
    # Half an inch of paper.
    for text in texts:
        if text.get_text() == "0:00":
            assert text.get_window_extent().x0 - late.x1 > 0.5 * figure.dpi


def test_a_late_start_is_told(rig: Scheme) -> None:
    plan = order(rig)
    first = plan.sittings[0]
    assert sitting_words(plan, first) == (f"day 1, {minutes(first.ends_s)}", "")
    late = dataclasses.replace(first, begins_s=5220, ends_s=5220 + 35 * 60)
    assert sitting_words(plan, late) == ("day 1, 35 min", "start at 1:27")


def test_what_is_ready_the_same_day_does_not_wait_overnight() -> None:
    same = Waiting("cloth", "base", "filter", 3 * 3600 + 120, masked=False, overnight=False, dry=False)
    later = Waiting("cloth", "base", "filter", 86_400 + 3600, masked=False, overnight=True, dry=False)
    assert waiting_words(same) == "cloth: base dries for filter, ready 3:02, next sitting"
    assert waiting_words(later) == "cloth: base dries for filter, ready day 2, 1:00"


def test_an_order_done_sooner_is_told_from_where_it_differs(demo: Order) -> None:
    assert demo.sooner is not None
    assert demo.sooner.handle_s < demo.handle_s
    assert demo.sooner.beside_s > demo.beside_s
    rows = order_rows(demo)
    told = rows[next(i for i, row in enumerate(rows) if row.startswith("Done sooner")) :]
    assert "instead of day 8" in told[0]
    assert "Sittings 1 to 4 are the same." in told
    assert next(row for row in told if row.startswith("Sitting ")).startswith("Sitting 5, day 6")


def test_what_is_dry_only_waits() -> None:
    dry = Waiting("cloth", "base", "filter", 600, masked=True, overnight=False, dry=True)
    assert waiting_words(dry) == "cloth: base is dry, waits for filter, its mask on"


def test_an_offer_is_in_the_text_and_in_the_picture(demo: Order) -> None:
    assert [offer.days_sooner for offer in demo.offers if offer.sitting == len(demo.sittings)] == [1]
    assert "Or start day 6 at 1:35 instead, until 3:37: a day sooner." in "\n".join(order_rows(demo))
    texts = " ".join(text.get_text().strip() for text in gantt_figure(demo).axes[0].texts)
    assert "Or start day 6 at 1:35 instead, until 3:37: a day sooner." in texts
