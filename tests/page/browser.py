"""The page in a real browser, where one is installed, driven as a painter drives it.

`page` is the page just opened on the demo, in an empty folder; `open_page` opens one on a scheme, at a width,
in the dark. What the browser complains of in its console fails the test at its end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest

from tests.bench_card.browser import CHROMIUM, FLAGS
from tests.page.running import Running, Start

OpenPage = Callable[..., Any]


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A browser for all tests of a module."""
    if CHROMIUM is None:
        pytest.skip("Chromium is not installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture
def complaints() -> list[str]:
    """What browsers complained of so far; a test that means to provoke some empties it."""
    return []


def _is_fault(said: Any) -> bool:
    """Return whether a line of the console is a fault; what is refused in words, as 422, is none."""
    return said.type == "error" and "status of 422" not in said.text


def _is_ask(address: str) -> bool:
    """Return whether a page asks the program for something that comes to an end."""
    return "/api/" in address and not address.endswith("/api/events")


def settled(page: Any) -> None:
    """Wait until what was done is written and its colours have come."""
    page.wait_for_timeout(400)  # keys rest before their change is made
    quiet = 0
    while quiet < 3:
        quiet = 0 if page.asks else quiet + 1
        page.wait_for_timeout(50)


@pytest.fixture
def open_page(chromium: Any, start: Start, complaints: list[str]) -> Iterator[OpenPage]:
    """Open a page: on what `running` serves, or started anew with words of the command line.

    Further names go to the browser's context, such as viewport={"width": 390, "height": 800} or
    color_scheme="dark". The page's `running` is what serves it, its `asks` what it waits for.
    """
    contexts: list[Any] = []

    def opened(*words: str, running: Running | None = None, **looks: Any) -> Any:
        at = running or start(*words)
        context = chromium.new_context(**looks)
        contexts.append(context)
        context.set_default_timeout(10_000)
        page = context.new_page()
        page.running, page.asks = at, set()
        page.on("request", lambda one: page.asks.add(one) if _is_ask(one.url) else None)
        for end in ("requestfinished", "requestfailed"):
            page.on(end, lambda one: page.asks.discard(one))
        page.on("pageerror", lambda fault: complaints.append(f"{fault}"))
        page.on("console", lambda said: complaints.append(said.text) if _is_fault(said) else None)
        page.goto(at.address)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not complaints, complaints


@pytest.fixture
def page(open_page: OpenPage) -> Any:
    """The page just opened on the demo."""
    return open_page()


def seen_so(page: Any, shown: Callable[[Any], np.ndarray], met: Callable[[np.ndarray], Any]) -> np.ndarray:
    """Wait until what is shown is as it should be; several pictures may come, one for each change."""
    for _ in range(100):
        picture = shown(page)
        if met(picture):
            return picture
        page.wait_for_timeout(200)
    raise AssertionError("it was never shown so")
