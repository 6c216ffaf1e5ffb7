"""A card as a problem: which of its places count, what is said of the others, and what is too little."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import FitError, PhotographError
from layersim.fitting.photographed import fit_readings
from layersim.measure.cardreading import CardReading
from layersim.spectra import BANDS
from tests.fitting.cards import SHELF, card_set, fitted, reading, spectra, two_lamps, with_patch
from tests.fitting.painter import violet


@pytest.fixture(scope="module", name="two_lamps")
def of_two_lamps() -> tuple[CardReading, CardReading]:
    return two_lamps()


def test_a_place_that_the_second_picture_does_not_show(two_lamps: tuple[CardReading, CardReading]) -> None:
    first, second = two_lamps
    nowhere = np.full(3, np.nan)
    for name in ("white 2", "black bare 1", "white bare 1", "white bare 2"):
        second = with_patch(second, name, usable=False, rgb=nowhere, xyz=nowhere, flags=("glare",))
    fit = fit_readings(card_set(), (first, second), SHELF)
    assert len(fit.names) == 12
    assert fit.kept.all()
    assert fit.delta_e.max() < 2.0
    assert any("tells nothing of white 2 (glare)" in notice for notice in fit.notices)
    one, two = (fit_readings(card_set(), cards, SHELF).freedom for cards in (two_lamps[:1], two_lamps))
    assert one < fit.freedom < two


def test_a_second_picture_that_shows_no_place_is_refused(two_lamps: tuple[CardReading, CardReading]) -> None:
    first, second = two_lamps
    for patch in second.patches:
        second = with_patch(second, patch.name, usable=False, flags=("glare",))
    with pytest.raises(PhotographError, match="no place of the card can be used"):
        fit_readings(card_set(), (first, second), SHELF)


def test_notes_that_differ_name_their_picture(two_lamps: tuple[CardReading, CardReading]) -> None:
    first = dataclasses.replace(two_lamps[0], notes=("no profile", "falls off by 7%"))
    second = dataclasses.replace(two_lamps[1], notes=("no profile", "falls off by 9%"), path=Path("b.jpg"))
    notices = fit_readings(card_set(), (first, second), SHELF).notices
    assert list(notices[:3]) == ["no profile", "card.jpg: falls off by 7%", "b.jpg: falls off by 9%"]


def test_an_opaque_paint_is_refused() -> None:
    nm = np.linspace(0.0, 30.0, BANDS)
    with pytest.raises(FitError, match=r"every film is opaque.*half a coat.*tint"):
        fitted(reading(spectra(np.asarray(4.0 + 0.02 * nm), np.full(BANDS, 3.0)), noise=5e-4))


def test_one_swatch_only_is_refused() -> None:
    swatches = card_set()
    with pytest.raises(FitError, match=r"one swatch only.*another ground"):
        fitted(reading(spectra(*violet())), dataclasses.replace(swatches, swatches=swatches.swatches[:1]))


def test_a_patch_that_cannot_be_used_is_left_out_and_said() -> None:
    card = with_patch(
        reading(spectra(*violet())), "black 2", usable=False, flags=("clipped: 80% of its pixels",)
    )
    fit = fitted(card)
    assert len(fit.names) == 11
    assert any("2 coats over black" in n and "clipped" in n and "again" in n for n in fit.notices)


def test_no_patch_that_can_be_used() -> None:
    card = reading(spectra(*violet()))
    for swatch in card_set().swatches:
        card = with_patch(card, swatch.patch, usable=False, flags=("glare on half of it",))
    with pytest.raises(FitError, match=r"no swatch can be used.*glare.*Photograph the card again"):
        fitted(card)


def test_a_bare_ground_that_cannot_be_seen() -> None:
    card = reading(spectra(*violet()))
    for name in ("white bare 1", "white bare 2"):
        card = with_patch(card, name, usable=False, flags=("clipped",))
    with pytest.raises(FitError, match='ground "white": none of its bare places'):
        fitted(card)


def test_grounds_swapped_are_refused() -> None:
    seen = spectra(*violet())
    swapped = {
        name: seen[name.replace("black", "white") if "black" in name else name.replace("white", "black")]
        if "bare" not in name
        else value
        for name, value in seen.items()
    }
    with pytest.raises(FitError, match="contradict each other"):
        fitted(reading(swapped))


def test_a_ground_darker_than_its_surface_is_refused() -> None:
    swatches = card_set()
    matt = tuple(dataclasses.replace(ground, sheen=1.0) for ground in swatches.grounds)
    with pytest.raises(FitError, match=r'ground "black": found a luminance.*sheen = "gloss"'):
        fitted(reading(spectra(*violet())), dataclasses.replace(swatches, grounds=matt))


def test_a_tint_with_a_known_white_counts_the_white() -> None:
    swatches = card_set()
    tinted = tuple(
        dataclasses.replace(s, parts=(("this paint", 1.0), ("no such white", 4.0))) if s.coats == 4 else s
        for s in swatches.swatches
    )
    with pytest.raises(FitError, match=r'"4 coats over black", mix: .*no such white'):
        fitted(reading(spectra(*violet())), dataclasses.replace(swatches, swatches=tinted))


def test_one_swatch_left_of_many_is_the_photographs_fault() -> None:
    card = reading(spectra(*violet()))
    for place in [p.name for p in card.patches if p.coats][:-1]:
        card = with_patch(card, place, usable=False, flags=("two tones",))
    with pytest.raises(
        FitError, match=r'only 1 of 8 swatches can be used: "half a coat over black" two tones'
    ):
        fitted(card)


def test_places_that_could_not_be_used_are_named_before_more_spraying_is_advised() -> None:
    card = reading(spectra(*violet()), noise=2e-2)
    for place in ("black 1", "white 2"):
        card = with_patch(card, place, usable=False, flags=("two tones",))
    fit = fitted(card)
    assert fit.remedy.startswith("First photograph the card again: 2 of its places could not be used (")
    assert '"1 coat over black" two tones; "2 coats over white" two tones' in fit.remedy
