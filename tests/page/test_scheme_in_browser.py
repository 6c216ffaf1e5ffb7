"""The scheme's panel as a painter uses it: change a coat by hand, look, take it back, compare, keep it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layersim import colour
from layersim.optics.surface import SHEENS
from layersim.resources import demo_scheme
from tests.page.browser import settled

coloraide = pytest.importorskip("coloraide")

SLOW_MS = 60_000
FINISH = ".strip.big"


def shown(page: Any, strip: str = FINISH) -> np.ndarray:
    """Return the tones that a strip shows, as L*a*b* under D65, from the colours that the browser paints."""
    painted = page.locator(strip).first.evaluate("(one) => getComputedStyle(one).backgroundImage")
    texts = re.findall(r"lab\([^)]*\)", painted)
    return np.array([coloraide.Color(one).convert("lab-d65").coords() for one in texts])


def previewed(file: Path, *words: str, area: int = 0) -> np.ndarray:
    """Return the finish that `layersim preview` gives a file."""
    to = file.with_suffix(".json")
    command = [
        sys.executable,
        "-m",
        "layersim",
        "preview",
        str(file),
        "--no-picture",
        "--json",
        str(to),
        *words,
    ]
    subprocess.run(command, capture_output=True, check=True)
    return np.array(json.loads(to.read_text())["result"][0]["areas"][area]["lab"][-1])


def as_previewed(page: Any, file: Path, *words: str) -> bool:
    """Return whether the page's finish is that of the command line, at its nine tones."""
    apart = colour.delta_e_2000(shown(page)[::4], previewed(file, *words))
    return bool(apart.max() < 0.1)


def opened(
    open_page: Any, start: Any, tmp_path: Path, text: str | None = None, **looks: Any
) -> tuple[Any, Path]:
    """Open the page on a copy of the demo, and return it with the file."""
    folder = tmp_path / "folder"
    folder.mkdir(exist_ok=True)
    file = folder / "mine.toml"
    file.write_text(text or demo_scheme().read_text("utf-8"), encoding="utf-8")
    page = open_page(running=start(str(file), folder=folder))
    ready(page)
    return page, file


def ready(page: Any) -> None:
    page.locator(f"{FINISH}[aria-label]").wait_for()


def changed(page: Any, act: Any, strip: str = FINISH) -> None:
    """Do something, and wait until a strip has other colours."""
    was = page.locator(strip).first.evaluate("(one) => one.style.backgroundImage")
    act()
    page.wait_for_function(
        "([strip, was]) => document.querySelector(strip).style.backgroundImage !== was", arg=[strip, was]
    )
    settled(page)


def names(page: Any) -> list[str]:
    return list(page.locator(".card.coat .title strong").all_inner_texts())[1:]


def button(page: Any, name: str) -> Any:
    return page.get_by_role("button", name=name, exact=True)


def test_a_changed_coat_has_the_colour_of_the_preview(open_page: Any, start: Any, tmp_path: Path) -> None:
    page, file = opened(open_page, start, tmp_path)
    assert as_previewed(page, file)
    changed(page, lambda: button(page, "Drops of blue ink: more").click())
    assert tomllib.loads(file.read_text())["area"][0]["coat"][0]["mix"]["blue ink"] == 2
    assert as_previewed(page, file)
    assert "#" in file.read_text(), "remarks are kept"


def test_undo_and_redo(open_page: Any, start: Any, tmp_path: Path) -> None:
    page, file = opened(open_page, start, tmp_path)
    before, first = file.read_bytes(), shown(page)
    changed(page, lambda: button(page, "Drops of blue ink: more").click())
    second = shown(page)
    changed(page, lambda: page.get_by_role("button", name="Undo").click())
    assert np.array_equal(shown(page), first)
    assert file.read_bytes() == before
    changed(page, lambda: page.get_by_role("button", name="Redo").click())
    assert np.array_equal(shown(page), second)


def test_a_slider_shows_before_it_is_let_go(open_page: Any, start: Any, tmp_path: Path) -> None:
    page, file = opened(open_page, start, tmp_path)
    before = file.read_bytes()
    slide = page.locator("[data-key='c0-film-slide']")
    slide.scroll_into_view_if_needed()
    box = slide.bounding_box()
    page.mouse.move(box["x"] + 0.1 * box["width"], box["y"] + box["height"] / 2)
    page.mouse.down()
    changed(page, lambda: page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + box["height"] / 2))
    assert file.read_bytes() == before
    page.mouse.up()
    page.get_by_role("button", name="Undo: base: film").wait_for()
    settled(page)
    assert tomllib.loads(file.read_text())["area"][0]["coat"][0]["dry_film_um"] > 2
    assert as_previewed(page, file)


def test_coats_are_switched_off_copied_moved_and_taken_away(page: Any) -> None:
    ready(page)
    assert names(page)[:3] == ["base", "shade", "highlight"]
    changed(page, lambda: button(page, "Switch off").click())
    assert page.get_by_text("switched off, everywhere").is_visible()
    changed(page, lambda: button(page, "Switch on").click())
    button(page, "Copy base").click()
    page.get_by_text("base 2", exact=True).wait_for()
    assert names(page)[:3] == ["base", "base 2", "shade"]
    changed(page, lambda: button(page, "Spray base 2 later").click())
    assert names(page)[:3] == ["base", "shade", "base 2"]
    changed(page, lambda: button(page, "Take base 2 away").click())
    assert names(page)[:3] == ["base", "shade", "highlight"]


def test_a_coat_that_is_off_may_have_the_name_of_one_that_is_on(
    open_page: Any, start: Any, tmp_path: Path
) -> None:
    twice = '[[area.coat]]\nname = "base"\npaint = "bone"\noff = true\n\n[[area.coat]]\n'
    page, file = opened(
        open_page, start, tmp_path, demo_scheme().read_text().replace("[[area.coat]]\n", twice, 1)
    )
    assert names(page)[:3] == ["base", "base", "shade"]
    assert as_previewed(page, file)
    page.locator("[data-key='fold-coat-1']").click()
    changed(page, lambda: button(page, "Drops of navy blue: more").click())
    assert as_previewed(page, file)


def test_the_scheme_and_a_coat_are_named_anew(open_page: Any, start: Any, tmp_path: Path) -> None:
    page, file = opened(open_page, start, tmp_path)
    for what, new in (("Rename the scheme", "Wardens"), ("Rename base", "cloth base")):
        button(page, what).click()
        page.get_by_label("Its name").fill(new)
        button(page, "Rename it").click()
        page.get_by_text(new, exact=True).first.wait_for()
    said = tomllib.loads(file.read_text())
    assert (said["name"], said["area"][0]["coat"][0]["name"]) == ("Wardens", "cloth base")
    assert page.title() == "Wardens · layersim"


def test_a_coat_lands_on_a_named_place_and_elsewhere_in_words(page: Any) -> None:
    ready(page)
    changed(page, lambda: page.get_by_role("radio", name="recesses").check())
    assert page.get_by_text("3 coats, recesses").is_visible()
    upper = page.get_by_label("Up to lightness")
    changed(page, lambda: upper.fill("70"))
    assert page.get_by_text("3 coats, the darkest three quarters").is_visible()


def test_before_and_after_by_a_slider(page: Any) -> None:
    ready(page)
    split = page.get_by_label("How much is shown as before the filter")
    clip = "document.querySelector('.wipe .before').style.clipPath"
    split.fill("0")
    assert page.evaluate(clip) == "inset(0px 0px 100%)"
    split.fill("100")
    assert page.evaluate(clip).startswith("inset(0px")
    before, after = shown(page, ".wipe .before"), shown(page, ".wipe .after")
    state = page.running.ask("/api/colours", {"areas": [0], "tones": 33})[1]["areas"][0]["stages"]
    at = next(i for i, stage in enumerate(state) if stage["is_filter"])
    assert colour.delta_e_2000(before, np.array(state[at - 1]["lab"])).max() < 0.1
    assert colour.delta_e_2000(after, np.array(state[at]["lab"])).max() < 0.1


def test_metal_is_shown_from_three_sides_and_other_paint_is_not(page: Any) -> None:
    looks = page.locator(".looks .line")
    assert looks.count() == 0
    page.get_by_role("button", name="lamp frame", exact=True).click()
    settled(page)
    assert looks.locator(".name").all_inner_texts() == ["near the glint, 15°", "turned away, 110°"]
    assert page.locator(".finish h2").inner_text() == "lamp frame: finish, turned, 45°"
    near, away = (shown(page, f".looks .line:nth-child({i}) .strip")[:, 0] for i in (1, 2))
    assert (near > shown(page)[:, 0]).all()
    assert (shown(page)[:, 0] > away).all()


def test_a_beside_b_with_words(page: Any, complaints: list[str]) -> None:
    ready(page)
    page.get_by_text("A beside B").click()
    button(page, "Pin what is here now as A").click()
    page.get_by_role("img", name="A, pinned").wait_for()
    changed(page, lambda: button(page, "Drops of blue ink: more").click())
    rows = page.locator(".rows .line", has_text="pinned"), page.locator(".rows .line", has_text="B, now")
    styles = [row.locator(".strip").evaluate("(one) => one.style.backgroundImage") for row in rows]
    assert styles[0] != styles[1]
    button(page, "Does it matter?").click()
    page.get_by_text("B (B, now) instead of A (A, pinned)").wait_for(timeout=SLOW_MS)
    changed(page, lambda: page.get_by_role("button", name="Undo").click())
    button(page, "Does it matter?").click()
    page.locator("[aria-live] .server").wait_for(timeout=SLOW_MS)
    button(page, "Let A go").click()
    assert complaints == []


def test_the_range_on_demand(page: Any) -> None:
    ready(page)
    assert page.locator(".strip.edge:visible").count() == 0
    page.get_by_label("how far it may come out").check()
    page.locator(".strip.edge").first.wait_for()
    middle, light, dark = (
        shown(page, strip)[:, 0] for strip in (FINISH, ".stack > .edge:first-child", ".big + .edge")
    )
    assert (light > middle).all()
    assert (middle > dark).all()
    page.get_by_text("What is most in doubt").click()
    assert page.get_by_text("Most in doubt:").is_visible()


def test_another_lamp_and_another_sheen(open_page: Any, start: Any, tmp_path: Path) -> None:
    page, file = opened(open_page, start, tmp_path)
    first = shown(page)
    changed(page, lambda: page.get_by_label("Lamp", exact=True).select_option("A"))
    got = page.running.ask("/api/colours", {"areas": [0], "tones": 9, "lamp": "A"})[1]["areas"][0]["stages"][
        -1
    ]["lab"]
    assert colour.delta_e_2000(np.array(got), previewed(file, "--lamp", "A")).max() < 0.1
    changed(page, lambda: page.get_by_label("Lamp", exact=True).select_option("D65"))
    assert np.array_equal(shown(page), first)
    with page.expect_request("**/api/colours") as asked:
        changed(page, lambda: page.locator("#judged-sheen").select_option(label="gloss"))
    assert asked.value.post_data_json["finish"] == SHEENS["gloss"]
    assert (shown(page)[:, 0] < first[:, 0]).all(), "less of the surface's reflection greys it"
    assert file.read_text() == demo_scheme().read_text("utf-8"), "judging changes nothing"


def test_reload_keeps_everything(page: Any) -> None:
    ready(page)
    button(page, "straps").click()
    changed(page, lambda: page.get_by_role("button", name=re.compile("Drops of .*: more")).first.click())
    finish = shown(page)
    page.reload()
    ready(page)
    page.get_by_role("heading", name="straps: finish").wait_for()
    assert np.array_equal(shown(page), finish)
    assert page.get_by_role("button", name="Undo: ").is_enabled()


def test_a_file_changed_outside_is_asked_about(open_page: Any, start: Any, tmp_path: Path) -> None:
    page, file = opened(open_page, start, tmp_path)
    text = file.read_text()
    file.write_text(text.replace('"blue ink" = 1 }', '"blue ink" = 9 }', 1))
    page.get_by_text("mine.toml was changed by another program").wait_for()
    changed(page, lambda: button(page, "Read it again").click())
    assert page.get_by_label("Drops of blue ink", exact=True).last.input_value() == "9"
    file.write_text(text)
    page.get_by_text("mine.toml was changed by another program").wait_for()
    button(page, "Keep mine, write over it").click()
    page.get_by_text("mine.toml was changed by another program").wait_for(state="detached")
    assert '"blue ink" = 9 }' in file.read_text()
    page.get_by_role("button", name="Undo: saving over what was changed outside").wait_for()


def test_two_pages_lose_nothing(page: Any, open_page: Any, complaints: list[str]) -> None:
    ready(page)
    other = open_page(running=page.running)
    ready(other)
    changed(other, lambda: button(page, "Drops of blue ink: more").click())
    changed(page, lambda: button(other, "Drops of navy blue: more").click())
    mix = page.running.ask("/api/scheme")[1]["areas"][0]["coats"][0]["parts"]
    assert {one["paint"]: one["drops"] for one in mix} == {"navy blue": 6, "blue ink": 2}
    assert np.array_equal(shown(page), shown(other))
    # A page that has not heard yet that rows were moved is told, and nothing is written into another coat.
    moved = {"edits": [{"do": "move_coat", "area": 0, "coat": 0, "to": 1}]}

    def late(route: Any) -> None:
        assert page.running.ask("/api/edit", moved)[0] == 200
        route.continue_()

    other.route("**/api/edit", late)
    button(other, "Drops of navy blue: more").click()
    other.get_by_text("coats or areas were moved meanwhile").first.wait_for()
    state = page.running.ask("/api/scheme")[1]["areas"][0]["coats"]
    assert [one["name"] for one in state][:2] == ["shade", "base"]
    assert {one["paint"]: one["drops"] for one in state[1]["parts"]} == {"navy blue": 6, "blue ink": 2}
    assert names(other)[:2] == ["shade", "base"]
    complaints[:] = [one for one in complaints if "409" not in one]


def test_an_existing_file_is_asked_about_before_it_is_written_over(page: Any, complaints: list[str]) -> None:
    ready(page)
    there = page.running.folder / "there.toml"
    there.write_text("my own notes")
    for answer in ("Leave it", "Write over it"):
        button(page, "Save as").click()
        page.get_by_label("File name").fill("there")
        button(page, "Save").click()
        page.get_by_text("there.toml is there already").wait_for()
        assert there.read_text() == "my own notes"
        button(page, answer).click()
    page.get_by_text("there.toml, written at every change").wait_for()
    assert there.read_bytes() == demo_scheme().read_bytes()
    complaints[:] = [one for one in complaints if "409" not in one]


def test_printing_from_any_panel_gives_the_bench_card(page: Any) -> None:
    ready(page)
    page.evaluate("window.print = () => { window.paper = document.querySelector('.paper')?.innerText; }")
    for press in (
        lambda: button(page, "Print the bench card").click(),
        lambda: page.keyboard.press("Control+p"),
    ):
        page.evaluate("window.paper = null")
        press()
        page.wait_for_function("() => window.paper !== null", timeout=SLOW_MS)
        said = page.evaluate("window.paper")
        assert "Lamplighters of the tide wall" in said
        assert "highlight" in said
    assert page.locator(".paper").count() == 0


def test_what_is_hardly_meant_is_noted(page: Any) -> None:
    ready(page)
    assert page.locator(".notes .note").count() == 0
    film = page.locator("[data-key='c0-film']")
    film.fill("60")
    changed(page, lambda: film.press("Enter"))
    assert "µm" in page.locator(".notes .note").first.inner_text()
    changed(page, lambda: page.get_by_role("button", name="Undo").click())
    assert page.locator(".notes .note").count() == 0


def test_changes_in_no_file_are_not_given_up_unasked(page: Any) -> None:
    ready(page)
    gone = page.get_by_text("Your changes are in no file and will be gone")
    for change in (False, True):
        if change:
            changed(page, lambda: button(page, "Drops of blue ink: more").click())
        for name in ("Open", "New", "Stop layersim"):
            button(page, name).click()
            page.get_by_role("dialog").wait_for()
            assert gone.is_visible() == change
            page.keyboard.press("Escape")
