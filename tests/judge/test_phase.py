"""Scattering functions against published values, and as films show them."""

from __future__ import annotations

import numpy as np
import pytest

from tests.judge import phase
from tests.judge.radiative_transfer import (
    TUNING,
    WAVELENGTHS_NM,
    Film,
    Pigmentation,
    film_operators,
    mix,
    quadrature,
    render,
)

FLAT = np.ones(WAVELENGTHS_NM.size)


@pytest.mark.parametrize(
    ("ratio", "size", "efficiency", "g"),
    [
        (1.5, 10.0, 2.881999, 0.742913),
        (1.5, 100.0, 2.094388, 0.818246),
        (0.75, 10.0, 2.232265, 0.896473),
        (0.75, 0.101, 0.000008, 0.001507),
    ],
)
def test_spheres_of_wiscombe(ratio: float, size: float, efficiency: float, g: float) -> None:
    # W. J. Wiscombe, NCAR/TN-140+STR (1979), test cases: Q_sca and the mean cosine (from memory)
    moments = phase.scattered_moments(ratio, size)
    assert 2.0 * moments[0] / size**2 == pytest.approx(efficiency, abs=1e-6)
    assert moments[1] / moments[0] == pytest.approx(g, abs=1e-6)


def test_a_tiny_sphere_scatters_as_rayleigh_says() -> None:
    # p = 3/4 (1 + cos^2): moments 1, 0, 1/10
    moments = phase.scattered_moments(1.8, 1e-3)
    assert moments[:4] / moments[0] == pytest.approx([1.0, 0.0, 0.1, 0.0], abs=1e-6)


def test_moments_of_henyey_and_greenstein_are_the_function_itself() -> None:
    plain = TUNING["ultramarine"]
    by_moments = phase.with_function(plain, plain.legendre(phase.ORDERS))
    films = [render([Film(pigment, (0.5, 4.0, 20.0))]) for pigment in (plain, by_moments)]
    np.testing.assert_allclose(films[0], films[1], rtol=1e-9)


def test_a_peak_alone_is_henyey_and_greenstein() -> None:
    moments = phase.two_lobes(forward=0.6, backward=0.4, share_forward=1.0)
    np.testing.assert_allclose(moments[0, :4], 0.6 ** np.arange(4))


def test_another_function_leaves_absorption_and_transport() -> None:
    plain = TUNING["titanium white"]
    other = phase.with_function(plain, phase.spheres(index=2.7, radius_um=0.11))
    for ours, theirs in zip(plain.kubelka_munk_per_um(), other.kubelka_munk_per_um(), strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-12)


def test_a_thin_film_scatters_as_its_spheres_do() -> None:
    # Single scattering of light along the normal: what leaves along a cosine is in proportion to the
    # function there, p(-nu) (1 - exp(-b (1 + 1/nu))) / (nu + 1).
    index, radius_um = 1.9, 0.15
    size = 2.0 * np.pi * 1.5 * radius_um / (WAVELENGTHS_NM / 1000.0)
    directions = quadrature()
    nu = directions.cosines
    moments = phase.spheres(index=index, radius_um=radius_um, spread=1.0)
    film = Pigmentation("spheres", 0.0 * FLAT, FLAT, moments[:, 1], moments)
    depth = 1e-6
    reflection, _ = film_operators(film, depth)
    root = np.sqrt(directions.flux_weights)
    left = reflection[..., -1] / (root * root[-1])
    expected = phase.intensity(index / 1.5, size, -nu) * (-np.expm1(-depth * (1.0 + 1.0 / nu))) / (nu + 1.0)
    ratio = left / expected
    steep = nu > 0.2
    np.testing.assert_allclose(ratio[:, steep] / ratio[:, -1:], 1.0, atol=2e-3)


def test_without_absorption_all_light_comes_back_or_passes() -> None:
    directions = quadrature()
    moments = phase.two_lobes(forward=0.8, backward=0.5, share_forward=0.8)
    film = Pigmentation("lobes", 0.0 * FLAT, 0.4 * FLAT, moments[:, 1], moments)
    reflection, transmission = film_operators(film, 7.0)
    root = np.sqrt(directions.flux_weights)
    np.testing.assert_allclose((root @ (reflection + transmission)) / root, 1.0, atol=1e-9)


def test_a_mixture_of_functions_is_their_average_by_scattering() -> None:
    one = phase.with_function(TUNING["titanium white"], phase.spheres(index=2.7, radius_um=0.11))
    plain = TUNING["azo yellow"]
    mixture = mix("tint", [(one, 0.3), (plain, 0.7)])
    shares = np.array([0.3 * one.mu_s_per_um, 0.7 * plain.mu_s_per_um])
    assert mixture.moments is not None
    expected = shares[0] * one.legendre(6)[:, 5] + shares[1] * plain.legendre(6)[:, 5]
    np.testing.assert_allclose(mixture.moments[:, 5], expected / shares.sum(axis=0))


def test_moments_must_be_those_of_the_mean_cosine() -> None:
    with pytest.raises(ValueError, match="begin with 1 and g"):
        Pigmentation("wrong", FLAT, FLAT, 0.5, np.ones((WAVELENGTHS_NM.size, 3)))
