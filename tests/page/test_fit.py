"""A photographed card on the page: what the command line makes of it, with every fault where it is."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from layersim import sprayer as sprayers
from layersim.cli import main
from layersim.estimate import Estimate
from layersim.paintfile import read_paint
from layersim.resources import data_folder
from layersim.shelf import own_folder

from . import pictures
from .asking import Asking, asking

__all__ = ["asking"]
EXAMPLES = data_folder() / "examples"
CARD = EXAMPLES / "teal-card.jpg"
PAINT = {
    "name": "storm teal",
    "kind": "paint",
    "volume_solids": 0.28,
    "wet_film_um": 15.0,
    "sheen": "matt",
    "carrier": "water",
}


def sent(asking: Asking, path: Path = CARD) -> str:
    found: str = asking.post(f"/api/upload/card?name={path.name}", path.read_bytes())["id"]
    return found


def asked_for(asking: Asking, **more: Any) -> dict[str, Any]:
    layout = asking.post(
        "/api/upload/layout?name=layout.toml", (EXAMPLES / "teal-card-layout.toml").read_bytes()
    )
    return {"photograph": sent(asking), "layout": layout["id"], "thinning": 1.0, "paint": PAINT, **more}


def done(asking: Asking, asked: dict[str, Any]) -> Any:
    return asking.worked(asking.post("/api/fit", asked)["work"])


def by_command(tmp_path: Path, *words: str) -> Path:
    out = tmp_path / "by-command.toml"
    arguments = [str(EXAMPLES / "teal-card.toml"), "--out", str(out), "--no-picture", *words]
    assert main(["fit", *arguments]) == 0
    return out


def test_the_example_gives_the_file_that_the_command_line_writes(
    asking: Asking, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = by_command(tmp_path)
    printed = capsys.readouterr().out

    got = done(asking, {"example": True, "fit": True})
    kept = asking.post("/api/fit/keep", {"id": got["id"]})

    assert got["fault"] == ""
    assert Path(kept["file"]) == own_folder() / "storm-teal.toml"
    assert Path(kept["file"]).read_bytes() == out.read_bytes()
    assert "Good enough to plan with." in printed
    assert "Good enough to plan with." in got["html"]
    assert [paint["own"] for paint in asking.get("/api/shelf", words="storm teal")["paints"]] == [True]


def test_a_dropped_card_gives_the_same_paint(asking: Asking, tmp_path: Path) -> None:
    other = sent(asking, EXAMPLES / "teal-card-other-lamp.jpg")
    got = done(asking, asked_for(asking, other_lamp=other, fit=True))
    kept = asking.post("/api/fit/keep", {"id": got["id"]})

    ours, theirs = read_paint(Path(kept["file"])), read_paint(by_command(tmp_path))
    assert ours.K_per_um == pytest.approx(theirs.K_per_um)
    assert ours.S_per_um == pytest.approx(theirs.S_per_um)
    assert not ours.invented
    assert "layersim-page-" not in Path(kept["file"]).read_text("utf-8")


def test_a_paint_that_is_there_is_not_written_over_unasked(asking: Asking) -> None:
    got = done(asking, {"example": True, "fit": True})
    there = own_folder() / "storm-teal.toml"
    there.write_text("mine", "utf-8")

    answer = asking.post("/api/fit/keep", {"id": got["id"]})
    assert not answer["kept"]
    assert there.read_text("utf-8") == "mine"

    assert asking.post("/api/fit/keep", {"id": got["id"], "replace": True})["kept"]
    assert read_paint(there).name == "storm teal"


def test_places_may_be_other_than_the_layout_says(asking: Asking) -> None:
    """As in a swatches file: a place left away is not used, and one with other coats counts with these."""
    asked = asked_for(asking)
    places = [
        {**one, "coats": 3.0 if one["place"] == "black 2" else one["coats"]}
        for one in asking.get("/api/fit/start")["places"]
        if one["place"] != "white 4"
    ]
    got = done(asking, {**asked, "places": places, "fit": True})
    assert "3 coats over black" in got["html"]
    assert "4 coats over white" not in got["html"]


def hurt(tmp_path: Path, name: str) -> Path:
    pixels = np.array(Image.open(CARD))
    if name == "corner":
        pixels[:300, :300] = 120
    if name == "glare":
        pixels[400:460, 300:420] = 255
    if name == "far":
        pixels[:300] = 120
    path = tmp_path / f"{name}.png"
    Image.fromarray(pixels).save(path)
    return path


class TestWhatIsWrong:
    def found(self, asking: Asking, path: Path) -> tuple[Any, list[Any]]:
        got = done(asking, {**asked_for(asking), "photograph": sent(asking, path)})
        return got, got["looked"][0]["found"]

    def test_glare_lies_where_it_is(self, asking: Asking, tmp_path: Path) -> None:
        _, found = self.found(asking, hurt(tmp_path, "glare"))
        out = [one for one in found if one["kind"] == "place" and not one["used"]]
        assert {one["name"] for one in out} == {"white bare 1", "white 0.5"}
        for one in out:
            assert any("clipped" in words for words in one["words"])
            x, y = np.mean(one["corners"], axis=0)
            assert 290 / 1050 < x < 430 / 1050
            assert 380 / 1400 < y < 470 / 1400

    def test_a_missing_corner_is_shown_where_it_should_be(self, asking: Asking, tmp_path: Path) -> None:
        _, found = self.found(asking, hurt(tmp_path, "corner"))
        [lost] = [one for one in found if one["kind"] == "corner mark" and not one["used"]]
        assert lost["name"] == "upper left"
        assert np.max(lost["corners"]) < 0.3

    def test_a_card_that_is_not_found_still_shows_its_marks(self, asking: Asking, tmp_path: Path) -> None:
        got, found = self.found(asking, hurt(tmp_path, "far"))
        assert got["fault"].startswith("far.png: the card is not found well enough")
        seen = {one["name"]: one["used"] for one in found}
        assert seen == {"lower left": True, "lower right": True, "upper left": False, "upper right": False}
        # About where the missing ones should be.
        for one in found:
            if not one["used"]:
                assert np.mean(one["corners"], axis=0)[1] < 0.3
        answer = asking.client.get(f"/api/fit/{got['id']}/seen/0")
        assert answer.content.startswith(b"\xff\xd8")
        assert "no paint to keep" in asking.refused("POST", "/api/fit/keep", {"id": got["id"]})

    def test_the_chart_is_shown(self, asking: Asking) -> None:
        _, found = self.found(asking, CARD)
        [chart] = [one for one in found if one["kind"] == "chart"]
        assert np.mean(chart["corners"], axis=0) == pytest.approx([0.485, 0.697], abs=0.02)


def corners_in(found: list[Any], kind: str) -> list[list[float]]:
    """Corners of what was found, in pixels of the example's photograph."""
    [one] = [one for one in found if one["kind"] == kind]
    return [[x * 1050 - 0.5, y * 1400 - 0.5] for x, y in one["corners"]]


def test_corners_by_hand_find_what_was_not_found(asking: Asking, tmp_path: Path) -> None:
    asked = asked_for(asking)
    found = done(asking, asked)["looked"][0]["found"]
    by_hand = {"corners_px": corners_in(found, "card"), "chart_corners_px": corners_in(found, "chart")}
    far = {**asked, "photograph": sent(asking, hurt(tmp_path, "far"))}
    assert done(asking, far)["looked"][0]["fault"]
    again = done(asking, {**far, **by_hand})["looked"][0]
    assert {"card", "chart"} <= {one["kind"] for one in again["found"]}
    assert not [one for one in again["found"] if one["kind"] == "corner mark"]
    # What to write into a file helps nobody on the page.
    assert "corners_px" not in done(asking, far)["fault"]
    assert "where its corners are in this picture" in done(asking, far)["fault"]


def profile(name: str, *, factor: bool) -> Path:
    known = Estimate(1.2, 0.1, "cards") if factor else None
    path = sprayers.own_folder() / f"{name.replace(' ', '-')}.toml"
    sprayers.keep(sprayers.Sprayer(name, film_factor=known), path)
    return path


def test_a_sprayers_profile_counts_as_on_the_command_line(asking: Asking, tmp_path: Path) -> None:
    path = profile("fine needle", factor=True)
    start = path.read_bytes()
    out = by_command(tmp_path, "--sprayer", "fine needle")
    by_hand = path.read_bytes()
    path.write_bytes(start)

    assert "fine needle" in asking.get("/api/fit/start")["sprayers"]
    got = done(asking, {"example": True, "fit": True, "sprayer": "fine needle"})
    assert path.read_bytes() == start, "nothing is written before it is asked for"
    kept = asking.post("/api/fit/keep", {"id": got["id"]})
    assert Path(kept["file"]).read_bytes() == out.read_bytes()
    assert path.read_bytes() == by_hand
    assert "the profile keeps it" in kept["words"]


def test_the_film_of_a_coat_is_learned_from_a_known_paint(asking: Asking, tmp_path: Path) -> None:
    asked = {"example": True, "fit": True, "sprayer": "new hand", "known": "deep teal"}
    got = done(asking, asked)
    assert got["html"].startswith("<p>Film of one coat: ")
    path = sprayers.own_folder() / "new-hand.toml"
    assert not path.exists()
    assert asking.post("/api/fit/keep", {"id": got["id"]})["kept"]
    factor = sprayers.read_sprayer(path).film_factor
    assert factor is not None
    assert factor.words() in got["html"]

    # What a profile says already is not written over unasked.
    answer = asking.post("/api/fit/keep", {"id": got["id"]})
    assert not answer["kept"]
    assert "film factor already" in answer["words"]
    assert asking.post("/api/fit/keep", {"id": got["id"], "replace": True})["kept"]


class TestRefused:
    @pytest.mark.parametrize("what", [what for what in pictures.HOSTILE if what != "nothing at all"])
    @pytest.mark.parametrize("name", ["card.jpg", "card.dng"])
    def test_what_is_no_photograph_is_told(self, asking: Asking, what: str, name: str) -> None:
        found = asking.post(f"/api/upload/card?name={name}", pictures.HOSTILE[what])["id"]
        got = done(asking, {**asked_for(asking), "photograph": found})
        assert got["fault"].startswith(f"{name}: ")
        assert "layersim-page-" not in got["fault"]

    @pytest.mark.parametrize(
        ("more", "says"),
        [
            ({"paint": {**PAINT, "name": ""}}, "expected what the paint is called"),
            ({"paint": {**PAINT, "kind": "pante"}}, 'Did you mean "paint"?'),
            ({"paint": {**PAINT, "volume_solids": 3}}, "volume_solids"),
            ({"paint": {**PAINT, "x = 1\n[photograph]": "y"}}, "something that a paint does not have"),
            ({"paint": None}, "paint: expected"),
            ({"photograph": "nobody"}, "drop it again"),
            ({"photograph": 3}, "photograph: found no text"),
            ({"thinning": -1}, "thinning"),
            ({"corners_px": [[1, 2]]}, "four corners"),
            ({"places": [{"place": "nowhere", "ground": "black", "coats": 1}]}, "a place on the card"),
            ({"film_error_percent": 300}, "from 0 to 100"),
            ({"chart_corners_px": [[1, 2]] * 5}, "four corners"),
            ({"corners_px": [[1, 2], [3, 4], [5, 6], [7, "8"]]}, "four corners"),
            ({"other_lamp": "nobody"}, "drop it again"),
            ({"sprayer": "nobody"}, "nobody"),
            ({"sprayer": "/etc/passwd.toml"}, "expected a name without .toml"),
            ({"sprayer": "../x", "known": "navy blue<b>"}, "navy blue<b>"),
            ({"known": "navy blue"}, "expected whose film"),
        ],
    )
    def test_what_cannot_be_asked_is_told(self, asking: Asking, more: dict[str, Any], says: str) -> None:
        words = asking.refused("POST", "/api/fit", {**asked_for(asking), "fit": True, **more})
        assert says in words
        assert "layersim-page-" not in words

    def test_a_layout_that_is_none_is_told(self, asking: Asking) -> None:
        words = asking.refused("POST", "/api/upload/layout?name=card.toml", b"format = 'layersim scheme 1'\n")
        assert words.startswith("card.toml: ")
