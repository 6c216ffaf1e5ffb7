"""A page: words that can be read on every colour, and colours that no screen shows marked as such."""

from __future__ import annotations

import numpy as np
import pytest

from layersim import colour
from layersim.writers.sheet import DPI, MARGIN, WIDTH, Sheet


@pytest.fixture
def sheet() -> Sheet:
    return Sheet(1.0, 1.0, colour.Viewing())


@pytest.mark.parametrize("lightness", range(101))
def test_words_can_be_read_on_every_colour(sheet: Sheet, lightness: int) -> None:
    sheet.tone(0.0, 0.0, 0.5, 0.5, np.array([float(lightness), 0.0, 0.0]), "50")
    [ink] = [one.ink for one in sheet.words]
    # The contrast of the Web Content Accessibility Guidelines 2: 4.5 for text.
    Y = sorted([float(colour.xyz_from_lab([lightness, 0, 0], [1, 1, 1])[1]), float(ink == "#ffffff")])
    assert (Y[1] + 0.05) / (Y[0] + 0.05) >= 4.4


@pytest.mark.parametrize(("lab", "corners"), [((50.0, 10.0, 10.0), [4]), ((50.0, -120.0, 20.0), [4, 3, 3])])
def test_a_colour_that_no_screen_shows_has_a_dog_ear(
    sheet: Sheet, lab: tuple[float, float, float], corners: list[int]
) -> None:
    sheet.tone(0.0, 0.0, 0.5, 0.5, np.array(lab))
    assert [len(shape.corners) for shape in sheet.shapes] == corners


def test_a_dog_ear_leaves_the_number_of_a_narrow_block_free(sheet: Sheet) -> None:
    sheet.tone(0.0, 0.0, 0.22, 0.17, np.array([50.0, -120.0, 20.0]), "68")
    [number] = sheet.words
    half = 0.5 * 2 * 0.64 * number.size / 72.0  # two digits, 0.64 em each at most
    ear = min(x for shape in sheet.shapes[1:] for x, _ in shape.corners)
    assert number.x - half > 0.0
    assert number.x + half <= ear


def test_the_figure_is_as_large_as_the_page_and_has_every_block_and_word() -> None:
    sheet = Sheet(WIDTH, 2.0, colour.Viewing())
    sheet.text(MARGIN, 0.2, "some words", weight="bold")
    sheet.text(MARGIN, 0.5, "others, $x_1$ among them", align="right")
    sheet.block(MARGIN, 0.7, 1.0, 0.5, "#336699")
    sheet.line(MARGIN, 3.0, 1.5)
    figure = sheet.finish()
    assert figure.get_size_inches() == pytest.approx((WIDTH, 2.0))
    assert figure.get_dpi() == DPI
    [axes] = figure.axes
    assert [text.get_text() for text in axes.texts] == ["some words", "others, $x_1$ among them"]
    assert [text.get_position() for text in axes.texts] == [(MARGIN, 0.2), (MARGIN, 0.5)]
    [blocks] = axes.collections
    assert len(blocks.get_paths()) == 2
