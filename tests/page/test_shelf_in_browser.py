"""The shelf as a painter uses it: find, tick, reload, and what the command line makes of the ticks."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import expect

from layersim import demo_scheme
from layersim.cli import main

from .browser import OpenPage


def go(page: Any, panel: str) -> None:
    page.wait_for_selector("nav a")
    page.click(f'nav a[data-panel="{panel}"]')


def test_a_search_knows_red_glaze(page: Any) -> None:
    go(page, "shelf")
    page.wait_for_selector(".paint-card")
    page.get_by_label("Find paints").fill("red glaze")
    expect(page.locator(".paint-card")).to_have_count(1)
    assert page.locator(".paint-card .name").all_inner_texts() == ["magenta ink"]


def test_ticks_outlive_a_reload_and_the_command_line_reads_them(
    page: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    go(page, "shelf")
    for name in ("bone", "turquoise", "matt varnish"):
        with page.expect_response("**/api/owned"):
            page.get_by_label(f"I own {name}", exact=True).check()
    page.reload()
    page.wait_for_selector(".paint-card")
    ticked = page.locator(".paint-card input:checked")
    assert sorted(one.get_attribute("aria-label") for one in ticked.all()) == [
        "I own bone",
        "I own matt varnish",
        "I own turquoise",
    ]

    words = ["--area", "lamp glass", "--coat", "glow", "--mid", "60,-8,0", "--owned", "--drops", "3"]
    assert main(["match", str(demo_scheme()), *words, "--tones", "3", "--no-picture"]) == 0
    # Varnish is owned, too, but is no colour to mix with.
    assert re.search(r"of 2 paints", capsys.readouterr().out)


def test_it_is_used_by_keyboard_alone(page: Any) -> None:
    go(page, "shelf")
    page.get_by_label("Find paints").focus()
    page.keyboard.type("crimson")
    expect(page.locator(".paint-card")).to_have_count(1)
    for _ in range(3):
        page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector("dialog[open]")
    assert "Hides" in page.inner_text("dialog")
    page.keyboard.press("Escape")
    page.keyboard.press("Tab")
    with page.expect_response("**/api/owned"):
        page.keyboard.press("Space")
    assert page.get_by_label("I own crimson").is_checked()


def test_no_swatch_bears_a_number_and_nothing_overflows_a_phone(open_page: OpenPage) -> None:
    page = open_page(viewport={"width": 390, "height": 800})
    go(page, "shelf")
    page.wait_for_selector(".paint-card")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert {text.strip() for text in page.locator(".wide-swatches").all_inner_texts()} == {""}
