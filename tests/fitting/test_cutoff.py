"""Colours too pure for the file: a patch counts by the channels that are not cut off, and by a limit."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.special import log_ndtr

from layersim.fitting.colours import LEAST_NOISE, Seen, seen_patches
from layersim.fitting.cutoff import below_zero
from tests.fitting.cards import fitted, reading, spectra, with_patch
from tests.fitting.painter import violet


def test_a_colour_too_pure_for_the_file_counts_by_its_other_channels() -> None:
    card = reading(spectra(*violet()))
    patch = next(p for p in card.patches if p.name == "white 4")
    rgb = patch.rgb * np.array([1.0, 0.0, 1.0])
    cut = with_patch(
        card,
        "white 4",
        rgb=rgb,
        usable=False,
        only_cut_off=True,
        cut_off=np.array([0.0, 0.03, 0.0]),
        limit=np.array([False, True, False]),
        flags=("too dark or too pure for the file's colours: a channel stands at 0",),
    )
    fit = fitted(cut)
    assert len(fit.names) == 12
    assert any("raw" in n and "wider colour space than sRGB" in n for n in fit.notices)


def _seen(*, limit: float) -> Seen:
    """Return one patch of a card whose green is cut off at a limit."""
    card = reading(spectra(*violet()))
    seen = seen_patches(card.patches[:1], card)
    values, limits = seen.values.copy(), np.full_like(seen.values, np.inf)
    values[0, 1], limits[0, 1] = limit - 0.02, limit
    return dataclasses.replace(seen, values=values, limit=limits)


@pytest.mark.parametrize(
    ("m", "s"), [(0.01, 0.02), (-0.01, 0.02), (0.05, 0.03), (-0.2, 0.05), (0.1, 0.01), (0.05, 0.005)]
)
def test_what_lies_below_a_limit_has_the_moments_of_a_normal_cut_off_there(m: float, s: float) -> None:
    """What is expected otherwise, N(m, s²), and the limit together: by sums, with scipy's log Φ."""
    limit, own = 0.004, 0.003
    seen = _seen(limit=limit)
    kept = np.ones(1, dtype=np.bool_)
    for _ in range(60):
        # A fit of this one number: what it counts as and what is expected otherwise, by precision.
        told = 1.0 / (seen.noise[0, 1, 1] + own**2)
        precision = 1.0 / s**2 + told
        mean = (m / s**2 + seen.values[0, 1] * told) / precision
        found = mean, 1.0 / precision
        expected, variance = np.full((1, 3), mean), np.full((1, 3), 1.0 / precision)
        seen = below_zero(seen, expected=expected, variance=variance, own=np.full((1, 3), own**2), kept=kept)
    # The model's own error lies between what is fitted and what is cut off.
    t = np.linspace(m - 20.0 * s, m + 8.0 * s, 20001)
    log_weight = -0.5 * ((t - m) / s) ** 2 + log_ndtr((limit - t) / np.hypot(own, LEAST_NOISE))
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    true_mean = weight @ t
    true_variance = weight @ (t - true_mean) ** 2
    assert found[0] == pytest.approx(true_mean, abs=0.02 * s)
    assert found[1] == pytest.approx(true_variance, rel=0.05)


def test_a_limit_far_above_what_is_expected_tells_nothing() -> None:
    seen = _seen(limit=1.0)
    ones = np.ones((1, 3))
    for _ in range(30):
        seen = below_zero(
            seen, expected=0.0 * ones, variance=1e-4 * ones, own=1e-6 * ones, kept=np.ones(1, dtype=np.bool_)
        )
    assert seen.noise[0, 1, 1] > 100.0 * 1e-4


def test_patches_that_were_left_out_stay_as_they_are() -> None:
    seen = _seen(limit=0.0)
    ones = np.ones((1, 3))
    after = below_zero(seen, expected=ones, variance=ones, own=1e-6 * ones, kept=np.zeros(1, dtype=np.bool_))
    np.testing.assert_array_equal(after.values, seen.values)
    np.testing.assert_array_equal(after.noise, seen.noise)
