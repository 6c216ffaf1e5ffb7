"""The order of work: it can be done, it is the best on small cases, and it says what is wrong."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from types import MappingProxyType

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layersim.errors import SchemeError
from layersim.plan.order import Order, order
from layersim.plan.sequence import Visit, Work, best_sequence
from layersim.plan.sittings import sittings_of
from layersim.plan.steps import BenchStep, cleans_out, rest_s, steps_of, work_s
from layersim.resources import demo_scheme
from layersim.scheme.batch import Extent
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Mix, Scheme
from layersim.scheme.simulate import simulate
from layersim.scheme.times import Drying, Times, times_text
from tests.examples import CHALK, GLOSS, MOSS, PLUM, RUST, SCHEME, SOOT
from tests.plan.reference_order import broken_rules, every_plan, idle_waits, laying

MIXES = [Mix(((paint, 1.0),)) for paint in (MOSS, CHALK, GLOSS)]
STRIPS = {(a, b): cleans_out(MIXES[a], MIXES[b]) for a in range(3) for b in range(3) if a != b}


def step(area: int, name: str, recipe: int, **others: object) -> BenchStep:
    fields: dict[str, object] = {
        "kind": "varnish" if recipe == 2 else "paint",
        "mix": MIXES[recipe],
        "recipe": recipe,
        "by": "airbrush",
        "coats": 1,
        "round_s": 600,
        "drying": Drying(flash_min=5, recoat_min=30, mask_h=12, wash_h=24, varnish_h=24, handle_h=24),
    }
    return BenchStep(area=area, area_name=f"area {area}", name=name, **(fields | others))  # type: ignore[arg-type]


def bench(*chains: tuple[BenchStep, ...], models: int = 2, **times: object) -> Work:
    return Work(chains, dataclasses.replace(Times(), **times), models)  # type: ignore[arg-type]


def best_of_all(job: Work, sittings: int) -> tuple[float, float]:
    return min(every_plan(job, STRIPS, sittings))  # type: ignore[arg-type]


@st.composite
def jobs(draw: st.DrawFn) -> Work:
    dry = st.sampled_from(
        [
            Drying(flash_min=5, recoat_min=30, mask_h=4, wash_h=8, varnish_h=8),
            Drying(flash_min=20, recoat_min=200, mask_h=12, wash_h=24, varnish_h=24),
            # Bears the next paint while its own may still stand in the airbrush.
            Drying(flash_min=25, recoat_min=15, mask_h=0.25, wash_h=0.5, varnish_h=1),
            Drying(),
        ]
    )
    chains = []
    for area in range(draw(st.integers(1, 3))):
        # Three areas with one step each, or two with up to two, so that trying everything stays quick.
        steps = draw(st.integers(1, 3 if area == 0 else 1))
        chains.append(
            tuple(
                step(
                    area,
                    f"step {i}",
                    recipe := draw(st.integers(0, 2)),
                    kind=draw(st.sampled_from(["paint", "wash", "varnish"])),
                    by="airbrush" if recipe else draw(st.sampled_from(["airbrush", "airbrush", "brush"])),
                    coats=draw(st.integers(1, 2)),
                    round_s=draw(st.integers(1, 30)) * 60,
                    drying=draw(dry),
                    hard_edge=draw(st.integers(0, 4)) == 0,
                )
                for i in range(steps)
            )
        )
    if draw(st.booleans()):
        # A first step that the whole model gets at once.
        chains = [
            (step(a, "primer", 1, whole=True, drying=draw(dry)), *chain[1:]) for a, chain in enumerate(chains)
        ]
    # A recipe is told apart by its tool, too.
    apart = tuple(tuple(dataclasses.replace(s, recipe=_recipe(s)) for s in chain) for chain in chains)
    return bench(
        *apart,
        between=draw(st.sampled_from(["mask", "shield"])),
        mask_min=draw(st.sampled_from([0.0, 3.0])),
        set_up_min=draw(st.sampled_from([0.0, 20.0])),
        clean_out_min=draw(st.sampled_from([1.0, 10.0])),
    )


def _recipe(one: BenchStep) -> object:
    if one.whole:
        return 1
    return one.recipe if one.by == "airbrush" else f"brushed {one.recipe}"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(jobs())
def test_small_cases_are_feasible_and_the_best_of_every_order(job: Work) -> None:
    found = best_sequence(job)
    assert broken_rules(job, found.visits) == []
    assert idle_waits(job, STRIPS, found.visits) == []  # type: ignore[arg-type]
    # Every rest is at most a day, so that so many sittings hold anything worth doing.
    longest = sum(len(chain) for chain in job.chains) + 2
    cost, ends = best_of_all(job, longest)
    assert found.least_s == cost
    if found.proven:
        assert (found.cost_s, found.ends_s) == (cost, ends)
    else:
        # The best would have one wait to save a rinse.
        assert found.cost_s > cost


def test_a_sitting_is_ended_where_that_is_cheaper_than_rinsing() -> None:
    """Found by the property test: nothing has to dry, and yet a new sitting pays."""
    job = bench((step(0, "a", 1, drying=Drying()), step(0, "b", 0)), set_up_min=0.0, clean_out_min=0.5)
    found = best_sequence(job)
    assert [visit.sitting for visit in found.visits] == [0, 1]
    assert (found.cost_s, found.ends_s) == best_of_all(job, 4)


def test_one_filling_serves_two_areas() -> None:
    job = bench((step(0, "a", 0), step(0, "b", 1)), (step(1, "a", 0), step(1, "b", 1)))
    found = best_sequence(job)
    assert sum(visit.fills for visit in found.visits) == 2


def test_another_mix_drives_the_last_one_out_before_the_wait_not_after_it() -> None:
    first, second = best_sequence(bench((step(0, "varnish", 2), step(0, "paint", 0)))).visits
    assert (second.empties, second.empties_from_s) == ("flush", first.ends_s)
    assert second.starts_s == first.ends_s + 30 * 60
    assert second.begins_s == second.starts_s - 2 * 60


def test_a_mix_that_is_wanted_again_after_a_wait_is_rinsed_out_and_filled_again() -> None:
    job = bench((step(0, "one", 0), step(0, "two", 0)))
    found = best_sequence(job)
    first, second = found.visits
    assert (second.empties, second.empties_from_s, second.fills) == ("flush", first.ends_s, True)
    # Nothing is later for it: the wait is long enough.
    assert second.starts_s == first.ends_s + 30 * 60
    assert found.cost_s == (20 + 2 + 3 + 2 + 10) * 60


def test_nobody_waits_to_save_a_rinse() -> None:
    """Two ways would: c laid late, so that its mix is still fresh for b, or with b, after b's wait."""
    job = bench((step(0, "a", 1), step(0, "b", 0)), (step(1, "c", 0),))
    found = best_sequence(job)
    assert [[s.name for s in visit.steps] for visit in found.visits] == [["a"], ["c"], ["b"]]
    a, c, b = found.visits
    assert c.begins_s == c.empties_until_s == a.ends_s + 3 * 60
    assert (b.fills, b.empties, b.starts_s) == (True, "flush", a.ends_s + 30 * 60)
    assert idle_waits(job, STRIPS, found.visits) == []  # type: ignore[arg-type]
    # What the wait would have saved is told: the rinse and the filling.
    assert (found.proven, found.cost_s - found.least_s) == (False, 5 * 60)
    assert found.least_s == best_of_all(job, 4)[0]


def test_a_mix_may_stand_for_as_long_as_its_coats_flash_off() -> None:
    quick = Drying(flash_min=5, recoat_min=5)
    first, second = best_sequence(
        bench((step(0, "a", 0, drying=quick), step(0, "b", 0, drying=quick)))
    ).visits
    assert (second.fills, second.empties, second.starts_s - first.ends_s) == (False, "", 5 * 60)


def test_the_airbrush_is_clean_before_anything_is_brushed() -> None:
    sprayed, brushed = step(0, "a", 0), dataclasses.replace(step(0, "b", 1, by="brush"), recipe="brushed")
    job = bench((sprayed, brushed))
    found = best_sequence(job)
    assert [visit.empties for visit in found.visits] == ["", "clean-out"]
    [sitting] = sittings_of(job, found.visits)
    assert (sitting.clean_out, sitting.ends_s) == (False, found.ends_s)
    assert found.cost_s == (20 + 2 + 10 + 2) * 60
    # What is sprayed afterwards in the same sitting is spared the cleaning, but not the rinsing.
    again = best_sequence(bench((sprayed, brushed, step(0, "c", 0)), session_h=6.0))
    assert [visit.empties for visit in again.visits] == ["", "flush", ""]
    assert again.cost_s == (20 + 2 + 3 + 2 + 2 + 10) * 60


def test_without_masks_the_least_is_changed() -> None:
    """With masking, sitting and setting up free, colour changes alone count."""
    chains = (
        tuple(step(0, str(i), r) for i, r in enumerate((0, 1, 0))),
        tuple(step(1, str(i), r) for i, r in enumerate((1, 0))),
    )
    found = best_sequence(bench(*chains, session_h=12.0, set_up_min=0.0))
    # 0 | 1 (both) | 0 (both): no fewer, since the first area alone needs three.
    assert [visit.steps[0].recipe for visit in found.visits if visit.fills] == [0, 1, 0]


def test_masks_keep_areas_apart_and_wait_until_the_paint_bears_them() -> None:
    job = bench((step(0, "a", 0),), (step(1, "b", 1),), between="mask")
    found = best_sequence(job)
    second = found.visits[1]
    assert second.masked == (found.visits[0].steps[0].area,)
    assert second.begins_s >= found.visits[0].ends_s + 12 * 3600


def test_a_hard_edge_waits_for_its_own_mask() -> None:
    job = bench((step(0, "a", 0), step(0, "b", 1, hard_edge=True)))
    first, second = best_sequence(job).visits
    assert second.begins_s >= first.ends_s + 12 * 3600
    assert second.starts_s - second.begins_s >= 2 * 3 * 60


def test_the_soonest_is_the_soonest_and_then_the_cheapest() -> None:
    # A day's rest that a late start makes two, unless the other area waits.
    slow = Drying(flash_min=5, recoat_min=23 * 60)
    job = bench(
        (step(0, "a", 0, drying=slow), step(0, "b", 1, drying=slow), step(0, "c", 0)),
        (step(1, "d", 1, round_s=5400), step(1, "e", 0, round_s=5400)),
    )
    least, soonest = best_sequence(job), best_sequence(job, goal="soonest")
    every = list(every_plan(job, STRIPS, 4))  # type: ignore[arg-type]
    day = job.times.every_h * 3600
    assert (least.cost_s, least.ends_s) == min(every)
    assert soonest.proven
    assert (soonest.ends_s // day, soonest.cost_s, soonest.ends_s) == min(
        (end // day, c, end) for c, end in every
    )


def test_what_is_not_proven_has_a_gap_that_holds() -> None:
    chains = tuple(tuple(step(a, str(i), (a + i) % 3) for i in range(3)) for a in range(3))
    job = bench(*chains, between="mask")
    cut, best = best_sequence(job, most_labels=3), best_sequence(job)
    assert best.proven
    assert best.least_s == best.cost_s
    assert cut.least_s <= best.cost_s <= cut.cost_s


def test_primer_and_white_go_onto_the_whole_model_at_once(rig: Scheme) -> None:
    plan = order(rig)
    for visit in plan.visits:
        if visit.steps[0].name in ("primer", "preshade"):
            alike = {s.area for chain in steps_of(rig) for s in chain if s.recipe == visit.steps[0].recipe}
            assert {s.area for s in visit.steps} == alike


def test_progress_ends_at_all(rig: Scheme) -> None:
    told: list[tuple[int, int]] = []
    order(rig, progress=lambda done, every: told.append((done, every)))
    shares = [done / every for done, every in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_too_many_labels_are_cut_and_that_is_said() -> None:
    chains = tuple(tuple(step(a, str(i), (a + i) % 3) for i in range(4)) for a in range(3))
    job = bench(*chains)
    cut = best_sequence(job, most_labels=2)
    assert not cut.proven
    assert broken_rules(job, cut.visits) == []
    assert (cut.cost_s, cut.ends_s) >= best_sequence(job)[1:3]


@given(
    st.lists(st.tuples(st.integers(1, 4), st.integers(1, 1800), st.integers(0, 40)), min_size=1, max_size=3)
)
def test_rounds_wait_for_the_flash(rows: list[tuple[int, int, int]]) -> None:
    steps = [
        step(i, "x", 0, coats=c, round_s=s, drying=Drying(flash_min=f)) for i, (c, s, f) in enumerate(rows)
    ]
    assert work_s(steps) == laying(steps)


def test_whole_schemes(rig: Scheme) -> None:
    for between in ("shield", "mask"):
        for models in (1, 7):
            scheme = dataclasses.replace(
                rig,
                times=dataclasses.replace(rig.times, between=between),
                batch=dataclasses.replace(rig.batch, models=models),
            )
            plan = order(scheme)
            job = Work(steps_of(scheme), scheme.times, models)
            assert broken_rules(job, plan.visits) == []
            done = [s.name for v in plan.visits for s in v.steps if s.area_name == "cloth"]
            assert done == ["primer", "preshade", "base", "light", "filter", "chips", "varnish"]


def test_each_stage_has_its_middle_tone(rig: Scheme) -> None:
    for primer in (0, 2):
        scheme = dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, primer_coats=primer))
        plan = order(scheme, most_labels=30)
        areas = simulate(scheme, tones=3, draws=0).areas
        for mine, area, chain in zip(plan.stages, areas, steps_of(scheme), strict=True):
            whole = [s.name for s in chain if s.part == 1]
            assert len(mine) == len(whole)
            np.testing.assert_allclose(mine[-1], area.lab[-1, 1], atol=2.0)


def test_more_than_can_be_ordered_is_said(rig: Scheme) -> None:
    many = dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=10_000))
    with pytest.raises(SchemeError, match=r"\[batch\], models: found \d+ pieces of work.*at most 300"):
        order(many)


def test_what_waits_overnight(rig: Scheme) -> None:
    plan = order(rig)
    assert len(plan.sittings) > 1
    for sitting, after in zip(plan.sittings, plan.sittings[1:], strict=False):
        for wait in sitting.waiting:
            first = next((v for v in after.visits if any(s.area_name == wait.area for s in v.steps)), None)
            if first is not None:
                mine = next(s for s in first.steps if s.area_name == wait.area)
                assert mine.label == wait.before
                assert first.starts_s >= wait.ready_s
            next_day = wait.ready_s // 86_400 > sitting.begins_s // 86_400
            assert wait.dry == (wait.ready_s <= sitting.ends_s)
            assert wait.overnight == (bool(wait.before) and next_day)
    assert plan.sittings[-1].waiting == ()
    assert any(wait.overnight for sitting in plan.sittings for wait in sitting.waiting)


def moved(plan: Order) -> list[Visit]:
    """Return the visits with every offer taken."""
    begins, visits = {offer.sitting: offer.begins_s for offer in plan.offers}, []
    for sitting in plan.sittings:
        shift = sitting.begins_s - begins.get(sitting.number, sitting.begins_s)
        visits += [
            v._replace(
                begins_s=v.begins_s - shift,
                starts_s=v.starts_s - shift,
                ends_s=v.ends_s - shift,
                empties_from_s=v.empties_from_s - shift,
                empties_until_s=v.empties_until_s - shift,
            )
            for v in sitting.visits
        ]
    return visits


@pytest.mark.parametrize("between", ["shield", "mask"])
def test_offers_of_an_earlier_day_keep_every_rule_but_the_hours(rig: Scheme, between: str) -> None:
    offered = 0
    for scheme in (load_scheme(demo_scheme()), rig):
        masked = dataclasses.replace(scheme, times=dataclasses.replace(scheme.times, between=between))
        plan = order(masked) if between == "shield" else order(masked, most_labels=200)
        visits = moved(plan)
        bench = Work(steps_of(masked), masked.times, masked.batch.models)
        assert set(broken_rules(bench, visits)) <= {"outside its sitting"}
        for offer in plan.offers:
            assert offer.begins_s % 86_400 <= masked.times.session_h * 3600
            assert offer.begins_s < offer.ends_s
            assert offer.days_sooner >= 1
        if plan.offers:
            offered += 1
            assert visits[-1].ends_s // 86_400 < plan.visits[-1].ends_s // 86_400
    assert offered or between == "mask"


def test_more_models_take_no_less_time(rig: Scheme) -> None:
    few, many = (
        order(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=n))) for n in (2, 12)
    )
    assert many.beside_s >= few.beside_s
    work = [sum(v.ends_s - v.starts_s for v in plan.visits) for plan in (few, many)]
    assert work[1] >= work[0]


def test_a_step_too_long_for_a_sitting_is_done_in_parts(rig: Scheme) -> None:
    scheme = dataclasses.replace(
        rig,
        areas=(dataclasses.replace(rig.areas[0], extent=Extent()),),
        batch=dataclasses.replace(rig.batch, models=50),
        times=dataclasses.replace(rig.times, session_h=2.0),
    )
    cloth = steps_of(scheme)[0]
    base = [s for s in cloth if s.name == "base"]
    assert [(p.part, p.parts, p.coats, p.split) for p in base] == [(1, 2, 1, "coats"), (2, 2, 1, "coats")]
    assert rest_s(base[0], base[1]) == base[0].drying.flash_min * 60
    chips = [s for s in cloth if s.name == "chips"]
    assert {p.split for p in chips} == {"models"}
    assert sum(p.round_s for p in chips) >= 50 * 4 * 60
    assert rest_s(chips[0], chips[1]) == 0
    assert broken_rules(Work(steps_of(scheme), scheme.times, 50), order(scheme, most_labels=50).visits) == []


def test_time_goes_by_surface_and_the_whole_is_the_sum_of_its_areas(rig: Scheme) -> None:
    small, large = (
        dataclasses.replace(area, extent=Extent(share=share))
        for area, share in zip(rig.areas, (0.1, 0.9), strict=True)
    )
    scheme = dataclasses.replace(rig, areas=(small, large))
    models = scheme.batch.models
    primer = [chain[0] for chain in steps_of(scheme)]
    assert sum(s.round_s for s in primer) == pytest.approx(60 * models * scheme.times.airbrush_min, abs=2)
    base = [next(s for s in chain if s.by == "airbrush" and not s.whole) for chain in steps_of(scheme)]
    assert 0.25 * base[1].round_s < base[0].round_s < 0.5 * base[1].round_s


def test_a_step_too_long_for_any_sitting_is_refused(rig: Scheme) -> None:
    scheme = dataclasses.replace(rig, times=dataclasses.replace(rig.times, brush_min=500.0))
    with pytest.raises(
        SchemeError, match=r'session_h, for area "cloth", "chips": found 3 h; expected at least'
    ):
        order(scheme)


def test_kinds_of_paint_set_the_rest(rig: Scheme) -> None:
    cloth = steps_of(rig)[0]
    by_name = {one.name: one for one in cloth}
    assert by_name["varnish"].kind == "varnish"
    assert rest_s(by_name["chips"], by_name["varnish"]) == 24 * 3600
    assert by_name["chips"].by == "brush"
    # Nobody said what carries these paints, so they are given the slower times, and that is said.
    assert by_name["base"].drying.flash_min == 10
    assert any("no file says what carries it" in notice for notice in order(rig).notices)


def test_clean_outs() -> None:
    dark, light, clear = (Mix(((paint, 1.0),)) for paint in (SOOT, CHALK, GLOSS))
    assert cleans_out(dark, light)
    assert not cleans_out(light, dark)
    assert cleans_out(dark, clear)
    assert not cleans_out(clear, dark)
    oil = Mix(((dataclasses.replace(RUST, carrier="oil"), 1.0),))
    assert cleans_out(Mix(((PLUM, 1.0),)), oil)


# ---------------------------------------------------------------- the table in the scheme


def test_times_are_read(read: Callable[[str], Scheme]) -> None:
    table = (
        '[times]\nsession_h = 2\nbetween = "mask"\n[times.water]\nmask_h = 6\n[times.ink]\nrecoat_min = 90\n'
    )
    times = read(SCHEME.replace("[hand]", table + "[hand]", 1)).times
    assert (times.session_h, times.between) == (2.0, "mask")
    assert times.drying["water"].mask_h == 6.0
    assert times.drying["water"].recoat_min == 30.0
    assert times.drying_of(PLUM).recoat_min == 90.0


def test_times_as_text_read_back(read: Callable[[str], Scheme]) -> None:
    odd = dataclasses.replace(
        Times(session_h=1.5, between="mask", mask_min=4.0),
        drying=MappingProxyType({**Times().drying, "ink": Drying(recoat_min=45)}),
    )
    assert read(SCHEME.replace("[hand]", times_text(odd) + "[hand]", 1)).times == odd


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("session_h = 0", r"times, session_h: found 0; expected a number above 0, at most 24"),
        ("every_h = 1", r"times, every_h: found 1; expected a number from 3 to"),
        ('between = "masks"', r'times, between: found "masks"; expected one of .* Did you mean "mask"\?'),
        ("flush_mn = 3", r'the key "flush_mn"; .* Did you mean "flush_min"\?'),
        ("[times.water]\nmask_h = -1", r"times, water, mask_h: found -1; expected a number from 0"),
        ("[times.watr]\nmask_h = 1", r'the key "watr"; .* Did you mean "water"\?'),
        ("water = 3", r"times, water: found 3; expected a table"),
    ],
)
def test_bad_times(read: Callable[[str], Scheme], line: str, message: str) -> None:
    with pytest.raises(SchemeError, match=message):
        read(SCHEME.replace("[hand]", f"[times]\n{line}\n[hand]", 1))
