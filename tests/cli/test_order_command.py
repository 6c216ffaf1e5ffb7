"""The command `layersim order`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from layersim.cli import main
from layersim.resources import demo_scheme

DEMO = str(demo_scheme())
PNG = b"\x89PNG"


def test_it_prints_the_order_and_draws_it(
    scheme_file: Path, paints_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "plan.png"
    asked = ["order", str(scheme_file), "--paints", str(paints_folder), "--models", "3", "--out", str(out)]
    assert main(asked) == 0
    text = capsys.readouterr().out
    assert "Test rig: order of work for 3 models" in text
    assert "common practice, no source" in text
    assert out.read_bytes()[:4] == PNG


def test_every_time_in_the_data_names_its_unit(tmp_path: Path) -> None:
    data = tmp_path / "order.json"
    assert main(["order", DEMO, "--models", "5", "--no-picture", "--json", str(data)]) == 0
    times: set[str] = set()

    def walk(said: object, key: str = "") -> None:
        if isinstance(said, dict):
            for name, value in said.items():
                walk(value, name)
        elif isinstance(said, list):
            for value in said:
                walk(value, key)
        elif isinstance(said, int | float) and said > 2_000.0:  # no colour and no count is as large
            times.add(key)

    walk(json.loads(data.read_text(encoding="utf-8"))["result"])
    assert {"begins_s", "starts_s", "ends_s", "ready_s", "handle_s"} <= times
    assert all(key.endswith("_s") for key in times)


def test_the_airbrush_is_cleaned_before_a_wait(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["order", DEMO, "--models", "5", "--no-picture"]) == 0
    rows = [line.split() for line in capsys.readouterr().out.splitlines()]
    primed = next(i for i, row in enumerate(rows) if row[1:4] == ["airbrush", "fill", "primer"])
    assert rows[primed][0] == "0:22-0:32"
    assert " ".join(rows[primed + 1]) == "0:42 clean out the airbrush"


@pytest.mark.parametrize("other", ["--no-picture", "--times"])
def test_a_place_for_a_picture_that_is_not_drawn_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], other: str
) -> None:
    assert main(["order", DEMO, other, "--out", str(tmp_path / "plan.png")]) == 2
    out, err = capsys.readouterr()
    assert (out, err) == ("", f"layersim: --out and {other}: found both; expected one of them\n")


def test_times_can_be_pasted_into_the_scheme(
    scheme_file: Path, paints_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shared = ["--paints", str(paints_folder)]
    assert main(["order", str(scheme_file), *shared, "--times", "--session", "2"]) == 0
    table = capsys.readouterr().out
    assert "session_h = 2" in table
    scheme_file.write_text(scheme_file.read_text().replace("[hand]", table + "\n[hand]", 1))
    assert main(["order", str(scheme_file), *shared, "--no-picture"]) == 0
    assert "at most 2 h" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("extra", "message"),
    [
        (["--session", "0"], "--session: found 0; expected hours, above 0, at most 24"),
        (["--session", "nan"], 'found "nan"; expected a number'),
        (["--models", "0"], "--models: found 0; expected a whole number from 1"),
        (["--models", "many"], 'found "many"; expected a whole number'),
        (["--out", "plan.doc"], "a picture is written as png, pdf, svg or html"),
        (["--sesion", "2"], 'Did you mean "--session"?'),
    ],
)
def test_bad_arguments(
    scheme_file: Path,
    paints_folder: Path,
    capsys: pytest.CaptureFixture[str],
    extra: list[str],
    message: str,
) -> None:
    assert main(["order", str(scheme_file), "--paints", str(paints_folder), *extra]) == 2
    assert message in capsys.readouterr().err
