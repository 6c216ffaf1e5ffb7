"""The batch on the page: as the command line has it, with ticks and a log beside the scheme."""

from __future__ import annotations

import html
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from layersim.page.ticks import MOST_TICKS, read_ticks, ticks_path
from layersim.plan.quantities import quantities
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.views.quantities import view
from layersim.writers.html import content
from tests.page.asking import Asking, asking

__all__ = ["asking"]


@pytest.fixture
def kept(asking: Asking) -> Path:
    """The demo, kept in a file of the page's folder."""
    asking.post("/api/save", {"as": "mine.toml"})
    return Path(asking.app.state.folder) / "mine.toml"


def worked(asking: Asking, **asked: Any) -> Any:
    return asking.worked(asking.post("/api/batch", asked)["work"])


def test_quantities_are_the_command_lines(asking: Asking) -> None:
    found = quantities(load_scheme(demo_scheme()))
    assert worked(asking, what="quantities")["html"] == content(view(found, typed=False))


def test_no_hint_is_a_command_to_type(asking: Asking, kept: Path) -> None:
    """Whoever has the page before them presses its buttons."""
    assert "layersim " not in worked(asking, what="log")["html"]
    entry = {"area": "wax cloth", "step": "base", "coats": 9, "chips": {"mid": "90,0,0"}}
    asking.post("/api/log", entry)
    said = " ".join(asking.post("/api/log", entry)["words"])
    assert '"Take the last entry back"' in said
    asking.post("/api/log", {**entry, "chips": {"mid": "35,2,-26"}})
    for words in (said, *(worked(asking, what=what)["html"] for what in ("order", "log", "learn"))):
        assert "layersim " not in words
        assert " --" not in words


def test_the_card_has_its_cautions_boxes_and_files(asking: Asking) -> None:
    found = worked(asking, what="card", models=3)
    text = html.unescape(re.sub("<.*?>", "", found["html"]))
    assert "mist" in text
    assert "Bench card for 3 models" in text
    assert found["html"].count('type="checkbox"') > 5
    assert all(f'data-area="{area.name}"' in found["html"] for area in load_scheme(demo_scheme()).areas)
    assert asking.client.get("/api/card/pdf").content.startswith(b"%PDF")
    assert b"<!DOCTYPE html>" in asking.client.get("/api/card/page").content
    assert asking.refused("GET", "/api/card/other")


def test_ticks_lie_beside_the_scheme(asking: Asking, kept: Path) -> None:
    boxes = ["wax cloth, base, coat 1", "straps, base, coat 1"]
    for box in boxes:
        asking.post("/api/ticks", {"boxes": [box], "on": True})
    assert read_ticks(ticks_path(kept)) == boxes
    asking.post("/api/ticks", {"boxes": boxes[:1], "on": False})
    assert asking.get("/api/ticks") == {"ticked": boxes[1:], "file": "mine.ticks.txt"}
    assert asking.post("/api/ticks", {"clear": True})["ticked"] == []


def test_ticks_of_a_scheme_without_a_file_are_kept_while_the_page_runs(asking: Asking) -> None:
    asking.post("/api/ticks", {"boxes": ["a box"], "on": True})
    assert asking.get("/api/ticks") == {"ticked": ["a box"], "file": None}
    assert not list(Path(asking.app.state.folder).iterdir())


@pytest.mark.parametrize("box", ["", "two\nlines", "# a remark", "long" * 100, "\x00"])
def test_a_box_that_is_none_is_refused(asking: Asking, kept: Path, box: str) -> None:
    asking.refused("POST", "/api/ticks", {"boxes": [box], "on": True})
    assert not ticks_path(kept).exists()


def test_there_are_not_more_ticks_than_can_be(asking: Asking, kept: Path) -> None:
    many = [f"box {i}" for i in range(MOST_TICKS + 1)]
    assert "more than" in asking.refused("POST", "/api/ticks", {"boxes": many, "on": True})


def test_what_was_sprayed_can_be_read_by_the_command_line(asking: Asking, kept: Path) -> None:
    asked = {
        "area": "wax cloth", "step": "base", "coats": 2, "note": "a  little wet",
        "drops": {"navy blue": 5, "thinner": 9}, "chips": {"mid": "31.5, 2, -18.2"},
    }  # fmt: skip
    said = asking.post("/api/log", asked)["words"]
    assert "2 coats" in said[0]
    shown = subprocess.run(
        [sys.executable, "-m", "layersim", "log", str(kept), "show"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "2 coats" in shown
    assert "a little wet" in shown
    assert "31.5 2.0 -18.2" in shown
    assert "31.5 2.0 -18.2" in worked(asking, what="log")["html"]
    assert "From one chip" in worked(asking, what="learn")["html"]
    assert "Taken back" in asking.post("/api/log/take-back", {})["words"][0]


def test_what_cannot_have_been_sprayed_is_refused(asking: Asking, kept: Path) -> None:
    area = {"area": "wax cloth", "step": "base"}
    assert "found nothing beside" in asking.refused("POST", "/api/log", area)
    assert "bose" in asking.refused("POST", "/api/log", {**area, "step": "bose", "coats": 1})
    assert "no paint" in asking.refused("POST", "/api/log", {**area, "drops": {"mustard": 3}})
    assert asking.refused("POST", "/api/log", {**area, "chips": {"mid": "500,0,0"}})
    assert "as measured" in asking.refused("POST", "/api/log", {**area, "chips": {"mid": "blue"}})
    assert "not kept" in asking.refused(
        "POST", "/api/log", {**area, "chips": {"mid": {"id": "no", "x": 1, "y": 1}}}
    )
    assert "18 psi are" in asking.refused("POST", "/api/log", {**area, "pressure_bar": 18})
    assert not kept.with_name("mine.log.jsonl").exists()


def test_a_scheme_without_a_file_has_no_log(asking: Asking) -> None:
    asked = {"area": "wax cloth", "step": "base", "coats": 1}
    assert "Save as" in asking.refused("POST", "/api/log", asked)
    assert asking.get("/api/log")["file"] is None
