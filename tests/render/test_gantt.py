"""The picture and the text of an order of work."""

from __future__ import annotations

import dataclasses

from layersim.plan.order import order
from layersim.render.gantt import gantt_figure
from layersim.render.order import at_one_go, minutes, order_text, visit_words, when
from layersim.scheme.records import Scheme


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
    corners = [path.vertices for path in figure.axes[0].collections[0].get_paths()]
    widths = {round(float(c[:, 0].max() - c[:, 0].min()), 2) for c in corners}
    scale = 5.85 / (long.times.session_h * 3600)
    for visit in plan.visits:
        assert any(abs(w - (visit.ends - visit.starts) * scale) < 0.02 for w in widths)


def test_masks_and_waiting_are_told(rig: Scheme) -> None:
    masked = dataclasses.replace(rig, times=dataclasses.replace(rig.times, between="mask"))
    plan = order(masked)
    text = order_text(plan)
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
    groups = at_one_go(plan.sittings[0].visits)
    assert "primer on cloth and strap" in visit_words(groups[0])
    assert sum(len(group) for group in groups) == len(plan.sittings[0].visits)


def test_words_for_times() -> None:
    assert [minutes(s) for s in (0, 1, 3600, 3660)] == ["0 min", "1 min", "1 h 00", "1 h 01"]
    assert when(0) == "day 1, 0:00"
