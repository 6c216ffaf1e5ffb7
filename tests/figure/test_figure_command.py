"""`layersim figure`: a picture, a page and data; what it refuses, and that nothing is told of the painter."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import layersim
from layersim.cli import main
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import GreysGiven
from layersim.scheme.simulate import simulate
from tests.figure.scene import photographed, scene

DEMO = str(layersim.demo_scheme())
GREY = ("--grey", "12,80")


@pytest.fixture(scope="module")
def picture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    area = simulate(load_scheme(DEMO), tones=9, draws=0, reasons=False).areas[0]
    return photographed(scene().xyz(area, 1), tmp_path_factory.mktemp("figure") / "model.jpg")


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def levels(path: str | Path) -> np.ndarray:
    with Image.open(path) as image:
        return np.asarray(image)


def test_it_writes_the_photograph_a_page_and_data(picture: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["figure", DEMO, str(picture), *GREY, "--area", "wax cloth=30,0 95,0 95,60 30,60"]
    words += ["--area", "straps=30,60 95,60 95,75 30,75", "--json", "f.json", "--out", "f.html"]
    assert main(words) == 0
    out, _ = capsys.readouterr()
    assert "wax cloth: 39 % of the picture" in out
    assert levels("tide-lamplighters-finished.jpg").shape == levels(picture).shape
    assert [one["name"] for one in json.loads(Path("f.json").read_text())["result"]["areas"]] == [
        "wax cloth",
        "straps",
    ]
    assert Path("f.html").read_text().count("<img") >= 10


def test_nothing_is_told_of_place_time_and_camera_and_the_profile_is_kept(
    tmp_path: Path, picture: Path
) -> None:
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    exif = Image.Exif()
    exif[0x010F], exif[0x9003] = "a camera", "2026:01:01 00:00:00"
    with Image.open(picture) as image:
        image.save(tmp_path / "told.jpg", exif=exif, icc_profile=profile, quality=95)
    area = ("--area", "wax cloth=30,0 95,0 95,60 30,60")
    assert main(["figure", DEMO, "told.jpg", *GREY, *area, "--finished", "f.png", "--no-picture"]) == 0
    with Image.open("f.png") as finished:
        assert finished.info["icc_profile"] == profile
        assert dict(finished.getexif()) == {}
        assert "a camera" not in Path("f.png").read_bytes().decode("latin-1")


def test_nothing_is_written_that_was_not_asked_for(picture: Path, tmp_path: Path) -> None:
    words = ["figure", DEMO, str(picture), *GREY, "--area", "wax cloth=30,0 95,0 95,60 30,60", "--no-picture"]
    assert main(words) == 0
    assert list(tmp_path.iterdir()) == []


def test_pictures_of_16_bits_are_painted_as_those_of_8(tmp_path: Path, picture: Path) -> None:
    cv2 = pytest.importorskip("cv2")
    eight = levels(picture)
    Image.fromarray(eight).save("eight.png")
    cv2.imwrite("sixteen.png", eight[..., ::-1].astype(np.uint16) * 257)
    area = ("--area", "wax cloth=30,0 95,0 95,60 30,60", "--no-picture")
    for name in ("eight", "sixteen"):
        assert main(["figure", DEMO, f"{name}.png", *GREY, *area, "--finished", f"{name}-out.png"]) == 0
    one, two = (levels(f"{name}-out.png").astype(int) for name in ("eight", "sixteen"))
    assert np.abs(one - two).max() <= 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--area", "wax cloth"], "--area: found"),
        (["--area", "cloak=1,1 9,1 9,9"], "--area: no"),
        (["--area", "straps=1,1 9,1 9,9", "--area", "straps=1,1 9,1 9,9"], 'found "straps" twice'),
        (["--area", "straps=nowhere.png"], "there is no such file"),
        (["--area", "straps=1,1 9,1 9,9", "--finished", "x.bmp"], "ends in .jpg or .png"),
        (["--area", "straps=1,1 9,1 9,9", "--lamp", "sun"], 'no lamp "sun"'),
        ([], "--area: found none; expected where each area is"),
        (["--area", "straps=1,1 9,1 9,9", "--glb", "x.glb"], "--glb: this is for a mesh"),
        (["--area", "straps=1,1 9,1 9,9", "--turntable", "x.gif"], "--turntable: this is for a mesh"),
        (["--area", "straps=1,1 9,1 9,9", "--from", "front"], "--from: this is for a mesh"),
    ],
)
def test_what_it_refuses_is_told_before_anything_is_written(
    picture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    try:
        code = main(["figure", DEMO, str(picture), *GREY, *words])
    except SystemExit as stop:
        code = int(stop.code or 0)
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert said in err
    assert list(tmp_path.iterdir()) == []


def test_the_photograph_itself_is_never_written_over(
    picture: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = picture.read_bytes()
    area = ("--area", "straps=1,1 9,1 9,9")
    assert main(["figure", DEMO, str(picture), *GREY, *area, "--finished", str(picture)]) == 2
    assert "this is a file to read from" in capsys.readouterr().err
    assert picture.read_bytes() == before


def test_what_it_wrote_itself_it_writes_anew(picture: Path) -> None:
    words = ["figure", DEMO, str(picture), *GREY, "--area", "straps=1,1 9,1 9,9", "--finished", "f.png"]
    assert main([*words, "--no-picture"]) == 0
    first = Path("f.png").stat().st_ino
    assert main([*words, "--no-picture"]) == 0
    assert Path("f.png").stat().st_ino != first


@pytest.mark.parametrize("option", ["--out", "--json"])
def test_two_things_to_write_need_two_files(
    picture: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str
) -> None:
    words = ["figure", DEMO, str(picture), *GREY, "--area", "straps=1,1 9,1 9,9"]
    assert main([*words, option, "f.png", "--finished", "f.png"]) == 2
    assert f"--finished and {option}: found f.png for both" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_what_is_read_is_written_into_the_scheme(picture: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Greys of a photograph and shares of a mesh, if that is asked for, and else nothing."""
    Path("my.toml").write_bytes(Path(DEMO).read_bytes())
    words = ["figure", "my.toml", str(picture), *GREY, "--area", "wax cloth=30,0 95,0 95,60 30,60"]
    assert main([*words, "--no-picture"]) == 0
    assert Path("my.toml").read_bytes() == Path(DEMO).read_bytes()
    assert main([*words, "--no-picture", "--write"]) == 0
    assert "The greys of wax cloth are written into my.toml, each ±" in capsys.readouterr().out
    found = load_scheme(Path("my.toml"))
    preshade = found["wax cloth"].preshade
    assert isinstance(preshade, GreysGiven)
    assert preshade.lightest > preshade.darkest + 10.0
    assert found.hand.greys >= 2.0
    pytest.importorskip("embreex")
    assert (
        main(["figure", "my.toml", "lamplighter", "--area", "wax cloth=cloth", "--no-picture", "--write"])
        == 0
    )
    assert "The shares of wax cloth are written into my.toml." in capsys.readouterr().out
    share = load_scheme(Path("my.toml"))["wax cloth"].extent.share
    assert share is not None
    assert 0.5 < share < 0.95
