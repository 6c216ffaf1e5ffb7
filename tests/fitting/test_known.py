"""A sprayer's film per coat, from swatches of a paint that is known."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import FitError
from layersim.fitting import known as known_module
from layersim.fitting.known import film_factor
from layersim.measure.cardreading import CardReading
from layersim.measure.photoswatch import PhotographedSet
from layersim.paint import Doubt, Paint
from layersim.shelf import Shelf
from layersim.spectra import BANDS
from tests.fitting.cards import card_set, reading, spectra
from tests.fitting.painter import COAT_UM, NOISE, model_reflectance, swatch, swatches_of, violet

SHELF = Shelf([])
THICK = 1.4


def paint(*doubts: Doubt, film_um: float = COAT_UM) -> Paint:
    K, S = violet()
    return Paint(
        name="known violet",
        kind="paint",
        K_per_um=K,
        S_per_um=S,
        volume_solids=0.3,
        wet_film_um=film_um / 0.3,
        sheen=0.0,
        provenance="a test",
        invented=True,
        doubts=doubts,
    )


def measured(factor: float, *, coats: tuple[float, ...] = (1.0, 2.0, 4.0)) -> object:
    rng = np.random.default_rng(2)
    rows = []
    for ground in ("black", "white"):
        for count in coats:
            seen = model_reflectance(*violet(), ground=ground, thickness_um=factor * count * COAT_UM)
            rows.append(swatch(ground, count, seen + NOISE * rng.standard_normal(BANDS)))
    return swatches_of(rows)


def test_measured_swatches_tell_the_film() -> None:
    found = film_factor(measured(THICK), paint(), SHELF)  # type: ignore[arg-type]
    assert found.value == pytest.approx(THICK, rel=0.05)
    assert found.low < THICK < found.high
    assert found.error < 0.1
    assert "6 swatches of known violet" in found.basis


def test_the_paints_own_doubts_widen_it() -> None:
    load = Doubt(cause="pigment load", log_K=np.full(BANDS, 0.15), log_S=np.full(BANDS, 0.15))
    sure = film_factor(measured(THICK), paint(), SHELF)  # type: ignore[arg-type]
    unsure = film_factor(measured(THICK), paint(load), SHELF)  # type: ignore[arg-type]
    assert unsure.error > 0.14 > sure.error


def test_a_photographed_card_tells_it_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """The paint's own file says half the film that was sprayed."""
    card = reading(spectra(*violet()))

    def read(swatches: PhotographedSet) -> tuple[CardReading, ...]:
        return (card,)

    monkeypatch.setattr(known_module, "read_photographed", read)
    said: list[str] = []
    found = film_factor(card_set(), paint(film_um=COAT_UM / 2.0), SHELF, progress=said.append)
    assert found.value == pytest.approx(2.0, rel=0.08)
    assert said


def test_what_cannot_tell_it() -> None:
    opaque = dataclasses.replace(
        paint(), K_per_um=np.full(BANDS, 4.0), S_per_um=np.full(BANDS, 3.0), name="mud"
    )
    rows = [
        swatch(
            "white",
            count,
            model_reflectance(opaque.K_per_um, opaque.S_per_um, ground="white", thickness_um=9.0),
        )
        for count in (3.0, 6.0)
    ]
    with pytest.raises(FitError, match=r"do not tell how thick.*thinner coats"):
        film_factor(swatches_of(rows), opaque, SHELF)
    with pytest.raises(FitError, match="expected 2 or more"):
        film_factor(swatches_of(rows[:1]), opaque, SHELF)
    total = swatch("white", None, rows[0].reflectance, dry_film_um=9.0, name="measured film")
    with pytest.raises(FitError, match="counted in coats"):
        film_factor(swatches_of([rows[0], total]), opaque, SHELF)


def test_another_paint_is_not_taken_for_it() -> None:
    K, S = violet()
    rows = [
        swatch(g, count, model_reflectance(K[::-1], S, ground=g, thickness_um=count * COAT_UM))
        for g in ("black", "white")
        for count in (1.0, 2.0, 4.0)
    ]
    with pytest.raises(FitError, match="another paint"):
        film_factor(swatches_of(rows), paint(), SHELF)


def test_where_no_shelf_is_given_the_usual_one_serves(tmp_path: Path) -> None:
    assert film_factor(measured(1.0), paint()).value == pytest.approx(1.0, rel=0.05)  # type: ignore[arg-type]
