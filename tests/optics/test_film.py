"""One film: worked values from the literature, other ways to the same numbers, and laws."""

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from layersim.optics.film import (
    Film,
    absorption_over_scattering,
    constants_over_two_grounds,
    contrast_ratio,
    film,
    opaque_reflectance,
    thickness_to_hide_um,
)
from layersim.optics.stack import over_ground
from tests import reference
from tests.optics.ranges import (
    ANY_CONSTANT,
    ANY_THICKNESS,
    CONSTANT,
    LAW,
    SHARE,
    SOME_CONSTANT,
    THICKNESS,
)

FLAT = np.ones(31)
ULP = float(np.finfo(float).eps)

# C. J. Curtis et al., Computer-generated watercolor, Proc. SIGGRAPH 1997: K and S of pigments at
# unit thickness, red, green and blue.
CURTIS = {
    "quinacridone rose": ([0.22, 1.47, 0.57], [0.05, 0.003, 0.03]),
    "Indian red": ([0.46, 1.07, 1.50], [1.28, 0.38, 0.21]),
    "cadmium yellow": ([0.10, 0.36, 3.45], [0.97, 0.65, 0.007]),
    "Hooker's green": ([1.62, 0.61, 1.64], [0.01, 0.012, 0.003]),
    "cerulean blue": ([1.52, 0.32, 0.25], [0.06, 0.26, 0.40]),
    "burnt umber": ([0.74, 1.54, 2.10], [0.09, 0.09, 0.004]),
    "cadmium red": ([0.14, 1.08, 1.68], [0.77, 0.015, 0.018]),
    "hansa yellow": ([0.06, 0.21, 1.78], [0.50, 0.88, 0.009]),
    "phthalo green": ([1.55, 0.47, 0.63], [0.01, 0.05, 0.035]),
    "ultramarine": ([0.86, 0.86, 0.06], [0.005, 0.005, 0.09]),
}


def one(K: float, S: float, X: float) -> tuple[float, float]:
    it = film(K_per_um=K, S_per_um=S, thickness_um=X)
    return float(it.R), float(it.T)


def over(K: float, S: float, X: float, ground: float) -> float:
    return float(over_ground(film(K_per_um=K, S_per_um=S, thickness_um=X), ground))


class TestLiterature:
    @pytest.mark.parametrize(
        ("reflectance", "ratio"),
        [(0.1, 4.05), (0.25, 1.125), (0.5, 0.25), (0.75, 1 / 24), (0.8, 0.025), (0.9, 1 / 180), (1.0, 0.0)],
    )
    def test_the_kubelka_munk_function(self, reflectance: float, ratio: float) -> None:
        # (1 − R)² / 2R, P. Kubelka and F. Munk, Z. tech. Phys. 12 (1931) 593: exact fractions.
        assert absorption_over_scattering(reflectance) == pytest.approx(ratio, rel=1e-14, abs=0)
        assert opaque_reflectance(K_per_um=ratio, S_per_um=1.0) == pytest.approx(reflectance, rel=1e-14)

    @pytest.mark.parametrize("SX", [1e-6, 0.1, 0.5, 1.0, 3.0, 49.0, 1e6])
    def test_a_lossless_film(self, SX: float) -> None:
        # Kubelka 1948 (J. Opt. Soc. Am. 38:448), case K = 0: R₀ = SX / (1 + SX), T = 1 / (1 + SX).
        assert one(0.0, SX / 4.0, 4.0) == pytest.approx(
            (SX / (1.0 + SX), 1.0 / (1.0 + SX)), rel=1e-15, abs=0.0
        )

    @pytest.mark.parametrize("KX", [1e-9, 0.1, 1.0, 10.0, 500.0])
    def test_a_clear_film(self, KX: float) -> None:
        # Bouguer's law, with K counted along the mean path of diffuse light.
        assert one(KX / 2.0, 0.0, 2.0) == pytest.approx((0.0, math.exp(-KX)), rel=1e-12, abs=0.0)

    def test_worked_example_of_another_implementation(self) -> None:
        # Unit test "KubelkaMunk, Reflectance" (kubelka_munk_test.cpp, 2020-05-14) of an open
        # library for rendering strokes; its own tolerance is 1e-5.
        it = film(K_per_um=[0.2, 0.1, 0.22], S_per_um=[0.124, 0.658, 0.123], thickness_um=0.5)
        ground = [0.65, 0.2, 0.2146]
        np.testing.assert_allclose(over_ground(it, ground), [0.541596, 0.343822, 0.206651], atol=5e-7)
        none = film(K_per_um=[0.2, 0.1, 0.22], S_per_um=[0.124, 0.658, 0.123], thickness_um=0.0)
        np.testing.assert_array_equal(over_ground(none, ground), ground)

    @pytest.mark.parametrize(
        ("R_opaque", "R_black", "SX"),
        [(0.80, 0.75, 4.12511), (0.85, 0.80, 5.18815), (0.90, 0.85, 6.83148), (0.75, 0.60, 1.73417)],
    )
    def test_scattering_power_from_two_reflectances(self, R_opaque: float, R_black: float, SX: float) -> None:
        # Kubelka 1948: R₀ = 1 / (a + b coth bSX), solved for SX. The four numbers are computed from it:
        # no printed table was seen.
        a = 0.5 * (1.0 / R_opaque + R_opaque)
        b = 0.5 * (1.0 / R_opaque - R_opaque)
        assert math.atanh(b * R_black / (1.0 - a * R_black)) / b == pytest.approx(SX, rel=2e-6)
        K = float(absorption_over_scattering(R_opaque))
        assert one(K, 1.0, SX)[0] == pytest.approx(R_black, abs=1e-6)

    @pytest.mark.parametrize(
        ("R_opaque", "SX"), [(0.70, 4.8381), (0.80, 6.5007), (0.90, 9.1427), (0.95, 10.8089), (1.0, 11.7215)]
    )
    def test_hiding_power(self, R_opaque: float, SX: float) -> None:
        # Contrast ratio 0.98 over black and a white of Y = 0.80 is what ISO 6504-1 and ASTM D2805
        # call hiding. The scattering powers are computed (no table seen); the form used here is
        # Kubelka's R over black and over white, independent of the code's bisection.
        K = float(absorption_over_scattering(R_opaque))
        hiding = thickness_to_hide_um(K_per_um=FLAT * K, S_per_um=FLAT, luminance_weights=FLAT)
        assert hiding == pytest.approx(SX, abs=6e-5)
        if R_opaque < 1.0:
            black = reference.film_by_textbook(K, 1.0, SX, 0.0)[0]
            white = reference.film_by_textbook(K, 1.0, SX, 0.80)[0]
            assert black / white == pytest.approx(0.98, abs=1e-6)

    def test_lossless_hiding_over_a_perfect_white(self) -> None:
        # R₀ / 1 = SX / (1 + SX) = 0.98 gives SX = 49 exactly.
        hiding = thickness_to_hide_um(K_per_um=0.0 * FLAT, S_per_um=FLAT, luminance_weights=FLAT, white=1.0)
        assert hiding == pytest.approx(49.0, rel=1e-12)

    @pytest.mark.parametrize("pigment", CURTIS)
    def test_curtis_watercolours_both_ways(self, pigment: str) -> None:
        K, S = CURTIS[pigment]
        it = film(K_per_um=K, S_per_um=S, thickness_um=1.0)
        black, white = over_ground(it, 0.0), over_ground(it, 1.0)
        for i in range(3):
            assert black[i] == pytest.approx(reference.film_by_textbook(K[i], S[i], 1.0, 0.0)[0], rel=1e-13)
            assert white[i] == pytest.approx(reference.film_by_textbook(K[i], S[i], 1.0, 1.0)[0], rel=1e-13)
            # Their own inverse gives their own constants back from our colours.
            theirs = reference.constants_over_black_and_white(float(black[i]), float(white[i]))
            assert theirs == pytest.approx((K[i], S[i]), rel=1e-9)
        back = constants_over_two_grounds(
            over_dark=black, over_light=white, dark=0.0, light=1.0, thickness_um=1.0
        )
        np.testing.assert_allclose(back, [K, S], rtol=1e-11)

    @pytest.mark.parametrize(
        ("pigment", "channel", "black", "white"),
        [
            ("Indian red", 0, 0.404403, 0.511979),
            ("quinacridone rose", 0, 0.038659, 0.646119),
            ("hansa yellow", 1, 0.395641, 0.687556),
        ],
    )
    def test_curtis_colours(self, pigment: str, channel: int, black: float, white: float) -> None:
        # Computed from the published constants by two methods.
        K, S = (values[channel] for values in CURTIS[pigment])
        assert over(K, S, 1.0, 0.0) == pytest.approx(black, abs=6e-7)
        assert over(K, S, 1.0, 1.0) == pytest.approx(white, abs=6e-7)

    def test_curtis_indian_red_let_through_and_opaque(self) -> None:
        assert one(0.46, 1.28, 1.0)[1] == pytest.approx(0.253125, abs=6e-7)
        assert opaque_reflectance(K_per_um=0.46, S_per_um=1.28) == pytest.approx(0.438560, abs=6e-7)

    @pytest.mark.parametrize(("albedo", "depth"), [(0.99, 4.0), (0.99, 16.0), (0.999, 8.0), (0.9999, 32.0)])
    def test_close_to_radiative_transfer_where_it_should_be(self, albedo: float, depth: float) -> None:
        # K = 2 µa, S = ¾ µs (1 − g): L. F. Gate, Appl. Opt. 13 (1974) 236; S. N. Thennadil, J. Opt. Soc.
        # Am. A 25 (2008) 1480. Judge: adding-doubling (iadpython), diffuse light, no surface.
        import iadpython

        _, _, R, T = iadpython.Sample(a=albedo, b=depth, g=0.0, n=1.0, quad_pts=16).rt()
        ours = one(2.0 * (1.0 - albedo), 0.75 * albedo, depth)
        assert ours == (pytest.approx(R, abs=0.005), pytest.approx(T, abs=0.005))


class TestOtherWays:
    @LAW
    @given(SHARE, SHARE, st.floats(0.0, 4.0))
    def test_matrix_exponential_of_the_differential_equations(self, K: float, S: float, X: float) -> None:
        assert one(K, S, X) == pytest.approx(reference.film_by_matrix(K, S, X), abs=1e-11)

    @pytest.mark.parametrize(
        ("K", "S", "X", "ground"),
        [(0.1, 0.6, 5.0, 0.0), (0.1, 0.6, 5.0, 0.8), (2.0, 0.05, 1.0, 0.9), (0.0, 1.0, 3.0, 0.5)],
    )
    def test_boundary_value_problem(self, K: float, S: float, X: float, ground: float) -> None:
        assert over(K, S, X, ground) == pytest.approx(
            reference.film_over_ground_by_bvp(K, S, X, ground), abs=1e-8
        )

    @pytest.mark.parametrize(("K", "S", "X"), [(0.2, 0.7, 4.0), (1.0, 0.1, 2.0), (0.0, 0.5, 6.0)])
    def test_many_thin_slices(self, K: float, S: float, X: float) -> None:
        exact = np.array(one(K, S, X))
        coarse = np.array(reference.film_by_slices(K, S, X, 2000)) - exact
        fine = np.array(reference.film_by_slices(K, S, X, 4000)) - exact
        assert np.abs(fine).max() < 1e-3
        np.testing.assert_allclose(2.0 * fine, coarse, atol=2e-6)  # the error halves: it goes to 0

    @LAW
    @given(SOME_CONSTANT, SOME_CONSTANT, st.floats(1e-3, 50.0), SHARE)
    def test_the_textbook_forms(self, K: float, S: float, X: float, ground: float) -> None:
        R, T = reference.film_by_textbook(K, S, X, ground)
        assert over(K, S, X, ground) == pytest.approx(R, rel=1e-12, abs=0.0)
        assert one(K, S, X)[1] == pytest.approx(T, rel=2e-12, abs=1e-300)

    @LAW
    @given(ANY_CONSTANT, ANY_CONSTANT, ANY_THICKNESS)
    @example(1e308, 1e308, 0.0)  # K + S is beyond any float
    @example(1e308, 1e308, math.inf)
    @example(1e308, 1e308, 1e-308)
    @example(1e-160, 1e-160, 1e158)  # K (K + 2S) has few digits left
    @example(1e-162, 1e-162, 1e161)
    @example(5e-324, 5e-324, 1e308)
    @example(5e-324, 1.0, math.inf)
    @example(0.0, 0.0, math.inf)
    @example(0.0, 5e-324, math.inf)
    @example(1e-300, 0.0, 1e300)
    @example(1.0, 1e-300, 5e-324)
    @example(0.0, 1.0, 1e300)
    @example(1e-300, 1e300, 1.0)
    def test_any_numbers_at_all(self, K: float, S: float, X: float) -> None:
        R, T = reference.film_by_decimal(K, S, X)
        ours = one(K, S, X)
        assert ours[0] == pytest.approx(R, rel=1e-12, abs=1e-300)
        # Beyond 1e150 a film counts as opaque: what it lets through is below that.
        assert ours[1] == pytest.approx(T, rel=2e-12, abs=1e-149)

    @pytest.mark.parametrize("depth", [1e-12, 1e-8, 1e-6, 1e-4, 2.0**-10, 2e-3, 1e-2, 0.3])
    @pytest.mark.parametrize("nudge", [-1e-9, 0.0, 1e-9])
    def test_both_sides_of_the_careful_form(self, depth: float, nudge: float) -> None:
        # u = cX with K = S / 4: c = ¾ S.
        X = depth * (1.0 + nudge) / 0.75
        assert one(0.25, 1.0, X) == (
            pytest.approx(reference.film_by_decimal(0.25, 1.0, X)[0], rel=2e-13, abs=0.0),
            pytest.approx(reference.film_by_decimal(0.25, 1.0, X)[1], rel=1e-13, abs=0.0),
        )


class TestLaws:
    @LAW
    @given(ANY_CONSTANT, ANY_CONSTANT, ANY_THICKNESS)
    def test_shares_of_the_light(self, K: float, S: float, X: float) -> None:
        R, T = one(K, S, X)
        assert 0.0 <= R <= 1.0
        assert 0.0 <= T <= 1.0
        assert R + T <= 1.0 + 2 * ULP

    @LAW
    @given(ANY_CONSTANT, ANY_THICKNESS)
    def test_nothing_is_lost_without_absorption(self, S: float, X: float) -> None:
        assert sum(one(0.0, S, X)) == pytest.approx(1.0, abs=2 * ULP)

    @LAW
    @given(st.floats(1e-6, 10.0), CONSTANT, st.floats(1e-3, 50.0))
    def test_something_is_lost_with_it(self, K: float, S: float, X: float) -> None:
        assert sum(one(K, S, X)) < 1.0

    @LAW
    @given(SOME_CONSTANT, CONSTANT)
    def test_thick_films_become_opaque(self, K: float, S: float) -> None:
        opaque = float(opaque_reflectance(K_per_um=K, S_per_um=S))
        assert one(K, S, 1e6) == pytest.approx((opaque, 0.0), rel=1e-14, abs=1e-300)
        assert over(K, S, math.inf, 1.0) == over(K, S, math.inf, 0.0)

    @LAW
    @given(SOME_CONSTANT, SOME_CONSTANT)
    def test_an_opaque_film_is_its_own_ground(self, K: float, S: float) -> None:
        # Kubelka and Munk's definition of R∞: any more of the same changes nothing.
        ground = float(opaque_reflectance(K_per_um=K, S_per_um=S))
        assert over(K, S, 0.7, ground) == pytest.approx(ground, rel=1e-12, abs=0.0)
        assert absorption_over_scattering(ground) * S == pytest.approx(K, rel=1e-9, abs=0.0)

    @LAW
    @given(CONSTANT, CONSTANT, THICKNESS, st.floats(1e-6, 1e6))
    def test_only_the_products_count(self, K: float, S: float, X: float, scale: float) -> None:
        assert one(K * scale, S * scale, X / scale) == pytest.approx(one(K, S, X), rel=1e-11, abs=1e-300)

    @LAW
    @given(CONSTANT, CONSTANT, THICKNESS, SHARE, st.floats(1e-3, 5.0))
    def test_monotone_in_scattering(self, K: float, S: float, X: float, g: float, more: float) -> None:
        assert over(K, S + more, X, g) >= over(K, S, X, g) - 4 * ULP
        assert one(K, S + more, X)[1] <= one(K, S, X)[1] + 4 * ULP

    @LAW
    @given(CONSTANT, CONSTANT, THICKNESS, SHARE, st.floats(1e-3, 5.0))
    def test_monotone_in_absorption(self, K: float, S: float, X: float, g: float, more: float) -> None:
        assert over(K + more, S, X, g) <= over(K, S, X, g) + 4 * ULP
        assert one(K + more, S, X)[1] <= one(K, S, X)[1] + 4 * ULP

    @LAW
    @given(CONSTANT, CONSTANT, THICKNESS, st.floats(1e-3, 50.0))
    def test_monotone_in_thickness(self, K: float, S: float, X: float, more: float) -> None:
        thin, thick = one(K, S, X), one(K, S, X + more)
        assert thick[0] >= thin[0] - 4 * ULP
        assert thick[1] <= thin[1] + 4 * ULP

    @LAW
    @given(CONSTANT, CONSTANT, THICKNESS, SHARE, SHARE)
    def test_the_lighter_ground_shows_lighter(self, K: float, S: float, X: float, g: float, h: float) -> None:
        light, dark = over(K, S, X, max(g, h)), over(K, S, X, min(g, h))
        assert light >= dark - 4 * ULP
        assert light - dark <= abs(g - h) + 4 * ULP  # no film widens the gap

    @LAW
    @given(CONSTANT, CONSTANT, THICKNESS)
    def test_a_uniform_film_looks_the_same_from_below(self, K: float, S: float, X: float) -> None:
        it = film(K_per_um=K, S_per_um=S, thickness_um=X)
        assert it.R_below == it.R

    def test_arrays_broadcast(self) -> None:
        K, S, X = np.array([[0.1], [0.2]]), np.array([0.5, 0.6, 0.7]), np.array([[[1.0]], [[2.0]]])
        it = film(K_per_um=K, S_per_um=S, thickness_um=X)
        assert isinstance(it, Film)
        assert it.R.shape == it.T.shape == (2, 2, 3)
        assert it.R[1, 0, 2] == one(0.1, 0.7, 2.0)[0]
        assert film(K_per_um=np.zeros((0, 31)), S_per_um=FLAT, thickness_um=1.0).R.shape == (0, 31)


class TestInverse:
    @LAW
    @given(
        st.floats(0.0, 2.0) | st.just(0.0),
        st.floats(0.0, 2.0) | st.just(0.0),
        st.floats(1e-3, 100.0),
        st.floats(0.0, 0.4),
        st.floats(0.6, 1.0),
    )
    def test_round_trip(self, KX: float, SX: float, X: float, dark: float, light: float) -> None:
        it = film(K_per_um=KX / X, S_per_um=SX / X, thickness_um=X)
        found = constants_over_two_grounds(
            over_dark=over_ground(it, dark),
            over_light=over_ground(it, light),
            dark=dark,
            light=light,
            thickness_um=X,
        )
        assert np.array(found) * X == pytest.approx((KX, SX), abs=1e-10)

    def test_limits_are_exact(self) -> None:
        K, S = constants_over_two_grounds(
            over_dark=[0.0, 0.75, 0.0],
            over_light=[math.exp(-2.0), 1.0, 1.0],  # a clear dye, a lossless white, nothing at all
            dark=0.0,
            light=1.0,
            thickness_um=[1.0, 3.0, 1.0],
        )
        np.testing.assert_allclose(K, [1.0, 0.0, 0.0], atol=1e-12)
        np.testing.assert_allclose(S, [0.0, 1.0, 0.0], atol=1e-12)

    @pytest.mark.parametrize(
        ("seen", "grounds", "X", "message"),
        [
            ((0.3, 0.3), (0.0, 1.0), 1.0, "looks the same"),
            ((0.4, 0.3), (0.0, 1.0), 1.0, "looks the same"),
            ((0.3, 0.5), (0.5, 0.5), 1.0, "darker than the light one"),
            ((0.3, 0.5), (-0.1, 0.5), 1.0, "darker than the light one"),
            ((0.3, 0.5), (0.1, 1.5), 1.0, "darker than the light one"),
            ((0.3, 0.5), (0.1, math.nan), 1.0, "darker than the light one"),
            ((0.3, 0.5), (0.0, 1.0), 0.0, "thickness_um"),
            ((0.3, 0.5), (0.0, 1.0), math.inf, "thickness_um"),
            ((math.nan, 0.5), (0.0, 1.0), 1.0, "finite"),
            ((0.3, math.inf), (0.0, 1.0), 1.0, "finite"),
            ((0.3, 1.2), (0.0, 1.0), 1.0, "fit no film"),  # more comes back than fell in
            ((-0.1, 0.5), (0.0, 1.0), 1.0, "fit no film"),
            ((0.0, 1.0), (0.9, 1.0), 1.0, "fit no film"),  # the gap between the grounds widened
            ((0.0, 0.1 / 0.9), (0.9, 1.0), 1.0, "fit no film"),
            ((0.0, 0.9), (0.2, 0.9), 1.0, "fit no film"),
            ((2.0, 2.5), (0.5, 1.0), 1.0, "fit no film"),  # R = 3, T = 1 would solve the equations
        ],
    )
    def test_what_fits_no_film(
        self, seen: tuple[float, float], grounds: tuple[float, float], X: float, message: str
    ) -> None:
        with pytest.raises(ValueError, match=message):
            constants_over_two_grounds(
                over_dark=seen[0], over_light=seen[1], dark=grounds[0], light=grounds[1], thickness_um=X
            )


class TestHiding:
    @LAW
    @given(st.lists(CONSTANT, min_size=31, max_size=31), st.floats(0.0, 3.0), THICKNESS, st.floats(0.01, 9.0))
    def test_more_paint_hides_better(self, K: list[float], S: float, X: float, more: float) -> None:
        ratio = contrast_ratio(
            K_per_um=K,
            S_per_um=S * np.linspace(0.1, 1.0, 31),
            thickness_um=[X, X + more],
            luminance_weights=np.linspace(0.0, 1.0, 31),
        )
        assert 0.0 <= ratio[0] <= ratio[1] + 4 * ULP
        assert ratio[1] <= 1.0 + 4 * ULP

    def test_by_hand(self) -> None:
        K, S = np.linspace(0.0, 0.5, 31), np.linspace(1.0, 0.2, 31)
        weights = np.linspace(1.0, 3.0, 31)
        black = [reference.film_by_decimal(k, s, 2.0)[0] for k, s in zip(K, S, strict=True)]
        white = [
            reference.over_ground_by_passes(R, T, R, 0.8)
            for R, T in (reference.film_by_decimal(k, s, 2.0) for k, s in zip(K, S, strict=True))
        ]
        ratio = contrast_ratio(K_per_um=K, S_per_um=S, thickness_um=2.0, luminance_weights=weights)
        assert ratio == pytest.approx(np.dot(black, weights) / np.dot(white, weights), rel=1e-12)

    @LAW
    @given(st.floats(0.0, 2.0), st.floats(0.01, 3.0), st.floats(0.5, 0.999), st.floats(0.3, 1.0))
    def test_the_least_film_that_hides(self, K: float, S: float, contrast: float, white: float) -> None:
        paint = {"K_per_um": K * FLAT, "S_per_um": S * FLAT, "luminance_weights": FLAT, "white": white}
        enough = thickness_to_hide_um(**paint, contrast=contrast)
        # The last bit of one film may differ from that of many at once.
        assert contrast_ratio(**paint, thickness_um=enough) >= contrast * (1.0 - 1e-14)
        assert contrast_ratio(**paint, thickness_um=enough * (1.0 - 1e-9)) < contrast

    def test_many_paints_at_once(self) -> None:
        S = np.array([[0.5], [1.0], [2.0]]) * FLAT
        hiding = thickness_to_hide_um(K_per_um=0.1 * S, S_per_um=S, luminance_weights=FLAT)
        np.testing.assert_allclose(hiding, hiding[1] * np.array([2.0, 1.0, 0.5]), rtol=1e-12)

    @pytest.mark.parametrize("K", [0.0, 1.0, 1e3])
    def test_a_clear_film_never_hides(self, K: float) -> None:
        paint = {"K_per_um": K * FLAT, "S_per_um": 0.0 * FLAT, "luminance_weights": FLAT}
        assert thickness_to_hide_um(**paint) == math.inf
        np.testing.assert_array_equal(contrast_ratio(**paint, thickness_um=[0.0, 1.0, 1e4, math.inf]), 0.0)

    def test_the_whitest_film_over_the_whitest_ground(self) -> None:
        # R rounds to 1 and 1 − R to 0 though a little still gets through.
        ratio = contrast_ratio(
            K_per_um=0.0 * FLAT,
            S_per_um=FLAT,
            thickness_um=[1e15, 1e16, 1e17, 1e300, math.inf],
            luminance_weights=FLAT,
            white=1.0,
        )
        np.testing.assert_allclose(ratio, 1.0, atol=1e-14)


class TestRefusals:
    @pytest.mark.parametrize("name", ["K_per_um", "S_per_um", "thickness_um"])
    @pytest.mark.parametrize("value", [-1.0, math.nan, -math.inf])
    def test_impossible_films(self, name: str, value: float) -> None:
        numbers = {"K_per_um": 1.0, "S_per_um": 1.0, "thickness_um": 1.0}
        with pytest.raises(ValueError, match=name):
            film(**{**numbers, name: [1.0, value]})

    @pytest.mark.parametrize("name", ["K_per_um", "S_per_um"])
    def test_infinite_constants(self, name: str) -> None:
        with pytest.raises(ValueError, match=name):
            opaque_reflectance(**{"K_per_um": 1.0, "S_per_um": 1.0, name: math.inf})

    @pytest.mark.parametrize("reflectance", [0.0, -0.1, 1.1, math.nan, 1e-310])
    def test_no_ratio(self, reflectance: float) -> None:
        with pytest.raises(ValueError, match="above 0"):
            absorption_over_scattering([0.5, reflectance])

    @pytest.mark.parametrize("contrast", [0.0, 1.0, -0.5, math.nan])
    def test_impossible_contrast(self, contrast: float) -> None:
        with pytest.raises(ValueError, match="contrast"):
            thickness_to_hide_um(K_per_um=FLAT, S_per_um=FLAT, luminance_weights=FLAT, contrast=contrast)

    @pytest.mark.parametrize("white", [0.0, 1.1, -0.5, math.nan])
    def test_impossible_white(self, white: float) -> None:
        with pytest.raises(ValueError, match="white"):
            contrast_ratio(
                K_per_um=FLAT, S_per_um=FLAT, thickness_um=1.0, luminance_weights=FLAT, white=white
            )
