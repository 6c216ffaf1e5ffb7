"""The bench card: what stands on it, the page to print, and the page for a phone."""

from __future__ import annotations

import dataclasses
import re
import shutil
import subprocess
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from matplotlib.figure import Figure

from layersim.bench.content import TONES, BenchCard, bench_card
from layersim.bench.page import bench_html
from layersim.bench.sheets import HEIGHT, WIDTH, bench_figures
from layersim.cli import main
from layersim.decide.eye import SEEN
from layersim.decide.tolerance import tolerance
from layersim.errors import UnknownNameError
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme, Targets
from layersim.views.tolerance import slip_words
from layersim.views.words import size_words
from layersim.writers.saving import save_figures
from tests.bench_card import browser
from tests.examples import SCHEME

needs_browser = pytest.mark.skipif(browser.CHROMIUM is None, reason="Chromium is not installed")


@pytest.fixture
def card(rig: Scheme) -> BenchCard:
    return bench_card(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=6)))


# ---------------------------------------------------------------- what stands on it


def test_every_step_has_its_recipe_drying_and_boxes(card: BenchCard) -> None:
    cloth = card.areas[0]
    assert [step.name for step in cloth.steps] == [
        "primer",
        "pre-shade",
        "base",
        "light",
        "filter",
        "chips",
        "varnish",
    ]
    base = cloth.steps[2]
    drops = [int(n) for n in re.findall(r"(\d+)(?: drops of)? (?:moss green|plum ink|thinner)", base.recipe)]
    assert len(drops) == 3
    # 4 : 1 with as much thinner as paint.
    assert drops[0] / drops[1] == pytest.approx(4.0, rel=0.1)
    assert drops[2] == pytest.approx(drops[0] + drops[1], rel=0.15)
    assert base.boxes == 2
    assert "2 coats, airbrush, everywhere" in base.how
    assert base.drying == "10 min between coats, then 1 h before light"
    assert "before varnish" in cloth.steps[5].drying
    assert cloth.steps[-1].drying.endswith("before handling")
    assert "ΔE00" in base.tolerance


def test_one_cup_for_two_areas_is_said(card: BenchCard) -> None:
    cloth, strap = card.areas
    assert cloth.steps[0].mixed_with == "one cup with strap"
    assert cloth.steps[0].recipe
    assert (strap.steps[0].recipe, strap.steps[0].mixed_with) == ("", "from the cup of cloth")
    assert strap.steps[0].warnings == ()


def test_places_are_told_by_what_can_be_seen(rig: Scheme) -> None:
    cloth, strap = bench_card(rig).areas
    assert [step.place for step in cloth.steps] == [
        "everywhere",
        "from above",
        "everywhere",
        "where the pre-shade is over L* 60",
        "everywhere",
        "on 10 % of the area",
        "everywhere",
    ]
    assert strap.steps[1].place == "from above, to L* 30 in the shadow and 80 in the light"
    coat = rig.areas[0].coats[1]
    hard = dataclasses.replace(coat, where=dataclasses.replace(coat.where, darkest_up_to=80.0, edge=0.0))
    bare = dataclasses.replace(rig.areas[0], preshade=None, coats=(coat, hard), targets=Targets())
    [area] = bench_card(dataclasses.replace(rig, areas=(bare,))).areas
    assert [step.place for step in area.steps[1:]] == [
        "where it faces the light over 60 %",
        "where it faces the light 60 % to 80, up to a mask",
    ]


def test_an_area_alone_on_the_card_has_the_recipe_of_a_shared_cup(rig: Scheme) -> None:
    [strap] = bench_card(rig, areas=["strap"]).areas
    assert strap.steps[0].recipe
    assert strap.steps[0].mixed_with == ""


def test_a_slip_is_judged_by_the_tone_that_it_changes_most(rig: Scheme, card: BenchCard) -> None:
    slips = {area.name: area.slips for area in tolerance(rig, models=2, batches=10, tones=TONES).areas}
    judged = 0
    for area in card.areas:
        for step in area.steps:
            mine = [s for s in slips[area.name] if s.step == step.name]
            mine = [s for s in mine if s.kind in ("coats", "film", "mix", "drop")]
            if not mine:
                assert step.tolerance == ""
                continue
            worst = max(mine, key=lambda s: s.most)
            assert step.tolerance.startswith("forgiving: ") == (worst.most < SEEN)
            assert f"{slip_words(worst)}: {size_words(worst.most)} (ΔE00 {worst.most:.1f}" in step.tolerance
            assert f"mean {worst.delta_e:.1f}" in step.tolerance
            judged += 1
    assert judged > 4


def test_much_thinner_is_told_in_millilitres_too(rig: Scheme) -> None:
    many = bench_card(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=60)))
    assert re.search(r"\d+ thinner[^,;]* \(\d\.\d\d ml\)", many.areas[0].steps[2].recipe)


def test_targets_and_cautions(card: BenchCard) -> None:
    assert [key for key, _, _ in card.areas[0].targets] == ["shadow", "light"]
    assert {"label", "mist", "unknown"} <= {caution.key for caution in card.cautions}


def test_cautions_follow_the_material(read: Callable[[str], Scheme], rig: Scheme) -> None:
    oil = dataclasses.replace(rig.areas[0].coats[3].mix.ingredients[0][0], carrier="oil")
    coat = dataclasses.replace(
        rig.areas[0].coats[3], mix=dataclasses.replace(rig.areas[0].coats[3].mix, ingredients=((oil, 1.0),))
    )
    area = dataclasses.replace(rig.areas[0], coats=(*rig.areas[0].coats[:3], coat, rig.areas[0].coats[4]))
    page = bench_html(bench_card(dataclasses.replace(rig, areas=(area, rig.areas[1]))))
    assert "Oily rags heat themselves" in page
    assert "Oily rags" not in bench_html(bench_card(rig))


def test_one_area_alone(rig: Scheme) -> None:
    assert [area.name for area in bench_card(rig, areas=["strap"]).areas] == ["strap"]
    with pytest.raises(UnknownNameError, match='Did you mean "strap"'):
        bench_card(rig, areas=["strp"])


def test_without_primer(rig: Scheme) -> None:
    bare = bench_card(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, primer_coats=0)))
    assert bare.areas[0].steps[0].name == "pre-shade"
    assert bare.areas[0].steps[0].how.startswith("4 passes")


def test_the_key_changes_with_the_recipe(rig: Scheme, card: BenchCard) -> None:
    assert card.key != bench_card(rig).key
    assert (
        card.key == bench_card(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=6))).key
    )


# ---------------------------------------------------------------- to print


def test_one_page_that_fits_a4_and_letter(card: BenchCard, tmp_path: Path) -> None:
    pages = bench_figures(card)
    assert len(pages) == 1
    assert tuple(pages[0].get_size_inches()) == pytest.approx((WIDTH, HEIGHT))
    # A4 is 8.27 by 11.69 inches, letter 8.5 by 11.
    assert min(8.27, 8.5) >= WIDTH
    assert min(11.69, 11.0) >= HEIGHT
    words = words_on(pages[0])
    assert {"primer", "base", "varnish", "Real chips", "Take care"} <= set(words)
    assert "not measured colours" in " ".join(words)
    assert not any("page 1" in line for line in words)
    save_figures(pages, tmp_path / "card.pdf")
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> BenchCard:
    path = tmp_path_factory.mktemp("starter") / "s.toml"
    assert main(["start", str(path)]) == 0
    return bench_card(load_scheme(path))


def words_on(*figures: Figure) -> list[str]:
    return [text.get_text().replace("\u00a0", " ") for figure in figures for text in figure.axes[0].texts]


def test_the_demo_is_one_page_that_can_be_read_and_says_everything(tmp_path: Path) -> None:
    scheme = load_scheme(demo_scheme())
    card = bench_card(scheme)
    [figure] = bench_figures(card)
    check_words(figure)
    assert min(text.get_fontsize() for text in figure.axes[0].texts) >= 6.5
    said = " ".join(words_on(figure))
    for area in card.areas:
        assert f" {area.name} " in said
        for step in area.steps:
            for name in step.name.split():
                assert name in said
            for part in step.mix.parts if step.mix is not None else ():
                assert re.search(rf"\b{part.drops}\*? {'thinner' if part.paint is None else part.name}", said)
            assert step.rest in said
    assert said.count("from the cup of wax cloth") == 4
    assert "3* blue ink" in said
    assert "* under 5 drops cannot be repeated" in said
    assert "where the pre-shade is over L* 76" in said
    assert "1 coat by brush on 6 % of the area" in said
    for caution in card.cautions:
        assert caution.words.split(".")[0] in said
    assert "…" not in said
    save_figures([figure], tmp_path / "card.pdf")
    assert len(re.findall(rb"/Type /Page\b", (tmp_path / "card.pdf").read_bytes())) == 1


def test_targets_stand_clear_of_each_other_and_nothing_is_cut(starter: BenchCard) -> None:
    [figure] = bench_figures(starter)
    check_words(figure)
    area = starter.areas[0]
    texts = [text for text in figure.axes[0].texts if text.get_text().endswith(" off")]
    keys = [text.get_text().removeprefix("target ").split(",")[0] for text in texts]
    assert keys == [key for key, _, _ in area.targets]
    # No colour box begins under the words before it.
    [polygons] = figure.axes[0].collections
    boxes = [path.get_extents() for path in polygons.get_paths()]
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    for text in texts:
        words = text.get_window_extent(renderer).transformed(figure.axes[0].transData.inverted())
        low, high = sorted((words.y0, words.y1))
        for box in boxes:
            level = min(high, box.y1) - max(low, box.y0)
            wide = min(words.x1, box.x1) - max(words.x0, box.x0)
            assert level <= 0.01 or wide <= 0.0, text.get_text()
    said = " ".join(text.get_text() for text in figure.axes[0].texts).replace("\u00a0", " ")
    assert "most in doubt" in area.surest
    assert area.surest in said
    assert "…" not in said


def test_long_names_and_many_targets_are_wrapped_by_their_own_width(starter: BenchCard) -> None:
    area = starter.areas[0]
    wide = dataclasses.replace(
        area,
        name="W" * 60,
        surest="MWMWMW " * 40,
        targets=tuple((f"target number {i}", tone, 88.8) for i in range(4) for _, tone, _ in area.targets),
    )
    card = dataclasses.replace(starter, name="MW " * 60, areas=(wide,))
    check_words(bench_figures(card)[0])


def test_no_words_run_off_the_page_or_into_each_other(card: BenchCard) -> None:
    check_words(bench_figures(card)[0])


def check_words(figure: Figure) -> None:
    # So fine that letters are as wide as in a PDF, which does not push them onto whole pixels.
    figure.set_dpi(600)
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in figure.axes[0].texts]
    right, top = figure.bbox.width, figure.bbox.height
    for words, box in boxes:
        inside = box.x0 >= 0 and box.x1 <= right - 0.2 * figure.dpi and box.y0 >= 0 and box.y1 <= top
        assert inside, words
    for i, (one, a) in enumerate(boxes):
        for other, b in boxes[i + 1 :]:
            deep = min(a.y1, b.y1) - max(a.y0, b.y0)
            wide = min(a.x1, b.x1) - max(a.x0, b.x0)
            assert deep < 0.4 * min(a.height, b.height) or wide <= 1.0, (one, other)


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler's tools are not installed")
def test_the_page_as_pixels_has_the_predicted_colours(card: BenchCard, tmp_path: Path) -> None:
    import numpy as np
    from PIL import Image

    save_figures(bench_figures(card), tmp_path / "card.pdf")
    subprocess.run(
        ["pdftoppm", "-r", "60", "-png", "-singlefile", tmp_path / "card.pdf", tmp_path / "card"], check=True
    )
    pixels = np.asarray(Image.open(tmp_path / "card.png").convert("RGB"), dtype=int).reshape(-1, 3)
    for step in card.areas[0].steps:
        for tone in step.tones:
            wanted = np.round(tone.rgb * 255.0)
            assert (np.abs(pixels - wanted).max(axis=1) <= 2).sum() > 20, (step.name, tone.hex)


def test_a_long_scheme_goes_on_to_a_second_page_and_says_so(rig: Scheme) -> None:
    card = bench_card(rig)
    pages = bench_figures(dataclasses.replace(card, areas=card.areas * 3))
    assert len(pages) == 2
    for number, page in enumerate(pages, start=1):
        check_words(page)
        assert tuple(page.get_size_inches()) == pytest.approx((WIDTH, HEIGHT))
        [foot] = [text for text in page.axes[0].texts if "page " in text.get_text()]
        assert f"page {number} of 2" in foot.get_text()
        assert ("goes on overleaf" in foot.get_text()) == (number == 1)
        assert foot.get_position()[1] > HEIGHT - 0.6
    words = words_on(*pages)
    assert words.count("base") == 3
    assert words.count("Take care") == 1
    # An area stays whole where it fits a page.
    assert not any("continued" in line for line in words)


def test_an_area_longer_than_a_page_goes_on_under_its_name(rig: Scheme) -> None:
    card = bench_card(rig)
    cloth = card.areas[0]
    pages = bench_figures(
        dataclasses.replace(card, areas=(dataclasses.replace(cloth, steps=cloth.steps * 8),))
    )
    assert len(pages) > 2
    for page in pages:
        check_words(page)
    words = words_on(*pages)
    assert words.count("cloth, continued") >= len(pages) - 2
    assert words.count("base") == 8


def test_a_cup_for_very_many_steps_does_not_name_them_all(rig: Scheme) -> None:
    coats = tuple(dataclasses.replace(rig.areas[0].coats[0], name=f"base {i}") for i in range(9))
    area = dataclasses.replace(rig.areas[0], coats=coats)
    first, *others = bench_card(dataclasses.replace(rig, areas=(area,))).areas[0].steps[2:]
    assert first.mixed_with.startswith("one cup with 8 other steps")
    assert {step.mixed_with for step in others} == {"from the cup of base 0"}


# ---------------------------------------------------------------- for a phone


class _Strict(HTMLParser):
    """Collects tags, and checks that each that is opened is closed."""

    VOID = frozenset({"meta", "input", "br"})

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def parsed(page: str) -> _Strict:
    parser = _Strict()
    parser.feed(page)
    parser.close()
    assert parser.open == []
    return parser


def test_the_page_is_well_formed(card: BenchCard) -> None:
    page = bench_html(card)
    parsed(page)
    ElementTree.fromstring(page)
    assert "\ufffd" not in page


def test_nothing_is_fetched(card: BenchCard) -> None:
    page = bench_html(card)
    for tag, attributes in parsed(page).tags:
        assert tag not in ("link", "img", "iframe", "object", "embed", "base", "form", "audio", "video"), tag
        for key in ("src", "href", "srcset", "data", "action", "style", "background"):
            assert key not in attributes, (tag, key)
    assert not re.search(r"@import|url\(|https?:|//[a-z]|fetch\(|XMLHttpRequest|import\(", page)
    assert "default-src 'none'" in page


def test_pictures_and_fields_have_names(card: BenchCard) -> None:
    parser = parsed(bench_html(card))
    strips = [attributes for tag, attributes in parser.tags if tag == "svg"]
    assert len(strips) == sum(len(a.steps) + len(a.targets) for a in card.areas)
    for attributes in strips:
        assert attributes["role"] == "img"
        assert re.search(r"L\* \d+ #[0-9a-f]{6}", attributes["aria-label"] or "")
    labelled = {attributes.get("for") for tag, attributes in parser.tags if tag == "label"}
    for tag, attributes in parser.tags:
        if tag in ("input", "textarea"):
            assert attributes.get("aria-label") or attributes["id"] in labelled
    ids = [attributes["id"] for _, attributes in parser.tags if "id" in attributes]
    assert len(set(ids)) == len(ids)
    for _, attributes in parser.tags:
        if "aria-labelledby" in attributes:
            assert attributes["aria-labelledby"] in ids


def test_words_from_the_scheme_are_escaped(read: Callable[[str], Scheme]) -> None:
    nasty = SCHEME.replace('name = "cloth"', 'name = \'<script>alert("1")</script> & "co"\'', 1)
    page = bench_html(bench_card(read(nasty)))
    assert "<script>alert" not in page
    ElementTree.fromstring(page)


def test_colours_are_said_not_to_be_measured_and_a_chip_has_its_place(card: BenchCard) -> None:
    page = bench_html(card)
    assert "are not measured colours" in page
    assert "Real chip of cloth" in page


@needs_browser
def test_the_browser_asks_for_nothing(card: BenchCard, tmp_path: Path) -> None:
    page = bench_html(card)
    calls = '<main><img src="http://127.0.0.1:9/x.png" alt="x"/>'
    loose = re.sub(r"<meta http-equiv[^>]*>", "", page).replace("<main>", calls)
    # What any page makes the browser do, and a page that does call out, show that the log tells.
    errands = browser.hosts_asked("<!DOCTYPE html><title>nothing</title>", tmp_path)
    assert "127.0.0.1" in browser.hosts_asked(loose, tmp_path)
    assert browser.hosts_asked(page, tmp_path) - errands == set()
    # The policy in the page stops it even where something slipped in.
    assert "127.0.0.1" not in browser.hosts_asked(page.replace("<main>", calls), tmp_path)


@needs_browser
def test_it_is_readable_at_a_phones_width(card: BenchCard, tmp_path: Path) -> None:
    script = """function answer() {
      var least = 99, narrow = 999, off = [];
      document.querySelectorAll("p, li, h1, h2, h3, label, span").forEach(function (e) {
        least = Math.min(least, parseFloat(getComputedStyle(e).fontSize));
        var box = e.getBoundingClientRect();
        if (box.right > window.innerWidth + 0.5) { off.push(e.textContent.slice(0, 30)); }
      });
      document.querySelectorAll("input, button").forEach(function (e) {
        narrow = Math.min(narrow, e.getBoundingClientRect().height);
      });
      return { wide: document.documentElement.scrollWidth, window: window.innerWidth, least: least,
        narrow: narrow, off: off };
    }"""
    said = browser.ask(bench_html(card), script, tmp_path)
    assert said["window"] == browser.PHONE_WIDTH
    assert said["wide"] == browser.PHONE_WIDTH
    assert said["off"] == []
    assert float(str(said["least"])) >= 15.9
    assert float(str(said["narrow"])) >= 24.0  # WCAG 2.2, 2.5.8: targets of at least 24 CSS pixels


@needs_browser
def test_ticks_and_notes_are_remembered(card: BenchCard, tmp_path: Path) -> None:
    script = """function answer() {
      var box = document.querySelector("input[type=checkbox]"), note = document.querySelector("textarea");
      var said = document.getElementById("progress").textContent;
      var was = { tick: box.checked, note: note.value, said: said };
      if (!box.checked) { box.click(); note.value = "thin"; note.dispatchEvent(new Event("input")); }
      return was;
    }"""
    boxes = sum(step.boxes for area in card.areas for step in area.steps)
    first = browser.ask(bench_html(card), script, tmp_path)
    assert first == {"tick": False, "note": "", "said": f"0 of {boxes} done"}
    again = browser.ask(bench_html(card), script, tmp_path)
    assert again == {"tick": True, "note": "thin", "said": f"1 of {boxes} done"}
