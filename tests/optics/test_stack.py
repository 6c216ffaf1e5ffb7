"""Films on films and on grounds: other ways to the same numbers, and laws."""

import math
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from layersim.optics import kernel
from layersim.optics.film import Film, film
from layersim.optics.stack import FilmCoat, over_ground, pile, stacked_reflectance
from layersim.spectra import BANDS
from tests import reference
from tests.optics.ranges import ANY_CONSTANT, ANY_THICKNESS, CONSTANT, LAW, SHARE, THICKNESS

ULP = float(np.finfo(float).eps)
PAINT = st.tuples(CONSTANT, CONSTANT, THICKNESS)


def of(paint: tuple[float, float, float]) -> Film:
    K, S, X = paint
    return film(K_per_um=K, S_per_um=S, thickness_um=X)


def numbers(it: Film) -> tuple[float, float, float]:
    return float(it.R), float(it.T), float(it.R_below)


class TestLiterature:
    @pytest.mark.parametrize("plates", [1, 2, 5, 20])
    @pytest.mark.parametrize("rho", [0.04, 0.3, 0.9])
    def test_a_pile_of_plates(self, plates: int, rho: float) -> None:
        # G. G. Stokes, Proc. R. Soc. Lond. 11 (1862) 545, clear plates of two faces that reflect ρ each
        # (formula from memory): R = 2mρ / (1 + (2m − 1) ρ), and the rest goes through.
        face = Film(R=np.array(rho), T=np.array(1.0 - rho), R_below=np.array(rho))
        m = 2 * plates
        expected = m * rho / (1.0 + (m - 1) * rho)
        both = (expected, 1.0 - expected, expected)
        assert numbers(pile(*[face] * m)) == pytest.approx(both, rel=1e-13)

    def test_two_sheets_by_hand(self) -> None:
        # Kubelka, J. Opt. Soc. Am. 44 (1954) 330 (abstract): T₁₂ = T₁T₂ / (1 − R₁R₂) and
        # R₁₂ = R₁ + T₁²R₂ / (1 − R₁R₂), where the dividing R₁ is that of the upper sheet from below.
        # R₁ = ½, T₁ = ¼, from below ¼; R₂ = ⅘, T₂ = ⅒, from below ⅕: 1 − R₁R₂ = ⅘.
        upper = Film(R=np.array(1 / 2), T=np.array(1 / 4), R_below=np.array(1 / 4))
        lower = Film(R=np.array(4 / 5), T=np.array(1 / 10), R_below=np.array(1 / 5))
        both = (1 / 2 + 1 / 16, 1 / 32, 1 / 5 + 1 / 320)
        assert numbers(pile(lower, upper)) == pytest.approx(both, rel=1e-15)


class TestOtherWays:
    @LAW
    @given(PAINT, SHARE)
    def test_pass_by_pass(self, paint: tuple[float, float, float], ground: float) -> None:
        it = of(paint)
        slow = reference.over_ground_by_passes(float(it.R), float(it.T), float(it.R_below), ground)
        # What 2,000 passes leave out is at most T² / (1 − R) with (R g)^2000 of it.
        left = (it.R * ground) ** 2000 * (1.0 + it.T)
        assert over_ground(it, ground) == pytest.approx(slow, abs=1e-12 + left)

    @LAW
    @given(st.lists(PAINT, min_size=1, max_size=6), st.floats(0.0, 0.98))
    def test_all_fluxes_at_once(self, paints: list[tuple[float, float, float]], ground: float) -> None:
        films = [of(paint) for paint in paints]
        slow = reference.stack_by_fluxes([numbers(it) for it in films], ground)
        assert over_ground(pile(*films), ground) == pytest.approx(slow, abs=1e-11)
        step = np.asarray(ground)
        for it in films:
            step = over_ground(it, step)
        assert step == pytest.approx(slow, abs=1e-11)

    def test_a_film_over_a_ground_that_it_is_not_the_same_from_below(self) -> None:
        two = pile(of((0.0, 2.0, 3.0)), of((3.0, 0.05, 1.0)))
        assert float(two.R_below) > 5.0 * float(two.R)
        slow = reference.over_ground_by_passes(*numbers(two), 0.9)
        assert over_ground(two, 0.9) == pytest.approx(slow, rel=1e-13)


class TestLaws:
    @LAW
    @given(CONSTANT, CONSTANT, THICKNESS, SHARE)
    def test_two_parts_make_the_whole(self, K: float, S: float, X: float, share: float) -> None:
        for part in (0.5, share):
            parts = pile(of((K, S, part * X)), of((K, S, (1.0 - part) * X)))
            assert numbers(parts) == pytest.approx(numbers(of((K, S, X))), abs=1e-12)

    @LAW
    @given(PAINT, PAINT)
    def test_order_matters_for_reflectance_and_not_for_transmittance(
        self, a: tuple[float, float, float], b: tuple[float, float, float]
    ) -> None:
        one, other = numbers(pile(of(a), of(b))), numbers(pile(of(b), of(a)))
        assert one == pytest.approx((other[2], other[1], other[0]), rel=1e-12, abs=1e-300)

    def test_order_matters_by_how_much(self) -> None:
        white, ink = of((0.0, 1.0, 9.0)), of((0.5, 0.0, 2.0))
        assert float(pile(white, ink).R) == pytest.approx(0.9 * math.exp(-2.0), rel=1e-12)
        assert float(pile(ink, white).R) == pytest.approx(0.9, rel=1e-12)

    @LAW
    @given(st.lists(PAINT, min_size=2, max_size=5))
    def test_shares_of_the_light(self, paints: list[tuple[float, float, float]]) -> None:
        R, T, R_below = numbers(pile(*map(of, paints)))
        assert min(R, T, R_below) >= 0.0
        assert max(R, R_below) + T <= 1.0 + 16 * ULP

    @LAW
    @given(PAINT, PAINT, PAINT, SHARE)
    def test_it_does_not_matter_which_are_joined_first(
        self,
        a: tuple[float, float, float],
        b: tuple[float, float, float],
        c: tuple[float, float, float],
        ground: float,
    ) -> None:
        one = pile(of(a), of(b), of(c))
        assert numbers(pile(of(a), pile(of(b), of(c)))) == pytest.approx(numbers(one), abs=1e-12)
        joined = over_ground(pile(of(b), of(c)), over_ground(of(a), ground))
        assert over_ground(one, ground) == pytest.approx(float(joined), abs=1e-12)

    @LAW
    @given(PAINT, SHARE)
    def test_a_shown_tone_lies_within_0_and_1(self, paint: tuple[float, float, float], g: float) -> None:
        assert 0.0 <= over_ground(of(paint), g) <= 1.0 + 4 * ULP

    @LAW
    @given(ANY_CONSTANT, ANY_CONSTANT, ANY_THICKNESS, SHARE | st.just(1.0))
    def test_any_numbers_at_all(self, K: float, S: float, X: float, ground: float) -> None:
        it = of((K, S, X))
        assert 0.0 <= over_ground(it, ground) <= 1.0 + 4 * ULP
        R, T, R_below = numbers(pile(it, it))
        assert min(R, T) >= 0.0
        assert max(R, R_below) + T <= 1.0 + 8 * ULP

    @LAW
    @given(ANY_CONSTANT, ANY_THICKNESS)
    def test_white_on_white_is_white(self, S: float, X: float) -> None:
        # R rounds to 1 here and there while a little light still gets through.
        assert over_ground(of((0.0, S, X)), 1.0) == pytest.approx(1.0, abs=4 * ULP)

    @LAW
    @given(st.floats(0.0, 1e-3), SHARE)
    def test_no_paint_shows_the_ground(self, S: float, ground: float) -> None:
        assert over_ground(of((S, S, 0.0)), ground) == ground
        bare = of((1.0, S, 0.0))
        assert numbers(pile(bare, of((0.3, 0.4, 2.0)))) == numbers(of((0.3, 0.4, 2.0)))

    def test_an_opaque_coat_hides_what_lies_below(self) -> None:
        top = of((0.5, 1.0, math.inf))
        assert over_ground(top, 0.0) == over_ground(top, 1.0) == top.R
        assert numbers(pile(of((3.0, 0.0, 5.0)), top))[:2] == (float(top.R), 0.0)

    def test_no_film_is_refused(self) -> None:
        with pytest.raises(ValueError, match="at least one film"):
            pile()


TONES = 2 * (kernel.BLOCK // BANDS) + 7


def coats(random: np.random.Generator, tones: int) -> list[FilmCoat]:
    """Even and uneven ones by turns, with bare and very thick places."""

    def constants() -> npt.NDArray[np.float64]:
        return random.uniform(0.0, 0.8, BANDS) * random.integers(0, 2, BANDS)

    uneven = random.uniform(0.0, 6.0, (2, tones))
    uneven[0, ::11] = 0.0
    uneven[1, ::13] = np.inf
    return [
        FilmCoat(constants(), constants(), np.array(1.5)),
        FilmCoat(constants(), constants(), uneven[0]),
        FilmCoat(constants(), constants(), np.array(0.0)),
        FilmCoat(constants(), constants(), uneven[1]),
    ]


def one_by_one(layers: list[FilmCoat], ground: npt.ArrayLike, tones: int) -> npt.NDArray[np.float64]:
    R = np.broadcast_to(np.asarray(ground, dtype=float), (tones, BANDS))
    for coat in layers:
        X = np.broadcast_to(coat.thickness_um, (tones,))[:, np.newaxis]
        R = over_ground(film(K_per_um=coat.K_per_um, S_per_um=coat.S_per_um, thickness_um=X), R)
    return R


class TestStackedReflectance:
    @pytest.mark.parametrize("tones", [1, 2, kernel.BLOCK // BANDS, kernel.BLOCK // BANDS + 1, TONES])
    @pytest.mark.parametrize("threads", [1, 2, 3])
    def test_the_same_as_coat_on_coat(self, tones: int, threads: int) -> None:
        random = np.random.default_rng(tones)
        layers = coats(random, tones)
        for ground in (0.5, random.uniform(0.0, 1.0, BANDS), random.uniform(0.0, 1.0, (tones, BANDS))):
            whole = stacked_reflectance(layers, ground=ground, tones=tones, threads=threads)
            assert whole.shape == (tones, BANDS)
            np.testing.assert_allclose(whole, one_by_one(layers, ground, tones), rtol=1e-14, atol=1e-15)

    @LAW
    @given(ANY_CONSTANT, ANY_CONSTANT, ANY_THICKNESS, SHARE | st.just(1.0))
    @example(1e-36, 1.0, 1e16, 1.0)  # so white that 1 − R∞ rounds to 0, and yet not opaque
    @example(1e-300, 1e3, 1e148, 1.0)
    @example(0.0, 1.0, 1e17, 1.0)
    def test_any_numbers_at_all(self, K: float, S: float, X: float, ground: float) -> None:
        coat = FilmCoat(np.full(BANDS, K), np.full(BANDS, S), np.array([X, 1.0]))
        shown = stacked_reflectance([coat], ground=ground, tones=2)
        expected = [over_ground(of((K, S, thickness)), ground) for thickness in (X, 1.0)]
        np.testing.assert_allclose(shown.T, np.tile(expected, (BANDS, 1)), rtol=1e-12, atol=1e-300)

    def test_threads_change_nothing(self) -> None:
        layers = coats(np.random.default_rng(5), TONES)
        alone = stacked_reflectance(layers, ground=0.3, tones=TONES)
        np.testing.assert_allclose(
            stacked_reflectance(layers, ground=0.3, tones=TONES, threads=4), alone, rtol=1e-14, atol=0.0
        )

    def test_the_arguments_are_left_as_they_were(self) -> None:
        layers = coats(np.random.default_rng(6), 5)
        ground = np.linspace(0.0, 1.0, 5 * BANDS).reshape(5, BANDS)
        kept = [ground.copy()] + [a.copy() for c in layers for a in (c.K_per_um, c.S_per_um, c.thickness_um)]
        stacked_reflectance(layers, ground=ground, tones=5)
        now = [ground] + [a for c in layers for a in (c.K_per_um, c.S_per_um, c.thickness_um)]
        for before, after in zip(kept, now, strict=True):
            np.testing.assert_array_equal(before, after)

    def test_no_coat_shows_the_ground(self) -> None:
        ground = np.linspace(0.0, 1.0, TONES * BANDS).reshape(TONES, BANDS)
        np.testing.assert_array_equal(stacked_reflectance([], ground=ground, tones=TONES), ground)

    @pytest.mark.parametrize("threads", [1, 3])
    def test_what_is_done_then_is_done_to_every_tone_once_in_order(self, threads: int) -> None:
        layers = coats(np.random.default_rng(7), TONES)
        sizes = []

        def ends(R: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
            sizes.append(len(R))
            return R[:, [0, -1]] * 100.0

        got = stacked_reflectance(layers, ground=0.4, tones=TONES, then=ends, threads=threads)
        plain = stacked_reflectance(layers, ground=0.4, tones=TONES)
        np.testing.assert_allclose(got, plain[:, [0, -1]] * 100.0, rtol=1e-14)
        assert max(sizes) <= kernel.BLOCK // BANDS  # never all of them in memory as spectra

    @pytest.mark.parametrize(
        ("change", "message"),
        [
            ({"tones": 0}, "at least one tone"),
            ({"ground": np.zeros(30)}, "30 bands"),
            ({"ground": np.zeros((3, BANDS))}, "ground has shape"),
            ({"ground": np.zeros((1, 2, BANDS))}, "ground has shape"),
            ({"ground": -0.1}, "within 0..1"),
            ({"ground": 1.1}, "within 0..1"),
            ({"ground": math.nan}, "finite"),
            ({"thickness_um": np.zeros(3)}, "thickness_um has shape"),
            ({"thickness_um": np.array([0.0, -1.0])}, "thickness_um must"),
            ({"thickness_um": np.array([0.0, math.nan])}, "thickness_um must"),
            ({"thickness_um": np.array(-1.0)}, "thickness_um must"),
            ({"K_per_um": np.ones(1)}, "K_per_um has shape"),
            ({"S_per_um": np.ones((2, BANDS))}, "S_per_um has shape"),
            ({"K_per_um": np.full(BANDS, -1.0)}, "K_per_um must"),
            ({"S_per_um": np.full(BANDS, math.nan)}, "S_per_um must"),
            ({"S_per_um": np.full(BANDS, math.inf)}, "S_per_um must"),
        ],
    )
    def test_refusals(self, change: dict[str, Any], message: str) -> None:
        good = {
            "K_per_um": np.ones(BANDS),
            "S_per_um": np.ones(BANDS),
            "thickness_um": np.ones(2),
            "ground": 0.5,
            "tones": 2,
        }
        good.update(change)
        coat = FilmCoat(good.pop("K_per_um"), good.pop("S_per_um"), good.pop("thickness_um"))
        with pytest.raises(ValueError, match=message):
            stacked_reflectance([coat], **good)
