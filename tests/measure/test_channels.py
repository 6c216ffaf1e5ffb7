"""What a camera's channels see, learnt from a chart: against a camera that is known."""

from __future__ import annotations

import numpy as np

from layersim.measure.channels import CHART_VARIES, Channels, errors_of, joint_covariance, learn_channels
from layersim.measure.chart24 import chart_reflectances
from layersim.spectra import wavelengths_nm
from tests.fitting.cards import LED_NM, sensitivities

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


def learnt(noise: float = 0.01, lamp_nm: tuple[float, ...] = ()) -> Channels:
    light = chart_reflectances() @ sensitivities(lamp_nm)
    return learn_channels(light, chart_reflectances(), noise=noise * light)


def test_a_white_stands_at_one_and_errors_make_up_the_covariance() -> None:
    photographs = [learnt(), learnt(lamp_nm=LED_NM)]
    for channels in photographs:
        np.testing.assert_allclose(channels.weights.sum(axis=0), 1.0, atol=1e-12)
    together = joint_covariance(photographs)
    for c in range(6):
        own = photographs[c // 3].covariance[c % 3]
        np.testing.assert_allclose(together[c, :, c], own)
    errors = errors_of(photographs, most=31)
    np.testing.assert_allclose(np.einsum("rcb,red->cbed", errors, errors), together, atol=1e-7)


def test_what_a_chart_is_off_no_second_photograph_averages_out() -> None:
    """The mean of what two photographs say of a grey patch of the chart is as wrong as each."""
    one, two = learnt(noise=1e-4), learnt(noise=1e-4)
    together = joint_covariance([one, two])
    grey = chart_reflectances()[20]
    of_green = np.einsum("b,cbed,d->ce", grey, together, grey)[1::3, 1::3]
    assert of_green.mean() > 0.5 * of_green[0, 0]
    # Without what the chart is off, they would be two opinions.
    lone = learnt(noise=0.05)
    alone = np.einsum("b,cbed,d->ce", grey, joint_covariance([lone, lone]), grey)[1::3, 1::3]
    assert alone.mean() < 0.6 * alone[0, 0]


def test_a_chart_that_is_off_is_off_within_what_is_said() -> None:
    rng = np.random.default_rng(5)
    truth = sensitivities()
    off = []
    for _ in range(40):
        departs = 1.0 + CHART_VARIES * rng.standard_normal((24, 1))
        light = (departs * chart_reflectances()) @ truth
        channels = learn_channels(light, chart_reflectances(), noise=1e-4 * light)
        said = np.sqrt(np.einsum("ib,cbd,id->ic", PAINTS, channels.covariance, PAINTS))
        off.append((PAINTS @ channels.weights * channels.white - PAINTS @ truth) / said)
    assert 0.2 < np.sqrt(np.mean(np.square(off))) < 1.2


def test_channels_err_together_as_much_as_is_said_where_the_chart_is_off() -> None:
    """Many charts that depart smoothly from the published one, against what is said of one."""
    rng = np.random.default_rng(6)
    alike = np.exp(-0.5 * ((NM[:, np.newaxis] - NM) / 100.0) ** 2)
    root = np.linalg.cholesky(alike + 1e-9 * np.eye(NM.size))
    truth = sensitivities()
    olive = 0.5 * (chart_reflectances()[5] + chart_reflectances()[15])
    off = []
    for _ in range(150):
        departs = CHART_VARIES * rng.standard_normal((24, NM.size)) @ root.T
        light = ((1.0 + departs) * chart_reflectances()) @ truth
        channels = learn_channels(light, chart_reflectances(), noise=1e-5 * light)
        off.append(olive @ channels.weights * channels.white - olive @ truth)
    found = np.cov(np.array(off).T)
    said = np.einsum("b,cbed,d->ce", olive, joint_covariance([channels]), olive)
    for c, e in ((0, 1), (1, 2)):
        assert found[c, e] > 0.0
        assert 0.4 < said[c, e] / found[c, e] < 2.5


def test_patches_that_were_not_seen_have_no_part() -> None:
    light = chart_reflectances() @ sensitivities()
    used = np.arange(24) % 5 != 0
    channels = learn_channels(
        np.where(used[:, np.newaxis], light, np.nan), chart_reflectances(), noise=0.01 * light, used=used
    )
    fewer = learn_channels(light[used], chart_reflectances()[used], noise=0.01 * light[used])
    np.testing.assert_allclose(channels.weights, fewer.weights)
    assert (channels.gain[:, :, ~used] == 0.0).all()


def test_noise_widens_what_is_left_open() -> None:
    light = chart_reflectances() @ sensitivities()
    one, two = (
        learn_channels(light, chart_reflectances(), noise=noise * light).covariance for noise in (0.002, 0.1)
    )
    assert all(
        (PAINTS[0] @ b @ PAINTS[0]) > (PAINTS[0] @ a @ PAINTS[0]) for a, b in zip(one, two, strict=True)
    )
