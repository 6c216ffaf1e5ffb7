"""Every panel is asked by a kept checker (axe-core), and can be read at any size; light and dark."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

PANELS = (
    "Scheme",
    "Shelf",
    "Targets",
    "Greys",
    "On the model",
    "On a form",
    "Match",
    "Correct",
    "Does it matter",
    "Tolerance",
    "Fit",
    "Batch",
)
LARGE = {
    "light, phone": {"viewport": {"width": 390, "height": 800}},
    "dark, phone": {"viewport": {"width": 390, "height": 800}, "color_scheme": "dark"},
    "light, desk": {"viewport": {"width": 1280, "height": 900}},
    "dark, desk": {"viewport": {"width": 1280, "height": 900}, "color_scheme": "dark"},
}
# What a panel shows once it has been worked out.
SHOWN = {
    "Scheme": ".more .server table",
    "Shelf": ".panel.shelf [role=img]",
    "On a form": ".turned canvas",
    "Batch": ".tasks input",
}
SLOW_MS = 20_000
# Beyond the checker's usual rules: targets large enough for a finger (WCAG 2.2, 2.5.8).
RULES = {"rules": {"target-size": {"enabled": True}}}


def findings(page: Any) -> list[str]:
    """Return what the checker calls serious or critical."""
    found = Axe().run(page, options=RULES).response["violations"]
    return [
        f"{one['id']}: {node['html'][:160]} ({node['failureSummary'][:400]})"
        for one in found
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]


def panels(page: Any) -> Any:
    """Go through all panels, each with its folds open."""
    for name in PANELS:
        page.get_by_role("link", name=name, exact=True).click()
        page.locator(f"nav a[aria-current]:text-is('{name}')").wait_for()
        page.evaluate("document.querySelectorAll('main details').forEach((one) => (one.open = true))")
        if name in SHOWN:
            page.locator(SHOWN[name]).first.wait_for(timeout=SLOW_MS)
        yield name


@pytest.mark.parametrize("looks", LARGE)
def test_the_checker_finds_nothing_serious(open_page: Any, looks: str) -> None:
    page = open_page(**LARGE[looks])
    page.locator(".strip.big[aria-label]").wait_for()
    found = {name: findings(page) for name in panels(page)}
    assert not any(found.values()), {name: said for name, said in found.items() if said}


@pytest.mark.parametrize("width", [640, 390, 320])
def test_nothing_is_beyond_the_side(open_page: Any, width: int) -> None:
    """Zoomed to 200 % on a screen of 1280 px a page is 640 px wide; 320 px is what WCAG 1.4.10 asks for."""
    page = open_page(viewport={"width": width, "height": 450})
    page.locator(".strip.big[aria-label]").wait_for()
    for name in panels(page):
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width, name
