"""The scheme on a form in space, as a painter turns it; in a browser that draws without graphics hardware."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.page.browser import seen_so

coloraide = pytest.importorskip("coloraide")
trimesh = pytest.importorskip("trimesh")
pytest.importorskip("embreex")

LONG_MS = 60_000
PANEL = ".panel.form"
NO_SPACE = """
    const get = HTMLCanvasElement.prototype.getContext;
    HTMLCanvasElement.prototype.getContext = function (kind, ...more) {
        return kind.startsWith("webgl") ? null : get.call(this, kind, ...more);
    };
"""


def opened(open_page: Any, **looks: Any) -> Any:
    page = open_page(**{"viewport": {"width": 1280, "height": 900}, **looks})
    page.get_by_role("link", name="On a form").click()
    page.locator(".turned canvas").wait_for(timeout=LONG_MS)
    return page


def shown(page: Any) -> np.ndarray:
    """What the form looks like on the screen."""
    png = page.locator(".turned").screenshot()
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(float)


def until(page: Any, met: Callable[[np.ndarray], Any]) -> np.ndarray:
    return seen_so(page, shown, met)


def is_there(picture: np.ndarray) -> bool:
    """Return whether something blue is before the grey, as the demo's cloth is."""
    return bool((picture[..., 2] > 1.5 * picture[..., 0]).mean() > 0.05)


def apart(one: np.ndarray, other: np.ndarray) -> float:
    return float(np.abs(one - other).max())


def test_it_is_turned_by_hand_and_follows_a_change(open_page: Any) -> None:
    page = open_page(viewport={"width": 1280, "height": 900})
    asked: list[str] = []
    page.on("request", lambda one: asked.append(one.url))
    page.locator(".strip.big[aria-label]").wait_for()
    # What draws in space is loaded when there is a form to be seen, and not with every page.
    assert not [url for url in asked if "vendor" in url]
    page.get_by_role("link", name="On a form").click()
    page.locator(".turned canvas").wait_for(timeout=LONG_MS)
    surface = page.locator(".turned")
    front = until(page, is_there)
    expect(surface).to_have_attribute("aria-label", "The form in the scheme's colours. Seen from the front")

    surface.focus()
    for _ in range(5):
        page.keyboard.press("ArrowLeft")
    until(page, lambda now: apart(now, front) > 50)
    expect(surface).to_have_attribute(
        "aria-label", "The form in the scheme's colours. Seen from the front and its left"
    )
    page.keyboard.press("Home")
    until(page, lambda now: apart(now, front) < 3)
    page.keyboard.press("+")
    until(page, lambda now: (apart(now, front) > 50) and is_there(now))
    page.keyboard.press("Home")
    box = surface.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2 - 360, box["y"] + box["height"] / 2, steps=4)
    page.mouse.up()
    expect(surface).to_have_attribute("aria-label", "The form in the scheme's colours. Seen from behind")
    page.get_by_role("button", name="Show its front").click()
    until(page, lambda now: apart(now, front) < 3)

    # A lamp, a part and a stage are seen on it, and on the scheme's panel a coat that is changed.
    page.get_by_label("cloth").select_option("straps")
    until(page, lambda now: not is_there(now))
    page.get_by_label("cloth").select_option("wax cloth")
    until(page, is_there)
    page.get_by_role("radio", name="preshaded").check()
    until(page, lambda now: np.ptp(now, axis=-1).mean() < 5 and apart(now, front) > 50)
    page.get_by_role("radio", name="finished").check()
    until(page, lambda now: apart(now, front) < 3)
    page.get_by_role("link", name="Scheme", exact=True).click()
    page.locator(".panel.scheme .turned canvas").wait_for()
    before = until(page, is_there)
    page.locator("[data-key=c0-coats]").fill("12")
    page.keyboard.press("Tab")
    until(page, lambda now: apart(now, before) > 5)


def test_a_flat_face_seen_straight_on_has_the_strips_colour(open_page: Any, tmp_path: Path) -> None:
    """By coloraide: what is drawn in space is neither lightened nor darkened on its way to the screen."""
    plate = trimesh.creation.box((1.0, 0.2, 1.0))
    for _ in range(4):
        plate = plate.subdivide()
    file = tmp_path / "plate.stl"
    plate.export(file)
    page = opened(open_page)
    page.set_input_files("[data-key=mesh]", file)
    page.get_by_text("All of it").wait_for(timeout=LONG_MS)
    page.get_by_label("the front", exact=True).check()
    page.get_by_label("above", exact=True).uncheck()
    page.locator(".turned").focus()
    page.keyboard.press("ArrowUp")
    expect(page.locator(".progress")).to_have_count(0, timeout=LONG_MS)
    _, told = page.running.ask("/api/colours", {"edits": [], "tones": 33})
    lab = told["areas"][0]["stages"][-1]["lab"][-1]
    wanted = 255.0 * np.array(coloraide.Color("lab-d65", lab).convert("srgb").clip().coords())

    def middle(picture: np.ndarray) -> np.ndarray:
        height, width = (n // 2 for n in picture.shape[:2])
        return picture[height - 20 : height + 20, width - 20 : width + 20].mean(axis=(0, 1))

    picture = until(page, lambda now: np.abs(middle(now) - wanted).max() < 12)
    assert middle(picture) == pytest.approx(wanted, abs=4)


def test_metal_glints_and_paint_does_not(open_page: Any) -> None:
    page = opened(open_page)
    page.get_by_label("Form", exact=True).select_option("ball")
    page.locator("[data-key=part-ball]").wait_for(timeout=LONG_MS)

    def glint(picture: np.ndarray) -> float:
        """How much lighter than most of the ball its lightest place is."""
        ball = picture[np.abs(picture - picture[2, 2]).max(axis=-1) > 8].mean(axis=-1)
        return float(np.quantile(ball, 0.99) - np.median(ball)) if ball.size else 0.0

    page.locator("[data-key=part-ball]").select_option("lamp frame")
    until(page, lambda now: glint(now) > 110)
    page.locator("[data-key=part-ball]").select_option("straps")
    until(page, lambda now: 10 < glint(now) < 80)


def test_what_is_no_mesh_leaves_the_form_that_is_there(open_page: Any, tmp_path: Path) -> None:
    file = tmp_path / "cut.stl"
    file.write_bytes(b"nonsense")
    page = opened(open_page)
    page.set_input_files("[data-key=mesh]", file)
    expect(page.locator(f"{PANEL} > .fault")).to_contain_text("cut.stl: found no triangles", timeout=LONG_MS)
    chosen = page.locator("[data-key=form]")
    expect(chosen).to_have_value("lamplighter")
    expect(chosen).not_to_contain_text("cut.stl")


def test_a_browser_that_draws_nothing_in_space_shows_four_sides(open_page: Any) -> None:
    page = open_page(viewport={"width": 390, "height": 800})
    page.context.add_init_script(NO_SPACE)
    page.reload()
    page.locator(".strip.big[aria-label]").wait_for()
    page.get_by_role("link", name="On a form").click()
    page.locator(".in-space img").wait_for(timeout=LONG_MS)
    expect(page.get_by_text("draws nothing in space here")).to_be_visible()
    expect(page.locator(".turned")).to_be_hidden()


def test_hardware_that_is_taken_away_and_comes_back(open_page: Any) -> None:
    page = opened(open_page)
    before = until(page, is_there)
    page.evaluate(
        """() => {
            const context = document.querySelector(".turned canvas").getContext("webgl2");
            window.taken = context.getExtension("WEBGL_lose_context");
            window.taken.loseContext();
        }"""
    )
    page.locator(".in-space img").wait_for(timeout=LONG_MS)
    page.evaluate("window.taken.restoreContext()")
    page.locator(".turned").wait_for(timeout=LONG_MS)
    until(page, lambda now: apart(now, before) < 3)


def test_who_wants_less_motion_is_not_offered_any(open_page: Any) -> None:
    page = opened(open_page)
    page.get_by_label("Turn slowly").check()
    first = shown(page)
    until(page, lambda now: apart(now, first) > 20)
    page.emulate_media(reduced_motion="reduce")
    expect(page.get_by_label("Turn slowly")).to_be_hidden()
    page.wait_for_timeout(300)
    still = shown(page)
    page.wait_for_timeout(500)
    assert apart(shown(page), still) < 3
