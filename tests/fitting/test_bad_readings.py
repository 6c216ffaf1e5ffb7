"""`layersim fit` on readings as they come out wrong, and on the tables that programs and people write."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from layersim.cli import main
from layersim.measure.spectral import read_spectra
from layersim.paintfile import read_paint
from layersim.resources import data_folder
from layersim.shelf import FOLDER_VARIABLE
from layersim.spectra import FloatArray, wavelengths_nm

EXAMPLES = data_folder() / "examples"
TEXT = (EXAMPLES / "brick-red.toml").read_text(encoding="utf-8")
OLD = "not to be touched"
NM = wavelengths_nm()
Readings = dict[str, FloatArray]


def example() -> Readings:
    found = read_spectra(EXAMPLES / "brick-red.txt")
    return {name: found.find(name).on_grid()[0] for name in found.names}


def across(readings: Readings, *, nm: FloatArray = NM, scale: float = 1.0) -> str:
    rows = ["\t".join(["name", *(f"{at:g}" for at in nm)])]
    rows += ["\t".join([name, *(f"{v * scale:.5f}" for v in values)]) for name, values in readings.items()]
    return "\n".join(rows) + "\n"


def down(readings: Readings, *, scale: float = 1.0, separator: str = ";") -> str:
    rows = [separator.join(["nm", *readings])]
    rows += [
        separator.join([f"{at:g}", *(f"{values[i] * scale:.4f}" for values in readings.values())])
        for i, at in enumerate(NM)
    ]
    return "\n".join(rows) + "\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "shelf").mkdir()
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "shelf"))
    return tmp_path


def put(folder: Path, table: str, text: str = TEXT, encoding: str = "utf-8") -> list[str]:
    (folder / "brick-red.txt").write_bytes(table.encode(encoding))
    (folder / "red.toml").write_text(text, encoding="utf-8")
    return ["fit", str(folder / "red.toml"), "--no-picture", "--replace"]


# --- refused -----------------------------------------------------------------------------------


def changed(name: str, values: FloatArray) -> Readings:
    return {**example(), name: values}


def all_alike() -> Readings:
    thick = example()["white, 4 coats"]
    return {name: own if "primer" in name else thick for name, own in example().items()}


def grounds_swapped() -> Readings:
    other = {"black": "white", "white": "black"}
    read = example()
    return {
        name: own if "primer" in name else read[name.replace(name[:5], other[name[:5]])]
        for name, own in read.items()
    }


def wrong(case: str) -> tuple[str, str]:
    """Return the table and the swatches file of a case."""
    one = "white, 1 coat"
    said = '# unit = "per cent"'
    tables: dict[str, tuple[str, str]] = {
        "above 1": (across(changed(one, example()[one] + 0.9)), TEXT),
        "above 100 %": (across(changed(one, example()[one] + 0.9), scale=100.0), TEXT),
        "negative": (across(changed(one, example()[one] - 0.3)), TEXT),
        "micrometres": (across(example(), nm=NM / 1000.0), TEXT),
        "eight bits": (across(example(), scale=255.0), TEXT),
        "no fractions": (across(example(), scale=100.0), TEXT.replace(said, 'unit = "fraction"')),
        "no per cent": (across(example()), TEXT.replace(said, 'unit = "per cent"')),
        "opaque": (across(all_alike()), TEXT),
        "contradictory": (across(grounds_swapped()), TEXT),
        "film in mm": (across(example()), TEXT.replace("wet_film_um = 15.0", "wet_film_um = 0.015")),
        "solids in %": (across(example()), TEXT.replace("volume_solids = 0.28", "volume_solids = 28")),
        "nothing": ("", TEXT),
        "cut short": (across(example())[:900], TEXT),
    }
    return tables[case]


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ("above 1", ['reading "white, 1 coat"', "expected 1.1 or less (fractions)", "If it is right, say"]),
        ("above 100 %", ['reading "white, 1 coat"', "more out of range", "expected a reflectance from -1"]),
        ("negative", ['reading "white, 1 coat"', "expected a reflectance from -0.01", "calibrate"]),
        ("micrometres", ["found no wavelengths", "expected wavelengths from 360 to 780 nm"]),
        ("eight bits", ["of which unit?"]),
        ("no fractions", ["Are these per cent?"]),
        ("no per cent", ["Are these fractions?", "Leave unit out"]),
        ("opaque", ["look alike over black and white", "half a coat", '"this paint" = 1']),
        ("contradictory", ["contradict each other", "Were the two readings swapped"]),
        ("film in mm", ["wet_film_um: found 0.015", "micrometres"]),
        ("solids in %", ["volume_solids: found 28", "28 % is 0.28"]),
        ("nothing", ["this file is empty", "expected readings as text"]),
        ("cut short", ["brick-red.txt"]),
    ],
)
def test_what_cannot_be_fitted_says_what_to_do_and_leaves_the_paint(
    folder: Path, capsys: pytest.CaptureFixture[str], case: str, words: list[str]
) -> None:
    kept = folder / "shelf" / "brick-red.toml"
    kept.write_text(OLD, encoding="utf-8")
    assert main(put(folder, *wrong(case))) == 2
    said = capsys.readouterr().err
    for word in words:
        assert word in said
    assert "Traceback" not in said
    assert "fault of the program" not in said
    assert "known here" not in said, "one wrong key must not make the others unknown"
    assert len(said.splitlines()) <= 10
    assert kept.read_text(encoding="utf-8") == OLD
    assert list((folder / "shelf").iterdir()) == [kept]


def test_one_reading_that_belongs_elsewhere_is_named_and_left_out(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoilt = changed("white, 1 coat", example()["white, 1 coat"][::-1])
    assert main(put(folder, across(spoilt))) == 0
    said = capsys.readouterr().out
    assert 'Left out: "1 coat over white"' in said
    assert "Usable, but not yet good" in said


# --- taken -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("table", "encoding"),
    [
        (across(example()), "utf-8"),
        (across(example(), scale=100.0).replace("\t", ";").replace(".", ","), "utf-8-sig"),
        (down(example(), scale=100.0).replace(".", ","), "latin-1"),
        (down(example(), scale=100.0, separator="\t").replace(".", ","), "utf-16"),
    ],
    ids=["fractions across", "per cent, decimal commas", "down, decimal commas", "down, UTF-16"],
)
def test_every_way_to_write_the_readings_gives_the_same_paint(
    folder: Path, table: str, encoding: str
) -> None:
    """As from the CGATS.17 text, whose repeats are averaged here beforehand and so weigh a little less."""
    assert main([*put(folder, table, encoding=encoding)]) == 0
    paint = read_paint(folder / "shelf" / "brick-red.toml")
    assert main(["fit", str(EXAMPLES / "brick-red.toml"), "--no-picture", "--replace"]) == 0
    expected = read_paint(folder / "shelf" / "brick-red.toml")
    np.testing.assert_allclose(paint.K_per_um, expected.K_per_um, rtol=0.05)
    np.testing.assert_allclose(paint.S_per_um, expected.S_per_um, rtol=0.05)
