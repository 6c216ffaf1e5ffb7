"""What swatches say of their own errors: laws, and what they find where it is known."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from layersim.estimate import Estimate
from layersim.fitting.doubts import films_over
from layersim.fitting.measured import fit_swatches, problem_of
from layersim.fitting.ownerrors import (
    at_first,
    covariance_as_seen,
    covariance_of_common_error,
    hand_seen,
    with_own_errors,
)
from layersim.fitting.problem import Belief, FitProblem, Spectra
from layersim.fitting.robust import settle
from layersim.fitting.solve import Solution, model_root, solve
from layersim.fitting.two_constant import ground_shows, predict
from layersim.measure.swatch import SwatchSet
from layersim.optics import cones
from layersim.shelf import Shelf
from layersim.spectra import BANDS
from tests.fitting.painter import (
    BARE,
    COAT_UM,
    NOISE,
    SIX,
    model_reflectance,
    six,
    swatch,
    swatches_of,
    violet,
)

EMPTY = Shelf([])


def uneven(spread: float, seed: int) -> SwatchSet:
    K, S = violet()
    rng = np.random.default_rng(seed)
    rows = []
    for ground, coats in SIX:
        X = coats * COAT_UM * np.exp(spread * rng.standard_normal())
        seen = model_reflectance(K, S, ground=ground, thickness_um=X) + NOISE * rng.standard_normal(BANDS)
        rows.append(swatch(ground, coats, np.maximum(seen, 0.0)))
    return swatches_of(rows)


def hands(spread: float) -> list[float]:
    found = [fit_swatches(uneven(spread, seed), EMPTY).hand for seed in range(5)]
    return [hand.value for hand in found if hand is not None]


def test_an_even_hand_is_found_even_and_an_uneven_one_uneven() -> None:
    even, uneven_hand = hands(0.0), hands(0.3)
    assert len(even) == len(uneven_hand) == 5
    assert max(even) < 0.09
    assert 0.15 < np.median(uneven_hand) < 0.45


def test_an_uneven_hand_widens_the_range() -> None:
    reaches = [fit_swatches(uneven(spread, 3), EMPTY).verdict.reach for spread in (0.0, 0.3)]
    assert reaches[1] > 1.5 * reaches[0]


def test_what_is_told_of_films_is_kept() -> None:
    fit = fit_swatches(uneven(0.3, 1), EMPTY, film_error=0.05)
    assert fit.hand is None


def test_a_profile_that_knows_the_hand_well_outweighs_a_few_swatches() -> None:
    known = Estimate(0.20, error=0.05, basis="a hundred swatches")
    hand = fit_swatches(uneven(0.0, 0), EMPTY, film_error=known).hand
    assert hand is not None
    assert hand.value == pytest.approx(0.20, rel=0.05)
    assert hand.error < known.error


def test_brushed_swatches_are_thought_to_vary_more() -> None:
    two = dataclasses.replace(uneven(0.0, 0), swatches=uneven(0.0, 0).swatches[::3])
    sprayed = fit_swatches(two, EMPTY).hand
    brushed = fit_swatches(dataclasses.replace(two, laid="brushed"), EMPTY).hand
    assert sprayed is not None
    assert brushed is not None
    assert brushed.value > sprayed.value


def test_one_miscounted_coat_does_not_make_a_hand_uneven() -> None:
    K, S = violet()
    rows = list(six(K, S).swatches)
    rows[5] = dataclasses.replace(rows[5], coats=8.0)
    fit = fit_swatches(swatches_of(rows), EMPTY)
    assert fit.kept.all()
    assert fit.hand is not None
    assert fit.hand.value < 0.2
    np.testing.assert_allclose(fit.film_factor[:5], 1.0, atol=0.15)
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.15)


def _problem(of: SwatchSet) -> FitProblem:
    problem = problem_of(of, EMPTY, {}, Path("violet.toml"), film_error=None)[0]
    return dataclasses.replace(problem, belief=Belief.of_coats(COAT_UM))


def test_surfaces_that_differ_are_found_to() -> None:
    K, S = violet()
    k1 = cones.directions().k1
    rng = np.random.default_rng(5)
    rows = [
        dataclasses.replace(s, reflectance=s.reflectance + 0.15 * k1 * abs(rng.standard_normal()))
        for s in six(K, S).swatches
    ]
    alike, _, _ = settle(_problem(six(K, S)))
    differing, _, _ = settle(_problem(swatches_of(rows)))
    assert alike.surface_scatter < 0.03
    assert differing.surface_scatter > 2.0 * alike.surface_scatter


def test_a_model_that_is_off_is_found_to_be_and_never_thought_better_than_it_is() -> None:
    K, S = violet()
    nm = np.linspace(0.0, 1.0, BANDS)
    rows = [
        dataclasses.replace(
            s, reflectance=np.clip(s.reflectance * (1.0 + 0.25 * np.sin(6.0 * nm + 2.0 * i)), 0.0, 1.0)
        )
        for i, s in enumerate(six(K, S).swatches)
    ]
    true, _, _ = settle(_problem(six(K, S)))
    false, _, _ = settle(_problem(swatches_of(rows)))
    assert true.model_scale == 1.0
    assert false.model_scale > 1.08


def test_the_sandwich_never_says_more_is_open_than_the_weights_do() -> None:
    problem, solution, kept = settle(_problem(six(*violet())))
    less = solution.covariance() - covariance_as_seen(problem, solution, kept)
    assert np.linalg.eigvalsh(less).min() > -1e-6 * np.abs(np.diag(solution.covariance())).max()
    assert np.trace(less) > 0.0


def test_known_films_are_not_asked() -> None:
    K, S = violet()
    rows = [dataclasses.replace(s, dry_film_um=(s.coats or 0.0) * COAT_UM) for s in six(K, S).swatches]
    problem = _problem(swatches_of(rows))
    solution = solve(problem)
    everything = np.ones(6, dtype=np.bool_)
    np.testing.assert_array_equal(
        with_own_errors(problem, solution, everything).films.film_error, problem.films.film_error
    )
    np.testing.assert_array_equal(at_first(problem).films.film_error, problem.films.film_error)
    assert hand_seen(problem, solution, everything) is None


def test_one_ground_is_doubtful_and_says_which_swatch_is_missing() -> None:
    K, S = violet()
    for ground, other in (("white", "black"), ("black", "white")):
        rows = [
            swatch(ground, n, model_reflectance(K, S, ground=ground, thickness_um=n * COAT_UM))
            for n in (1.0, 2.0, 4.0)
        ]
        fit = fit_swatches(swatches_of(rows), EMPTY)
        assert fit.verdict.grade == "doubtful"
        assert f"over one ground ({ground})" in fit.verdict.words
        assert f"No swatch lies over {other}" in fit.remedy


def test_two_grounds_that_look_alike_are_one() -> None:
    K, S = violet()
    rows = [
        swatch("white", n, model_reflectance(K, S, ground="white", thickness_um=n * COAT_UM))
        for n in (1.0, 2.0, 4.0)
    ]
    one = swatches_of(rows)
    [white] = [ground for ground in one.grounds if ground.name == "white"]
    grounds = (*one.grounds, dataclasses.replace(white, name="other"))
    swatches = (*rows[:2], dataclasses.replace(rows[2], ground="other"))
    fit = fit_swatches(dataclasses.replace(one, grounds=grounds, swatches=swatches), EMPTY)
    assert "over one ground (other and white)" in fit.verdict.words
    assert "No swatch lies over black" in fit.remedy


def test_over_one_ground_a_paint_is_the_same_in_other_units_of_film() -> None:
    """Coats twenty times as thick of a paint twenty times as weak look alike, and so are fitted alike."""
    K, S = violet()
    rows = [
        swatch("white", n, model_reflectance(K, S, ground="white", thickness_um=n * COAT_UM))
        for n in (1.0, 2.0, 4.0)
    ]
    thin = swatches_of(rows)
    thick = dataclasses.replace(thin, wet_film_um=20.0 * thin.wet_film_um)
    one, other = fit_swatches(thin, EMPTY), fit_swatches(thick, EMPTY)
    np.testing.assert_allclose(20.0 * other.paint.K_per_um, one.paint.K_per_um, rtol=0.02)
    np.testing.assert_allclose(20.0 * other.paint.S_per_um, one.paint.S_per_um, rtol=0.02)
    assert other.verdict.reach == pytest.approx(one.verdict.reach, rel=0.02)


def _over_white(rows: int, *, model_error: float) -> tuple[FitProblem, Solution]:
    """Return films over white alone, each of several thicknesses seen `rows` times, and their fit."""
    K, S = violet()
    X = np.repeat([1.0, 2.0, 4.0], rows) * COAT_UM
    films = films_over(thickness_um=X, reflectance=np.repeat(BARE["white"][np.newaxis], len(X), axis=0))
    truth = predict(films, np.concatenate([np.log(K), np.log(S), np.zeros(len(X))]))
    problem = FitProblem(
        films=films,
        observation=Spectra(),
        observed=truth,
        noise=np.full(truth.shape, 1e-3),
        belief=Belief(model_error=model_error),
    )
    return problem, solve(problem)


def test_an_error_common_to_all_films_does_not_shrink_with_their_number() -> None:
    """(V12), where (V3) has a share of it that falls with every film that is added."""
    few, many = (_over_white(rows, model_error=0.006) for rows in (1, 8))
    common = [
        np.sqrt(np.trace(covariance_of_common_error(*fit, np.ones(len(fit[0].observed), dtype=np.bool_))))
        for fit in (few, many)
    ]
    assert common[1] > 0.8 * common[0]
    assert np.trace(many[1].covariance()) < 0.5 * np.trace(few[1].covariance())


def test_a_common_error_is_what_the_fit_makes_of_it() -> None:
    """(V12) against fits anew to readings that are all off alike, one shape of that error at a time."""
    problem, solution = _over_white(1, model_error=0.006)
    root = model_root(problem.belief, solution.reflectance)
    moved = []
    for shape in range(BANDS):
        ends = []
        for step in (-0.5, 0.5):
            off = dataclasses.replace(problem, observed=problem.observed + step * root[..., shape])
            ends.append(solve(off, begin=solution.unknowns, rounds=1).unknowns)
        moved.append((ends[1] - ends[0])[: 2 * BANDS])
    expected = np.sqrt((np.array(moved) ** 2).sum(axis=0))
    found = np.sqrt(np.diag(covariance_of_common_error(problem, solution, np.ones(3, dtype=np.bool_))))
    np.testing.assert_allclose(found, expected, rtol=0.1)


def test_the_ground_shows_through_thin_films_and_not_through_thick_ones() -> None:
    K, S = violet()
    X = np.array([0.0, 1.0, 300.0, np.inf])
    films = films_over(thickness_um=X, reflectance=np.repeat(BARE["white"][np.newaxis], 4, axis=0))
    unknowns = np.concatenate([np.log(K), np.log(S), np.zeros(4)])
    assert ground_shows(films, unknowns).tolist() == [True, True, False, False]
    # It is asked of the film, whatever lies below it now.
    over_black = films_over(thickness_um=X, reflectance=np.repeat(BARE["black"][np.newaxis], 4, axis=0))
    assert ground_shows(over_black, unknowns).tolist() == [True, True, False, False]


def test_films_that_hide_their_ground_are_no_second_ground() -> None:
    """Three thin films over white and one over black that is opaque: nobody can tell how well it covers."""
    K, S = violet()
    rows = [
        swatch(ground, n, model_reflectance(K, S, ground=ground, thickness_um=n * COAT_UM))
        for ground, n in (("white", 1.0), ("white", 2.0), ("white", 4.0), ("black", 150.0))
    ]
    assert "over one ground (white)" in fit_swatches(swatches_of(rows), EMPTY).verdict.words
