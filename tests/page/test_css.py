"""Colours as a style sheet writes them, against coloraide, which has CSS Color 4's own figures."""

from __future__ import annotations

import numpy as np
import pytest

from layersim import Shelf, colour
from layersim.page.css import css_of_lab, css_of_one, css_of_xyz
from layersim.spectra import FloatArray
from layersim.swatchcard import masstone

coloraide = pytest.importorskip("coloraide")

LEVEL = 1.0 / 255.0
D65 = colour.Viewing()


def as_screen(text: str) -> FloatArray:
    """Return what a browser makes of a text, as sRGB, by coloraide."""
    return np.array(coloraide.Color(text).convert("srgb").coords())


@pytest.mark.parametrize("light", list(colour.LIGHTS))
@pytest.mark.parametrize("observer", colour.OBSERVERS)
def test_the_white_of_any_light_is_the_screens_white(light: str, observer: str) -> None:
    viewing = colour.Viewing(light, observer)

    [text] = css_of_xyz(viewing.white[np.newaxis], viewing)

    assert as_screen(text) == pytest.approx(np.ones(3), abs=1e-6)


@pytest.mark.parametrize("light", ["D65", "A", "FL11"])
def test_a_screen_shows_it_as_the_pictures_do(light: str) -> None:
    viewing = colour.Viewing(light)
    values = colour.xyz([masstone(place.paint) for place in Shelf.usual().places()], viewing)
    ours = colour.on_screen(values, viewing.white)

    theirs = np.array([as_screen(text) for text in css_of_xyz(values, viewing)])

    assert ours.shown.sum() > 20
    assert np.abs(theirs - ours.rgb)[ours.shown].max() < 0.6 * LEVEL


def test_a_screen_colour_comes_back_as_itself() -> None:
    # Within what the rounding of the text and CSS's longer matrices make of it.
    for named in ("#ff0000", "#00ff00", "#0000ff", "#7a4c2e", "#000000"):
        text = css_of_one(colour.lab_of_hex(named), colour.Viewing())
        assert as_screen(text) == pytest.approx(
            coloraide.Color(named).convert("srgb").coords(), abs=0.6 * LEVEL
        )


def test_a_colour_beyond_srgb_keeps_its_chroma() -> None:
    [text] = css_of_lab([[60.0, -90.0, 40.0]], colour.Viewing())

    assert not coloraide.Color(text).in_gamut("srgb")
    L, a, b = coloraide.Color(text).convert("lab-d65").coords()
    assert (L, a, b) == pytest.approx((60.0, -90.0, 40.0), abs=0.2)


def test_metal_lighter_than_white_keeps_its_hue_as_in_pictures() -> None:
    gold = np.array([130.0, 135.0, 60.0])

    [text, brighter] = css_of_xyz([gold, 1.7 * gold], D65)

    assert brighter == text
    assert as_screen(text) == pytest.approx(colour.on_screen(gold, D65.white).rgb, abs=0.6 * LEVEL)
    ours, theirs = colour.lch(colour.lab_from_xyz([gold, colour.dimmed(gold, D65.white)], D65.white))[:, 2]
    assert theirs == pytest.approx(ours, abs=1e-6)


def test_no_text_leaves_what_css_takes() -> None:
    texts = css_of_xyz([[0.0, 0.0, 0.0], [-1e-9, -1e-9, -1e-9], 2.0 * D65.white], D65)

    assert texts[:2] == ["lab(0 0 0)"] * 2
    assert texts[2] == "lab(100 0 0)"
    assert not any("-0 " in text or "e" in text for text in texts)
