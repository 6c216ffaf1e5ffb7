"""Pigment particles, from which kinds of paints are learnt: Kramers and Kronig's relation, Mie's series."""

from __future__ import annotations

import numpy as np
import pytest

from data.generate.paint_families import particle_paints
from data.generate.particles import (
    BINDER,
    ENERGIES_EV,
    EV_NM,
    efficiencies,
    films,
    index_from_absorption,
)
from layersim.spectra import BANDS, wavelengths_nm


# C. F. Bohren and D. R. Huffman (1983), appendix A; W. J. Wiscombe, Mie scattering calculations, NCAR/TN-140
# (1979), tables of test cases. All from memory, and found equal to a public program's to nine digits.
@pytest.mark.parametrize(
    ("x", "m", "extinction", "scattering", "g"),
    [
        (5.21282, 1.55 + 0.0j, 3.10543, 3.10543, 0.63314),
        (10.0, 1.5 + 0.0j, 2.881999, 2.881999, 0.742913),
        (1.0, 1.33 + 1e-5j, 0.093952, 0.093923, 0.184517),
    ],
)
def test_published_spheres(x: float, m: complex, extinction: float, scattering: float, g: float) -> None:
    absorbed, scattered, forward = efficiencies(np.array([x]), np.array([m]))
    assert absorbed[0] + scattered[0] == pytest.approx(extinction, rel=5e-6)
    assert scattered[0] == pytest.approx(scattering, rel=5e-6)
    assert forward[0] == pytest.approx(g, rel=1e-5)


def test_small_spheres_are_rayleighs() -> None:
    """Lord Rayleigh's law, Bohren and Huffman's eqs. 5.8 and 5.9."""
    x, m = np.array([0.01, 0.02]), np.array([1.3 + 0.2j, 1.1 + 0.05j])
    polarised = (m**2 - 1.0) / (m**2 + 2.0)
    absorbed, scattered, forward = efficiencies(x, m)
    np.testing.assert_allclose(absorbed, 4.0 * x * polarised.imag, rtol=1e-3)
    np.testing.assert_allclose(scattered, 8.0 / 3.0 * x**4 * np.abs(polarised) ** 2, rtol=1e-3)
    assert np.abs(forward).max() < 1e-3


def test_spheres_of_any_size_at_once_are_those_one_by_one() -> None:
    x, m = np.array([40.0, 0.03, 3.0, 11.0]), np.array([1.4 + 0.01j, 0.9 + 0j, 1.8 + 1j, 1.01 + 0j])
    together = np.array(efficiencies(x, m))
    alone = np.array([efficiencies(x[i : i + 1], m[i : i + 1]) for i in range(4)])[..., 0].T
    np.testing.assert_allclose(together, alone, rtol=1e-6, atol=1e-12)


def test_an_index_follows_from_absorption() -> None:
    """A Lorentz oscillator, whose n and k are known in closed form."""

    def index(E: np.ndarray) -> np.ndarray:
        return np.sqrt(1.0 + 0.05 / (2.1**2 - E**2 - 0.2j * E))

    wanted = index(EV_NM / wavelengths_nm()).real
    found = 1.0 + index_from_absorption(index(ENERGIES_EV).imag)
    np.testing.assert_allclose(found, wanted, atol=5e-4)
    assert np.ptp(wanted) > 0.05


def test_a_band_scatters_more_on_its_long_side() -> None:
    E = ENERGIES_EV
    k = 0.5 * np.exp(-0.5 * ((E - EV_NM / 550.0) / 0.1) ** 2)[np.newaxis]
    seen = np.array([np.interp(EV_NM / wavelengths_nm(), E, k[0])])
    K, S = films(
        n=1.55 + index_from_absorption(k), k=seen, diameter_um=np.array([0.1]), spread=np.array([0.4])
    )
    at = {nm: int((nm - 400) / 10) for nm in (500, 550, 600)}
    assert int(K[0].argmax()) == pytest.approx(at[550], abs=1)
    assert S[0, at[600]] > 2.0 * S[0, at[500]]


def test_particles_of_the_binders_index_do_not_scatter() -> None:
    still = np.full((1, BANDS), BINDER)
    K, S = films(n=still, k=0.0 * still, diameter_um=np.array([0.3]), spread=np.array([0.5]))
    assert K.max() < 1e-12
    assert S.max() < 1e-12


def test_paints_of_particles_are_finite_and_of_every_level() -> None:
    found = particle_paints(60, np.random.default_rng(5))
    assert found.shape == (60, 2 * BANDS)
    assert np.isfinite(found).all()
    assert np.ptp(found[:, BANDS:].mean(axis=1)) > 3.0
    assert np.median(np.ptp(found[:, BANDS:], axis=1)) > 0.6
