"""What no paint should be made of: each complaint says what was found and what to do next."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import FitError, LayersimError
from layersim.fitting.measured import fit_swatches
from layersim.measure.swatch import Ground, SwatchSet
from layersim.shelf import Shelf
from layersim.spectra import BANDS
from tests.fitting.painter import COAT_UM, SIX, model_reflectance, six, swatch, swatches_of, violet

EMPTY = Shelf([])


def clean(seed: int = 0) -> SwatchSet:
    K, S = violet()
    return six(K, S, rng=np.random.default_rng(seed))


def changed(of: SwatchSet, row: int, **keys: object) -> SwatchSet:
    rows = list(of.swatches)
    rows[row] = dataclasses.replace(rows[row], **keys)  # type: ignore[arg-type]
    return dataclasses.replace(of, swatches=tuple(rows))


def complaint(of: SwatchSet, shelf: Shelf = EMPTY) -> str:
    with pytest.raises(FitError) as caught:
        fit_swatches(of, shelf)
    return str(caught.value)


def test_one_swatch_only() -> None:
    words = complaint(dataclasses.replace(clean(), swatches=clean().swatches[:1]))
    assert "one swatch only" in words
    assert "another" in words


def test_the_same_film_measured_twice_is_still_one() -> None:
    one = clean().swatches[0]
    again = dataclasses.replace(one, name="again")
    assert "one swatch only" in complaint(dataclasses.replace(clean(), swatches=(one, again)))


def test_films_that_look_alike_over_black_and_white_are_opaque() -> None:
    K, S = np.full(BANDS, 3.0), np.full(BANDS, 2.0)
    rows = [swatch(g, n, model_reflectance(K, S, ground=g, thickness_um=n * 30.0)) for g, n in SIX]
    words = complaint(swatches_of(rows))
    assert "look alike over black and white" in words
    assert "only the ratio" in words
    assert "thinner" in words
    assert '"this paint" = 1' in words


def test_masstone_alone_is_opaque() -> None:
    K, S = violet()
    seen = model_reflectance(K, S, ground="black", thickness_um=np.inf)
    rows = [swatch(None, None, seen, opaque=True, name=name) for name in ("a", "b")]
    assert "one swatch only" in complaint(swatches_of(rows))


def test_grounds_swapped() -> None:
    other = {"black": "white", "white": "black"}
    rows = tuple(dataclasses.replace(s, ground=other[str(s.ground)]) for s in clean().swatches)
    words = complaint(dataclasses.replace(clean(), swatches=rows))
    assert "contradict each other" in words
    assert "over white, the lighter ground" in words
    assert '"1 over black"' in words
    assert '"1 over white"' in words


def test_the_same_film_with_two_colours_and_nothing_to_tell_which_is_right() -> None:
    thick = dataclasses.replace(clean().swatches[5], coats=1.0)
    rows = (clean().swatches[3], thick, dataclasses.replace(thick, name="again", ground="black"))
    words = complaint(dataclasses.replace(clean(), swatches=rows))
    assert "contradict each other" in words
    assert '"1 over white" and "4 over white"' in words


def test_the_same_film_with_two_colours_where_the_others_tell() -> None:
    fit = fit_swatches(changed(clean(), 4, coats=1.0), EMPTY)
    assert fit.outliers == ()
    told = [notice for notice in fit.notices if notice.startswith('check "2 over white"')]
    assert len(told) == 1
    assert "2 coats (not 1)" in told[0]
    assert fit.film_factor[4] == pytest.approx(2.0, rel=0.2)


def test_swatches_of_different_paints() -> None:
    K, S = violet()
    films = (("black", 1.0), ("white", 2.0), ("black", 4.0), ("white", 3.0), ("white", 6.0))
    rows = [
        swatch(g, n, model_reflectance(np.roll(K, 7 * i), S, ground=g, thickness_um=n * COAT_UM))
        for i, (g, n) in enumerate(films)
    ]
    words = complaint(swatches_of(rows))
    assert "no paint meets them all" in words
    assert "Farthest off are" in words


def test_darker_than_its_own_surface() -> None:
    words = complaint(dataclasses.replace(clean(), specular="included"))
    assert "expected at least 0.016" in words
    assert 'say so: specular = "excluded"' in words


def test_a_ground_darker_than_its_own_surface() -> None:
    grounds = (
        Ground(name="black", reflectance=np.full(BANDS, 0.01), noise=np.full(BANDS, 1e-3), sheen=1.0),
        clean().grounds[1],
    )
    words = complaint(dataclasses.replace(clean(), grounds=grounds))
    assert 'ground "black"' in words
    assert "sheen" in words


def test_names_that_no_shelf_has() -> None:
    tint = changed(clean(), 0, parts=(("this paint", 1.0), ("titanum white", 4.0)))
    words = complaint(tint, Shelf.usual())
    assert 'swatch "1 over black", mix' in words
    assert 'Did you mean "titanium white"?' in words
    grounds = (Ground(name="black", paint="blak primer"), clean().grounds[1])
    words = complaint(dataclasses.replace(clean(), grounds=grounds), Shelf.usual())
    assert 'ground "black"' in words
    assert 'Did you mean "black primer"?' in words


@pytest.mark.parametrize(("K_per_um", "noise", "refused"), [(0.5, 0.02, False), (0.35, 0.05, True)])
def test_swatches_that_leave_thin_coats_open_are_marked_or_refused(
    K_per_um: float, noise: float, refused: bool
) -> None:
    """Two films of a black, badly read: hardly anything tells what half a coat does."""
    K, S = np.full(BANDS, K_per_um), np.full(BANDS, 0.01)
    rows = [
        swatch(ground, 1.0, model_reflectance(K, S, ground=ground, thickness_um=COAT_UM), noise=noise)
        for ground in ("black", "white")
    ]
    if refused:
        words = complaint(swatches_of(rows))
        assert "leave open what the paint looks like in thin coats" in words
        assert "half a coat, one, two and four over black and over white" in words
        return
    fit = fit_swatches(swatches_of(rows), EMPTY)
    assert fit.verdict.grade == "doubtful"
    assert fit.paint.note.startswith("Doubtful fit: ")


def test_films_that_look_alike_over_one_ground_may_be_clear() -> None:
    K, S = np.full(BANDS, 1e-4), np.full(BANDS, 1e-4)
    rows = [
        swatch("black", n, model_reflectance(K, S, ground="black", thickness_um=n * COAT_UM))
        for n in (1.0, 2.0, 4.0)
    ]
    words = complaint(swatches_of(rows))
    assert "opaque or clear" in words
    assert "another ground" in words


def test_what_the_noise_explains_counts_as_alike() -> None:
    rng = np.random.default_rng(1)
    K, S = np.full(BANDS, 6.0), np.full(BANDS, 0.05)
    words = complaint(six(K, S, noise=0.003, rng=rng))
    assert "no more than the noise of the readings" in words
    assert "every film is opaque" in words


def test_a_clear_varnish_over_black_and_white_is_no_opaque_film() -> None:
    fit = fit_swatches(six(np.full(BANDS, 1e-5), np.full(BANDS, 1e-5)), EMPTY)
    assert fit.verdict.grade == "good"
    assert fit.paint.K_per_um.max() < 1e-3
    assert fit.paint.S_per_um.max() < 2e-3


@pytest.mark.parametrize("row", range(6))
def test_a_bad_swatch_is_found_named_and_left_out(row: int) -> None:
    bad = clean()
    # Over white a little more light is what a thinner film would send back; that much more is not.
    more = 0.07 if row < 3 else 0.2
    spoilt = np.clip(bad.swatches[row].reflectance + more, 0.0, 1.0)
    fit = fit_swatches(changed(bad, row, reflectance=spoilt), EMPTY)
    assert [outlier.name for outlier in fit.outliers] == [bad.swatches[row].name]
    assert list(np.flatnonzero(~fit.kept)) == [row]
    assert fit.verdict.grade == "usable"
    assert "1 of 6 swatches" in fit.verdict.words
    K, _ = violet()
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.25)
    assert np.median(np.abs(fit.paint.K_per_um / K - 1.0)) < 0.04


@pytest.mark.parametrize(("row", "coats"), [(2, 8.0), (5, 8.0)])
def test_a_coat_miscounted_is_told_as_such(row: int, coats: float) -> None:
    fit = fit_swatches(changed(clean(), row, coats=coats), EMPTY)
    assert fit.outliers == ()
    [told] = [notice for notice in fit.notices if notice.startswith("check ")]
    assert f'"{clean().swatches[row].name}"' in told
    assert "coats (not 8)" in told
    assert fit.film_factor[row] == pytest.approx(0.5, rel=0.15)


def test_a_swatch_over_the_other_ground_is_told_as_such() -> None:
    K, S = violet()
    rows = [*clean().swatches]
    seen = model_reflectance(K, S, ground="white", thickness_um=3.0 * COAT_UM)
    rows.append(swatch("black", 3.0, seen, name="the odd one"))
    fit = fit_swatches(swatches_of(rows), EMPTY)
    assert [outlier.name for outlier in fit.outliers] == ["the odd one"]
    assert fit.outliers[0].looks_like == "over white (not black)"


@pytest.mark.parametrize("seed", range(4))
def test_clean_swatches_are_not_accused(seed: int) -> None:
    assert fit_swatches(clean(seed), EMPTY).outliers == ()


def test_more_misfit_than_the_errors_allow_widens_the_range() -> None:
    rng = np.random.default_rng(7)
    base = clean()
    rows = tuple(
        dataclasses.replace(s, reflectance=np.clip(s.reflectance + 0.004 * rng.standard_normal(BANDS), 0, 1))
        for s in base.swatches
    )
    rough = fit_swatches(dataclasses.replace(base, swatches=rows), EMPTY)
    assert rough.verdict.reach > 1.3 * fit_swatches(base, EMPTY).verdict.reach


def test_the_complaint_names_the_file() -> None:
    of = dataclasses.replace(clean(), source=Path("swatches.toml"), swatches=clean().swatches[:1])
    assert complaint(of).startswith("swatches.toml: ")
    assert issubclass(FitError, LayersimError)


def test_noise_in_the_dark_is_no_contradiction() -> None:
    """Readings of a near-black scatter by several ΔE00; that is noise, neither twins nor a bad fit."""
    rng = np.random.default_rng(0)
    K, S = violet()
    rows = []
    for repeat in range(4):
        for ground, coats in (("black", 0.5), ("black", 2.0), ("white", 1.0), ("white", 4.0)):
            seen = model_reflectance(K, S, ground=ground, thickness_um=coats * COAT_UM)
            read = np.maximum(seen + 0.004 * rng.standard_normal(BANDS), 0.0)
            name = f"{coats:g} over {ground}, reading {repeat + 1}"
            rows.append(swatch(ground, coats, read, noise=0.004, name=name))
    fit = fit_swatches(swatches_of(rows), EMPTY)
    assert fit.outliers == ()
    assert fit.delta_e.max() > 2.0
    assert fit.verdict.grade != "doubtful"
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.12)
