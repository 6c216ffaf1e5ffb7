"""The command `layersim card`."""

from __future__ import annotations

from pathlib import Path

import pytest

from layersim.cli import main


def test_it_writes_both(
    scheme_file: Path,
    paints_folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["card", str(scheme_file), "--paints", str(paints_folder), "--models", "4"]) == 0
    said = capsys.readouterr().out
    assert f"To print: {tmp_path / 'rig-card.pdf'}" in said
    assert f"For a phone: {tmp_path / 'rig-card.html'}" in said
    assert Path("rig-card.pdf").read_bytes().startswith(b"%PDF")
    assert "Bench card for 4 models" in Path("rig-card.html").read_text(encoding="utf-8")


def test_one_of_them_and_one_area(scheme_file: Path, paints_folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "strap.html"
    asked = ["card", str(scheme_file), "--paints", str(paints_folder), "--area", "strap", "--out", str(out)]
    assert main(asked) == 0
    page = out.read_text(encoding="utf-8")
    assert "strap" in page
    assert "<h2>strap</h2>" in page
    assert not (tmp_path / "rig-card.pdf").exists()


@pytest.mark.parametrize(
    ("extra", "message"),
    [
        (["--out", "card.png"], "a card is written as pdf or html, by the name's ending"),
        (["--out", "card.htm"], 'Did you mean "html"?'),
        (["--out", "nowhere/card.pdf"], "there is no folder nowhere"),
        (["--area", "strp"], 'Did you mean "strap"?'),
        (["--models", "0"], "--models: found 0; expected a whole number from 1"),
    ],
)
def test_bad_arguments(
    scheme_file: Path,
    paints_folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    extra: list[str],
    message: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["card", str(scheme_file), "--paints", str(paints_folder), *extra]) == 2
    assert message in capsys.readouterr().err
