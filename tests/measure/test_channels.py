"""What a camera's channels see, learnt from a chart: against a camera that is known."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.measure.channels import Channels, Misfit, joint_covariance, learn_channels
from layersim.measure.chart24 import chart_reflectances
from layersim.spectra import FloatArray, wavelengths_nm
from tests.fitting.cards import LED_NM, sensitivities

NM = wavelengths_nm()
CHART = chart_reflectances()
PAINTS = np.stack(
    [
        0.04 + 0.66 / (1 + np.exp(-(NM - 600) / 12)),
        0.05 + 0.75 / (1 + np.exp(-(NM - 515) / 14)),
        0.03 + 0.42 * np.exp(-0.5 * ((NM - 455) / 35) ** 2),
        0.04 + 0.5 * np.exp(-0.5 * ((NM - 490) / 45) ** 2),
    ]
)
SOUND = Misfit(0.007, 1e-4, 4e-4, alike=0.01)
"""A picture that shows what lay there, of a chart that is nearly the published one."""


def said(channels: Channels, reflectance: FloatArray) -> FloatArray:
    """Return the standard deviation of what is predicted, shape (m, 3)."""
    return np.sqrt(np.einsum("cmm->mc", channels.covariance(reflectance)))


def test_unseen_reflectances_are_predicted_within_what_is_said() -> None:
    rng = np.random.default_rng(3)
    truth = sensitivities() * np.array([0.7, 0.9, 0.5])  # any exposure
    light = CHART @ truth
    sd = 0.002 * light
    channels = learn_channels(light + sd * rng.standard_normal(light.shape), CHART, noise=sd, misfit=SOUND)
    off = np.abs(PAINTS @ channels.weights + channels.departure(PAINTS) - PAINTS @ truth / channels.white)
    assert off.max() < 0.02
    assert (off < 3.0 * said(channels, PAINTS)).all()
    assert said(channels, PAINTS).max() < 0.03


def learnt(noise: float = 0.01, lamp_nm: tuple[float, ...] = (), misfit: Misfit = SOUND) -> Channels:
    light = CHART @ sensitivities(lamp_nm)
    return learn_channels(light, CHART, noise=noise * light, misfit=misfit)


@pytest.mark.parametrize("misfit", [SOUND, Misfit(0.05, 0.03, 0.002, alike=0.6)])
def test_left_out_patches_are_as_if_they_had_not_been_there(misfit: Misfit) -> None:
    """The closed form against literally leaving a patch out, nothing else learnt anew."""
    rng = np.random.default_rng(4)
    light = CHART @ sensitivities() * np.exp(0.05 * rng.standard_normal((24, 3)))
    channels = learn_channels(light, CHART, noise=0.01 * light, misfit=misfit)
    off, sigma = channels.left_out()
    for c in range(3):
        L = np.linalg.inv(channels.whiten[c])
        C = L @ L.T
        for i in (0, 7, 23):
            others = np.arange(24) != i
            weights = np.linalg.solve(C[np.ix_(others, others)], C[others, i])
            predicted = weights @ channels.light[others, c]
            assert off[i, c] == pytest.approx(channels.light[i, c] - predicted, rel=1e-4)
            assert sigma[i, c] ** 2 == pytest.approx(C[i, i] - weights @ C[others, i], rel=1e-4)


def test_a_white_stands_at_one_and_each_photograph_keeps_its_own_covariance() -> None:
    photographs = [learnt(), learnt(lamp_nm=LED_NM)]
    for channels in photographs:
        np.testing.assert_allclose(channels.weights.sum(axis=0), 1.0, atol=1e-12)
    together = joint_covariance(photographs, PAINTS)
    for c in range(6):
        own = photographs[c // 3].covariance(PAINTS)[c % 3]
        np.testing.assert_allclose(together[c, :, c], own, atol=0.05 * np.abs(own).max())
    values = np.linalg.eigvalsh(together.reshape(24, 24))
    assert values.min() > -1e-12


def of_green(photographs: list[Channels]) -> FloatArray:
    """Return the covariance of two photographs' greens at a grey patch of the chart, shape (2, 2)."""
    return joint_covariance(photographs, CHART[20:21])[1::3, 0, 1::3, 0]


@pytest.mark.parametrize("misfit", [SOUND, Misfit(0.05, 0.01, 0.001, alike=0.8)], ids=["specimen", "look"])
def test_what_a_picture_is_off_no_second_one_averages_out(misfit: Misfit) -> None:
    """The mean of what two photographs say of a grey patch of the chart is as wrong as each."""
    one, two = learnt(noise=1e-4, misfit=misfit), learnt(noise=1e-4, misfit=misfit)
    assert of_green([one, two]).mean() > 0.5 * of_green([one, two])[0, 0]
    # Without what they share, they would be two opinions.
    lone, other = learnt(noise=0.05), learnt(noise=0.05)
    assert of_green([lone, other]).mean() < 0.6 * of_green([lone, other])[0, 0]


def test_a_chart_that_is_off_is_off_within_what_is_said() -> None:
    rng = np.random.default_rng(5)
    truth = sensitivities()
    off = []
    for _ in range(40):
        departs = 1.0 + SOUND.light * rng.standard_normal((24, 1))
        light = (departs * CHART) @ truth
        channels = learn_channels(light, CHART, noise=1e-4 * light, misfit=SOUND)
        found = (PAINTS @ channels.weights + channels.departure(PAINTS)) * channels.white
        off.append((found - PAINTS @ truth) / said(channels, PAINTS))
    assert 0.2 < np.sqrt(np.mean(np.square(off))) < 1.2


def test_channels_err_together_as_much_as_is_said_where_the_chart_is_off() -> None:
    """Many charts that depart smoothly from the published one, against what is said of one."""
    rng = np.random.default_rng(6)
    alike = np.exp(-0.5 * ((NM[:, np.newaxis] - NM) / 100.0) ** 2)
    root = np.linalg.cholesky(alike + 1e-9 * np.eye(NM.size))
    truth = sensitivities()
    olive = 0.5 * (CHART[5] + CHART[15])
    off = []
    for _ in range(150):
        departs = SOUND.light * rng.standard_normal((24, NM.size)) @ root.T
        light = ((1.0 + departs) * CHART) @ truth
        channels = learn_channels(light, CHART, noise=1e-5 * light, misfit=SOUND)
        off.append(olive @ channels.weights * channels.white - olive @ truth)
    found = np.cov(np.array(off).T)
    together = joint_covariance([channels], olive[np.newaxis])[:, 0, :, 0]
    for c, e in ((0, 1), (1, 2)):
        assert found[c, e] > 0.0
        assert 0.4 < together[c, e] / found[c, e] < 2.5


def test_noise_and_misfit_widen_what_is_left_open() -> None:
    sound = said(learnt(noise=0.002), PAINTS)
    assert (said(learnt(noise=0.1), PAINTS) > sound).all()
    assert (said(learnt(noise=0.002, misfit=Misfit(0.1, 0.03)), PAINTS) > sound).all()


def test_vivid_and_dark_colours_have_the_larger_misfit() -> None:
    misfit = Misfit(0.01, 0.03, 0.002)
    grey, red, black = misfit.sizes(np.array([[0.3, 0.3, 0.3], [0.5, 0.3, 0.1], [0.003, 0.003, 0.003]]))
    assert (red > grey).all()
    np.testing.assert_allclose(black, np.hypot(0.01 * 0.003, 0.002))
