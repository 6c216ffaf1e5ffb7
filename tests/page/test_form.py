"""What the page is sent of a form in space, and what it is refused; and what draws it there."""

from __future__ import annotations

import hashlib
import time
from typing import Any

import numpy as np
import pytest

from data.generate import webgl_library
from layersim.colour import LIGHTS, Viewing
from layersim.page import form as page
from tests.page.asking import Asking, asking

coloraide = pytest.importorskip("coloraide")
trimesh = pytest.importorskip("trimesh")
pytest.importorskip("embreex")

__all__ = ["asking"]
FILTER = {"do": "set", "at": ["area", 0, "coat", 0, "coats"], "value": 8}


@pytest.fixture
def ball(asking: Asking) -> dict[str, Any]:
    """A question that can be answered: the plain ball, all of it the demo's first area."""
    form = asking.worked(asking.post("/api/form", {"form": "ball"})["work"])
    assert form["areas"] == {"ball": "wax cloth"}
    return {"id": form["id"], "areas": form["areas"], "stage": "finished"}


def colours(asking: Asking, asked: dict[str, Any]) -> np.ndarray:
    answer = asking.client.post("/api/form/colours", json=asked)
    assert answer.status_code == 200, answer.text
    return np.frombuffer(answer.content, np.uint8).reshape(-1, 4)


def form_of(asking: Asking, name: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places, shares of the dome and triangles, read as the page reads them."""
    raw = asking.client.get(f"/api/form/{name}/points").content
    points, faces = np.frombuffer(raw, "<u4", 2)
    assert len(raw) == 8 + 28 * points + 12 * faces
    places = np.frombuffer(raw, "<f4", 3 * points, 8).reshape(-1, 3)
    sky = np.frombuffer(raw, "<f4", points, 8 + 24 * points)
    return places, sky, np.frombuffer(raw, "<u4", 3 * faces, 8 + 28 * points).reshape(-1, 3)


def srgb(lab: list[float]) -> np.ndarray:
    """Return 8 bits of sRGB of a colour under D65, by coloraide."""
    colour = coloraide.Color("lab-d65", lab).convert("srgb").clip()
    return np.array(colour.coords()) * 255.0


def test_the_ball_has_the_strips_ends(asking: Asking, ball: dict[str, Any]) -> None:
    """White is fullest on its top, and none of it reaches its underside."""
    places, sky, faces = form_of(asking, ball["id"])
    painted = colours(asking, ball)
    assert len(painted) == len(places)
    assert faces.max() == len(places) - 1
    assert sky.min() > 0.95  # nothing is in its own way
    strip = asking.post("/api/colours", {"edits": [], "tones": 33})["areas"][0]["stages"][-1]["lab"]
    top, bottom = places[:, 1].argmax(), places[:, 1].argmin()
    assert painted[top, :3] == pytest.approx(srgb(strip[-1]), abs=3)
    assert painted[bottom, :3] == pytest.approx(srgb(strip[0]), abs=3)


def test_a_change_that_is_only_tried_is_seen_at_once(asking: Asking, ball: dict[str, Any]) -> None:
    before = colours(asking, ball).astype(int)
    revision = asking.get("/api/scheme")["revision"]
    tried = {**ball, "edits": [FILTER], "revision": revision}
    assert np.abs(colours(asking, tried) - before).max() > 10
    assert asking.get("/api/scheme")["revision"] == revision
    assert (colours(asking, ball) == before).all()


def test_stages_and_lamps_differ(asking: Asking, ball: dict[str, Any]) -> None:
    stages = asking.get("/api/forms")["stages"]
    each = [colours(asking, {**ball, "stage": stage}).astype(int) for stage in stages]
    each.append(colours(asking, {**ball, "lamp": "A"}).astype(int))
    for i, one in enumerate(each):
        assert all(np.abs(one - other).max() > 5 for other in each[:i])
    assert np.ptp(each[0][:, :3], axis=1).max() < 25  # preshaded it is grey


def test_it_is_seen_from_four_sides_where_there_is_no_space(asking: Asking, ball: dict[str, Any]) -> None:
    answer = asking.client.post("/api/form/picture", json=ball)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "image/png"


def test_white_from_the_front_and_ones_own_mesh(asking: Asking) -> None:
    """A plate that stands upright: white from in front of it lands on its front, and from behind on its back.

    Its front is looked for where the painter says it is: here half a turn round.
    """
    plate = trimesh.creation.box((1.0, 0.2, 1.0))
    for _ in range(3):
        plate = plate.subdivide()
    raw = plate.export(file_type="stl")
    kept = asking.post("/api/upload/form?name=../plate.stl", raw)
    assert kept["name"] == "plate.stl"
    full = {}
    for white, front in (("front", 0), ("behind", 0), ("front", 180)):
        asked = {"mesh": kept["id"], "white": [white], "front": front}
        form = asking.worked(asking.post("/api/form", asked)["work"])
        places, _, _ = form_of(asking, form["id"])
        painted = colours(asking, {"id": form["id"], "areas": form["areas"], "stage": "preshaded"})
        middle = np.flatnonzero(np.abs(places[:, :2]).max(axis=1) < 0.05)
        full[white, front] = {places[i, 2] > 0: int(painted[i, 1]) for i in middle}
    assert full["front", 0][True] > full["front", 0][False] + 50
    assert full["behind", 0][False] > full["behind", 0][True] + 50
    assert full["front", 180] == pytest.approx(full["front", 0], abs=2)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"id": "../etc"}, "not kept any more"),
        ({"stage": "<b>"}, "stage: expected one of"),
        ({"areas": {}}, "say of one part"),
        ({"areas": {"ball": "no such area"}}, "say of one part"),
        ({"areas": [1]}, "areas: expected"),
        ({"lamp": "sun"}, 'no lamp "sun"'),
    ],
)
def test_what_it_refuses(asking: Asking, ball: dict[str, Any], wrong: dict[str, Any], said: str) -> None:
    assert said in asking.refused("POST", "/api/form/colours", ball | wrong)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"form": "../ball"}, "no form"),
        ({"mesh": "../ball"}, "not kept any more"),
        ({"form": "ball", "white": ["everywhere"]}, "white: expected some of"),
        ({"form": "ball", "white": []}, "from where white comes"),
        ({"form": "ball", "white": [["above"]]}, "white: expected some of"),
        ({"form": "ball", "up": ["z"]}, "y or z up"),
        ({"form": "ball", "front": "left"}, "front: expected a number"),
        ({}, "mesh: found no text"),
    ],
)
def test_what_it_does_not_spray(asking: Asking, asked: dict[str, Any], said: str) -> None:
    assert said in asking.refused("POST", "/api/form", asked)


@pytest.mark.parametrize(
    ("name", "raw", "said"),
    [
        ("model.stl", b"solid but not a mesh", "model.stl: found no triangles"),
        ("model.blend", b"something", "expected one of stl, obj"),
    ],
)
def test_a_file_that_is_no_mesh_is_named_as_the_painter_does(
    asking: Asking, name: str, raw: bytes, said: str
) -> None:
    kept = asking.post(f"/api/upload/form?name={name}", raw)
    work = asking.post("/api/form", {"mesh": kept["id"]})["work"]
    while (told := asking.get(f"/api/work/{work}"))["state"] in ("waiting", "running"):
        time.sleep(0.05)
    assert said in told["error"]
    assert told["error"].startswith(name)


@pytest.mark.parametrize("name", webgl_library.SHA256)
def test_what_draws_in_space_is_as_its_authors_published_it(name: str) -> None:
    """SHA-256 of the npm registry's package three, of the version that stands beside."""
    raw = webgl_library.kept(name).read_bytes()
    assert hashlib.sha256(raw).hexdigest() == webgl_library.SHA256[name]
    assert name != "LICENSE" or b"Permission is hereby granted, free of charge" in raw


def test_of_an_area_few_looks_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """A form of a million triangles takes some 30 MB each."""
    painted = page._Painted.__new__(page._Painted)
    painted._known = page.Memory(page.MOST_LOOKS)
    monkeypatch.setattr(page.PaintedArea, "colours", lambda *asked: np.zeros((1, 3)))
    first = painted.colours(Viewing(), 0)
    assert painted.colours(Viewing(), 0) is first
    for light in LIGHTS:
        painted.colours(Viewing(light), 1)
    assert painted.colours(Viewing(), 0) is not first
