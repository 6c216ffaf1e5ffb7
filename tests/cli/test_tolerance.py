"""`layersim tolerance`: what it prints and writes, and what it says of a slip."""

from __future__ import annotations

import json
import re

import pytest

import layersim
from layersim.cli import main

DEMO = str(layersim.demo_scheme())
QUICK = ["--area", "straps", "--batches", "60"]


def run(capsys, *arguments):
    code = main(["tolerance", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def test_it_prints_a_table_and_writes_a_picture(capsys, tmp_path):
    picture = tmp_path / "t.pdf"
    code, out, err = run(capsys, DEMO, *QUICK, "--models", "5", "--out", str(picture))
    assert (code, err) == (0, "")
    assert "In a batch of 5," in out
    assert "What would help most:" in out
    assert picture.read_bytes().startswith(b"%PDF")


def test_the_batch_is_as_large_as_the_scheme_says(capsys, tmp_path):
    path = tmp_path / "s.toml"
    text = layersim.demo_scheme().read_text(encoding="utf-8")

    def batch_of(models):
        path.write_text(re.sub(r"(?m)^models = .*$", f"models = {models}", text), encoding="utf-8")
        return run(capsys, str(path), "--area", "straps", "--batches", "40", "--no-picture")

    assert "In a batch of 4," in batch_of(4)[1]
    # One model has nothing to differ from.
    assert "In a batch of 10," in batch_of(1)[1]
    code, out, _ = batch_of(75)
    assert code == 0
    assert "In a batch of 60," in out
    assert "75 models" in out


def test_the_same_seed_prints_the_same(capsys):
    one, two, other = (run(capsys, DEMO, *QUICK, "--no-picture", "--seed", s)[1] for s in ("1", "1", "2"))
    assert one == two
    assert one != other


def test_the_threshold_is_the_users(capsys):
    _, out, _ = run(capsys, DEMO, *QUICK, "--no-picture", "--visible", "30")
    assert "(beyond ΔE00 30 on some tone): less than 1 %" in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--models", "1"], "models in a batch: found 1"),
        (["--models", "three"], '--models: found "three"; expected a whole number'),
        (["--batches", "2"], "batches: found 2"),
        (["--visible", "-1"], "visible: found -1"),
        (["--seed", "-1"], "--seed: found -1"),
        (["--area", "strops"], 'Did you mean "straps"?'),
        (["--out", "picture.doc"], "png, pdf, svg or html"),
    ],
)
def test_a_slip_gets_one_message_and_code_2(capsys, arguments, said):
    code, out, err = run(capsys, DEMO, *arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert "Traceback" not in err


def test_everything_is_written_as_data_too(capsys, tmp_path):
    data = tmp_path / "t.json"
    code, out, _ = run(capsys, DEMO, *QUICK, "--models", "3", "--no-picture", "--json", str(data))
    assert code == 0
    assert f"Data: {data}" in out
    content = json.loads(data.read_text(encoding="utf-8"))
    assert content["format"] == "layersim tolerance 2"
    assert content["result"]["models"] == 3
    assert [area["name"] for area in content["result"]["areas"]] == ["straps"]


def test_data_where_none_can_be_written_are_refused_before_any_work(capsys, tmp_path):
    code, out, err = run(capsys, DEMO, *QUICK, "--no-picture", "--json", str(tmp_path / "no" / "t.json"))
    assert (code, out) == (2, "")
    assert "there is no folder" in err
