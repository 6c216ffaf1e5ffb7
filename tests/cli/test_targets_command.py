"""`layersim targets`: colours of a picture into a scheme, and what it says of a slip."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageOps

from layersim import colour
from layersim.cli import main
from layersim.scheme.reading import load_scheme


@pytest.fixture
def here(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    main(["start", "my.toml"])
    capsys.readouterr()
    pixels = np.empty((100, 300, 3), dtype=np.uint8)
    for i, rgb in enumerate(((30, 37, 58), (44, 68, 112), (112, 128, 176))):
        pixels[:, 100 * i : 100 * (i + 1)] = rgb
    Image.fromarray(pixels).save("cover.png")
    return tmp_path


def run(capsys, *words):
    code = main(["targets", "my.toml", "--area", "cloth", "--artwork", "cover.png", "--no-picture", *words])
    out, err = capsys.readouterr()
    return code, out, err


def test_it_shows_what_it_would_write_and_writes_nothing(here, capsys):
    before = (here / "my.toml").read_bytes()
    code, out, err = run(capsys, "--mid", "50,50")
    assert (code, err) == (0, "")
    assert 'mid = "#2c4470"   # read from cover.png at 50,50' in out
    assert "--write puts it in" in out
    assert (here / "my.toml").read_bytes() == before


def test_points_are_written_and_read_back(here, capsys):
    code, out, err = run(capsys, "--shadow", "10,50", "--mid", "50,50", "--light", "90,50", "--write")
    assert (code, err) == (0, "")
    assert "Written into my.toml, under the targets of cloth:" in out
    found = load_scheme("my.toml").areas[0].targets
    for place, code in (("shadow", "#1e253a"), ("mid", "#2c4470"), ("light", "#7080b0")):
        assert colour.delta_e_2000(found.given[place], colour.lab_of_hex(code)) < 0.01
        assert found.doubt(place) == 3.0


def test_without_points_it_proposes(here, capsys):
    with Image.open("cover.png") as art:
        ImageOps.expand(art, 40, (200, 190, 170)).save("framed.png")
    code, out, err = run(capsys, "--artwork", "framed.png", "--write", "--json", "t.json")
    assert (code, err) == (0, "")
    assert "pick others with --shadow, --mid and --light X,Y" in out
    found = load_scheme("my.toml").areas[0].targets
    assert found.shadow[0] < found.mid[0] < found.light[0]
    assert '"on_screen": true' in (here / "t.json").read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--mid", "4025"], '--mid: found "4025"; expected a point X,Y'),
        (["--mid", "140,25"], "--mid: found"),
        (["--mid", "40,25", "--size", "0"], "found the size 0; expected above 0"),
        (["--artwork", "no.png"], "no.png: there is no such file"),
        (["--artwork", "my.toml"], "found no picture of a kind read here"),
    ],
)
def test_a_slip_is_told_and_nothing_written(here, capsys, words, said):
    before = (here / "my.toml").read_bytes()
    code, _, err = run(capsys, *words, "--write")
    assert code == 2
    assert said in err
    assert len(err.splitlines()) == 1
    assert (here / "my.toml").read_bytes() == before


def test_the_name_of_a_picture_cannot_write_into_the_scheme(here, capsys):
    name = "a\nlight = 'X' \u202e.png"
    (here / "cover.png").rename(here / name)
    code, _, _ = run(capsys, "--artwork", name, "--mid", "50,50", "--write")
    assert code == 0
    assert "\u202e" not in (here / "my.toml").read_text("utf-8")
    assert "\nlight = 'X'" not in (here / "my.toml").read_text("utf-8")
