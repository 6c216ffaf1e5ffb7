"""One film between fixed neighbours gives what :mod:`layersim.optics.cones` gives."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.optics import bulk, cones
from layersim.optics.cones import Admittance

RNG = np.random.default_rng(3)
TONES = 4


def white_over_black():
    """A preshade, arrays of shape (tones, 31)."""
    white = cones.medium(K_per_um=0.002 + 0.05 * RNG.random(31), S_per_um=0.2 + 0.2 * RNG.random(31))
    black = cones.endless(cones.medium(K_per_um=np.full(31, 1.0), S_per_um=np.full(31, 0.03)))
    return cones.lay(white, thickness_um=np.array([0.0, 0.7, 3.0, 20.0])[:, np.newaxis], over=black)


def many(rows: int):
    """Paints of every kind, the limits among them: clear, lossless, black, as thick as one likes."""
    K, S = 10 ** RNG.uniform(-5, 0.3, (rows, 31)), 10 ** RNG.uniform(-5, 0.0, (rows, 31))
    K[:3] = 0.0
    S[3:6] = 0.0
    K[6:8], S[6:8] = 0.0, 0.0
    return K, S


@pytest.mark.parametrize("covered", [False, True])
@pytest.mark.parametrize(("kind", "most"), [(np.float64, 1e-7), (np.float32, 4e-4)])
def test_one_film_between_neighbours(covered, kind, most):
    below = white_over_black()
    later = [(many(9)[0][8], many(9)[1][8], 1.3), (np.zeros(31), np.full(31, 0.005), 5.0)] if covered else []
    rows = bulk.bare_surface()
    for K, S, X in reversed(later):
        rows = bulk.under(rows, cones.medium(K_per_um=K, S_per_um=S), thickness_um=X)
    above = bulk.Rows(
        *(
            np.broadcast_to(r, (5, 31))[:, np.newaxis] * np.ones((5, TONES, 31))
            for r in (rows.numerator, rows.denominator)
        )
    )
    K, S = many(200)
    S[8:10], K[8:10] = 1.2, 1e-4  # a white of SX = 24 at the third film
    units = [1.0, 2.0, 3.0, 4.5, 20.0]
    fast = bulk.Between(below=bulk.coordinates(below), above=above, kind=kind)
    fast.paints(K.T.astype(kind), S.T.astype(kind))
    for tone in range(TONES):
        seen = [np.array(R) for R in fast.seen(fast.coefficients(tone), units)]
        for unit, got in zip(units, seen, strict=True):
            y = cones.lay(
                cones.medium(K_per_um=K, S_per_um=S),
                thickness_um=unit,
                over=Admittance(below.cone[tone], below.cross[tone], below.trapped[tone]),
            )
            for Kl, Sl, X in later:
                y = cones.lay(cones.medium(K_per_um=Kl, S_per_um=Sl), thickness_um=X, over=y)
            assert np.abs(got.T - cones.seen(y, sheen=0.0)).max() < most


def test_rows_of_a_stack_are_the_stack_to_rounding():
    ground = cones.even_ground(np.linspace(0.0, 1.0, 31))
    K, S = many(20)
    for k, s in zip(K, S, strict=True):
        paint = cones.medium(K_per_um=k, S_per_um=s)
        rows = bulk.under(bulk.under(bulk.bare_surface(), paint, thickness_um=0.4), paint, thickness_um=1.1)
        direct = cones.seen(cones.lay(paint, thickness_um=1.5, over=ground), sheen=0.3)
        got = bulk.seen_through(rows, bulk.coordinates(ground), sheen=0.3)
        np.testing.assert_allclose(got, direct, atol=1e-11)


def test_more_absorption_is_darker_but_more_scattering_need_not_be_lighter():
    """Scattered light takes a longer way through the ink: over white R may fall with S."""
    ground = cones.even_ground(0.85)

    def seen(K, S):
        return float(
            cones.seen(
                cones.lay(cones.medium(K_per_um=K, S_per_um=S), thickness_um=1.0, over=ground), sheen=0.0
            )
        )

    grid = [seen(K, 0.05) for K in np.linspace(0.0, 2.0, 30)]
    assert (np.diff(grid) < 0.0).all()
    assert seen(1.0, 0.01) < seen(1.0, 0.0)
