"""Matches, corrections and comparisons on the page say what the command line says."""

from __future__ import annotations

import re
from typing import Any

import pytest

from layersim import colour
from layersim.cli import main
from layersim.decide.choices import Choice
from layersim.decide.compare import compare
from layersim.owned import mark, owned_file
from layersim.resources import data_folder, demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.shelf import Shelf
from layersim.views.compare import verdict_words
from tests.page import pictures
from tests.page.asking import Asking, asking

__all__ = ["asking"]

OWNED = ["navy blue", "blue ink", "bone", "airbrush white"]


@pytest.fixture(autouse=True)
def own_paints(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LAYERSIM_PAINTS", str(tmp_path / "paints"))
    shelf = Shelf.usual()
    mark(owned_file(), [shelf.find(name).name for name in OWNED], owned=True)


def first_area(asking: Asking) -> Any:
    return asking.get("/api/scheme")["areas"][0]


def matched(asking: Asking, **more: Any) -> Any:
    area = first_area(asking)
    asked = {"area": area["name"], "coat": "base", "owned": True, "quick": True, "as_planned": True, **more}
    return asking.worked(asking.post("/api/match", asked)["work"])


def test_a_match_is_used_as_one_step_that_can_be_undone(asking: Asking) -> None:
    before = asking.app.state.desk.text
    found = matched(asking)
    best = found["answers"][0]
    assert best["recipe"] in re.sub("<.*?>", "", best["html"]).replace("&quot;", '"')
    assert "Chance that it looks right on the batch" in best["html"]
    asking.post("/api/match/use", {"id": found["id"], "answer": 1})
    base = asking.app.state.desk.scheme().areas[0].coats[0]
    assert base.words() == best["recipe"]
    assert "# before: " in asking.app.state.desk.text
    asking.post("/api/undo", {})
    assert asking.app.state.desk.text == before


def test_only_what_is_owned_is_searched(asking: Asking) -> None:
    found = matched(asking)
    used = " ".join(one["recipe"] for one in found["answers"])
    others = [place.paint.name for place in Shelf.usual().places() if place.paint.name not in OWNED]
    assert not [name for name in others if name in used]


def test_a_new_coat_goes_after_the_one_that_was_named_by_a_name_of_its_own(asking: Asking) -> None:
    found = matched(asking, coat=None, after="base")
    for number in (1, 2):
        asking.post("/api/match/use", {"id": found["id"], "answer": number})
    coats = [coat.name for coat in asking.app.state.desk.scheme().areas[0].coats]
    assert coats[0] == "base"
    assert len(set(coats)) == len(coats)
    assert len(coats) == len(load_scheme(demo_scheme()).areas[0].coats) + 2


def test_an_answer_for_a_coat_that_is_gone_is_refused(asking: Asking) -> None:
    found = matched(asking)
    asking.post("/api/edit", {"edits": [{"do": "remove_coat", "area": 0, "coat": 0}], "what": "without it"})
    said = asking.refused("POST", "/api/match/use", {"id": found["id"], "answer": 1})
    assert 'no longer has a coat "base"' in said
    assert "search again" in asking.refused("POST", "/api/match/use", {"id": found["id"], "answer": 99})


def test_what_came_out_as_planned_is_left_as_it_is(asking: Asking) -> None:
    scheme = load_scheme(demo_scheme())
    from layersim.scheme.simulate import simulate

    finish = simulate(scheme, tones=9, draws=0).areas[0].lab[-1]
    typed = {
        place: ",".join(f"{v:.1f}" for v in finish[tone])
        for place, tone in {"shadow": 0, "mid": 4, "light": 8}.items()
    }
    asked = {"area": scheme.areas[0].name, "found": typed, "owned": True, "against_plan": True}
    found = asking.worked(asking.post("/api/correct", asked)["work"])
    assert "Leave it:" in found["foot"]
    assert "every coat as planned" in found["head"]
    assert found["answers"] == []


def test_a_correction_is_laid_last(asking: Asking) -> None:
    area = first_area(asking)["name"]
    typed = {"shadow": "30,2,-10", "mid": "60,0,-10", "light": "90,0,0"}
    asked = {"area": area, "found": typed, "owned": True, "against_plan": True}
    found = asking.worked(asking.post("/api/correct", asked)["work"])
    assert found["answers"], found["head"]
    asking.post("/api/match/use", {"id": found["id"], "answer": 1})
    last = asking.app.state.desk.scheme().areas[0].coats[-1]
    assert (last.name, last.words()) == ("correction", found["answers"][0]["recipe"])


def test_a_colour_that_is_none_is_told_with_its_place(asking: Asking) -> None:
    asked = {"area": "x", "found": {"mid": "blue"}}
    assert asking.refused("POST", "/api/correct", asked).startswith('mid-tone: found "blue"')
    assert "found no colour" in asking.refused("POST", "/api/correct", {"area": "x", "found": {}})


def test_limits_filters_and_preshades_are_the_command_lines(
    asking: Asking, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--paints-at-most", "1", "--coats", "1-2", "--other-preshades"]
    words += ["--filter", "blue ink", "--area", first_area(asking)["name"], "--coat", "base"]
    assert main(["match", str(demo_scheme()), *words, "--as-planned", "--quick", "--no-picture"]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    limits = {"paints_at_most": 1, "coats": "1-2"}
    found = matched(asking, owned=False, limits=limits, filters=["blue ink"], other_preshades=True)
    recipes = [one["recipe"] for one in found["answers"]]
    assert len(recipes) > 1
    assert all(recipe in printed for recipe in recipes)
    assert any("preshade of" in one["html"] or "filter" in one["html"] for one in found["answers"])
    assert not any(" : " in recipe for recipe in recipes)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"limits": {"drops": 99}}, "drops: found 99"),
        ({"limits": {"coats": "6-1"}}, "coats: found"),
        ({"limits": {"coats": "1-400"}}, "coats: found"),
        ({"limits": {"thinnings": []}}, "thinning: expected"),
        ({"limits": {"thinnings": ["1"]}}, "thinning: expected a number"),
        ({"limits": {"wet_film_um": 1e9}}, "wet_film_um"),
        ({"limits": {"paints": 3}}, "limits: expected"),
        ({"limits": []}, None),
        ({"limits": [1]}, "limits: expected"),
        ({"filters": ["<b>none</b>"]}, "<b>none</b>"),
        ({"filters": ["blue ink"] * 5}, "filters: expected at most"),
        ({"artwork": {"id": "nobody", "spots": {}}}, "drop it again"),
        ({"artwork": {"id": "nobody", "spots": {"dusk": {}}}}, "artwork: expected"),
    ],
)
def test_what_cannot_be_searched_is_told(asking: Asking, more: Any, says: str | None) -> None:
    asked = {"area": first_area(asking)["name"], "coat": "base", "owned": True, **more}
    if says is None:
        asking.post("/api/match", asked)
    else:
        assert says in asking.refused("POST", "/api/match", asked)


def test_the_artwork_is_a_target_as_on_the_command_line(asking: Asking) -> None:
    name = asking.post("/api/upload/artwork?name=cover.png", pictures.artwork())["id"]
    spots = {"shadow": {"x": 16, "y": 50}, "light": {"x": 83, "y": 50, "size": 3}}
    found = matched(asking, as_planned=False, artwork={"id": name, "spots": spots})
    for place in spots:
        L, a, b = colour.lab_of_hex("#{:02x}{:02x}{:02x}".format(*pictures.COLOURS[place]))
        assert f"L* {L:.0f}, a* {a:.0f}, b* {b:.0f}" in found["head"]
    assert any("rinted art" in note for note in found["notices"]), found["notices"]
    # Without spots it is what the picture proposes, and so is each that was proposed.
    proposed = asking.post("/api/upload/artwork?name=cover.png", pictures.artwork())["proposed"]
    spots = {place: {**spot, "is_proposed": True} for place, spot in proposed.items()}
    heads = [
        matched(asking, as_planned=False, artwork={"id": name, "spots": some})["head"] for some in ({}, spots)
    ]
    assert heads[0] == heads[1]


def test_a_chip_off_a_photograph_counts_with_its_range(asking: Asking) -> None:
    photograph = data_folder() / "examples" / "teal-card.jpg"
    name = asking.post("/api/upload/chip?name=chip.jpg", photograph.read_bytes())["id"]
    asked = {
        "area": first_area(asking)["name"],
        "found": {"mid": {"id": name, "x": 62, "y": 31}},
        "owned": True,
    }
    found = asking.worked(asking.post("/api/correct", asked)["work"])
    assert any(
        "chip.jpg: L* 4" in note and "by the chart in the picture" in note for note in found["notices"]
    )
    assert not any("FILE@" in note for note in found["notices"])
    asked["found"] = {"mid": "#2080a0"}
    found = asking.worked(asking.post("/api/correct", asked)["work"])
    assert any("counts for little" in note and "FILE@" not in note for note in found["notices"])


def test_a_pinned_state_is_compared_in_the_command_lines_words(asking: Asking) -> None:
    pinned = asking.get("/api/compare/text")["text"]
    edit = {"do": "set", "at": ["area", 0, "coat", 0, "coats"], "value": 6}
    asking.post("/api/edit", {"edits": [edit], "what": "six coats"})
    found = asking.worked(asking.post("/api/compare", {"first": pinned, "names": ["A", "B"]})["work"])
    chosen = (Choice("A", load_scheme(demo_scheme())), Choice("B", asking.app.state.desk.scheme()))
    said = compare(chosen)
    wanted = [
        {"area": area.name, "words": [verdict_words(area, one) for one in area.differences]}
        for area in said.areas
    ]
    assert wanted
    assert found["verdicts"] == wanted


def test_named_choices_are_compared_as_the_command_line_does(asking: Asking) -> None:
    asked = {"choices": ["bare: without filter"], "areas": [first_area(asking)["name"]]}
    found = asking.worked(asking.post("/api/compare", asked)["work"])
    assert "B (bare) instead of A (as written)" in found["html"]
    assert "expected a pinned state" in asking.refused("POST", "/api/compare", {})
