"""Cautions are shown where a scheme's materials call for them, and nowhere else."""

from __future__ import annotations

import dataclasses

import pytest

from layersim.paint import Paint
from layersim.plan.cautions import cautions
from layersim.resources import demo_scheme
from layersim.scheme.batch import Batch
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Area, Coat, Mix, Scheme
from tests.examples import MOSS, SOOT

WATER = dataclasses.replace(SOOT, carrier="water")


def warned(by: str = "airbrush", primer_coats: int = 1, **material: object) -> dict[str, tuple[str, ...]]:
    paint = dataclasses.replace(MOSS, name="the paint", **material)
    coat = Coat("base", Mix(((paint, 1.0),)), coats=1, dry_film_um=1.0, spread=0.0, by=by)
    made = Scheme("test", (Area("cloth", WATER, None, (coat,)),), batch=Batch(primer_coats=primer_coats))
    return {caution.key: caution.paints for caution in cautions(made)}


@pytest.mark.parametrize(
    ("material", "expected"),
    [
        ({"carrier": "water"}, set()),
        ({"carrier": "solvent"}, {"solvent"}),
        ({"carrier": "two-pack"}, {"two-pack", "solvent"}),
        ({"carrier": "oil"}, {"oil", "solvent"}),
        ({"carrier": "water", "hazards": ("cobalt",)}, {"pigment"}),
        ({"carrier": "water", "hazards": ("isocyanate",)}, {"two-pack"}),
        ({}, {"unknown"}),
    ],
)
def test_each_kind_calls_for_its_own(material: dict[str, object], expected: set[str]) -> None:
    found = warned(**material)  # type: ignore[arg-type]
    assert set(found) == {"label", "mist", "air", *expected}
    assert all(found[key] == ("the paint",) for key in expected)


def test_label_and_safety_data_sheet_come_first_always() -> None:
    found = warned(by="brush", primer_coats=0, carrier="water")
    assert list(found) == ["label"]


def test_brushed_oil_needs_no_cartridges_but_care_with_rags() -> None:
    assert set(warned(by="brush", primer_coats=0, carrier="oil")) == {"label", "oil"}


def test_the_demo_scheme_warns_of_its_oil_wash() -> None:
    found = {caution.key: caution.paints for caution in cautions(load_scheme(demo_scheme()))}
    assert found["oil"] == ("oil wash dark brown",)
    assert "unknown" not in found


def test_a_paint_knows_its_words() -> None:
    with pytest.raises(ValueError, match="carrier must be one of"):
        dataclasses.replace(MOSS, carrier="milk")
    with pytest.raises(ValueError, match="hazards of"):
        dataclasses.replace(MOSS, hazards=("glitter",))
    assert isinstance(dataclasses.replace(MOSS, carrier="oil", hazards=("lead",)), Paint)
