"""The page's shelf: the same paints, words and colours as the command line has, and ticks that it reads."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from layersim import Shelf, colour
from layersim.cli import main
from layersim.colour import Viewing
from layersim.optics.flakes import ANGLES_DEG
from layersim.owned import owned_file
from layersim.page.css import css_of_one, css_of_xyz
from layersim.shelf import own_folder
from layersim.swatchcard import masstone, swatch_card

from .asking import Asking, asking

__all__ = ["asking"]


def names(answer: Any) -> list[str]:
    return [paint["name"] for paint in answer["paints"]]


class TestShelf:
    def test_all_paints_with_their_colours(self, asking: Asking) -> None:
        answer = asking.get("/api/shelf")

        assert names(answer) == Shelf.usual().names()
        card = swatch_card(Shelf.usual().find("crimson"), coats=(1,))
        told = next(paint for paint in answer["paints"] if paint["name"] == "crimson")
        for key, seen in (
            ("masstone_css", card.masstone),
            ("over_black_css", card.over_black[0]),
            ("over_white_css", card.over_white[0]),
        ):
            assert told[key] == css_of_one(colour.lab(seen, Viewing()), Viewing())
        assert (told["kind"], told["hue"], told["own"], told["invented"]) == (
            "paint",
            "red",
            False,
            True,
        )

    def test_metal_runs_from_its_glint_to_where_it_is_turned_away(self, asking: Asking) -> None:
        told = next(paint for paint in asking.get("/api/shelf")["paints"] if paint["name"] == "copper")
        looks = [masstone(Shelf.usual().find("copper"), degrees=degrees) for degrees in ANGLES_DEG]
        stops = css_of_xyz(colour.xyz(looks, Viewing()), Viewing())
        assert told["masstone_css"] == f"linear-gradient(to bottom, {', '.join(stops)})"
        assert told["kind"] == "metal"

    @pytest.mark.parametrize("words", ["red glaze", "purple", "ink", "blue filter", "turkoise", "gray"])
    def test_a_search_finds_what_the_command_line_finds(
        self, asking: Asking, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        out = tmp_path / "found.json"
        assert main(["paints", *words.split(), "--json", str(out)]) == 0
        printed = capsys.readouterr().out

        answer = asking.get("/api/shelf", words=words)

        assert names(answer) == [one["name"] for one in json.loads(out.read_text("utf-8"))["result"]]
        assert bool(answer["none"]) == (not answer["paints"])
        assert answer["none"] in printed

    def test_a_paint_of_ones_own_is_seen_as_soon_as_it_is_there(self, asking: Asking) -> None:
        asking.get("/api/shelf")
        text = Path(Shelf.usual().place("bone").path).read_text("utf-8").replace('"bone"', '"old bone"')
        (own_folder() / "old-bone.toml").write_text(text, "utf-8")

        told = next(paint for paint in asking.get("/api/shelf")["paints"] if paint["name"] == "old bone")

        assert told["own"] is True
        assert str(own_folder()) in told["source"]

    def test_a_paints_own_page_is_the_command_lines(self, asking: Asking) -> None:
        answer = asking.get("/api/paint", name="Navy-Blue")
        assert answer["name"] == "navy blue"
        assert "Hides (contrast ratio 0.98)" in answer["html"]
        assert 'Did you mean "navy blue"?' in asking.refused("GET", "/api/paint?name=navy+blu")


class TestOwned:
    def test_a_tick_is_kept_and_taken_away(self, asking: Asking) -> None:
        assert asking.get("/api/owned")["owned"] == []

        asking.post("/api/owned", {"names": ["bone", "navy-blue"], "owned": True})
        asking.post("/api/owned", {"names": ["bone"], "owned": False})

        assert asking.get("/api/owned")["owned"] == ["navy blue"]
        ticked = [paint["name"] for paint in asking.get("/api/shelf")["paints"] if paint["owned"]]
        assert ticked == ["navy blue"]

    def test_a_line_that_names_nothing_is_told_and_kept(self, asking: Asking) -> None:
        owned_file().write_text("turkoise\nbone\n", "utf-8")

        answer = asking.post("/api/owned", {"names": ["crimson"], "owned": True})

        assert answer["owned"] == ["bone", "crimson"]
        assert 'line 1: no paint "turkoise"' in answer["notices"][0]
        assert owned_file().read_text("utf-8") == "turkoise\nbone\ncrimson\n"

    @pytest.mark.parametrize(
        "asked",
        [
            {},
            {"names": []},
            {"names": "bone", "owned": True},
            {"names": [1], "owned": True},
            {"names": ["bone"] * 501, "owned": True},
            {"names": ["bone"], "owned": "yes"},
            {"names": ["turkoise"], "owned": True},
            {"names": ["bone\ncrimson"], "owned": True},
            {"names": ["../bone.toml\x00"], "owned": True},
        ],
    )
    def test_what_names_no_paint_writes_nothing(self, asking: Asking, asked: Any) -> None:
        asking.refused("POST", "/api/owned", asked)
        assert not owned_file().exists()

    def test_a_file_of_another_kind_is_left_as_it_is(self, asking: Asking) -> None:
        owned_file().write_bytes(b"\xff\xfe\x00")
        assert "no UTF-8" in asking.get("/api/owned")["notices"][0]
        asking.refused("POST", "/api/owned", {"names": ["bone"], "owned": True})
        assert owned_file().read_bytes() == b"\xff\xfe\x00"
