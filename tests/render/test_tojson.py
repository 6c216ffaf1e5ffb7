"""Predictions as JSON: strict, whole, and equal to what was predicted."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest

from layersim import colour
from layersim.render.tojson import predictions_json
from layersim.scheme.prediction import Prediction
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import simulate


@pytest.fixture
def prediction(rig: Scheme) -> Prediction:
    return simulate(rig, tones=3, sites=2, draws=8)


def parsed(*predictions: Prediction) -> dict[str, Any]:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    content = json.loads(predictions_json(predictions), parse_constant=refuse)
    assert isinstance(content, dict)
    return content


class TestWhole:
    def test_head(self, prediction: Prediction) -> None:
        content = parsed(prediction)
        assert content["format"] == "layersim prediction 1"
        assert content["wavelength_nm"] == list(range(400, 701, 10))
        assert content["range_holds"] == 0.9
        [one] = content["predictions"]
        assert (one["scheme"], one["light"], one["observer_degrees"]) == ("Test rig", "D65", 2)
        assert one["white_xyz"] == pytest.approx(prediction.viewing.white, abs=1e-4)
        assert one["notices"] == list(prediction.notices)

    def test_every_area_stage_and_tone(self, prediction: Prediction) -> None:
        [one] = parsed(prediction)["predictions"]
        for said, area in zip(one["areas"], prediction.areas, strict=True):
            assert said["name"] == area.name
            assert said["shade_axis"] == "pre-shade L*"
            assert said["shade"] == pytest.approx(area.shade, abs=1e-3)
            for i, (stage, known) in enumerate(zip(said["stages"], area.stages, strict=True)):
                assert (stage["name"], stage["recipe"]) == (known.name, known.recipe)
                assert len(stage["tones"]) == 3
                for tone, values in enumerate(stage["tones"]):
                    assert len(values["reflectance"]) == 31
                    for key, expected, digits in (
                        ("reflectance", area.reflectance, 1e-6),
                        ("xyz", area.xyz, 1e-4),
                        ("lab", area.lab, 1e-3),
                        ("lab_low", area.lab_low, 1e-3),
                        ("lab_high", area.lab_high, 1e-3),
                        ("delta_e_2000_within", area.reach, 1e-3),
                        ("mottle_delta_e_2000", area.mottle, 1e-3),
                        ("sheen", area.sheen, 1e-4),
                    ):
                        assert values[key] == pytest.approx(expected[i, tone], abs=0.51 * digits), key
                    shown = colour.on_screen(area.xyz[i, tone], prediction.viewing.white)
                    assert values["srgb"] == colour.hex_of(shown.rgb)
                    assert values["on_screen"] is bool(shown.shown) is True

    def test_filter_targets_and_doubts(self, prediction: Prediction) -> None:
        [one] = parsed(prediction)["predictions"]
        cloth, strap = one["areas"]
        area = prediction.areas[0]
        assert (cloth["filter"]["before"], cloth["filter"]["after"]) == ("light", "filter")
        assert cloth["filter"]["delta_e_2000"] == pytest.approx(area.filter_shift(), abs=1e-3)
        assert cloth["targets"]["shadow"]["tone"] == 0
        assert cloth["targets"]["light"]["lab"] == [60.0, 5.0, -10.0]
        assert cloth["targets"]["light"]["delta_e_2000"] == pytest.approx(
            area.target_misses()["light"][2], abs=1e-3
        )
        assert [doubt["what"] for doubt in cloth["doubts"]] == [cause.what for cause in area.causes]
        assert (strap["filter"], strap["targets"]) == (None, {})

    def test_one_entry_a_light(self, rig: Scheme) -> None:
        views = [colour.Viewing("A"), colour.Viewing("D65", "10")]
        content = parsed(*(simulate(rig, tones=2, draws=0, viewing=view) for view in views))
        assert [(p["light"], p["observer_degrees"]) for p in content["predictions"]] == [
            ("A", 2),
            ("D65", 10),
        ]


class TestHard:
    def test_what_no_screen_shows_is_flagged(self, prediction: Prediction) -> None:
        area = prediction.areas[0]
        xyz = area.xyz.copy()
        xyz[0, 0] = colour.xyz_from_lab([50.0, -120.0, 20.0], prediction.viewing.white)
        made = dataclasses.replace(prediction, areas=(dataclasses.replace(area, xyz=xyz),))
        tones = parsed(made)["predictions"][0]["areas"][0]["stages"][0]["tones"]
        assert [tone["on_screen"] for tone in tones] == [False, True, True]

    def test_no_zero_is_negative(self, rig: Scheme) -> None:
        grey = dataclasses.replace(rig.areas[1], coats=())
        text = predictions_json([simulate(dataclasses.replace(rig, areas=(grey,)), draws=0)])
        assert "-0.0" not in text.replace("-0.00", "")

    def test_letters_stay_letters(self, rig: Scheme) -> None:
        text = predictions_json([simulate(dataclasses.replace(rig, name='Grün "µ" 漆'), tones=2, draws=0)])
        assert 'Grün \\"µ\\" 漆' in text
        assert text.endswith("\n")

    def test_it_is_the_same_every_time(self, rig: Scheme) -> None:
        one, two = (predictions_json([simulate(rig, tones=2, draws=4)]) for _ in range(2))
        assert one == two

    def test_no_precision_is_pretended(self, prediction: Prediction) -> None:
        tone = parsed(prediction)["predictions"][0]["areas"][0]["stages"][2]["tones"][1]
        assert all(len(str(value).split(".")[1]) <= 3 for value in tone["lab"])
        assert np.isfinite(tone["reflectance"]).all()
