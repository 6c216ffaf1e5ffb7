"""Kinds of paints: what the table says, and how answers are weighed."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim.fitting.doubts import films_over
from layersim.fitting.family import (
    LEAST_WEIGHT,
    USUAL_COAT_UM,
    answer_of_kinds,
    blended,
    evidence,
    kin,
    kin_of_coats,
    weights,
)
from layersim.fitting.problem import Belief, FitProblem, Spectra
from layersim.fitting.solve import prior_precision, solve
from layersim.fitting.two_constant import predict
from layersim.shelf import Shelf
from layersim.spectra import BANDS, wavelengths_nm
from tests.fitting.painter import BARE, violet


def test_the_table_is_a_mixture_of_paints() -> None:
    kinds = kin()
    assert sum(kind.share for kind in kinds) == pytest.approx(1.0, abs=2e-3)
    for kind in kinds:
        assert kind.mean.shape == (2 * BANDS,)
        assert np.exp(kind.mean[:BANDS]).max() < 20.0
        values = np.linalg.eigvalsh(kind.covariance())
        assert values.min() > 0.0
        np.testing.assert_allclose(kind.precision() @ kind.covariance(), np.eye(2 * BANDS), atol=1e-6)


def test_every_paint_of_the_shelf_is_like_some_kind() -> None:
    """The shelf had no part in the table; a paint far from all kinds would be a gap in it."""
    for paint in map(Shelf.usual().find, Shelf.usual().names()):
        at = np.log(np.maximum(np.concatenate([paint.K_per_um, paint.S_per_um]), 1e-6))
        away = [(at - kind.mean) @ kind.precision() @ (at - kind.mean) / (2 * BANDS) for kind in kin()]
        assert min(away) < 9.0, paint.name


def test_coats_of_any_thickness_look_alike() -> None:
    thick = kin_of_coats(20.0 * USUAL_COAT_UM)
    for usual, weaker in zip(kin(), thick, strict=True):
        np.testing.assert_allclose(np.exp(weaker.mean) * 20.0, np.exp(usual.mean))
        assert weaker.share == usual.share
    same = kin_of_coats(USUAL_COAT_UM)
    np.testing.assert_array_equal(same[0].mean, kin()[0].mean)


def task() -> FitProblem:
    K, S = violet()
    films = films_over(
        thickness_um=np.array([2.0, 6.0, 2.0, 6.0]),
        reflectance=np.stack([BARE["black"], BARE["black"], BARE["white"], BARE["white"]]),
    )
    truth = predict(films, np.concatenate([np.log(K), np.log(S), np.zeros(4)]))
    noise = np.full((4, BANDS), 3e-3)
    return FitProblem(films=films, observation=Spectra(), observed=truth, noise=noise, belief=kin()[0])


def test_evidence_is_laplaces() -> None:
    problem = task()
    solution = solve(problem)
    P = prior_precision(problem)
    expected = (
        np.log(0.2)
        - 0.5 * solution.chi2
        + 0.5 * np.log(np.linalg.eigvalsh(P)).sum()
        - 0.5 * np.log(np.linalg.eigvalsh(solution.information)).sum()
    )
    assert evidence(problem, solution, share=0.2) == pytest.approx(expected, rel=1e-9)


def test_a_violet_is_told_from_a_white_by_its_spectra() -> None:
    problem = task()
    each = [dataclasses.replace(problem, belief=kind) for kind in kin()]
    w = weights(np.array([evidence(p, solve(p), share=k.share) for p, k in zip(each, kin(), strict=True)]))
    best = kin()[int(w.argmax())].mean
    nm550 = 15
    assert best[nm550] > best[nm550 + BANDS]  # it absorbs more than it scatters in the green


def test_weights_drop_the_hopeless() -> None:
    w = weights(np.array([0.0, -1.0, -50.0]))
    assert w.sum() == pytest.approx(1.0)
    assert w[2] == 0.0
    assert weights(np.array([0.0, np.log(0.5 * LEAST_WEIGHT)]))[1] == 0.0


def test_a_blend_is_as_wide_as_its_parts_and_what_divides_them() -> None:
    one = solve(task())
    moved = dataclasses.replace(one, unknowns=one.unknowns + 0.4)
    mean, covariance = blended([one, moved], np.array([0.5, 0.5]))
    np.testing.assert_allclose(mean, one.unknowns + 0.2)
    np.testing.assert_allclose(np.diag(covariance), np.diag(np.linalg.inv(one.information)) + 0.04, rtol=1e-6)


def test_scattering_by_a_power_and_scattering_that_follows_absorption_are_both_like_some_kind() -> None:
    """Of a blue: flat scattering, and such as particles have, least before the band and most behind it."""
    nm = wavelengths_nm()
    log_K = np.log(0.02 + 0.9 * np.exp(-0.5 * ((nm - 620.0) / 40.0) ** 2))
    by_power = np.log(0.03) + 1.2 * np.log(550.0 / nm)
    follows = np.log(0.015) + 1.6 / (1.0 + np.exp((590.0 - nm) / 20.0))
    away = [
        min(
            (at - kind.mean) @ kind.precision() @ (at - kind.mean) / (2 * BANDS)
            for kind in kin()
            for at in (np.concatenate([log_K, log_S]),)
        )
        for log_S in (by_power, follows)
    ]
    assert max(away) < 3.0


def test_one_ground_is_answered_by_all_kinds_together() -> None:
    whole = task()
    first = solve(dataclasses.replace(whole, belief=Belief()))
    best, found, likely = answer_of_kinds(whole, kept=np.ones(4, dtype=np.bool_), begin=first.unknowns)
    K, S = violet()
    assert any(best.belief is kind for kind, _ in likely)
    np.testing.assert_allclose(np.exp(found.unknowns[:BANDS]), K, rtol=0.1)
    np.testing.assert_allclose(np.exp(found.unknowns[BANDS : 2 * BANDS]), S, rtol=0.2)
