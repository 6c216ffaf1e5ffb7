"""The command `layersim order`."""

from __future__ import annotations

from pathlib import Path

import pytest

from layersim.cli import main

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
        (["--out", "plan.doc"], "a picture is written as png, pdf or svg"),
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
