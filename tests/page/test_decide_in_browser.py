"""Match, and what it matters, in a real browser."""

from __future__ import annotations

from typing import Any

import pytest

from layersim.owned import mark, owned_file
from layersim.shelf import Shelf

from . import pictures

SLOW_MS = 60_000


@pytest.fixture(autouse=True)
def own_paints(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Few paints are owned, so that a match takes little."""
    monkeypatch.setenv("LAYERSIM_PAINTS", str(tmp_path / "paints"))
    shelf = Shelf.usual()
    names = ("navy blue", "blue ink", "bone")
    mark(owned_file(), [shelf.find(name).name for name in names], owned=True)


def recipe(page: Any, coat: int = 0) -> Any:
    state = page.running.ask("/api/scheme")[1]
    parts = state["areas"][0]["coats"][coat]["parts"]
    return {part["paint"]: part["drops"] for part in parts}


def test_a_match_is_used_and_undone(page: Any) -> None:
    before = recipe(page)
    page.get_by_role("link", name="Match").click()
    page.get_by_label("only paints I own").check()
    page.get_by_role("button", name="Find mixes").click()
    use = page.get_by_role("button", name="Use it").nth(1)
    use.wait_for(timeout=SLOW_MS)
    strip = page.locator("figure.now .strip")
    shown = strip.get_attribute("aria-label")
    use.click()
    page.get_by_text("The scheme has changed since").wait_for()
    assert recipe(page) != before
    assert set(recipe(page)) <= {"navy blue", "blue ink", "bone"}
    page.wait_for_function("was => document.querySelector('figure.now .strip').ariaLabel !== was", arg=shown)
    page.get_by_role("button", name="Undo").click()
    page.wait_for_function("was => document.querySelector('figure.now .strip').ariaLabel === was", arg=shown)
    assert recipe(page) == before


def test_the_artwork_and_limits_are_what_is_asked_for(page: Any) -> None:
    page.get_by_role("link", name="Targets").click()
    file = {"name": "cover.png", "mimeType": "image/png", "buffer": pictures.artwork()}
    page.set_input_files("[data-key=artwork]", file)
    image = page.locator(".surface img")
    image.wait_for()
    box = image.bounding_box()
    with page.expect_response("**/api/spot"):
        page.mouse.click(box["x"] + box["width"] * 0.16, box["y"] + box["height"] * 0.5)
    page.locator(".spots").get_by_text("not written yet").wait_for()
    page.get_by_role("link", name="Match").click()
    page.get_by_role("radio", name="the artwork cover.png").check(force=True)
    page.get_by_label("only paints I own").check()
    page.get_by_text("Limits, filters and other preshades").click()
    page.get_by_label("Paints in a mix, at most").fill("1")
    page.get_by_label("Coats to try").fill("1-2")
    page.get_by_role("button", name="Try a glaze as a filter after it").click()
    page.locator("dialog .picker").get_by_text("blue ink").first.click()
    page.get_by_role("button", name="Do not try blue ink as a filter").wait_for()
    with page.expect_request("**/api/match") as sent:
        page.get_by_role("button", name="Find mixes").click()
    asked = sent.value.post_data_json
    assert asked["limits"] == {"paints_at_most": 1, "coats": "1-2"}
    assert asked["filters"] == ["blue ink"]
    assert list(asked["artwork"]["spots"]) == ["shadow"]
    page.get_by_role("button", name="Use it").first.wait_for(timeout=SLOW_MS)
    # What is found stays, and so do the limits, folded open as they were.
    assert page.get_by_label("Coats to try").input_value() == "1-2"


def test_a_running_match_is_stopped(page: Any) -> None:
    page.get_by_role("link", name="Match").click()
    page.get_by_role("radio", name="thorough").check()
    page.get_by_role("button", name="Find mixes").click()
    page.get_by_text("trying recipes").wait_for(timeout=SLOW_MS)
    page.get_by_role("group", name="Find mixes: working").get_by_role("button", name="Stop").click()
    page.get_by_text("Stopped.").wait_for()
    assert page.running.ask("/api/work/1")[1]["state"] == "stopped"
    assert page.get_by_role("button", name="Find mixes").is_enabled()


def test_another_panel_meanwhile_loses_nothing(page: Any) -> None:
    page.get_by_role("link", name="Does it matter").click()
    page.get_by_label("Choice 1").fill("bare: without filter")
    page.get_by_role("button", name="Compare", exact=True).click()
    page.get_by_role("group", name="Compare: working").wait_for()
    page.get_by_role("link", name="Tolerance").click()
    page.get_by_role("link", name="Does it matter").click()
    page.get_by_text("B (bare) instead of A (as written)").wait_for(timeout=SLOW_MS)
    assert page.get_by_label("Choice 1").input_value() == "bare: without filter"


def test_a_beside_b_says_whether_it_matters(page: Any) -> None:
    page.get_by_text("A beside B").click()
    page.get_by_role("button", name="Pin what is here now").click()
    page.get_by_role("button", name="Does it matter?").wait_for()
    edit = {"do": "set", "at": ["area", 0, "coat", 0, "coats"], "value": 6}
    page.running.ask("/api/edit", {"edits": [edit], "what": "six coats"})
    page.get_by_role("button", name="Does it matter?").click()
    page.get_by_text("B (B, now) instead of A (A, pinned)").wait_for(timeout=SLOW_MS)
