"""Films of flakes: limits that are exact, laws that hold for any stack, outside judges of single parts."""

from __future__ import annotations

import numpy as np
import pytest
import tmm
from hypothesis import given
from hypothesis import strategies as st

from layersim.metals import METALS, refractive_index
from layersim.optics import cones, flakes, levels
from layersim.optics.surface import BINDER_INDEX
from layersim.spectra import BANDS, FloatArray
from tests.optics.ranges import LAW, SHARE

Z = cones.directions()


def ground(internal: float) -> FloatArray:
    return levels.level_of(cones.even_ground(np.full((1, BANDS, 1, 1, 1), internal)))


def film(um: float) -> FloatArray:
    return np.full((1, 1, 1, 1, 1), um)


def coat(
    *,
    cover: float,
    metal: float = 0.9,
    tilt_deg: float = 6.0,
    rough: float = 0.0,
    K: float = 0.0,
    S: float = 0.0,
) -> flakes.Coating:
    sheet = flakes.FlakeSheet(
        np.array([cover]), np.full((1, BANDS), metal), np.array([np.tan(np.radians(tilt_deg)) ** 2]),
        np.array([rough]),
    )  # fmt: skip
    return flakes.coating(K_per_um=np.full((1, BANDS), K), S_per_um=np.full((1, BANDS), S), sheet=sheet)


def glaze(K: float, S: float = 0.0) -> flakes.Coating:
    return flakes.coating(K_per_um=np.full((1, BANDS), K), S_per_um=np.full((1, BANDS), S))


def even(level: FloatArray) -> float:
    return float(levels.seen(level, sheen=0.0)[0, 0, 0, 0, 0])


def seen(level: FloatArray, mirror: flakes.Mirror | None, degrees: float, sheen: float = 0.0) -> float:
    assert mirror is not None
    mean = levels.seen(level, sheen=0.0)
    more = flakes.seen_more(mirror, even=mean, air=Z, sheen=np.array(sheen), at=flakes.turned(degrees))
    return float((mean + more)[0, 0, 0, 0, 0])


class TestMetal:
    @pytest.mark.parametrize("metal", METALS)
    def test_reflectance_in_the_binder_is_that_of_a_thin_film_library(self, metal: str) -> None:
        # tmm (S. J. Byrnes, arXiv:1603.02720): one interface, both polarisations.
        index = refractive_index(metal)
        for degrees in (0.0, 29.0, 60.0):
            outside = [
                np.mean(
                    [
                        tmm.coh_tmm(p, [BINDER_INDEX, n], [np.inf] * 2, np.radians(degrees), 550)["R"]
                        for p in "sp"
                    ]
                )
                for n in index[::10]
            ]
            ours = flakes.fresnel(index[::10], cosine=np.cos(np.radians(degrees)))
            np.testing.assert_allclose(ours, outside, rtol=1e-12)


class TestLimits:
    def test_without_flakes_it_is_the_binders_film(self) -> None:
        level, mirror = flakes.lay(
            coat(cover=1e-12, K=0.2, S=0.1), film_um=film(5.0), over=ground(0.5), mirror=None
        )
        plain = levels.lay(glaze(0.2, 0.1).paint, thickness_um=film(5.0), over=ground(0.5))
        assert even(level) == pytest.approx(even(plain), rel=1e-9)
        assert mirror is not None
        assert float(mirror.share.max()) < 1e-10

    def test_hiding_flat_and_smooth_it_is_the_metal(self) -> None:
        _, mirror = flakes.lay(
            coat(cover=1e8, metal=0.87, tilt_deg=0.0), film_um=film(4.0), over=ground(0.3), mirror=None
        )
        assert mirror is not None
        assert float(mirror.share.min()) == pytest.approx(0.87, rel=1e-8)

    def test_no_film_changes_nothing_and_an_endless_one_is_finite(self) -> None:
        none, _ = flakes.lay(coat(cover=1.0, K=0.1), film_um=film(0.0), over=ground(0.4), mirror=None)
        assert even(none) == pytest.approx(even(ground(0.4)), rel=1e-12)
        level, mirror = flakes.lay(coat(cover=1.0, K=0.1), film_um=film(1e9), over=ground(0.4), mirror=None)
        assert 0.0 < seen(level, mirror, 45.0) < 1.0

    def test_in_clear_binder_the_first_flake_lies_halfway_or_one_over_c_deep(self) -> None:
        depth = flakes.depth_of_flakes(
            cover_per_um=np.array([1e-9, 0.99e-4, 1.01e-4, 1e6]),
            film_um=np.array(3.0),
            extinction_per_um=np.array(0.0),
        )
        np.testing.assert_allclose(depth, [1.5, 1.5, 1.5, 1e-6], rtol=1e-4)

    @LAW
    @given(st.floats(1e-3, 5.0), st.floats(0.0, 20.0), st.floats(0.0, 3.0))
    def test_the_binder_above_passes_what_the_ways_to_the_first_flake_pass(
        self, cover: float, um: float, extinction: float
    ) -> None:
        share = (np.arange(20_000) + 0.5) / 20_000
        # depths of first flakes, by the share of them that lies above
        z = -np.log1p(share * np.expm1(-cover * um)) / cover
        lost = 2.0 * Z.paths[0] * extinction
        depth = flakes.depth_of_flakes(
            cover_per_um=np.array(cover), film_um=np.array(um), extinction_per_um=np.array(extinction)
        )
        assert np.exp(-lost * depth) == pytest.approx(np.exp(-lost * z).mean(), rel=1e-4)


class TestLaws:
    @LAW
    @given(SHARE, SHARE, SHARE, st.floats(0.0, 40.0), SHARE, st.floats(0.0, 3.0), st.floats(0.0, 1.0))
    def test_energy_is_never_gained(
        self, metal: float, below: float, rough: float, tilt: float, sheen: float, cover: float, S: float
    ) -> None:
        """What leaves in all directions together is at most what came in, however it is stacked."""
        first = coat(cover=cover + 1e-3, metal=metal, tilt_deg=tilt, rough=rough)
        level, mirror = flakes.lay(first, film_um=film(2.0), over=ground(below), mirror=None)
        level, mirror = flakes.lay(glaze(0.1, S), film_um=film(2.0), over=level, mirror=mirror)
        second = coat(cover=0.5, metal=1.0, tilt_deg=3.0)
        level, mirror = flakes.lay(second, film_um=film(1.0), over=level, mirror=mirror)
        assert 0.0 <= even(level) <= 1.0 - Z.k1 + 1e-12
        # Wherever one looks from, there is no less than nothing.
        assert min(seen(level, mirror, degrees, sheen) for degrees in (15.0, 45.0, 110.0)) >= -1e-12

    @LAW
    @given(st.floats(0.02, 0.5), SHARE)
    def test_turning_moves_light_and_makes_none(self, slope: float, sheen: float) -> None:
        mu, phi = np.meshgrid(
            (np.arange(200) + 0.5) / 200, np.linspace(0, 2 * np.pi, 361)[:-1], indexing="ij"
        )
        across = np.sqrt(1.0 - mu**2)
        eye = np.stack([across * np.cos(phi), across * np.sin(phi), mu], axis=-1)
        lit = np.sqrt(0.5)
        at = flakes.direction([-lit, 0.0, lit], eye)
        smooth = flakes.lobe(at, np.array(slope**2))
        assert (smooth * mu).sum() / mu.sum() == pytest.approx(1.0, abs=0.01)
        # A rough surface turns some of it back.
        rough = flakes.lobe(at, np.array(slope**2), flakes.surface_variance(sheen))
        assert 0.5 < (rough * mu).sum() / mu.sum() < 1.01

    @LAW
    @given(*[st.floats(0.1, 1.0), st.floats(0.0, 6.28)] * 2, st.floats(0.05, 0.5), SHARE)
    def test_light_and_eye_may_change_places(
        self, a: float, b: float, c: float, d: float, slope: float, sheen: float
    ) -> None:
        first, second = (
            [np.sqrt(1.0 - mu**2) * np.cos(phi), np.sqrt(1.0 - mu**2) * np.sin(phi), mu]
            for mu, phi in ((a, b), (c, d))
        )
        there, back = (
            flakes.lobe(flakes.direction(*pair), np.array(slope**2), flakes.surface_variance(sheen))
            for pair in ((first, second), (second, first))
        )
        assert float(there) == pytest.approx(float(back), rel=1e-9)

    @LAW
    @given(st.floats(0.0, 20.0), SHARE, st.floats(0.05, 0.95), st.floats(0.0, 1.0))
    def test_two_coats_shine_as_one_of_the_whole_film_in_any_binder(
        self, tilt: float, rough: float, part: float, K: float
    ) -> None:
        paint = coat(cover=0.4, tilt_deg=tilt, rough=rough, K=K)
        _, one = flakes.lay(paint, film_um=film(6.0), over=ground(0.2), mirror=None)
        first, two = flakes.lay(paint, film_um=film(6.0 * part), over=ground(0.2), mirror=None)
        _, two = flakes.lay(paint, film_um=film(6.0 * (1.0 - part)), over=first, mirror=two)
        assert one is not None
        assert two is not None
        # Not exactly: the mean depth of flakes counts those, too, whose light slips under others.
        np.testing.assert_allclose(two.share, one.share, rtol=0.1)

    @LAW
    @given(SHARE, st.floats(0.0, 20.0), SHARE, st.floats(0.05, 0.95))
    def test_two_coats_are_one_of_the_whole_film(
        self, below: float, tilt: float, rough: float, part: float
    ) -> None:
        paint = coat(cover=0.4, tilt_deg=tilt, rough=rough)
        once, one = flakes.lay(paint, film_um=film(6.0), over=ground(below), mirror=None)
        first, two = flakes.lay(paint, film_um=film(6.0 * part), over=ground(below), mirror=None)
        twice, two = flakes.lay(paint, film_um=film(6.0 * (1.0 - part)), over=first, mirror=two)
        assert even(twice) == pytest.approx(even(once), rel=1e-9)
        assert seen(twice, two, 15.0) == pytest.approx(seen(once, one, 15.0), rel=1e-9)

    @LAW
    @given(st.floats(0.0, 4.0), st.floats(0.05, 0.95), st.floats(0.0, 0.5))
    def test_two_coats_are_one_over_metal_too(self, um: float, part: float, K: float) -> None:
        paint = coat(cover=0.4)
        bare, shining = flakes.lay(coat(cover=2.0), film_um=film(4.0), over=ground(0.0), mirror=None)
        bare, shining = flakes.lay(glaze(K), film_um=film(2.0), over=bare, mirror=shining)
        once, one = flakes.lay(paint, film_um=film(um), over=bare, mirror=shining)
        first, two = flakes.lay(paint, film_um=film(um * part), over=bare, mirror=shining)
        twice, two = flakes.lay(paint, film_um=film(um * (1.0 - part)), over=first, mirror=two)
        # Not exactly: the depth of flakes and of what shines through their gaps is one mean.
        assert seen(twice, two, 15.0) == pytest.approx(seen(once, one, 15.0), rel=2e-3)


class TestOverMetal:
    def test_a_glaze_is_passed_twice_at_the_angles_that_matter(self) -> None:
        # Beer and Lambert along the refracted way in and out (Snell): 45° in, 30° out for 15 from the mirror.
        bare, shining = flakes.lay(coat(cover=9.0), film_um=film(3.0), over=ground(0.0), mirror=None)
        K, um = 0.3, 4.0
        level, under = flakes.lay(glaze(K), film_um=film(um), over=bare, mirror=shining)
        way = sum(1.0 / np.sqrt(1.0 - (np.sin(np.radians(one)) / BINDER_INDEX) ** 2) for one in (45.0, 30.0))
        direct = np.exp(-0.5 * K * um * way) * (seen(bare, shining, 15.0) - even(bare))
        assert seen(level, under, 15.0) - even(level) == pytest.approx(direct, rel=0.15)

    def test_a_matt_varnish_takes_the_flop(self) -> None:
        level, mirror = flakes.lay(coat(cover=2.0), film_um=film(3.0), over=ground(0.0), mirror=None)
        L = {
            sheen: [
                116.0 * np.cbrt(seen(level, mirror, at, sheen) + sheen * Z.k1) - 16.0
                for at in flakes.ANGLES_DEG
            ]
            for sheen in (0.05, 1.0)
        }
        flop = {
            sheen: float(flakes.flop_index(L_near=a, L_turned=b, L_far=c)) for sheen, (a, b, c) in L.items()
        }
        # Metallic paints have 10 to 17, solid ones 0 (common practice, no source).
        assert 10.0 < flop[0.05] < 18.0
        assert flop[1.0] < 0.7 * flop[0.05]

    def test_no_flop_without_a_direction(self) -> None:
        assert float(flakes.flop_index(L_near=50.0, L_turned=50.0, L_far=50.0)) == 0.0
