"""The colour of a spot of a picture: mean light, its spread as doubt, and what cannot be a spot."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from layersim import colour
from layersim.decide.artwork import read_artwork
from layersim.decide.spot import spot_in
from layersim.documents.points import point_from
from layersim.errors import LayersimError
from layersim.scheme.targets import MOST_DOUBT, PICKED_DOUBT


def artwork(tmp_path, pixels):
    Image.fromarray(np.asarray(pixels, dtype=np.uint8)).save(tmp_path / "art.png")
    return read_artwork(tmp_path / "art.png")


def halves(left, right):
    pixels = np.empty((100, 200, len(left)))
    pixels[:, :100], pixels[:, 100:] = left, right
    return pixels


def test_a_flat_spot_is_its_colour_with_the_doubt_of_any_picture(tmp_path):
    found = spot_in(artwork(tmp_path, halves((44, 68, 112), (200, 30, 40))), (25, 50))
    assert np.abs(found.lab - colour.lab_of_hex("#2c4470")).max() < 0.1
    assert found.spread < 0.01
    assert found.at == pytest.approx((0.25, 0.5), abs=0.01)
    assert found.target.on_screen
    assert found.target.doubt == PICKED_DOUBT


def test_a_point_is_left_and_top_of_the_picture_as_it_is_seen(tmp_path):
    found = spot_in(artwork(tmp_path, halves((44, 68, 112), (200, 30, 40))), (75, 10))
    assert colour.delta_e_2000(found.lab, colour.lab_of_hex("#c81e28")) < 0.1


def test_light_is_averaged_not_numbers_of_the_file(tmp_path):
    # A fine chequer of black and white reflects half the light: L* 76.07 by CIE 15, not the 54 of mid grey.
    chequer = np.indices((100, 100)).sum(axis=0) % 2 * 255
    found = spot_in(artwork(tmp_path, np.stack([chequer] * 3, axis=-1)), (50, 50), size=20)
    assert found.lab[0] == pytest.approx(76.07, abs=0.5)
    assert found.target.doubt == MOST_DOUBT


def test_the_spread_of_its_pixels_is_its_doubt(tmp_path):
    draw = np.random.default_rng(3)
    L = draw.normal(50.0, 6.0, (120, 120))
    grey = colour.encode_srgb(((L + 16.0) / 116.0) ** 3) * 255.0
    found = spot_in(artwork(tmp_path, np.stack([grey] * 3, axis=-1)), (50, 50), size=40)
    # The mean size of a normal deviate is √(2/π) of its own: 4.8. At L* 50 ΔE00 counts L* as it is.
    assert found.spread == pytest.approx(4.8, abs=0.3)
    assert found.target.doubt == found.spread


def test_a_spot_smaller_than_a_pixel_still_has_a_colour(tmp_path):
    found = spot_in(artwork(tmp_path, halves((44, 68, 112), (200, 30, 40))), (0, 0), size=0.01)
    assert colour.delta_e_2000(found.lab, colour.lab_of_hex("#2c4470")) < 0.1


def test_lost_colours_are_counted(tmp_path):
    assert spot_in(artwork(tmp_path, halves((255, 255, 255), (40, 40, 40))), (25, 50)).clipped == 1.0


@pytest.mark.parametrize("at", [(-1, 50), (101, 50), (50, float("nan")), (50, float("inf"))])
def test_a_point_outside_is_told(tmp_path, at):
    with pytest.raises(LayersimError, match="inside the picture"):
        spot_in(artwork(tmp_path, halves((44, 68, 112), (200, 30, 40))), at)


@pytest.mark.parametrize("size", [0.0, -1.0, 51.0, float("nan")])
def test_an_odd_size_is_told(tmp_path, size):
    with pytest.raises(LayersimError, match="found the size"):
        spot_in(artwork(tmp_path, halves((44, 68, 112), (200, 30, 40))), (50, 50), size=size)


def test_transparency_has_no_colour(tmp_path):
    clear = artwork(tmp_path, halves((44, 68, 112, 255), (0, 0, 0, 0)))
    with pytest.raises(LayersimError, match="transparency"):
        spot_in(clear, (75, 50))


@pytest.mark.parametrize(
    "text", ["", "40", "40,25,10", "x,y", "-3,4", "101,5", "4e1,5", "nan,5", "1" * 400 + ",2"]
)
def test_what_is_no_point_is_told_with_an_example(text):
    with pytest.raises(LayersimError, match="such as 40,25"):
        point_from(text)
