"""Somebody new: from `layersim open` in an empty folder to the printed card of their own scheme."""

from __future__ import annotations

import tomllib
from typing import Any

from tests.page.test_scheme_in_browser import SLOW_MS, button, changed, names, ready


def test_from_an_empty_folder_to_a_printed_card(page: Any) -> None:
    ready(page)
    assert list(page.running.folder.iterdir()) == []
    button(page, "New").click()
    button(page, "From one area of cloth").click()
    page.get_by_role("heading", name="My scheme").wait_for()
    button(page, "Rename the scheme").click()
    page.get_by_label("Its name").fill("Harbour guard")
    button(page, "Rename it").click()
    page.get_by_text("Preshade", exact=True).first.click()
    page.get_by_role("radio", name="greys I know").check()
    page.get_by_text("greys you know, over black primer").wait_for()
    button(page, "Add a coat").click()
    page.get_by_label("Search the shelf").fill("red glaze")
    page.get_by_text("1 paint", exact=True).wait_for()
    changed(page, lambda: page.locator("dialog .picker button").first.click())
    assert names(page)[-1] == "satin varnish", "a new coat goes under the varnish"
    changed(page, lambda: page.get_by_role("radio", name="recesses").last.check())
    button(page, "Save as").click()
    assert page.get_by_label("File name").input_value() == "harbour-guard.toml"
    button(page, "Save").click()
    page.get_by_text("harbour-guard.toml, written at every change").wait_for()
    page.evaluate("window.print = () => { window.paper = document.querySelector('.paper')?.innerText; }")
    button(page, "Print the bench card").click()
    page.wait_for_function("() => Boolean(window.paper)", timeout=SLOW_MS)
    card = page.evaluate("window.paper")
    said = tomllib.loads((page.running.folder / "harbour-guard.toml").read_text("utf-8"))
    assert all(coat["name"] in card for coat in said["area"][0]["coat"])
    assert "Harbour guard" in card
