"""The unevenness of a sprayed coat: closed forms, Monte Carlo, and laws."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from layersim.optics.spray import (
    SPOT_WIDTH,
    independent_orders,
    site_films,
    spot_of_droplet,
    spread_of_coats,
    spread_of_spots,
    spread_where_thin,
)
from tests import reference
from tests.optics.ranges import LAW
from tests.oracle.two_fluxes import film, over_ground

ULP = float(np.finfo(float).eps)


class TestShotNoise:
    @pytest.mark.parametrize(("spot", "mean"), [(0.1, 2.5), (0.5, 2.0), (0.25, 0.25)])
    def test_spots_landing_at_random(self, spot: float, mean: float) -> None:
        # Campbell's theorem (Poisson shot noise): mean λh, variance λh², λ = mean / h spots over a place.
        sheet = reference.sprayed_sheet(
            spot_um=spot, film_um=mean, random=np.random.default_rng(11), places=40_000
        )
        assert sheet.mean() == pytest.approx(mean, rel=0.01)
        stated = spread_of_spots(spot_um=spot, film_um=mean)
        assert sheet.std() / sheet.mean() == pytest.approx(stated, rel=0.03)

    def test_coats_even_out(self) -> None:
        # Twice the spots in one go, or as many in each of two coats: the same sheet.
        random = np.random.default_rng(12)
        coats = [
            reference.sprayed_sheet(spot_um=0.2, film_um=1.5, random=random, places=40_000) for _ in range(4)
        ]
        for n in (1, 2, 4):
            together = np.sum(coats[:n], axis=0)
            one = spread_of_spots(spot_um=0.2, film_um=1.5)
            stated = spread_of_coats(spread=one, coats=n)
            assert together.std() / together.mean() == pytest.approx(stated, rel=0.03)
            assert stated == pytest.approx(spread_of_spots(spot_um=0.2, film_um=n * 1.5), rel=1e-14)

    def test_the_eye_averages_light_over_a_real_sheet_as_over_the_sites(self) -> None:
        spot, mean = 0.15, 1.5
        sheet = reference.sprayed_sheet(
            spot_um=spot, film_um=mean, random=np.random.default_rng(13), places=40_000
        )
        sites = mean * site_films(spread=spread_of_spots(spot_um=spot, film_um=mean), sites=64)
        for K, S, ground in ((0.0, 1.0, 0.0), (0.8, 0.05, 0.9)):
            shown = [
                over_ground(film(K_per_um=K, S_per_um=S, thickness_um=X), ground).mean()
                for X in (sheet, sites)
            ]
            even = float(over_ground(film(K_per_um=K, S_per_um=S, thickness_um=mean), ground))
            assert shown[1] == pytest.approx(shown[0], abs=0.003)
            assert abs(shown[1] - even) > 0.006  # what the even film would get wrong

    @LAW
    @given(st.floats(1e-3, 10.0), st.floats(1e-2, 50.0), st.floats(0.5, 30.0))
    def test_scaling(self, spot: float, mean: float, coats: float) -> None:
        one = spread_of_spots(spot_um=spot, film_um=mean)
        assert one**2 == pytest.approx(spot / mean, rel=1e-12)
        assert spread_of_coats(spread=one, coats=coats) ** 2 == pytest.approx(one**2 / coats, rel=1e-12)

    def test_no_spot_no_spread(self) -> None:
        assert spread_of_spots(spot_um=0.0, film_um=2.0) == 0.0
        assert spread_of_coats(spread=0.0, coats=3) == 0.0

    @pytest.mark.parametrize(
        ("spot", "mean"),
        [(0.1, 0.0), (0.1, -1.0), (-0.1, 1.0), (math.nan, 1.0), (0.1, math.nan), (math.inf, math.inf)],
    )
    def test_impossible_spots(self, spot: float, mean: float) -> None:
        with pytest.raises(ValueError, match="film above zero"):
            spread_of_spots(spot_um=spot, film_um=mean)

    @pytest.mark.parametrize(("spread", "coats"), [(0.1, 0.0), (0.1, -1.0), (-0.1, 1.0), (math.nan, 1.0)])
    def test_impossible_coats(self, spread: float, coats: float) -> None:
        with pytest.raises(ValueError, match="coats above zero"):
            spread_of_coats(spread=spread, coats=coats)


class TestThin:
    def test_a_thin_place_has_the_spread_of_its_own_few_spots(self) -> None:
        # A quarter of the film: a quarter of the spots, counted over a sheet on which they landed at random.
        sheet = reference.sprayed_sheet(
            spot_um=0.1, film_um=0.25 * 1.6, random=np.random.default_rng(14), places=40_000
        )
        full = spread_of_spots(spot_um=0.1, film_um=1.6)
        stated = float(spread_where_thin(spread=full, share=0.25))
        assert stated == pytest.approx(float(spread_of_spots(spot_um=0.1, film_um=0.4)), rel=1e-14)
        assert sheet.std() / sheet.mean() == pytest.approx(stated, rel=0.03)

    def test_the_bare_part_is_counted(self) -> None:
        # Spread 1 is one spot on average: e⁻¹ of the place has none, and every site below that is bare.
        sheet = reference.sprayed_sheet(
            spot_um=0.3, film_um=0.3, random=np.random.default_rng(15), places=40_000
        )
        assert (sheet == 0.0).mean() == pytest.approx(math.exp(-1.0), abs=0.01)
        assert (site_films(spread=1.0, sites=1000) == 0.0).mean() == pytest.approx(math.exp(-1.0), abs=0.001)

    def test_ends(self) -> None:
        assert spread_where_thin(spread=0.3, share=1.0) == 0.3
        assert spread_where_thin(spread=0.3, share=0.0) == math.inf
        assert spread_where_thin(spread=0.0, share=0.0) == 0.0

    def test_a_droplet_keeps_its_solids(self) -> None:
        # A disc SPOT_WIDTH times as wide as the ball holds the ball's dry share.
        for droplet, solids in ((8.0, 0.3), (20.0, 0.05)):
            spot = spot_of_droplet(droplet_um=droplet, volume_solids=solids)
            disc = spot * math.pi / 4.0 * (SPOT_WIDTH * droplet) ** 2
            assert disc == pytest.approx(solids * math.pi / 6.0 * droplet**3, rel=1e-12)


class TestSites:
    @pytest.mark.parametrize("spread", [0.05, 0.2, 0.5, 0.8, 1.0, 1.7, 4.0])
    @pytest.mark.parametrize("sites", [2, 8, 50])
    def test_slices_of_poisson_counts(self, spread: float, sites: int) -> None:
        # scipy's distribution, summed count by count.
        np.testing.assert_allclose(
            site_films(spread=spread, sites=sites), reference.poisson_slices(spread, sites), atol=1e-9
        )

    @pytest.mark.parametrize("spread", [0.012, 0.03])
    def test_spots_too_many_to_count(self, spread: float) -> None:
        np.testing.assert_allclose(
            site_films(spread=spread, sites=8), reference.poisson_slices(spread, 8), atol=0.02 * spread
        )

    def test_one_spot_on_average_cut_in_halves_by_hand(self) -> None:
        # Counts 0, 1, 2, …: e⁻¹, e⁻¹, … The lower half holds all zeros and 1/2 − e⁻¹ of the ones.
        low = 2.0 * (0.5 - math.exp(-1.0))
        np.testing.assert_allclose(site_films(spread=1.0, sites=2), [low, 2.0 - low], atol=1e-12)

    def test_many_spreads_at_once_are_each_their_own(self) -> None:
        spreads = np.array([[0.0, 0.02, 0.3], [1.0, 5.0, math.inf]])
        together = site_films(spread=spreads, sites=6)
        for place in np.ndindex(2, 3):
            alone = site_films(spread=float(spreads[place]), sites=6)
            np.testing.assert_allclose(together[place], alone, atol=1e-12)

    @LAW
    @given(st.floats(0.0, 50.0), st.integers(1, 200))
    @example(1e-6, 50)
    @example(0.125, 50)
    @example(5e-324, 3)
    @example(math.inf, 8)
    def test_mean_order_and_sign(self, spread: float, sites: int) -> None:
        films = site_films(spread=spread, sites=sites)
        assert films.shape == (sites,)
        assert films.mean() == pytest.approx(1.0, abs=8 * ULP)
        assert (films >= 0.0).all()
        # Slices rise; a spread so small that they differ by rounding only may not.
        assert (np.diff(films) >= -64 * sites * ULP).all()

    @pytest.mark.parametrize("sites", [1, 2, 64])
    def test_no_spread_is_ones_exactly(self, sites: int) -> None:
        np.testing.assert_array_equal(site_films(spread=0.0, sites=sites), np.ones(sites))

    @pytest.mark.parametrize("spread", [0.01, 0.2, 0.6, 1.0])
    def test_more_sites_keep_more_of_the_spread(self, spread: float) -> None:
        kept = [site_films(spread=spread, sites=n).std() / spread for n in (2, 8, 64, 512)]
        assert kept == sorted(kept)
        assert kept[1] > 0.93
        assert kept[2] > 0.99
        assert 0.998 < kept[3] < 1.0

    @LAW
    @given(st.floats(0.0, 1.5), st.floats(0.1, 0.5))
    def test_more_spread_more_apart(self, spread: float, more: float) -> None:
        apart = [site_films(spread=s, sites=16).std() for s in (spread, spread + more)]
        assert apart[1] > apart[0]

    @pytest.mark.parametrize("spread", [0.05, 0.3, 0.7, 1.0])
    @pytest.mark.parametrize("KX", [0.1, 1.0, 4.0])
    def test_a_clear_ink_in_closed_form(self, spread: float, KX: float) -> None:
        # The Poisson distribution's generating function at exp(−Kh), h = s²X.
        closed = math.exp(-(1.0 - math.exp(-(spread**2) * KX)) / spread**2)
        errors = []
        for sites in (16, 256):
            films = site_films(spread=spread, sites=sites)
            errors.append(film(K_per_um=KX, S_per_um=0.0, thickness_um=films).T.mean() / closed - 1.0)
        assert abs(errors[1]) < 4e-3
        # Slices of one thickness each let less through than what varies in them: from below, closer.
        assert errors[0] < errors[1] < 1e-6

    @LAW
    @given(st.floats(0.0, 3.0), st.floats(0.0, 2.0), st.floats(0.1, 5.0), st.floats(0.05, 1.0))
    def test_an_uneven_coat_hides_less(self, K: float, S: float, X: float, spread: float) -> None:
        # R over black is concave in thickness and T convex, so unevenness darkens the one and lifts the
        # other (Jensen).
        even = film(K_per_um=K, S_per_um=S, thickness_um=X)
        uneven = film(K_per_um=K, S_per_um=S, thickness_um=X * site_films(spread=spread, sites=24))
        assert uneven.R.mean() <= even.R + 4 * ULP
        assert uneven.T.mean() >= even.T - 4 * ULP

    @pytest.mark.parametrize("spread", [-0.1, math.nan])
    def test_impossible_spreads(self, spread: float) -> None:
        with pytest.raises(ValueError, match="spread must"):
            site_films(spread=spread, sites=4)

    @pytest.mark.parametrize("sites", [0, -3])
    def test_no_site(self, sites: int) -> None:
        with pytest.raises(ValueError, match="site"):
            site_films(spread=0.1, sites=sites)


class TestIndependentOrders:
    @LAW
    @given(st.integers(0, 5), st.integers(1, 60), st.integers(0, 2**31))
    def test_every_coat_has_every_slice_once(self, coats: int, sites: int, seed: int) -> None:
        orders = independent_orders(coats=coats, sites=sites, seed=seed)
        assert orders.shape == (coats, sites)
        for row in orders:
            np.testing.assert_array_equal(np.sort(row), np.arange(sites))

    def test_no_coat_knows_of_another(self) -> None:
        films = site_films(spread=0.3, sites=4000)[independent_orders(coats=4, sites=4000)]
        apart = np.corrcoef(films) - np.eye(4)
        assert np.abs(apart).max() < 4.0 / math.sqrt(4000.0)  # four standard deviations of no correlation
        assert np.abs(apart).max() > 0.0

    @pytest.mark.parametrize("coats", [2, 4, 9])
    def test_coats_even_out(self, coats: int) -> None:
        films = site_films(spread=0.4, sites=4000)[independent_orders(coats=coats, sites=4000)]
        expected = spread_of_coats(spread=0.4, coats=coats)
        assert films.mean(axis=0).std() == pytest.approx(expected, rel=0.06)

    def test_seeds(self) -> None:
        first, again, other = (independent_orders(coats=2, sites=20, seed=s) for s in (1, 1, 2))
        np.testing.assert_array_equal(first, again)
        assert (first != other).any()
