"""Very many stacks in blocks give what :mod:`layersim.optics.cones` gives, film by film."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from layersim import colour
from layersim.optics import cones, many
from layersim.optics.cones import Admittance
from layersim.optics.many import ManyCoats, seen_of_many
from layersim.spectra import FloatArray

RNG = np.random.default_rng(3)
TONES = 4
PER_S = cones.directions().scattering_per_S


def white_over_black() -> Admittance:
    """A pre-shade, arrays of shape (1, tones, 31)."""
    white = cones.medium(K_per_um=0.002 + 0.05 * RNG.random(31), S_per_um=0.2 + 0.2 * RNG.random(31))
    black = cones.endless(cones.medium(K_per_um=np.full(31, 1.0), S_per_um=np.full(31, 0.03)))
    return cones.lay(white, thickness_um=np.array([[0.0], [0.7], [3.0], [20.0]])[np.newaxis], over=black)


def paints(rows: int) -> tuple[FloatArray, FloatArray]:
    """Paints of every kind, the limits among them: clear, lossless, black, as thick as one likes."""
    K, S = 10 ** RNG.uniform(-5, 0.3, (rows, 31)), 10 ** RNG.uniform(-5, 0.0, (rows, 31))
    K[:3] = 0.0
    S[3:6] = 0.0
    K[6:8], S[6:8] = 0.0, 0.0
    return K, S


def of_share(share: float) -> tuple[FloatArray, FloatArray]:
    """A paint whose absorption is at least this share of its extinction, and at some wavelength just that."""
    S = 10 ** RNG.uniform(-3, 0.3, 31)
    shares = 10 ** RNG.uniform(np.log10(share), -0.01, 31)
    shares[RNG.integers(0, 31, 4)] = 1.000001 * share
    return 2.0 * PER_S * S * shares / (1.0 - shares), S


def film_by_film(coats: Sequence[ManyCoats], *, over: Admittance, sheen: FloatArray) -> FloatArray:
    """The same by the plain path on whole arrays."""
    y = over
    for coat in coats:
        K, S = (c[:, np.newaxis, :] if c.ndim == 2 else c for c in (coat.K_per_um, coat.S_per_um))
        paint = cones.medium(K_per_um=K, S_per_um=S)
        y = cones.lay(paint, thickness_um=coat.thickness_um[:, :, np.newaxis], over=y)
    return cones.seen(y, sheen=sheen[:, :, np.newaxis])


@pytest.mark.parametrize("even", [True, False])
@pytest.mark.parametrize("threads", [1, 2])
def test_every_stack_with_a_paint_of_its_own(even: bool, threads: int) -> None:
    rows = 300
    below = white_over_black()
    made = [paints(rows), (RNG.random(31), RNG.random(31)), paints(rows)]
    films = [
        RNG.uniform(0.0, 6.0, (rows, 1 if even else TONES)),
        np.array([[0.0, 0.3, 1.0, 8.0]]),
        RNG.uniform(0.0, 3.0, (1, 1)) if even else RNG.uniform(0.0, 3.0, (rows, TONES)),
    ]
    films[0][:5] = 0.0
    coats = [ManyCoats(K, S, X) for (K, S), X in zip(made, films, strict=True)]
    sheen = RNG.random((rows, TONES))
    got = seen_of_many(coats, over=below, sheen=sheen, threads=threads)
    assert np.abs(got - film_by_film(coats, over=below, sheen=sheen)).max() < 1e-13


@pytest.mark.parametrize("ground", ["one", "tones", "rows"])
@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize(("rows", "tones"), [(1, 1), (700, 1), (77, 13), (3, 1100), (1, 513)])
def test_one_paint_in_all_stacks(rows: int, tones: int, threads: int, ground: str) -> None:
    limits = np.array([0.0, 1e-9, 1e-5, 1e-3, 30.0, 1e4, np.inf])
    coats = []
    for share in (1e-6, 1e-3, 1e-5, 0.3):
        film = RNG.uniform(0.0, 4.0, (rows, tones))
        film.flat[RNG.integers(0, film.size, 7)] = RNG.permutation(limits)
        coats.append(ManyCoats(*of_share(share), film))
    coats[2] = ManyCoats(coats[2].K_per_um, coats[2].S_per_um, np.full((1, 1), 1.7))
    coats.insert(3, ManyCoats(np.zeros(31), np.zeros(31), np.full((1, 1), 5.0)))
    shape = {"one": (1, 1), "tones": (1, tones), "rows": (rows, 1)}[ground]
    below = cones.even_ground(RNG.random((*shape, 31)))
    sheen = RNG.random((rows, 1))
    assert all(coat.by_matrix(np.float64) for coat in coats)
    got = seen_of_many(coats, over=below, sheen=sheen, threads=threads)
    expected = np.broadcast_to(film_by_film(coats, over=below, sheen=sheen), (rows, tones, 31))
    assert got.shape == expected.shape
    assert np.abs(got - expected).max() < 2e-13


def test_a_tower_of_coats_keeps_within_the_range_of_numbers() -> None:
    opaque_and_thin = np.array([[1e5], [3.0], [1e-3]])
    coats = [ManyCoats(*of_share(1e-4), RNG.permutation(opaque_and_thin)) for _ in range(600)]
    below, sheen = cones.even_ground(np.full((1, 1, 31), 0.4)), np.zeros((1, 1))
    expected = film_by_film(coats, over=below, sheen=sheen)
    for kind, most in ((np.float64, 1e-12), (np.float32, 1e-4)):
        got = seen_of_many(coats, over=below, sheen=sheen, kind=kind)
        assert np.abs(got - expected).max() < most


@pytest.mark.parametrize("share", [1e-4, 3e-4, 1e-2, 0.3, 0.9])
def test_single_precision_is_not_seen(share: float) -> None:
    """Of films as they are sprayed: ΔE00 is off by less than 0.001, on black grounds and white ones."""
    view = colour.Viewing()
    for ground in (0.0, 0.05, 0.9):
        coats = [ManyCoats(*of_share(share), RNG.uniform(0.0, 6.0, (300, 1))) for _ in range(8)]
        over, sheen = cones.even_ground(np.full((1, 1, 31), ground)), np.full((1, 1), 0.1)
        assert all(coat.by_matrix(np.float32) for coat in coats)
        plain, single = (
            colour.lab_from_xyz(
                seen_of_many(coats, over=over, sheen=sheen, weights=view.weights, kind=kind), view.white
            )
            for kind in (np.float64, np.float32)
        )
        delta_e = colour.delta_e_2000(plain, single)
        assert 0.0 < delta_e.max() < 1e-3


@pytest.mark.parametrize("share", [1e-4, 1e-2, 0.9])
def test_single_precision_is_not_seen_on_glossy_and_opaque_films(share: float) -> None:
    """Without the surface's own light a dark film has hardly any left, and a thick one keeps the least."""
    view = colour.Viewing()
    films = np.array([[20.0], [60.0], [200.0], [1e3], [1e5], [np.inf]])
    for ground in (0.0, 0.9):
        coats = [ManyCoats(*of_share(share), RNG.permutation(films)) for _ in range(4)]
        over, sheen = cones.even_ground(np.full((1, 1, 31), ground)), np.zeros((1, 1))
        assert all(coat.by_matrix(np.float32) for coat in coats)
        double, single = (
            seen_of_many(coats, over=over, sheen=sheen, weights=view.weights, kind=kind)
            for kind in (np.float64, np.float32)
        )
        assert np.isfinite(single).all()
        assert single.min() > 0.0
        delta_e = colour.delta_e_2000(*(colour.lab_from_xyz(xyz, view.white) for xyz in (double, single)))
        assert 0.0 < delta_e.max() < 2e-3


def test_paints_that_hardly_absorb_are_not_left_to_the_matrix() -> None:
    K, S = of_share(1e-6)
    film = np.ones((1, 1))
    assert ManyCoats(K, S, film).by_matrix(np.float64)
    assert not ManyCoats(K, S, film).by_matrix(np.float32)
    assert not ManyCoats(0.9 * K, S, film).by_matrix(np.float64)
    assert not ManyCoats(0.0 * K, S, film).by_matrix(np.float64)
    assert ManyCoats(0.0 * K, 0.0 * S, film).by_matrix(np.float32)  # clear: nothing to lose digits in
    assert not ManyCoats(K[np.newaxis], S[np.newaxis], film).by_matrix(np.float64)


def test_no_coats_is_the_ground() -> None:
    below = white_over_black()
    got = seen_of_many([], over=below, sheen=np.zeros((1, 1)))
    np.testing.assert_allclose(got, cones.seen(below, sheen=0.0), rtol=0, atol=1e-14)


@pytest.mark.parametrize("own", [True, False])
def test_weights_give_sums(own: bool) -> None:
    view = colour.Viewing()
    K, S = paints(10) if own else of_share(1e-3)
    coats = [ManyCoats(K, S, np.full((1, 1), 2.0))]
    over, sheen = white_over_black(), np.ones((1, 1))
    whole = seen_of_many(coats, over=over, sheen=sheen)
    sums = seen_of_many(coats, over=over, sheen=sheen, weights=view.weights)
    np.testing.assert_allclose(sums, colour.xyz(whole, view), rtol=1e-12)


def test_what_is_given_stays_as_it_is() -> None:
    coats = [ManyCoats(*of_share(1e-3), RNG.uniform(0.0, 4.0, (30, 2))) for _ in range(2)]
    coats.append(ManyCoats(*paints(30), np.ones((30, 1))))
    over, sheen = cones.even_ground(RNG.random((30, 1, 31))), RNG.random((30, 1))
    given = [sheen, over.cone, over.cross, over.trapped]
    given += [part for coat in coats for part in (coat.K_per_um, coat.S_per_um, coat.thickness_um)]
    kept = [part.copy() for part in given]
    seen_of_many(coats[:2], over=over, sheen=sheen)
    seen_of_many(coats, over=over, sheen=sheen)
    for before, after in zip(kept, given, strict=True):
        np.testing.assert_array_equal(before, after)


def test_constants_below_zero_are_refused() -> None:
    coat = ManyCoats(np.full(31, -0.1), np.full(31, 0.1), np.ones((1, 1)))
    with pytest.raises(ValueError, match="K_per_um must be zero or more"):
        seen_of_many([coat], over=cones.even_ground(np.full((1, 1, 31), 0.5)), sheen=np.zeros((1, 1)))


@pytest.mark.parametrize("own", [True, False])
@pytest.mark.parametrize("film", [-1e-9, np.nan])
def test_films_below_zero_are_refused(own: bool, film: float) -> None:
    K, S = paints(2) if own else of_share(1e-3)
    coats = [ManyCoats(K, S, np.array([[1.0], [film]])), ManyCoats(K, S, np.ones((1, 1)))]
    over, sheen = cones.even_ground(np.full((1, 1, 31), 0.5)), np.zeros((1, 1))
    for order in (coats, coats[::-1]):
        with pytest.raises(ValueError, match="thickness_um must be zero or more"):
            seen_of_many(order, over=over, sheen=sheen)


@pytest.mark.parametrize(("rows", "tones"), [(1, 1), (5, 300), (1000, 7), (0, 3)])
def test_tiles_hold_every_stack_once(rows: int, tones: int) -> None:
    count = np.zeros((rows, tones), dtype=int)
    for tile in many._tiles(rows, tones, 64):
        assert 1 <= np.prod(tile.shape) <= 64
        count[tile.rows, tile.tones] += 1
    assert (count == 1).all()
