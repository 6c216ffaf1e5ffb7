"""One paint by itself: equal to the slow oracle, and as handbooks describe paints."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim.colour import luminance_weights
from layersim.optics.flakes import ANGLES_DEG
from layersim.paint import Flakes, Paint
from layersim.scheme.records import Area, Coat, Mix, Scheme
from layersim.scheme.simulate import simulate
from layersim.swatchcard import BLACK, COATS, HIDING, WHITE, masstone, swatch_card
from tests.examples import CHALK, GLOSS, MOSS, PLUM, RUST, SOME_BANDS
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
    METAL = dataclasses.replace(MOSS, kind="metal", flakes=Flakes("brass", 0.4, 9.0, 0.2), sheen=0.4)

    def test_an_opaque_film_is_what_a_scheme_makes_of_it(self) -> None:
        coat = Coat("coat", Mix(((self.METAL, 1.0),)), coats=1, dry_film_um=1000.0, spread=0.0)
        scheme = Scheme("test", (Area("x", RUST, None, (coat,)),))
        [area] = simulate(scheme, tones=2, draws=0).areas
        card = swatch_card(self.METAL)
        for angle, lab in zip(area.angles, card.angles, strict=True):
            np.testing.assert_allclose(lab, angle.lab[-1, 0], atol=0.05)
        assert [angle.degrees for angle in area.angles] == list(ANGLES_DEG)
        np.testing.assert_allclose(card.masstone, area.reflectance[-1, 0], atol=1e-3)

    def test_flakes_hide_what_their_binder_does_not(self) -> None:
        clear = dataclasses.replace(self.METAL, K_per_um=np.zeros(31), S_per_um=np.zeros(31))
        card = swatch_card(clear)
        assert 1.0 < clear.flakes.cover_per_um * card.hides_at_um < 6.0
        np.testing.assert_allclose(card.over_black[-1], card.over_white[-1], atol=1e-3)

    def test_a_bright_metal_is_no_whiter_than_white(self) -> None:
        bright = dataclasses.replace(
            self.METAL,
            K_per_um=np.zeros(31),
            S_per_um=np.zeros(31),
            flakes=Flakes("aluminium", 1.0, 13.0, 0.0),
        )
        assert swatch_card(bright).masstone.max() <= 1.0
