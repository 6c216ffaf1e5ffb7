"""The forms that come with layersim, from where they are sprayed, and how they turn."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageSequence

import layersim
from layersim.cli import main, progress
from layersim.figure.form import DIRECTIONS, WHITE_FROM, Form, deposit, sprayed
from layersim.figure.forms import FORMS, built_in, form_path, usual_areas
from layersim.figure.onform import PointColours, paint_form, turning
from layersim.figure.sprayed import SprayedForm, spray_form
from layersim.meshfile import read_mesh
from layersim.scheme.reading import load_scheme
from layersim.views.figure import view
from tests.figure.forms import form

trimesh = pytest.importorskip("trimesh")
pytest.importorskip("embreex")
DEMO = str(layersim.demo_scheme())


@pytest.fixture(scope="module")
def ball() -> Form:
    return form(trimesh.creation.icosphere(4, radius=0.5))


@pytest.fixture(scope="module")
def sprayed_ball(ball: Form) -> SprayedForm:
    return spray_form(ball)


@pytest.mark.parametrize("name", built_in())
def test_a_form_has_the_parts_it_says_and_is_small(name: str) -> None:
    path = form_path(name)
    mesh = read_mesh(path)
    assert set(mesh.parts) == set(FORMS[name].parts)
    assert 10_000 < len(mesh.faces) < 35_000
    assert path.stat().st_size < 620_000
    # Outwards: by the divergence theorem what lies within each piece that hangs together counts up, not down.
    whole = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    for piece in whole.split(only_watertight=False, repair=False):
        corners = np.asarray(piece.triangles) - np.asarray(piece.vertices).mean(axis=0)
        a, b, c = (corners[:, i] for i in range(3))
        assert np.einsum("ij,ij->", a, np.cross(b, c)) > 0.0
    areas = [area.name for area in load_scheme(DEMO).areas]
    assert set(usual_areas(mesh.parts, areas, form=name).values()) <= set(areas)


def test_every_file_is_a_form() -> None:
    assert {path.stem for path in form_path("ball").parent.iterdir()} == set(built_in())


@pytest.mark.parametrize("side", WHITE_FROM)
def test_white_comes_from_where_it_is_said(ball: Form, side: str) -> None:
    share = sprayed(ball, WHITE_FROM[side])
    middle = (share * ball.point_areas) @ ball.points
    assert middle @ np.array(DIRECTIONS[side]) > 0.97 * np.linalg.norm(middle)


def test_twice_from_a_side_is_twice_as_much(ball: Form) -> None:
    even, more = (deposit(ball, [*WHITE_FROM["left"], *WHITE_FROM["right"] * times]) for times in (1, 2))
    left, right = (np.argmax(sign * ball.points[:, 0]) for sign in (1.0, -1.0))
    assert more[left] / even[left] == pytest.approx(1.0)
    assert more[right] / even[right] == pytest.approx(2.0)


class TestTurning:
    def test_the_lamps_stand_still(self, sprayed_ball: SprayedForm) -> None:
        """However a ball of one colour is turned, it looks the same, and it is not lit alike all over."""
        grey = np.full((len(sprayed_ball.share), 3), 0.3)
        first, *others = turning(sprayed_ball, PointColours(grey), views=5, size_px=60)
        for other in others:
            assert np.abs(first.astype(int) - other).max() <= 10
        assert np.ptp(first[10:50, 30, 0].astype(int)) > 30

    def test_the_form_turns_its_left_to_the_front(self, sprayed_ball: SprayedForm) -> None:
        x = sprayed_ball.form.points[:, :1]
        linear = np.where(x > 0.0, [0.5, 0.01, 0.01], [0.01, 0.01, 0.5])
        seen = turning(sprayed_ball, PointColours(linear), views=4, size_px=60)
        is_left = [(one[..., 0].astype(int) - one[..., 2])[30, [15, 45]] > 0 for one in seen]
        assert np.array(is_left).tolist() == [[False, True], [True, True], [True, False], [False, False]]

    def test_a_form_is_as_large_however_it_is_turned(self) -> None:
        """A plank seen along its diagonal fits, and is as high as from before."""
        plank = spray_form(form(trimesh.creation.box(extents=(1.0, 0.4, 1.0))))
        high = []
        for one in turning(plank, PointColours(np.full((len(plank.share), 3), 0.9)), views=8, size_px=80):
            there = np.abs(one.astype(int) - one[0, 0]).max(axis=2) > 12
            assert not there[:, [0, -1]].any()
            high.append(there.any(axis=1).sum())
        assert max(high) - min(high) <= 1


def test_the_page_shows_it_all_round(ball: Form) -> None:
    scheme = load_scheme(DEMO)
    sides = ["above", "above", "left"]
    found = paint_form(scheme, ball, {"all": "straps"}, name="ball", size_px=20, white_from=sides)
    assert found.around.shape == (10, 80, 3)
    assert "White from above (2 times as much) and its left lands" in view(found).aside


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.usefixtures("elsewhere")
def test_a_form_needs_no_areas_and_turns(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["figure", DEMO, "facets", "--from", "front", "--no-picture", "--json", "f.json"]
    assert main([*words, "--turntable", "f.webp"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "wax cloth (the part plates): 7" in out
    assert "Turntable: " in out
    found = json.loads(Path("f.json").read_text())["result"]
    assert found["areas"] == {"plates": "wax cloth", "joints": "straps", "glass": "lamp glass"}
    assert found["white_from"] == ["front"]
    assert sorted(path.name for path in Path().iterdir()) == ["f.json", "f.webp"]
    with Image.open("f.webp") as moving:
        assert (moving.n_frames, moving.info["loop"]) == (24, 0)
        frames = [np.asarray(one.convert("RGB")).astype(int) for one in ImageSequence.Iterator(moving)]
    assert frames[0].shape == (300, 300, 3)
    steps = [np.abs(a - b).mean() for a, b in zip(frames, [*frames[1:], frames[0]], strict=True)]
    # It moves at every step, and the last one brings it back to the first without a jump.
    assert min(steps) > 0.5
    assert max(steps) < 3.0 * float(np.median(steps))


@pytest.mark.parametrize("ending", ["png", "gif", "webp"])
def test_what_moves_keeps_its_colours(elsewhere: Path, ending: str) -> None:
    from layersim.figure.saving import save_turntable

    path = elsewhere / f"x.{ending}"
    # A few pixels of a colour of their own among many greys.
    greys = np.arange(256, dtype=np.uint8)[:, np.newaxis, np.newaxis]
    pictures = [np.tile(greys, (1, 40, 3)) for _ in range(3)]
    for i, picture in enumerate(pictures):
        picture[60:100, 5 + 10 * i : 15 + 10 * i] = (30, 140, 120)
    save_turntable(pictures, path)
    with Image.open(path) as moving:
        assert (moving.n_frames, moving.info["loop"]) == (3, 0)
        for i, one in enumerate(ImageSequence.Iterator(moving)):
            seen = np.asarray(one.convert("RGB"))[80, 10 + 10 * i]
            assert seen.astype(int) == pytest.approx((30, 140, 120), abs=12)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["bsut"], 'there is no file and no form "bsut". Did you mean "bust"? The forms'),
        (["nothing"], "The forms that come with layersim are ball, bust, drape, facets, lamplighter."),
        (["ball", "--from", "top"], '--from: found "top"; expected one of above, below, front, behind'),
        (["ball", "--from", "abov"], 'Did you mean "above"?'),
        (["ball", "--turntable", "x.mp4"], 'found ".mp4"; expected a name that ends in .webp, .png or .gif'),
        (["ball", "--turntable", "x.png", "--out", "x.png"], "--turntable and --out: found x.png for both"),
        (["ball", "--turntable", "nowhere/x.gif"], "there is no folder nowhere"),
        (["two.glb"], 'expected which part of two.glb is which area, such as --area "wax cloth='),
    ],
)
def test_what_it_refuses(
    elsewhere: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    two = trimesh.Scene({name: trimesh.creation.box() for name in ("hull", "deck")})
    two.export(elsewhere / "two.glb")
    assert main(["figure", DEMO, *words]) == 2
    assert said in capsys.readouterr().err
    assert [path.name for path in elsewhere.iterdir()] == ["two.glb"]


def test_progress_shows_what_takes_longer_than_a_second(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    now = 0.0
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setattr(progress.time, "monotonic", lambda: now)
    show = progress.progress_lines()
    show("spraying", 1, 4)
    show("spraying", 4, 4)
    assert capsys.readouterr().err == ""
    now = 1.5
    show("looking", 1, 4)
    assert "25 % of looking" in capsys.readouterr().err
    show("looking", 4, 4)
    assert capsys.readouterr().err.strip() == ""
