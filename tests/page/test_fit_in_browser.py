"""A card dropped on the page gives what `layersim fit` gives, and the picture shows what is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from playwright.sync_api import expect

from layersim.cli import main
from layersim.resources import data_folder
from layersim.shelf import own_folder

from .browser import OpenPage

EXAMPLES = data_folder() / "examples"
LONG_MS = 60_000


def go(page: Any) -> None:
    page.wait_for_selector("nav a")
    page.click('nav a[data-panel="fit"]')
    page.wait_for_selector("[data-key=example]")


def test_the_example_card_gives_what_the_command_line_gives(page: Any, tmp_path: Path) -> None:
    out = tmp_path / "teal.toml"
    assert main(["fit", str(EXAMPLES / "teal-card.toml"), "--out", str(out), "--no-picture"]) == 0
    go(page)
    page.click("[data-key=example]")
    page.wait_for_selector(".photograph img", timeout=LONG_MS)
    page.click("[data-key=fit]")
    page.wait_for_selector("[data-key=keep]", timeout=LONG_MS)
    assert "Good enough to plan with." in page.inner_text(".answer")
    with page.expect_response("**/api/fit/keep"):
        page.click("[data-key=keep]")
    kept = own_folder() / "storm-teal.toml"
    assert kept.read_bytes() == out.read_bytes()

    # A second time it asks, and leaving it leaves the file.
    kept.write_text("mine", "utf-8")
    page.click("[data-key=keep]")
    page.wait_for_selector("dialog[open]")
    page.get_by_role("button", name="Leave it").click()
    assert kept.read_text("utf-8") == "mine"
    page.click("[data-key=keep]")
    page.wait_for_selector("dialog[open]")
    with page.expect_response("**/api/fit/keep"):
        page.get_by_role("button", name="Write over it").click()
    assert kept.read_bytes() == out.read_bytes()


def drop_card(page: Any, pixels: np.ndarray, path: Path) -> None:
    """Drop a photograph of the example's card, and what is where on it."""
    Image.fromarray(pixels).save(path)
    go(page)
    page.click("summary")
    with page.expect_response("**/api/upload/layout*"):
        page.set_input_files("input[data-key=layout]", EXAMPLES / "teal-card-layout.toml")
    page.set_input_files("input[data-key=card]", path)
    page.wait_for_selector(".photograph img", timeout=LONG_MS)


def test_a_dropped_card_shows_glare_where_it_is(page: Any, tmp_path: Path) -> None:
    pixels = np.array(Image.open(EXAMPLES / "teal-card.jpg"))
    pixels[400:460, 300:420] = 255
    drop_card(page, pixels, tmp_path / "my card.png")
    assert "place white 0.5: " in page.inner_text("ol.wrong")
    assert page.locator(".photograph polygon.wrong.over").count() == 2
    assert "clipped" in page.get_attribute(".photograph img", "alt")

    page.click("[data-key=fit]")
    expect(page.locator(".fitting")).to_contain_text("what the paint is called")


def test_corners_are_pointed_at_where_the_card_is_not_found(page: Any, tmp_path: Path) -> None:
    pixels = np.array(Image.open(EXAMPLES / "teal-card.jpg"))
    pixels[:300] = 120
    drop_card(page, pixels, tmp_path / "my card.png")
    # On the picture, and in words beside it.
    assert "card not found" in page.text_content(".photograph svg")
    assert "corner mark upper left: not seen" in page.inner_text("ol.wrong")
    assert page.locator(".photograph polygon.wrong.over").count() == 2
    assert "corners_px" not in page.inner_text(".fitting")

    page.click("[data-key=corners-0-card]")
    for x, y in ((17.9, 9.2), (86.2, 12.3), (85.8, 49.6), (15.1, 47.3)):
        box = page.locator(".surface img").bounding_box()
        page.mouse.click(box["x"] + box["width"] * x / 100, box["y"] + box["height"] * y / 100)
    expect(page.locator(".photograph figcaption")).to_contain_text("The card is found", timeout=LONG_MS)
    assert page.locator("ol.wrong li").all_inner_texts() != []
    page.click("[data-key=corners-0-none]")
    expect(page.locator(".photograph figcaption")).to_contain_text("The card is not found", timeout=LONG_MS)


def test_who_sprayed_the_card_and_a_known_paint_are_asked_for(page: Any) -> None:
    go(page)
    page.set_input_files("input[data-key=card]", EXAMPLES / "teal-card.jpg")
    page.wait_for_selector("[data-key=fit]", timeout=LONG_MS)
    page.get_by_text("Who sprayed it").click()
    page.fill("[data-key=fit-sprayer]", "new hand")
    page.press("[data-key=fit-sprayer]", "Tab")
    page.click("[data-key=known]")
    page.locator("dialog .picker").get_by_text("deep teal").first.click()
    expect(page.locator("[data-key=fit]")).to_have_text("Learn the film of a coat")
    with page.expect_request("**/api/fit") as asked:
        page.click("[data-key=fit]")
    assert asked.value.post_data_json["known"] == "deep teal"
    assert asked.value.post_data_json["sprayer"] == "new hand"


def test_it_can_be_stopped(page: Any) -> None:
    go(page)
    page.click("[data-key=example]")
    page.get_by_role("button", name="Stop", exact=True).click()
    expect(page.locator(".running .progress")).to_have_count(0)
    assert page.locator(".photograph").count() == 0


def test_a_phone_has_room_for_it(open_page: OpenPage) -> None:
    page = open_page(viewport={"width": 390, "height": 800})
    go(page)
    page.click("[data-key=example]")
    page.wait_for_selector(".photograph img", timeout=LONG_MS)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
