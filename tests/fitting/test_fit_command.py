"""The command: what it prints, writes, and refuses to write."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from layersim.cli import main
from layersim.paintfile import read_paint
from layersim.resources import data_folder
from layersim.shelf import FOLDER_VARIABLE

OLD = "not to be touched"


@pytest.fixture
def swatches(tmp_path: Path) -> Path:
    for name in ("brick-red.toml", "brick-red.txt"):
        shutil.copy(data_folder() / "examples" / name, tmp_path / name)
    return tmp_path / "brick-red.toml"


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "a" / "shelf"
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    return folder


def test_a_fit_goes_to_the_own_folder_which_is_made(
    swatches: Path, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = swatches.read_text(encoding="utf-8")
    swatches.write_text(text.replace("# hazards", "hazards"), encoding="utf-8")
    assert main(["fit", str(swatches)]) == 0
    printed = capsys.readouterr().out
    paint = read_paint(own / "brick-red.toml")
    assert (paint.carrier, paint.hazards) == ("water", ("cobalt",))
    assert paint.name == "brick red"
    assert paint.invented
    assert paint.doubts
    assert "1 coat over black" in printed
    assert "Good enough to plan with" in printed
    assert "That goes for half a coat to four, thinned as the swatches were" in printed
    assert f"Paint: {own / 'brick-red.toml'}" in printed
    assert f"Picture: {own / 'brick-red.png'}" in printed
    assert (own / "brick-red.png").read_bytes().startswith(b"\x89PNG")
    assert main(["paint", "brick red"]) == 0
    assert "left open by its swatches" in capsys.readouterr().out


def test_a_file_and_a_picture_of_ones_own(swatches: Path, own: Path, tmp_path: Path) -> None:
    out, picture = tmp_path / "mine.toml", tmp_path / "fit.png"
    assert main(["fit", str(swatches), "--out", str(out), "--picture", str(picture)]) == 0
    assert read_paint(out).name == "brick red"
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert not own.exists()


def test_what_was_taken_for_granted_or_is_hidden_is_noted(
    swatches: Path, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = swatches.read_text(encoding="utf-8")
    arguments = ["fit", str(swatches), "--no-picture"]
    assert main(arguments) == 0
    said = capsys.readouterr().out
    assert "thinning" not in said
    assert "starter paint" not in said
    swatches.write_text(
        text.replace('"brick red"', '"Titanium White"').replace("thinning = 1.0", "", 2), encoding="utf-8"
    )
    assert main(arguments) == 0
    said = capsys.readouterr().out
    assert "Note: thinning is not said for 2 of 8 swatches; they count as unthinned." in said
    assert 'Note: a starter paint is named "Titanium White", too' in said


def test_nothing_is_overwritten_without_being_told(
    swatches: Path, own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, picture = tmp_path / "mine.toml", tmp_path / "fit.png"
    out.write_text(OLD, encoding="utf-8")
    assert main(["fit", str(swatches), "--out", str(out), "--picture", str(picture)]) == 2
    assert "add --replace" in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == OLD
    assert not picture.exists()
    assert main(["fit", str(swatches), "--out", str(out), "--replace"]) == 0
    assert read_paint(out).name == "brick red"
    picture.write_text(OLD, encoding="utf-8")
    assert main(["fit", str(swatches), "--out", str(tmp_path / "b.toml"), "--picture", str(picture)]) == 2
    assert "--no-picture" in capsys.readouterr().err
    assert picture.read_text(encoding="utf-8") == OLD
    assert not (tmp_path / "b.toml").exists()


def test_the_picture_lies_beside_the_paint_unless_none_is_wanted(
    swatches: Path, own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    beside = tmp_path / "b.png"
    beside.write_text(OLD, encoding="utf-8")
    arguments = ["fit", str(swatches), "--out", str(tmp_path / "b.toml")]
    assert main(arguments) == 2
    assert f"{beside}: this file is there already" in capsys.readouterr().err
    assert main([*arguments, "--no-picture"]) == 0
    assert "Picture" not in capsys.readouterr().out
    assert beside.read_text(encoding="utf-8") == OLD
    assert main([*arguments, "--replace"]) == 0
    assert beside.read_bytes().startswith(b"\x89PNG")
    assert main([*arguments, "--replace", "--no-picture", "--picture", str(beside)]) == 2
    assert "expected one of them" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("coats = 1\n", ""), "Without its thickness"),
        (("coats = 2", "coats = -2"), "coats"),
        (('ground = "white"', 'ground = "whte"'), 'Did you mean "white"?'),
        (('sheen = "matt"', "sheen = 3"), "sheen"),
        (('file = "brick-red.txt"', 'file = "red.txt"'), "red.txt"),
        (('reading = "black, 1 coat"', 'reading = "black 1 coats"'), "black, 1 coat"),
    ],
)
def test_a_failure_leaves_the_paint_that_is_there(
    swatches: Path, own: Path, capsys: pytest.CaptureFixture[str], change: tuple[str, str], words: str
) -> None:
    own.mkdir(parents=True)
    old = own / "brick-red.toml"
    old.write_text(OLD, encoding="utf-8")
    text = swatches.read_text(encoding="utf-8")
    assert change[0] in text
    swatches.write_text(text.replace(*change), encoding="utf-8")
    assert main(["fit", str(swatches), "--replace"]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert "Traceback" not in said
    assert old.read_text(encoding="utf-8") == OLD
    assert [entry.name for entry in own.iterdir()] == ["brick-red.toml"]


def test_swatches_that_cannot_be_fitted_leave_everything_alone(
    swatches: Path, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = swatches.read_text(encoding="utf-8")
    first = text.index("[[swatch]]")
    second = text.index("[[swatch]]", first + 1)
    swatches.write_text(text[:second], encoding="utf-8")
    assert main(["fit", str(swatches)]) == 2
    said = capsys.readouterr().err
    assert str(swatches) in said
    assert "one swatch only" in said
    assert not own.exists()


def test_the_swatches_file_itself_is_never_the_output(
    swatches: Path, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = swatches.read_bytes()
    assert main(["fit", str(swatches), "--out", str(swatches), "--replace"]) == 2
    assert "the swatches file itself" in capsys.readouterr().err
    assert swatches.read_bytes() == before


def test_odd_arguments(swatches: Path, own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fit", str(swatches), "--film-error", "900"]) == 2
    assert "expected per cent" in capsys.readouterr().err
    assert main(["fit", str(swatches), "--picture", str(tmp_path / "a.doc")]) == 2
    assert "png, pdf, svg or html" in capsys.readouterr().err
    assert main(["fit", str(swatches), "--out", str(tmp_path / "red.png")]) == 2
    assert "ending in .toml" in capsys.readouterr().err
    assert main(["fit", str(swatches), "--out", str(tmp_path / "no" / "a.toml")]) == 2
    assert "there is no folder" in capsys.readouterr().err
    assert not own.exists()
