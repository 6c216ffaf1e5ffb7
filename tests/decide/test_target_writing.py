"""Writing targets into a scheme: remarks stay, what is written reads back, or nothing is written."""

from __future__ import annotations

import tempfile

import numpy as np
import pytest

from layersim import colour
from layersim.decide.writing import target_words, with_targets, write_targets
from layersim.errors import LayersimError
from layersim.scheme.reading import load_scheme
from layersim.scheme.targets import MEASURED_DOUBT, PICKED_DOUBT, Target
from tests.examples import SCHEME

BLUE = Target(colour.lab_of_hex("#2c4470"), on_screen=True)
GREY = Target(np.array([60.0, 1.0, -2.5]), doubt=4.0)


@pytest.fixture
def scheme(tmp_path, paints_folder):
    path = tmp_path / "my.toml"
    path.write_text(SCHEME, encoding="utf-8")
    return path


def targets(path, paints_folder, area=0):
    return load_scheme(path, folders=[paints_folder]).areas[area].targets


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("area", [0, 1])
def test_targets_read_back_and_every_line_stays(scheme, paints_folder, ending, area):
    scheme.write_bytes(SCHEME.replace("\n", ending).encode())
    old = load_scheme(scheme, folders=[paints_folder])
    name = old.areas[area].name
    write_targets(scheme, {"mid": BLUE, "light": GREY}, area=name, folders=(paints_folder,))
    text = scheme.read_bytes().decode()
    found = targets(scheme, paints_folder, area)
    assert colour.delta_e_2000(found.mid, BLUE.lab) < 0.01
    assert np.allclose(found.light, GREY.lab)
    assert (found.doubt("mid"), found.doubt("light")) == (PICKED_DOUBT, 4.0)
    assert found.on_screen == {"mid"} | (old.areas[area].targets.on_screen - {"mid", "light"})
    for line in SCHEME.split("\n"):
        assert line in text
    assert text.count("\r\n") == (text.count("\n") if ending == "\r\n" else 0)
    other = load_scheme(scheme, folders=[paints_folder]).areas[1 - area]
    assert other.targets.given.keys() == old.areas[1 - area].targets.given.keys()
    assert len(other.coats) == len(old.areas[1 - area].coats)


def test_a_target_read_before_is_written_anew_and_one_by_hand_is_kept_as_a_remark(scheme, paints_folder):
    name = load_scheme(scheme, folders=[paints_folder]).areas[1].name
    for place, at in ((BLUE, "a.png at 1,2"), (GREY, "a.png at 3,4")):
        write_targets(scheme, {"mid": place}, area=name, sources={"mid": at}, folders=(paints_folder,))
    text = scheme.read_text("utf-8")
    assert "1,2" not in text
    assert text.count("# read from a.png at 3,4") == 1
    by_hand = text.replace("# read from a.png at 3,4", "# my own")
    again = with_targets(by_hand, {"mid": BLUE}, area=name)
    assert "# before: mid = { colour = [60, 1, -2.5], doubt = 4 }   # my own" in again


@pytest.mark.parametrize(
    ("block", "line"),
    [
        ('targets = { mid = "#102030" }', "mid"),
        ('targets = { light = "#102030" }', "targets"),
        ("targets.mid = [\n  20, 1,\n  2,\n]", "mid"),
    ],
)
def test_what_cannot_be_replaced_line_by_line_is_told(scheme, paints_folder, block, line):
    first, _, rest = SCHEME.partition('name = "strap"')
    text = f'{first}name = "strap"\n{block}{rest}'
    scheme.write_text(text, encoding="utf-8")
    assert targets(scheme, paints_folder, 1).given
    with pytest.raises(LayersimError, match=f'"{line}" stands in a way'):
        write_targets(scheme, {"mid": BLUE}, area="strap", folders=(paints_folder,))
    assert scheme.read_text("utf-8") == text


def test_dotted_keys_stay_dotted(scheme, paints_folder):
    scheme.write_text(SCHEME.replace('name = "strap"', 'name = "strap"\ntargets.mid = "#102030"'), "utf-8")
    write_targets(scheme, {"mid": BLUE, "light": GREY}, area="strap", folders=(paints_folder,))
    found = targets(scheme, paints_folder, 1)
    assert colour.delta_e_2000(found.mid, BLUE.lab) < 0.01
    assert found.doubt("light") == 4.0


@pytest.mark.parametrize(
    "text", ["[[area]\n", "area = 5\n", "area = [{ name = 'strap' }]\n", "a = " + "[" * 9999]
)
def test_a_scheme_that_became_invalid_is_told_and_left(scheme, text):
    scheme.write_text(text, encoding="utf-8")
    with pytest.raises(LayersimError, match=r"my\.toml: "):
        write_targets(scheme, {"mid": BLUE}, area="strap")
    assert scheme.read_text("utf-8") == text
    assert [file.name for file in scheme.parent.iterdir()] == ["my.toml"]


def test_a_colour_that_would_not_read_back_is_not_written(scheme, paints_folder):
    strong = Target(np.array([60.0, 90.0, -90.0]), on_screen=True)  # no screen shows it
    with pytest.raises(LayersimError, match="left as it was"):
        write_targets(scheme, {"mid": strong}, area="strap", folders=(paints_folder,))
    assert scheme.read_text("utf-8") == SCHEME


def test_a_folder_that_may_not_be_written_is_told_without_the_name_of_a_hidden_file(
    scheme, paints_folder, monkeypatch
):
    def refused(**_):
        raise PermissionError(13, "Permission denied", str(scheme.parent / ".layersim-x.part"))

    monkeypatch.setattr(tempfile, "mkstemp", refused)
    with pytest.raises(LayersimError) as told:
        write_targets(scheme, {"mid": BLUE}, area="strap", folders=(paints_folder,))
    assert str(told.value) == f"{scheme}: this file cannot be written (permission denied)"


@pytest.mark.parametrize(
    ("target", "said"),
    [
        (BLUE, '"#2c4470"'),
        (Target(BLUE.lab, on_screen=True, doubt=PICKED_DOUBT), '"#2c4470"'),
        (Target(BLUE.lab, on_screen=True, doubt=7.25), '{ colour = "#2c4470", doubt = 7.2 }'),
        (Target(np.array([60.0, 1.0, -0.04]), doubt=MEASURED_DOUBT), "[60, 1, 0]"),
    ],
)
def test_a_target_is_written_shortly(target, said):
    assert target_words(target) == said
