"""Metal in a scheme: coats, mixes, patches and primers with flakes, seen by angle."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim import Paint, simulate
from layersim.colour import Viewing
from layersim.decide.match import match
from layersim.errors import LayersimError
from layersim.metals import refractive_index
from layersim.optics import cones, flakes, levels
from layersim.paint import Flakes
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, Coat, Hand, Mix, Scheme, Where, targets_of
from layersim.scheme.targets import Target


def paint(name: str, *, metal: str = "", K: float = 0.0, S: float = 0.0, sheen: float = 0.0) -> Paint:
    return Paint(
        name=name, kind="metal" if metal else "paint", provenance="an example", invented=True,
        volume_solids=0.3, wet_film_um=10.0, sheen=sheen, K_per_um=np.full(31, K), S_per_um=np.full(31, S),
        flakes=Flakes(metal, 0.6, 6.0, 0.1) if metal else None,
    )  # fmt: skip


BLACK = paint("black", K=2.0, S=0.02)
SILVER = paint("silver", metal="aluminium")
STEEL = paint("steel", metal="iron", K=0.1)
BLUE = paint("blue", K=0.3)
MATT = paint("matt", sheen=1.0)


def coat(what: Paint | Mix, *, film: float = 4.0, **more: object) -> Coat:
    mix = what if isinstance(what, Mix) else Mix(((what, 1.0),))
    given: dict[str, object] = {"name": mix.words(), "coats": 1, "dry_film_um": film, "spread": 0.0}
    return Coat(mix=mix, **(given | more))  # type: ignore[arg-type]


def seen(*coats: Coat, ground: Paint = BLACK, draws: int = 0, sure: bool = True) -> AreaPrediction:
    hand = Hand(film=0.0, models=0.0, model=0.0) if sure else Hand()
    area = Area("frame", ground, None, coats)
    return simulate(Scheme("x", (area,), hand=hand), tones=3, draws=draws).areas[0]


def lightness(area: AreaPrediction) -> list[float]:
    return [float(angle.lab[-1, -1, 0]) for angle in area.angles]


class TestLaid:
    def test_a_coat_is_the_film_of_flakes_that_the_optics_lays(self) -> None:
        got = seen(coat(STEEL))
        sheet = flakes.FlakeSheet(
            np.array([0.6]), flakes.in_cone(refractive_index("iron"))[np.newaxis],
            np.array([np.tan(np.radians(6.0)) ** 2]), np.array([0.1]),
        )  # fmt: skip
        one = flakes.coating(K_per_um=np.full((1, 31), 0.1), S_per_um=np.zeros((1, 31)), sheet=sheet)
        below = levels.level_of(
            cones.endless(cones.medium(K_per_um=np.full((1, 31, 1, 1, 1), 2.0), S_per_um=0.02))
        )
        level, mirror = flakes.lay(one, film_um=np.full((1, 1, 1, 1, 1), 4.0), over=below, mirror=None)
        assert mirror is not None
        even = levels.seen(level, sheen=0.0)
        for angle in got.angles:
            more = flakes.seen_more(
                mirror, even=even, air=cones.directions(), sheen=np.array(0.0),
                at=flakes.turned(angle.degrees),
            )  # fmt: skip
            expected = (even + more)[0, :, 0, 0, 0]
            np.testing.assert_allclose(angle.reflectance[-1, 0], expected, rtol=1e-9)

    def test_metal_is_lighter_towards_the_mirror_direction_and_paint_is_not(self) -> None:
        near, turned, far = lightness(seen(coat(SILVER)))
        assert near > 110.0 > 80.0 > turned > far
        assert not seen(coat(BLUE)).angles
        assert seen(coat(BLUE)).flop_index is None

    def test_the_area_itself_is_seen_at_45_degrees(self) -> None:
        got = seen(coat(SILVER), draws=16, sure=False)
        np.testing.assert_array_equal(got.lab, got.angles[1].lab)
        assert got.lab_low is not None
        np.testing.assert_array_equal(got.lab_low, got.angles[1].lab_low)

    def test_its_colours_for_any_direction_are_those_at_the_three(self) -> None:
        got = seen(coat(SILVER), coat(BLUE, film=1.0))
        shine = got.shine
        assert shine is not None
        for angle in got.angles:
            slopes = np.moveaxis(shine.slopes, -1, 0)
            lobe = flakes.lobe(flakes.turned(angle.degrees), *slopes)[..., np.newaxis]
            np.testing.assert_allclose(
                shine.even + shine.share * lobe, angle.reflectance, atol=0.02, rtol=0.05
            )

    def test_a_mix_with_paint_shines_less_and_takes_its_colour(self) -> None:
        blue = paint("opaque blue", K=0.5, S=0.3)
        pure, mixed = seen(coat(SILVER)), seen(coat(Mix(((SILVER, 1.0), (blue, 1.0)))))
        assert lightness(mixed)[0] < lightness(pure)[0]
        assert (mixed.flop_index < pure.flop_index)[-1].all()  # type: ignore[operator]

    def test_two_metals_are_mixed_by_what_they_cover(self) -> None:
        half = seen(coat(Mix(((SILVER, 1.0), (STEEL, 1.0)))))
        assert lightness(seen(coat(STEEL)))[0] < lightness(half)[0] < lightness(seen(coat(SILVER)))[0]

    def test_chips_of_metal_are_as_much_of_the_area_as_they_cover(self) -> None:
        bare, whole = seen(coat(BLUE)), seen(coat(BLUE), coat(SILVER))
        chipped = seen(coat(BLUE), coat(SILVER, patch="chips", coverage=0.25))
        for i, angle in enumerate(chipped.angles):
            mean = 0.75 * bare.reflectance[-1] + 0.25 * whole.angles[i].reflectance[-1]
            np.testing.assert_allclose(angle.reflectance[-1], mean, rtol=1e-9)

    def test_a_wash_over_chips_of_metal_dims_them(self) -> None:
        chips = coat(SILVER, patch="chips", coverage=0.25)
        assert lightness(seen(coat(BLUE), chips, coat(BLUE)))[0] < lightness(seen(coat(BLUE), chips))[0]

    def test_a_highlight_lands_where_it_is_told(self) -> None:
        preshaded = seen(coat(STEEL), coat(SILVER, where=Where(lightest_from=50.0)))
        near = preshaded.angles[0].lab[-1, :, 0]
        assert near[0] < near[-1]

    def test_a_primer_of_metal_shines(self) -> None:
        assert lightness(seen(ground=SILVER))[0] > 100.0

    def test_what_is_left_of_a_prediction_keeps_its_angles(self) -> None:
        got = seen(coat(SILVER), coat(BLUE)).only([0, 2])
        assert got.angles[0].lab.shape == got.lab.shape
        assert got.shine is not None
        assert got.shine.slopes.shape == (*got.lab.shape[:2], 2)


class TestDoubt:
    def test_flakes_are_not_known_exactly(self) -> None:
        got = seen(coat(SILVER), draws=64, sure=False)
        near, _, far = got.angles
        assert near.lab_low is not None
        assert near.lab_high is not None
        assert far.lab_low is not None
        assert far.lab_high is not None
        wide = [(one.lab_high - one.lab_low)[-1, 0, 0] for one in (near, far)]  # type: ignore[operator]
        assert min(wide) > 2.0

    def test_a_doubt_of_the_tilt_widens_what_is_near_the_mirror(self) -> None:
        from layersim.paint import Doubt

        doubt = Doubt("lot", np.zeros(31), np.zeros(31), log_tilt=0.3)
        unsure = dataclasses.replace(SILVER, doubts=(doubt,))
        sure, more = (seen(coat(one), draws=64).angles[0] for one in (SILVER, unsure))
        assert sure.lab_high is not None
        assert more.lab_high is not None
        assert more.lab_high[-1, 0, 0] - more.lab[-1, 0, 0] > 3.0
        assert sure.lab_high[-1, 0, 0] - sure.lab[-1, 0, 0] < 0.1


class TestDeciding:
    def test_no_recipe_is_searched_over_metal_and_no_metal_among_recipes(self) -> None:
        targets = targets_of(mid=Target(np.array([40.0, 0.0, -20.0])))
        over = Area("frame", BLACK, None, (coat(SILVER), coat(BLUE)), targets)
        with pytest.raises(LayersimError, match='found metal in "silver"; expected an area without metal'):
            match(Scheme("x", (over,)), area="frame", paints=[BLUE], coat="blue")
        plain = Scheme("x", (Area("frame", BLACK, None, (coat(BLUE),), targets),), viewing=Viewing())
        white = paint("white", K=0.001, S=0.5)
        found = match(plain, area="frame", paints=[SILVER, BLUE, white], coat="blue", quick=True)
        assert all(one.flakes is None for answer in found.answers for one, _ in answer.coat.mix.ingredients)

        with pytest.raises(LayersimError, match='filter: found "silver", a metal'):
            match(plain, area="frame", paints=[BLUE], coat="blue", filters=[(SILVER, 1)])


class TestPatches:
    def test_chips_of_metal_lie_on_metal_that_was_laid_after_their_first_coat(self) -> None:
        chips = {"patch": "chips", "coverage": 0.5}
        patched = seen(coat(BLUE, **chips), coat(STEEL), coat(SILVER, **chips, name="more"))
        halves = [seen(coat(STEEL)), seen(coat(BLUE), coat(STEEL), coat(SILVER))]
        for i, angle in enumerate(patched.angles):
            mean = np.mean([half.angles[i].reflectance[-1] for half in halves], axis=0)
            np.testing.assert_allclose(angle.reflectance[-1], mean, rtol=1e-9)

    def test_a_patch_of_no_size_changes_nothing(self) -> None:
        nothing = coat(BLUE, patch="chips", coverage=0.0)
        with_it, without = seen(coat(SILVER), nothing, coat(STEEL)), seen(coat(SILVER), coat(STEEL))
        np.testing.assert_allclose(lightness(with_it), lightness(without), rtol=1e-9)

    def test_two_coats_of_metal_on_a_patch_are_one(self) -> None:
        chips = {"patch": "chips", "coverage": 0.5}
        twice = seen(coat(SILVER, film=2.0, **chips), coat(SILVER, film=2.0, **chips))
        np.testing.assert_allclose(lightness(twice), lightness(seen(coat(SILVER, **chips))), rtol=1e-9)
