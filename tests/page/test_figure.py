"""What the page is sent of a model, and what it is refused."""

from __future__ import annotations

import io
import shlex
from typing import Any

import numpy as np
import pytest
from PIL import Image

from layersim.cli import main
from layersim.resources import data_folder
from layersim.scheme.records import GreysGiven

from .asking import Asking, asking

__all__ = ["asking"]
MODEL = (data_folder() / "examples" / "lamplighter.jpg").read_bytes()
COAT = [[30.0, 58.0], [44.0, 58.0], [60.0, 92.0], [14.0, 92.0]]


@pytest.fixture
def asked(asking: Asking) -> dict[str, Any]:
    """A question that can be answered."""
    name = asking.post("/api/upload/chip?name=model.jpg", MODEL)["id"]
    greys = [{"x": 11.0, "y": 88.0}]
    return {"id": name, "greys": greys, "places": {"wax cloth": COAT}, "stage": "finished"}


def picture(asking: Asking, asked: dict[str, Any]) -> np.ndarray:
    answer = asking.client.post("/api/figure", json=asked)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "image/jpeg"
    return np.asarray(Image.open(io.BytesIO(answer.content))).astype(float)


def test_stages_differ_where_the_area_is_and_nowhere_else(asking: Asking, asked: dict[str, Any]) -> None:
    each = [
        picture(asking, {**asked, "stage": stage})
        for stage in ("photograph", "before the filter", "finished")
    ]
    height, width = each[0].shape[:2]
    assert max(height, width) == 900
    at = int(0.8 * height), int(0.3 * width)
    assert np.abs(each[0] - each[2])[at].max() > 20
    assert np.abs(each[1] - each[2])[at].max() > 5
    assert np.abs(each[0] - each[2])[: int(0.5 * height)].max() < 12  # JPEG's own


def test_a_change_that_is_only_tried_is_seen(asking: Asking, asked: dict[str, Any]) -> None:
    revision = asking.get("/api/scheme")["revision"]
    edit = {"do": "set", "at": ["area", 0, "coat", 0, "coats"], "value": 8}
    tried = picture(asking, {**asked, "edits": [edit], "revision": revision})
    assert np.abs(tried - picture(asking, asked)).max() > 10
    assert asking.get("/api/scheme")["revision"] == revision
    words = asking.post("/api/figure/words", asked)
    assert words["areas"][0]["words"].startswith("wax cloth: ")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"id": "../etc"}, "not kept any more"),
        ({"stage": "<b>"}, "stage: expected one of"),
        ({"places": {}}, "paint an area"),
        ({"places": {"wax cloth": [[1, 2], [3, 4]]}}, "paint an area"),
        ({"places": {"wax cloth": [[1, 2], [3, 4], [5, 1e9]]}}, "expected 3 to"),
        ({"places": {"wax cloth": [[1, 2], [3, 4], "x"]}}, "expected 3 to"),
        ({"places": {"wax cloth": [[0.0, 0.0]] * 5000}}, "expected 3 to"),
        ({"places": 5}, "places: expected"),
        ({"strokes": [{"area": "wax cloth", "points": [], "wide": 2}]}, "strokes: expected 1 to"),
        ({"strokes": [{"area": "wax cloth", "points": [[1, 1e9]], "wide": 2}]}, "strokes: expected 1 to"),
        ({"strokes": [{"area": "wax cloth", "points": [[1, 1]], "wide": 1e9}]}, "wide: expected"),
        ({"strokes": [{}] * 5000}, "strokes: expected at most"),
        ({"strokes": 5}, "strokes: expected"),
        ({"greys": [{"x": 500, "y": 0}]}, "x: expected a number"),
        ({"lamp": "sun"}, 'no lamp "sun"'),
        ({"stretch": "yes"}, "stretch: expected true or false"),
    ],
)
def test_what_it_refuses(asking: Asking, asked: dict[str, Any], wrong: dict[str, Any], said: str) -> None:
    assert said in asking.refused("POST", "/api/figure", asked | wrong)


BODY = {"area": "wax cloth", "points": [[50.0, 40.0], [50.0, 90.0]], "wide": 2.0}


def test_a_stroke_grows_and_what_is_taken_away_goes(asking: Asking, asked: dict[str, Any]) -> None:
    painted = asked | {"places": {}, "strokes": [BODY, {"area": "gone", "points": [[5, 5]], "wide": 2}]}
    (lines,) = asking.post("/api/figure/areas", painted)["outlines"].values()
    ends = np.concatenate([np.array(line) for line in lines])
    assert ends[:, 0].max() - ends[:, 0].min() > 30  # a stroke 2 wide
    assert (
        np.abs(
            picture(asking, painted)[800, 337] - picture(asking, asked | {"stage": "photograph"})[800, 337]
        ).max()
        > 20
    )
    away = BODY | {"area": None}
    assert asking.post("/api/figure/areas", painted | {"strokes": [BODY, away]})["outlines"] == {}


def test_masks_are_written_beside_the_scheme_and_the_command_takes_them(
    asking: Asking, asked: dict[str, Any], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    painted = asked | {"strokes": [BODY]}
    assert "in no file yet" in asking.refused("POST", "/api/figure/masks", painted)
    asking.post("/api/save", {"as": "my.toml"})
    got = asking.post("/api/figure/masks", painted)
    assert got["written"]
    folder = asking.app.state.folder
    assert {path.name for path in folder.iterdir()} == {"my.toml", "my-wax-cloth.png"}
    # Others that are there already are not written over unasked.
    again = asking.post("/api/figure/masks", painted | {"strokes": []})
    assert not again["written"]
    assert "my-wax-cloth.png: there already" in again["words"]
    assert asking.post("/api/figure/masks", painted | {"strokes": [], "replace": True})["written"]
    monkeypatch.chdir(folder)
    (folder / "model.jpg").write_bytes(MODEL)
    words = shlex.split(got["command"])
    assert words[:4] == ["layersim", "figure", "my.toml", "model.jpg"]
    assert main([*words[1:], "--no-picture"]) == 0
    assert "wax cloth:" in capsys.readouterr().out


def test_greys_that_were_seen_are_changes_that_the_page_can_make(
    asking: Asking, asked: dict[str, Any]
) -> None:
    (area,) = asking.post("/api/figure/words", asked)["areas"]
    revision = asking.get("/api/scheme")["revision"]
    change = {"edits": area["edits"], "what": area["what"], "revision": revision}
    asking.post("/api/edit", change)
    scheme = asking.app.state.desk.scheme()
    assert isinstance(scheme["wax cloth"].preshade, GreysGiven)
    assert scheme.hand.greys >= 2.0
    (area,) = asking.post("/api/figure/words", asked)["areas"]
    assert "edits" not in area
    assert asking.post("/api/undo", {})["redo"] == "greys of wax cloth off a photograph"
