"""Smoothest spectra of colours."""

from __future__ import annotations

import numpy as np

from layersim import colour
from layersim.fitting import onlycolours
from tests.validation.errors import VIEW


def test_they_have_the_colours_that_were_asked_for() -> None:
    lab = np.array([[91.0, -22.0, 68.0], [45.0, 41.0, -24.0], [60.0, -4.0, -43.0], [18.0, 2.0, -1.0]])
    np.testing.assert_allclose(colour.lab(onlycolours.smoothest(lab), VIEW), lab, atol=1e-6)


def test_a_grey_is_flat() -> None:
    flat = np.full((1, 31), 0.3)
    np.testing.assert_allclose(onlycolours.smoothest(colour.lab(flat, VIEW)), flat, atol=1e-9)


def test_no_other_spectrum_of_the_colour_is_smoother() -> None:
    lab = np.array([[55.0, 30.0, 20.0]])
    found = onlycolours.smoothest(lab)[0]
    weights = colour.xyz(np.eye(31), VIEW)
    # A bump that no eye sees, laid on it.
    bump = np.linalg.svd(weights.T)[2][-1]

    def bends(R: np.ndarray) -> float:
        return float((np.diff(np.log(R / (1.0 - R))) ** 2).sum())

    for size in (-0.01, 0.01):
        other = found + size * bump
        np.testing.assert_allclose(colour.lab(other, VIEW), lab[0], atol=1e-6)
        assert bends(other) > bends(found)
