"""The film model's own error: where it acts, where it cancels, and how it counts."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim.chance import Source
from layersim.colour import Viewing, delta_e_2000, lab
from layersim.decide.choices import Choice
from layersim.decide.compare import compare
from layersim.paint import Paint
from layersim.scheme import modelerror
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Hand, Mix, Scheme
from layersim.scheme.simulate import AreaModel, simulate
from layersim.spectra import FloatArray
from tests.examples import CHALK, GLOSS, MOSS, PLUM, RUST, SOOT

CERTAIN = Hand(film=0.0, parts=0.0, greys=0.0, model=0.0)
MODEL_ALONE = dataclasses.replace(CERTAIN, model=1.0)
WHITE = GreysSprayed(mix=Mix(((CHALK, 1.0),)), passes=4, dry_film_um=0.6, spread=0.2, reach=0.02)
GREYS = GreysGiven(darkest=30.0, lightest=85.0, sheen=1.0)


def sure(paint: Paint) -> Paint:
    return dataclasses.replace(paint, doubts=())


def coat(*paints: Paint, film: float = 2.0, **others: object) -> Coat:
    mix = Mix(tuple((sure(paint), 1.0) for paint in paints))
    fields: dict[str, object] = {"name": paints[0].name, "coats": 1, "dry_film_um": film, "spread": 0.0}
    return Coat(mix=mix, **(fields | others))  # type: ignore[arg-type]


def scheme(
    *coats: Coat, hand: Hand = MODEL_ALONE, preshade: GreysGiven | GreysSprayed | None = GREYS
) -> Scheme:
    return Scheme(name="test", areas=(Area("test", sure(SOOT), preshade, coats),), hand=hand)


def predicted(*coats: Coat, draws: int = 64, **others: object) -> AreaPrediction:
    [area] = simulate(scheme(*coats, **others), tones=5, sites=4, draws=draws).areas  # type: ignore[arg-type]
    return area


class TestRange:
    def test_without_it_all_is_as_it_was(self) -> None:
        hand = Hand(satin=0.1, model=0.0)
        with_it = dataclasses.replace(hand, model=1.0)
        one, two = (predicted(coat(MOSS, PLUM), coat(RUST), hand=h, preshade=WHITE) for h in (hand, with_it))
        np.testing.assert_array_equal(one.lab, two.lab)
        said = [{c.what: c.delta_e for c in area.causes} for area in (one, two)]
        assert modelerror.CAUSE not in said[0]
        assert {what: said[1][what] for what in said[0]} == said[0]

    def test_every_coat_adds_to_it(self) -> None:
        reach = predicted(coat(MOSS), coat(PLUM), coat(RUST, film=0.7), preshade=WHITE).reach.mean(axis=1)
        assert reach[1] > 0.3
        assert (reach[2:] > 0.4).all()

    def test_it_counts_as_much_as_is_asked(self) -> None:
        half, whole, double = (
            predicted(coat(MOSS), hand=dataclasses.replace(CERTAIN, model=m)).reach[-1].mean()
            for m in (0.5, 1.0, 2.0)
        )
        assert whole / half == pytest.approx(2.0, rel=0.1)
        assert double / whole == pytest.approx(2.0, rel=0.1)

    def test_thin_films_are_less_sure_than_thick_ones_for_where_they_meet(self) -> None:
        joint = [
            np.log(modelerror.film_factor(np.array(film_um), np.array(1.0)))
            for film_um in (0.0, 0.3, 1.0, 3.0, 1e6)
        ]
        assert joint == sorted(joint, reverse=True)
        assert joint[0] == pytest.approx(1.0)
        assert joint[2] == pytest.approx(modelerror.JOINT_UM / (1.0 + modelerror.JOINT_UM))
        assert joint[-1] < 1e-6

    def test_it_is_one_cause_with_one_advice_and_no_rows(self) -> None:
        area = predicted(coat(MOSS, PLUM), coat(RUST), hand=Hand(), preshade=WHITE)
        assert [cause.what for cause in area.causes].count(modelerror.CAUSE) == 1
        [cause] = [cause for cause in area.causes if cause.what == modelerror.CAUSE]
        assert "chip" in cause.advice
        # Alone, it is what all its deviates give together: a root mean square over draws.
        alone = predicted(coat(MOSS, PLUM), coat(RUST), preshade=WHITE)
        [only] = [c for c in alone.causes if c.what == modelerror.CAUSE]
        assert cause.delta_e == pytest.approx(only.delta_e, rel=0.3)
        made = scheme(coat(MOSS))
        model = AreaModel(made, made.areas[0], tones=2, sites=1)
        seen = colour_of(model, np.eye(len(model.factors)))
        shifts = delta_e_2000(seen, colour_of(model, np.zeros((1, len(model.factors))))).mean(axis=-1)
        assert len(model.factors) > 5
        [said] = simulate(made, tones=2, sites=1).areas[0].causes
        assert said.delta_e == pytest.approx(float(np.sqrt((shifts**2).sum())), rel=0.15)


def colour_of(model: AreaModel, z: FloatArray) -> FloatArray:
    return lab(model.reflectance(z)[:, -1], Viewing())


class TestShared:
    def test_tones_move_together(self) -> None:
        made = scheme(coat(MOSS))
        model = AreaModel(made, made.areas[0], tones=5, sites=1)
        z = np.zeros((2, len(model.factors)))
        z[1, model.column[Source("model", 0, f"S of {MOSS.name}")]] = 2.0
        seen = lab(model.reflectance(z)[:, -1], Viewing())
        moved = (seen[1] - seen[0])[:, 0]
        assert (np.sign(moved[:-1]) == np.sign(moved[0])).all()
        assert abs(moved[0]) > 0.1

    def test_a_difference_of_two_choices_that_share_a_film_stays_sharp(self) -> None:
        base = (coat(MOSS, name="base"), coat(PLUM, name="glaze", film=1.0))
        more = (base[0], dataclasses.replace(base[1], dry_film_um=1.3))
        made = [Choice("one", scheme(*base)), Choice("two", scheme(*more))]
        [area] = compare(made, tones=5).areas
        [difference] = area.differences
        width = difference.high - difference.low
        apart = difference.apart_high - difference.apart_low
        # A reach goes both ways, a width from end to end.
        own = 2.0 * predicted(*base).reach[-1]
        assert (width < 0.4 * own).all()
        assert (width < 0.6 * apart).all()

    def test_other_paints_do_not_share_their_errors(self) -> None:
        one = [Choice("one", scheme(coat(MOSS, name="base"))), Choice("two", scheme(coat(RUST, name="base")))]
        [area] = compare(one, tones=5).areas
        [difference] = area.differences
        assert (difference.high - difference.low).mean() > 0.5

    def test_two_sprayings_of_one_choice_differ_by_none_of_it(self) -> None:
        made = [Choice("one", scheme(coat(MOSS))), Choice("two", scheme(coat(RUST)))]
        [area] = compare(made, tones=3).areas
        for choice in area.choices:
            np.testing.assert_allclose(choice.repeat, 0.0, atol=1e-9)


class TestGreys:
    @pytest.mark.parametrize("grey", [0.05, 0.1, 0.37, 0.6, 0.02, 0.9])
    @pytest.mark.parametrize("sites", [1, 4, 8])
    def test_spots_average_to_the_grey(self, grey: float, sites: int) -> None:
        found = modelerror.spots(np.array([grey]), dark=0.05, light=0.6, sites=sites)
        assert found.shape == (1, sites)
        assert found.mean() == pytest.approx(grey, rel=1e-12)
        assert (np.diff(found) >= 0.0).all()

    def test_half_of_the_spots_by_hand(self) -> None:
        # Three quarters of the way: a quarter of the sites bare.
        found = modelerror.spots(np.array(0.8), dark=0.2, light=1.0, sites=4)
        np.testing.assert_allclose(found, [0.2, 1.0, 1.0, 1.0])

    def test_spotted_greys_look_as_given_and_are_darker_under_a_coat(self) -> None:
        even, spotted = (
            predicted(coat(RUST), hand=CERTAIN, draws=0, preshade=dataclasses.replace(GREYS, spotted=u))
            for u in (0.0, 0.8)
        )
        np.testing.assert_allclose(even.lab[1], spotted.lab[1], atol=1e-6)
        assert spotted.lab[2, 2, 0] < even.lab[2, 2, 0] - 0.2
        # At the ends there is only bare, or only covered.
        np.testing.assert_allclose(even.lab[2, [0, -1]], spotted.lab[2, [0, -1]], atol=1e-6)

    def test_a_tint_is_bluest_in_the_middle_and_keeps_the_lightness(self) -> None:
        area = predicted(hand=CERTAIN, draws=0, preshade=dataclasses.replace(GREYS, tint=0.6))
        np.testing.assert_allclose(area.lab[1, :, 0], area.shade, atol=1e-6)
        blue = -area.lab[1, :, 2]
        assert blue.argmax() == 2
        assert 3.0 < blue[2] < 8.0
        np.testing.assert_allclose(blue[[0, -1]], 0.0, atol=0.05)


class TestIndex:
    def test_nine_in_ten_binders_lie_within_those_of_the_trade(self) -> None:
        low, high = modelerror.index(np.array([-1.6449, 1.6449]))
        assert 1.44 < low < 1.46
        assert 1.54 < high < 1.60

    def test_a_matt_black_is_as_dark_as_its_binder_lets_it(self) -> None:
        made = scheme(coat(GLOSS, sheen=1.0, film=9.0), preshade=None)
        model = AreaModel(made, made.areas[0], tones=2, sites=1)
        z = np.zeros((2, len(model.factors)))
        z[1, model.column[modelerror.INDEX_KEY]] = 1.0
        before, after = model.reflectance(z)[:, -1, 0]
        index = float(modelerror.index(np.array(1.0)))
        k1 = ((index - 1.0) / (index + 1.0)) ** 2
        np.testing.assert_allclose(after - before, k1 - 0.04, atol=6e-4)
