"""A chip read off a photograph on the page: what the command line reads, with its range."""

from __future__ import annotations

from typing import Any

import pytest

from layersim.cli import main
from layersim.fitting.chip import Grey, read_reference, spot_seen
from layersim.resources import data_folder
from layersim.scheme.records import GreysGiven

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


SHADOW, LIGHT = {"x": 53.8, "y": 38.7}, {"x": 31.0, "y": 37.5}


def greys_asked(found: str, **more: Any) -> dict[str, Any]:
    return {"shadow": {"id": found, **SHADOW}, "light": {"id": found, **LIGHT}, "area": 0, **more}


def test_greys_are_the_command_lines_and_one_step_to_write(
    asking: Asking, found: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["greys", str(CARD), "--shadow", "53.8,38.7", "--light", "31,37.5"]) == 0
    printed = capsys.readouterr().out
    told = asking.post("/api/greys", greys_asked(found))
    before = asking.app.state.desk.text

    asking.post("/api/edit", {"edits": told["edits"], "what": told["what"]})
    scheme = asking.app.state.desk.scheme()
    preshade = scheme.areas[0].preshade
    assert isinstance(preshade, GreysGiven)
    assert f"greys = [{preshade.darkest:.0f}, {preshade.lightest:.0f}]   # each ± " in printed
    assert told["title"].endswith(printed.partition("# each ")[2].partition(",")[0])
    assert "[hand]\ngreys = " in printed
    asking.post("/api/undo", {})
    assert asking.app.state.desk.text == before


def test_greys_that_are_surer_do_not_narrow_those_of_other_areas(asking: Asking, found: str) -> None:
    given = [isinstance(area.preshade, GreysGiven) for area in asking.app.state.desk.scheme().areas]
    assert any(given[1:])
    edit = {"do": "set", "at": ["hand", "greys"], "value": 9}
    asking.post("/api/edit", {"edits": [edit], "what": "rough greys"})
    [_, hand] = asking.post("/api/greys", greys_asked(found))["edits"]
    assert hand["value"] == 9.0
    only = given.index(True)
    [_, hand] = asking.post("/api/greys", greys_asked(found, area=only))["edits"]
    assert hand["value"] < 9.0 if sum(given) == 1 else hand["value"] == 9.0


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"area": 99}, "not there any more"),
        ({"area": "0"}, "area: expected a number"),
        ({"shadow": None}, "shadow: expected where it is"),
        ({"light": [1, 2]}, "light: expected where it is"),
        ({"light": {"id": "nobody", **LIGHT}}, "drop it again"),
    ],
)
def test_greys_that_lie_nowhere_are_refused(asking: Asking, found: str, more: Any, says: str) -> None:
    assert says in asking.refused("POST", "/api/greys", greys_asked(found, **more))
    turned = {"shadow": {"id": found, **LIGHT}, "light": {"id": found, **SHADOW}, "area": 0}
    assert "the other way round" in asking.refused("POST", "/api/greys", turned)


@pytest.mark.parametrize("what", list(pictures.HOSTILE))
def test_what_is_no_photograph_is_told_and_nothing_stays(asking: Asking, what: str) -> None:
    assert "layersim-page-" not in asking.refused("POST", UPLOAD, pictures.HOSTILE[what])
    uploads = asking.app.state.uploads
    assert uploads._folder is None or not list(uploads._folder.iterdir())


def test_the_picture_is_shown_small(asking: Asking, found: str) -> None:
    assert asking.client.get(f"/api/chip/{found}/picture").content.startswith(b"\xff\xd8")
