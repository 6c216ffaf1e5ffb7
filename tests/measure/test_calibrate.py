"""Calibration: against colour-science's expansion, literal leave-one-out, and cameras that are known."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from layersim.colour import Viewing, adaptation, delta_e_2000, encode_srgb, lab, lab_from_xyz, xyz
from layersim.measure.calibrate import (
    Calibration,
    _matrices,
    _metric,
    calibrate_by_chart,
    calibrate_by_neutrals,
    calibrate_by_trust,
    expanded,
)
from layersim.measure.chart24 import chart_reflectances
from layersim.measure.photograph import SRGB_TO_XYZ_D50
from layersim.measure.tone import ToneCurve, fit_tone
from layersim.spectra import FloatArray, wavelengths_nm
from tests.measure.camera import light_spectrum, sensitivities

CHART = chart_reflectances()
GREY = np.arange(24) >= 18
AS_READ = ToneCurve("as read", np.zeros(3))
NM = wavelengths_nm()
PAINTS = np.stack(
    [0.05 + 0.6 / (1 + np.exp(-(NM - edge) / 15)) for edge in (480, 520, 560, 600)]
    + [0.04 + 0.4 * np.exp(-0.5 * ((NM - peak) / 35) ** 2) for peak in (450, 500, 540)]
    + [np.full(31, level) for level in (0.04, 0.3, 0.85)]
)


def seen(reflectance: FloatArray, camera: str = "A", light: str = "A") -> FloatArray:
    power, response = light_spectrum(light), sensitivities(camera)
    return np.asarray((reflectance * power) @ response / (power @ response))


def error(calibration: Calibration, rgb: FloatArray, reflectance: FloatArray) -> FloatArray:
    view = calibration.viewing
    return delta_e_2000(lab_from_xyz(calibration.xyz(rgb), view.white), lab(reflectance, view))


def test_terms_are_those_of_the_library() -> None:
    with warnings.catch_warnings(), np.printoptions():
        warnings.simplefilter("ignore")
        import colour
    rgb = np.random.default_rng(0).uniform(0, 1, (5, 3))
    theirs = colour.characterisation.polynomial_expansion_Finlayson2015(rgb, 2, True)
    np.testing.assert_allclose(expanded(rgb, 6), theirs)


def test_a_camera_that_sees_like_an_eye_is_calibrated_exactly() -> None:
    mix = np.array([[0.9, 0.2, 0.05], [0.1, 0.7, 0.1], [0.02, 0.1, 0.8]])
    rgb = xyz(CHART, Viewing()) / 100 @ mix
    calibration = calibrate_by_chart(rgb, CHART, tone=AS_READ, viewing=Viewing())
    assert calibration.matrix.shape == (3, 3)
    assert calibration.mean_de00 < 1e-4
    np.testing.assert_allclose(
        calibration.xyz(xyz(PAINTS, Viewing()) / 100 @ mix), xyz(PAINTS, Viewing()), rtol=1e-5
    )


def test_leaving_one_out_is_what_it_says() -> None:
    """The downdated normal equations against refitting, patch by patch."""
    view = Viewing()
    rgb, wanted = seen(CHART), xyz(CHART, view)
    metric = _metric(wanted, view.white)
    for terms in (3, 6):
        rho = expanded(rgb, terms)
        _, ours = _matrices(rho, wanted, metric)
        for i in range(24):
            others = np.arange(24) != i
            literal = rho[i] @ _matrices(rho[others], wanted[others], metric[others])[0]
            np.testing.assert_allclose(rho[i] @ ours[i], literal, rtol=1e-5)


def test_metric_is_the_local_difference() -> None:
    view = Viewing()
    values = xyz(CHART, view)
    step = np.random.default_rng(2).normal(0, 1, (24, 3)) * 1e-4 * values
    predicted = np.linalg.norm(np.einsum("iac,ic->ia", _metric(values, view.white), step), axis=1)
    found = delta_e_2000(lab_from_xyz(values + step, view.white), lab_from_xyz(values, view.white))
    # The rotation term and the stretched a* that the metric leaves out are worth some tens of per cent.
    assert np.median(predicted / found) == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("camera", ["A", "B", "C", "D"])
@pytest.mark.parametrize("light", ["A", "FL2", "LED-B3"])
def test_measured_cameras_in_lamp_light(camera: str, light: str) -> None:
    calibration = calibrate_by_chart(seen(CHART, camera, light), CHART, tone=AS_READ)
    miss = error(calibration, seen(PAINTS, camera, light), PAINTS)
    assert miss.mean() < 1.7
    assert miss.max() < 6.0
    assert miss.mean() < 2.0 * calibration.mean_de00 + 0.1, "the error said is honest"


def test_calibrating_to_the_lamp_beats_daylight() -> None:
    rgb = seen(CHART, "A", "A")
    free = calibrate_by_chart(rgb, CHART, tone=AS_READ)
    daylight = calibrate_by_chart(rgb, CHART, tone=AS_READ, viewing=Viewing("D65"))
    assert free.viewing.light == "A"
    assert free.mean_de00 < 0.6 * daylight.mean_de00


def test_exposure_does_not_matter() -> None:
    rgb = seen(CHART)
    full = calibrate_by_chart(rgb, CHART, tone=AS_READ)
    half = calibrate_by_chart(0.5 * rgb, CHART, tone=AS_READ)
    np.testing.assert_allclose(half.xyz(0.5 * seen(PAINTS)), full.xyz(seen(PAINTS)), rtol=1e-4)


@pytest.mark.parametrize(
    ("name", "bend"),
    [
        ("power", lambda v: v**0.7),
        ("flare", lambda v: v + 0.02),
        ("curve", lambda v: (lambda e: e + 0.35 * (3 * e**2 - 2 * e**3 - e))(encode_srgb(v))),
    ],
)
def test_tone_curves_are_undone(name: str, bend: object) -> None:
    assert callable(bend)
    values = bend(0.9 * seen(CHART))
    tone = fit_tone(name, values[GREY], CHART[GREY])
    calibration = calibrate_by_chart(values, CHART, tone=tone)
    miss = error(calibration, bend(0.9 * seen(PAINTS)), PAINTS)
    straight = calibrate_by_chart(0.9 * seen(CHART), CHART, tone=AS_READ)
    plain = error(straight, 0.9 * seen(PAINTS), PAINTS)
    assert miss.mean() < plain.mean() + 0.6


def test_slope_is_the_derivative() -> None:
    calibration = calibrate_by_chart(seen(CHART), CHART, tone=AS_READ)
    rgb = seen(PAINTS)[2]
    step = np.array([1e-5, -2e-5, 1e-5])
    np.testing.assert_allclose(
        calibration.slope(rgb) @ step,
        calibration.xyz(rgb + step) - calibration.xyz(rgb),
        rtol=0.02,
        atol=1e-6,
    )


def test_error_covariance_is_in_xyz_what_it_is_in_lab() -> None:
    calibration = calibrate_by_chart(seen(CHART), CHART, tone=AS_READ)
    view = calibration.viewing
    for value in xyz(PAINTS, view):
        drawn = np.random.default_rng(0).multivariate_normal(
            np.zeros(3), calibration.error_covariance(value), 4000
        )
        small = 0.05
        moved = (lab_from_xyz(value + small * drawn, view.white) - lab_from_xyz(value, view.white)) / small
        np.testing.assert_allclose(
            np.cov(moved.T), calibration.sigma_lab, atol=0.15 * np.trace(calibration.sigma_lab)
        )


NEUTRAL = np.stack([np.full(31, level) for level in (0.88, 0.18, 0.035)])


def camera_srgb(reflectance: FloatArray) -> FloatArray:
    """A perfect camera with a wrong white balance: linear sRGB, reddish, half exposed."""
    linear = xyz(reflectance, Viewing("D50")) / 100 @ np.linalg.inv(SRGB_TO_XYZ_D50).T
    return np.asarray(linear * [0.6, 0.5, 0.4])


def by_day(reflectance: FloatArray) -> FloatArray:
    """What that camera, which sees the colours of D50, makes an eye see by daylight."""
    matrix = adaptation(tuple(Viewing("D50").white.tolist()), tuple(Viewing().white.tolist()))
    return np.asarray(xyz(reflectance, Viewing("D50")) @ matrix.T)


def test_neutrals_set_white_and_exposure_right() -> None:
    calibration = calibrate_by_neutrals(camera_srgb(NEUTRAL), NEUTRAL, to_xyz_d50=SRGB_TO_XYZ_D50)
    assert calibration.tone.kind == "as read"
    inside = camera_srgb(PAINTS).min(axis=1) > 0.0  # a file cannot say colours beyond its primaries
    found, true = calibration.xyz(camera_srgb(PAINTS)), by_day(PAINTS)
    np.testing.assert_allclose(found[inside], true[inside], rtol=0.01)
    assert inside.sum() >= 8
    np.testing.assert_allclose(calibration.xyz(camera_srgb(NEUTRAL)), xyz(NEUTRAL, Viewing()), rtol=0.01)


def test_neutrals_find_gamma_and_flare() -> None:
    for kind, bend in (("power", lambda v: v**0.8), ("flare", lambda v: v + 0.01)):
        calibration = calibrate_by_neutrals(bend(camera_srgb(NEUTRAL)), NEUTRAL, to_xyz_d50=SRGB_TO_XYZ_D50)
        assert calibration.tone.kind == kind
        np.testing.assert_allclose(calibration.xyz(bend(camera_srgb(NEUTRAL))), by_day(NEUTRAL), rtol=0.03)


def test_neutrals_in_the_wrong_places() -> None:
    with pytest.raises(ValueError, match="in the order of their reflectances"):
        calibrate_by_neutrals(camera_srgb(NEUTRAL)[[1, 0, 2]], NEUTRAL, to_xyz_d50=SRGB_TO_XYZ_D50)


def test_less_reference_is_wider() -> None:
    value = xyz(PAINTS[3], Viewing())
    by_chart = calibrate_by_chart(seen(CHART), CHART, tone=AS_READ, viewing=Viewing())
    by_neutrals = calibrate_by_neutrals(camera_srgb(NEUTRAL), NEUTRAL, to_xyz_d50=SRGB_TO_XYZ_D50)
    by_trust = calibrate_by_trust(np.ones(3), to_xyz_d50=SRGB_TO_XYZ_D50)
    spreads = [np.trace(c.error_covariance(value)) for c in (by_chart, by_neutrals, by_trust)]
    assert spreads[0] < spreads[1] < spreads[2]
