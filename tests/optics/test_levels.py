"""Films laid by products give what films laid by fractions give."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.optics import cones, levels
from layersim.spectra import FloatArray

RNG = np.random.default_rng(3)
WIDE = (..., np.newaxis)
LIMITS = np.array([0.0, 1e-9, 1e-3, 0.5, 2.0, 30.0, 1e4, np.inf])


def both_ways(
    coats: list[tuple[FloatArray, FloatArray, FloatArray]], ground: float
) -> tuple[FloatArray, ...]:
    """What is seen of coats (K and S of (row, 31), films of (row, 1, n)): by products, then by fractions."""
    below = cones.even_ground(np.full((len(coats[0][0]), 31, 1), ground))
    level = levels.level_of(below)
    for K, S, X in coats:
        ready = levels.layable(cones.medium(K_per_um=K, S_per_um=S))
        level = levels.lay(ready, thickness_um=X, over=level)
        below = cones.lay(cones.medium(K_per_um=K[WIDE], S_per_um=S[WIDE]), thickness_um=X, over=below)
    return levels.seen(level, sheen=0.3), cones.seen(below, sheen=0.3)


@pytest.mark.parametrize("ground", [0.0, 0.3, 1.0])
def test_the_same_as_by_fractions(ground: float) -> None:
    coats = [
        (10 ** RNG.uniform(-4, 0.3, (3, 31)), 10 ** RNG.uniform(-4, 0.0, (3, 31)), RNG.permutation(LIMITS))
        for _ in range(6)
    ]
    ours, theirs = both_ways([(K, S, np.tile(X, (3, 1, 1))) for K, S, X in coats], ground)
    assert np.abs(ours - theirs).max() < 2e-14


def test_paints_that_hardly_absorb_keep_their_digits() -> None:
    white = np.zeros((2, 31)), np.full((2, 31), 0.4)
    clear = np.zeros((2, 31)), np.zeros((2, 31))
    ink = np.full((2, 31), 0.3), np.full((2, 31), 0.01)
    coats = [(*paint, np.array([[[0.5, 3.0]]] * 2)) for paint in (white, ink, white, clear, ink)]
    assert not levels.layable(cones.medium(K_per_um=white[0], S_per_um=white[1])).by_products
    ours, theirs = both_ways(coats, 0.2)
    assert np.abs(ours - theirs).max() < 2e-15


def test_a_tower_of_coats_keeps_within_the_range_of_numbers() -> None:
    K, S = np.full((1, 31), 1e-5), np.full((1, 31), 0.5)
    coats = [(K, S, RNG.permutation([1e5, 3.0, 1e-3]).reshape(1, 1, 3)) for _ in range(300)]
    ours, theirs = both_ways(coats, 0.4)
    assert np.abs(ours - theirs).max() < 1e-12


@pytest.mark.parametrize("film", [-1e-9, np.nan])
def test_films_below_zero_are_refused(film: float) -> None:
    paint = np.full((1, 31), 0.1)
    with pytest.raises(ValueError, match="thickness_um must be zero or more"):
        both_ways([(paint, paint, np.array([[[1.0, film]]]))], 0.5)


def test_constants_beyond_reckoning_are_refused() -> None:
    cones.medium(K_per_um=1e60, S_per_um=1e60)
    for wrong in (1e61, 1e78, np.inf, np.nan, -1.0):
        with pytest.raises(ValueError, match="K_per_um must be zero or more"):
            cones.medium(K_per_um=wrong, S_per_um=0.1)
