"""`layersim fit` on photographs as they come out wrong: from the command line down to the files it leaves."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layersim import colour
from layersim.cli import main
from layersim.measure.card import standard_card
from layersim.measure.cardfile import write_card_file
from layersim.measure.rectify import project
from layersim.optics import cones
from layersim.paint import Paint
from layersim.paintfile import read_paint
from layersim.shelf import FOLDER_VARIABLE
from layersim.spectra import FloatArray
from tests.fitting.cards import spectra
from tests.fitting.painter import BARE, COAT_UM, violet
from tests.measure.camera import _CARD_AT, Frame, Shot, photograph
from tests.measure.test_photograph import bomb

cv2 = pytest.importorskip("cv2")

LAYOUT = standard_card()
SHOT = Shot(width_px=750, height_px=1000, oversample=1, seed=4)
OLD = "not to be touched"
TEXT = """\
format = "layersim swatches 1"
name = "test violet"
volume_solids = 0.3
wet_film_um = 10
sheen = "matt"
invented = true
[photograph]
file = "card.jpg"
"""
# Of a chart that lies where the camera of the tests lays it, in mm of the card.
CHART = (20.0, 126.0, 104.0, 72.0)

Picture = FloatArray


def shoot(K: FloatArray, S: FloatArray) -> Frame:
    k1 = cones.directions().k1  # a matt surface's own reflection is in the picture
    seen = {name: reflectance + k1 for name, reflectance in spectra(K, S).items()}
    return photograph(LAYOUT, seen, {name: bare + k1 for name, bare in BARE.items()}, SHOT)


@pytest.fixture(scope="module")
def frame() -> Frame:
    return shoot(*violet())


@pytest.fixture(scope="module")
def good(frame: Frame) -> Picture:
    return np.ascontiguousarray(frame.encoded, dtype=np.float32)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    own = tmp_path / "shelf"
    own.mkdir()
    monkeypatch.setenv(FOLDER_VARIABLE, str(own))
    return tmp_path


def put(folder: Path, picture: Picture, text: str = TEXT) -> list[str]:
    """Write the photograph and its swatches file; return the command that fits them."""
    levels = np.rint(np.clip(picture, 0.0, 1.0) * 255).astype(np.uint8)
    Image.fromarray(levels).save(folder / "card.jpg", quality=90)
    (folder / "swatches.toml").write_text(text, encoding="utf-8")
    return ["fit", str(folder / "swatches.toml")]


def covered(picture: Picture, frame: Frame, *boxes: tuple[float, ...], with_grey: float = 0.55) -> Picture:
    """Return a picture with something even on parts of the card's plane, [x, y, width, height] in mm."""
    out = picture.copy()
    for x, y, w, h in boxes:
        corners = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]]) + np.array(_CARD_AT)
        cv2.fillPoly(out, [np.rint(project(frame.to_px, corners)).astype(np.int32)], [with_grey] * 3)
    return out


def place(name: str) -> tuple[float, ...]:
    rect = next(patch.rect for patch in LAYOUT.patches if patch.name == name)
    return rect.x_mm, rect.y_mm, rect.width_mm, rect.height_mm


def marks(count: int) -> list[tuple[float, ...]]:
    """The first marks with their white rims."""
    return [(x - 7.0, y - 7.0, 14.0, 14.0) for x, y in (mark.centre_mm for mark in LAYOUT.marks[:count])]


def swatch(name: str, ground: str, patch: str, coats: int) -> str:
    return f'[[swatch]]\nname = "{name}"\nground = "{ground}"\npatch = "{patch}"\ncoats = {coats}\n'


OTHER = '[photograph.other_lamp]\nfile = "other.jpg"\n'
ONE = TEXT + swatch("the only one", "white", "white 1", 1)
SWAPPED = TEXT + "".join(
    swatch(f"{coats} over {ground}", ground, f"{other} {coats}", coats)
    for ground, other in (("black", "white"), ("white", "black"))
    for coats in (1, 2, 4)
)


# --- refused -----------------------------------------------------------------------------------


def no_change(good: Picture, frame: Frame) -> Picture:
    return good


def no_marks(good: Picture, frame: Frame) -> Picture:
    return covered(good, frame, *marks(4), with_grey=0.93)


def one_mark_covered(good: Picture, frame: Frame) -> Picture:
    return covered(good, frame, *marks(1), with_grey=0.93)


def no_chart(good: Picture, frame: Frame) -> Picture:
    return covered(good, frame, CHART)


def overexposed(good: Picture, frame: Frame) -> Picture:
    return np.asarray(good * 4.0)


def opaque(good: Picture, frame: Frame) -> Picture:
    return np.asarray(shoot(np.full(31, 3.0), np.full(31, 2.0)).encoded)


@pytest.mark.parametrize(
    ("spoil", "text", "words"),
    [
        (no_marks, TEXT, ["none of them is seen", "corners_px"]),
        (one_mark_covered, TEXT, ["upper left mark is not seen", "corners_px"]),
        (
            no_chart,
            TEXT + 'reference = "chart"\n',
            ["no 24-patch chart is found", "Lay the whole chart flat"],
        ),
        (no_chart, TEXT + 'card = "bare.toml"\n', ["made to please"]),
        (overexposed, TEXT, ["can be used", "clipped"]),
        (opaque, TEXT, ["every film is opaque", "half a coat", '"this paint" = 1']),
        (no_change, ONE, ["one swatch only", "another ground"]),
        (no_change, TEXT + 'reference = "neutrals"\n' + OTHER, ['found "neutrals"', '"chart" or "best"']),
        (no_chart, TEXT + OTHER, ["no 24-patch chart is found"]),
        (no_change, SWAPPED, ["contradict each other", "Were the places swapped"]),
        (no_change, SWAPPED.replace("coats = 2\n", ""), ["coats", "Without its thickness"]),
        (no_change, TEXT.replace("0.3", "30"), ["volume_solids: found 30", "30 % is 0.3"]),
        (no_change, TEXT.replace("um = 10", "um = 0.01"), ["wet_film_um: found 0.01", "micrometres"]),
    ],
    ids=lambda value: value.__name__ if callable(value) else "",
)
def test_what_cannot_be_fitted_says_what_to_do_and_leaves_the_paint(
    folder: Path,
    good: Picture,
    frame: Frame,
    capsys: pytest.CaptureFixture[str],
    spoil: Callable[[Picture, Frame], Picture],
    text: str,
    words: list[str],
) -> None:
    write_card_file(folder / "bare.toml", dataclasses.replace(LAYOUT, neutrals=()))
    put(folder, good)
    (folder / "card.jpg").rename(folder / "other.jpg")
    refused(folder, put(folder, spoil(good, frame), text), words, capsys)


def refused(folder: Path, command: list[str], words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    kept = [folder / "shelf" / f"test-violet.{ending}" for ending in ("toml", "png")]
    for path in kept:
        path.write_text(OLD, encoding="utf-8")
    assert main([*command, "--replace"]) == 2
    said = capsys.readouterr().err
    for word in words:
        assert word in said
    assert "Traceback" not in said
    assert "fault of the program" not in said
    assert len([line for line in said.splitlines() if line.startswith("layersim: ")]) == 1
    assert [path.read_text(encoding="utf-8") for path in kept] == [OLD, OLD]
    assert sorted((folder / "shelf").iterdir()) == sorted(kept)


@pytest.mark.parametrize("share", [0.02, 0.6])
def test_a_photograph_cut_short(
    folder: Path, good: Picture, capsys: pytest.CaptureFixture[str], share: float
) -> None:
    command = put(folder, good)
    whole = (folder / "card.jpg").read_bytes()
    (folder / "card.jpg").write_bytes(whole[: int(share * len(whole))])
    refused(folder, command, ["card.jpg", "damaged"], capsys)


def test_a_picture_that_would_fill_the_memory(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = put(folder, np.zeros((4, 4, 3)), TEXT.replace("card.jpg", "card.png"))
    (folder / "card.png").write_bytes(bomb(60000, 60000, bits=16))
    refused(folder, command, ["too many pixels", "Save it smaller"], capsys)


# --- taken, with a word ------------------------------------------------------------------------


def thin_coats(paint: Paint | tuple[FloatArray, FloatArray]) -> FloatArray:
    K, S = (paint.K_per_um, paint.S_per_um) if isinstance(paint, Paint) else paint
    film = cones.lay(
        cones.medium(K_per_um=K, S_per_um=S),
        thickness_um=COAT_UM * np.array([[0.5], [1.5], [3.0]]),
        over=cones.even_ground(0.4),
    )
    return colour.lab(cones.seen(film, sheen=0.0), colour.Viewing())


def taken(folder: Path, command: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[Paint, str]:
    assert main([*command, "--no-picture", "--replace"]) == 0
    return read_paint(folder / "shelf" / "test-violet.toml"), capsys.readouterr().out


@pytest.mark.parametrize("quarters", [1, 2])
def test_a_card_may_lie_on_its_side_or_upside_down(
    folder: Path, good: Picture, capsys: pytest.CaptureFixture[str], quarters: int
) -> None:
    paint, said = taken(folder, put(folder, np.rot90(good, quarters)), capsys)
    assert '" was left out (' not in said
    off = colour.delta_e_2000(thin_coats(paint), thin_coats(violet()))
    assert off.mean() < 1.5


def test_a_hand_on_the_chart_and_a_clipped_place_are_named_and_the_rest_serves(
    folder: Path, good: Picture, frame: Frame, capsys: pytest.CaptureFixture[str]
) -> None:
    x, y, w, h = CHART
    spoilt = covered(good, frame, (x, y, w / 3.0, h))
    spoilt = covered(spoilt, frame, place("black 1"), with_grey=1.0)
    paint, said = taken(folder, put(folder, spoilt), capsys)
    assert "chart patches not used: row 1 column 1, row 1 column 2" in said
    assert "not of the chart's colours" in said
    assert '"1 coat over black" was left out (clipped' in said
    assert "photograph it again" in said
    off = colour.delta_e_2000(thin_coats(paint), thin_coats(violet()))
    assert off.mean() < 1.5


def test_less_to_go_by_is_said_and_makes_the_range_wider(
    folder: Path, good: Picture, frame: Frame, capsys: pytest.CaptureFixture[str]
) -> None:
    """With a chart, with neutrals, on the camera's word: each has a wider range than the one before."""
    reaches = []
    for picture, more, words in (
        (good, [], "Thin coats of it are predicted within ΔE00 1."),
        (no_chart(good, frame), [], "no chart in the frame"),
        (no_chart(good, frame), ["--trust-camera"], "were taken, as asked"),
    ):
        paint, said = taken(folder, [*put(folder, picture), *more], capsys)
        assert words in said
        if picture is not good:  # without the chart that a second lamp needs
            assert "another kind of lamp" not in said
        assert all(doubt.by_swatches for doubt in paint.doubts)
        reaches.append(float(said.split("predicted within ΔE00 ")[1].split(",")[0]))
    assert reaches[0] < 2.0
    assert reaches[1] > 1.5 * reaches[0]
    assert reaches[2] > 1.5 * reaches[1]
    assert "trusted" in paint.provenance
    assert paint.note.startswith("Doubtful fit")
