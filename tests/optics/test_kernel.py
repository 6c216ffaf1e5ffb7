"""The inner loop: blocks, buffers and threads must not be seen in the numbers."""

import numpy as np
import numpy.typing as npt
import pytest

from layersim.optics import kernel
from layersim.optics.film import film
from layersim.optics.stack import over_ground

Floats = npt.NDArray[np.float64]
AWKWARD = np.array([0.0, 5e-324, 1e-300, 1e-9, 0.3, 1.0, 1e9, 1e160, 1e300])


def one_at_a_time(K: Floats, S: Floats, X: Floats) -> tuple[Floats, Floats]:
    films = [
        film(K_per_um=k, S_per_um=s, thickness_um=x)
        for k, s, x in zip(*(a.ravel() for a in np.broadcast_arrays(K, S, X)), strict=True)
    ]
    shape = np.broadcast_shapes(K.shape, S.shape, X.shape)
    return np.array([f.R for f in films]).reshape(shape), np.array([f.T for f in films]).reshape(shape)


class TestFilms:
    @pytest.mark.parametrize("threads", [1, 2, 7])
    @pytest.mark.parametrize(
        ("constants", "thickness"),
        [
            ((31,), (kernel.BLOCK // 8, 1)),
            ((31,), (20, kernel.BLOCK // 200, 1)),
            ((1, 31), (1, kernel.BLOCK // 10, 1)),
            ((5, 1, 31), (1, kernel.BLOCK // 50, 1)),  # other constants in every block
            ((3, 1), (1, kernel.BLOCK + 1)),
            ((kernel.BLOCK,), ()),
            ((kernel.BLOCK + 1,), ()),
            ((3 * kernel.BLOCK - 1,), (3 * kernel.BLOCK - 1,)),
        ],
    )
    def test_large_arrays_equal_small_ones(
        self, constants: tuple[int, ...], thickness: tuple[int, ...], threads: int
    ) -> None:
        random = np.random.default_rng(1)
        K, S = random.choice(AWKWARD, constants), random.uniform(0.0, 2.0, constants)
        X = random.uniform(0.0, 9.0, thickness)
        R, T = kernel.films(K, S, X, threads=threads)
        assert R.shape == T.shape == np.broadcast_shapes(constants, thickness)
        some = random.integers(0, R.size, 300)
        k, s, x = (np.broadcast_to(a, R.shape).ravel()[some] for a in (K, S, X))
        slow = one_at_a_time(k, s, x)
        np.testing.assert_allclose((R.ravel()[some], T.ravel()[some]), slow, rtol=1e-14, atol=1e-300)

    @pytest.mark.parametrize("threads", [1, 2])
    def test_every_awkward_number_in_large_arrays(self, threads: int) -> None:
        K, S, X = np.meshgrid(AWKWARD, AWKWARD, np.append(AWKWARD, np.inf), indexing="ij")
        slow = one_at_a_time(K, S, X)
        times = kernel.BLOCK // K.size + 2
        R, T = kernel.films(*(np.tile(a.ravel(), times) for a in (K, S, X)), threads=threads)
        assert R.size > kernel.BLOCK
        np.testing.assert_allclose(R.reshape(times, *K.shape)[-1], slow[0], rtol=1e-14, atol=1e-300)
        np.testing.assert_allclose(T.reshape(times, *K.shape)[-1], slow[1], rtol=1e-14, atol=1e-300)
        np.testing.assert_array_equal(R.reshape(times, K.size), np.broadcast_to(R[: K.size], (times, K.size)))

    def test_careful_and_quick_films_in_one_block_do_not_mix(self) -> None:
        X = np.array([1.0, 0.0, 2.0, np.inf, 3.0, 1e-9, 4.0])
        K, S = np.full(7, 0.2), np.full(7, 0.5)
        np.testing.assert_allclose(kernel.films(K, S, X), one_at_a_time(K, S, X), rtol=1e-14)

    def test_nothing_in_nothing_out(self) -> None:
        R, T = kernel.films(np.zeros((0, 31)), np.zeros(31), np.zeros((1, 1)))
        assert R.shape == T.shape == (0, 31)

    def test_the_callers_own_settings_stay(self) -> None:
        before = np.geterr()
        with np.errstate(all="raise"):
            kernel.films(np.array([0.0, 1e300, 1e-300]), np.array(1e300), np.array([0.0, np.inf, 1e300]))
        assert np.geterr() == before


class TestWorkspace:
    def test_film_over_changes_the_ground_only(self) -> None:
        random = np.random.default_rng(2)
        K, S, X = random.uniform(0.0, 1.0, (3, 50))
        X[7], X[9] = 0.0, np.inf
        ground = random.uniform(0.0, 1.0, 50)
        kept = [a.copy() for a in (K, S, X)]
        expected = over_ground(film(K_per_um=K, S_per_um=S, thickness_um=X), ground)
        workspace = kernel.Workspace(50)
        shown = ground.copy()
        workspace.film_over(kernel.Constants.of(K, S), X, shown)
        np.testing.assert_allclose(shown, expected, rtol=1e-14)
        for before, after in zip(kept, (K, S, X), strict=True):
            np.testing.assert_array_equal(before, after)

    def test_buffers_used_again_keep_nothing(self) -> None:
        workspace = kernel.Workspace(40)
        random = np.random.default_rng(3)
        for n in (40, 3, 17, 40):
            K, S, X = random.uniform(0.0, 1.0, (3, n))
            ground = random.uniform(0.0, 1.0, n)
            expected = over_ground(film(K_per_um=K, S_per_um=S, thickness_um=X), ground)
            workspace.film_over(kernel.Constants.of(K, S), X, ground)
            np.testing.assert_allclose(ground, expected, rtol=1e-14)

    def test_lay_takes_one_film_for_many_tones(self) -> None:
        random = np.random.default_rng(4)
        it = film(K_per_um=random.uniform(0.0, 1.0, (5, 1)), S_per_um=0.4, thickness_um=2.0)
        ground = random.uniform(0.0, 1.0, (5, 8))
        expected = over_ground(it, ground)
        kernel.Workspace(40).lay(it.R, it.T, ground)
        np.testing.assert_allclose(ground, expected, rtol=1e-14)

    def test_the_whitest_film_on_the_whitest_ground(self) -> None:
        white = np.ones(4)
        X = np.array([1e15, 1e17, 1e200, np.inf])
        kernel.Workspace(4).film_over(kernel.Constants.of(np.zeros(4), np.ones(4)), X, white)
        np.testing.assert_allclose(white, 1.0, atol=1e-15)
