"""Targets by clicks and by keyboard: what lands in the scheme is the spot's mean."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import expect

from layersim.decide.artwork import read_artwork
from layersim.decide.spot import spot_in

from . import pictures
from .browser import OpenPage

AT = {"shadow": (16, 50), "mid": (50, 50), "light": (83, 50)}
FLAT = {place: "#{:02x}{:02x}{:02x}".format(*rgb) for place, rgb in pictures.COLOURS.items()}


def drop(page: Any, content: bytes, name: str = "cover.png") -> None:
    page.wait_for_selector("nav a")
    page.click('nav a[data-panel="targets"]')
    file = {"name": name, "mimeType": "image/png", "buffer": content}
    page.set_input_files("input[data-key=artwork]", file)


def point_at(page: Any, x: float, y: float) -> None:
    box = page.locator(".surface img").bounding_box()
    with page.expect_response("**/api/spot") as answered:
        page.mouse.click(box["x"] + box["width"] * x / 100, box["y"] + box["height"] * y / 100)
    # It has come; now the page has to show it, too.
    expect(page.locator(".spots")).to_contain_text(f"From the picture: {answered.value.json()['hex']}")


def targets(page: Any, area: int = 0) -> dict[str, str | None]:
    status, scheme = page.running.ask("/api/scheme")
    assert status == 200
    found = scheme["areas"][area]["targets"]
    return {place: found[place] and found[place]["text"].lower() for place in AT}


def write(page: Any) -> None:
    with page.expect_response("**/api/edit"):
        page.click("[data-key=write]")


def test_clicks_land_in_the_scheme_and_undo_takes_them_back(page: Any) -> None:
    drop(page, pictures.artwork())
    page.wait_for_selector(".surface img")
    before = targets(page)
    for place in AT:
        page.check(f"[data-key=place-{place}]", force=True)
        point_at(page, *AT[place])
    expect(page.locator(".spots")).to_contain_text("not written yet")
    write(page)
    assert targets(page) == FLAT
    expect(page.locator(".spots")).not_to_contain_text("not written yet")
    # Numbers lie on no colour that is judged.
    assert "#" not in page.inner_text(".spots")

    with page.expect_response("**/api/undo"):
        page.click("[data-key=undo]")
    assert targets(page) == before


def test_targets_that_are_of_another_area_or_picture_are_told(page: Any) -> None:
    drop(page, pictures.artwork())
    page.wait_for_selector(".surface img")
    point_at(page, *AT["shadow"])
    page.select_option(".chosen [data-key=area]", "1")
    expect(page.locator(".chosen .warning")).to_contain_text("were pointed at for wax cloth")
    page.select_option(".chosen [data-key=area]", "0")
    expect(page.locator(".chosen .warning")).to_have_count(0)
    write(page)
    drop(page, pictures.artwork(noisy=True), "other.png")
    expect(page.locator(".chosen .warning")).to_contain_text("are from cover.png, not from this picture")


def test_a_rough_spot_is_its_mean_in_linear_light(page: Any, tmp_path: Any) -> None:
    path = tmp_path / "cover.png"
    path.write_bytes(pictures.artwork(noisy=True))
    drop(page, path.read_bytes())
    page.wait_for_selector(".surface img")
    box = page.locator(".surface img").bounding_box()
    page.check("[data-key=place-mid]", force=True)
    with page.expect_response("**/api/spot") as answered:
        page.mouse.click(round(box["x"] + box["width"] / 2), round(box["y"] + box["height"] / 2))
    asked, told = answered.value.request.post_data_json, answered.value.json()
    spot = spot_in(read_artwork(path), (asked["x"], asked["y"]))
    assert told["lab"] == pytest.approx(spot.lab, abs=0.01)
    assert f"ΔE00 {spot.spread:.1f}" in page.text_content(".spots")
    write(page)
    assert targets(page)["mid"] == told["hex"]


def test_by_keyboard_alone(page: Any) -> None:
    drop(page, pictures.artwork())
    page.wait_for_selector(".surface img")
    page.focus(".surface")
    page.keyboard.press("Shift+ArrowRight")
    for _ in range(6):
        page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("ArrowUp")
    with page.expect_response("**/api/spot") as answered:
        page.keyboard.press("Enter")
    assert answered.value.request.post_data_json["x"] == pytest.approx(25.0)
    assert answered.value.json()["hex"] == FLAT["shadow"]
    # The next that is not set yet is on.
    assert page.is_checked("[data-key=place-mid]")


def test_what_is_no_picture_is_told_beside_it(page: Any, complaints: list[str]) -> None:
    drop(page, pictures.EPS, "cover.jpg")
    told = re.compile("^cover.jpg: found no picture of a kind read here")
    expect(page.locator(".targets > .fault")).to_have_text(told)
    complaints.clear()


def test_a_phone_has_room_for_it(open_page: OpenPage) -> None:
    page = open_page(viewport={"width": 390, "height": 800})
    drop(page, pictures.artwork())
    page.wait_for_selector(".surface img")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
