"""The batch in a real browser: the card, its ticks and its print, and what was sprayed."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

SLOW_MS = 90_000


def card(page: Any) -> Any:
    page.get_by_role("link", name="Batch").click()
    boxes = page.locator(".tasks input[type=checkbox]")
    boxes.first.wait_for(timeout=SLOW_MS)
    return boxes


def test_a_tick_survives_a_new_start(page: Any, open_page: Any, start: Any) -> None:
    running = page.running
    running.ask("/api/save", {"as": "mine.toml"})
    boxes = card(page)
    boxes.nth(1).check()
    page.get_by_text("1 of ").wait_for()
    name = boxes.nth(1).get_attribute("aria-label")
    page.reload()
    page.get_by_text("1 of ").wait_for(timeout=SLOW_MS)
    assert page.locator(".tasks input:checked").get_attribute("aria-label") == name
    page.close()
    running.stop()
    again = open_page(running=start(str(running.folder / "mine.toml"), folder=running.folder))
    card(again)
    again.get_by_text("1 of ").wait_for()
    assert again.locator(".tasks input:checked").get_attribute("aria-label") == name


def test_printing_gives_the_card_with_its_cautions(page: Any) -> None:
    card(page)
    page.evaluate("window.print = () => { window.printed = true; }")
    page.get_by_role("button", name="Print the card").click()
    assert page.evaluate("window.printed")
    page.emulate_media(media="print")
    assert not page.locator("header.head").is_visible()
    assert not page.get_by_role("button", name="Print the card").is_visible()
    assert page.locator(".tasks h3").first.is_visible()
    assert page.locator(".place").first.is_visible()
    assert page.locator(".server").get_by_text("mist").first.is_visible()
    assert page.pdf().startswith(b"%PDF")


def test_no_number_lies_on_a_colour_until_it_is_asked_for(page: Any) -> None:
    card(page)
    wide = "one => one.getBoundingClientRect().width"
    number = page.locator(".tasks td.tone .on-tone").first
    assert number.evaluate(wide) <= 1
    assert page.locator(".tasks td.tone").first.get_attribute("title").startswith("L* ")
    page.get_by_label("numbers on the colours").check()
    assert number.evaluate(wide) > 5
    page.get_by_label("numbers on the colours").uncheck()
    # On paper nothing is judged.
    page.emulate_media(media="print")
    assert number.evaluate(wide) > 5


def test_the_card_can_be_downloaded(page: Any) -> None:
    card(page)
    for button, ending, begins in (
        ("Download PDF", ".pdf", b"%PDF"),
        ("Download for a phone", ".html", b"<!DO"),
    ):
        with page.expect_download() as coming:
            page.get_by_role("button", name=button).click()
        assert coming.value.suggested_filename.endswith(f"-card{ending}")
        assert coming.value.path().read_bytes().startswith(begins)


def test_what_was_sprayed_is_in_the_log_that_the_command_line_shows(page: Any) -> None:
    page.running.ask("/api/save", {"as": "mine.toml"})
    page.get_by_role("link", name="Batch").click()
    page.get_by_role("radio", name="Sprayed it").check()
    page.get_by_label("Coats laid this time").fill("3")
    page.get_by_label("Note").fill("needle was dirty")
    page.get_by_role("button", name="Sprayed it").click()
    page.locator(".said").get_by_text("3 coats", exact=False).first.wait_for()
    command = [sys.executable, "-m", "layersim", "log", str(page.running.folder / "mine.toml"), "show"]
    shown = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert "3 coats" in shown
    assert "needle was dirty" in shown
    page.get_by_role("button", name="Show the log").click()
    page.locator(".logged .server").get_by_text("needle was dirty").wait_for(timeout=SLOW_MS)
