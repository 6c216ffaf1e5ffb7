"""The six figures of a row."""

from __future__ import annotations

import numpy as np
import pytest

from tests.validation.figures import HEAD, Said, together


def test_the_figures_of_four_predictions() -> None:
    said = Said(off=np.array([0.5, 1.0, 2.0, 4.5]), reach=np.array([1.0, 1.0, 1.0, 1.2]), refused=1, asked=3)
    # Two of four lie within; one is off by more than three times its range.
    assert said.cells() == ["2.00", "4.12", "4.50", "50 %", "25.0 %", "1.00", "1 of 3"]
    assert len(said.cells()) == len(HEAD)


def test_nothing_predicted_is_said_to_be_nothing() -> None:
    none = Said(np.empty(0), np.empty(0), 3, 3)
    assert none.cells() == [*["–"] * 6, "3 of 3"]


def test_rows_are_joined_with_what_they_refused() -> None:
    one, other = Said(np.ones(2), np.ones(2), 1, 4), Said(np.zeros(3), np.ones(3), 0, 4)
    both = together([one, other])
    assert both.off.size == 5
    assert (both.refused, both.asked) == (1, 8)
    assert both.off.mean() == pytest.approx(0.4)
