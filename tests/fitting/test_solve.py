"""The solver: recovery, derivatives, an outside minimiser, and what more swatches must do."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.optimize import least_squares

from layersim.colour import Viewing, delta_e_2000, lab
from layersim.fitting.films import Maker, films_of, measured_ground
from layersim.fitting.problem import Belief, Films, FitProblem, Spectra
from layersim.fitting.solve import Solution, prior_precision, solve, start, whitening
from layersim.fitting.two_constant import predict, predict_with_slopes
from layersim.measure.swatch import Sprayed
from layersim.paint import Doubt, Paint
from layersim.spectra import BANDS, FloatArray, wavelengths_nm
from tests.fitting.painter import BARE, COAT_UM, SIX, violet

MAKER = Maker(wet_film_um=COAT_UM / 0.3, volume_solids=0.3, sheen=0.0)


def white() -> Paint:
    return Paint(
        name="known white",
        kind="paint",
        K_per_um=np.full(BANDS, 0.002),
        S_per_um=np.full(BANDS, 0.3),
        volume_solids=0.4,
        wet_film_um=15.0,
        sheen=1.0,
        provenance="made up for this test",
        invented=True,
        doubts=(Doubt("load", np.full(BANDS, 0.1), np.linspace(0.05, 0.15, BANDS)),),
    )


def films(rows: tuple[tuple[str, float], ...] = SIX, *, tint: bool = False, primer: bool = False) -> Films:
    from layersim.fitting.films import primed_ground

    made = [Sprayed(name=f"{coats:g} over {ground}", ground=ground, coats=coats) for ground, coats in rows]
    if tint:
        parts = (("this paint", 1.0), ("known white", 4.0))
        made.append(Sprayed(name="tint", ground="black", coats=3.0, parts=parts))
    grounds = {name: measured_ground(bare, np.full(BANDS, 1e-3), sheen=0.0) for name, bare in BARE.items()}
    if primer:
        grounds["white"] = primed_ground(white())
    return films_of(made, grounds=grounds, paints={"known white": white()}, maker=MAKER)


def truth(of: Films) -> FloatArray:
    K, S = violet()
    return np.concatenate([np.log(K), np.log(S), np.zeros(of.unknowns - 2 * BANDS)])


def problem(of: Films, *, seed: int | None = None, noise: float = 1e-3) -> FitProblem:
    seen = predict(of, truth(of))
    if seed is not None:
        seen = seen + noise * np.random.default_rng(seed).standard_normal(seen.shape)
    return FitProblem(
        films=of,
        observation=Spectra(),
        observed=seen,
        noise=np.full(seen.shape, noise),
        belief=Belief(),
    )


@pytest.mark.parametrize(("tint", "primer"), [(False, False), (True, False), (True, True)])
def test_slopes_are_those_of_central_differences(tint: bool, primer: bool) -> None:
    of = films(tint=tint, primer=primer)
    rng = np.random.default_rng(3)
    at = truth(of)
    at[2 * BANDS :] = 0.3 * rng.standard_normal(len(at) - 2 * BANDS)
    _, slopes, _ = predict_with_slopes(of, at)
    for column in [0, 17, BANDS + 4, *range(2 * BANDS, of.unknowns)]:
        step = np.zeros_like(at)
        step[column] = 1e-4
        central = (predict(of, at + step) - predict(of, at - step)) / 2e-4
        # The ground's slope is taken at z = 0 (its shift is linear), the others where they are.
        np.testing.assert_allclose(slopes[..., column], central, atol=2e-6, rtol=1e-4)


def test_a_tint_has_nuisances_for_its_white_its_parts_and_the_coat() -> None:
    names = [nuisance.name for nuisance in films(tint=True).nuisances]
    assert names == ["known white: load", "parts of tint", "film of one coat"]
    assert films().nuisances == ()


@pytest.mark.parametrize("level", [(0.003, 0.5), (2.0, 0.001)])
def test_noiseless_swatches_give_back_both_constants_from_two_starts(level: tuple[float, float]) -> None:
    of = films()
    task = problem(of, noise=2e-4)
    begin = start(task)
    begin[: 2 * BANDS] = np.repeat(np.log(level), BANDS)
    found = solve(task, begin=begin)
    assert found.converged
    # What is left is the pull of the prior.
    np.testing.assert_allclose(found.unknowns[: 2 * BANDS], truth(of)[: 2 * BANDS], atol=0.02)
    np.testing.assert_allclose(found.reflectance, task.observed, atol=2e-4)


def test_with_a_prior_that_hardly_pulls_the_recovery_is_exact() -> None:
    of = films()
    loose = Belief(spread_K=300.0, spread_S=300.0, bend_K=100.0, bend_S=100.0, model_error=1e-6)
    task = dataclasses.replace(problem(of, noise=1e-6), belief=loose)
    of_no_noise = dataclasses.replace(of, film_error=np.zeros(6), ground_noise=of.ground_noise)
    quiet = np.zeros((3, 6, BANDS))
    task = dataclasses.replace(task, films=dataclasses.replace(of_no_noise, ground_noise=quiet))
    found = solve(task)
    np.testing.assert_allclose(found.unknowns[: 2 * BANDS], truth(of)[: 2 * BANDS], atol=1e-6)


def test_scipy_finds_the_same_minimum_and_the_same_covariance() -> None:
    """Against scipy.optimize.least_squares (trust region), a general library: same χ², same answer."""
    of = films(tint=True)
    task = problem(of, seed=5)
    found = solve(task)
    root = np.linalg.cholesky(prior_precision(task)).T
    centre = np.zeros(task.unknowns)
    centre[: 2 * BANDS] = task.belief.centre()
    # C is held where the solver's last round took it, which is within rounding of its own answer.
    whiten = whitening(task, found.unknowns, found.reflectance)

    def residuals(unknowns: FloatArray) -> FloatArray:
        off = predict(of, unknowns) - task.observed
        return np.concatenate([(whiten @ off[..., np.newaxis]).ravel(), root @ (unknowns - centre)])

    other = least_squares(residuals, found.unknowns + 0.05, x_scale="jac", xtol=1e-12, ftol=1e-12, gtol=1e-12)
    sd = np.sqrt(np.diag(np.linalg.inv(found.information)))
    assert (np.abs(other.x - found.unknowns) / sd).max() < 0.02
    assert 2.0 * other.cost == pytest.approx(found.chi2, rel=1e-3)
    scipy_sd = np.sqrt(np.diag(np.linalg.inv(other.jac.T @ other.jac)))
    np.testing.assert_allclose(scipy_sd, sd, rtol=5e-3)


def test_the_order_of_swatches_does_not_matter() -> None:
    order = [4, 0, 5, 2, 1, 3]
    one, two = films(), films(tuple(SIX[i] for i in order))
    first = problem(one, seed=1)
    second = dataclasses.replace(problem(two), observed=first.observed[order])
    a, b = solve(first), solve(second)
    np.testing.assert_allclose(a.unknowns[: 2 * BANDS], b.unknowns[: 2 * BANDS], atol=1e-5)
    np.testing.assert_allclose(a.covariance(), b.covariance(), atol=1e-8, rtol=1e-3)


def test_another_swatch_never_widens_the_answer() -> None:
    """In every direction: the difference of the covariances has no negative eigenvalue."""
    rows = SIX[:2]
    before: Solution | None = None
    for more in (*SIX[2:], ("white", 8.0), ("black", 0.5)):
        rows = (*rows, more)
        of = films(rows)
        task = problem(of, noise=1e-3)
        # At one and the same answer, so that only the information differs.
        after = solve(dataclasses.replace(task, belief=Belief(model_error=2.5e-3)), begin=truth(of))
        if before is not None:
            gain = before.covariance() - after.covariance()
            assert np.linalg.eigvalsh(gain).min() > -1e-3 * np.abs(np.diag(before.covariance())).max()
            assert np.trace(gain) > 0.0
        before = after


def test_residuals_are_as_large_as_their_errors_say() -> None:
    """Films, grounds and readings all off by what is allowed: χ² per degree of freedom about 1."""
    from layersim.fitting.ownerrors import values_left

    ratios = []
    for seed in range(6):
        of = films()
        rng = np.random.default_rng(seed)
        at = truth(of)
        at[2 * BANDS : 2 * BANDS + 6] = rng.standard_normal(6)
        seen = predict(of, at) + 1e-3 * rng.standard_normal((6, BANDS))
        task = dataclasses.replace(
            problem(of), observed=seen, belief=Belief(model_error=1e-5), films=_sure_grounds(of)
        )
        found = solve(task)
        ratios.append(found.chi2 / values_left(task, found, np.ones(6, dtype=np.bool_)))
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.15)


def test_a_film_that_is_off_is_told_from_a_stronger_paint() -> None:
    of = films()
    at = truth(of)
    at[2 * BANDS + 1] = 3.0
    task = dataclasses.replace(problem(of), observed=predict(of, at))
    found = solve(task)
    film = found.unknowns[2 * BANDS :]
    assert film[1] > 1.5
    assert np.abs(np.delete(film, 1)).max() < 1.0


def test_no_wavelength_is_looped_over_and_the_fit_is_quick() -> None:
    import time

    task = problem(films(), seed=2)
    solve(task)
    begun = time.process_time()
    solve(task)
    assert time.process_time() - begun < 0.5


def _sure_grounds(of: Films) -> Films:
    return dataclasses.replace(of, ground_noise=np.zeros_like(of.ground_noise))


def test_the_prior_of_a_whole_curve_has_the_spread_it_says() -> None:
    belief = Belief()
    covariance = np.linalg.inv(belief.precision())
    level = np.full(BANDS, 1.0 / BANDS)
    assert np.sqrt(level @ covariance[:BANDS, :BANDS] @ level) == pytest.approx(belief.spread_K, rel=0.01)
    assert np.sqrt(level @ covariance[BANDS:, BANDS:] @ level) == pytest.approx(belief.spread_S, rel=0.01)
    assert wavelengths_nm().size == BANDS


class Three:
    """Three numbers a swatch, as a calibrated photograph gives: here XYZ over 100."""

    def observe(self, reflectance: FloatArray) -> FloatArray:
        return reflectance @ Viewing().weights / 100.0

    def slopes(self, reflectance: FloatArray) -> FloatArray:
        return np.broadcast_to(Viewing().weights.T / 100.0, (len(reflectance), 3, BANDS))


def test_the_same_fit_takes_three_numbers_a_swatch() -> None:
    """Colours are met; what three numbers leave open of the spectra stays in the covariance."""
    of = films()
    whole = problem(of)
    seen = Three().observe(whole.observed)
    task = dataclasses.replace(whole, observation=Three(), observed=seen, noise=np.full(seen.shape, 2e-3))
    found = solve(task)
    assert found.converged
    off = delta_e_2000(lab(found.reflectance, Viewing()), lab(whole.observed, Viewing()))
    assert off.max() < 0.7
    narrow = np.sqrt(np.diag(solve(whole).covariance()))
    wide = np.sqrt(np.diag(found.covariance()))
    assert (wide > narrow).all()
    assert np.median(wide / narrow) > 3.0
