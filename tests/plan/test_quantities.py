"""Quantities of a scheme: against sums by hand, never less for more, and a range that means something."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layersim.chance import NINETY
from layersim.errors import SchemeError
from layersim.estimate import Estimate
from layersim.plan.quantities import quantities
from layersim.plan.records import MixQuantity, Quantities
from layersim.plan.shopping import purchases
from layersim.resources import demo_scheme
from layersim.scheme.batch import Batch, Extent, Owned
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Hand, Mix, Scheme, Where
from layersim.sprayer import Sprayer
from tests.examples import CHALK, GLOSS, MOSS, PLUM, RUST, SOOT

GREYS = GreysGiven(darkest=20.0, lightest=80.0, sheen=1.0)
CERTAIN = Hand(film=0.0, parts=0.0, greys=0.0, model=0.0)


def exact(value: float) -> Estimate:
    return Estimate(value, 0.0)


PLAIN = Batch(
    models=10,
    surface_cm2=exact(20.0),
    touch_up=0.0,
    transfer_efficiency=exact(0.35),
    brush_efficiency=exact(0.9),
    drop_ul=exact(50.0),
    cup_ml=1000.0,
    loss_ml=exact(1.0),
    brush_loss_ml=exact(0.1),
    reserve=0.15,
    primer_coats=0,
    solids_error=0.0,
    places_error=0.0,
    shares_error=0.0,
)


def coat(*ingredients: object, thinning: float = 0.0, **others: object) -> Coat:
    mix = Mix(tuple(ingredients) if isinstance(ingredients[0], tuple) else ((ingredients[0], 1.0),), thinning)  # type: ignore[arg-type]
    fields: dict[str, object] = {"name": "base", "coats": 1, "dry_film_um": 10.0, "spread": 0.0}
    return Coat(mix=mix, **(fields | others))  # type: ignore[arg-type]


def scheme(*areas: Area, batch: Batch = PLAIN, hand: Hand = CERTAIN) -> Scheme:
    return Scheme(name="test", areas=areas, hand=hand, batch=batch)


def area(*coats: Coat, name: str = "cloth", preshade: object = GREYS, extent: Extent | None = None) -> Area:
    return Area(name, SOOT, preshade, coats, extent=extent or Extent())  # type: ignore[arg-type]


def only(found: Quantities) -> MixQuantity:
    [one] = found.mixes
    return one


class TestByHand:
    def test_the_worked_example_to_the_drop(self) -> None:
        # Moss has 25 % solids; thinned 13 to 12 it has 12 %. Ten figures, 20 cm², 10 µm, 35 %.
        found = only(quantities(scheme(area(coat(MOSS, thinning=13.0 / 12.0)))))
        assert found.volume_solids == pytest.approx(0.12)
        assert found.work_ml == pytest.approx(4.76, abs=0.005)
        assert found.need_ml == pytest.approx(5.76, abs=0.005)
        assert found.mix_ml == pytest.approx(6.6, abs=0.08)
        assert sum(part.drops for part in found.parts) * 0.05 == pytest.approx(found.mix_ml)
        assert found.need_low_ml == found.need_ml == found.need_high_ml
        assert found.enough == 1.0

    def test_touching_up_is_a_share_of_the_work_and_lost_paint_is_not(self) -> None:
        batch = dataclasses.replace(PLAIN, touch_up=0.2, loss_ml=exact(0.7))
        found = only(quantities(scheme(area(coat(MOSS)), batch=batch)))
        assert found.need_ml == pytest.approx(1.2 * found.work_ml + 0.7)

    def test_a_placed_coat_takes_its_average_over_the_axis(self) -> None:
        where = Where(lightest_from=60.0, edge=20.0)
        found = only(quantities(scheme(area(coat(MOSS, where=where)))))
        axis = np.linspace(20.0, 80.0, 200_001)
        share = where.film_share(axis).mean()
        assert found.uses[0].landed == pytest.approx(share, rel=2e-4)
        assert found.work_ml == pytest.approx(200.0 * 10.0 * share * 1e-4 / (0.25 * 0.35), rel=2e-4)

    def test_a_patch_takes_its_coverage_times_where_it_lies(self) -> None:
        where = Where(darkest_up_to=50.0, edge=0.0)
        local = coat(PLUM, patch="folds", coverage=0.06, where=where, by="brush", dry_film_um=2.0)
        found = only(quantities(scheme(area(local))))
        assert found.work_ml == pytest.approx(200.0 * 2.0 * 0.06 * 0.5 * 1e-4 / (0.1 * 0.9), rel=0.02)
        assert found.need_ml == pytest.approx(found.work_ml + 0.1)

    def test_a_sprayed_preshade_takes_its_share_at_every_step(self) -> None:
        white = GreysSprayed(mix=Mix(((CHALK, 1.0),), 3.0), passes=4, dry_film_um=0.5, spread=0.0, reach=0.1)
        found = only(quantities(scheme(area(preshade=white))))
        # Between the drift in the deepest shadow and the full film, at 6.25 % solids.
        assert 0.1 < found.uses[0].landed < 1.0
        film = 2.0 * found.uses[0].landed
        assert found.work_ml == pytest.approx(200.0 * film * 1e-4 / (0.0625 * 0.35))
        assert found.parts[1].name == "thinner"

    def test_several_coats_and_the_primer_add_up(self) -> None:
        batch = dataclasses.replace(PLAIN, primer_coats=2)
        found = quantities(scheme(area(coat(MOSS, coats=3)), batch=batch))
        primer, base = found.mixes
        assert base.work_ml == pytest.approx(3.0 * 200.0 * 10.0 * 1e-4 / (0.25 * 0.35))
        # Soot: 25 % of 12 µm wet, so the solids cancel.
        assert primer.work_ml == pytest.approx(2.0 * 200.0 * 12.0 * 1e-4 / 0.35)

    def test_the_same_recipe_is_mixed_once(self) -> None:
        one = area(coat((MOSS, 4.0), (PLUM, 1.0)), name="cloth")
        two = area(coat((PLUM, 2.0), (MOSS, 8.0), name="belt"), name="strap")
        other = area(coat((MOSS, 4.0), (PLUM, 2.0)), name="bag")
        found = quantities(scheme(one, two, other))
        assert [len(mix.uses) for mix in found.mixes] == [2, 1]
        assert found.mixes[0].name == "base and belt"
        brushed = dataclasses.replace(two, coats=(dataclasses.replace(two.coats[0], by="brush"),))
        assert [len(mix.uses) for mix in quantities(scheme(one, brushed)).mixes] == [1, 1]

    def test_totals_add_up_over_mixes(self) -> None:
        both = scheme(
            area(coat((MOSS, 4.0), (PLUM, 1.0)), coat(PLUM, name="filter"), coat(GLOSS, name="clear"))
        )
        found = quantities(both)
        by_paint = {
            name: sum(part.ml for mix in found.mixes for part in mix.parts if part.name == name)
            for name in ("moss green", "plum ink", "gloss lacquer")
        }
        assert {total.name: total.mix_ml for total in found.totals} == pytest.approx(by_paint)
        assert found.need_ml == pytest.approx(sum(mix.need_ml for mix in found.mixes))

    def test_given_greys_and_coats_that_land_nowhere_are_told(self) -> None:
        nowhere = coat(RUST, name="glow", where=Where(lightest_from=99.0, edge=0.0))
        found = quantities(scheme(area(coat(MOSS), nowhere)))
        assert len(found.mixes) == 1
        assert any("given by its greys" in notice for notice in found.notices)
        assert any('"glow" lands nowhere' in notice for notice in found.notices)


class TestSurfaces:
    def test_shares_and_surfaces_and_what_is_left(self) -> None:
        areas = (
            area(coat(MOSS), name="cloth", extent=Extent(share=0.5)),
            area(coat(RUST), name="strap", extent=Extent(surface_cm2=exact(4.0))),
            area(coat(PLUM), name="lens"),
            area(coat(CHALK), name="hair"),
        )
        found = quantities(scheme(*areas))
        assert [one.cm2.value for one in found.surfaces] == pytest.approx([10.0, 4.0, 3.0, 3.0])
        assert "a guess" in found.surfaces[2].cm2.basis

    def test_no_figure_is_needed_where_all_surfaces_are_given(self) -> None:
        found = quantities(scheme(area(coat(MOSS), extent=Extent(surface_cm2=exact(5.0)))))
        assert found.figure_cm2 is None
        assert found.surfaces[0].cm2.value == 5.0

    @pytest.mark.parametrize(
        "extents",
        [
            (Extent(share=0.6), Extent(share=0.5)),
            (Extent(share=1.0), Extent()),
            (Extent(surface_cm2=exact(21.0)), Extent()),
        ],
    )
    def test_more_than_the_whole_is_refused(self, extents: tuple[Extent, ...]) -> None:
        areas = [area(coat(MOSS), name=f"area {i}", extent=extent) for i, extent in enumerate(extents)]
        with pytest.raises(SchemeError, match=r"share or surface_cm2: found areas that make up 1\d\d %"):
            quantities(scheme(*areas))

    def test_shares_that_make_up_the_model_leave_the_primer_sure(self) -> None:
        # What one area has more the others have less: a primer over all of it does not vary with shares.
        batch = dataclasses.replace(PLAIN, primer_coats=1, shares_error=0.5)
        areas = [area(name=str(i), extent=Extent(share=0.25)) for i in range(4)]
        found = only(quantities(scheme(*areas, batch=batch)))
        assert found.need_low_ml == pytest.approx(found.need_ml)
        assert found.need_high_ml == pytest.approx(found.need_ml)


class TestRange:
    def test_one_doubt_alone_gives_its_own_range(self) -> None:
        batch = dataclasses.replace(
            PLAIN, loss_ml=exact(0.0), reserve=0.0, transfer_efficiency=Estimate(0.25, 0.3)
        )
        found = only(quantities(scheme(area(coat(MOSS)), batch=batch), draws=4000))
        for end, sign in ((found.need_low_ml, -1.0), (found.need_high_ml, 1.0)):
            assert end == pytest.approx(found.need_ml * np.exp(sign * NINETY * 0.3), rel=0.02)
        [cause] = found.causes
        assert cause.what == "transfer efficiency"
        assert cause.share == pytest.approx(1.0)

    def test_solids_cancel_where_the_film_came_from_a_wet_one(self) -> None:
        batch = dataclasses.replace(PLAIN, solids_error=0.2)
        wet = only(quantities(scheme(area(coat(MOSS, film_from="wet")), batch=batch)))
        dry = only(quantities(scheme(area(coat(MOSS, film_from="dry")), batch=batch)))
        assert wet.need_high_ml == pytest.approx(wet.need_ml)
        assert dry.need_high_ml > 1.2 * dry.need_ml

    def test_a_weighing_narrows_it_and_that_is_foretold(self) -> None:
        wide = scheme(
            area(coat(MOSS)), batch=dataclasses.replace(PLAIN, transfer_efficiency=Estimate(0.25, 0.4))
        )
        found = quantities(wide)
        weighed = dataclasses.replace(PLAIN, transfer_efficiency=exact(0.25))
        known = quantities(dataclasses.replace(wide, batch=weighed))
        assert found.known_low_ml == pytest.approx(known.need_low_ml)
        assert found.known_high_ml == pytest.approx(known.need_high_ml)
        assert "layersim weigh --card" in found.causes[0].advice

    def test_the_demo_scheme(self) -> None:
        found = quantities(load_scheme(demo_scheme()))
        for mix in found.mixes:
            assert mix.need_low_ml <= mix.need_ml <= mix.need_high_ml
            assert mix.mix_ml >= mix.need_ml * (1.0 - 1e-9)
            assert 0.0 <= mix.enough <= 1.0
            assert mix.work_ml <= mix.need_ml
        assert found.need_low_ml < found.need_ml < found.need_high_ml
        assert found.known_high_ml - found.known_low_ml < found.need_high_ml - found.need_low_ml
        assert sum(cause.share for cause in found.causes) == pytest.approx(1.0)

    def test_it_is_the_same_every_time(self) -> None:
        demo = load_scheme(demo_scheme())
        one, two = quantities(demo, seed=3), quantities(demo, seed=3)
        assert [m.need_high_ml for m in one.mixes] == [m.need_high_ml for m in two.mixes]


class TestMore:
    @settings(max_examples=25, deadline=None)
    @given(
        st.integers(1, 40),
        st.floats(0.5, 60.0),
        st.sampled_from([0.0, 1.0, 3.5]),
        st.floats(0.0, 2.0),
        st.sampled_from([2.0, 7.0, 1000.0]),
    )
    def test_twice_the_models_or_more_loss_never_takes_less(
        self, models: int, surface: float, thinning: float, loss: float, cup: float
    ) -> None:
        batch = dataclasses.replace(
            PLAIN, models=models, surface_cm2=exact(surface), loss_ml=exact(loss), cup_ml=cup
        )
        plain = scheme(area(coat((MOSS, 5.0), (PLUM, 1.0), thinning=thinning)), batch=batch)

        def mixed(**changes: object) -> MixQuantity:
            other = dataclasses.replace(batch, **changes)  # type: ignore[arg-type]
            return only(quantities(dataclasses.replace(plain, batch=other), draws=2))

        least = only(quantities(plain, draws=2))
        for more in (
            mixed(models=2 * models),
            mixed(loss_ml=exact(loss + 0.5)),
            mixed(reserve=0.3),
            mixed(touch_up=0.2),
            mixed(transfer_efficiency=exact(0.2)),
        ):
            assert more.mix_ml >= least.mix_ml - 1e-9
            assert more.need_ml >= least.need_ml
            assert more.sure.mix_ml >= least.sure.mix_ml - 1e-9
        assert least.mix_ml >= least.need_ml * (1.0 - 1e-9)
        if cup < 100.0:
            assert sum(part.drops for part in least.parts) * 0.05 <= cup + 1e-9

    def test_a_batch_beyond_the_cup_is_split_into_equal_fillings(self) -> None:
        batch = dataclasses.replace(PLAIN, cup_ml=2.0)
        found = only(quantities(scheme(area(coat(MOSS, thinning=1.0)), batch=batch)))
        assert found.fillings == 4
        assert sum(part.drops for part in found.parts) <= 40
        assert found.mix_ml == pytest.approx(4 * 0.05 * sum(part.drops for part in found.parts))
        # The loss is one cleaning's, however often the cup is filled.
        assert found.need_ml == pytest.approx(found.work_ml + 1.0)


class TestDrops:
    def test_small_parts_are_warned_of(self) -> None:
        batch = dataclasses.replace(PLAIN, models=1, loss_ml=exact(0.3))
        found = only(quantities(scheme(area(coat((MOSS, 5.0), (PLUM, 1.0))), batch=batch)))
        assert found.warnings
        assert "of plum ink cannot be repeated" in found.warnings[0].words
        large = only(quantities(scheme(area(coat((MOSS, 5.0), (PLUM, 1.0))))))
        assert not large.warnings

    def test_every_small_part_is_named(self) -> None:
        batch = dataclasses.replace(PLAIN, models=1, loss_ml=exact(0.1))
        step = coat((MOSS, 5.0), (PLUM, 1.0), (RUST, 1.0), dry_film_um=1.0)
        found = only(quantities(scheme(area(step), batch=batch)))
        assert [part.name for part in found.few] == ["plum ink", "rust"]
        assert " of plum ink, 1 of rust cannot be repeated: weigh them, or mix " in found.warnings[0].words
        assert "which has at least 5" in found.warnings[0].words

    def test_the_sure_amount_of_one_paint_is_the_least_that_lasts_nine_times_in_ten(self) -> None:
        # Need and drop alone vary here, so that the draws can be counted by hand.
        batch = dataclasses.replace(
            PLAIN, drop_ul=Estimate(50.0, 0.3), transfer_efficiency=Estimate(0.35, 0.4)
        )
        one = scheme(area(coat(MOSS)), batch=batch)
        found = only(quantities(one))
        [part] = found.sure.parts
        assert found.enough < 0.9 <= found.sure.enough
        # One paint alone has no ratio to keep, so that not a drop is to spare.
        spared = dataclasses.replace(
            batch, reserve=found.sure.mix_ml / found.need_ml - 1.0 - 0.05 / found.need_ml
        )
        fewer = only(quantities(dataclasses.replace(one, batch=spared)))
        assert fewer.parts[0].drops == part.drops - 1
        assert fewer.enough < 0.9

    def test_where_the_mix_lasts_it_is_the_sure_amount(self) -> None:
        found = only(quantities(scheme(area(coat(MOSS)))))
        assert found.enough == 1.0
        assert (found.sure.parts, found.sure.mix_ml) == (found.parts, found.mix_ml)

    def test_exact_drops_change_no_colour_and_others_say_by_how_much(self) -> None:
        def rounded(thinning: float, models: int) -> MixQuantity:
            batch = dataclasses.replace(PLAIN, models=models, loss_ml=exact(0.2))
            one = area(coat((MOSS, 5.0), (PLUM, 2.0), thinning=thinning, dry_film_um=1.0))
            return only(quantities(scheme(one, batch=batch)))

        assert rounded(1.0, 40).rounding_delta_e < rounded(0.9, 1).rounding_delta_e
        assert 0.0 < rounded(0.9, 1).rounding_delta_e < 10.0

    def test_rounding_error_is_what_a_preview_of_those_drops_shows(self) -> None:
        from layersim.colour import delta_e_2000
        from layersim.scheme.simulate import simulate

        batch = dataclasses.replace(PLAIN, models=1, loss_ml=exact(0.2))
        step = coat((MOSS, 5.0), (PLUM, 2.0), thinning=0.9, dry_film_um=1.0)
        plain = scheme(area(step), batch=batch)
        found = only(quantities(plain))
        moss, plum, thin = (part.drops for part in found.parts)
        mix = Mix(((MOSS, float(moss)), (PLUM, float(plum))), thin / (moss + plum))
        by_hand = dataclasses.replace(
            step, mix=mix, dry_film_um=step.dry_film_um * mix.volume_solids / step.mix.volume_solids
        )
        before, after = (
            simulate(one, tones=9, draws=0).areas[0].lab[-1] for one in (plain, scheme(area(by_hand)))
        )
        assert found.rounding_delta_e == pytest.approx(float(delta_e_2000(before, after).max()))

    def test_a_sure_drop_and_need_always_last_and_a_wild_one_does_not(self) -> None:
        wild = dataclasses.replace(PLAIN, drop_ul=Estimate(50.0, 0.5), reserve=0.0)
        found = only(quantities(scheme(area(coat(MOSS)), batch=wild)))
        assert found.enough == pytest.approx(0.5, abs=0.1)


class TestSprayer:
    def test_its_film_widens_the_range_of_own_films_alone(self) -> None:
        sprayer = Sprayer("fine", film_factor=Estimate(0.8, 0.3))
        batch = dataclasses.replace(PLAIN, sprayer=sprayer)
        own = only(quantities(scheme(area(coat(MOSS, film_from="paint")), batch=batch)))
        given_film = only(quantities(scheme(area(coat(MOSS, film_from="wet")), batch=batch)))
        assert own.need_high_ml > 1.2 * own.need_ml
        nobody = only(quantities(scheme(area(coat(MOSS, film_from="paint")), batch=PLAIN)))
        # Of a sprayer that nobody measured, one film factor for all coats is in doubt by 30 %.
        assert nobody.need_high_ml == pytest.approx(own.need_high_ml, rel=1e-6)
        assert nobody.causes[0].what.startswith("how thick your sprayer lays")
        assert given_film.need_high_ml == pytest.approx(given_film.need_ml)


class TestShopping:
    def test_what_is_there_is_set_against_what_is_taken(self) -> None:
        owned = (Owned("Moss Green", 0.5), Owned("plum ink", 100.0), Owned("gloss laquer", 5.0))
        batch = dataclasses.replace(PLAIN, owned=owned, transfer_efficiency=Estimate(0.35, 0.3))
        steps = (coat((MOSS, 4.0), (PLUM, 1.0)), coat(RUST, name="belt"), coat(GLOSS, name="clear"))
        bought, slips = purchases(quantities(scheme(area(*steps), batch=batch)))
        words = {one.total.name: one.words for one in bought}
        assert words["moss green"].startswith("buy ")
        assert words["plum ink"] == "enough"
        assert words["rust"].startswith("buy ")
        assert slips == ('owned: "gloss laquer" is not used here. Did you mean "gloss lacquer"?',)

    def test_nobody_is_sent_to_buy_nothing(self) -> None:
        total = quantities(scheme(area(coat(MOSS)))).totals[0]
        for short in (0.0, 1e-12, 1e-7):
            batch = dataclasses.replace(PLAIN, owned=(Owned("moss green", total.mix_ml - short),))
            assert purchases(quantities(scheme(area(coat(MOSS)), batch=batch)))[0][0].words == "enough"

    def test_the_upper_end_may_run_short(self) -> None:
        batch = dataclasses.replace(PLAIN, transfer_efficiency=Estimate(0.35, 0.3))
        total = quantities(scheme(area(coat(MOSS)), batch=batch)).totals[0]
        enough = (Owned("moss green", total.mix_ml + 0.01),)
        [one], _ = purchases(
            quantities(scheme(area(coat(MOSS)), batch=dataclasses.replace(batch, owned=enough)))
        )
        assert one.words == "may run short"
        assert one.short_ml == 0.0

    def test_nobody_said(self) -> None:
        [one], slips = purchases(quantities(scheme(area(coat(MOSS)))))
        assert one.owned_ml is None
        assert (one.words, one.short_ml, slips) == ("", 0.0, ())


def test_from_a_file(read: Callable[[str], Scheme], tmp_path: Path) -> None:
    text = """
format = "layersim scheme 1"
name = "six"
[batch]
models = 6
surface_cm2 = [15, 25]
transfer_efficiency = [0.2, 0.4]
primer_coats = 0
[[area]]
name = "cloth"
primer = "soot primer"
share = 0.4
[[area.coat]]
paint = "moss green"
"""
    found = only(quantities(read(text)))
    assert found.uses[0].surface_cm2 == pytest.approx(6 * 0.4 * np.sqrt(15 * 25))
    assert found.work_ml == pytest.approx(found.uses[0].surface_cm2 * 3.0 * 1e-4 / (0.25 * np.sqrt(0.08)))


def test_a_mix_of_two_carriers_is_warned_of() -> None:
    water, oil = dataclasses.replace(MOSS, carrier="water"), dataclasses.replace(RUST, carrier="oil")
    for paints, warned in (((water, oil), True), ((water, RUST), False)):
        found = only(quantities(scheme(area(coat(*((paint, 20.0) for paint in paints), coats=9)))))
        assert ("carriers" in {warning.key for warning in found.warnings}) is warned
