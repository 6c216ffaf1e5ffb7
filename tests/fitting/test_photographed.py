"""A paint from a card's reading: how near it comes, what it says of itself, and what it finds amiss."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from layersim import colour
from layersim.fitting.doubts import films_over
from layersim.fitting.photographed import fit_readings
from layersim.fitting.result import Fit
from layersim.fitting.two_constant import predict
from layersim.fitting.verdict import GOOD_REACH
from layersim.measure.photoswatch import CardGround, CardSwatch
from layersim.spectra import FloatArray
from tests.fitting.cards import SHELF, card_set, fitted, reading, spectra, two_lamps, with_patch
from tests.fitting.painter import BARE, violet


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
    # Twelve places of three channels, and kinds of paints are a prior that is meant.
    assert of_violet.freedom == 36.0
    assert of_violet.chi2 < 36.0
    assert of_violet.inflation == 1.0


def test_another_lamp_narrows_the_range(of_violet: Fit) -> None:
    fit = fit_readings(card_set(), two_lamps(), SHELF)
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


def test_a_second_photograph_under_the_same_lamp_is_noticed() -> None:
    seen = spectra(*violet())
    again = dataclasses.replace(reading(seen, seed=1), path=Path("again.jpg"))
    alike = fit_readings(card_set(), (reading(seen), again), SHELF)
    assert any("again.jpg seems to be lit by the same kind of lamp as card.jpg" in n for n in alike.notices)
    other = fit_readings(card_set(), two_lamps(), SHELF)
    assert not any("same kind of lamp" in n for n in other.notices)


def test_the_verdict_looks_at_both_photographs() -> None:
    first, second = two_lamps()
    # A little off, place by place, as no paint can be.
    rng = np.random.default_rng(2)
    patches = [dataclasses.replace(p, rgb=p.rgb * np.exp(0.04 * rng.normal(size=3))) for p in second.patches]
    worse = dataclasses.replace(second, patches=tuple(patches))
    good, bad = (
        float(fit_readings(card_set(), (first, two), SHELF).verdict.words.split("met within ")[1].split()[0])
        for two in (second, worse)
    )
    assert bad > good + 0.4


def test_a_channel_that_is_cut_off_is_off_by_what_goes_beyond_its_limit() -> None:
    card = reading(spectra(*violet()))
    [patch] = [p for p in card.patches if p.name == "white 4"]
    green = patch.rgb[1]
    for limit, most, least in ((green + 0.02, 1.5, 0.0), (0.3 * green, 30.0, 3.0)):
        cut = with_patch(
            card,
            "white 4",
            rgb=np.array([patch.rgb[0], limit, patch.rgb[2]]),
            cut_off=np.array([0.0, 0.1, 0.0]),
            limit=np.array([False, True, False]),
            usable=False,
            only_cut_off=True,
        )
        fit = fitted(cut)
        assert least <= fit.delta_e[fit.names.index("4 coats over white")] <= most


def test_places_that_were_swapped_look_like_each_other() -> None:
    seen = spectra(*violet())
    seen["white 1"], seen["white 4"] = seen["white 4"], seen["white 1"]
    fit = fitted(reading(seen))
    found = {outlier.name: outlier.looks_like for outlier in fit.outliers}
    assert found
    pairs = {"1 coat over white": '"4 coats over white"', "4 coats over white": '"1 coat over white"'}
    assert all(pairs[name] == looks for name, looks in found.items())


def test_no_swatch_is_promised_to_mend_the_cameras_colours() -> None:
    fit = fitted(reading(spectra(*violet()), chart=False))
    assert "24-patch colour chart" in fit.remedy
    assert fit.suggestion is None or fit.suggestion.reach > 0.75 * fit.verdict.reach


def test_another_lamp_is_advised_where_it_would_help(of_violet: Fit) -> None:
    worse = fitted(reading(spectra(*violet()), noise=2e-2))
    assert worse.verdict.grade != "good"
    assert "other_lamp" in worse.remedy
    assert ("other_lamp" in of_violet.remedy) == (of_violet.verdict.reach > GOOD_REACH)


def test_without_a_chart_the_range_is_wider(of_violet: Fit) -> None:
    fit = fitted(reading(spectra(*violet()), chart=False))
    assert fit.verdict.reach > of_violet.verdict.reach
    assert "neutrals only" in fit.paint.provenance


def test_one_swatch_that_does_not_belong_is_named() -> None:
    """Its place was given to another count of coats."""
    seen = spectra(*violet())
    seen["white 1"] = seen["white 4"]
    fit = fitted(reading(seen, noise=1e-3))
    assert [o.name for o in fit.outliers] == ["1 coat over white"]
    assert fit.verdict.grade != "good"


def test_a_card_whose_colours_no_coats_could_have_is_told_of(of_violet: Fit) -> None:
    """More saturation on the card than on the chart beside it, as where another lamp lights one of them."""
    card = reading(spectra(*violet()))
    for patch in card.patches:
        vivid = np.maximum(patch.rgb.mean() + 1.6 * (patch.rgb - patch.rgb.mean()), 1e-4)
        card = with_patch(card, patch.name, rgb=vivid)
    fit = fitted(card)
    said = next(words for words in fit.notices if "one paint's curve" in words)
    assert f"{fit.inflation**0.5:.1f} times as wide" in said
    assert fit.verdict.reach > of_violet.verdict.reach
    assert not any("one paint's curve" in words for words in of_violet.notices)


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
