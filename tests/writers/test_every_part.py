"""Every part in every writer: whatever its words are, and the same whichever way it is drawn."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layersim.views.parts import (
    Bar,
    Bars,
    Beside,
    Curve,
    Heading,
    Histogram,
    Part,
    Plot,
    Row,
    Span,
    Strips,
    TablePart,
    Timeline,
    Tone,
    View,
    Words,
)
from layersim.views.parts import Image as Picture
from layersim.writers import picture, terminal
from layersim.writers.whole import ENDINGS, save

STRANGE = "漆 🎨 $x_1$ \\alpha <script>&"


def page(words: str) -> View:
    """A page of every kind of part."""
    grey = np.array([50.0, 0.0, 0.0])
    tone = Tone(grey, words, words, (40.0, 60.0))
    x = np.linspace(400.0, 700.0, 31)
    drawn: list[Part] = [
        Plot(words, x, [Curve(x / 700.0, words, 0.9 * x / 700.0, x / 700.0)], foot=words),
        Picture(np.full((20, 30, 3), 0.5), [(0.5, 0.5, words)]),
        Histogram(words, np.linspace(0.0, 3.0, 50), 1.8, words),
        Timeline(
            [(words, [Span(0.0, 1.0, "get ready"), Span(1.0, 2.0, "work", words, grey)])],
            3.0,
            [(0.0, "0:00")],
        ),
    ]
    told: list[Part] = [
        Heading(words, words),
        *(Words([words], kind=kind) for kind in ("plain", "strong", "faint", "warning", "list")),
        Strips(
            [Row(words, [tone, ""], words, words), Row(words, ["1", "2"], strong=[True])], words, ["1", "2"]
        ),
        TablePart([words, ""], [[words, tone], ["1", words]], right=(0,)),
        Bars(words, [Bar(words, words, 1.0, 2.0, words, words)], words),
    ]
    return View(words, [*told, Beside(drawn, [Words([words])])], words, [words])


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("words", ["plain words", STRANGE, "", "so many words that no line holds them " * 9])
def test_any_words_are_written(tmp_path: Path, ending: str, words: str) -> None:
    # Warnings are errors here: letters that the font lacks must not be news.
    save(page(words), tmp_path / f"x.{ending}")
    assert (tmp_path / f"x.{ending}").stat().st_size > 1000
    assert words.strip()[:12] in terminal.text(page(words), in_colour=True)


def test_the_two_ways_of_drawing_agree(tmp_path: Path) -> None:
    drawn = picture._Page(page("some words"))
    drawn.plots.clear()
    picture.save_sheet(drawn.sheet, tmp_path / "x.png")
    picture.save_figures([drawn.figure()], tmp_path / "figure.png")
    with Image.open(tmp_path / "x.png") as one, Image.open(tmp_path / "figure.png") as two:
        assert abs(one.height - two.height) <= 1
        size = (one.width // 10, one.height // 10)
        small = [np.asarray(p.convert("RGB").resize(size, Image.Resampling.BOX), float) for p in (one, two)]
    assert np.abs(small[0] - small[1]).mean() < 3.0


def test_a_long_page_is_parted_at_its_headings_on_paper(tmp_path: Path) -> None:
    parts: list[Part] = []
    for name in ("one", "two", "three"):
        parts += [Heading(name), Words(["line"] * 60)]
    save(View("long", parts), tmp_path / "x.pdf")
    assert len(re.findall(rb"/Type\s*/Page\b", (tmp_path / "x.pdf").read_bytes())) == 3


def test_bars_of_one_kind_have_one_colour_all_the_way_down() -> None:
    from layersim.writers.picture import _Page

    kinds = (("coats", "film"), ("film", "drops", "coats"))
    drawn = [Bars("", [Bar("", "", 1.0, 2.0, "", kind) for kind in some], "") for some in kinds]
    fills = _Page(View("", drawn, "", [])).fills
    assert list(fills) == ["coats", "film", "drops"]
    assert len(set(fills.values())) == 3
