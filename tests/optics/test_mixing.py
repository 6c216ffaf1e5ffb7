"""Mixing by the drop: published worked examples, a literal loop, and laws."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from layersim.optics.mixing import dry_film_um, dry_shares, mixed_constants, mixed_volume_solids
from tests.optics.ranges import LAW, SHARE, SOME_CONSTANT
from tests.oracle.two_fluxes import film, opaque_reflectance, over_ground

PARTS = st.floats(1e-3, 1e3)
SOLIDS = st.floats(0.01, 1.0)
RECIPE = st.lists(st.tuples(PARTS, SOLIDS), min_size=1, max_size=6)
ULP = float(np.finfo(float).eps)


def columns(recipe: list[tuple[float, float]]) -> tuple[list[float], list[float]]:
    return [p for p, _ in recipe], [v for _, v in recipe]


class TestLiterature:
    @pytest.mark.parametrize(
        ("solids", "dry_um", "m2_per_litre", "rounding"),
        [
            # Data sheets' constant, 1604 ft²/US gal of 100 % volume solids at 1 mil (seen): in m²/l.
            (1.0, 25.4, 1604.0 * 0.09290304 / 3.785411784, 2e-4),
            (0.65, 125.0, 5.2, 0.005),  # a coating maker's spreading-rate sheet, metric example (seen)
            (0.65, 127.0, 208.52 * 0.09290304 / 3.785411784, 0.005),  # its example in ft²/gal, 5.0 mil
            (0.38, 25.4, 15.0, 0.05),  # a paint data sheet: 38 %, 15 m²/l (602 ft²/US gal) at 1 mil dry
        ],
    )
    def test_spreading_rates(
        self, solids: float, dry_um: float, m2_per_litre: float, rounding: float
    ) -> None:
        # A litre on a square metre is 1000 µm wet; on A m² it is 1000/A.
        dry = dry_film_um(wet_film_um=1000.0 / m2_per_litre, volume_solids=solids, coats=1)
        assert dry == pytest.approx(dry_um, rel=rounding)

    def test_a_white_tinted_with_a_little_black(self) -> None:
        # D. R. Duncan, Proc. Phys. Soc. 52 (1940) 390: K = Σ cK and S = Σ cS before dividing. One part
        # of a black K = 20, S = 0 in nineteen of a white K = 0.01, S = 1 of equal solids, by hand:
        # K = 1.0095, S = 0.95.
        shares = dry_shares(parts=[1.0, 19.0], volume_solids=[0.3, 0.3])
        K = mixed_constants(constants=[[20.0], [0.01]], shares=shares)
        S = mixed_constants(constants=[[0.0], [1.0]], shares=shares)
        assert (float(K[0]), float(S[0])) == pytest.approx((1.0095, 0.95), rel=1e-14)


class TestShares:
    @LAW
    @given(RECIPE)
    def test_literal_arithmetic(self, recipe: list[tuple[float, float]]) -> None:
        parts, solids = columns(recipe)
        left = [Fraction(p) * Fraction(v) for p, v in recipe]
        shares = [float(x / sum(left)) for x in left]
        np.testing.assert_allclose(dry_shares(parts=parts, volume_solids=solids), shares, rtol=1e-14)
        v = float(sum(left) / sum(map(Fraction, parts)))
        assert mixed_volume_solids(parts=parts, volume_solids=solids) == pytest.approx(v, rel=1e-14)

    @LAW
    @given(RECIPE)
    def test_they_sum_to_one(self, recipe: list[tuple[float, float]]) -> None:
        parts, solids = columns(recipe)
        shares = dry_shares(parts=parts, volume_solids=solids)
        assert (shares >= 0.0).all()
        assert shares.sum() == pytest.approx(1.0, abs=8 * ULP)
        v = mixed_volume_solids(parts=parts, volume_solids=solids)
        assert min(solids) - ULP <= v <= max(solids) + ULP

    @LAW
    @given(RECIPE, st.floats(1e-3, 1e3))
    def test_thinner_changes_the_volume_solids_only(
        self, recipe: list[tuple[float, float]], thinner: float
    ) -> None:
        parts, solids = columns(recipe)
        thinned = {"parts": [*parts, thinner], "volume_solids": [*solids, 0.0]}
        neat = dry_shares(parts=parts, volume_solids=solids)
        np.testing.assert_allclose(dry_shares(**thinned), [*neat, 0.0], rtol=1e-14)
        expected = float(mixed_volume_solids(parts=parts, volume_solids=solids))
        expected *= sum(parts) / (sum(parts) + thinner)
        assert mixed_volume_solids(**thinned) == pytest.approx(expected, rel=1e-13)

    @LAW
    @given(RECIPE, st.randoms(use_true_random=False), st.floats(1e-3, 1e3))
    def test_neither_order_nor_batch_size_counts(
        self, recipe: list[tuple[float, float]], random: st.DataObject, batch: float
    ) -> None:
        K = {r: 0.1 + i for i, r in enumerate(recipe)}
        shuffled = list(recipe)
        random.shuffle(shuffled)
        results = []
        for these, scale in ((recipe, 1.0), (shuffled, batch)):
            parts = [p * scale for p, _ in these]
            solids = [v for _, v in these]
            shares = dry_shares(parts=parts, volume_solids=solids)
            mixed = mixed_constants(constants=[[K[r]] for r in these], shares=shares)
            results.append((float(mixed[0]), float(mixed_volume_solids(parts=parts, volume_solids=solids))))
        assert results[0] == pytest.approx(results[1], rel=1e-12)

    @LAW
    @given(st.lists(PARTS, min_size=1, max_size=5), SOLIDS, SOME_CONSTANT)
    def test_a_paint_mixed_with_itself_is_itself(self, parts: list[float], v: float, K: float) -> None:
        solids = [v] * len(parts)
        shares = dry_shares(parts=parts, volume_solids=solids)
        assert mixed_volume_solids(parts=parts, volume_solids=solids) == pytest.approx(v, rel=1e-14)
        same = mixed_constants(constants=[[K, 2 * K]] * len(parts), shares=shares)
        np.testing.assert_allclose(same, [K, 2 * K], rtol=1e-14)

    @LAW
    @given(RECIPE, PARTS, SOLIDS)
    def test_mixing_by_steps(self, recipe: list[tuple[float, float]], p: float, v: float) -> None:
        parts, solids = columns(recipe)
        constants = [[0.5 + i] for i in range(len(parts) + 1)]
        at_once = mixed_constants(
            constants=constants, shares=dry_shares(parts=[*parts, p], volume_solids=[*solids, v])
        )
        base = mixed_constants(constants=constants[:-1], shares=dry_shares(parts=parts, volume_solids=solids))
        base_v = mixed_volume_solids(parts=parts, volume_solids=solids)
        shares = dry_shares(parts=[sum(parts), p], volume_solids=[base_v, v])
        np.testing.assert_allclose(
            mixed_constants(constants=[base, constants[-1]], shares=shares), at_once, rtol=1e-12
        )

    @pytest.mark.parametrize("scale", [5e-324, 1e-300, 1.0, 1e300, 1.7e308])
    def test_huge_and_tiny_batches(self, scale: float) -> None:
        np.testing.assert_allclose(
            dry_shares(parts=[scale, scale], volume_solids=[0.3, 0.1]), [0.75, 0.25], rtol=1e-14
        )
        assert mixed_volume_solids(parts=[scale] * 2, volume_solids=[0.3, 0.1]) == pytest.approx(0.2)

    def test_only_thinner_leaves_nothing(self) -> None:
        np.testing.assert_array_equal(dry_shares(parts=[1.0, 2.0], volume_solids=[0.0, 0.0]), [0.0, 0.0])
        assert mixed_volume_solids(parts=[1.0, 2.0], volume_solids=[0.0, 0.0]) == 0.0

    def test_many_recipes_at_once(self) -> None:
        parts, solids = np.array([[1.0, 1.0], [3.0, 1.0], [0.0, 2.0]]), np.array([0.2, 0.4])
        shares = dry_shares(parts=parts, volume_solids=solids)
        np.testing.assert_allclose(shares, [[1 / 3, 2 / 3], [0.6, 0.4], [0.0, 1.0]])
        np.testing.assert_allclose(mixed_volume_solids(parts=parts, volume_solids=solids), [0.3, 0.25, 0.4])
        mixed = mixed_constants(constants=np.array([np.full(31, 3.0), np.zeros(31)]), shares=shares)
        np.testing.assert_allclose(mixed, np.array([[1.0], [1.8], [0.0]]) * np.ones(31))

    @pytest.mark.parametrize("function", [dry_shares, mixed_volume_solids])
    @pytest.mark.parametrize(
        ("parts", "solids", "message"),
        [
            ([1.0, -1.0], [0.3, 0.3], "parts must"),
            ([1.0, math.nan], [0.3, 0.3], "parts must"),
            ([1.0, math.inf], [0.3, 0.3], "parts must"),
            ([0.0, 0.0], [0.3, 0.3], "all zero"),
            ([], [], "all zero"),
            ([[1.0, 1.0], [0.0, 0.0]], [0.3, 0.3], "all zero"),
            ([1.0, 1.0], [0.3, 1.1], "volume solids"),
            ([1.0, 1.0], [0.3, -0.1], "volume solids"),
            ([1.0, 1.0], [0.3, math.nan], "volume solids"),
        ],
    )
    def test_refusals(self, function: type, parts: list[float], solids: list[float], message: str) -> None:
        with pytest.raises(ValueError, match=message):
            function(parts=parts, volume_solids=solids)


class TestDryFilm:
    @LAW
    @given(st.floats(0.0, 200.0), SHARE, st.integers(0, 20))
    def test_coats_add_up(self, wet: float, v: float, coats: int) -> None:
        together = dry_film_um(wet_film_um=wet, volume_solids=v, coats=coats)
        one = dry_film_um(wet_film_um=wet, volume_solids=v, coats=1)
        assert together == pytest.approx(coats * float(one), rel=1e-14)
        assert together <= coats * wet

    @pytest.mark.parametrize(
        ("change", "message"),
        [
            ({"wet_film_um": -1.0}, "wet_film_um"),
            ({"wet_film_um": math.inf}, "wet_film_um"),
            ({"coats": -1}, "coats"),
            ({"coats": math.nan}, "coats"),
            ({"volume_solids": 38.0}, "volume solids"),
            ({"volume_solids": -0.1}, "volume solids"),
        ],
    )
    def test_refusals(self, change: dict[str, float], message: str) -> None:
        with pytest.raises(ValueError, match=message):
            dry_film_um(**{"wet_film_um": 20.0, "volume_solids": 0.3, "coats": 2, **change})


class TestThinningACoat:
    """Thinner leaves K and S as they are and makes the film thinner.

    Over a ground g, R obeys dR/dX = S (1 − R)² − 2KR, which carries it from g straight towards R∞ and
    never past it. So a thinned coat shows a tone between the ground's and the unthinned coat's: over a
    ground lighter than the paint thinning never darkens, over a darker one it never lightens.
    """

    @staticmethod
    def shown(K: float, S: float, wet: float, thinner: float, ground: float) -> float:
        v = mixed_volume_solids(parts=[1.0, thinner], volume_solids=[0.3, 0.0])
        X = dry_film_um(wet_film_um=wet, volume_solids=v, coats=3)
        return float(over_ground(film(K_per_um=K, S_per_um=S, thickness_um=X), ground))

    @LAW
    @given(
        SOME_CONSTANT, SOME_CONSTANT, st.floats(0.1, 60.0), SHARE, st.floats(0.0, 9.0), st.floats(0.0, 9.0)
    )
    @example(0.001, 10.0, 60.0, 0.0, 0.0, 1.0)
    def test_the_tone_moves_towards_the_ground(
        self, K: float, S: float, wet: float, ground: float, thinner: float, more: float
    ) -> None:
        neat = self.shown(K, S, wet, thinner, ground)
        thinned = self.shown(K, S, wet, thinner + more, ground)
        opaque = float(opaque_reflectance(K_per_um=K, S_per_um=S))
        if ground >= opaque:
            assert neat - 4 * ULP <= thinned <= ground + 4 * ULP
        else:
            assert ground - 4 * ULP <= thinned <= neat + 4 * ULP

    @LAW
    @given(SOME_CONSTANT, SOME_CONSTANT, st.floats(0.0, 9.0))
    def test_thinner_never_darkens_a_hiding_coat_over_white(self, K: float, S: float, thinner: float) -> None:
        wet = 60.0
        # Contrast over black and a perfect white: 0.98 is what ISO 6504-1 and ASTM D2805 call hiding.
        ratio = self.shown(K, S, wet, 0.0, 0.0) / self.shown(K, S, wet, 0.0, 1.0)
        if ratio >= 0.98:
            assert self.shown(K, S, wet, thinner, 1.0) >= self.shown(K, S, wet, 0.0, 1.0) - 4 * ULP
            assert self.shown(K, S, wet, thinner, 0.0) <= self.shown(K, S, wet, 0.0, 0.0) + 4 * ULP

    def test_a_thinned_white_over_black_is_darker(self) -> None:
        # 5.4 µm of S = 1 / µm, lossless: 5.4 / 6.4; with as much thinner, half the film: 2.7 / 3.7.
        assert self.shown(0.0, 1.0, 6.0, 0.0, 0.0) == pytest.approx(5.4 / 6.4)
        assert self.shown(0.0, 1.0, 6.0, 1.0, 0.0) == pytest.approx(2.7 / 3.7)
