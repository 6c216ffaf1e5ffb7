"""The scheme's panel by keyboard alone, and what who does not see it hears."""

from __future__ import annotations

from typing import Any

import pytest

from tests.page.browser import settled
from tests.page.test_scheme_in_browser import SLOW_MS, changed, names, ready, shown

MOST_TABS = 150
# Everything that has the focus is drawn so: with an outline, itself, its thumb or the words of its box.
SEEN = """() => {
  const one = document.activeElement;
  const drawn = (style) => style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  const parts = [getComputedStyle(one), getComputedStyle(one, "::-webkit-slider-thumb")];
  if (one.nextElementSibling) parts.push(getComputedStyle(one.nextElementSibling));
  return parts.some(drawn) || one.matches(".axis input:focus-visible");
}"""


def focused(page: Any) -> str:
    """Return the name of what has the focus."""
    return page.evaluate(
        """() => {
          const one = document.activeElement;
          const labelled = one.labels?.[0]?.textContent;
          return one.getAttribute("aria-label") || labelled || one.textContent || "";
        }"""
    )


def tab_to(page: Any, name: str) -> None:
    """Go on by the tabulator to what has a name; everything on the way can be seen to have the focus."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        here = focused(page)
        if here:
            assert page.evaluate(SEEN), f"{here}: nothing shows that it has the focus"
        if here == name or here.startswith(f"{name}:"):
            return
    raise AssertionError(f"never came to {name}")


def begin_again(page: Any) -> None:
    page.evaluate("document.activeElement.blur(); document.querySelector('.skip').focus()")


def press(page: Any, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


@pytest.fixture
def heard(page: Any) -> Any:
    """What a screen reader is told of changes, in order."""
    ready(page)
    page.evaluate(
        """() => {
          window.heard = [];
          const spoken = document.getElementById("spoken");
          new MutationObserver(() => window.heard.push(spoken.textContent)).observe(
            spoken, { childList: true, characterData: true, subtree: true });
        }"""
    )
    return lambda: page.evaluate("window.heard")


def test_the_whole_panel_by_keyboard(page: Any, heard: Any) -> None:
    begin_again(page)
    tab_to(page, "Drops of blue ink: more")
    changed(page, lambda: press(page, "Enter"))
    assert focused(page) == "Drops of blue ink: more", "the focus stays"
    changed(page, lambda: press(page, "Space"))
    tab_to(page, "Coats")  # its number
    tab_to(page, "Coats")  # its slider
    changed(page, lambda: press(page, "ArrowRight"))
    coats = page.locator("[data-key='c0-coats']")
    assert coats.input_value() == "3.5"
    tab_to(page, "From lightness")
    changed(page, lambda: press(page, *["ArrowRight"] * 15))
    tab_to(page, "Up to lightness")
    changed(page, lambda: press(page, *["ArrowLeft"] * 10))
    assert page.locator("[data-key='c0-where-0']").input_value() == "43"
    assert page.locator("[data-key='c0-where-1']").input_value() == "76"
    tab_to(page, "Switch off")
    changed(page, lambda: press(page, "Enter"))
    assert page.get_by_text("switched off").is_visible()
    assert focused(page) == "Switch on"
    changed(page, lambda: press(page, "Enter"))
    tab_to(page, "Spray base later")
    changed(page, lambda: press(page, "Enter"))
    assert names(page)[:2] == ["shade", "base"]
    assert focused(page) == "Spray base later"
    begin_again(page)
    tab_to(page, "Undo")
    changed(page, lambda: press(page, "Enter"))
    assert names(page)[:2] == ["base", "shade"]
    assert focused(page).startswith("Undo"), "it can be pressed again"
    said = heard()
    assert len(said) == len(set(said)) == 9, "each change is said once"
    assert said[0].startswith("base: drops of blue ink. wax cloth, finish. Shadow Lab")
    assert said[-1].startswith("Undone: move base. ")


def test_a_beside_b_by_keyboard(page: Any) -> None:
    ready(page)
    begin_again(page)
    tab_to(page, "A beside B")
    press(page, "Enter")
    settled(page)
    tab_to(page, "Pin what is here now as A")
    press(page, "Enter")
    begin_again(page)
    tab_to(page, "Drops of navy blue: more")
    changed(page, lambda: press(page, "Enter"))
    tab_to(page, "Does it matter?")
    press(page, "Enter")
    page.get_by_text("B (B, now) instead of A (A, pinned)").wait_for(timeout=SLOW_MS)


def test_a_new_coat_by_keyboard(page: Any) -> None:
    ready(page)
    begin_again(page)
    tab_to(page, "Add a coat")
    press(page, "Enter")
    page.get_by_label("Search the shelf").wait_for()
    page.keyboard.type("red glaze")
    page.locator("dialog .picker button").first.wait_for()
    settled(page)
    press(page, "Tab", "Tab", "Enter")
    page.locator("[data-key='fold-coat-6']").wait_for()
    settled(page)
    assert page.evaluate("document.activeElement.dataset.key") == "fold-coat-5"
    press(page, "Control+z")
    page.locator("[data-key='fold-coat-6']").wait_for(state="detached")


def test_a_dialog_holds_the_focus_and_gives_it_back(page: Any) -> None:
    ready(page)
    begin_again(page)
    tab_to(page, "Rename the scheme")
    press(page, "Enter")
    for _ in range(6):
        press(page, "Tab")
        assert page.evaluate(
            "document.activeElement === document.body || !!document.activeElement.closest('dialog')"
        )
    press(page, "Escape")
    assert focused(page) == "Rename the scheme"


def test_nothing_moves_where_that_is_asked(open_page: Any) -> None:
    page = open_page(reduced_motion="reduce")
    ready(page)
    moves = page.evaluate(
        """() => [...document.querySelectorAll("*")].filter((one) => {
          const style = getComputedStyle(one);
          return parseFloat(style.transitionDuration) > 0 || parseFloat(style.animationDuration) > 0;
        }).length"""
    )
    assert moves == 0


def test_a_picture_is_told_in_words_too(page: Any) -> None:
    """No strip, target or mark is known by its colour alone."""
    ready(page)
    page.evaluate("document.querySelectorAll('.more details').forEach((one) => (one.open = true))")
    settled(page)
    unnamed = page.evaluate(
        """() => [...document.querySelectorAll(".strip, .target, .swatches")].filter(
          (one) => !one.closest("[aria-hidden], [hidden]") && !one.getAttribute("aria-label")
            && getComputedStyle(one).display !== "none").map((one) => one.outerHTML)"""
    )
    assert unnamed == []
    assert len(shown(page)) == 33
