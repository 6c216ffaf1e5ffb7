"""`layersim fit` and `layersim testcard` with a photograph: what they write, and what they leave alone."""

from __future__ import annotations

import dataclasses
import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from data.generate.example_card import (
    CARD,
    COAT_UM,
    MOST_BYTES,
    OTHER_PICTURE,
    PICTURE,
    SHOT,
    SWATCHES,
    TEAL,
    TEXT,
    spectra,
)
from layersim import colour
from layersim.cli import main
from layersim.fitting.photographed import fit_photograph
from layersim.measure.card import standard_card
from layersim.measure.cardfile import read_card
from layersim.measure.photoswatch import PhotographedSet, from_layout
from layersim.measure.swatchfile import read_any_swatches
from layersim.optics import cones
from layersim.paintfile import read_paint, write_paint
from layersim.resources import data_folder
from layersim.shelf import FOLDER_VARIABLE, Shelf
from layersim.sprayer import read_sprayer
from layersim.writers.data import VERSION
from tests.measure.camera import photograph, save_jpeg

cv2 = pytest.importorskip("cv2")

EXAMPLES = data_folder() / "examples"
OLD = "not to be touched"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "shelf"))
    for name in (CARD, PICTURE, OTHER_PICTURE, SWATCHES):
        shutil.copy(EXAMPLES / name, tmp_path / name)
    return tmp_path


def test_the_example_is_small_and_what_its_generator_says() -> None:
    for name in (PICTURE, OTHER_PICTURE):
        assert (EXAMPLES / name).stat().st_size <= MOST_BYTES
    assert (EXAMPLES / SWATCHES).read_text(encoding="utf-8") == TEXT
    assert read_card(EXAMPLES / CARD) == standard_card()
    assert read_any_swatches(EXAMPLES / SWATCHES).invented


def test_a_photograph_becomes_a_paint_with_progress(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, picture = folder / "teal.toml", folder / "teal.png"
    text = (folder / SWATCHES).read_text(encoding="utf-8")
    (folder / SWATCHES).write_text(
        text.replace('carrier = "water"\n', 'carrier = "water"\nhazards = "cobalt"\n'), encoding="utf-8"
    )
    assert main(["fit", str(folder / SWATCHES), "--out", str(out), "--picture", str(picture)]) == 0
    printed = capsys.readouterr()
    assert f"... reading {PICTURE} and {OTHER_PICTURE}" in printed.err
    assert "1 coat over black" in printed.out
    assert picture.read_bytes().startswith(b"\x89PNG")
    paint = read_paint(out)
    assert paint.invented
    assert paint.doubts
    assert paint.carrier == "water"
    assert paint.hazards == ("cobalt",)
    # Films that are on no card, over a grey, against the pigments that the picture was rendered from.
    K, S = TEAL.kubelka_munk_per_um()
    labs = [
        colour.lab(
            cones.seen(
                cones.lay(
                    cones.medium(K_per_um=k, S_per_um=s),
                    thickness_um=COAT_UM * np.array([[0.5], [1.5], [3.0]]),
                    over=cones.even_ground(0.4),
                ),
                sheen=0.0,
            ),
            colour.Viewing(),
        )
        for k, s in ((K, S), (paint.K_per_um, paint.S_per_um))
    ]
    off = colour.delta_e_2000(labs[0], labs[1])
    assert off.mean() < 1.5
    assert off.max() < 3.5

    # The same card, now of a known paint, tells the sprayer's film, where another hand sprayed that paint.
    profile = folder / "fine.toml"
    arguments = ["fit", str(folder / SWATCHES), "--known", "storm teal", "--sprayer", str(profile)]
    arguments += ["--paints", str(folder)]
    capsys.readouterr()
    assert main(arguments) == 2
    assert '"storm teal" was itself fitted to counted coats' in capsys.readouterr().err
    assert not profile.exists()
    write_paint(dataclasses.replace(paint, film_of="another hand"), folder / "storm-teal.toml")
    data = folder / "said.json"
    assert main([*arguments, "--json", str(data)]) == 0
    said = json.loads(data.read_text(encoding="utf-8"))
    assert said["format"] == f"layersim fit known {VERSION}"
    found = read_sprayer(profile).film_factor
    assert found is not None
    # The file rounds the number.
    assert said["result"]["sprayer"]["film_factor"]["value"] == pytest.approx(found.value, rel=1e-3)
    assert found.low < 1.0 < found.high
    assert main(arguments) == 2
    assert "add --replace" in capsys.readouterr().err


def test_one_lamp_that_leaves_a_paint_short_of_good_is_advised_a_second_once(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (folder / SWATCHES).read_text(encoding="utf-8")
    (folder / SWATCHES).write_text(text[: text.index("[photograph.other_lamp]")], encoding="utf-8")
    assert main(["fit", str(folder / SWATCHES), "--no-picture"]) == 0
    said = capsys.readouterr().out
    assert "not yet good" in said
    assert said.count("another kind of lamp") == 1


def break_nothing_found(folder: Path) -> None:
    grey = np.full((600, 800, 3), 128, dtype=np.uint8)
    cv2.imwrite(str(folder / PICTURE), grey)


def break_corrupt(folder: Path) -> None:
    data = (folder / PICTURE).read_bytes()
    (folder / PICTURE).write_bytes(data[: len(data) // 50])


def break_no_picture(folder: Path) -> None:
    (folder / PICTURE).write_text("this is a letter", encoding="utf-8")


def break_gone(folder: Path) -> None:
    (folder / PICTURE).unlink()


def break_raw(folder: Path) -> None:
    (folder / "card.dng").write_bytes(b"II*\x00" + bytes(200))
    text = (folder / SWATCHES).read_text(encoding="utf-8")
    (folder / SWATCHES).write_text(text.replace(PICTURE, "card.dng"), encoding="utf-8")


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (break_nothing_found, "corner"),
        (break_corrupt, PICTURE),
        (break_no_picture, PICTURE),
        (break_gone, PICTURE),
        (break_raw, "card.dng"),
    ],
)
def test_a_photograph_that_cannot_be_used_leaves_the_paint_alone(
    folder: Path, capsys: pytest.CaptureFixture[str], broken: object, words: str
) -> None:
    own = folder / "shelf"
    own.mkdir()
    (own / "storm-teal.toml").write_text(OLD, encoding="utf-8")
    broken(folder)  # type: ignore[operator]
    assert main(["fit", str(folder / SWATCHES), "--replace"]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said
    assert "fault of the program" not in said
    assert (own / "storm-teal.toml").read_text(encoding="utf-8") == OLD


def test_a_photograph_that_is_not_there_is_named_with_its_key_and_those_that_are(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def said() -> str:
        assert main(["fit", str(folder / SWATCHES)]) == 2
        return capsys.readouterr().err

    missing = (
        f'[photograph] file: found "{PICTURE}", which is not there; expected a photograph in this folder.'
    )
    (folder / PICTURE).rename(folder / "teel-card.jpg")
    assert said().endswith(f'{missing} Did you mean "teel-card.jpg"?\n')
    (folder / "teel-card.jpg").rename(folder / "1.JPG")
    assert said().endswith(f"{missing} Pictures there: 1.JPG.\n")
    # Those that this program drew are none, and of many the likest come first.
    (folder / "blue.toml").write_text('format = "layersim paint 1"\n', encoding="utf-8")
    (folder / "my.toml").write_text('# mine\nformat = "layersim scheme 1"\n', encoding="utf-8")
    for name in ("blue.png", "my-preview.png", "teapot.png", *(f"{i}.jpg" for i in range(2, 9))):
        (folder / name).write_bytes(b"")
    assert said().endswith(
        f"{missing} Pictures there: teapot.png, 1.JPG, 2.jpg, 3.jpg, 4.jpg, 5.jpg and 3 more.\n"
    )
    (folder / "1.JPG").rename(folder / PICTURE)
    (folder / OTHER_PICTURE).unlink()
    assert f'[photograph.other_lamp] file: found "{OTHER_PICTURE}"' in said()
    text = (folder / SWATCHES).read_text(encoding="utf-8")
    (folder / SWATCHES).write_text(text.replace(f'"{PICTURE}"', '"sub/a.jpg"'), encoding="utf-8")
    (folder / "sub").mkdir()
    sub = folder / "sub"
    assert said().endswith(f"expected a photograph in the folder {sub}. No other picture is there.\n")
    sub.rmdir()
    assert said().endswith(f"in the folder {sub}. That folder is not there either.\n")


def test_a_name_that_nobody_put_right_makes_no_paint(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (folder / SWATCHES).read_text(encoding="utf-8")
    (folder / SWATCHES).write_text(text.replace('"storm teal"', '"my paint"'), encoding="utf-8")
    assert main(["fit", str(folder / SWATCHES)]) == 2
    assert 'name: found "my paint", as the file came; expected what the paint is called' in (
        capsys.readouterr().err
    )
    assert not (folder / "shelf").exists()


def test_a_sheen_of_one_ground_alone_and_thinning_left_out(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (folder / SWATCHES).read_text(encoding="utf-8")
    text = re.sub("(?m)^thinning.*$", "", text) + '[[ground]]\nname = "black"\nsheen = "matt"\n'
    (folder / SWATCHES).write_text(text, encoding="utf-8")
    assert main(["fit", str(folder / SWATCHES), "--no-picture"]) == 0
    said = capsys.readouterr().out
    assert "Note: thinning is not said for 8 of 8 swatches; they count as unthinned." in said


def test_a_picture_in_the_place_of_the_swatches_file(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["fit", str(folder / PICTURE)]) == 2
    said = capsys.readouterr().err
    assert "this is a picture; give the swatches file that names it" in said
    assert "UTF-8" not in said


def test_a_camera_is_trusted_only_when_told_twice(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (folder / SWATCHES).read_text(encoding="utf-8")
    (folder / SWATCHES).write_text(
        text[: text.index("[photograph.other_lamp]")] + 'reference = "none"\n', encoding="utf-8"
    )
    assert main(["fit", str(folder / SWATCHES)]) == 2
    assert "--trust-camera" in capsys.readouterr().err
    assert not (folder / "shelf").exists()


def test_the_test_card(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    card = tmp_path / "card.pdf"
    assert main(["testcard", str(card), "--coats", "0.5,1,2,4", "--page", "A4"]) == 0
    assert card.read_bytes().startswith(b"%PDF")
    assert read_card(tmp_path / "card.toml") == standard_card(coats=(0.5, 1, 2, 4))
    found = read_any_swatches(tmp_path / "card-swatches.toml")
    assert len(found.swatches) == 8
    assert "layersim fit" in capsys.readouterr().out
    assert main(["testcard", str(card)]) == 2
    assert "add --replace" in capsys.readouterr().err
    # A swatches file that somebody has filled in is never written over.
    assert main(["testcard", str(card), "--replace"]) == 0
    assert "kept" not in capsys.readouterr().out
    (tmp_path / "card-swatches.toml").write_text(OLD, encoding="utf-8")
    assert main(["testcard", str(card), "--replace", "--coats", "1,2"]) == 0
    assert "card-swatches.toml (kept as it was: you have edited it)" in capsys.readouterr().out
    assert (tmp_path / "card-swatches.toml").read_text(encoding="utf-8") == OLD
    assert read_card(tmp_path / "card.toml") == standard_card(coats=(1, 2))
    for arguments, words in (
        ([str(tmp_path / "card.png")], ".pdf"),
        ([str(tmp_path / "b.pdf"), "--coats", "one"], "each above 0 and at most 100, with commas between"),
        ([str(tmp_path / "b.pdf"), "--coats", "0,5,1"], 'found 0 in "0,5,1"; expected one to six counts'),
        ([str(tmp_path / "b.pdf"), "--coats", "0,5,1"], "Decimals have a point"),
        ([str(tmp_path / "b.pdf"), "--neutrals", "88,18,3.5"], "found 88 in"),
        ([str(tmp_path / "b.pdf"), "--neutrals", "88,18,3.5"], "88 % is 0.88 here."),
        ([str(tmp_path / "b.pdf"), "--neutrals", "0,88,0,18"], "Decimals have a point: 0.88."),
        ([str(tmp_path / "mine")], "expected a file ending in .pdf, such as mine.pdf"),
        ([str(tmp_path / "b.pdf"), "--coats", "1,1"], "stands twice"),
        ([str(tmp_path / "b.pdf"), "--page", "A7"], "A6"),
        ([str(tmp_path / "b.pdf"), "--neutrals", "0.9,0.2"], "three reflectances"),
    ):
        assert main(["testcard", *arguments]) == 2
        assert words in capsys.readouterr().err
    assert not (tmp_path / "b.pdf").exists()
    assert not (tmp_path / "b.toml").exists()


def test_flags_that_do_not_go_together(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fit", str(folder / SWATCHES), "--known", "titanium white"]) == 2
    assert "go together" in capsys.readouterr().err
    assert main(["fit", str(EXAMPLES / "brick-red.toml"), "--trust-camera"]) == 2
    assert "no photograph" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("shot", "quality", "grade", "said"),
    [
        ({}, 90, "usable", ""),
        # Saturation is undone by the chart.
        ({"look": "phone 5"}, 90, "usable", ""),
        ({}, 8, "doubtful", "the photograph is not to be relied on"),
        ({"chart": None}, 90, "doubtful", "no chart in it tells what the camera did"),
    ],
    ids=["clean", "saturated", "quality 8", "no chart"],
)
def test_verdicts_sort_good_photographs_from_bad(
    tmp_path: Path, shot: dict[str, str | None], quality: int, grade: str, said: str
) -> None:
    # Rendered as the example is, by measured camera sensitivities (tests/measure/camera.py).
    films, grounds = spectra()
    frame = photograph(standard_card(), films, grounds, SHOT.but(**shot))
    picture = save_jpeg(tmp_path / "card.jpg", frame, quality=quality)
    of_card = from_layout(standard_card(), thinning=1.0)
    swatches = PhotographedSet(
        paint="teal",
        volume_solids=0.28,
        wet_film_um=15.0,
        sheen=1.0,
        photograph=picture,
        layout=standard_card(),
        grounds=of_card[0],
        swatches=of_card[1],
    )
    verdict = fit_photograph(swatches, Shelf([])).verdict
    assert verdict.grade == grade
    assert said in verdict.words
