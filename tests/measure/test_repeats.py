"""Means of repeated readings: their noise against what it was, and strays found but not invented."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.measure.repeats import average
from layersim.spectra import wavelengths_nm

NM = wavelengths_nm()
TRUTH = 0.3 + 0.2 * np.sin(NM / 50.0)


def test_one_reading_says_nothing_of_its_noise() -> None:
    found = average(TRUTH[None], wavelengths_nm=NM)
    assert found.noise is None
    assert found.apart == 0.0
    np.testing.assert_array_equal(found.mean, TRUTH)


def test_equal_repeats_have_no_noise() -> None:
    found = average(np.tile(TRUTH, (3, 1)), wavelengths_nm=NM)
    assert found.kept.all()
    assert found.noise is not None
    np.testing.assert_allclose(found.noise, 0.0, atol=1e-15)


@pytest.mark.parametrize("repeats", [2, 3, 6])
def test_the_stated_noise_is_the_mean_squared_error(repeats: int) -> None:
    rng = np.random.default_rng(7)
    sigma = 0.003 + 0.002 * (NM - 400.0) / 300.0
    errors, stated = [], []
    for _ in range(400):
        found = average(TRUTH + rng.normal(0.0, sigma, (repeats, NM.size)), wavelengths_nm=NM)
        errors.append(found.mean - TRUTH)
        stated.append(found.noise)
    rms = np.sqrt(np.mean(np.square(errors), axis=0))
    np.testing.assert_allclose(np.sqrt(np.mean(np.square(stated), axis=0)), rms, rtol=0.15)
    np.testing.assert_allclose(rms, sigma / np.sqrt(repeats), rtol=0.15)


@pytest.mark.parametrize("repeats", [3, 4, 7])
@pytest.mark.parametrize("stray", [0, 2])
def test_a_stray_reading_is_found_wherever_it_stands(repeats: int, stray: int) -> None:
    rng = np.random.default_rng(repeats)
    readings = TRUTH + rng.normal(0.0, 0.002, (repeats, NM.size))
    readings[stray] += 0.08
    found = average(readings, wavelengths_nm=NM)
    assert np.flatnonzero(~found.kept).tolist() == [stray]
    np.testing.assert_allclose(found.mean, TRUTH, atol=0.006)


def test_noise_alone_makes_no_strays() -> None:
    # Level shifts, the hardest case: the coat differs from spot to spot by 0.3 % of full scale.
    rng = np.random.default_rng(3)
    left_out = 0
    for _ in range(500):
        readings = TRUTH + rng.normal(0.0, 0.003, (4, 1)) + rng.normal(0.0, 0.001, (4, NM.size))
        left_out += int((~average(readings, wavelengths_nm=NM).kept).sum())
    assert left_out <= 2


def test_two_that_disagree_are_both_kept_and_said_to_be_apart() -> None:
    found = average(np.array([TRUTH, TRUTH + 0.2]), wavelengths_nm=NM)
    assert found.kept.all()
    assert found.apart == pytest.approx(0.2)
