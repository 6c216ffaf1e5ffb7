"""Bounds on what is counted, alike wherever tones or draws are asked for."""

from __future__ import annotations

import numpy as np
import pytest

from layersim.chance import MOST_DRAWN, MOST_DRAWS, MOST_TONES, check_counts
from layersim.decide.compare import Choice, compare
from layersim.decide.correction import correct
from layersim.decide.match import match
from layersim.plan.quantities import quantities
from layersim.scheme.simulate import simulate
from tests.examples import CHALK, MOSS

WRONG = [1, 0, -3, MOST_TONES + 1, 10**30, 2.5, float("nan"), True, "9", None]


@pytest.mark.parametrize("tones", WRONG)
def test_tones_are_bounded_everywhere(rig, tones):
    asked = {"area": "cloth", "paints": (CHALK, MOSS)}
    for ask in (
        lambda: simulate(rig, tones=tones),
        lambda: compare([Choice("a", rig), Choice("b", rig)], tones=tones),
        lambda: match(rig, coat="base", tones=tones, **asked),
        lambda: correct(rig, found={"mid": np.array([30.0, 0.0, 0.0])}, tones=tones, **asked),
    ):
        with pytest.raises(ValueError, match=rf"tones: found .*; expected .* 2 to {MOST_TONES}"):
            ask()


@pytest.mark.parametrize("draws", [-1, MOST_DRAWS + 1, 10**30, 2.5, float("inf"), True, "9"])
def test_draws_are_bounded_everywhere(rig, draws):
    for ask in (
        lambda: simulate(rig, draws=draws),
        lambda: compare([Choice("a", rig), Choice("b", rig)], draws=draws),
        lambda: quantities(rig, draws=draws),
    ):
        with pytest.raises(ValueError, match=r"draws: found .*; expected a whole number from"):
            ask()


def test_tones_and_draws_together_are_bounded():
    with pytest.raises(ValueError, match=f"to {MOST_DRAWN // MOST_TONES} with {MOST_TONES} tones"):
        check_counts(tones=MOST_TONES, draws=MOST_DRAWS)
    check_counts(tones=np.int64(9), draws=np.int64(64))
