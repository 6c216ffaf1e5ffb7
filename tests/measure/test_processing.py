"""What a camera made of light: looks are found, and left-out patches lie within their ranges."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from layersim.measure.channels import Channels
from layersim.measure.chart24 import chart_reflectances
from layersim.measure.look import PLAIN
from layersim.measure.processing import learn_camera
from layersim.measure.tone import ToneCurve
from layersim.spectra import FloatArray
from tests.measure.camera import LOOKS, Shot, chart_values
from tests.measure.test_channels import PAINTS as VIVID

CHART = chart_reflectances()
GREY = np.arange(24) >= 18
# Softer than the vivid ones, most of which sRGB cannot hold, and of other spectra than the chart's.
PAINTS = np.concatenate([0.5 * VIVID + 0.15, 0.3 * VIVID + 0.04, 0.5 * (VIVID[:3] + VIVID[1:])])
GREYS = np.repeat(np.array([[0.05], [0.12], [0.3], [0.5], [0.7], [0.85]]), 31, axis=1)
OTHER_CHART = "ISO 17321-1"
LED = Shot(light="LED-B3")


def learnt(
    values: FloatArray, covariance: FloatArray, usable: npt.NDArray[np.bool_], *, linear: bool = False
) -> tuple[ToneCurve, Channels]:
    use = usable[:24]
    return learn_camera(values[:24][use], covariance[:24][use], CHART[use], grey=GREY[use], linear=linear)


def within(channels: Channels) -> float:
    """Return which share of left-out patches lies within their own 90 % range."""
    off, sigma = channels.left_out()
    return float((np.abs(off) < 1.645 * sigma).mean())


def photographs() -> list[tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]]:
    """Return what really taken photographs say of a chart; the file tells whose they are."""
    with Path(__file__).with_name("chart_photographs.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    numbers = np.array([[float(v) for v in row.values()] for row in rows]).reshape(-1, 24, 9)
    return [(n[:, 2:5], n[:, 5:8, np.newaxis] ** 2 * np.eye(3), n[:, 8] > 0.0) for n in numbers]


def test_left_out_patches_of_real_photographs_lie_within_their_ranges() -> None:
    """Before misfits were learnt from the picture, 6 to 22 % did."""
    shares = [within(learnt(*photograph)[1]) for photograph in photographs()]
    assert 0.85 < np.mean(shares) < 0.95
    assert min(shares) > 0.8


@pytest.mark.parametrize(
    "shot",
    [
        LED,
        LED.but(camera="D", light="A", developed="camera"),
        LED.but(curve="contrast"),
        LED.but(chart=OTHER_CHART),
        LED.but(look="phone 1"),
        LED.but(look="phone 2", light="A"),
        LED.but(look="phone 3"),
        LED.but(look="phone 4"),
        LED.but(look="phone 1", chart=OTHER_CHART),
    ],
    ids=["plain", "own colours", "contrast", "specimen", "phone 1", "2", "3", "4", "phone and specimen"],
)
def test_left_out_patches_and_paints_lie_within_their_ranges(shot: Shot) -> None:
    left_out, hits, paints = [], [], 0
    for seed in range(4):
        values, covariance, usable = chart_values(shot.but(seed=seed), beside=PAINTS)
        tone, channels = learnt(values, covariance, usable)
        left_out.append(within(channels))
        off = tone.light(values[24:]) / channels.white
        off -= PAINTS @ channels.weights + channels.departure(PAINTS)
        # What the patch itself adds: its noise, and the misfit that is its own.
        own = channels.misfit.sizes(PAINTS @ channels.weights) ** 2 * (1.0 - channels.misfit.alike)
        noise = (0.01 * tone.light(values[24:]) / channels.white) ** 2 + 1e-6
        sigma = np.sqrt(np.einsum("cmm->mc", channels.covariance(PAINTS)) + own + noise)
        seen = usable[24:]
        hits += (np.abs(off) < 1.645 * sigma)[seen].ravel().tolist()
        paints += int(seen.sum())
    assert 0.84 < np.mean(left_out) <= 0.98
    assert paints > 20
    assert np.mean(hits) > 0.8


@pytest.mark.parametrize("light", ["A", "LED-B3", "D65"])
@pytest.mark.parametrize("curve", ["srgb", "contrast"])
def test_a_saturation_boost_is_found_and_undone(light: str, curve: str) -> None:
    shot = Shot(light=light, look="saturation", curve=curve)
    tone, channels = learnt(*chart_values(shot))
    assert tone.look.log_saturation == pytest.approx(np.log(1.25), abs=0.06)
    assert abs(tone.look.turn) < 0.03
    assert channels.misfit.light < 0.03


@pytest.mark.parametrize(
    "shot",
    [LED, Shot(camera="B", light="D65"), Shot(camera="D", developed="camera"), LED.but(chart=OTHER_CHART)],
)
def test_a_picture_without_a_look_gets_none(shot: Shot) -> None:
    for seed in range(3):
        tone, channels = learnt(*chart_values(shot.but(seed=seed)))
        assert tone.look == PLAIN
        assert channels.misfit.light < 0.045


def test_highlights_that_are_rolled_off_come_back() -> None:
    """A cubic of ln t in ln v missed these greys by up to 8 %, and paints by 1.7 in L*."""
    values, covariance, usable = chart_values(LED.but(look="phone 4"), beside=GREYS)
    tone, channels = learnt(values, covariance, usable)
    met = tone.light(values[24:]) / channels.white
    np.testing.assert_allclose(met, np.repeat(GREYS[:, :1], 3, axis=1), rtol=0.06)


def test_a_turn_that_changes_with_the_hue_is_found() -> None:
    tone, channels = learnt(*chart_values(LED.but(look="phone 2")))
    made = LOOKS["phone 2"]
    assert tone.look.turn_blue == pytest.approx(made.warp * np.cos(made.warp_at), abs=0.02)
    assert tone.look.turn_red == pytest.approx(made.warp * np.sin(made.warp_at), abs=0.02)
    assert channels.misfit.light < 0.02


def test_of_a_file_that_holds_light_nothing_but_flare_is_undone() -> None:
    tone, _ = learnt(*chart_values(LED.but(look="phone 1")), linear=True)
    assert tone.look == PLAIN
    assert tone.kind in ("as read", "flare")


def test_beyond_its_greys_a_curve_is_a_guess() -> None:
    values, covariance, usable = chart_values(LED.but(look="phone 1"))
    tone, _ = learnt(values, covariance, usable)
    assert tone.kind == "curve"
    grey = values[20] / values[20].mean() * np.array([[0.002], [0.2], [1.0]])
    beyond = tone.beyond(grey)
    assert (beyond[0] < 0.0).all()
    np.testing.assert_allclose(beyond[1], 0.0)
    assert (beyond[2] > 0.0).all()
