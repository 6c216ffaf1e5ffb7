"""One paint by itself: equal to the slow oracle, and as handbooks describe paints."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim.colour import luminance_weights
from layersim.paint import Paint
from layersim.scheme.records import Area, Scheme
from layersim.scheme.simulate import simulate
from layersim.swatchcard import BLACK, COATS, HIDING, WHITE, hue_of, masstone, swatch_card
from tests.examples import CHALK, GILT, GLOSS, MOSS, PLUM, RUST, SOME_BANDS, TIN
from tests.reference_scheme import ground_that_looks, laid, opaque, seen

PAINTS = (CHALK, MOSS, PLUM, RUST, GLOSS)


def steps_of(values: list[float]) -> np.ndarray:
    return np.repeat(values, (8, 8, 8, 7))


@pytest.mark.parametrize("paint", PAINTS, ids=lambda paint: paint.name)
class TestOracle:
    def test_coats_over_black_and_white(self, paint: Paint) -> None:
        card = swatch_card(paint, coats=(1, 3))
        for ground, found in ((BLACK, card.over_black), (WHITE, card.over_white)):
            for row, coats in enumerate((1, 3)):
                for band in SOME_BANDS:
                    K, S = float(paint.K_per_um[band]), float(paint.S_per_um[band])
                    Y = laid(K, S, coats * paint.dry_film_um, ground_that_looks(ground, 0.0))
                    assert found[row, band] == pytest.approx(seen(Y, paint.sheen), abs=1e-6)

    def test_contrast_ratio_is_of_luminances_without_gloss(self, paint: Paint) -> None:
        card = swatch_card(paint, coats=(2,))
        over = []
        for ground in (0.0, WHITE):
            rows = [
                seen(
                    laid(
                        float(paint.K_per_um[b]),
                        float(paint.S_per_um[b]),
                        2.0 * paint.dry_film_um,
                        ground_that_looks(ground, 0.0),
                    ),
                    0.0,
                )
                for b in SOME_BANDS
            ]
            over.append(float(steps_of(rows) @ luminance_weights()))
        assert card.contrast[0] == pytest.approx(over[0] / over[1], abs=1e-6)


@pytest.mark.parametrize("paint", [CHALK, MOSS, PLUM, RUST], ids=lambda paint: paint.name)
def test_masstone_is_the_film_in_which_only_what_decays_is_left(paint: Paint) -> None:
    expected = [
        seen(np.array(opaque(float(paint.K_per_um[b]), float(paint.S_per_um[b]))), paint.sheen)
        for b in SOME_BANDS
    ]
    np.testing.assert_allclose(masstone(paint)[list(SOME_BANDS)], expected, atol=1e-6)
    np.testing.assert_array_equal(swatch_card(paint).masstone, masstone(paint))


class TestCard:
    def test_shapes_and_order(self) -> None:
        card = swatch_card(MOSS)
        assert card.coats == COATS == (1, 2, 4, 8)
        assert card.over_black.shape == card.over_white.shape == (4, 31)
        assert card.paint is MOSS

    def test_more_coats_hide_more(self) -> None:
        card = swatch_card(MOSS)
        assert (np.diff(card.contrast) > 0.0).all()
        gap = np.abs(card.over_white - card.over_black).max(axis=1)
        assert (np.diff(gap) < 0.0).all()

    def test_thick_coats_are_the_masstone_over_either(self) -> None:
        thick = dataclasses.replace(RUST, wet_film_um=1000.0)
        card = swatch_card(thick, coats=(4,))
        np.testing.assert_allclose(card.over_black[0], card.masstone, atol=1e-9)
        np.testing.assert_allclose(card.over_white[0], card.masstone, atol=1e-9)
        assert card.contrast[0] == pytest.approx(1.0)

    def test_the_film_that_hides_reaches_098_and_no_thinner_one_does(self) -> None:
        um = swatch_card(CHALK).hides_at_um
        enough = dataclasses.replace(CHALK, volume_solids=1.0, wet_film_um=um * 1.000001)
        short = dataclasses.replace(CHALK, volume_solids=1.0, wet_film_um=um * 0.999999)
        assert swatch_card(enough, (1,)).contrast[0] >= HIDING == 0.98
        assert swatch_card(short, (1,)).contrast[0] < HIDING

    def test_a_clear_varnish_never_hides(self) -> None:
        card = swatch_card(GLOSS)
        assert card.hides_at_um == np.inf
        np.testing.assert_array_equal(card.contrast, np.zeros(4))
        # It shows its ground, the surface's gloss apart.
        np.testing.assert_allclose(card.over_white, WHITE + 0.05 * 0.04, atol=1e-9)

    @pytest.mark.parametrize("K", [0.1, 1.0, 3.0])
    def test_a_pure_dye_hides_only_where_nothing_comes_back_from_white(self, K: float) -> None:
        dye = dataclasses.replace(PLUM, K_per_um=np.full(31, K), S_per_um=np.zeros(31), sheen=0.0)
        um = swatch_card(dye).hides_at_um
        short = dataclasses.replace(dye, volume_solids=1.0, wet_film_um=0.999 * um)
        card = swatch_card(short, coats=(1,))
        assert card.over_white.max() < 1.1e-12
        assert card.contrast[0] == 0.0  # nothing over black, and still something over white

    def test_a_weak_ink_shows_its_undertone_over_white_and_nothing_over_black(self) -> None:
        card = swatch_card(PLUM)
        assert card.over_white[0].max() > 0.4
        assert card.over_black[0].max() < 0.03


class TestMetal:
    def test_opaque_it_is_what_a_scheme_takes_it_for(self) -> None:
        area = simulate(Scheme("x", (Area("x", GILT, None, ()),)), tones=2, draws=0).areas[0]
        for angle, here in zip(area.angles, swatch_card(GILT).angles, strict=True):
            assert here.degrees == angle.degrees
            np.testing.assert_allclose(here.masstone, angle.reflectance[0, 0], rtol=1e-9)
        for here in swatch_card(GILT, coats=(40,)).angles:
            np.testing.assert_allclose(here.over_black[0], here.masstone, rtol=0.02)

    def test_it_is_known_by_its_metal_and_not_by_its_binder(self) -> None:
        clear = dataclasses.replace(GILT, K_per_um=np.zeros(31))
        card = swatch_card(clear)
        assert (hue_of(clear), hue_of(TIN)) == ("yellow", "grey")
        assert np.all(np.diff(card.contrast) >= 0.0)
        assert 0.6 < card.contrast[0] < card.contrast[1]
        assert 1.0 < card.hides_at_um < 10.0
        near, turned, far = (one.masstone.mean() for one in card.angles)
        assert near > 1.0 > turned > far
