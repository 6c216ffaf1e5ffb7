"""A chip read off a photograph on the page: what the command line reads, with its range."""

from __future__ import annotations

from typing import Any

import pytest

from layersim.fitting.chip import Grey, read_reference, spot_seen
from layersim.resources import data_folder

from . import pictures
from .asking import Asking, asking

__all__ = ["asking"]
CARD = data_folder() / "examples" / "teal-card.jpg"
UPLOAD = "/api/upload/chip?name=chip.jpg"


@pytest.fixture
def found(asking: Asking) -> str:
    name: str = asking.post(UPLOAD, CARD.read_bytes())["id"]
    return name


def test_beside_a_chart_it_is_what_the_plain_function_reads(asking: Asking, found: str) -> None:
    told = asking.post("/api/chip", {"id": found, "x": 62, "y": 31})
    spot = spot_seen(read_reference(CARD), (62.0, 31.0))
    assert told["lab"] == pytest.approx(spot.lab, abs=0.01)
    assert told["doubt"] == pytest.approx(spot.doubt, abs=0.01)


def test_beside_a_grey_card(asking: Asking, found: str) -> None:
    greys = [{"x": 43, "y": 37.5, "reflects": 0.18}]
    told = asking.post("/api/chip", {"id": found, "x": 62, "y": 31, "lamp": "A", "greys": greys})
    assert told["lamp"] == "A"
    reference = read_reference(CARD, greys=[Grey((43.0, 37.5), 0.18)])
    assert told["doubt"] > spot_seen(read_reference(CARD), (62.0, 31.0)).doubt
    assert told["words"][1 : len(reference.notes) + 1] == [f"chip.jpg: {note}" for note in reference.notes]


@pytest.mark.parametrize(
    "more",
    [
        {"x": 200},
        {"y": "3"},
        {"size": 0},
        {"lamp": "D66"},
        {"greys": [{"x": 1}]},
        {"greys": "grey"},
        {"greys": [{"x": 1, "y": 1, "reflects": 0}]},
        {"id": "nobody"},
    ],
)
def test_what_points_nowhere_is_refused(asking: Asking, found: str, more: dict[str, Any]) -> None:
    words = asking.refused("POST", "/api/chip", {"id": found, "x": 50, "y": 50, **more})
    assert "layersim-page-" not in words


@pytest.mark.parametrize("what", list(pictures.HOSTILE))
def test_what_is_no_photograph_is_told_and_nothing_stays(asking: Asking, what: str) -> None:
    assert "layersim-page-" not in asking.refused("POST", UPLOAD, pictures.HOSTILE[what])
    uploads = asking.app.state.uploads
    assert uploads._folder is None or not list(uploads._folder.iterdir())


def test_the_picture_is_shown_small(asking: Asking, found: str) -> None:
    assert asking.client.get(f"/api/chip/{found}/picture").content.startswith(b"\xff\xd8")
