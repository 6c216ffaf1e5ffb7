"""Schemes into tones: against the slow oracle, against limits that must be exact, and the ranges."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim.colour import Viewing, delta_e_2000, lab
from layersim.errors import SchemeError
from layersim.estimate import Estimate
from layersim.optics.mixing import dry_shares
from layersim.paint import Doubt, Paint
from layersim.resources import demo_scheme
from layersim.scheme import modelerror
from layersim.scheme import simulate as simulation
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import (
    Area,
    Coat,
    GreysGiven,
    GreysSprayed,
    Hand,
    Mix,
    Scheme,
    Targets,
    Where,
)
from layersim.scheme.simulate import simulate
from layersim.sprayer import Sprayer
from tests.examples import CHALK, GLOSS, LOAD, MOSS, PLUM, RUST, SOME_BANDS, SOOT, steps
from tests.reference_scheme import AreaByHand

CERTAIN = Hand(film=0.0, parts=0.0, greys=0.0, model=0.0)
GREYS = GreysGiven(darkest=30.0, lightest=85.0, sheen=1.0)
WHITE = GreysSprayed(mix=Mix(((CHALK, 1.0),), 3.0), passes=4, dry_film_um=0.6, spread=0.2, reach=0.02)


def coat(*paints: Paint, parts: tuple[float, ...] = (), film: float = 0.8, **others: object) -> Coat:
    mix = Mix(tuple(zip(paints, parts or (1.0,) * len(paints), strict=True)))
    fields: dict[str, object] = {"name": paints[0].name, "coats": 1, "dry_film_um": film, "spread": 0.0}
    return Coat(mix=mix, **(fields | others))  # type: ignore[arg-type]


def scheme(
    *coats: Coat,
    preshade: GreysGiven | GreysSprayed | None = GREYS,
    hand: Hand = CERTAIN,
    ground: Paint = SOOT,
    targets: Targets | None = None,
) -> Scheme:
    area = Area("test", ground, preshade, coats, targets or Targets())
    return Scheme(name="test", areas=(area,), hand=hand)


def predicted(
    *coats: Coat, tones: int = 5, sites: int = 4, draws: int = 0, **others: object
) -> AreaPrediction:
    [area] = simulate(scheme(*coats, **others), tones=tones, sites=sites, draws=draws).areas  # type: ignore[arg-type]
    return area


# What each scheme is there to try.
ORACLE_SCHEMES: dict[str, Scheme] = {
    "no coats over greys": scheme(),
    "no preshade, where by share of light": scheme(
        coat(MOSS, where=Where(lightest_from=30.0, edge=40.0)), coat(PLUM), preshade=None
    ),
    "sprayed preshade, all films spread": scheme(
        coat(MOSS, PLUM, parts=(4.0, 1.0), coats=2, spread=0.4), coat(PLUM, spread=0.2), preshade=WHITE
    ),
    "given greys that are half spots, and blue in the middle": scheme(
        coat(MOSS, PLUM, parts=(4.0, 1.0)), preshade=dataclasses.replace(GREYS, spotted=0.5, tint=0.4)
    ),
    "a coarse mist of white under coats whose edges thin out": scheme(
        coat(MOSS, where=Where(darkest_up_to=60.0), spread=0.3),
        coat(PLUM, spread=0.3),
        preshade=dataclasses.replace(WHITE, spot_um=0.4),
    ),
    "where: shadows, lights, both, a hard edge": scheme(
        coat(RUST, where=Where(darkest_up_to=50.0)),
        coat(CHALK, where=Where(lightest_from=60.0, edge=0.0)),
        coat(MOSS, where=Where(lightest_from=40.0, darkest_up_to=70.0, edge=10.0)),
    ),
    "two patches that overlap, one of them placed": scheme(
        coat(MOSS),
        coat(RUST, patch="chips", coverage=0.3),
        coat(CHALK, patch="dust", coverage=0.5, where=Where(lightest_from=60.0)),
        coat(PLUM, patch="chips", coverage=0.3, film=2.0),
        coat(PLUM, film=0.5),
        coat(RUST, patch="dust", coverage=0.5, spread=0.3),
    ),
    "sheens: gloss over matt, thin, then matt by order": scheme(
        coat(GLOSS, film=0.3),
        coat(CHALK, film=0.4, where=Where(lightest_from=70.0)),
        coat(GLOSS, film=5.0, sheen=0.9),
    ),
    "thick and opaque": scheme(coat(CHALK, film=200.0), coat(RUST, film=30.0, coats=3)),
}


class TestOracle:
    @pytest.mark.parametrize("name", ORACLE_SCHEMES)
    def test_simulation_equals_the_slow_oracle(self, name: str) -> None:
        made = ORACLE_SCHEMES[name]
        [found] = simulate(made, tones=3, sites=3, draws=0).areas
        by_hand = AreaByHand(made.areas[0], tones=3, sites=3)
        np.testing.assert_allclose(found.shade, by_hand.shade, atol=5e-4)
        for stage in range(len(found.stages)):
            for tone in range(3):
                reflectance, sheen = by_hand.tone(stage, tone)
                # The oracle's k2 has six digits, and the axis is found to some 1e-5 of L*.
                np.testing.assert_allclose(
                    found.reflectance[stage, tone][list(SOME_BANDS)], reflectance, atol=4e-5, err_msg=name
                )
                assert found.sheen[stage, tone] == pytest.approx(sheen, abs=5e-5)

    def test_the_rig_of_the_fixtures_equals_the_oracle_with_its_mottle(self, rig: Scheme) -> None:
        for area, found in zip(rig.areas, simulate(rig, tones=2, sites=3, draws=0).areas, strict=True):
            by_hand = AreaByHand(area, tones=2, sites=3)
            # No eye sees single spots, so they are no mottle: the same places, their white even.
            fine = {"spotted": 0.0} if isinstance(area.preshade, GreysGiven) else {"spot_um": 0.0}
            even = AreaByHand(
                dataclasses.replace(area, preshade=dataclasses.replace(area.preshade, **fine)),  # type: ignore[type-var]
                tones=2,
                sites=3,
            )
            even.shade, even.exposure = by_hand.shade, by_hand.exposure
            last = len(found.stages) - 1
            for tone in range(2):
                reflectance, sheen = by_hand.tone(last, tone)
                np.testing.assert_allclose(
                    found.reflectance[last, tone][list(SOME_BANDS)], reflectance, atol=4e-5
                )
                assert found.sheen[last, tone] == pytest.approx(sheen, abs=5e-5)
                assert found.mottle[last, tone] == pytest.approx(even.mottle(last, tone), abs=2e-3)

    def test_every_tone_is_even_along_the_axis(self) -> None:
        area = predicted(preshade=WHITE, tones=9)
        assert np.diff(area.shade) == pytest.approx(np.diff(area.shade).mean())
        # The bare preshade has the lightness that the axis says.
        np.testing.assert_allclose(area.lab[1, :, 0], area.shade, atol=0.02)

    def test_given_greys_are_as_light_as_they_were_given_to_be(self) -> None:
        area = predicted(preshade=GreysGiven(darkest=32.0, lightest=90.0, sheen=0.4), tones=4)
        np.testing.assert_allclose(area.lab[1, :, 0], [32.0, 154.0 / 3.0, 212.0 / 3.0, 90.0], atol=1e-9)


class TestLimits:
    def test_zero_spread_is_the_even_film_exactly(self) -> None:
        coats = (coat(MOSS), coat(PLUM, coats=3))
        for preshade in (GREYS, dataclasses.replace(WHITE, spread=0.0), None):
            one = predicted(*coats, preshade=preshade, sites=1)
            many = predicted(*coats, preshade=preshade, sites=16)
            np.testing.assert_array_equal(one.reflectance, many.reflectance)
            assert (many.mottle == 0.0).all()

    def test_a_spread_near_zero_is_near_the_even_film(self) -> None:
        even, nearly = predicted(coat(MOSS)), predicted(coat(MOSS, spread=1e-3))
        np.testing.assert_allclose(nearly.reflectance, even.reflectance, atol=1e-6)

    def test_uneven_ink_looks_weaker_than_even_ink_and_mist_coats_even_out(self) -> None:
        # Jensen: what is seen of an ink's film curves upwards, so the mean over sites is lighter.
        tones = [
            predicted(coat(PLUM, film=4.0 / coats, coats=coats, spread=0.8), sites=32).reflectance[-1, -1, 8]
            for coats in (1, 4, 16, 64)
        ]
        even = predicted(coat(PLUM, film=4.0)).reflectance[-1, -1, 8]
        assert np.all(np.diff(tones) < 0.0)
        assert tones[-1] > even
        assert tones[-1] - even < 0.05 * (tones[0] - even)

    @pytest.mark.parametrize("empty", [{"film": 0.0}, {"where": Where(lightest_from=100.0, edge=0.0)}])
    def test_a_coat_without_film_changes_nothing_not_even_the_sheen(self, empty: dict[str, object]) -> None:
        tones = slice(0, 4)  # the lightest tone lies below L* 100, and none on the hard edge
        area = predicted(coat(MOSS), coat(GLOSS, **empty), coat(RUST))  # type: ignore[arg-type]
        without = predicted(coat(MOSS), coat(RUST))
        np.testing.assert_allclose(area.reflectance[3, tones], area.reflectance[2, tones], rtol=0, atol=1e-15)
        np.testing.assert_allclose(area.reflectance[4, tones], without.reflectance[3, tones], atol=1e-14)
        np.testing.assert_allclose(area.sheen[4], without.sheen[3], atol=1e-15)

    def test_a_patch_without_coverage_changes_nothing(self) -> None:
        area = predicted(coat(MOSS), coat(RUST, patch="chips", coverage=0.0), coat(PLUM))
        without = predicted(coat(MOSS), coat(PLUM))
        np.testing.assert_allclose(area.reflectance[-1], without.reflectance[-1], atol=1e-15)

    def test_a_patch_over_everything_is_a_coat(self) -> None:
        area = predicted(coat(MOSS), coat(RUST, patch="chips", coverage=1.0), coat(PLUM))
        without = predicted(coat(MOSS), coat(RUST), coat(PLUM))
        np.testing.assert_allclose(area.reflectance[-1], without.reflectance[-1], atol=1e-15)

    def test_a_patch_is_averaged_by_area(self) -> None:
        area = predicted(coat(MOSS), coat(RUST, film=500.0, patch="chips", coverage=0.25))
        bare, covered = predicted(coat(MOSS)), predicted(coat(RUST, film=500.0))
        expected = 0.75 * bare.reflectance[-1] + 0.25 * covered.reflectance[-1]
        np.testing.assert_allclose(area.reflectance[-1], expected, atol=1e-12)

    def test_one_entry_of_two_coats_is_two_entries_of_one(self) -> None:
        where = Where(lightest_from=50.0)
        for others in ({}, {"where": where}, {"sheen": 0.1}):
            once = predicted(coat(MOSS), coat(CHALK, PLUM, parts=(3.0, 1.0), coats=2, **others))  # type: ignore[arg-type]
            half = coat(CHALK, PLUM, parts=(3.0, 1.0), coats=1, **others)  # type: ignore[arg-type]
            twice = predicted(coat(MOSS), half, half)
            np.testing.assert_allclose(twice.reflectance[-1], once.reflectance[-1], atol=1e-14)
            np.testing.assert_allclose(twice.sheen[-1], once.sheen[-1], atol=1e-15)

    def test_a_mix_of_one_paint_with_itself_is_that_paint(self) -> None:
        np.testing.assert_allclose(
            predicted(coat(MOSS, MOSS, parts=(1.0, 7.0))).reflectance,
            predicted(coat(MOSS)).reflectance,
            atol=1e-15,
        )

    def test_the_order_of_two_coats_matters(self) -> None:
        one, other = predicted(coat(RUST), coat(CHALK)), predicted(coat(CHALK), coat(RUST))
        assert delta_e_2000(one.lab[-1], other.lab[-1]).min() > 5.0

    def test_an_opaque_coat_hides_the_pre_shade(self) -> None:
        area = predicted(coat(RUST, film=500.0))
        np.testing.assert_allclose(
            area.reflectance[-1], area.reflectance[-1][:1].repeat(5, axis=0), atol=1e-12
        )

    def test_dark_tones_move_most_from_matt_to_gloss(self) -> None:
        tones = [predicted(coat(MOSS, film=0.5, sheen=sheen), tones=9) for sheen in (1.0, 0.05)]
        thick = [predicted(coat(GLOSS, film=50.0, sheen=sheen), tones=9) for sheen in (1.0, 0.05)]
        for matt, gloss in (tones, thick):
            moved = delta_e_2000(matt.lab[-1], gloss.lab[-1])
            assert moved[0] == moved.max()
            assert moved[0] > 2.0 * moved[-1]
            assert (gloss.lab[-1, :, 0] < matt.lab[-1, :, 0]).all()

    def test_primer_gloss_stage_and_satin_finish_differ_as_on_the_bench(self) -> None:
        # Bare matt primer is greyed by its surface; gloss takes that away, satin gives some of it back.
        area = predicted(coat(GLOSS, film=30.0), coat(GLOSS, film=30.0, sheen=0.4), preshade=None)
        bare, gloss, satin = area.lab[:, 0, 0]
        assert bare > satin > gloss
        assert bare - gloss > 8.0

    def test_the_pre_shade_has_the_colour_of_thin_white(self) -> None:
        # Chalk scatters blue light more, as small white particles do: half covered black looks bluish.
        area = predicted(preshade=WHITE, tones=9)
        assert area.lab[1, 4, 2] < -1.0


class TestRange:
    def test_without_doubt_there_is_no_range(self) -> None:
        area = predicted(coat(RUST), coat(CHALK, spread=0.3), draws=32)
        np.testing.assert_array_equal(area.lab_low, area.lab_high)
        assert (area.reach == 0.0).all()
        assert area.causes == ()

    def test_without_draws_there_is_no_range(self) -> None:
        area = predicted(coat(MOSS), hand=Hand())
        assert area.lab_low is area.lab_high is area.reach is None
        assert area.only([0]).reach is None
        assert area.causes == ()

    def test_the_prediction_lies_within_its_range(self, rig: Scheme) -> None:
        for area in simulate(rig, tones=3, sites=2).areas:
            assert (area.lab_low <= area.lab).all()
            assert (area.lab <= area.lab_high).all()
            assert (area.reach >= 0.0).all()
            assert area.reach[-1].min() > 0.1

    def test_one_draw_is_no_doubt_at_all(self) -> None:
        area = predicted(coat(MOSS), hand=Hand(), draws=1)
        assert (area.reach == 0.0).all()

    def test_more_draws_converge(self) -> None:
        def reach(draws: int) -> float:
            return float(predicted(coat(MOSS), coat(PLUM), hand=Hand(), draws=draws).reach[-1].mean())

        truth = reach(2048)
        assert abs(reach(512) - truth) < 0.05 * truth
        assert abs(reach(64) - truth) < 0.25 * truth

    def test_it_holds_nine_tenths_of_what_the_stated_hand_does(self) -> None:
        hand = Hand(film=0.2, parts=0.15, greys=3.0, model=0.0)
        coats = (coat(MOSS, PLUM, parts=(4.0, 1.0)), coat(PLUM, film=0.5))
        made = scheme(*coats, hand=hand)
        [said] = simulate(made, tones=3, sites=1, draws=256).areas
        random = np.random.default_rng(7)
        outcomes = np.array([_one_outcome(made, random) for _ in range(500)])
        inside = delta_e_2000(outcomes, said.lab[-1]) <= said.reach[-1]
        between = (said.lab_low[-1] <= outcomes) & (outcomes <= said.lab_high[-1])
        # 500 outcomes know a share of 0.90 to ±0.013; the ends of the range come from 256 draws.
        assert inside.mean(axis=0) == pytest.approx(0.90, abs=0.05)
        assert between.mean(axis=0) == pytest.approx(np.full((3, 3), 0.90), abs=0.06)

    def test_it_holds_nine_tenths_with_as_many_draws_as_usual(self) -> None:
        made = scheme(coat(MOSS), hand=Hand(film=0.2, model=0.0))
        random = np.random.default_rng(11)
        outcomes = np.array([_one_outcome(made, random, tones=2) for _ in range(400)])
        held = []
        for seed in range(4):
            [said] = simulate(made, tones=2, sites=1, seed=seed).areas
            held.append((delta_e_2000(outcomes, said.lab[-1]) <= said.reach[-1]).mean())
        # The usual sample quantile of 64 draws would hold 0.87; 400 outcomes know it to ±0.015.
        assert np.mean(held) == pytest.approx(0.90, abs=0.025)

    def test_a_seed_repeats_and_another_one_differs(self, rig: Scheme) -> None:
        one, same, other = (simulate(rig, tones=2, sites=2, draws=8, seed=seed) for seed in (3, 3, 4))
        np.testing.assert_array_equal(one.areas[0].lab_low, same.areas[0].lab_low)
        assert (one.areas[0].lab_low != other.areas[0].lab_low).any()

    def test_pieces_of_work_change_nothing(self, rig: Scheme, monkeypatch: pytest.MonkeyPatch) -> None:
        whole = simulate(rig, tones=3, sites=2, draws=16)
        monkeypatch.setattr(simulation, "_CACHED_VALUES", 1)
        for one, other in zip(whole.areas, simulate(rig, tones=3, sites=2, draws=16).areas, strict=True):
            for name in ("reflectance", "lab_low", "lab_high", "reach", "mottle", "sheen"):
                np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
            assert one.causes == other.causes


def _one_outcome(made: Scheme, random: np.random.Generator, *, tones: int = 3) -> np.ndarray:
    """One model painted by that hand with bottles of those doubts, simulated as if all were known."""
    [area] = made.areas
    hand = made.hand
    bottles: dict[str, Paint] = {}

    def bottle(paint: Paint) -> Paint:
        if paint.name not in bottles:
            log_K, log_S = np.zeros(31), np.zeros(31)
            for doubt in paint.doubts:
                z = random.normal()
                log_K, log_S = log_K + z * doubt.log_K, log_S + z * doubt.log_S
            bottles[paint.name] = dataclasses.replace(
                paint, K_per_um=paint.K_per_um * np.exp(log_K), S_per_um=paint.S_per_um * np.exp(log_S)
            )
        return bottles[paint.name]

    coats = []
    for one in area.coats:
        drops = tuple(
            (bottle(paint), parts * float(np.exp(hand.parts * random.normal())))
            for paint, parts in one.mix.ingredients
        )
        film = one.dry_film_um * float(np.exp(hand.film * random.normal()))
        coats.append(dataclasses.replace(one, mix=Mix(drops), dry_film_um=film))
    preshade = area.preshade
    assert isinstance(preshade, GreysGiven)
    off = hand.greys * random.normal()
    preshade = GreysGiven(preshade.darkest + off, preshade.lightest + off, preshade.sheen)
    done = scheme(*coats, preshade=preshade, ground=bottle(area.ground))
    return np.asarray(simulate(done, tones=tones, sites=1, draws=0).areas[0].lab[-1])


class TestCauses:
    def test_the_dominant_doubt_comes_first_and_all_are_sorted(self) -> None:
        wild = dataclasses.replace(
            PLUM, name="wild ink", doubts=(Doubt("nobody knows", np.full(31, 0.7), np.zeros(31)),)
        )
        area = predicted(coat(MOSS), coat(wild), hand=Hand(film=0.02, model=0.0), draws=4)
        assert area.causes[0].what == "wild ink: nobody knows"
        assert area.causes[0].advice == "measure swatches of wild ink"
        sizes = [cause.delta_e for cause in area.causes]
        assert sizes == sorted(sizes, reverse=True)
        assert sizes[0] > 3.0 * sizes[1]

    def test_each_is_the_shift_of_the_finish_by_one_standard_deviation(self) -> None:
        hand = Hand(film=0.25, parts=0.0, greys=0.0, model=0.0)
        thick, thin = coat(PLUM, film=2.0), coat(RUST, film=0.3)
        area = predicted(thick, thin, hand=hand, draws=2)
        said = {cause.what: cause.delta_e for cause in area.causes}
        more = dataclasses.replace(thick, dry_film_um=2.0 * float(np.exp(0.25)))
        shifted = predicted(more, thin)
        expected = delta_e_2000(shifted.lab[-1], area.lab[-1]).mean()
        assert said['film of "plum ink"'] == pytest.approx(expected)

    def test_parts_matter_only_in_mixes_and_greys_only_where_given(self) -> None:
        whats = {cause.what for cause in predicted(coat(RUST), hand=Hand(), draws=1).causes}
        assert whats == {'film of "rust"', "greys of the preshade", modelerror.CAUSE}
        mixed = predicted(coat(RUST, CHALK), hand=Hand(), draws=1, preshade=WHITE)
        assert {cause.what for cause in mixed.causes} == {
            "film of the preshade",
            'film of "rust"',
            'parts of rust in "rust"',
            'parts of chalk white in "rust"',
            modelerror.CAUSE,
        }

    def test_one_bottle_in_two_coats_is_one_doubt(self) -> None:
        twice = predicted(coat(MOSS), coat(MOSS), hand=CERTAIN, draws=1)
        assert [cause.what for cause in twice.causes].count("moss green: pigment load") == 1
        stronger = dataclasses.replace(
            MOSS, K_per_um=MOSS.K_per_um * np.exp(LOAD.log_K), S_per_um=MOSS.S_per_um * np.exp(LOAD.log_S)
        )
        shifted = predicted(coat(stronger), coat(stronger))
        expected = delta_e_2000(shifted.lab[-1], twice.lab[-1]).mean()
        assert {c.what: c.delta_e for c in twice.causes}["moss green: pigment load"] == pytest.approx(
            expected
        )

    def test_an_error_of_parts_changes_the_other_ingredients_share(self) -> None:
        hand = Hand(film=0.0, parts=0.3, greys=0.0, model=0.0)
        area = predicted(coat(RUST, CHALK, parts=(2.0, 1.0)), hand=hand, draws=1)
        shifted = predicted(coat(RUST, CHALK, parts=(2.0 * float(np.exp(0.3)), 1.0)))
        said = {cause.what: cause.delta_e for cause in area.causes}
        expected = delta_e_2000(shifted.lab[-1], area.lab[-1]).mean()
        assert said['parts of rust in "rust"'] == pytest.approx(expected)


class TestPrediction:
    def test_the_filter_is_judged_from_just_before_to_just_after(self, rig: Scheme) -> None:
        area, strap = simulate(rig, tones=3, sites=2, draws=0).areas
        names = [stage.name for stage in area.stages]
        assert names == ["primer", "preshade", "base", "light", "filter", "chips", "varnish"]
        assert area.filter_span == (3, 4)
        shift = area.filter_shift()
        assert shift is not None
        np.testing.assert_array_equal(shift, delta_e_2000(area.lab[3], area.lab[4]))
        assert strap.filter_span is None
        assert strap.filter_shift() is None

    def test_a_filter_of_several_coats_is_judged_as_one(self) -> None:
        area = predicted(
            coat(PLUM, is_filter=True), coat(RUST), coat(PLUM, is_filter=True), coat(GLOSS), preshade=None
        )
        assert area.filter_span == (0, 3)

    def test_targets_are_missed_by_the_finished_tone_of_their_place(self) -> None:
        targets = Targets(shadow=np.array([10.0, 0.0, 0.0]), light=np.array([80.0, 5.0, 5.0]))
        area = predicted(coat(MOSS), coat(GLOSS), targets=targets)
        misses = area.target_misses()
        assert list(misses) == ["shadow", "light"]
        assert (misses["shadow"][0], misses["light"][0]) == (0, 4)
        expected = delta_e_2000(area.lab[-1, 4], [80.0, 5.0, 5.0])
        assert misses["light"][2] == pytest.approx(float(expected))
        middle = predicted(coat(MOSS), targets=Targets(mid=np.array([50.0, 0.0, 0.0]))).target_misses()
        assert middle["mid"][0] == 2

    def test_only_keeps_what_is_still_true(self, rig: Scheme) -> None:
        area = simulate(rig, tones=3, sites=2, draws=4).areas[0]
        some = area.only([2, 4])
        assert [stage.name for stage in some.stages] == ["base", "filter"]
        np.testing.assert_array_equal(some.lab, area.lab[[2, 4]])
        # Not the finish any more: neither its targets nor its doubts; and "base" is not what the filter met.
        assert (some.finished, some.causes, some.target_misses(), some.filter_span) == (False, (), {}, None)
        rest = area.only([3, 4, 6])
        assert rest.finished
        assert rest.filter_span == (0, 1)
        assert list(rest.target_misses()) == ["shadow", "light"]
        assert rest.causes == area.causes
        assert not some.only([0, 1]).finished

    def test_a_light_of_the_schemes_own_or_another(self, rig: Scheme) -> None:
        warm = simulate(rig, tones=2, sites=1, draws=0, viewing=Viewing("A"))
        own = simulate(rig, tones=2, sites=1, draws=0)
        assert (warm.viewing.light, own.viewing.light) == ("A", "D65")
        np.testing.assert_array_equal(warm.areas[0].reflectance, own.areas[0].reflectance)
        np.testing.assert_array_equal(warm.areas[0].lab, lab(own.areas[0].reflectance, Viewing("A")))
        # The axis is what a painter reads off the model in daylight, whatever light it is judged under.
        np.testing.assert_array_equal(warm.areas[0].shade, own.areas[0].shade)


class TestSheenDoubt:
    HAND = Hand(film=0.0, parts=0.0, greys=0.0, satin=0.1, model=0.0)

    def test_it_is_a_cause_of_its_own_and_widens_the_dark_tones_most(self) -> None:
        area = predicted(coat(GLOSS, sheen=0.4, film=4.0), hand=self.HAND, draws=32)
        [cause] = [c for c in area.causes if "reflection" in c.what]
        assert cause.delta_e > 0.3
        widths = area.lab_high[-1, :, 0] - area.lab_low[-1, :, 0]
        assert widths[0] > 2.0 * widths[-1]
        # One deviation more everywhere: the ground and the greys are matt, and cannot be more so. Greys
        # keep their look, and so what is below, when more of their reflection is taken to be seen.
        shifted = predicted(coat(GLOSS, sheen=0.5, film=4.0))
        alone = delta_e_2000(shifted.lab[-1], area.lab[-1]).mean()
        assert cause.delta_e == pytest.approx(float(alone), rel=0.03)

    @pytest.mark.parametrize(("sheen", "less", "more"), [(0.0, 0.0, 0.1), (1.0, -0.1, 0.0)])
    def test_gloss_and_matt_have_it_on_their_open_side_alone(
        self, sheen: float, less: float, more: float
    ) -> None:
        area = predicted(coat(GLOSS, sheen=sheen, film=9.0), hand=self.HAND, draws=64, preshade=None)
        [cause] = [c for c in area.causes if "reflection" in c.what]
        assert cause.delta_e > 0.2
        ends = [
            predicted(coat(GLOSS, sheen=sheen + 1.6449 * end, film=9.0), preshade=None).lab[-1, :, 0]
            for end in (less, more)
        ]
        np.testing.assert_allclose(area.lab_low[-1, :, 0], ends[0], atol=0.4)
        np.testing.assert_allclose(area.lab_high[-1, :, 0], ends[1], atol=0.4)

    def test_the_bare_primer_and_pre_shade_have_it_too(self) -> None:
        area = predicted(preshade=WHITE, hand=self.HAND, draws=32)
        widths = area.lab_high[..., 0] - area.lab_low[..., 0]
        assert widths[0].min() > 0.5
        assert widths[1, 0] > 0.5

    def test_given_greys_look_as_they_were_given(self) -> None:
        area = predicted(coat(MOSS), hand=self.HAND, draws=32)
        np.testing.assert_allclose(area.lab_high[1], area.lab_low[1], atol=1e-6)
        assert (area.lab_high[2, 0] - area.lab_low[2, 0]).max() > 0.05


class TestNotices:
    def test_an_ink_as_the_ground_is_told(self) -> None:
        ink = dataclasses.replace(PLUM, kind="ink")
        [notice] = simulate(scheme(preshade=None, ground=ink), draws=0).notices
        assert notice == f"test: the ground is {ink.name}, of the kind ink; it is taken as opaque"

    def test_a_coat_thick_as_no_coat_is_told(self) -> None:
        [notice] = simulate(scheme(coat(MOSS, film=900.0)), draws=0).notices
        assert "900 µm" in notice
        assert simulate(scheme(coat(MOSS, film=9.0)), draws=0).notices == ()

    def test_a_mix_of_different_carriers_is_told(self) -> None:
        water, oil = (dataclasses.replace(MOSS, name=name, carrier=name) for name in ("water", "oil"))
        [notice] = simulate(scheme(coat(water, oil, name="mud"), coat(water, PLUM)), draws=0).notices
        assert notice == (
            'test: "mud" mixes paints with different carriers (water: water, oil: oil), which may curdle or '
            "part: try a drop of it first"
        )

    def test_films_that_the_sprayers_own_does_not_change_are_told(self) -> None:
        coats = (
            coat(MOSS, name="base"),
            coat(MOSS, name="shade", film_from="wet"),
            coat(MOSS, name="own", film_from="paint"),
            coat(MOSS, name="brushed", by="brush"),
        )

        def notices(sprayer: Sprayer | None, *coats: Coat) -> tuple[str, ...]:
            made = scheme(*coats, preshade=WHITE)
            made = dataclasses.replace(made, batch=dataclasses.replace(made.batch, sprayer=sprayer))
            return simulate(made, draws=0).notices

        learnt = Sprayer("fine", film_factor=Estimate(0.8, 0.1))
        keys = "dry_film_um or wet_film_um"
        assert notices(learnt, *coats) == (
            f'test: the film per coat of "fine" does not count for preshade, base, shade, where {keys} '
            f"gives the film; take {keys} out to have it count",
        )
        assert notices(None, *coats) == notices(Sprayer("fine"), *coats) == ()

    def test_a_coat_that_lands_nowhere_is_told(self) -> None:
        made = scheme(coat(MOSS, where=Where(lightest_from=95.0, edge=5.0)))
        [notice] = simulate(made, draws=0).notices
        assert "test" in notice
        assert '"moss green" hardly lands anywhere: it goes from L* 95 up' in notice
        assert "from L* 30 to 85" in notice

    def test_greys_darker_than_their_surface_are_told_and_lifted(self) -> None:
        made = scheme(preshade=GreysGiven(darkest=5.0, lightest=80.0, sheen=1.0))
        prediction = simulate(made, tones=3, draws=0)
        [notice] = prediction.notices
        assert "preshade greys from L* 5" in notice
        assert "no darker than L* 24" in notice
        # k1 = 0.04: L* = 116 cbrt(0.04) − 16
        assert prediction.areas[0].lab[1, 0, 0] == pytest.approx(116.0 * 0.04 ** (1 / 3) - 16.0, abs=1e-6)

    @pytest.mark.parametrize("sheen", [0.0, 0.05, 1.0])
    def test_greys_lighter_than_any_white_of_their_sheen_are_that_white(self, sheen: float) -> None:
        # 4 % of the light is turned back by the surface, and without sheen it misses the eye.
        area = predicted(preshade=GreysGiven(darkest=50.0, lightest=100.0, sheen=sheen), tones=2)
        np.testing.assert_allclose(area.reflectance[1, 1], 1.0 - 0.04 * (1.0 - sheen), atol=1e-9)
        coated = predicted(coat(GLOSS), preshade=GreysGiven(50.0, 100.0, sheen), tones=2)
        assert (coated.reflectance <= 1.0 + 1e-12).all()

    def test_a_notice_stands_once(self, rig: Scheme) -> None:
        doubled = dataclasses.replace(rig, notices=("one", "one"))
        assert simulate(doubled, tones=2, sites=1, draws=0).notices == ("one",)

    @pytest.mark.parametrize(("white", "film"), [(SOOT, 1.0), (CHALK, 0.001), (RUST, 200.0), (GLOSS, 5.0)])
    def test_a_pre_shade_that_makes_no_gradient_is_refused(self, white: Paint, film: float) -> None:
        made = scheme(
            preshade=dataclasses.replace(WHITE, mix=Mix(((white, 1.0),)), dry_film_um=film, spread=0.0)
        )
        with pytest.raises(SchemeError) as caught:
            simulate(made)
        message = str(caught.value)
        assert f'test: area "test", preshade: {white.name} over soot primer gives L*' in message
        assert "expected a preshade that runs from dark to light" in message

    @pytest.mark.parametrize("film", [5.0, 40.0])
    def test_a_thick_white_that_hides_before_the_last_pass_is_a_pre_shade_all_the_same(
        self, film: float
    ) -> None:
        area = predicted(preshade=dataclasses.replace(WHITE, dry_film_um=film, spread=0.0))
        np.testing.assert_allclose(area.lab[1, :, 0], area.shade, atol=0.05)

    def test_a_glossy_white_that_first_darkens_a_matt_primer_is_a_pre_shade_all_the_same(self) -> None:
        weak = dataclasses.replace(CHALK, sheen=0.0, S_per_um=CHALK.S_per_um * 0.03)
        made = dataclasses.replace(WHITE, mix=Mix(((weak, 1.0),)), dry_film_um=40.0, spread=0.0, reach=0.0)
        area = predicted(preshade=made)
        assert (np.diff(area.shade) > 0.0).all()
        assert area.lab[1, -1, 0] == pytest.approx(area.shade[-1], abs=0.02)

    @pytest.mark.parametrize("wrong", [{"tones": 1}, {"draws": -1}])
    def test_impossible_requests_are_refused(self, wrong: dict[str, int]) -> None:
        with pytest.raises(ValueError, match="expected a whole number from"):
            simulate(scheme(), **wrong)


class TestDemo:
    def test_the_demo_scheme_runs_and_its_glaze_does_something(self) -> None:
        prediction = simulate(load_scheme(demo_scheme()), tones=5, sites=4, draws=8)
        assert len(prediction.areas) >= 2
        for area in prediction.areas:
            assert np.isfinite(area.lab).all()
            assert ((area.reflectance > 0.0) & (area.reflectance < 1.0)).all()
            shift = area.filter_shift()
            if shift is not None:
                assert shift.min() > 1.0
        assert prediction.areas[0].filter_shift() is not None


def test_the_spectra_of_these_tests_are_steps() -> None:
    """The oracle takes one band of each step for the others."""
    for paint in (SOOT, CHALK, MOSS, PLUM, RUST, GLOSS):
        for values in (paint.K_per_um, paint.S_per_um):
            np.testing.assert_array_equal(values, steps(*values[list(SOME_BANDS)]))
    shares = dry_shares(parts=[4.0, 1.0], volume_solids=[0.25, 0.1])
    assert shares == pytest.approx([1.0 / 1.1, 0.1 / 1.1])
