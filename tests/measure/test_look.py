"""A maker's look, undone."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.colour import decode_srgb, encode_srgb
from layersim.measure.look import PLAIN, Look
from tests.measure.camera import LOOKS, looked

RGB = np.random.default_rng(2).uniform(0.25, 0.7, (40, 3))


def test_saturation_and_a_turn_of_hues_come_back_as_they_were() -> None:
    """Against the camera of the tests, which turns hues and multiplies chroma by their angle and length."""
    made = looked(RGB, "saturation")
    undone = Look(float(np.log(LOOKS["saturation"].saturation))).undone(decode_srgb(made))
    inside = ((made > 0.0) & (made < 1.0)).all(axis=-1)
    assert inside.sum() > 20
    np.testing.assert_allclose(encode_srgb(undone)[inside], RGB[inside], atol=1e-9)


def test_hues_turned_by_more_in_the_blues_come_back_nearly() -> None:
    """The camera of the tests turns by the hue before it, a look by the hue after it: alike if small."""
    made = looked(RGB, "phone 2")
    inside = ((made > 0.0) & (made < 1.0)).all(axis=-1)

    by = LOOKS["phone 2"]
    before = RGB + by.contrast * (3 * RGB**2 - 2 * RGB**3 - RGB)

    def off(look: Look) -> float:
        return float(np.abs(encode_srgb(look.undone(decode_srgb(made))) - before)[inside].max())

    log_s = float(np.log(by.saturation))
    bent = Look(log_s, by.turn, by.warp * float(np.cos(by.warp_at)), by.warp * float(np.sin(by.warp_at)))
    assert off(bent) < 0.2 * off(Look(log_s, by.turn))


def test_what_dull_colours_gained_more_is_taken_from_them() -> None:
    values = decode_srgb(np.array([[0.55, 0.5, 0.48], [0.8, 0.4, 0.3]]))
    dull, vivid = (float(np.ptp(encode_srgb(v))) for v in Look(0.0, dull=0.2).undone(values))
    assert dull < 0.8 * 0.07
    assert vivid == pytest.approx(0.5, abs=0.05)


def test_greys_stay() -> None:
    grey = np.array([[0.02, 0.02, 0.02], [0.5, 0.5, 0.5]])
    np.testing.assert_allclose(Look(0.3, 0.1).undone(grey), grey, atol=1e-9)


def test_hues_turn_one_way_and_back() -> None:
    turned = Look(0.0, 0.1).undone(Look(0.0, -0.1).undone(decode_srgb(RGB)))
    np.testing.assert_allclose(encode_srgb(turned), RGB, atol=1e-9)


@pytest.mark.parametrize("values", [np.zeros(3), np.ones(3), np.array([1.0, 0.0, 0.0])])
def test_ends_stay_finite(values: np.ndarray) -> None:
    assert np.isfinite(Look(0.3, 0.1).undone(values)).all()
    np.testing.assert_array_equal(PLAIN.undone(values), values)
