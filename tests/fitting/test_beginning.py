"""Where a fit begins."""

from __future__ import annotations

import dataclasses

import numpy as np

from layersim.fitting.beginning import start
from layersim.fitting.films import Maker, films_of, measured_ground
from layersim.fitting.problem import Belief, Films, FitProblem, Spectra
from layersim.fitting.solve import solve
from layersim.fitting.two_constant import predict
from layersim.measure.swatch import Sprayed
from layersim.spectra import BANDS, FloatArray

COAT_UM = 4.0


def film_of(coats: tuple[float, ...]) -> Films:
    """Return coats over a dark and over a light ground."""
    grounds = {
        name: measured_ground(np.full(BANDS, R), np.full(BANDS, 1e-3), sheen=0.0)
        for name, R in (("dark", 0.2), ("light", 0.88))
    }
    swatches = [
        Sprayed(name=f"{count} over {name}", ground=name, coats=count) for name in grounds for count in coats
    ]
    maker = Maker(wet_film_um=10.0 * COAT_UM, volume_solids=0.1, sheen=0.0, film_error=0.15)
    return films_of(swatches, grounds=grounds, paints={}, maker=maker)


def yellow() -> tuple[FloatArray, FloatArray]:
    """Return K and S of a strong one: it hides by both in the blue, by scattering alone in the red."""
    nm = np.linspace(400.0, 700.0, BANDS)
    K = 1.3 / (1.0 + np.exp((nm - 500.0) / 8.0)) + 0.005
    S = 0.2 + 0.7 / (1.0 + np.exp((nm - 490.0) / 12.0))
    return K / COAT_UM, S / COAT_UM


def task(of: Films) -> FitProblem:
    """Return what is seen of it, with no noise but a reading's."""
    truth = np.concatenate([np.log(np.concatenate(yellow())), np.zeros(of.unknowns - 2 * BANDS)])
    R = predict(of, truth)
    return FitProblem(
        films=of,
        observation=Spectra(),
        observed=R,
        noise=np.full_like(R, 0.002),
        belief=Belief.of_coats(COAT_UM),
    )


def test_it_begins_within_a_step_of_the_lattice_of_the_truth() -> None:
    problem = task(film_of((1.0, 2.0, 4.0)))
    begun = start(problem)[: 2 * BANDS].reshape(2, BANDS)
    off = np.abs(begun - np.log(np.stack(yellow())))
    # Where the paint is nearly opaque its level is free, K over S is not.
    assert np.abs((begun[0] - begun[1]) - np.log(yellow()[0] / yellow()[1])).max() < 0.75
    assert np.median(off) < 0.5


def test_the_fit_ends_no_higher_than_from_a_plain_paint() -> None:
    problem = task(film_of((1.0, 2.0, 4.0)))
    plain = np.zeros(problem.unknowns)
    plain[: 2 * BANDS] = problem.belief.centre()
    assert solve(problem).chi2 <= solve(problem, begin=plain).chi2 + 1e-3


def test_without_spectra_or_films_it_is_the_plain_paint() -> None:
    problem = task(film_of((1.0, 2.0)))
    three = dataclasses.replace(problem, observed=problem.observed[:, :3], noise=problem.noise[:, :3])
    np.testing.assert_array_equal(start(three)[: 2 * BANDS], problem.belief.centre())
    opaque = dataclasses.replace(problem.films, thickness_um=np.full(4, np.inf))
    np.testing.assert_array_equal(
        start(dataclasses.replace(problem, films=opaque))[: 2 * BANDS], problem.belief.centre()
    )
