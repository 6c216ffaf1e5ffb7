"""The textbook's film: published values, another way to the same numbers, and a few laws."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import reference
from tests.optics.ranges import CONSTANT, LAW, SHARE, SOME_CONSTANT, THICKNESS
from tests.oracle.two_fluxes import film, opaque_reflectance, over_ground

# C. J. Curtis et al., Computer-generated watercolor, Proc. SIGGRAPH 1997: K and S of pigments at
# unit thickness, red, green and blue.
CURTIS = {
    "quinacridone rose": ([0.22, 1.47, 0.57], [0.05, 0.003, 0.03]),
    "Indian red": ([0.46, 1.07, 1.50], [1.28, 0.38, 0.21]),
    "hansa yellow": ([0.06, 0.21, 1.78], [0.50, 0.88, 0.009]),
    "ultramarine": ([0.86, 0.86, 0.06], [0.005, 0.005, 0.09]),
}


def one(K: float, S: float, X: float) -> tuple[float, float]:
    it = film(K_per_um=K, S_per_um=S, thickness_um=X)
    return float(it.R), float(it.T)


def over(K: float, S: float, X: float, ground: float) -> float:
    return float(over_ground(film(K_per_um=K, S_per_um=S, thickness_um=X), ground))


@pytest.mark.parametrize(
    ("reflectance", "ratio"),
    [(0.1, 4.05), (0.25, 1.125), (0.5, 0.25), (0.75, 1 / 24), (0.8, 0.025), (0.9, 1 / 180), (1.0, 0.0)],
)
def test_the_kubelka_munk_function(reflectance: float, ratio: float) -> None:
    # K/S = (1 − R∞)² / 2R∞, Kubelka and Munk 1931: exact fractions.
    assert opaque_reflectance(K_per_um=ratio, S_per_um=1.0) == pytest.approx(reflectance, rel=1e-14)
    assert over(ratio, 1.0, 0.7, reflectance - 1e-12) == pytest.approx(reflectance, abs=1e-11)


@pytest.mark.parametrize("SX", [1e-6, 0.1, 0.5, 1.0, 3.0, 49.0, 1e6])
def test_a_lossless_film(SX: float) -> None:
    # Kubelka 1948, case K = 0: R₀ = SX / (1 + SX), T = 1 / (1 + SX).
    assert one(0.0, SX / 4.0, 4.0) == pytest.approx((SX / (1.0 + SX), 1.0 / (1.0 + SX)), rel=1e-15, abs=0.0)


@pytest.mark.parametrize("KX", [1e-9, 0.1, 1.0, 10.0, 500.0])
def test_a_clear_film(KX: float) -> None:
    # Bouguer's law, with K counted along the mean path of diffuse light.
    assert one(KX / 2.0, 0.0, 2.0) == pytest.approx((0.0, math.exp(-KX)), rel=1e-12, abs=0.0)


def test_worked_example_of_another_implementation() -> None:
    # Unit test "KubelkaMunk, Reflectance" (kubelka_munk_test.cpp, 2020-05-14) of an open library for
    # rendering strokes; its own tolerance is 1e-5.
    it = film(K_per_um=[0.2, 0.1, 0.22], S_per_um=[0.124, 0.658, 0.123], thickness_um=0.5)
    ground = [0.65, 0.2, 0.2146]
    np.testing.assert_allclose(over_ground(it, ground), [0.541596, 0.343822, 0.206651], atol=5e-7)


@pytest.mark.parametrize(
    ("pigment", "channel", "black", "white"),
    [
        ("Indian red", 0, 0.404403, 0.511979),
        ("quinacridone rose", 0, 0.038659, 0.646119),
        ("hansa yellow", 1, 0.395641, 0.687556),
    ],
)
def test_curtis_colours(pigment: str, channel: int, black: float, white: float) -> None:
    # Computed from the published constants by two methods.
    K, S = (values[channel] for values in CURTIS[pigment])
    assert over(K, S, 1.0, 0.0) == pytest.approx(black, abs=6e-7)
    assert over(K, S, 1.0, 1.0) == pytest.approx(white, abs=6e-7)


@pytest.mark.parametrize("pigment", CURTIS)
def test_their_own_inverse_gives_their_own_constants_back(pigment: str) -> None:
    for K, S in zip(*CURTIS[pigment], strict=True):
        theirs = reference.constants_over_black_and_white(over(K, S, 1.0, 0.0), over(K, S, 1.0, 1.0))
        assert theirs == pytest.approx((K, S), rel=1e-9)


@pytest.mark.parametrize(
    ("R_opaque", "R_black", "SX"),
    [(0.80, 0.75, 4.12511), (0.85, 0.80, 5.18815), (0.90, 0.85, 6.83148), (0.75, 0.60, 1.73417)],
)
def test_scattering_power_from_two_reflectances(R_opaque: float, R_black: float, SX: float) -> None:
    # Kubelka 1948: R₀ = 1 / (a + b coth bSX), solved for SX. The four numbers are computed from it: no
    # printed table was seen.
    assert one((1.0 - R_opaque) ** 2 / (2.0 * R_opaque), 1.0, SX)[0] == pytest.approx(R_black, abs=1e-6)


@pytest.mark.parametrize(("albedo", "depth"), [(0.99, 4.0), (0.99, 16.0), (0.999, 8.0), (0.9999, 32.0)])
def test_close_to_radiative_transfer_where_it_should_be(albedo: float, depth: float) -> None:
    # K = 2 µa, S = ¾ µs (1 − g): L. F. Gate, Appl. Opt. 13 (1974) 236; S. N. Thennadil, J. Opt. Soc.
    # Am. A 25 (2008) 1480. Judge: adding-doubling (iadpython), diffuse light, no surface.
    import iadpython

    _, _, R, T = iadpython.Sample(a=albedo, b=depth, g=0.0, n=1.0, quad_pts=16).rt()
    ours = one(2.0 * (1.0 - albedo), 0.75 * albedo, depth)
    assert ours == (pytest.approx(R, abs=0.005), pytest.approx(T, abs=0.005))


@LAW
@given(SOME_CONSTANT, SOME_CONSTANT, st.floats(1e-3, 50.0), SHARE)
def test_the_textbook_forms(K: float, S: float, X: float, ground: float) -> None:
    R, T = reference.film_by_textbook(K, S, X, ground)
    assert over(K, S, X, ground) == pytest.approx(R, rel=1e-12, abs=0.0)
    assert one(K, S, X)[1] == pytest.approx(T, rel=2e-12, abs=1e-300)


@LAW
@given(SHARE, SHARE, st.floats(0.0, 4.0))
def test_matrix_exponential_of_the_differential_equations(K: float, S: float, X: float) -> None:
    assert one(K, S, X) == pytest.approx(reference.film_by_matrix(K, S, X), abs=1e-11)


@LAW
@given(CONSTANT, CONSTANT, THICKNESS, st.floats(0.0, 0.98), SHARE)
def test_two_parts_make_the_whole(K: float, S: float, X: float, ground: float, share: float) -> None:
    parts = over(K, S, share * X, over(K, S, (1.0 - share) * X, ground))
    assert parts == pytest.approx(over(K, S, X, ground), abs=1e-12)
