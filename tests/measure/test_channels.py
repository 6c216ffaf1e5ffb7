"""What a camera's channels see, learnt from a chart: against a camera that is known."""

from __future__ import annotations

import numpy as np

from layersim.measure.channels import learn_channels
from layersim.measure.chart import chart_reflectances
from layersim.spectra import wavelengths_nm
from tests.fitting.cards import sensitivities

NM = wavelengths_nm()
PAINTS = np.stack(
    [
        0.04 + 0.66 / (1 + np.exp(-(NM - 600) / 12)),
        0.05 + 0.75 / (1 + np.exp(-(NM - 515) / 14)),
        0.03 + 0.42 * np.exp(-0.5 * ((NM - 455) / 35) ** 2),
        0.04 + 0.5 * np.exp(-0.5 * ((NM - 490) / 45) ** 2),
    ]
)


def test_unseen_reflectances_are_predicted_within_what_is_said() -> None:
    rng = np.random.default_rng(3)
    truth = sensitivities() * np.array([0.7, 0.9, 0.5])  # any exposure
    light = chart_reflectances() @ truth
    sd = 0.002 * light
    channels = learn_channels(light + sd * rng.standard_normal(light.shape), chart_reflectances(), noise=sd)
    expected = PAINTS @ truth / channels.white
    found = PAINTS @ channels.weights
    said = np.sqrt(np.einsum("ib,cbd,id->ic", PAINTS, channels.covariance, PAINTS))
    assert np.abs(found - expected).max() < 0.02
    assert (np.abs(found - expected) < 3.0 * said).all()
    assert said.max() < 0.03


def test_a_white_stands_at_one_and_modes_make_up_the_covariance() -> None:
    light = chart_reflectances() @ sensitivities()
    channels = learn_channels(light, chart_reflectances(), noise=0.01 * light)
    np.testing.assert_allclose(channels.weights.sum(axis=0), 1.0, atol=0.05)
    modes = channels.modes(most=31)
    np.testing.assert_allclose(np.einsum("ckb,ckd->cbd", modes, modes), channels.covariance, atol=1e-7)


def test_noise_widens_what_is_left_open() -> None:
    light = chart_reflectances() @ sensitivities()
    one, two = (
        learn_channels(light, chart_reflectances(), noise=noise * light).covariance for noise in (0.002, 0.1)
    )
    assert all(
        (PAINTS[0] @ b @ PAINTS[0]) > (PAINTS[0] @ a @ PAINTS[0]) for a, b in zip(one, two, strict=True)
    )
