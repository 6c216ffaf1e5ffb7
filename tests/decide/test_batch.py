"""Batches: the fit against the full model, the search for the worst pair, and what must rise with what."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

import layersim
from layersim import colour
from layersim.decide import batch
from layersim.decide.batch import Bench
from layersim.shelf import Shelf, starter_folder

PLAIN = layersim.load_scheme(layersim.demo_scheme(), Shelf([starter_folder()]))
RANGE_OF_TEN = 3.078
"""Mean range of ten normal values in standard deviations: d₂ of control charts (ASTM Manual 7; memory)."""


@pytest.fixture(scope="module")
def cloth():
    bench = Bench(PLAIN, PLAIN.areas[0], tones=3)
    return bench, batch.fitted(bench, PLAIN.hand)


def worst(bench, fit, hand, *, models=4, batches=400, seed=0):
    draws = batch.drawn(bench, batches=batches, models=models, mixes=max(hand.mixes, 1), seed=seed)
    return batch.worst_pairs(bench, fit, draws, bench.session(hand), bench.habits(hand))


def test_the_fit_says_truly_how_far_it_is_off(cloth):
    bench, fit = cloth
    assert fit.error[0] < 0.15
    assert fit.error[2] < 0.06
    session, habits = bench.session(PLAIN.hand), bench.habits(PLAIN.hand)
    rng = np.random.default_rng(11)
    z = rng.standard_normal((30, len(bench.keys))) * session
    z[:, bench.films] += rng.standard_normal((30, len(bench.films))) * habits.models
    others = z.copy()
    others[:, bench.films] = 0.0
    ours = fit.of(z[:, np.newaxis, bench.films], others)[:, 0].reshape(30, 3, 3)
    off = colour.delta_e_2000(ours, bench.finish(z))
    assert off.mean() < 2.0 * fit.error[0]
    assert off.max() < 6.0 * fit.error[0] + 0.5


@pytest.mark.parametrize("area", range(3))
def test_worst_pairs_are_those_of_the_full_model(area):
    bench = Bench(PLAIN, PLAIN.areas[area], tones=3)
    hand = replace(PLAIN.hand, slips=0.0, sheen=0.0)
    fit = batch.fitted(bench, hand)
    draws = batch.drawn(bench, batches=16, models=4, mixes=1, seed=3)
    session, habits = bench.session(hand), bench.habits(hand)
    ours = batch.worst_pairs(bench, fit, draws, session, habits)
    # The full model, every pair and tone, written out plainly.
    exact = np.empty(16)
    for b in range(16):
        rows = np.repeat((draws.session[b] * session)[np.newaxis], 4, axis=0)
        for m in range(4):
            for step, column in enumerate(bench.films):
                rows[m, column] += draws.models[b, m, step] * habits.models[step]
                rows[m, column] += draws.drift[b, step] * habits.drift[step] * (m / 3.0 - 0.5)
        lab = bench.finish(rows)
        exact[b] = max(
            colour.delta_e_2000(lab[i], lab[j]).max() for i, j in itertools.combinations(range(4), 2)
        )
    assert abs(ours - exact).max() < 0.25
    assert abs(ours - exact).mean() < 0.06
    assert abs(np.median(ours) - np.median(exact)) < 0.08


def test_no_pair_is_overlooked_by_looking_at_a_few_candidates(cloth):
    bench, fit = cloth
    session, habits = bench.session(PLAIN.hand), bench.habits(PLAIN.hand)
    draws = batch.drawn(bench, batches=300, models=10, mixes=1, seed=5)
    found = batch.worst_pairs(bench, fit, draws, session, habits)
    lab = batch.models_of(bench, fit, draws, session, habits, slice(0, 300))
    one, two = np.triu_indices(10, 1)
    every = colour.delta_e_2000(lab[:, one], lab[:, two]).reshape(300, -1).max(axis=1)
    assert (found <= every + 1e-12).all()
    assert (found == every).mean() > 0.97
    assert (every - found).max() < 0.1


def test_a_single_straight_cause_gives_the_range_of_normal_values(cloth):
    bench, _ = cloth
    hand = replace(PLAIN.hand, film=0.0, parts=0.0, models=0.0, drift=0.0, slips=0.0, sheen=0.005)
    fit = batch.fitted(bench, hand)
    found = worst(bench, fit, hand, models=10, batches=4000)
    ends = bench.with_sheen(np.array([-0.005, 0.005]))
    one_deviation = 0.5 * colour.delta_e_2000(ends[0], ends[1]).max()
    # Bottles differ from batch to batch, but not from model to model.
    assert found.mean() == pytest.approx(RANGE_OF_TEN * one_deviation, rel=0.06)


def test_slips_are_the_full_models_own_and_add_to_other_errors(cloth):
    bench, fit = cloth
    for step in range(len(bench.steps)):
        for direction, change in enumerate((-1, 1)):
            exact = bench.slip(bench.steps[step], change)
            ours = bench.lab + fit.slips[direction, step].reshape(exact.shape)
            np.testing.assert_allclose(ours, exact, atol=1e-9)
    # One filter too many, by a scheme written so.
    area = PLAIN.areas[0]
    coats = tuple(replace(c, coats=2) if c.is_filter else c for c in area.coats)
    scheme = replace(PLAIN, areas=(replace(area, coats=coats),))
    written = layersim.simulate(scheme, tones=3, draws=0).areas[0].lab[-1]
    index = bench.step_names.index("filter")
    slipped = bench.lab + fit.slips[1, index].reshape(3, 3)
    assert colour.delta_e_2000(slipped, written).max() < 0.15


def test_a_perfect_hand_makes_models_alike(cloth):
    bench, fit = cloth
    hand = replace(PLAIN.hand, models=0.0, drift=0.0, slips=0.0, sheen=0.0)
    assert worst(bench, fit, hand).max() < 1e-9


@pytest.mark.parametrize("name", ["models", "drift", "slips", "sheen"])
def test_a_worse_hand_sets_models_further_apart(cloth, name):
    bench, fit = cloth
    hand = replace(PLAIN.hand, film=0.02, models=0.01, drift=0.01, slips=0.0005, sheen=0.005)
    means = [
        worst(bench, fit, replace(hand, **{name: k * getattr(hand, name)})).mean() for k in (0, 1, 4, 12)
    ]
    assert means == sorted(means)
    assert means[-1] > means[0] + 0.02


def test_more_models_and_more_mixes_set_the_worst_further_apart(cloth):
    bench, fit = cloth
    means = [worst(bench, fit, PLAIN.hand, models=n).mean() for n in (2, 4, 12)]
    assert means == sorted(means)
    steady = replace(PLAIN.hand, models=0.0, drift=0.0, slips=0.0, sheen=0.0)
    again = [worst(bench, fit, replace(steady, mixes=n)).mean() for n in (1, 2, 4)]
    assert again[0] < 1e-9
    assert again == sorted(again)
    assert again[1] > 0.05


def test_one_model_of_the_pair_may_have_slipped(cloth):
    bench, fit = cloth
    steady = replace(PLAIN.hand, film=0.0, parts=0.0, models=0.0, drift=0.0, sheen=0.0, slips=0.1)
    draws = batch.drawn(bench, batches=50, models=3, mixes=1, seed=0)
    draws = replace(draws, session=np.zeros_like(draws.session), slips=np.full_like(draws.slips, 0.5))
    session = bench.session(steady)
    none = batch.worst_pairs(bench, fit, draws, session, bench.habits(steady))
    assert none.max() < 1e-9
    index = bench.step_names.index("filter")
    slips = np.full_like(draws.slips, 0.5)
    slips[:, 1, index] = 0.0
    one = batch.worst_pairs(bench, fit, replace(draws, slips=slips), session, bench.habits(steady))
    exact = colour.delta_e_2000(bench.slip(bench.steps[index], -1), bench.lab)
    np.testing.assert_allclose(one, exact.max(), atol=1e-6)
