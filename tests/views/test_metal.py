"""What is told of metal: its three looks, what a varnish does to them, and nothing where there is none."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim import colour
from layersim.decide.choices import Choice
from layersim.decide.compare import compare
from layersim.decide.eye import SEEN
from layersim.decide.tolerance import tolerance
from layersim.optics.flakes import ANGLES_DEG
from layersim.paint import Paint
from layersim.scheme.prediction import AreaPrediction, Prediction
from layersim.scheme.records import Area, Coat, Hand, Mix, Scheme
from layersim.scheme.simulate import simulate
from layersim.views import metal, of
from layersim.views.compare import verdict_words
from layersim.views.parts import Strips, Tone, Words
from layersim.views.preview import sure_words
from tests.examples import GILT, GLOSS, MOSS, PLUM, SOOT, TIN

MATT = dataclasses.replace(GLOSS, name="matt lacquer", sheen=1.0)


def scheme(*paints: Paint) -> Scheme:
    coats = tuple(
        Coat(name=one.name, mix=Mix(((one, 1.0),)), coats=2, dry_film_um=4.0, spread=0.0) for one in paints
    )
    return Scheme("x", (Area("lamp", SOOT, None, coats),), hand=Hand())


def area_of(*paints: Paint) -> AreaPrediction:
    return simulate(scheme(*paints), tones=3, draws=0).areas[0]


def strips(prediction: Prediction) -> dict[str, list[np.ndarray]]:
    rows = [row for part in of(prediction).parts if isinstance(part, Strips) for row in part.rows]
    return {row.label: [cell.lab for cell in row.cells if isinstance(cell, Tone)] for row in rows}


def test_each_look_is_a_row_of_the_finish() -> None:
    prediction = simulate(scheme(GILT, MATT), tones=3, draws=8)
    rows, area = strips(prediction), prediction.areas[0]
    for degrees, lab in zip(ANGLES_DEG, area.looks(), strict=True):
        np.testing.assert_array_equal(rows[metal.look_words(degrees)], lab)
    assert area.flop_index is not None
    assert sure_words(area, 1).endswith(f"flop {area.flop_index[1].mean():.1f}")


def test_paint_without_metal_is_told_as_ever() -> None:
    prediction = simulate(scheme(MOSS, GLOSS), tones=3, draws=8)
    assert not any("glint" in label for label in strips(prediction))
    assert not metal.explained(prediction.areas)
    assert not metal.under_coats_words(prediction.areas[0])
    assert "flop" not in sure_words(prediction.areas[0], 1)


def test_what_a_matt_varnish_does_is_told_and_gloss_does_little() -> None:
    [said] = metal.under_coats_words(area_of(GILT, MATT))
    before, after = (area_of(*coats).looks()[:, 0, 0] for coats in ((GILT,), (GILT, MATT)))
    assert said.startswith("“matt lacquer” takes the flop index from")
    assert f"near the glint it gets much darker (L* {before[0]:.0f} to {after[0]:.0f})" in said
    assert f"turned away it gets lighter (L* {before[2]:.0f} to {after[2]:.0f})" in said
    # A coat below the metal is no coat over it.
    assert not metal.under_coats_words(area_of(MATT, GILT, GLOSS))


@pytest.mark.parametrize(("paints", "outshines"), [((GILT,), True), ((GILT, PLUM, MATT), False)])
def test_lighter_than_paper_is_said_where_it_is(paints: tuple[Paint, ...], outshines: bool) -> None:
    area = area_of(*paints)
    assert (area.looks()[..., 0].max() > 100.0) == outshines
    last = dataclasses.replace(
        area, angles=tuple(dataclasses.replace(a, lab=a.lab[-1:]) for a in area.angles)
    )
    assert any("lighter than white paper" in line for line in metal.explained([last])) == outshines


def test_two_metals_are_compared_from_the_side_that_shows_most() -> None:
    found = compare([Choice("gilt", scheme(GILT)), Choice("tin", scheme(TIN))], tones=3, draws=40).areas[0]
    [difference] = found.differences
    one, two = (choice.area for choice in found.choices)
    np.testing.assert_allclose(
        [look.delta_e for look in difference.looks], colour.delta_e_2000(one.looks(), two.looks())
    )
    np.testing.assert_array_equal(difference.looks[1].delta_e, difference.delta_e)
    most = max(look.delta_e.max() for look in difference.looks)
    assert most > difference.delta_e.max()
    assert f"to {most:.1f}, and spraying" in verdict_words(found, difference)
    of_one, of_two = (choice.looks for choice in found.choices)
    assert of_one is not None
    assert of_two is not None
    seen = (colour.delta_e_2000(of_one, of_two) >= SEEN).any(axis=0)
    np.testing.assert_array_equal(difference.seen, seen.mean(axis=0))


@pytest.mark.parametrize(("paint", "said"), [(GILT, True), (MOSS, False)])
def test_it_is_said_from_which_side_slips_with_metal_are_judged(paint: Paint, said: bool) -> None:
    found = of(tolerance(scheme(paint), tones=3, batches=60))
    lines = [line for part in found.parts if isinstance(part, Words) for line in part.lines]
    assert any("turned by 45° from its glint" in line for line in lines) == said
