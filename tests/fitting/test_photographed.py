"""A paint from a card's reading: how near it comes, what it says of itself, and what it refuses."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from layersim import colour
from layersim.errors import FitError, PhotographError
from layersim.fitting.doubts import films_over
from layersim.fitting.photographed import fit_readings
from layersim.fitting.result import Fit
from layersim.fitting.two_constant import predict
from layersim.fitting.verdict import GOOD_REACH
from layersim.measure.cardreading import CardReading
from layersim.measure.photoswatch import CardGround, CardSwatch, PhotographedSet
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray
from tests.fitting.cards import LED_NM, card_set, reading, spectra, with_patch
from tests.fitting.painter import BARE, violet

SHELF = Shelf([])


def fitted(card: CardReading, swatches: PhotographedSet | None = None) -> Fit:
    return fit_readings(swatches or card_set(), (card,), SHELF)


def unseen(K: FloatArray, S: FloatArray) -> FloatArray:
    """Return L*a*b* at D65 of films that are on no card."""
    X = np.array([0.8, 1.5, 5.0, 9.0])
    grounds = np.repeat(np.stack([BARE["black"], BARE["white"]]), 4, axis=0)
    films = films_over(thickness_um=np.tile(X, 2), reflectance=grounds)
    return colour.lab(predict(films, np.concatenate([np.log(K), np.log(S), np.zeros(8)])), colour.Viewing())


@pytest.fixture(scope="module")
def of_violet() -> Fit:
    return fitted(reading(spectra(*violet())))


def test_unseen_films_are_predicted_in_another_light(of_violet: Fit) -> None:
    off = colour.delta_e_2000(unseen(of_violet.paint.K_per_um, of_violet.paint.S_per_um), unseen(*violet()))
    assert off.mean() < 1.5
    assert off.max() < 3.5


def test_the_range_holds_the_truth(of_violet: Fit) -> None:
    K, S = violet()
    paint = of_violet.paint
    rng = np.random.default_rng(0)
    mid = unseen(paint.K_per_um, paint.S_per_um)
    drawn = []
    for _ in range(80):
        z = rng.standard_normal(len(paint.doubts))
        log_K = sum(a * d.log_K for a, d in zip(z, paint.doubts, strict=True))
        log_S = sum(a * d.log_S for a, d in zip(z, paint.doubts, strict=True))
        drawn.append(unseen(paint.K_per_um * np.exp(log_K), paint.S_per_um * np.exp(log_S)))
    reach = np.quantile(colour.delta_e_2000(np.array(drawn), mid), 0.9, axis=0)
    assert (colour.delta_e_2000(unseen(K, S), mid) <= reach).mean() >= 0.75
    assert of_violet.verdict.reach < 3.0


def test_what_it_says_of_itself(of_violet: Fit) -> None:
    assert of_violet.paint.doubts
    assert "8 swatches photographed, calibrated" in of_violet.paint.provenance
    assert "24-patch chart" in of_violet.paint.provenance
    assert len(of_violet.names) == 12
    assert of_violet.names[-1] == "white bare 2"
    assert of_violet.kept.all()
    assert of_violet.measured is None
    assert of_violet.delta_e.max() < 2.0


@pytest.fixture(scope="module")
def two_lamps() -> tuple[CardReading, CardReading]:
    seen = spectra(*violet())
    return reading(seen), reading(seen, lamp_nm=LED_NM, seed=1)


def test_another_lamp_narrows_the_range(of_violet: Fit, two_lamps: tuple[CardReading, CardReading]) -> None:
    fit = fit_readings(card_set(), two_lamps, SHELF)
    assert fit.verdict.reach < of_violet.verdict.reach
    assert np.trace(fit.covariance) < 0.8 * np.trace(of_violet.covariance)
    assert "photographed under two lamps" in fit.paint.provenance
    assert fit.delta_e.max() < 2.0
    off = colour.delta_e_2000(unseen(fit.paint.K_per_um, fit.paint.S_per_um), unseen(*violet()))
    assert off.mean() < 1.0


def test_the_same_picture_twice_tells_hardly_more(of_violet: Fit) -> None:
    """What its calibration gets wrong is wrong in both, but that is not known; noise alone averages out."""
    card = reading(spectra(*violet()))
    assert fit_readings(card_set(), (card, card), SHELF).verdict.reach > 0.9 * of_violet.verdict.reach


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


def test_another_lamp_is_advised_where_it_would_help(of_violet: Fit) -> None:
    worse = fitted(reading(spectra(*violet()), noise=2e-2))
    assert worse.verdict.grade != "good"
    assert any("other_light" in notice for notice in worse.notices)
    assert any("other_light" in n for n in of_violet.notices) == (of_violet.verdict.reach > GOOD_REACH)


def test_without_a_chart_the_range_is_wider(of_violet: Fit) -> None:
    fit = fitted(reading(spectra(*violet()), chart=False))
    assert fit.verdict.reach > of_violet.verdict.reach
    assert "neutrals only" in fit.paint.provenance


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


def test_a_colour_too_pure_for_the_file_counts_by_its_other_channels() -> None:
    card = reading(spectra(*violet()))
    patch = next(p for p in card.patches if p.name == "white 4")
    rgb = patch.rgb * np.array([1.0, 0.0, 1.0])
    cut = with_patch(
        card,
        "white 4",
        rgb=rgb,
        usable=False,
        only_cut_off=True,
        cut_off=np.array([0.0, 0.03, 0.0]),
        flags=("too dark or too pure for the file's colours: a channel stands at 0",),
    )
    fit = fitted(cut)
    assert len(fit.names) == 12
    assert any("raw" in n and "wider colour space than sRGB" in n for n in fit.notices)


def test_one_swatch_that_does_not_belong_is_named() -> None:
    """Its place was given to another count of coats."""
    seen = spectra(*violet())
    seen["white 1"] = seen["white 4"]
    fit = fitted(reading(seen, noise=1e-3))
    assert [o.name for o in fit.outliers] == ["1 coat over white"]
    assert fit.verdict.grade != "good"


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


def test_records_refuse_what_cannot_be() -> None:
    swatches = card_set()
    with pytest.raises(ValueError, match="used twice"):
        dataclasses.replace(
            swatches,
            swatches=(*swatches.swatches, dataclasses.replace(swatches.swatches[0], name="again")),
        )
    with pytest.raises(ValueError, match="no place"):
        dataclasses.replace(
            swatches, swatches=(CardSwatch(name="x", ground="black", coats=1.0, patch="black 9"),)
        )
    with pytest.raises(ValueError, match="bare place"):
        CardGround(name="grey")
