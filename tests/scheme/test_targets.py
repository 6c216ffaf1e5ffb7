"""Targets in a scheme: their doubt, and screen colours under other lamps."""

from __future__ import annotations

import numpy as np
import pytest

from layersim import colour
from layersim.errors import SchemeError
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Targets
from layersim.scheme.simulate import simulate
from layersim.scheme.targets import MEASURED_DOUBT, PICKED_DOUBT
from tests.examples import SCHEME


def read(tmp_path, paints_folder, lines, light="D65"):
    path = tmp_path / "t.toml"
    text = SCHEME.replace('lamp = "D65"', f'lamp = "{light}"').replace(
        'name = "strap"', f'name = "strap"\n{lines}'
    )
    path.write_text(text, encoding="utf-8")
    return load_scheme(path, folders=[paints_folder])


@pytest.mark.parametrize(
    ("value", "doubt"),
    [
        ('"#2c4470"', PICKED_DOUBT),
        ("[30, 2, -20]", MEASURED_DOUBT),
        ('{ colour = "#2c4470", doubt = 5 }', 5.0),
        ("{ colour = [30, 2, -20], doubt = 0 }", 0.0),
        ("{ colour = [30, 2, -20] }", MEASURED_DOUBT),
    ],
)
def test_a_target_has_a_doubt(tmp_path, paints_folder, value, doubt):
    targets = read(tmp_path, paints_folder, f"targets.mid = {value}").areas[1].targets
    assert targets.doubt("mid") == doubt


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("{ doubt = 3 }", "colour: found nothing; expected"),
        ('{ colour = "#2c4470", doubt = -1 }', "doubt: found -1"),
        ('{ colour = "#2c4470", doubt = 31 }', "doubt: found 31"),
        ('{ colour = "blue" }', 'colour: found "blue"'),
        ('{ colour = "#2c4470", dobt = 3 }', "dobt"),
        ("{ colour = { colour = 3 } }", "colour: found"),
        ("5", "mid: found 5"),
    ],
)
def test_a_slip_in_a_target_is_told(tmp_path, paints_folder, value, said):
    with pytest.raises(SchemeError) as told:
        read(tmp_path, paints_folder, f"targets.mid = {value}")
    assert said in str(told.value)


def test_a_screen_colour_is_adapted_to_the_lamp_and_numbers_are_not(tmp_path, paints_folder):
    lines = 'targets = { mid = "#2c4470", light = [60, 2, -20] }'
    lamp = colour.Viewing("A")
    targets = read(tmp_path, paints_folder, lines, light="A").areas[1].targets
    under = targets.under(lamp)
    # Seen by an eye used to the bulb it is the same blue: adapted back, it is the screen's colour again.
    back = colour.lab_alike(colour.xyz_from_lab(under.mid, lamp.white), under=lamp, to=colour.Viewing())
    assert np.allclose(back, colour.lab_of_hex("#2c4470"), atol=1e-6)
    assert colour.delta_e_2000(under.mid, targets.mid) > 1.0
    assert np.array_equal(under.light, targets.light)
    assert under.doubt("mid") == PICKED_DOUBT


def test_a_screen_white_is_white_under_any_lamp():
    targets = Targets(mid=colour.lab_of_hex("#ffffff"), on_screen=frozenset({"mid"}))
    for light in colour.LIGHTS:
        for observer in colour.OBSERVERS:
            mid = targets.under(colour.Viewing(light, observer)).mid
            assert np.allclose(mid, [100.0, 0.0, 0.0], atol=0.05)


def test_a_prediction_under_another_lamp_holds_the_adapted_target(tmp_path, paints_folder):
    scheme = read(tmp_path, paints_folder, 'targets.mid = "#2c4470"')
    lamp = colour.Viewing("A")
    area = simulate(scheme, tones=3, draws=0, viewing=lamp).areas[1]
    wanted = area.target_misses()["mid"][1]
    assert np.allclose(wanted, scheme.areas[1].targets.under(lamp).mid)
