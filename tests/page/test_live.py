"""Colours on the page: those of the command line, written so that a screen shows them."""

from __future__ import annotations

from typing import Any

import coloraide
import numpy as np
import pytest

from layersim import colour
from layersim.page.edits import changed_text
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate
from layersim.views.preview import sure_words
from tests.page.asking import Asking, asking

__all__ = ["asking"]

EDIT = {"do": "set", "at": ["area", 0, "coat", 0, "mix", "blue ink"], "value": 4}


@pytest.mark.parametrize("light", [None, "A"])
def test_colours_are_those_of_the_preview(asking: Asking, light: str | None) -> None:
    desk = asking.app.state.desk
    body = {"edits": [EDIT], "tones": 9, "ranges": True, "lamp": light}
    got = asking.post("/api/colours", body)
    scheme = load_scheme(desk._path, text=changed_text(desk.text, [EDIT]))
    viewing = colour.Viewing(light or "D65")
    for one, area in zip(got["areas"], simulate(scheme, viewing=viewing).areas, strict=True):
        assert np.allclose([stage["lab"] for stage in one["stages"]], area.lab, atol=0.0051)
        assert [stage["sure"] for stage in one["stages"]] == [
            sure_words(area, i) for i in range(len(area.stages))
        ]
        for key, (tone, _, apart) in area.target_misses().items():
            assert (one["target"][key]["tone"], one["target"][key]["apart"]) == (tone, round(apart, 1))
        for stage, xyz in zip(one["stages"], area.xyz, strict=True):
            screen = colour.on_screen(xyz, viewing.white)
            for css, rgb, shown, beyond in zip(
                stage["css"], screen.rgb, screen.shown, stage["beyond_srgb"], strict=True
            ):
                assert beyond == (not shown)
                if shown:
                    # coloraide reads CSS by its own code; a hundredth of Lab is half a level of 255.
                    told = coloraide.Color(css).convert("srgb").coords()
                    assert np.allclose(told, rgb, atol=0.004)


def test_p3_mark_is_coloraides(asking: Asking) -> None:
    for stage in asking.post("/api/colours", {"edits": [EDIT], "lamp": "D65"})["areas"][0]["stages"]:
        for css, beyond in zip(stage["css"], stage["beyond_p3"], strict=True):
            if not beyond:
                assert coloraide.Color(css).in_gamut("display-p3", tolerance=2e-3)


def test_a_late_ticket_gives_up_and_a_bad_one_does_not(asking: Asking) -> None:
    def status(ticket: Any) -> int:
        answer = asking.client.post("/api/colours", json={"edits": [], "ticket": ticket, "areas": [0]})
        return int(answer.status_code)

    assert [status(t) for t in ("p:5", "p:4", "p:5", "q:1", None, "p", "p:x", 3)] == [
        200, 204, 200, 200, 200, 200, 200, 200
    ]  # fmt: skip


def test_only_the_areas_asked_for_and_nothing_is_made(asking: Asking) -> None:
    before = asking.app.state.desk.text
    got = asking.post("/api/colours", {"edits": [EDIT], "areas": [1]})
    assert [area["index"] for area in got["areas"]] == [1]
    assert asking.app.state.desk.text == before
    assert asking.client.post("/api/colours", json={"areas": [9]}).status_code == 409


def test_kept_colours_follow_every_change(asking: Asking) -> None:
    first = asking.post("/api/colours", {})
    assert asking.post("/api/colours", {})["areas"] == first["areas"]
    asking.post("/api/edit", {"edits": [EDIT], "what": "x"})
    second = asking.post("/api/colours", {})
    assert second["areas"][0] != first["areas"][0]
    assert second["areas"][1:] == first["areas"][1:]
    glossy = asking.post("/api/colours", {"finish": 0.0})
    assert glossy["areas"][0]["stages"][-1]["lab"][0][0] < second["areas"][0]["stages"][-1]["lab"][0][0]


def test_all_coats_off_leaves_the_preshade(asking: Asking) -> None:
    edits = [{"do": "set", "at": ["area", 2, "coat", i, "off"], "value": True} for i in range(3)]
    got = asking.post("/api/colours", {"edits": edits, "areas": [2], "ranges": True})
    assert [stage["name"] for stage in got["areas"][0]["stages"]] == ["primer", "preshade"]


def test_words_are_the_previews(asking: Asking) -> None:
    assert "Most in doubt" in asking.post("/api/words", {"area": 0})["html"]


def test_a_fault_of_an_area_is_told_with_its_own_number(asking: Asking) -> None:
    edit = {"do": "set", "at": ["area", 1, "coat", 0, "paint"], "value": "no such paint"}
    said = asking.refused("POST", "/api/colours", {"edits": [edit], "tones": 9, "areas": [1]})
    assert 'area 2 "straps"' in said or 'area 2 "straps"' in said


def test_metal_is_told_from_each_side_and_other_paint_is_not(asking: Asking) -> None:
    desk = asking.app.state.desk
    got = {area["name"]: area for area in asking.post("/api/colours", {"edits": [], "tones": 9})["areas"]}
    area = simulate(load_scheme(desk._path, text=desk.text), draws=0)["lamp frame"]
    looks = got["lamp frame"]["looks"]
    assert np.allclose([look["lab"] for look in looks], area.looks(), atol=0.0051)
    assert looks[1]["css"] == got["lamp frame"]["stages"][-1]["css"]
    assert not any("lab(1" in one and not one.startswith("lab(100 ") for one in looks[0]["css"])
    assert got["lamp frame"]["metal"]
    assert all(not area["looks"] and not area["metal"] for name, area in got.items() if name != "lamp frame")
