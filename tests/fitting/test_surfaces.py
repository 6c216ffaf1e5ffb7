"""How much of the surface the readings hold: what a bare black tells, and what it does to a paint."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim.fitting.measured import fit_swatches
from layersim.fitting.surfaces import ENDS_DOUBT, MIDDLE_DOUBT, surface_of
from layersim.measure.swatch import Ground
from layersim.optics import cones
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray
from tests.fitting.painter import BARE, COAT_UM, SIX, model_reflectance, swatch, swatches_of, violet

K1 = cones.directions().k1
EMPTY = Shelf([])


def reading(level: float, told: float, noise: float = 1e-3) -> tuple[FloatArray, FloatArray, float]:
    return np.full(BANDS, level), np.full(BANDS, noise), told


def test_a_black_as_dark_as_its_surface_leaves_little_in_doubt() -> None:
    found = surface_of([reading(0.1, 0.0)], [reading(0.002, 0.0)])
    assert abs(found.shift) < 0.05
    assert found.doubt < 0.03


def test_a_dark_reading_is_a_sign_of_another_index() -> None:
    """A binder of index 1.45 sends back 0.0337 (Fresnel), less than the 0.04 that was told."""
    found = surface_of([reading(0.1, 1.0)], [reading(0.0355, 1.0)])
    assert found.shift == pytest.approx(0.0337 / K1 - 1.0, abs=2.0 * found.doubt)
    assert found.shift < -0.1


def test_matt_told_as_satin_shows_in_a_black() -> None:
    found = surface_of([reading(0.1, 0.4)], [reading(K1 + 0.002, 0.4)])
    assert found.shift == pytest.approx(0.6, abs=2.0 * found.doubt)
    assert found.shift > 0.3


@pytest.mark.parametrize("told", [0.0, 0.4, 1.0])
def test_without_a_bare_dark_ground_nothing_moves_and_the_doubt_is_as_wide_as_thought(told: float) -> None:
    found = surface_of([reading(0.3, told)], [])
    thought = ENDS_DOUBT + MIDDLE_DOUBT * 4.0 * told * (1.0 - told)
    assert found.shift == pytest.approx(0.0, abs=1e-9)
    # At gloss one half of it is not possible: no surface is seen less than not at all.
    assert 0.55 * thought < found.doubt <= 1.01 * thought


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.2), st.floats(0.0, 0.2))
def test_a_darker_black_never_means_more_surface(told: float, one: float, two: float) -> None:
    dark, light = sorted((one, two))
    # Beyond a tenth the tail lets go of what is no black at all.
    levels = [told * K1 + min(level, 0.006) for level in (dark, light)]
    shifts = [surface_of([reading(0.4, told)], [reading(level, told)]).shift for level in levels]
    assert shifts[0] <= shifts[1] + 1e-3


def test_readings_of_a_lower_index_give_the_paint_and_its_reflection() -> None:
    K, S = violet()
    share = 0.84
    rows = [
        swatch(g, n, model_reflectance(K, S, ground=g, thickness_um=n * COAT_UM, sheen=share)) for g, n in SIX
    ]
    told = swatches_of(rows, sheen=1.0, specular="included")
    grounds = tuple(
        type(ground)(
            name=ground.name, reflectance=BARE[ground.name] + share * K1, noise=1e-3, sheen=ground.sheen
        )
        for ground in told.grounds
    )
    fit = fit_swatches(type(told)(**{**told.__dict__, "grounds": grounds}), EMPTY)
    doubt = max(d.first_reflection for d in fit.paint.doubts)
    assert fit.paint.first_reflection < 0.96 * K1
    assert fit.paint.first_reflection / K1 == pytest.approx(share, abs=2.0 * doubt)
    np.testing.assert_allclose(fit.paint.K_per_um, K, rtol=0.06)


def test_the_doubt_of_the_surface_nearly_cancels_under_the_paints_own_finish() -> None:
    K, S = violet()
    rows = [
        swatch(g, n, model_reflectance(K, S, ground=g, thickness_um=n * COAT_UM, sheen=0.4)) for g, n in SIX
    ]
    fit = fit_swatches(swatches_of(rows, sheen=0.4), EMPTY)
    assert fit.verdict.reach < 0.7 * fit.verdict.reach_under["gloss"]
    assert "under a gloss varnish" in fit.verdict.words


def test_a_primer_of_the_shelf_is_no_reading_of_a_black() -> None:
    """It is as black as can be, and says nothing of how much of its surface this instrument saw."""
    K, S = violet()
    rows = [
        swatch(g, n, model_reflectance(K, S, ground=g, thickness_um=n * COAT_UM, sheen=0.4)) for g, n in SIX
    ]
    told = swatches_of(rows, sheen=0.4)
    read = fit_swatches(told, EMPTY)
    known = tuple(
        Ground(name=g.name, paint="black primer", sheen=g.sheen) if g.name == "black" else g
        for g in told.grounds
    )
    unread = fit_swatches(dataclasses.replace(told, grounds=known), Shelf.usual())
    assert "opaque black of the same finish" not in read.remedy
    assert "opaque black of the same finish" in unread.remedy
