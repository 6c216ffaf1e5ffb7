"""The record of a paint: frozen, and never out of its range."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from layersim.paint import Doubt, Paint, film_words, mixable
from tests.examples import MOSS


def paint(**others: object) -> Paint:
    return dataclasses.replace(MOSS, **others)  # type: ignore[arg-type]


class TestPaint:
    def test_a_number_stands_for_every_band(self) -> None:
        np.testing.assert_array_equal(paint(K_per_um=0.5).K_per_um, np.full(31, 0.5))

    def test_its_arrays_are_its_own_and_cannot_be_changed(self) -> None:
        mine = np.full(31, 0.5)
        made = paint(K_per_um=mine)
        mine[0] = 9.0
        assert made.K_per_um[0] == 0.5
        with pytest.raises(ValueError, match="read-only"):
            made.K_per_um[0] = 9.0
        with pytest.raises(dataclasses.FrozenInstanceError):
            made.name = "other"  # type: ignore[misc]

    def test_the_dry_film_is_what_stays_of_the_wet_one(self) -> None:
        assert paint(wet_film_um=20.0, volume_solids=0.15).dry_film_um == 3.0

    @pytest.mark.parametrize(
        ("wrong", "words"),
        [
            ({"kind": "stain"}, "kind must be one of paint, metal, ink"),
            ({"volume_solids": 0.0}, "volume_solids"),
            ({"volume_solids": 1.1}, "volume_solids"),
            ({"volume_solids": math.nan}, "volume_solids"),
            ({"wet_film_um": 0.0}, "wet_film_um"),
            ({"wet_film_um": math.inf}, "wet_film_um"),
            ({"wet_film_um": math.nan}, "wet_film_um"),
            ({"sheen": -0.1}, "sheen"),
            ({"sheen": math.nan}, "sheen"),
            ({"K_per_um": -1e-9}, "K_per_um must be 0 or more"),
            ({"S_per_um": np.full(31, -1.0)}, "S_per_um must be 0 or more"),
            ({"K_per_um": math.nan}, "K_per_um has a value that is not a finite number"),
            ({"S_per_um": np.zeros(30)}, "S_per_um has 30 bands; expected 31"),
            ({"S_per_um": np.zeros((2, 31))}, "S_per_um must be one spectrum"),
        ],
    )
    def test_nothing_out_of_range(self, wrong: dict[str, object], words: str) -> None:
        with pytest.raises(ValueError, match=words):
            paint(**wrong)


class TestDoubt:
    def test_shifts_may_go_either_way(self) -> None:
        doubt = Doubt("x", np.full(31, -0.5), np.zeros(31))
        assert doubt.log_K[0] == -0.5
        with pytest.raises(ValueError, match="read-only"):
            doubt.log_K[0] = 0.0

    def test_but_they_are_finite_spectra(self) -> None:
        with pytest.raises(ValueError, match="log_K has a value that is not a finite number"):
            Doubt("x", np.full(31, -np.inf), np.zeros(31))
        with pytest.raises(ValueError, match="log_S has 3 bands"):
            Doubt("x", np.zeros(31), np.zeros(3))


@pytest.mark.parametrize(
    ("film", "words"),
    [
        (0.0, "0 µm"),
        (0.001, "under 0.01 µm"),
        (0.0123, "0.012 µm"),
        (2.449, "2.4 µm"),
        (99.4, "99 µm"),
        (99.6, "100 µm"),
        (123456.0, "123456 µm"),
    ],
)
def test_films_in_words_have_no_powers_of_ten(film: float, words: str) -> None:
    assert film_words(film) == words


@pytest.mark.parametrize(
    ("carriers", "may"),
    [
        ((), True),
        (("oil",), True),
        (("water", "water"), True),
        (("water", "oil"), False),
        (("oil", "solvent"), False),
        (("water", ""), True),
        (("water", "", "oil"), False),
    ],
)
def test_paints_of_two_carriers_are_not_mixed(carriers: tuple[str, ...], may: bool) -> None:
    # Common practice, no source.
    assert mixable(paint(carrier=carrier) for carrier in carriers) is may
