"""The scheme on a photograph of the model, by clicks: areas by their corners, and every change seen on it."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from typing import Any

import numpy as np
from PIL import Image
from playwright.sync_api import expect

from layersim.resources import data_folder
from tests.page.browser import seen_so

MODEL = data_folder() / "examples" / "lamplighter.jpg"
GREY = (11.0, 88.0)
COAT = [(30.0, 58.0), (44.0, 58.0), (60.0, 92.0), (14.0, 92.0)]
LONG_MS = 60_000


def click(page: Any, at: tuple[float, float]) -> None:
    image = page.locator(".panel.figure .surface img")
    image.scroll_into_view_if_needed()
    box = image.bounding_box()
    page.mouse.click(box["x"] + box["width"] * at[0] / 100, box["y"] + box["height"] * at[1] / 100)


def shown(page: Any) -> np.ndarray:
    """What the page shows of the finished model, as it is sent."""
    image = page.locator(".model .seen img").first
    expect(image).to_be_visible(timeout=LONG_MS)
    url = image.evaluate(
        """async (one) => {
            await one.decode();
            const canvas = document.createElement("canvas");
            canvas.width = one.naturalWidth;
            canvas.height = one.naturalHeight;
            canvas.getContext("2d").drawImage(one, 0, 0);
            return canvas.toDataURL("image/png");
        }"""
    )
    png = base64.b64decode(url.partition(",")[2])
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(float)


def until(page: Any, met: Callable[[np.ndarray], Any]) -> np.ndarray:
    return seen_so(page, shown, met)


def test_the_photograph_comes_back_in_the_schemes_colours_and_follows_a_change(open_page: Any) -> None:
    page = open_page(viewport={"width": 1280, "height": 900})
    page.get_by_role("link", name="On the model").click()
    page.set_input_files("[data-key=model]", MODEL)
    page.locator(".panel.figure .surface img").wait_for()
    expect(page.locator("[data-key=what]")).to_have_value("the grey card")
    click(page, GREY)
    # The grey card is there, so the first area is next.
    expect(page.locator("[data-key=what]")).to_have_value("wax cloth")
    page.get_by_role("radio", name="Corners").check()
    for corner in COAT:
        click(page, corner)

    def is_blue(picture: np.ndarray) -> bool:
        height, width = picture.shape[:2]
        inside = picture[int(0.8 * height), int(0.3 * width)]
        return bool(inside[2] > 1.5 * inside[0])

    finished = until(page, is_blue)
    height, width = finished.shape[:2]
    outside = finished[int(0.3 * height), int(0.3 * width)]
    assert np.ptp(outside) < 40  # what is not pointed at is grey as before
    expect(page.locator(".panel.figure .said")).to_contain_text("wax cloth:")

    # On the scheme's panel, a change of a coat is seen on the model.
    page.get_by_role("link", name="Scheme", exact=True).click()
    page.locator(".model .seen img").first.wait_for(timeout=LONG_MS)
    before = shown(page)
    page.get_by_role("combobox", name="Lamp").select_option("A")
    until(page, lambda picture: np.abs(picture - before).max() > 3.0)


def test_what_is_wrong_is_said(open_page: Any) -> None:
    page = open_page(viewport={"width": 1280, "height": 900})
    page.get_by_role("link", name="On the model").click()
    page.set_input_files("[data-key=model]", MODEL)
    page.locator(".panel.figure .surface img").wait_for()
    # Without a grey card there is nothing to tell greys by.
    page.locator("[data-key=what]").select_option("straps")
    page.get_by_role("radio", name="Corners").check()
    for corner in COAT:
        click(page, corner)
    fault = page.locator(".panel.figure > .fault")
    expect(fault).to_contain_text("no 24-patch chart is found", timeout=LONG_MS)
    page.get_by_role("button", name="Take the last point back").click()
    page.get_by_role("button", name="Take the last point back").click()
    expect(page.get_by_text("Paint in one area")).to_be_visible()


def drag(page: Any, points: list[tuple[float, float]]) -> None:
    """Draw with the mouse held down."""
    box = page.locator(".panel.figure .surface img").bounding_box()
    at = [(box["x"] + box["width"] * x / 100, box["y"] + box["height"] * y / 100) for x, y in points]
    page.mouse.move(*at[0])
    page.mouse.down()
    for one in at[1:]:
        page.mouse.move(*one, steps=8)
    page.mouse.up()


def outline(page: Any, which: str) -> tuple[float, float, float, float]:
    """The box that an outline fills, in per cent of the picture: left, top, right, bottom."""
    line = page.locator(f".outlines {which}")
    expect(line).to_have_count(1, timeout=LONG_MS)
    box = line.evaluate(
        "one => { const b = one.getBBox(); return [b.x, b.y, b.x + b.width, b.y + b.height]; }"
    )
    return tuple(box)


def test_what_is_painted_roughly_grows_to_the_edges_and_is_taken_back(open_page: Any) -> None:
    page = open_page(viewport={"width": 1280, "height": 1000})
    page.get_by_role("link", name="On the model").click()
    page.set_input_files("[data-key=model]", MODEL)
    page.locator(".panel.figure .surface img").wait_for()
    click(page, GREY)
    expect(page.locator("[data-key=what]")).to_have_value("wax cloth")
    drag(page, [(28.0, 58.0), (32.0, 38.0), (50.0, 36.0), (68.0, 36.0), (80.0, 47.0)])
    drag(page, [(27.0, 90.0), (40.0, 62.0), (50.0, 88.0), (62.0, 62.0), (72.0, 90.0)])
    expect(page.get_by_role("button", name="Take the last stroke back")).to_be_visible()
    page.locator(".panel.figure .said").wait_for(timeout=LONG_MS)
    expect(page.locator(".panel.figure .said")).to_contain_text("wax cloth:", timeout=LONG_MS)
    left, _, right, bottom = outline(page, ".area.now")
    # The coat's hem goes from 20 to 80 per cent across, and ends at 94.
    assert abs(left - 20) < 4
    assert abs(right - 82) < 6
    assert abs(bottom - 94) < 2

    # By keyboard, the brush dabs: the lamp's glass.
    page.locator("[data-key=what]").select_option("lamp glass")
    surface = page.locator(".panel.figure .surface")
    click_at = (79.5, 63.0)
    box = page.locator(".panel.figure .surface img").bounding_box()
    page.mouse.move(box["x"] + box["width"] * click_at[0] / 100, box["y"] + box["height"] * click_at[1] / 100)
    surface.focus()
    page.keyboard.press("Enter")
    left, top, right, bottom = outline(page, ".area.now")
    assert 70 < left < 79.5 < right < 90
    assert 55 < top < 63 < bottom < 72
    page.get_by_role("button", name="Take the last stroke back").click()
    expect(page.locator(".outlines .area.now")).to_have_count(0)
    expect(page.locator(".outlines .area")).to_have_count(1)

    # Its greys go into the scheme, and are taken back like any change.
    page.locator("[data-key='greys-wax cloth']").click(timeout=LONG_MS)
    expect(page.get_by_text("Written into the scheme")).to_be_visible()
    expect(page.locator("[data-key='greys-wax cloth']")).to_have_count(0, timeout=LONG_MS)


def test_a_finger_paints_and_does_not_scroll(open_page: Any) -> None:
    page = open_page(viewport={"width": 390, "height": 844}, has_touch=True)
    page.get_by_role("link", name="On the model").click()
    page.set_input_files("[data-key=model]", MODEL)
    page.locator(".panel.figure .surface img").wait_for()
    click(page, GREY)
    image = page.locator(".panel.figure .surface img")
    image.scroll_into_view_if_needed()
    box = image.bounding_box()
    before = page.evaluate("scrollY")
    finger = page.context.new_cdp_session(page)

    def touch(kind: str, *at: float) -> None:
        points = [{"x": box["x"] + box["width"] * at[0] / 100, "y": box["y"] + box["height"] * at[1] / 100}]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", 40.0, 62.0)
    for step in range(1, 11):
        touch("touchMove", 40.0 + step, 62.0 + 2.5 * step)
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    left, top, right, bottom = outline(page, ".area.now")
    assert left < 42 < 48 < right
    assert top < 64 < 85 < bottom
    assert page.evaluate("scrollY") == before
