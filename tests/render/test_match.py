"""A match as text and picture."""

from __future__ import annotations

import re

import numpy as np
import pytest
from PIL import Image

from layersim import colour
from layersim.decide import artwork as art
from layersim.decide.correction import correct
from layersim.decide.match import match
from layersim.decide.reach import reach_of
from layersim.decide.recipes import Limits
from layersim.decide.words import SCALE
from layersim.render.match import artwork_figure, correction_text, match_figure, match_text
from layersim.scheme.records import Targets
from tests.examples import CHALK, MOSS, PLUM, RUST

SMALL = Limits(paints_at_most=2, drops=4, coats=(1, 2))


@pytest.fixture
def found(rig):
    return match(
        rig, area="cloth", coat="base", paints=(CHALK, MOSS, PLUM, RUST), limits=SMALL, tones=5,
        targets=Targets(mid=np.array([30.0, 10, 5]), light=np.array([50.0, 12, 8])),
    )  # fmt: skip


def test_text_names_every_answer_and_its_misses(found):
    text = match_text(found, reach_of(found), in_colour=False)
    for number, answer in enumerate(found.answers, start=1):
        assert f"{number:>2}. {answer.coat.words()}" in text
        assert f"mean {answer.mean:.1f}, worst {answer.worst:.1f}" in text
    assert len([row for row in text.splitlines() if row.startswith("  Ordered by closeness and by")]) == 1
    assert "is loses" not in text
    assert "under daylight (D65)" in text
    # Nothing is asked of the shadow.
    assert "  .  " in text
    assert "\x1b" not in text
    assert "\x1b[48;2;" in match_text(found, None, in_colour=True)


def test_picture_has_a_row_for_each_answer(found):
    figure = match_figure(found, reach_of(found))
    words = [text.get_text() for axes in figure.axes for text in axes.texts]
    for answer in found.answers:
        assert f"mean ΔE00 {answer.mean:.1f}" in words
    # What is weighed stands whole, up to its last number.
    assert sum(re.search(r"(shifts|target) by \d+\.\d$", line) is not None for line in words) == len(
        found.answers
    )
    assert any(SCALE in line for line in words)
    assert "targets" in words


def test_a_correction_in_words(rig):
    found = correct(
        rig, area="strap", found={"mid": np.array([60.0, 0.0, 0.0])}, paints=(RUST, MOSS), tones=3
    )
    text = correction_text(found, rig.viewing, in_colour=False)
    assert "came out" in text
    assert "Smallest correction: " in text or "Leave it" in text


def test_where_colours_come_from(tmp_path):
    image = Image.new("RGB", (90, 60), (180, 40, 40))
    image.paste((40, 60, 160), (45, 0, 90, 60))
    image.save(tmp_path / "a.png")
    artwork = art.read_artwork(tmp_path / "a.png")
    colours = art.main_colours(artwork)
    figure = artwork_figure(artwork, colours, art.proposed_targets(artwork, colours))
    marks = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert {"1", "2"} <= set(marks)
    words = [text.get_text() for text in figure.texts]
    rgb = colour.on_screen(
        colour.xyz_from_lab(colours[0].lab, colour.Viewing().white), colour.Viewing().white
    ).rgb
    assert any(colour.hex_of(rgb) in line for line in words)
