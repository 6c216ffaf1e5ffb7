"""Local tone mapping is told from bare paper, and from nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layersim.measure.card import standard_card
from layersim.measure.cardreading import place_card
from layersim.measure.localtone import LIFTED
from layersim.measure.patches import read_light
from layersim.measure.photograph import read_photograph
from tests.measure import camera as cam

CARD = standard_card()
GROUNDS = {"black": np.full(31, 0.04), "white": np.full(31, 0.8)}
SHOT = cam.Shot(camera="A", light="A", developed="maker", width_px=900, height_px=1200, oversample=1)


def found(folder: Path, shot: cam.Shot, *, quality: int = 90, **scene: Any) -> float:
    frame = cam.photograph(CARD, {}, GROUNDS, shot, **scene)
    photograph = read_photograph(cam.save_jpeg(folder / "card.jpg", frame, quality=quality))
    return read_light(photograph, place_card(photograph, CARD), CARD.whole, CARD.surround).lifted


@pytest.mark.parametrize(
    "shot",
    [
        {},
        {"falloff": 0.0},
        {"falloff": 0.5},
        {"turn_deg": 90},
        {"turn_deg": 10, "tilt": 0.1},
        {"camera": "B", "light": "D65"},
        {"exposure": 0.4},
        {"flare": 0.05},
        {"curve": "contrast"},
        {"curve": "linear"},
        {"look": "phone 1"},
        {"look": "phone 3"},
    ],
    ids=str,
)
def test_paper_without_local_tone_mapping_is_called_plain_whatever_the_light(
    tmp_path: Path, shot: dict[str, Any]
) -> None:
    assert found(tmp_path, SHOT.but(**shot)) == 0.0


@pytest.mark.parametrize(
    "shot", [{}, {"falloff": 0.5}, {"turn_deg": 180}, {"camera": "C"}, {"flare": 0.05}], ids=str
)
def test_paper_that_is_lighter_beside_black_is_told(tmp_path: Path, shot: dict[str, Any]) -> None:
    assert LIFTED < found(tmp_path, SHOT.but(look="local", **shot)) < 0.10


@pytest.mark.parametrize("scene", [{"shadow": [0, 0, 60, 100]}, {"glare": [100, 0, 60, 60]}], ids=str)
def test_a_shadow_and_glare_are_not_taken_for_it(tmp_path: Path, scene: dict[str, Any]) -> None:
    assert found(tmp_path, SHOT, **scene) == 0.0


def test_the_blocks_of_a_strongly_compressed_picture_are_not_taken_for_it(tmp_path: Path) -> None:
    assert found(tmp_path, SHOT, quality=30) == 0.0
