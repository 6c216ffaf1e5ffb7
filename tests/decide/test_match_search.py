"""The search loses nothing: pruned equals exhaustive, whatever the shelf, the place and the targets."""

from __future__ import annotations

import dataclasses
import itertools
import math

import numpy as np
import pytest

from layersim import colour
from layersim.decide import search as searching
from layersim.decide.match import lab_of_recipes
from layersim.decide.opening import Opening
from layersim.decide.recipes import Limits, Recipe, pots
from layersim.decide.targets import ToneTargets
from layersim.optics import cones
from layersim.paint import Paint

VIEW = colour.Viewing()


def some_paint(number: int, draw: np.random.Generator) -> Paint:
    """A paint with smooth spectra: an absorption band somewhere, some scattering."""
    nm = np.linspace(0.0, 1.0, 31)
    band = np.exp(-(((nm - draw.uniform(0, 1)) / draw.uniform(0.1, 0.5)) ** 2))
    return Paint(
        name=f"paint {number}",
        kind="paint",
        K_per_um=10 ** draw.uniform(-2, 0.1) * band + 10 ** draw.uniform(-3, -1.5),
        S_per_um=np.full(31, 10 ** draw.uniform(-2.5, -0.4)),
        volume_solids=draw.uniform(0.08, 0.35),
        wet_film_um=draw.uniform(8, 16),
        sheen=draw.uniform(0, 1),
        provenance="made up for tests",
        invented=True,
    )


def some_opening(draw: np.random.Generator, tones: int) -> Opening:
    white = cones.medium(K_per_um=np.full(31, 0.004), S_per_um=np.full(31, 0.35))
    black = cones.endless(cones.medium(K_per_um=np.full(31, 1.0), S_per_um=np.full(31, 0.04)))
    film = np.linspace(0.05, draw.uniform(4, 12), tones)[:, np.newaxis]
    later = ()
    if draw.random() < 0.5:
        glaze = cones.medium(K_per_um=draw.uniform(0, 0.3, 31), S_per_um=np.full(31, 0.01))
        later = ((glaze, np.full((tones, 1), draw.uniform(0.2, 1.0))),)
    share = np.ones(tones) if draw.random() < 0.6 else np.linspace(0.05, 1.0, tones)
    kept = np.full(tones, 1.0 if not later else 0.4)
    return Opening(
        below=cones.lay(white, thickness_um=film, over=black),
        sheen_below=np.full(tones, 0.6),
        later=later,
        sheen_kept=kept,
        sheen_added=(1.0 - kept) * 0.3,
        share=share,
        viewing=VIEW,
        shade=np.linspace(10, 90, tones),
    )


def exhaustive(openings, shelf, limits, targets):
    """Every recipe one by one with the plain functions of cones: slow, literal, no bound, no ratio twice."""
    best: dict[int, dict[tuple[int, ...], list[float]]] = {}
    for opening, m in itertools.product(openings, range(1, limits.paints_at_most + 1)):
        for paints in itertools.combinations(range(len(shelf.paints)), m):
            if len({shelf.paints[i].carrier for i in paints} - {""}) > 1:
                continue
            for drops in itertools.product(range(1, limits.drops + 1), repeat=m):
                if sum(drops) > limits.drops or (m == 1 and drops != (1,)) or math.gcd(*drops) > 1 < m:
                    continue
                wet = sum(d * shelf.wet_um[i] for d, i in zip(drops, paints, strict=True)) / sum(drops)
                each = [wet * d / sum(drops) * shelf.solids[i] for d, i in zip(drops, paints, strict=True)]
                film = sum(each)
                K = sum(a * shelf.K_per_um[i] for a, i in zip(each, paints, strict=True)) / film
                S = sum(a * shelf.S_per_um[i] for a, i in zip(each, paints, strict=True)) / film
                sheen = sum(a * shelf.sheen[i] for a, i in zip(each, paints, strict=True)) / film
                for coats, thinning in itertools.product(limits.coats, limits.thinnings):
                    X = film * coats / (1.0 + thinning)
                    y = cones.lay(
                        cones.medium(K_per_um=K, S_per_um=S),
                        thickness_um=(X * opening.share)[:, np.newaxis],
                        over=opening.below,
                    )
                    for paint, later in opening.later:
                        y = cones.lay(paint, thickness_um=later, over=y)
                    left = np.exp(-X * opening.share)
                    finish = sheen + (opening.sheen_below - sheen) * left
                    finish = opening.sheen_kept * finish + opening.sheen_added
                    lab = colour.lab(cones.seen(y, sheen=finish[:, np.newaxis]), VIEW)
                    miss = colour.delta_e_2000(lab, targets.lab)[targets.counted]
                    close = 0.5 * (miss.mean() + miss.max())
                    best.setdefault(m, {}).setdefault(paints, []).append(close)
    return {
        m: sorted(((paints, sorted(every)) for paints, every in sets.items()), key=lambda item: item[1][0])
        for m, sets in best.items()
    }


@pytest.mark.parametrize("seed", range(14))
def test_pruned_equals_exhaustive(seed, monkeypatch):
    draw = np.random.default_rng(seed)
    tones = int(draw.integers(2, 6))
    limits = Limits(
        paints_at_most=3,
        drops=int(draw.integers(3, 6)),
        coats=(1, 2, 4) if seed % 2 else (1, 3),
        thinnings=(0.5,) if seed % 3 else (0.0, 1.0),
    )
    paints = [some_paint(i, draw) for i in range(int(draw.integers(4, 6)))]
    if seed % 3 == 1:
        paints = [
            dataclasses.replace(paint, carrier=carrier)
            for paint, carrier in zip(paints, ("water", "oil", "", "water", "oil"), strict=False)
        ]
    shelf = pots(tuple(paints), limits)
    openings = [some_opening(draw, tones) for _ in range(1 + seed % 2)]
    # Targets near what some recipe gives, or anywhere.
    lab = np.stack([np.sort(draw.uniform(5, 70, tones)), *draw.normal(0, 15, (2, tones))], axis=-1)
    counted = np.ones(tones, dtype=bool)
    counted[0] = seed % 4 != 0 or tones == 2
    targets = ToneTargets(lab, counted, {"mid": tones // 2})
    keep = 3
    # Many blocks and batches, so that thresholds fall on the way.
    monkeypatch.setattr(searching, "_BLOCK", 12)
    monkeypatch.setattr(searching, "_WAITING", 15)
    found = searching.search(openings, shelf, limits, targets, keep=keep)
    expected = exhaustive(openings, shelf, limits, targets)
    assert set(found.best) == set(expected)
    for m, every in expected.items():
        got = found.best[m]
        assert [f.recipe.paints for f in got] == [paints for paints, _ in every[:keep]]
        np.testing.assert_allclose([f.closeness for f in got], [c[0] for _, c in every[:keep]], atol=1e-6)
        # Of each set also what is near its best, as far as that is no farther than the last set kept.
        last = every[:keep][-1][1][0]
        for paints, each in every[:keep]:
            near = [c for c in each[1:] if c < min(each[0] + searching.NEAR, last) - 1e-6]
            kept = [f.closeness for f in found.near[paints]]
            for close in near[:10]:
                # Equal films are tried once.
                assert min(abs(close - c) for c in (each[0], *kept)) < 1e-6
    assert found.tally.screened <= found.tally.recipes * found.tally.tones


def test_the_order_does_not_matter(monkeypatch):
    draw = np.random.default_rng(8)
    limits = Limits(drops=6, coats=(1, 2, 3))
    shelf = pots(tuple(some_paint(i, draw) for i in range(9)), limits)
    opening = some_opening(draw, 5)
    hidden = Recipe((2, 5), (4, 1), 1.0, 2)
    wanted = lab_of_recipes([(hidden, 1.0)], opening, shelf)[0]
    targets = ToneTargets(wanted, np.ones(5, dtype=bool), {})
    results = []
    for block, sample in ((1000, 600), (12, 600), (40, 5)):
        monkeypatch.setattr(searching, "_BLOCK", block)
        monkeypatch.setattr(searching, "_SAMPLE", sample)
        results.append(searching.search([opening], shelf, limits, targets, keep=5))
    for other in results[1:]:
        for m, hits in results[0].best.items():
            there = other.best[m]
            assert [(h.recipe, h.closeness) for h in hits] == [(h.recipe, h.closeness) for h in there]
    assert results[0].best[2][0].recipe == hidden
    # Bounds spared a tenth of the work or more.
    assert all(r.tally.screened < 0.9 * r.tally.recipes * r.tally.tones for r in results)


def test_a_quick_search_is_part_of_the_whole():
    draw = np.random.default_rng(4)
    limits = Limits(drops=5, coats=(1, 2))
    shelf = pots(tuple(some_paint(i, draw) for i in range(8)), limits)
    opening = some_opening(draw, 4)
    wanted = lab_of_recipes([(Recipe((1, 3, 6), (2, 1, 1), 1.0, 2), 1.0)], opening, shelf)[0]
    targets = ToneTargets(wanted, np.ones(4, dtype=bool), {})
    whole = searching.search([opening], shelf, limits, targets, keep=3)
    quick = searching.search([opening], shelf, limits, targets, keep=3, quick=True)
    assert quick.tally.recipes < whole.tally.recipes
    for m in (1, 2):
        assert [h.recipe for h in quick.best[m]] == [h.recipe for h in whole.best[m]]
    pairs = [set(h.recipe.paints) for h in whole.best[2]]
    for hit in quick.best[3]:
        assert any(pair <= set(hit.recipe.paints) for pair in pairs)
    assert quick.best[3][0].closeness >= whole.best[3][0].closeness


def test_what_is_farther_than_wanted_is_left_out_and_the_rest_is_the_same():
    draw = np.random.default_rng(9)
    limits = Limits(paints_at_most=2, drops=5, coats=(1, 2))
    shelf = pots(tuple(some_paint(i, draw) for i in range(7)), limits)
    opening = some_opening(draw, 4)
    targets = ToneTargets(np.full((4, 3), [45.0, 5.0, 5.0]), np.ones(4, dtype=bool), {})
    every = searching.search([opening], shelf, limits, targets, keep=99)
    below = every.best[2][3].closeness
    near = searching.search([opening], shelf, limits, targets, keep=99, below=below)
    held = searching.search([opening], shelf, limits, targets, keep=99, holding=3)
    for m, hits in every.best.items():
        wanted = [h.recipe for h in hits if h.closeness <= below]
        assert [h.recipe for h in near.best.get(m, [])] == wanted
        assert [h.recipe for h in held.best[m]] == [h.recipe for h in hits if 3 in h.recipe.paints]


@pytest.mark.parametrize("quick", [False, True])
def test_what_cannot_be_mixed_is_never_offered(quick):
    """Two oils, three carried by water: no film holds both kinds, and what is counted is what is tried."""
    draw = np.random.default_rng(6)
    limits = Limits(drops=4, coats=(1,))
    carriers = ("water", "oil", "water", "oil", "water")
    paints = [dataclasses.replace(some_paint(i, draw), carrier=c) for i, c in enumerate(carriers)]
    shelf = pots(tuple(paints), limits)
    opening = some_opening(draw, 3)
    # What two oils give, so that a quick search keeps no pair that three paints could hold.
    wanted = lab_of_recipes([(Recipe((1, 3), (2, 1), 1.0, 1), 1.0)], opening, shelf)[0]
    targets = ToneTargets(wanted, np.ones(3, dtype=bool), {})
    found = searching.search([opening], shelf, limits, targets, keep=1 if quick else 24, quick=quick)
    offered = {hit.recipe.paints for hits in found.best.values() for hit in hits}
    assert found.best[2][0].recipe.paints == (1, 3)
    pairs = {(0, 2), (0, 4), (2, 4), (1, 3)}
    ratios_of_two, ratios_of_three = 5, 4
    if quick:
        assert set(found.best) == {1, 2}
        assert found.tally.recipes == 5 + len(pairs) * ratios_of_two
        assert found.tally.skipped == ratios_of_three
    else:
        assert offered == {(i,) for i in range(5)} | pairs | {(0, 2, 4)}
        assert found.tally.recipes == 5 + len(pairs) * ratios_of_two + ratios_of_three
        assert found.tally.skipped == 0


def test_progress_ends_at_all_recipes():
    draw = np.random.default_rng(1)
    limits = Limits(drops=4, coats=(1, 2))
    shelf = pots(tuple(some_paint(i, draw) for i in range(5)), limits)
    targets = ToneTargets(np.full((3, 3), [40.0, 0.0, 0.0]), np.ones(3, dtype=bool), {})
    told: list[tuple[int, int]] = []
    found = searching.search(
        [some_opening(draw, 3)], shelf, limits, targets, progress=lambda *row: told.append(row)
    )
    assert told[-1] == (found.tally.recipes, found.tally.recipes)
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_the_lower_bound_is_below_ciede2000():
    draw = np.random.default_rng(0)
    for _ in range(60):
        target = np.array([draw.uniform(1, 99), *draw.normal(0, 40, 2)])
        lab = np.concatenate(
            [
                np.stack([draw.uniform(0, 100, 2000), *draw.normal(0, 50, (2, 2000))], axis=-1),
                target + draw.normal(0, 3, (1000, 3)),
            ]
        )
        assert (searching.lowest_delta_e(lab, target) <= colour.delta_e_2000(lab, target) + 1e-9).all()


def test_the_quick_difference_is_never_above_ciede2000_and_mostly_equal():
    draw = np.random.default_rng(5)
    for number in range(40):
        target = np.array([draw.uniform(1, 99), *(draw.normal(0, 30, 2) if number % 5 else (0.0, 0.0))])
        lab = np.stack([draw.uniform(0, 100, 3000), *draw.normal(0, 30, (2, 3000))], axis=-1)
        lab[:1000] = target + draw.normal(0, 4, (1000, 3))
        lab[:, 0] = lab[:, 0].clip(0, 100)
        xyz = colour.xyz_from_lab(lab, VIEW.white)
        real = (xyz >= 0).all(axis=-1)
        exact = colour.delta_e_2000(lab[real], target)
        quick, sure = searching.near_delta_e(xyz[real].T.astype(np.float32), target, VIEW.white)
        assert (exact[sure] <= quick[sure] + searching.SLACK / 5).all()
        assert (quick <= exact + searching.SLACK / 5).all()
        assert (np.abs(quick - exact) < 5e-3).mean() > 0.98
