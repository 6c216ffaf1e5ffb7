"""The open scheme: its history, its file, and two pages on it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layersim.colour import LIGHTS
from layersim.errors import LayersimError
from layersim.optics.surface import SHEENS
from layersim.page.desk import BusyError, Desk
from layersim.page.edits import GoneError
from layersim.resources import demo_scheme
from tests.page.asking import Asking, asking
from tests.page.test_edits import EDIT

__all__ = ["asking"]

DEMO = demo_scheme().read_bytes()


def thinner(value: float, coat: int = 0) -> dict[str, Any]:
    return {"do": "set", "at": ["area", 0, "coat", coat, "thinning"], "value": value}


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    (tmp_path / "mine.toml").write_bytes(DEMO)
    desk = Desk(tmp_path)
    desk.open("mine.toml")
    return desk


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(edits=st.lists(EDIT, max_size=6))
def test_undo_gives_the_text_back_byte_for_byte(tmp_path: Path, edits: list[Any]) -> None:
    file = tmp_path / "mine.toml"
    file.write_bytes(b"\xef\xbb\xbf" + DEMO.replace(b"\n", b"\r\n"))
    before = file.read_bytes()
    desk = Desk(tmp_path)
    desk.open("mine.toml")
    made = []
    for edit in edits:
        was = desk.text
        try:
            desk.edit([edit])
        except LayersimError:
            assert desk.text == was
        else:
            desk.scheme()
        if desk.text != was:
            made.append(desk.text)
            assert file.read_bytes() == b"\xef\xbb\xbf" + desk.text.encode()
    for _ in made:
        desk.undo()
    assert file.read_bytes() == before
    for text in made:
        desk.redo()
        assert desk.text == text


def test_a_refused_change_changes_nothing(desk: Desk, tmp_path: Path) -> None:
    before = desk.revision, desk.text
    with pytest.raises(LayersimError, match=r"coats: found -1; expected a whole number"):
        desk.edit([{"do": "set", "at": ["area", 0, "coat", 0, "coats"], "value": -1}])
    with pytest.raises(LayersimError, match="purpl"):
        desk.edit([thinner(2), {"do": "set", "at": ["area", 0, "primer"], "value": "purpl"}])
    assert (desk.revision, desk.text) == before
    assert (tmp_path / "mine.toml").read_bytes() == DEMO


class TestFile:
    def test_what_was_changed_outside_is_never_written_over_unasked(self, desk: Desk) -> None:
        told: list[Any] = []
        desk.tell = told.append
        file = desk.file
        assert file is not None
        theirs = DEMO.replace(b"models = 10", b"models = 12")
        file.write_bytes(theirs)
        desk.edit([thinner(2.5)])
        assert file.read_bytes() == theirs
        assert desk.unsaved
        assert {"kind": "outside"} in told
        with pytest.raises(BusyError):
            desk.save()
        desk.save(over=True)
        assert b"thinning = 2.5" in file.read_bytes()
        assert not desk.unsaved
        desk.undo()
        assert file.read_bytes() == theirs

    def test_reading_again_keeps_what_was_there(self, desk: Desk) -> None:
        file = desk.file
        assert file is not None
        desk.edit([thinner(2.5)])
        mine, theirs = desk.text, DEMO.replace(b"models = 10", b"models = 12")
        file.write_bytes(theirs)
        desk.look_outside()
        assert desk.state()["changed_outside"]
        desk.reload()
        assert desk.text.encode() == theirs
        desk.undo()
        assert desk.text == mine

    def test_a_broken_text_outside_is_told_and_not_taken(self, desk: Desk) -> None:
        file = desk.file
        assert file is not None
        file.write_text("nothing")
        with pytest.raises(LayersimError):
            desk.reload()
        assert desk.text.encode() == DEMO

    def test_the_demo_has_no_file_until_it_is_saved(self, tmp_path: Path) -> None:
        desk = Desk(tmp_path)
        desk.edit([thinner(2.5)])
        assert demo_scheme().read_bytes() == DEMO
        with pytest.raises(LayersimError, match="no file yet"):
            desk.save()
        desk.save("mine")
        assert desk.files() == ["mine.toml"]
        desk.new("starter")
        with pytest.raises(BusyError):
            desk.save("mine")
        assert b"thinning = 2.5" in (tmp_path / "mine.toml").read_bytes()

    def test_a_starter_that_is_saved_names_its_own_file(self, tmp_path: Path) -> None:
        desk = Desk(tmp_path)
        desk.new("starter")
        desk.save("harbour")
        written = (tmp_path / "harbour.toml").read_text("utf-8")
        assert "layersim preview harbour.toml" in written
        assert "starter.toml" not in written
        assert desk.text == written

    @pytest.mark.parametrize("name", ["../x", "/etc/x.toml", "a/b.toml", ".hidden", "..", "", "a\\b", "c:x"])
    def test_only_bare_names_of_the_folder(self, desk: Desk, name: str) -> None:
        with pytest.raises(LayersimError):
            desk.save(name)
        with pytest.raises(LayersimError):
            desk.open(name)


class TestTwoPages:
    def test_both_changes_stand(self, asking: Asking) -> None:
        seen = asking.get("/api/scheme")["revision"]
        asking.post("/api/edit", {"edits": [thinner(2.5)], "what": "one", "revision": seen})
        after = asking.post("/api/edit", {"edits": [thinner(3.5, 1)], "what": "two", "revision": seen})
        assert [coat["thinning"] for coat in after["areas"][0]["coats"][:2]] == [2.5, 3.5]

    def test_a_number_that_means_another_coat_meanwhile_is_refused(self, asking: Asking) -> None:
        seen = asking.get("/api/scheme")["revision"]
        asking.post("/api/edit", {"edits": [{"do": "move_coat", "area": 0, "coat": 0, "to": 3}]})
        body = {"edits": [thinner(9)], "what": "late", "revision": seen}
        late = asking.client.post("/api/edit", json=body)
        assert late.status_code == 409
        assert "thinning = 9" not in asking.app.state.desk.text

    def test_a_row_that_is_gone(self, desk: Desk) -> None:
        with pytest.raises(GoneError):
            desk.edit([{"do": "remove_coat", "area": 0, "coat": 40}])


def test_a_coat_switched_off_keeps_its_card(asking: Asking) -> None:
    edit = {"do": "set", "at": ["area", 0, "coat", 3, "off"], "value": True}
    state = asking.post("/api/edit", {"edits": [edit], "what": "the filter off"})
    assert [coat["off"] for coat in state["areas"][0]["coats"]] == [False, False, False, True, False, False]
    assert state["undo"] == "the filter off"
    assert "filter" not in [coat.name for coat in asking.app.state.desk.scheme().areas[0].coats]


def test_a_wet_film_is_shown_as_what_stays_of_it(asking: Asking) -> None:
    edit = {"do": "set", "at": ["area", 0, "coat", 0, "wet_film_um"], "value": 12}
    coat = asking.post("/api/edit", {"edits": [edit], "what": "wet"})["areas"][0]["coats"][0]
    scheme = asking.app.state.desk.scheme().areas[0].coats[0]
    assert coat["by_wet_film"]
    assert coat["dry_film_um"] == pytest.approx(scheme.dry_film_um, abs=1e-3)
    assert coat["dry_film_um"] != coat["film_usual_um"]


def test_words_for_lamps_sheens_and_tones_are_the_programs(asking: Asking) -> None:
    terms = asking.get("/api/terms")
    assert [name for name, _ in terms["lamps"]] == list(LIGHTS)
    assert dict(terms["sheens"]) == SHEENS
