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

from layersim import colour
from layersim.bench.content import TONES, BenchCard, bench_card
from layersim.cli import main
from layersim.decide.eye import SEEN
from layersim.decide.tolerance import tolerance
from layersim.errors import UnknownNameError
from layersim.plan.records import LEAST_DROPS
from layersim.plan.volume import ml_words
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme, Targets
from layersim.spectra import FloatArray
from layersim.views.card import view
from layersim.views.parts import Task, Tasks
from layersim.writers import html
from layersim.writers.paper import HEIGHT, WIDTH, pages
from tests.bench_card import browser
from tests.examples import SCHEME

needs_browser = pytest.mark.skipif(browser.CHROMIUM is None, reason="Chromium is not installed")


@pytest.fixture
def card(rig: Scheme) -> BenchCard:
    return bench_card(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=6)))


def page_of(card: BenchCard) -> str:
    return html.html(view(card))


def figures_of(card: BenchCard) -> list[Figure]:
    return pages(view(card))


def tasks_of(card: BenchCard) -> list[list[Task]]:
    """Return the tasks of each area."""
    return [list(part.rows) for part in view(card).parts if isinstance(part, Tasks)]


def hex_of(lab: FloatArray, card: BenchCard) -> str:
    return colour.hex_of(colour.lab_on_screen(lab, card.scheme.viewing).rgb)


# ---------------------------------------------------------------- what stands on it


def test_every_step_has_its_recipe_drying_and_boxes(card: BenchCard) -> None:
    cloth, _ = tasks_of(card)
    names = ["primer", "preshade", "base", "light", "filter", "chips", "varnish"]
    assert [task.name for task in cloth] == names
    [recipe, *_], laid, slips = cloth[2].columns
    drops = [int(n) for n in re.findall(r"(\d+)\*?(?: drops)? (?:moss green|plum ink|thinner)", recipe)]
    assert len(drops) == 3
    # 4 : 1 with as much thinner as paint.
    assert drops[0] / drops[1] == pytest.approx(4.0, rel=0.1)
    assert drops[2] == pytest.approx(drops[0] + drops[1], rel=0.15)
    assert list(cloth[2].ticks) == ["coat 1", "coat 2"]
    assert re.fullmatch(r"2 coats of \S+ µm everywhere", laid[0])
    assert laid[1] == "dry 10 min between, then 1 h"
    assert cloth[-1].columns[1][1].endswith("before handling")
    assert "ΔE00" in slips[0]


def test_one_cup_for_two_areas_is_said(card: BenchCard) -> None:
    cloth, strap = tasks_of(card)
    assert cloth[0].columns[0][0]
    assert cloth[0].columns[0][1:] == ["one cup with strap"]
    assert strap[0].columns[0] == ["", "from the cup of cloth"]


def test_too_few_drops_are_starred_with_the_amount_that_can_be_repeated(card: BenchCard) -> None:
    seen = 0
    for step, task in zip(card.areas[0].steps, tasks_of(card)[0], strict=True):
        recipe = task.columns[0][0]
        assert ("*" in recipe) == (step.mix is not None and bool(step.mix.few))
        if step.mix is None or not step.mix.few:
            continue
        seen += 1
        for part in step.mix.few:
            assert re.search(rf"\b{part.drops}\* ", recipe)
            # As many drops as there are in the larger amount can be repeated.
            assert (
                part.drops * step.mix.repeatable_ml * step.mix.fillings / step.mix.mix_ml
                >= LEAST_DROPS - 1e-9
            )
        assert recipe.endswith(f"* weigh, or mix {ml_words(step.mix.repeatable_ml)}")
    assert seen


def places(card: BenchCard, area: int) -> list[str]:
    return [task.columns[1][0] for task in tasks_of(card)[area]]


def test_places_are_told_by_what_can_be_seen(rig: Scheme) -> None:
    card = bench_card(rig)
    ends = ("everywhere", "in the light", "everywhere", "where the preshade is over L* 60", "everywhere",
            "on 10 % of the area", "everywhere")  # fmt: skip
    for told, end in zip(places(card, 0), ends, strict=True):
        assert told.endswith(end)
    assert places(card, 1)[1] == "1 coat from above, to L* 30 in the shadow and 80 in the light"
    coat = rig.areas[0].coats[1]
    hard = dataclasses.replace(coat, where=dataclasses.replace(coat.where, darkest_up_to=80.0, edge=0.0))
    bare = dataclasses.replace(rig.areas[0], preshade=None, coats=(coat, hard), targets=Targets())
    _, one, other = places(bench_card(dataclasses.replace(rig, areas=(bare,))), 0)
    assert one.endswith("where it faces the light over 60 %")
    assert other.endswith("where it faces the light 60 % to 80, up to a mask")


def test_an_area_alone_on_the_card_has_the_recipe_of_a_shared_cup(rig: Scheme) -> None:
    [strap] = bench_card(rig, areas=["strap"]).areas
    assert strap.steps[0].mix is not None
    assert strap.steps[0].cup == (("strap", "primer"),)


def test_a_slip_is_judged_by_the_tone_that_it_changes_most(rig: Scheme, card: BenchCard) -> None:
    slips = {area.name: area.slips for area in tolerance(rig, models=2, batches=10, tones=TONES).areas}
    judged = 0
    for area, tasks in zip(card.areas, tasks_of(card), strict=True):
        for step, task in zip(area.steps, tasks, strict=True):
            mine = [s for s in slips[area.name] if s.step == step.name]
            mine = [s for s in mine if s.kind in ("coats", "film", "mix", "drop")]
            [said] = task.columns[2] or [""]
            if not mine:
                assert said == ""
                continue
            worst = max(mine, key=lambda s: s.most)
            assert said.startswith("forgiving") == (worst.most < SEEN)
            assert f"(ΔE00 {worst.most:.1f}" in said
            judged += 1
    assert judged > 4


def test_much_thinner_is_told_in_millilitres_too(rig: Scheme) -> None:
    many = bench_card(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=60)))
    assert re.search(r"\d+ thinner[^,;]* \(\d\.\d\d ml\)", tasks_of(many)[0][2].columns[0][0])


def test_targets_and_cautions(card: BenchCard) -> None:
    assert [one.key for one in card.areas[0].targets] == ["shadow", "light"]
    assert {"label", "mist", "unknown"} <= {caution.key for caution in card.cautions}


def test_cautions_follow_the_material(read: Callable[[str], Scheme], rig: Scheme) -> None:
    oil = dataclasses.replace(rig.areas[0].coats[3].mix.ingredients[0][0], carrier="oil")
    coat = dataclasses.replace(
        rig.areas[0].coats[3], mix=dataclasses.replace(rig.areas[0].coats[3].mix, ingredients=((oil, 1.0),))
    )
    area = dataclasses.replace(rig.areas[0], coats=(*rig.areas[0].coats[:3], coat, rig.areas[0].coats[4]))
    page = page_of(bench_card(dataclasses.replace(rig, areas=(area, rig.areas[1]))))
    assert "Oily rags heat themselves" in page
    assert "Oily rags" not in page_of(bench_card(rig))


def test_one_area_alone(rig: Scheme) -> None:
    assert [area.name for area in bench_card(rig, areas=["strap"]).areas] == ["strap"]
    with pytest.raises(UnknownNameError, match='Did you mean "strap"'):
        bench_card(rig, areas=["strp"])


def test_without_primer(rig: Scheme) -> None:
    bare = bench_card(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, primer_coats=0)))
    assert bare.areas[0].steps[0].name == "preshade"
    assert places(bare, 0)[0].startswith("4 passes")


def test_ticks_of_another_recipe_are_others(rig: Scheme, card: BenchCard) -> None:
    key = re.compile(r'data-page="(\w+)"')
    again = bench_card(dataclasses.replace(rig, batch=dataclasses.replace(rig.batch, models=6)))
    assert key.findall(page_of(card)) == key.findall(page_of(again)) != key.findall(page_of(bench_card(rig)))


# ---------------------------------------------------------------- to print


def test_one_page_that_fits_a4_and_letter(card: BenchCard, tmp_path: Path) -> None:
    sheets = figures_of(card)
    assert len(sheets) == 1
    assert tuple(sheets[0].get_size_inches()) == pytest.approx((WIDTH, HEIGHT))
    # A4 is 8.27 by 11.69 inches, letter 8.5 by 11.
    assert min(8.27, 8.5) >= WIDTH
    assert min(11.69, 11.0) >= HEIGHT
    words = words_on(sheets[0])
    assert {"primer", "base", "varnish", "Real chips", "Take care"} <= set(words)
    assert "not measured colours" in " ".join(words)
    assert not any("page 1" in line for line in words)
    card.save(tmp_path / "card.pdf")
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> BenchCard:
    path = tmp_path_factory.mktemp("starter") / "s.toml"
    assert main(["start", str(path)]) == 0
    return bench_card(load_scheme(path))


def words_on(*figures: Figure) -> list[str]:
    return [text.get_text().replace("\u00a0", " ") for figure in figures for text in figure.axes[0].texts]


def test_the_demo_is_two_pages_that_can_be_read_and_say_everything(tmp_path: Path) -> None:
    scheme = load_scheme(demo_scheme())
    card = bench_card(scheme)
    figures = figures_of(card)
    for figure in figures:
        check_words(figure)
        assert min(float(text.get_fontsize()) for text in figure.axes[0].texts) >= 6.5
    said = " ".join(words_on(*figures))
    for area in card.areas:
        assert f" {area.name} " in said
        for step in area.steps:
            for name in step.name.split():
                assert name in said
            for part in step.mix.parts if step.mix is not None else ():
                name = "thinner" if part.paint is None else part.name
                assert re.search(rf"\b{part.drops}\*? (?:drops )?{name}", said)
    assert said.count("from the cup of wax cloth") == 7
    assert "3* blue ink" in said
    assert "* Under 5 drops cannot be repeated" in said
    assert "where the preshade is over L* 76" in said
    assert "on 6 % of the area" in said
    for caution in card.cautions:
        assert caution.words.split(".")[0] in said
    assert "…" not in said
    card.save(tmp_path / "card.pdf")
    assert len(re.findall(rb"/Type /Page\b", (tmp_path / "card.pdf").read_bytes())) == len(figures) == 2


def test_targets_stand_clear_of_each_other_and_nothing_is_cut(starter: BenchCard) -> None:
    [figure] = figures_of(starter)
    check_words(figure)
    area = starter.areas[0]
    assert area.targets
    texts = [text for text in figure.axes[0].texts if re.search(r"(shadow|tone), ΔE00", text.get_text())]
    assert len(texts) == len(area.targets)
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
    assert f"most in doubt: {area.cause}" in said
    assert "…" not in said


def test_long_names_and_many_targets_are_wrapped_by_their_own_width(starter: BenchCard) -> None:
    area = starter.areas[0]
    wide = dataclasses.replace(area, name="W" * 60, cause="MWMWMW " * 40, targets=area.targets * 4)
    scheme = dataclasses.replace(starter.scheme, name="MW " * 60)
    check_words(figures_of(dataclasses.replace(starter, scheme=scheme, areas=(wide,)))[0])


def test_a_letter_that_the_font_lacks_is_a_box(card: BenchCard, tmp_path: Path) -> None:
    cloth = dataclasses.replace(card.areas[0], name="外套 \U0001f9e5")
    other = dataclasses.replace(card, areas=(cloth,))
    assert other.save(tmp_path / "card.pdf").stat().st_size > 500
    assert "外套 \U0001f9e5" in other.save(tmp_path / "card.html").read_text(encoding="utf-8")


def test_no_words_run_off_the_page_or_into_each_other(card: BenchCard) -> None:
    check_words(figures_of(card)[0])


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

    card.save(tmp_path / "card.pdf")
    subprocess.run(
        ["pdftoppm", "-r", "60", "-png", "-singlefile", tmp_path / "card.pdf", tmp_path / "card"], check=True
    )
    pixels = np.asarray(Image.open(tmp_path / "card.png").convert("RGB"), dtype=int).reshape(-1, 3)
    for lab in (*(lab for step in card.areas[0].steps for lab in step.lab), card.areas[0].targets[0].finish):
        wanted = [int(hex_of(lab, card)[i : i + 2], 16) for i in (1, 3, 5)]
        assert (np.abs(pixels - wanted).max(axis=1) <= 2).sum() > 20, lab


def test_a_long_scheme_goes_on_to_a_second_page_and_says_so(rig: Scheme) -> None:
    card = bench_card(rig)
    sheets = figures_of(dataclasses.replace(card, areas=card.areas * 3))
    assert len(sheets) == 2
    for number, page in enumerate(sheets, start=1):
        check_words(page)
        assert tuple(page.get_size_inches()) == pytest.approx((WIDTH, HEIGHT))
        [foot] = [text for text in page.axes[0].texts if "page " in text.get_text()]
        assert f"page {number} of 2" in foot.get_text()
        assert foot.get_position()[1] > HEIGHT - 0.6
    words = words_on(*sheets)
    assert words.count("base") == 3
    assert words.count("Take care") == 1
    # An area stays whole where it fits a page.
    assert not any("continued" in line for line in words)


def test_an_area_longer_than_a_page_goes_on_under_its_name(rig: Scheme) -> None:
    card = bench_card(rig)
    cloth = card.areas[0]
    sheets = figures_of(dataclasses.replace(card, areas=(dataclasses.replace(cloth, steps=cloth.steps * 8),)))
    assert len(sheets) > 2
    for page in sheets:
        check_words(page)
    words = words_on(*sheets)
    assert words.count("cloth, continued") >= len(sheets) - 2
    assert words.count("base") == 8


def test_a_cup_for_very_many_steps_does_not_name_them_all(rig: Scheme) -> None:
    coats = tuple(dataclasses.replace(rig.areas[0].coats[0], name=f"base {i}") for i in range(9))
    area = dataclasses.replace(rig.areas[0], coats=coats)
    [tasks] = tasks_of(bench_card(dataclasses.replace(rig, areas=(area,))))
    first, *others = tasks[2:]
    assert first.columns[0][1].startswith("one cup with 8 other coats")
    assert {task.columns[0][1] for task in others} == {"from the cup of base 0"}


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
    page = page_of(card)
    parsed(page)
    ElementTree.fromstring(page)
    assert "\ufffd" not in page


def test_nothing_is_fetched(card: BenchCard) -> None:
    page = page_of(card)
    for tag, attributes in parsed(page).tags:
        assert tag not in ("link", "img", "iframe", "object", "embed", "base", "form", "audio", "video"), tag
        for key in ("src", "href", "srcset", "data", "action", "background"):
            assert key not in attributes, (tag, key)
    assert not re.search(r"@import|url\(|https?:|//[a-z]|fetch\(|XMLHttpRequest|import\(", page)
    assert "default-src 'none'" in page


def test_tones_and_fields_have_names_and_the_finish_stands_above_its_target(card: BenchCard) -> None:
    page = page_of(card)
    blocks = re.findall(
        r'<td class="tone \w*" style="background:(#\w{6});[^"]*" title="L\* \d+, a\* [^"]+"', page
    )
    for area in card.areas:
        for step in area.steps:
            for lab in step.lab:
                assert hex_of(lab, card) in blocks
        row = [hex_of(one.finish, card) for one in area.targets] + [
            hex_of(one.wanted, card) for one in area.targets
        ]
        assert not row or any(blocks[i : i + len(row)] == row for i in range(len(blocks)))
    assert page.count("<textarea") == page.count('<label class="place">') == len(card.areas)
    boxes = [attributes for tag, attributes in parsed(page).tags if tag == "input"]
    assert len({box["aria-label"] for box in boxes}) > 1


def test_words_from_the_scheme_are_escaped(read: Callable[[str], Scheme]) -> None:
    nasty = SCHEME.replace('name = "cloth"', 'name = \'<script>alert("1")</script> & "co"\'', 1)
    page = page_of(bench_card(read(nasty)))
    assert "<script>alert" not in page
    ElementTree.fromstring(page)


def test_colours_are_said_not_to_be_measured_and_a_chip_has_its_place(card: BenchCard) -> None:
    page = page_of(card)
    assert "are not measured colours" in page
    assert "<strong>cloth</strong> Real chip" in page


@needs_browser
def test_the_browser_asks_for_nothing(card: BenchCard, tmp_path: Path) -> None:
    page = page_of(card)
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
    said = browser.ask(page_of(card), script, tmp_path)
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
    boxes = sum(len(task.ticks) for tasks in tasks_of(card) for task in tasks)
    first = browser.ask(page_of(card), script, tmp_path)
    assert first == {"tick": False, "note": "", "said": f"0 of {boxes} done"}
    again = browser.ask(page_of(card), script, tmp_path)
    assert again == {"tick": True, "note": "thin", "said": f"1 of {boxes} done"}
