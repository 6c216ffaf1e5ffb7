"""Predictions of stacks from fitted paints against radiative transfer, small: errors, ranges, mixtures.

docs/validation.md has the whole; here it is one seed and few stacks, with limits that a fault would break.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.validation.measured_fit import Condition, Outcome, judged


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    return judged(Condition("small", 0.001, 0.05, None), seeds=1, count=12)


def test_stacks_of_pigments_kept_back_are_predicted_closely(outcome: Outcome) -> None:
    assert outcome.errors.mean() < 0.7
    assert np.percentile(outcome.errors, 95) < 1.6


def test_ranges_hold_about_as_much_as_they_say(outcome: Outcome) -> None:
    # Few paints make few independent cases, so the band is wider than that of the whole validation.
    assert 0.75 < outcome.within <= 1.0
    assert outcome.within_lab.mean() > 0.7


def test_mixtures_follow_from_single_paints(outcome: Outcome) -> None:
    assert outcome.mixture_errors.mean() < 1.3


def test_fits_are_quick_and_good(outcome: Outcome) -> None:
    assert np.median(outcome.seconds) < 1.0
    assert sum(fit.verdict.grade == "good" for fit in outcome.fits) > len(outcome.fits) / 2
