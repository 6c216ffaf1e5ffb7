"""Whoever follows the README, command by command, in a folder of their own, gets what it promises."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from layersim.cli import main
from layersim.resources import data_folder

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
TO_FILL_IN = {
    "layersim fit card-swatches.toml": 'found "card.jpg", which is not there',
    "layersim fit my-swatches.toml": "there is no such file",
}
"""Commands that come after something that a painter does, and what they say before it is done."""


def commands() -> list[str]:
    lines = re.findall(r"^ *(layersim .*)", README.partition("## Begin")[2], re.MULTILINE)
    within = re.findall(r"`(layersim [a-z]+ [^`]*|layersim paints)`", README)
    first = [line for line in lines if " start " in line or " testcard " in line]
    return [re.sub(r"\s+# .*", "", line) for line in dict.fromkeys([*first, *within, *lines])]


def test_every_command_of_the_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("LAYERSIM_PAINTS", str(tmp_path / "paints"))
    monkeypatch.setattr("webbrowser.open", lambda _: True)
    (tmp_path / "data").symlink_to(data_folder())
    assert len(commands()) > 20
    for command in commands():
        code = main(shlex.split(command)[1:])
        err = capsys.readouterr().err
        if command in TO_FILL_IN:
            assert (code, TO_FILL_IN[command] in err) == (2, True), command
        else:
            assert code == 0, (command, err)


def test_every_file_that_it_names_is_there() -> None:
    for name in re.findall(r"\]\(([^):]+)\)|src=\"([^\"]+)\"", README):
        assert (Path(__file__).parents[1] / "".join(name)).exists(), name


def test_its_pictures_are_small() -> None:
    for picture in (Path(__file__).parents[1] / "docs" / "pictures").iterdir():
        assert picture.stat().st_size < 300_000, picture.name
