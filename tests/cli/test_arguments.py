"""Arguments that several commands share: what goes together and what does not."""

from __future__ import annotations

from pathlib import Path

import pytest

import layersim
from layersim.cli import main

DEMO = str(layersim.demo_scheme())


@pytest.mark.parametrize(
    "words",
    [
        ["preview", DEMO],
        ["compare", DEMO, "--choice", "a: light = A"],
        ["tolerance", DEMO],
        ["match", DEMO, "--area", "straps", "--coat", "base", "--as-planned"],
    ],
    ids=lambda words: words[0],
)
def test_a_place_for_a_picture_that_is_not_wanted_is_refused(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, "--no-picture", "--out", str(tmp_path / "x.png")]) == 2
    out, err = capsys.readouterr()
    assert (out, err) == ("", "layersim: --out and --no-picture: found both; expected one of them\n")
    assert list(tmp_path.iterdir()) == []
