"""Bare grounds: the smoothest spectrum of a colour, and what else it may be."""

from __future__ import annotations

import numpy as np

from layersim.fitting.bareground import ground_modes, ground_of_colour
from layersim.optics import cones
from layersim.spectra import wavelengths_nm
from tests.fitting.cards import sensitivities


def test_a_ground_has_its_colour_and_its_true_spectrum_within_what_it_may_be() -> None:
    """A buff white of rutile, by one photograph: equal colours; the difference is a mixture of the modes."""
    nm = wavelengths_nm()
    truth = 0.8 - 0.3 / (1.0 + np.exp((nm - 412.0) / 8.0)) - 0.1 / (1.0 + np.exp((nm - 450.0) / 20.0))
    weights = sensitivities()
    ground = ground_of_colour(truth @ weights, 1e-8 * np.eye(3), weights, sheen=1.0)
    found = ground.reflectance + cones.directions().k1
    np.testing.assert_allclose(found @ weights, truth @ weights, atol=1e-4)
    modes = ground_modes(float(truth @ weights[:, 1]) - cones.directions().k1)
    deviates, *_ = np.linalg.lstsq(modes.T, truth - found, rcond=None)
    assert np.abs(modes.T @ deviates - truth + found).max() < 0.002
    assert np.abs(deviates).max() < 2.0
