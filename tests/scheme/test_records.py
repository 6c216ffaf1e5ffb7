"""What a scheme says, and the arithmetic of its records."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from layersim.scheme.records import Coat, GreysSprayed, Hand, Mix, Scheme, Where
from tests.examples import CHALK, GLOSS, MOSS, PLUM, RUST
from tests.optics.ranges import LAW

LIGHTNESS = np.linspace(0.0, 100.0, 101)


class TestWhere:
    def test_everywhere_is_all_of_the_film(self) -> None:
        assert Where().everywhere
        np.testing.assert_array_equal(Where().film_share(LIGHTNESS), np.ones(101))
        assert not Where(lightest_from=0.0).everywhere

    def test_the_edge_falls_from_nine_tenths_to_one_tenth(self) -> None:
        share = Where(lightest_from=60.0, edge=20.0).film_share([50.0, 60.0, 70.0])
        np.testing.assert_allclose(share, [0.1, 0.5, 0.9], atol=1e-12)
        share = Where(darkest_up_to=40.0, edge=10.0).film_share([35.0, 40.0, 45.0])
        np.testing.assert_allclose(share, [0.9, 0.5, 0.1], atol=1e-12)

    def test_it_is_the_integral_of_a_gaussian(self) -> None:
        sigma = 30.0 / (norm.ppf(0.9) - norm.ppf(0.1))
        np.testing.assert_allclose(
            Where(lightest_from=50.0, edge=30.0).film_share(LIGHTNESS),
            norm.cdf(LIGHTNESS, 50.0, sigma),
            atol=1e-12,
        )

    def test_two_bounds_multiply(self) -> None:
        both = Where(lightest_from=30.0, darkest_up_to=70.0)
        one, two = Where(lightest_from=30.0), Where(darkest_up_to=70.0)
        np.testing.assert_allclose(
            both.film_share(LIGHTNESS), one.film_share(LIGHTNESS) * two.film_share(LIGHTNESS)
        )

    def test_no_edge_is_a_mask(self) -> None:
        where = Where(lightest_from=30.0, darkest_up_to=70.0, edge=0.0)
        np.testing.assert_array_equal(where.film_share([29.9, 30.0, 70.0, 70.1]), [0.0, 1.0, 1.0, 0.0])

    @LAW
    @given(st.floats(0.0, 100.0), st.floats(0.0, 100.0))
    def test_it_rises_towards_the_light_and_stays_a_share(self, bound: float, edge: float) -> None:
        rising = Where(lightest_from=bound, edge=edge).film_share(LIGHTNESS)
        falling = Where(darkest_up_to=bound, edge=edge).film_share(LIGHTNESS)
        for share in (rising, falling):
            assert ((share >= 0.0) & (share <= 1.0)).all()
        assert (np.diff(rising) >= 0.0).all()
        assert (np.diff(falling) <= 0.0).all()

    @pytest.mark.parametrize(
        ("where", "words"),
        [
            (Where(), "everywhere"),
            (Where(lightest_from=60.0), "from L* 60 up"),
            (Where(darkest_up_to=42.5), "up to L* 42.5"),
            (Where(lightest_from=20.0, darkest_up_to=60.0), "L* 20 to 60"),
        ],
    )
    def test_in_words(self, where: Where, words: str) -> None:
        assert where.words() == words


class TestMix:
    mix = Mix(((MOSS, 4.0), (PLUM, 1.0)), thinning=1.0)

    def test_solids_count_the_thinner(self) -> None:
        # 4 parts at 25 %, 1 at 10 %, 5 of thinner
        assert self.mix.volume_solids == pytest.approx((4 * 0.25 + 0.1) / 10.0)

    def test_the_suggested_film_is_the_ingredients_own_by_their_drops(self) -> None:
        mix = Mix(
            (
                (dataclasses.replace(MOSS, wet_film_um=10.0), 3.0),
                (dataclasses.replace(PLUM, wet_film_um=20.0), 1.0),
            )
        )
        assert mix.wet_film_um == pytest.approx(12.5)

    def test_the_sheen_goes_by_what_is_left_when_dry(self) -> None:
        assert self.mix.sheen == pytest.approx((4 * 0.25 * 1.0 + 0.1 * 0.4) / (4 * 0.25 + 0.1))
        assert Mix(((GLOSS, 3.0),), thinning=9.0).sheen == pytest.approx(0.05)

    @pytest.mark.parametrize(
        ("mix", "words"),
        [
            (mix, "4 moss green : 1 plum ink, thinned 1:1"),
            (Mix(((RUST, 7.0),)), "rust"),
            (Mix(((RUST, 1.0),), 3.5), "rust, thinned 3.5:1"),
            (Mix(((RUST, 2.5), (CHALK, 1.0))), "2.5 rust : 1 chalk white"),
        ],
    )
    def test_in_words(self, mix: Mix, words: str) -> None:
        assert mix.words() == words

    @LAW
    @given(st.floats(1e-3, 1e3), st.floats(0.0, 100.0))
    def test_only_the_ratio_of_parts_counts(self, factor: float, thinning: float) -> None:
        one = Mix(((MOSS, 4.0), (PLUM, 1.0)), thinning)
        other = Mix(((MOSS, 4.0 * factor), (PLUM, factor)), thinning)
        assert other.volume_solids == pytest.approx(one.volume_solids)
        assert other.wet_film_um == pytest.approx(one.wet_film_um)
        assert other.sheen == pytest.approx(one.sheen)


class TestCoat:
    coat = Coat(name="base", mix=Mix(((RUST, 1.0),)), coats=3, dry_film_um=0.8, spread=0.2)

    def test_films_add(self) -> None:
        assert self.coat.total_film_um == pytest.approx(2.4)
        assert GreysSprayed(self.coat.mix, 4, 0.6, 0.2, 0.02).total_film_um == pytest.approx(2.4)

    def test_a_sheen_of_its_own_wins(self) -> None:
        assert self.coat.dry_sheen == RUST.sheen
        assert dataclasses.replace(self.coat, sheen=0.0).dry_sheen == 0.0

    def test_in_words(self) -> None:
        assert self.coat.words() == "rust, 3 coats, 2.4 µm dry"
        local = dataclasses.replace(
            self.coat,
            coats=1,
            dry_film_um=120.0,
            where=Where(lightest_from=60.0),
            patch="chips",
            coverage=0.055,
        )
        assert local.words() == "rust, 1 coat, 120 µm dry, from L* 60 up, on 5.5 % of the area"


def test_records_are_frozen() -> None:
    for record in (Where(), Hand(), TestMix.mix, TestCoat.coat, Scheme(name="x", areas=())):
        field = dataclasses.fields(record)[0].name
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(record, field, None)
