"""Tolerance: slips ranked as the full model has them, and the habit that would help most."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

import layersim
from layersim import colour
from layersim.decide.tolerance import Gain, SlipKind, tolerance
from layersim.errors import LayersimError, UnknownNameError
from layersim.scheme.records import GreysGiven, Hand
from layersim.shelf import Shelf, starter_folder
from layersim.views.tolerance import batch_words, habit_words, hand_words, offered_gains, slip_words

PLAIN = layersim.load_scheme(layersim.demo_scheme(), Shelf([starter_folder()]))
STEADY = Hand(film=0.0, parts=0.0, greys=0.0, models=0.0, drift=0.0, slips=0.0, sheen=0.0)
CLOTH = ["wax cloth"]


@pytest.fixture(scope="module")
def cloth():
    return tolerance(PLAIN, areas=CLOTH, batches=600).areas[0]


def cloth_with(**changes):
    area = PLAIN.areas[0]
    coats = tuple(replace(c, **changes[c.name]) if c.name in changes else c for c in area.coats)
    return replace(PLAIN, areas=(replace(area, coats=coats),))


def finish(scheme):
    return layersim.simulate(scheme, tones=5, draws=0).areas[0].lab[-1]


def test_slips_are_ranked_and_named(cloth):
    sizes = [slip.delta_e for slip in cloth.slips]
    assert sizes == sorted(sizes, reverse=True)
    said = {(slip.step, slip_words(slip)) for slip in cloth.slips}
    assert ("filter", "left out") in said
    assert ("base", "one coat fewer") in said
    assert ("base", "film 20 % thinner") in said
    assert ("base", "one drop of blue ink too few") in said
    assert ("filter", "another bottle of violet glaze") in said
    assert ("finish", "seen under a bulb (A)") in said
    assert {slip.kind for slip in cloth.slips} == set(get_args(SlipKind)) - {"greys"}


def test_each_slip_is_what_a_scheme_written_so_gives(cloth):
    base = PLAIN.areas[0].coats[0]
    ink = base.mix.ingredients
    # The batch takes three times as many drops: one of three is missing.
    less_ink = replace(base.mix, ingredients=((ink[0][0], ink[0][1]), (ink[1][0], 2.0 / 3.0)))
    written = {
        ("base", "one coat fewer"): {"base": {"coats": 2}},
        ("base", "film 20 % thinner"): {"base": {"dry_film_um": 0.8 * base.dry_film_um}},
        ("base", "one drop of blue ink too few"): {"base": {"mix": less_ink}},
    }
    plain = finish(PLAIN)
    for key, changes in written.items():
        shift = colour.delta_e_2000(finish(cloth_with(**changes)), plain)
        [slip] = [s for s in cloth.slips if (s.step, slip_words(s)) == key]
        assert slip.delta_e == pytest.approx(shift.mean(), rel=0.02, abs=0.02)
        assert slip.most == pytest.approx(shift.max(), rel=0.02, abs=0.02)


def test_the_worse_direction_is_told(cloth):
    assert all(slip.delta_e >= slip.other for slip in cloth.slips)
    [thin] = [s for s in cloth.slips if (s.step, s.kind) == ("base", "film")]
    assert thin.darker > 0.0


@pytest.mark.parametrize(
    ("hand", "habit"),
    [
        (replace(STEADY, drift=0.1), "stir, clean the tip"),
        (replace(STEADY, slips=0.05), "tick off every coat"),
        (replace(STEADY, parts=0.1, mixes=3), "mix once"),
        (replace(STEADY, sheen=0.1), "stir the varnish"),
    ],
)
def test_the_one_thing_that_sets_models_apart_is_the_one_named(hand, habit):
    result = tolerance(replace(PLAIN, hand=hand), areas=CLOTH, batches=200).areas[0]
    assert habit_words(result.gains[0]).startswith(habit)
    assert result.gains[0].typical < result.typical
    assert len(result.gains) == 1
    assert f"What would help most: {habit}" in " ".join(batch_words(result, 10, 1.8))


def test_the_one_step_that_can_go_wrong_is_the_one_named():
    # Every other film is too thin to matter.
    thin = {c.name: {"dry_film_um": 1e-4} for c in PLAIN.areas[0].coats if c.name != "filter"}
    scheme = replace(cloth_with(**thin), hand=replace(STEADY, models=0.1))
    scheme = replace(scheme, areas=(replace(scheme.areas[0], preshade=None),))
    result = tolerance(scheme, batches=200).areas[0]
    assert habit_words(result.gains[0]) == 'lay "filter" twice as evenly from model to model'
    assert result.gains[0].typical == pytest.approx(0.5 * result.typical, rel=0.1)
    films = [slip for slip in result.slips if slip.kind == "film"]
    assert films[0].step == "filter"
    assert films[0].delta_e > 20.0 * films[1].delta_e


def test_the_seed_gives_the_same_answer_again_and_another_seed_nearly():
    once, again, other = (tolerance(PLAIN, areas=CLOTH, batches=2000, seed=s) for s in (4, 4, 5))
    np.testing.assert_array_equal(once.areas[0].worst, again.areas[0].worst)
    assert once.areas[0].gains == again.areas[0].gains
    assert not np.array_equal(once.areas[0].worst, other.areas[0].worst)
    # Four standard errors of the difference of two shares of 2000 batches.
    spread = np.sqrt(2.0 * once.chance * (1.0 - once.chance) / 2000)
    assert abs(once.chance - other.chance) < 4.0 * spread


def test_chance_falls_with_the_threshold_and_areas_add_up():
    chances = [tolerance(PLAIN, areas=CLOTH, batches=400, visible=v).chance for v in (0.5, 1.8, 3.0, 20.0)]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.95
    assert chances[-1] == 0.0
    both = tolerance(PLAIN, batches=200)
    assert both.chance >= max(area.chance for area in both.areas)


def test_a_perfect_hand_leaves_nothing_to_help():
    result = tolerance(replace(PLAIN, hand=STEADY), areas=CLOTH, batches=50).areas[0]
    assert result.chance == 0.0
    assert result.gains == ()
    assert "less than 1 %" in " ".join(batch_words(result, 10, 1.8))


def test_habits_whose_gain_does_not_show_are_not_offered(cloth):
    typical, chance = 2.24, 0.456
    shown = Gain("even", "base", chance, typical - 0.1)
    rarer = Gain("even", "base", chance - 0.02, typical)
    nothing = (
        Gain("even", "base", chance, typical),
        # 2.25 would be printed as 2.2, and 45.4 % as 45 %: figures that tip over for next to nothing.
        Gain("even", "base", chance - 0.002, typical - 0.001),
        Gain("even", "base", chance + 0.1, typical + 0.1),
    )
    area = replace(cloth, worst=np.full(10, typical), chance=chance, gains=(shown, *nothing, rarer))
    assert offered_gains(area) == (shown, rarer)
    none = replace(area, gains=nothing)
    assert offered_gains(none) == ()
    assert batch_words(none, 10, 1.8)[-1] == "No single habit would help much."


def test_given_greys_vary_too():
    result = tolerance(PLAIN, areas=["lamp glass"], batches=200).areas[0]
    assert any("preshade" in gain.step for gain in result.gains)
    assert any(slip_words(slip).startswith("greys 5 L* ") for slip in result.slips)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"models": 1}, "models in a batch: found 1; expected a whole number from 2 to 60"),
        ({"models": 61}, "found 61"),
        ({"batches": 3}, "batches: found 3; expected a whole number from 10"),
        ({"batches": 200_000}, "found 200000; expected a whole number from 10 to 100000"),
        ({"visible": 0.0}, "visible: found 0; expected a ΔE00 above 0"),
        ({"visible": float("nan")}, "visible: found nan"),
        ({"tones": 1}, "tones: found 1"),
    ],
)
def test_impossible_numbers_are_refused(asked, said):
    with pytest.raises(LayersimError) as fault:
        tolerance(PLAIN, **asked)
    assert said in str(fault.value)


def test_an_unknown_area_is_named_with_its_nearest():
    with pytest.raises(UnknownNameError, match=r'no "strap" among the areas\. Did you mean "straps"'):
        tolerance(PLAIN, areas=["strap"])


def test_the_hand_is_told_in_words():
    said = hand_words(Hand())
    assert "5 % off from model to model" in said
    assert "once in 500" in said
    assert "missed" not in hand_words(STEADY)
    assert "made 3 times" in hand_words(replace(STEADY, mixes=3))


def test_the_hand_of_a_batch_is_read_from_the_scheme(tmp_path):
    text = (
        layersim.demo_scheme()
        .read_text()
        .replace("greys = 2.0\n", "greys = 2.0\nmodels = 0.1\nmixes = 2\n", 1)
    )
    file = tmp_path / "scheme.toml"
    file.write_text(text)
    hand = layersim.load_scheme(file).hand
    assert (hand.models, hand.mixes, hand.drift) == (0.1, 2, Hand().drift)
    file.write_text(text.replace("models = 0.1", "modles = 0.1"))
    with pytest.raises(LayersimError, match='Did you mean "models"'):
        layersim.load_scheme(file)
    file.write_text(text.replace("mixes = 2", "mixes = 0"))
    with pytest.raises(LayersimError, match="found 0; expected a whole number from 1"):
        layersim.load_scheme(file)


@pytest.mark.parametrize("preshade", [None, GreysGiven(30.0, 88.0, 1.0), PLAIN.areas[0].preshade])
@pytest.mark.parametrize("coats", [0, 1])
def test_an_area_with_hardly_anything_on_it_can_be_judged(preshade, coats):
    area = replace(PLAIN.areas[0], preshade=preshade, coats=PLAIN.areas[0].coats[:coats])
    result = tolerance(replace(PLAIN, areas=(area,)), batches=20).areas[0]
    assert np.isfinite(result.worst).all()
    assert result.slips


def test_a_hand_too_unsteady_for_the_fit_is_told_so():
    wild = tolerance(replace(PLAIN, hand=replace(PLAIN.hand, film=1.0, models=1.0)), areas=CLOTH, batches=20)
    assert "Take these figures as rough." in " ".join(batch_words(wild.areas[0], 10, 1.8))
    usual = tolerance(PLAIN, areas=CLOTH, batches=20)
    assert "rough" not in " ".join(batch_words(usual.areas[0], 10, 1.8))
