"""How sure a paint is, in words: the numbers behind them, and how few they are."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest

from layersim import colour
from layersim.chance import NINETY
from layersim.fitting.doubts import TYPICAL_COATS, TYPICAL_GROUNDS
from layersim.optics import cones
from layersim.paint import Doubt, Flakes, Paint
from layersim.spectra import BANDS
from layersim.views.doubtwords import how_sure
from tests.examples import GLOSS, MOSS


def doubtful(*doubts: Doubt) -> Paint:
    return dataclasses.replace(MOSS, doubts=doubts)


def load(share: float, cause: str = "pigment load") -> Doubt:
    return Doubt(cause=cause, log_K=np.full(BANDS, share), log_S=np.full(BANDS, share))


def test_the_number_is_what_the_doubt_does_to_typical_coats() -> None:
    """Against the model asked outright, one stack after another: K and S up by a hundredth, times ten."""
    squares = []
    for coats in TYPICAL_COATS:
        for ground in TYPICAL_GROUNDS:
            labs = []
            for factor in (1.0, np.exp(0.01)):
                medium = cones.medium(K_per_um=MOSS.K_per_um * factor, S_per_um=MOSS.S_per_um * factor)
                below = cones.ground_from_seen(np.full(BANDS, ground), sheen=0.0)
                film = cones.lay(medium, thickness_um=coats * MOSS.dry_film_um, over=below)
                labs.append(colour.lab(cones.seen(film, sheen=0.0), colour.Viewing()))
            squares.append(float(colour.delta_e_2000(*labs)) ** 2)
    expected = NINETY * 10.0 * np.sqrt(np.mean(squares))
    first, second = how_sure(doubtful(load(0.1)))
    # The doubt's own measure is CIE94's, which is about ΔE00.
    assert float(re.findall(r"ΔE00 ([0-9.]+) of this", first)[0]) == pytest.approx(expected, rel=0.2)
    assert second.startswith("Most in doubt: pigment load, ΔE00 ")


def test_what_a_fit_left_open_is_one_cause_named_after_its_largest_part() -> None:
    doubts = [dataclasses.replace(load(0.02 * (i + 1), f"part {i}"), by_swatches=True) for i in range(6)]
    lines = how_sure(doubtful(*doubts, load(0.01)))
    assert len(lines) == 2
    assert lines[1].count("left open by its swatches") == 1
    assert "mostly part 5, ΔE00" in lines[1]
    assert "pigment load" in lines[1]


def test_many_causes_stay_one_line() -> None:
    lines = how_sure(doubtful(*(load(0.1, f"cause {i}") for i in range(7))))
    assert len(lines) == 2
    assert lines[1].endswith("; and 4 more.")


def test_nothing_known_and_nothing_to_see() -> None:
    assert how_sure(doubtful()) == ["How sure this is: not known."]
    clear = dataclasses.replace(
        GLOSS, K_per_um=np.zeros(BANDS), S_per_um=np.zeros(BANDS), doubts=(load(0.2),)
    )
    [line] = how_sure(clear)
    assert "within ΔE00 0.0" in line


def test_how_flat_flakes_lie_is_in_doubt_of_its_own() -> None:
    none = np.zeros(BANDS)
    doubts = (Doubt("how flat", none, none, log_tilt=0.2), Doubt("how many", none, none, log_cover=0.2))
    metal = dataclasses.replace(MOSS, kind="metal", flakes=Flakes("aluminium", 0.5, 8.0), doubts=doubts)
    first, second = how_sure(metal)
    assert "one to four coats" in first
    named = [
        float(re.findall(rf"{cause}, ΔE00 ([0-9]+\.[0-9])", second)[0]) for cause in ("how flat", "how many")
    ]
    assert min(named) > 0.5
    assert float(re.findall(r"ΔE00 ([0-9.]+) of", first)[0]) == pytest.approx(np.hypot(*named), abs=0.1)
