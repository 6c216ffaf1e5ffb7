"""A comparison as JSON: strict, whole, and equal to what was compared."""

from __future__ import annotations

import json
from typing import Any

import pytest

import layersim
from layersim import colour
from layersim.decide.choices import choices
from layersim.decide.compare import Comparison, compare, difference_words
from layersim.render.comparisonjson import comparison_json


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    texts = "bone: highlight = 4 bone : 1 sky blue", "bare: without filter", "lamp: light = LED-B3"
    chosen = choices(layersim.demo_scheme(), *texts, areas=["wax cloth"])
    return compare(chosen, tones=5, areas=["wax cloth", "straps"], draws=8, lights=["A"])


@pytest.fixture(scope="module")
def content(comparison: Comparison) -> dict[str, Any]:
    read = json.loads(comparison_json(comparison))
    assert isinstance(read, dict)
    return read


def test_head(content: dict[str, Any], comparison: Comparison) -> None:
    assert content["format"] == "layersim comparison 1"
    assert content["range_holds"] == 0.9
    assert [one["letter"] for one in content["choices"]] == ["A", "B", "C", "D"]
    assert [one["name"] for one in content["choices"]] == ["as written", "bone", "bare", "lamp"]
    assert [one["light"] for one in content["choices"]] == ["D65", "D65", "D65", "LED-B3"]
    assert content["choices"][2]["changes"] == list(comparison.choices[2].changes)
    assert content["same_in_every_choice"] == list(comparison.same)
    assert content["notices"] == list(comparison.notices)


def test_every_choices_stages_and_tones(content: dict[str, Any], comparison: Comparison) -> None:
    for said, area in zip(content["areas"], comparison.areas, strict=True):
        assert said["name"] == area.name
        for one, choice, known in zip(said["choices"], comparison.choices, area.choices, strict=True):
            white = choice.scheme.viewing.white
            assert one["shade"] == pytest.approx(known.area.shade, abs=1e-3)
            assert one["repeat_delta_e_2000"] == pytest.approx(known.repeat, abs=1e-3)
            assert [stage["name"] for stage in one["stages"]] == [s.name for s in known.area.stages]
            for i, stage in enumerate(one["stages"]):
                for tone, values in enumerate(stage["tones"]):
                    assert values["lab"] == pytest.approx(known.area.lab[i, tone], abs=1e-3)
                    assert values["reflectance"] == pytest.approx(known.area.reflectance[i, tone], abs=1e-6)
                    shown = colour.on_screen(known.area.xyz[i, tone], white)
                    assert values["srgb"] == colour.hex_of(shown.rgb)


def test_a_stage_left_out_is_in_the_other_choices_only(content: dict[str, Any]) -> None:
    stages = {stage["name"]: stage["in_choices"] for stage in content["areas"][0]["stages"]}
    assert stages["filter"] == ["A", "B", "D"]
    assert stages["base"] == ["A", "B", "C", "D"]


def test_differences_are_those_of_the_comparison(content: dict[str, Any], comparison: Comparison) -> None:
    for said, area in zip(content["areas"], comparison.areas, strict=True):
        assert [(one["first"], one["second"]) for one in said["differences"]] == [
            ("A", "B"),
            ("A", "C"),
            ("A", "D"),
        ]
        for one, known in zip(said["differences"], area.differences, strict=True):
            assert one["delta_e_2000"] == pytest.approx(known.delta_e, abs=1e-3)
            assert [pair[0] for pair in one["within"]] == pytest.approx(known.low, abs=1e-3)
            assert [pair[1] for pair in one["within"]] == pytest.approx(known.high, abs=1e-3)
            assert [p[0] for p in one["within_if_hands_differ"]] == pytest.approx(known.apart_low, abs=1e-3)
            assert one["happens_anyway_delta_e_2000"] == pytest.approx(known.own, abs=1e-3)
            assert one["matters"] == known.matters.tolist()
            assert one["change_lch"][1] == pytest.approx(known.change[1], abs=1e-3)
            assert one["delta_e_2000_under"].keys() == {"A"}
            assert one["in_words"] == difference_words(area, known)
            before = one["before_filter_delta_e_2000"]
            if known.before_delta_e is None:
                assert before is None
            else:
                assert before == pytest.approx(known.before_delta_e, abs=1e-3)


def test_no_zero_is_negative(comparison: Comparison) -> None:
    assert not [line for line in comparison_json(comparison).splitlines() if line.strip(" ,") == "-0.0"]
