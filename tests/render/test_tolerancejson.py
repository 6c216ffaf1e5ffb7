"""How forgiving a scheme is as JSON: strict, whole, and equal to what was worked out."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

import layersim
from layersim.decide.tolerance import Tolerance, batch_words, tolerance
from layersim.render.tolerancejson import tolerance_json
from layersim.scheme.reading import load_scheme


@pytest.fixture(scope="module")
def result() -> Tolerance:
    return tolerance(load_scheme(layersim.demo_scheme()), areas=["straps"], models=4, batches=80, seed=3)


@pytest.fixture(scope="module")
def content(result: Tolerance) -> dict[str, Any]:
    read = json.loads(tolerance_json(result, notices=["mind the gap"]))
    assert isinstance(read, dict)
    return read


def test_head(content: dict[str, Any], result: Tolerance) -> None:
    assert content["format"] == "layersim tolerance 1"
    assert [content[key] for key in ("models", "batches", "seed")] == [4, 80, 3]
    assert content["visible_delta_e_2000"] == result.visible
    assert content["chance_of_a_visible_pair"] == pytest.approx(result.chance, abs=1e-5)
    assert content["hand"]["film"] == result.scheme.hand.film
    assert content["notices"] == ["mind the gap"]


def test_every_slip_in_order(content: dict[str, Any], result: Tolerance) -> None:
    [said], [area] = content["areas"], result.areas
    assert said["name"] == "straps"
    assert np.array(said["finish_lab"]) == pytest.approx(area.lab, abs=1e-3)
    assert len(said["slips"]) == len(area.slips) > 10
    for one, slip in zip(said["slips"], area.slips, strict=True):
        assert (one["step"], one["kind"], one["what"]) == (slip.step, slip.kind, slip.what)
        assert one["mean_delta_e_2000"] == pytest.approx(slip.delta_e, abs=1e-3)
        assert one["largest_delta_e_2000"] == pytest.approx(slip.most, abs=1e-3)
        assert one["other_way_mean_delta_e_2000"] == pytest.approx(slip.other, abs=1e-3)
        assert one["lightness_change"] == pytest.approx(slip.darker, abs=1e-3)


def test_the_batch(content: dict[str, Any], result: Tolerance) -> None:
    [said], [area] = content["areas"], result.areas
    pair = said["worst_pair"]
    for one in pair["delta_e_2000_below"]:
        assert (area.worst <= one["delta_e_2000"] + 1e-3).mean() >= one["share"]
        assert (area.worst < one["delta_e_2000"] - 1e-3).mean() <= one["share"]
    assert pair["delta_e_2000_below"][2]["delta_e_2000"] == pytest.approx(area.typical, abs=1e-3)
    assert sum(pair["most_on_tone"]) == pytest.approx(1.0, abs=1e-3)
    assert pair["chance_visible"] == pytest.approx(area.chance, abs=1e-5)
    assert [one["habit"] for one in said["habits"]] == [gain.habit for gain in area.gains]
    assert said["habits"][0]["worst_pair_delta_e_2000"] == pytest.approx(area.gains[0].typical, abs=1e-3)
    assert list(said["fit_error"].values()) == pytest.approx(area.fit_error, abs=1e-3)
    assert said["in_words"] == batch_words(area, 4, result.visible)
