"""Whole drops: enough, near the ratio, little to pour away, and never less for more."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim.plan.rounding import RATIO_WEIGHT, WORST_ERROR, ratio_error, whole_drops

parts = st.lists(st.integers(1, 9), min_size=1, max_size=4)
thinner = st.sampled_from([0.0, 0.5, 1.0, 3.5, 7.5])
needs = st.floats(0.1, 500.0)


class TestEnough:
    @given(parts, thinner, needs, st.floats(1.0, 1.5))
    def test_the_drops_cover_the_need_and_none_is_missing(
        self, p: list[int], thin: float, need: float, reserve: float
    ) -> None:
        found = whole_drops(parts=p, thinner=thin, need_drops=need, ask_drops=need * reserve)
        assert found.total.sum() >= need * (1.0 - 1e-9)
        assert (found.drops >= 1).all()
        assert len(found.drops) == len(p) + (thin > 0.0)

    @given(parts, thinner, needs, st.integers(12, 200))
    def test_every_filling_fits_the_cup(self, p: list[int], thin: float, need: float, cup: int) -> None:
        found = whole_drops(parts=p, thinner=thin, need_drops=need, cup_drops=cup)
        assert found.drops.sum() <= cup
        assert found.drops.sum() * found.fillings >= need * (1.0 - 1e-9)

    def test_a_cup_too_small_for_one_drop_of_each_does_not_count(self) -> None:
        found = whole_drops(parts=[1, 1, 1], thinner=0.0, need_drops=9.0, cup_drops=2.0)
        assert found.fillings == 1
        assert found.drops.tolist() == [3, 3, 3]

    @given(st.integers(1, 300))
    def test_a_paint_by_itself_takes_just_what_is_asked_for(self, need: int) -> None:
        assert whole_drops(parts=[1.0], thinner=0.0, need_drops=float(need)).drops.tolist() == [need]


class TestMore:
    @given(parts, thinner, needs, st.floats(1.0, 5.0), st.floats(1.0, 1.4))
    def test_a_larger_need_never_takes_less_of_anything(
        self, p: list[int], thin: float, need: float, more: float, reserve: float
    ) -> None:
        one = whole_drops(parts=p, thinner=thin, need_drops=need, ask_drops=need * reserve)
        two = whole_drops(parts=p, thinner=thin, need_drops=need * more, ask_drops=need * more * reserve)
        assert (two.drops >= one.drops).all()

    @given(parts, thinner, needs, st.floats(1.0, 5.0), st.integers(15, 150), st.floats(1.0, 1.4))
    def test_with_a_cup_it_never_takes_less_in_all(
        self, p: list[int], thin: float, need: float, more: float, cup: int, reserve: float
    ) -> None:
        one, two = (
            whole_drops(parts=p, thinner=thin, need_drops=n, ask_drops=n * reserve, cup_drops=cup)
            for n in (need, need * more)
        )
        assert two.total.sum() >= one.total.sum()
        assert two.fillings >= one.fillings


class TestRatio:
    @pytest.mark.parametrize("times", [4, 10, 33])
    def test_a_need_that_the_recipe_divides_is_met_exactly(self, times: int) -> None:
        found = whole_drops(parts=[5, 1], thinner=6.0, need_drops=12.0 * times)
        assert found.drops.tolist() == [5 * times, times, 6 * times]
        assert found.error == 0.0

    @given(parts, st.integers(0, 6), needs, st.floats(1.0, 1.3))
    def test_a_recipe_in_whole_drops_stays_exact(
        self, p: list[int], thin: int, need: float, reserve: float
    ) -> None:
        found = whole_drops(parts=p, thinner=float(thin), need_drops=need, ask_drops=need * reserve)
        once = (sum(p) + thin) // math.gcd(*p, thin)
        ask = need * reserve
        if once * math.ceil(need * (1.0 - 1e-12) / once) <= ask + min(ask, 12.0):
            assert found.error < 1e-12

    def test_a_recipe_in_drops_is_not_left_for_one_drop_more(self) -> None:
        """5 + 1 + 6 is a recipe in drops: for 12.2 of them it is made twice, and not as 5 + 1 + 7."""
        found = whole_drops(parts=[5, 1], thinner=6.0, need_drops=12.2, ask_drops=13.4)
        assert (found.drops.tolist(), found.error) == ([10, 2, 12], 0.0)

    def test_a_large_recipe_is_not_made_twice_for_one_drop(self) -> None:
        found = whole_drops(parts=[20, 1], thinner=21.0, need_drops=41.5, ask_drops=43.0)
        assert found.drops.sum() < 50

    def test_a_ratio_that_takes_far_more_drops_than_are_needed_is_not_kept(self) -> None:
        found = whole_drops(parts=[31, 29], thinner=0.0, need_drops=20.0)
        assert found.drops.sum() < 30

    @given(parts, thinner, st.floats(60.0, 400.0))
    def test_parts_keep_their_ratio_in_a_large_batch(self, p: list[int], thin: float, need: float) -> None:
        found = whole_drops(parts=p, thinner=thin, need_drops=need)
        per_part = found.drops[: len(p)] / np.array(p)
        smallest = found.drops[: len(p)].min()
        # Half a drop of the smallest is the most that rounding can be off.
        assert per_part.max() / per_part.min() <= (1.0 + 0.5 / smallest) ** 2 + 0.02

    @given(st.lists(st.integers(1, 5), min_size=2, max_size=3), st.floats(3.0, 12.0), st.floats(1.0, 1.3))
    def test_nothing_that_covers_the_need_costs_less(self, p: list[int], need: float, reserve: float) -> None:
        # Literal search of all drops that some scale gives, by the cost (R2).
        ask = need * reserve
        found = whole_drops(parts=p, thinner=0.0, need_drops=need, ask_drops=ask)

        def cost(drops: tuple[int, ...]) -> float:
            error = float(ratio_error(drops=drops, parts=p, thinned=False))
            return abs(np.log(sum(drops) / ask)) + RATIO_WEIGHT * min(error, WORST_ERROR)

        scales = [s / 200.0 for s in range(1, 200 * 14)]
        every = {tuple(max(1, int(s * q + 0.5)) for q in p) for s in scales}
        rivals = [drops for drops in every if need <= sum(drops) <= 2.0 * ask + 6.0]
        exact = [
            drops
            for drops in rivals
            if sum(drops) <= ask + min(ask, 12.0) and ratio_error(drops=drops, parts=p, thinned=False) < 1e-9
        ]
        rivals = exact or rivals
        if rivals:
            assert cost(tuple(found.drops.tolist())) <= min(cost(d) for d in rivals) + 1e-6

    def test_error_is_the_largest_of_a_part(self) -> None:
        # 6 : 1 instead of 5 : 1 gives the small part 1/7 instead of 1/6.
        assert ratio_error(drops=[6, 1], parts=[5, 1], thinned=False) == pytest.approx(np.log(7 / 6))
        # Thinner counts half.
        assert ratio_error(drops=[4, 2], parts=[4, 1], thinned=True) == pytest.approx(np.log(2) / 2)

    def test_a_hopeless_ratio_pours_little_away_and_says_so(self) -> None:
        found = whole_drops(parts=[1000, 1], thinner=0.0, need_drops=20.0)
        assert found.drops.sum() == 21 or found.drops.sum() == 20
        assert found.error > 1.0

    @pytest.mark.parametrize("bad", [[], [1.0, 0.0], [-1.0], [np.inf]])
    def test_parts_that_cannot_be_are_refused(self, bad: list[float]) -> None:
        with pytest.raises(ValueError, match="parts"):
            whole_drops(parts=bad, thinner=0.0, need_drops=5.0)


def test_little_is_poured_away() -> None:
    """For recipes of the trade and small needs, no more than a third over what is asked for, on average."""
    over = []
    for (p, thin), need in itertools.product(
        (([5, 1], 6.0), ([4, 1], 7.5), ([1, 1], 3.0), ([1], 0.0), ([1], 3.5)), range(8, 60)
    ):
        found = whole_drops(parts=p, thinner=thin, need_drops=need, ask_drops=1.1 * need)
        over.append(found.drops.sum() / (1.1 * need))
    assert np.mean(over) < 1.12
    assert max(over) <= 2.0
