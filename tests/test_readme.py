"""Whoever follows the README, command by command, in a folder of their own, gets what it promises."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from urllib.parse import unquote, urlsplit
from urllib.request import Request, urlopen

import pytest

from layersim.cli import main
from layersim.page.opening import PREFIX
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


def opened(address: str) -> bool:
    """Stand in for a browser that opens what it is given, and presses Stop if that is the page."""
    if PREFIX in address:
        leads = Path(unquote(urlsplit(address).path)).read_text(encoding="utf-8")
        page, key = re.findall(r'<a href="(http://[^#"]+)#key=([^"]+)"', leads)[0]
        with urlopen(Request(page)) as front:
            assert b'id="page"' in front.read()
        with urlopen(Request(f"{page}api/stop", method="POST", headers={"X-Layersim-Token": key})) as done:
            assert done.status == 200
    return True


def test_every_command_of_the_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("LAYERSIM_PAINTS", str(tmp_path / "paints"))
    # An icon for the page goes onto a desktop of this test's own, and a page is ended once it can be opened.
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr("webbrowser.open", opened)
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
