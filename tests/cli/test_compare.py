"""`layersim compare`: what it prints and writes, and what it says of a slip."""

from __future__ import annotations

import json

import pytest

import layersim
from layersim.cli import main

DEMO = str(layersim.demo_scheme())
QUICK = ["--tones", "3", "--no-picture", "--area", "lamp glass"]


def run(capsys, *arguments):
    code = main(["compare", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def test_it_prints_a_table_and_writes_a_picture(capsys, tmp_path):
    picture = tmp_path / "two.png"
    code, out, err = run(
        capsys,
        DEMO,
        "--area",
        "lamp glass",
        "--choice",
        "three: glow.coats = 3",
        "--tones",
        "3",
        "--out",
        str(picture),
    )
    assert (code, err) == (0, "")
    assert "B (three) instead of A (as written)" in out
    assert "The choice" in out
    assert f"Picture: {picture}" in out
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_choices_come_from_a_file_too(capsys, tmp_path):
    file = tmp_path / "choices.toml"
    file.write_text('format = "layersim choices 1"\n[[choice]]\nname = "bare"\nchange = "without glow"\n')
    code, out, _ = run(capsys, DEMO, *QUICK, "--choices", str(file))
    assert code == 0
    assert "B  bare        without glow" in out


def test_the_choices_that_come_along_can_be_compared(capsys):
    file = layersim.demo_scheme().parents[1] / "choices" / "tide-lamplighters.toml"
    code, out, err = run(capsys, DEMO, "--choices", str(file), "--no-picture", "--tones", "3")
    assert (code, err) == (0, "")
    assert "D  matt" in out


def test_several_schemes_are_compared_by_name(capsys, tmp_path):
    other = tmp_path / "other.toml"
    other.write_text(layersim.demo_scheme().read_text().replace("brass yellow", "warm yellow"))
    code, out, _ = run(capsys, DEMO, str(other), "--no-picture", "--tones", "3")
    assert code == 0
    assert f"B  {other}" in out
    assert "The same in every choice: wax cloth, straps and lamp frame." in out


def test_the_scheme_as_written_can_be_left_out(capsys):
    pair = ["--choice", "one: glow.coats = 1", "--choice", "four: glow.coats = 4"]
    code, out, _ = run(capsys, DEMO, *QUICK, *pair, "--only-choices")
    assert code == 0
    assert "A  one" in out
    assert "as written" not in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "found one choice; expected two or more"),
        (["--choice", "a: glow.coats = 3", "--only-choices"], "found one choice"),
        (["--choice", "a: glow.coats = 3", "--choice", "A: glow.coats = 4"], "two choices named"),
        (["--choice", "as written: glow.coats = 3"], "two choices named"),
        (["--choice", "a: glw.coats = 3"], 'Did you mean "glow"?'),
        (["--choice", "a: glow.caots = 3"], 'Did you mean "coats"?'),
        (["--choice", "a: glow.coats = -3"], "found -3; expected a whole number from 1 to 100"),
        (["--choice", "a"], "expected a change such as"),
        (["--choice", "a: glow.coats = 3", "--lamp", "D66"], 'Did you mean "D65"?'),
        (["--choice", "a: glow.coats = 3", "--tones", "1"], "--tones: found 1"),
        (["--choice", "a: glow.coats = 3", "--choices", "nowhere.toml"], "there is no such file"),
        (["--choice", "a: preshade.greys = 90 to 30"], "expected the darker lightness first"),
    ],
)
def test_a_slip_gets_one_message_and_code_2(capsys, arguments, said):
    code, _, err = run(capsys, DEMO, *QUICK, *arguments)
    assert code == 2
    assert said in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_choices_on_several_schemes_are_refused(capsys):
    code, _, err = run(capsys, DEMO, DEMO, "--choice", "a: lamp = A")
    assert code == 2
    assert "choices on one scheme, or schemes alone" in err


def test_an_unknown_area_is_named(capsys):
    code, _, err = run(
        capsys, DEMO, "--area", "Lamp-Glass", "--choice", "a: lamp = A", "--no-picture", "--tones", "2"
    )
    assert code == 0  # names are told apart by letters and digits alone
    code, _, err = run(capsys, DEMO, "--area", "lamp gloss", "--choice", "a: lamp = A", "--no-picture")
    assert code == 2
    assert 'Did you mean "lamp glass"?' in err


def test_a_picture_of_no_known_kind_is_refused_before_any_work(capsys, tmp_path):
    code, out, err = run(capsys, DEMO, "--choice", "a: lamp = A", "--out", str(tmp_path / "x.bmp"))
    assert (code, out) == (2, "")
    assert "png, pdf, svg or html" in err


def test_everything_is_written_as_data_too(capsys, tmp_path):
    data = tmp_path / "two.json"
    code, out, _ = run(capsys, DEMO, *QUICK, "--choice", "three: glow.coats = 3", "--json", str(data))
    assert code == 0
    assert f"Data: {data}" in out
    content = json.loads(data.read_text(encoding="utf-8"))
    assert content["format"] == "layersim compare 2"
    assert [one["name"] for one in content["result"]["choices"]] == ["as written", "three"]
    assert [one["name"] for one in content["result"]["areas"]] == ["lamp glass"]
    # Of a choice by itself no outcomes are drawn: it has no range, rather than one of no width.
    for choice in content["result"]["areas"][0]["choices"]:
        assert [choice["area"][key] for key in ("lab_low", "lab_high", "reach")] == [None] * 3


@pytest.mark.parametrize("read", ["scheme", "choices"])
def test_data_are_not_written_over_what_is_read(capsys, tmp_path, read):
    files = {"scheme": tmp_path / "scheme.toml", "choices": tmp_path / "choices.toml"}
    files["scheme"].write_bytes(layersim.demo_scheme().read_bytes())
    files["choices"].write_text(
        'format = "layersim choices 1"\n[[choice]]\nname = "b"\nchange = "without glow"\n'
    )
    before = files[read].read_bytes()
    code, out, err = run(
        capsys, str(files["scheme"]), *QUICK, "--choices", str(files["choices"]), "--json", str(files[read])
    )
    assert (code, out) == (2, "")
    assert "this is a file to read from; name another one" in err
    assert files[read].read_bytes() == before
