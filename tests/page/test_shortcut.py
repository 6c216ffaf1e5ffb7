"""The icon on the desktop, by what stands in it, for the three kinds of systems."""

from __future__ import annotations

import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from layersim.cli import main
from layersim.errors import OutputError
from layersim.page.shortcut import removal, shortcut_places, shortcut_text

ODD = [
    "/opt/my python/bin/python",
    "-m",
    "layersim",
    'a "quoted" $HOME `name` 100% \\ back',
    "it's; & ^ (so)",
]


def words_of_exec(entry: str) -> list[str]:
    """Read Exec as the Desktop Entry Specification has it: the value's escapes, the quotes, then percents."""
    line = next(row for row in entry.splitlines() if row.startswith("Exec="))[len("Exec=") :]
    value = line.replace("\\\\", "\\")
    words, at = [], 0
    while at < len(value):
        assert value[at] == '"'
        at, word = at + 1, ""
        while value[at] != '"':
            if value[at] == "\\":
                at += 1
            word += value[at]
            at += 1
        words.append(word.replace("%%", "%"))
        at += 2
    return words


def test_linux_runs_the_very_words() -> None:
    entry = shortcut_text("linux", ODD)
    assert entry.startswith("[Desktop Entry]\nType=Application\nName=layersim\n")
    assert "\nTerminal=false\n" in entry
    assert words_of_exec(entry) == ODD


def test_macos_runs_the_very_words() -> None:
    text = shortcut_text("darwin", ODD)
    assert text.startswith("#!/bin/sh\n")
    line = text.splitlines()[-1]
    assert shlex.split(line) == ["exec", *ODD]


def test_the_macos_file_runs(tmp_path: Path) -> None:
    """Any shell of the same family runs it as that system's does."""
    out = tmp_path / "it's here & there"
    text = shortcut_text(
        "darwin", [sys.executable, "-c", "import sys; open(sys.argv[1], 'w').close()", str(out)]
    )
    file = tmp_path / "x.command"
    file.write_text(text, encoding="utf-8")
    subprocess.run(["/bin/sh", str(file)], check=True, timeout=30)
    assert out.exists()


def test_windows_starts_the_very_words() -> None:
    text = shortcut_text("win32", [r"C:\my python\python.exe", "open", r"D:\paints & 100% (mine)", "C:\\"])
    lines = text.split("\r\n")
    assert lines[0] == "@echo off"
    assert lines[2] == (
        r'start "layersim" /min "C:\my python\python.exe" "open" "D:\paints & 100%% (mine)" "C:\\"'
    )


@pytest.mark.parametrize("system", ["linux", "darwin", "win32"])
def test_a_name_of_several_lines_makes_no_second_command(system: str) -> None:
    with pytest.raises(OutputError, match="rename it"):
        shortcut_text(system, ["python", "a\nExec=evil"])


def test_a_quote_cannot_end_a_word_on_windows() -> None:
    with pytest.raises(OutputError, match="a quote in it"):
        shortcut_text("win32", ["python", 'a" & calc'])


class TestPlaces:
    def test_each_system_has_its_own_ending(self, tmp_path: Path) -> None:
        (tmp_path / "Desktop").mkdir()
        desktop = tmp_path / "Desktop"
        assert shortcut_places("darwin", {}, tmp_path) == [desktop / "layersim.command"]
        assert shortcut_places("win32", {}, tmp_path) == [desktop / "layersim.cmd"]
        menu = tmp_path / ".local" / "share" / "applications" / "layersim.desktop"
        assert shortcut_places("linux", {}, tmp_path) == [desktop / "layersim.desktop", menu]

    def test_linux_has_a_menu_where_there_is_no_desktop(self, tmp_path: Path) -> None:
        places = shortcut_places("linux", {"XDG_DATA_HOME": str(tmp_path / "data")}, tmp_path)
        assert places == [tmp_path / "data" / "applications" / "layersim.desktop"]

    def test_a_desktop_of_another_name_is_found(self, tmp_path: Path) -> None:
        (tmp_path / "Schreibtisch").mkdir()
        (tmp_path / ".config").mkdir()
        (tmp_path / ".config" / "user-dirs.dirs").write_text('XDG_DESKTOP_DIR="$HOME/Schreibtisch"\n')
        assert shortcut_places("linux", {}, tmp_path)[0] == tmp_path / "Schreibtisch" / "layersim.desktop"

    def test_a_desktop_kept_elsewhere_on_windows_is_found(self, tmp_path: Path) -> None:
        cloud = tmp_path / "cloud"
        (cloud / "Desktop").mkdir(parents=True)
        places = shortcut_places("win32", {"OneDrive": str(cloud)}, tmp_path)
        assert places == [cloud / "Desktop" / "layersim.cmd"]

    def test_no_desktop_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(OutputError, match="no icon can be put"):
            shortcut_places("darwin", {}, tmp_path)


def test_the_command_puts_it_there_and_says_how_to_take_it_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "Desktop").mkdir()
    mine = tmp_path / "my schemes"
    mine.mkdir()
    for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr(sys, "platform", "linux")
    assert main(["open", "--shortcut", "--folder", str(mine)]) == 0
    said = capsys.readouterr().out
    icon = tmp_path / "Desktop" / "layersim.desktop"
    assert str(icon) in said
    assert icon.stat().st_mode & 0o111
    words = words_of_exec(icon.read_text(encoding="utf-8"))
    assert words[0] == sys.executable
    assert words[-2:] == ["--folder", str(mine)]
    taken = next(line for line in said.splitlines() if line.startswith("To take it away: "))
    subprocess.run(taken.removeprefix("To take it away: "), shell=True, check=True)
    assert not icon.exists()


def test_windows_is_told_in_words() -> None:
    assert removal("win32", [Path("x")]) == "To take it away, delete that file."
