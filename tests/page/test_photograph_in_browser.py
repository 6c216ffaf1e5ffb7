"""Colours read off a photograph by clicks: greys of a preshade, a chip that came out, a chip for the log."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from layersim.colour import Viewing
from layersim.fitting.chip import Grey, read_reference, spot_seen
from layersim.fitting.greys import seen_greys
from layersim.owned import mark, owned_file
from layersim.resources import data_folder
from layersim.shelf import Shelf

from . import pictures

CARD = data_folder() / "examples" / "teal-card.jpg"
SHADOW, LIGHT, CHIP, GREY = (53.8, 38.7), (31.0, 37.5), (62.0, 31.0), (42.4, 38.4)
LONG_MS = 60_000


@pytest.fixture(autouse=True)
def own_paints(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Few paints are owned, so that a search takes little."""
    monkeypatch.setenv("LAYERSIM_PAINTS", str(tmp_path / "paints"))
    mark(owned_file(), ["navy blue", "blue ink", "bone"], owned=True)
    assert Shelf.usual().find("navy blue")


def drop(page: Any, file: Any = CARD) -> None:
    with page.expect_response("**/api/upload/chip*", timeout=LONG_MS):
        page.set_input_files("[data-key=photograph]", file)


def point_at(page: Any, at: tuple[float, float]) -> tuple[float, float]:
    """Click there, and return what the page says it was."""
    image = page.locator(".photo .surface img")
    image.scroll_into_view_if_needed()
    box = image.bounding_box()
    with page.expect_response("**/api/chip", timeout=LONG_MS) as answered:
        page.mouse.click(box["x"] + box["width"] * at[0] / 100, box["y"] + box["height"] * at[1] / 100)
    asked = answered.value.request.post_data_json
    assert (asked["x"], asked["y"]) == pytest.approx(at, abs=0.3)
    return asked["x"], asked["y"]


def test_greys_by_clicks_are_written_and_taken_back(page: Any) -> None:
    page.get_by_role("link", name="Greys").click()
    drop(page)
    page.locator(".photo .artwork").wait_for()
    shadow = point_at(page, SHADOW)
    # The next that is not set is on.
    expect(page.locator("[data-key=point-light]")).to_be_checked()
    light = point_at(page, LIGHT)
    reference = read_reference(CARD)
    seen = seen_greys(shadow=spot_seen(reference, shadow), light=spot_seen(reference, light))
    greys = [round(seen.darkest), round(seen.lightest)]
    expect(page.locator(".greys .strong").first).to_contain_text(f"each ± {seen.doubt:.1f}", timeout=LONG_MS)
    with page.expect_response("**/api/edit"):
        page.click(".greys [data-key=write]")
    preshade = page.running.ask("/api/scheme")[1]["areas"][0]["preshade"]
    assert (preshade["kind"], preshade["greys"]) == ("given", greys)
    with page.expect_response("**/api/undo"):
        page.click("[data-key=undo]")
    assert page.running.ask("/api/scheme")[1]["areas"][0]["preshade"]["kind"] == "sprayed"


def test_without_a_chart_a_grey_card_is_pointed_at(page: Any, complaints: list[str]) -> None:
    page.get_by_role("link", name="Greys").click()
    pixels = np.array(Image.open(CARD))
    pixels[800:] = 120
    drop(page, {"name": "model.png", "mimeType": "image/png", "buffer": pictures.png(pixels)})
    page.locator(".photo .artwork").wait_for()
    point_at(page, SHADOW)
    expect(page.locator(".photo > .fault")).to_contain_text("no 24-patch chart is found")
    page.get_by_role("radio", name="grey card").check(force=True)
    box = page.locator(".photo .surface img").bounding_box()
    page.mouse.click(box["x"] + box["width"] * GREY[0] / 100, box["y"] + box["height"] * GREY[1] / 100)
    page.get_by_role("radio", name="deepest shadow").check(force=True)
    point_at(page, SHADOW)
    expect(page.locator(".photo > .fault")).to_be_empty()
    page.get_by_text("What was read").click()
    expect(page.locator(".photo .said")).to_contain_text("by the grey cards in the picture")
    complaints.clear()


def test_a_chip_that_came_out_is_corrected(page: Any) -> None:
    page.get_by_role("link", name="Correct").click()
    page.get_by_text("Off a photograph").click()
    drop(page)
    page.locator(".photo .artwork").wait_for()
    page.get_by_role("radio", name="Mid-tone").check(force=True)
    at = point_at(page, CHIP)
    spot = spot_seen(read_reference(CARD), at, viewing=Viewing())
    expect(page.locator("[data-key=found-mid]")).to_have_value(re.compile("±"))
    shown, _, doubt = page.input_value("[data-key=found-mid]").partition(" ± ")
    assert [float(one) for one in shown.split(",")] == pytest.approx(spot.lab, abs=0.06)
    assert float(doubt) == pytest.approx(spot.doubt, abs=0.06)
    page.get_by_label("only paints I own").check()
    page.get_by_role("button", name="What can be done").click()
    page.get_by_text("What came out, against").wait_for(timeout=LONG_MS)
    expect(page.locator(".correct .answer")).to_contain_text("all three ±")

    # Typed over, it is what was typed.
    page.fill("[data-key=found-mid]", "30,5,-20")
    with page.expect_request("**/api/correct") as asked:
        page.get_by_role("button", name="What can be done").click()
    assert asked.value.post_data_json["found"] == {"mid": "30,5,-20"}


def test_a_chip_off_a_photograph_goes_into_the_log_with_its_doubt(page: Any) -> None:
    page.running.ask("/api/save", {"as": "mine.toml"})
    page.get_by_role("link", name="Batch").click()
    page.get_by_role("radio", name="Sprayed it").check(force=True)
    page.get_by_text("A dry chip").click()
    page.get_by_text("Off a photograph").click()
    drop(page)
    page.locator(".photo .artwork").wait_for()
    page.get_by_role("radio", name="Mid-tone").check(force=True)
    at = point_at(page, CHIP)
    with page.expect_response("**/api/log") as answered:
        page.get_by_role("button", name="Sprayed it").click()
    assert answered.value.ok, answered.value.text()
    [line] = (page.running.folder / "mine.log.jsonl").read_text("utf-8").splitlines()
    [chip] = json.loads(line)["chips"]
    spot = spot_seen(read_reference(CARD), at, viewing=Viewing())
    assert chip["lab"] == pytest.approx(spot.lab, abs=0.01)
    assert chip["doubt"] == pytest.approx(spot.doubt, abs=0.06)
    said = page.locator(".logged .said")
    expect(said).to_contain_text('If it is a slip: "Take the last entry back"')
    assert "layersim log" not in page.inner_text(".logged")
    page.get_by_role("button", name="Take the last entry back").click()
    expect(said).to_contain_text("Taken back:")


def test_a_grey_card_speaks_where_there_is_one(page: Any) -> None:
    page.get_by_role("link", name="Correct").click()
    page.get_by_text("Off a photograph").click()
    drop(page)
    page.locator(".photo .artwork").wait_for()
    at = point_at(page, CHIP)
    page.get_by_role("radio", name="grey card").check(force=True)
    page.get_by_label("The grey card reflects").fill("19")
    page.get_by_label("The grey card reflects").press("Tab")
    box = page.locator(".photo .surface img").bounding_box()
    with page.expect_response("**/api/chip", timeout=LONG_MS) as answered:
        page.mouse.click(box["x"] + box["width"] * GREY[0] / 100, box["y"] + box["height"] * GREY[1] / 100)
    asked = answered.value.request.post_data_json
    [card] = asked["greys"]
    assert card["reflects"] == pytest.approx(0.19)
    reference = read_reference(CARD, greys=[Grey((card["x"], card["y"]), 0.19)])
    assert answered.value.json()["lab"] == pytest.approx(spot_seen(reference, at).lab, abs=0.01)


@pytest.mark.parametrize("panel", ["Greys", "Correct"])
def test_a_phone_has_room_for_it(open_page: Any, panel: str) -> None:
    page = open_page(viewport={"width": 390, "height": 800})
    page.get_by_role("link", name=panel).click()
    if panel == "Correct":
        page.get_by_text("Off a photograph").click()
    drop(page)
    page.locator(".photo .artwork").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
