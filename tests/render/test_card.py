"""A paint's card as a picture."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layersim import colour
from layersim.paint import Paint
from layersim.render.card import card_figure
from layersim.writers.saving import save_figures
from layersim.swatchcard import swatch_card
from tests.examples import CHALK, GLOSS, MOSS, PLUM


@pytest.mark.parametrize("paint", [MOSS, PLUM, CHALK], ids=lambda paint: paint.name)
def test_every_swatch_stands_there_in_its_colour(tmp_path: Path, paint: Paint) -> None:
    card = swatch_card(paint)
    save_figures([card_figure(card)], tmp_path / "x.png")
    with Image.open(tmp_path / "x.png") as picture:
        counts = {rgb[:3]: count for count, rgb in picture.getcolors(1 << 24) or []}
    view = colour.Viewing()
    for reflectance in (card.masstone, *card.over_black, *card.over_white):
        shown = colour.on_screen(colour.xyz(reflectance, view), view.white)
        r, g, b = np.rint(shown.rgb * 255).astype(int).tolist()
        assert counts.get((r, g, b), 0) > 1000


def test_it_says_what_it_shows() -> None:
    figure = card_figure(swatch_card(MOSS))
    words = [text.get_text() for text in figure.axes[0].texts]
    assert "moss green" in words
    assert "paint; invented: plausible, measured by nobody" in words
    for wanted in ("over white", "over black", "masstone", "1 coat", "8 coats", "3 µm", "24 µm"):
        assert wanted in words
    contrast = swatch_card(MOSS).contrast
    assert [word for word in words if word.startswith("ratio")] == [
        f"ratio {value:.2f}" for value in contrast
    ]
    assert [axes.get_ylabel() for axes in figure.axes[1:]] == ["reflectance", "per µm of dry film"]
    # Lines differ in their dashes, not in colour alone.
    for axes in figure.axes[1:]:
        styles = [line.get_linestyle() for line in axes.get_lines()]
        assert len(set(styles)) == len(styles)


def test_the_lines_are_the_spectra() -> None:
    card = swatch_card(MOSS)
    figure = card_figure(card)
    masstone, white, black = figure.axes[1].get_lines()
    np.testing.assert_array_equal(masstone.get_ydata(), card.masstone)
    np.testing.assert_array_equal(white.get_ydata(), card.over_white[0])
    np.testing.assert_array_equal(black.get_ydata(), card.over_black[0])
    K, S = figure.axes[2].get_lines()
    np.testing.assert_array_equal(K.get_ydata(), MOSS.K_per_um)
    np.testing.assert_array_equal(S.get_ydata(), MOSS.S_per_um)


@pytest.mark.parametrize("ending", ["png", "pdf", "svg"])
def test_a_clear_varnish_and_a_name_in_any_letters(tmp_path: Path, ending: str) -> None:
    # Neither absorption nor scattering to draw, and warnings are errors.
    paint = dataclasses.replace(GLOSS, name="漆 $x_1$ \\alpha")
    save_figures([card_figure(swatch_card(paint))], tmp_path / f"x.{ending}")
    assert (tmp_path / f"x.{ending}").stat().st_size > 3000
