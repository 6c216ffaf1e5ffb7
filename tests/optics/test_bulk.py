"""The fast paths give what :mod:`layersim.optics.cones` gives."""

from __future__ import annotations

import numpy as np
import pytest

from layersim import colour
from layersim.optics import bulk, cones
from layersim.optics.bulk import ManyCoats
from layersim.optics.cones import Admittance

RNG = np.random.default_rng(3)
TONES = 4


def white_over_black():
    """A pre-shade, arrays of shape (tones, 31)."""
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


def lifted(y: Admittance) -> Admittance:
    return Admittance(y.cone[np.newaxis], y.cross[np.newaxis], y.trapped[np.newaxis])


@pytest.mark.parametrize("even", [True, False])
@pytest.mark.parametrize("threads", [1, 2])
def test_stacks_are_those_of_cones(even, threads):
    rows = 300
    below = white_over_black()
    made = [many(rows), (RNG.random(31), RNG.random(31)), many(rows)]
    films = [
        RNG.uniform(0.0, 6.0, (rows, 1 if even else TONES)),
        np.array([[0.0, 0.3, 1.0, 8.0]]),
        RNG.uniform(0.0, 3.0, (1, 1)) if even else RNG.uniform(0.0, 3.0, (rows, TONES)),
    ]
    films[0][:5] = 0.0
    coats = [ManyCoats(K, S, X) for (K, S), X in zip(made, films, strict=True)]
    sheen = RNG.random((rows, TONES))
    got = bulk.seen_of_many(coats, over=lifted(below), sheen=sheen, threads=threads)
    y = lifted(below)
    for (K, S), X in zip(made, films, strict=True):
        constants = [c[:, np.newaxis, :] if c.ndim == 2 else c for c in (K, S)]
        y = cones.lay(
            cones.medium(K_per_um=constants[0], S_per_um=constants[1]),
            thickness_um=X[:, :, np.newaxis],
            over=y,
        )
    expected = cones.seen(y, sheen=sheen[:, :, np.newaxis])
    assert np.abs(got - expected).max() < 1e-13


def test_no_coats_is_the_ground():
    below = white_over_black()
    got = bulk.seen_of_many([], over=lifted(below), sheen=np.zeros((1, 1)))
    np.testing.assert_allclose(got[0], cones.seen(below, sheen=0.0), rtol=0, atol=1e-14)


def test_weights_give_sums():
    K, S = many(10)
    view = colour.Viewing()
    coats = [ManyCoats(K, S, np.full((1, 1), 2.0))]
    over, sheen = lifted(white_over_black()), np.ones((1, 1))
    whole = bulk.seen_of_many(coats, over=over, sheen=sheen)
    sums = bulk.seen_of_many(coats, over=over, sheen=sheen, weights=view.weights)
    np.testing.assert_allclose(sums, colour.xyz(whole, view), rtol=1e-12)


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
