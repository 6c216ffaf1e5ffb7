"""Cautions are shown where a scheme's materials call for them, and nowhere else."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from layersim.bench.content import bench_card
from layersim.cli import main
from layersim.paint import Flakes, Paint
from layersim.paintfile import write_paint
from layersim.plan.cautions import OIL, PIGMENT, PIGMENT_SPRAYED, SOLVENT, TWO_PACK, UNKNOWN, cautions
from layersim.resources import demo_scheme
from layersim.scheme.batch import Batch
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Area, Coat, GreysGiven, Mix, Scheme
from layersim.views.card import view
from layersim.writers.paper import pages
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
        ({"carrier": "two-pack"}, {"two-pack"}),
        ({"carrier": "oil"}, {"oil", "solvent"}),
        ({"carrier": "water", "hazards": ("cadmium",)}, {"pigment", "pigment sprayed"}),
        ({"carrier": "water", "hazards": ("cobalt",)}, {"pigment", "pigment sprayed"}),
        ({"carrier": "water", "hazards": ("lead",)}, {"pigment", "pigment sprayed"}),
        ({"carrier": "water", "hazards": ("chromate",)}, {"pigment", "pigment sprayed"}),
        ({"carrier": "water", "hazards": ("isocyanate",)}, {"two-pack"}),
        ({"carrier": "water", "kind": "metal", "flakes": Flakes("copper", 0.5, 8.0)}, {"metal"}),
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


def test_a_brushed_pigment_is_not_said_to_be_sprayed() -> None:
    assert set(warned(by="brush", primer_coats=0, carrier="water", hazards=("lead",))) == {"label", "pigment"}


def test_sprayed_oil_is_named_beside_solvent_paint() -> None:
    oil, lacquer = (dataclasses.replace(MOSS, name=name, carrier=name) for name in ("oil", "solvent"))
    coats = tuple(
        Coat(paint.name, Mix(((paint, 1.0),)), coats=1, dry_film_um=1.0, spread=0.0)
        for paint in (oil, lacquer)
    )
    made = Scheme("test", (Area("cloth", WATER, None, coats),))
    found = {caution.key: caution.paints for caution in cautions(made)}
    assert found["solvent"] == ("oil", "solvent")
    assert found["oil"] == ("oil",)


def test_nobody_is_sent_into_two_pack_mist_with_a_filter_mask() -> None:
    # Common practice, no source: isocyanates ask for supplied air, and pass filters unnoticed.
    paint = dataclasses.replace(MOSS, name="the paint", carrier="two-pack")
    coat = Coat("base", Mix(((paint, 1.0),)), coats=1, dry_film_um=1.0, spread=0.0)
    said = {one.key: one.words for one in cautions(Scheme("test", (Area("cloth", WATER, None, (coat,)),)))}
    assert "never for two-pack" in said["mist"]
    assert "cartridges" not in " ".join(said.values())
    assert "no flames" in said["two-pack"]


def test_a_pre_shade_known_by_its_greys_was_sprayed() -> None:
    coat = Coat("base", Mix(((WATER, 1.0),)), coats=1, dry_film_um=1.0, spread=0.0, by="brush")
    greys = GreysGiven(darkest=20.0, lightest=80.0, sheen=1.0)
    batch = Batch(primer_coats=0)
    with_greys = Scheme("test", (Area("cloth", WATER, greys, (coat,)),), batch=batch)
    assert [caution.key for caution in cautions(with_greys)] == ["label", "mist", "air"]
    bare = Scheme("test", (Area("cloth", WATER, None, (coat,)),), batch=batch)
    assert [caution.key for caution in cautions(bare)] == ["label"]


MATERIALS = {
    "two-pack clear": ('carrier = "two-pack"\nhazards = ["isocyanate"]', {TWO_PACK}),
    "spirit paint": ('carrier = "solvent"', {SOLVENT}),
    "cadmium red": ('carrier = "water"\nhazards = ["cadmium"]', {PIGMENT, PIGMENT_SPRAYED}),
    "oil wash": ('carrier = "oil"', {OIL}),
    "plain paint": ('carrier = "water"', set()),
}


@pytest.mark.parametrize("name", MATERIALS)
def test_each_material_is_warned_of_in_text_data_page_and_card(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keys, expected = MATERIALS[name]
    paints = tmp_path / "paints"
    paints.mkdir()
    write_paint(dataclasses.replace(MOSS, name="red"), paints / "red.toml")
    text = (paints / "red.toml").read_text(encoding="utf-8").replace('name = "red"', f'name = "{name}"')
    (paints / "red.toml").write_text(f"{keys}\n{text}", encoding="utf-8")
    by = "brush" if name == "oil wash" else "airbrush"
    path = tmp_path / "s.toml"
    path.write_text(
        'format = "layersim scheme 1"\nname = "test"\n[[area]]\nname = "cloth"\nground = "black primer"\n'
        f'[[area.coat]]\nname = "top"\npaint = "{name}"\nby = "{by}"\n',
        encoding="utf-8",
    )
    said = {}
    data, page = tmp_path / "q.json", tmp_path / "c.html"
    with_paints = ["--paints", str(paints)]
    assert main(["quantities", str(path), "--json", str(data), *with_paints]) == 0
    said["quantities"] = capsys.readouterr().out
    assert main(["order", str(path), "--no-picture", *with_paints]) == 0
    said["order"] = capsys.readouterr().out
    assert main(["card", str(path), "--out", str(page), *with_paints]) == 0
    said["page"] = page.read_text(encoding="utf-8")
    said["data"] = data.read_text(encoding="utf-8")
    [figure] = pages(view(bench_card(load_scheme(path, folders=[paints]))))
    said["card"] = " ".join(one.get_text() for one in figure.axes[0].texts)
    for where, words in said.items():
        plain = " ".join(words.replace("• ", "").replace("&#x27;", "'").split())
        for caution in (TWO_PACK, SOLVENT, PIGMENT, PIGMENT_SPRAYED, OIL, UNKNOWN):
            assert (caution in plain) == (caution in expected), (where, caution)
        if expected:
            assert f"{name}: " in plain or f'"{name}"' in plain, where


def test_the_demo_scheme_warns_of_its_oil_wash() -> None:
    found = {caution.key: caution.paints for caution in cautions(load_scheme(demo_scheme()))}
    assert found["oil"] == ("oil wash dark brown",)
    assert "unknown" not in found


def test_a_paint_knows_its_words() -> None:
    with pytest.raises(ValueError, match="carrier must be one of"):
        dataclasses.replace(MOSS, carrier="milk")
    with pytest.raises(ValueError, match="hazards must be of"):
        dataclasses.replace(MOSS, hazards=("glitter",))
    assert isinstance(dataclasses.replace(MOSS, carrier="oil", hazards=("lead",)), Paint)
