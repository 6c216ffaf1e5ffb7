"""What a message says to type works where it is read."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

from layersim.called import called, install_command
from layersim.cli import as_typed
from layersim.cli.anywhere import anywhere_text

SCRIPTS = sysconfig.get_path("scripts")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the program in it, where somebody stands; nothing is in PATH."""
    place = tmp_path / ".venv" / "bin"
    place.mkdir(parents=True)
    (place / "layersim").touch()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PATH", str(tmp_path / "nothing"))
    return place


class TestCalled:
    def test_as_it_was_typed_where_the_shell_does_not_find_it(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(sys, "argv", [".venv/bin/layersim"])
        assert called() == ".venv/bin/layersim"

    @pytest.mark.parametrize("typed", [".venv/bin/layersim", "{folder}/layersim"])
    def test_by_its_name_where_the_shell_finds_it(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch, typed: str
    ) -> None:
        monkeypatch.setenv("PATH", str(folder))
        monkeypatch.setattr(sys, "argv", [typed.format(folder=folder)])
        assert called() == "layersim"

    def test_not_by_the_name_of_another_one_that_the_shell_finds_first(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        (tmp_path / "layersim").touch()
        monkeypatch.setenv("PATH", os.pathsep.join([str(tmp_path), str(folder)]))
        monkeypatch.setattr(sys, "argv", [".venv/bin/layersim"])
        assert called() == ".venv/bin/layersim"

    def test_spaces_need_quotes(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(sys, "argv", ["/my tools/layersim"])
        assert called() == '"/my tools/layersim"'

    def test_as_a_module(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(sys, "argv", ["/x/layersim/__main__.py"])
        monkeypatch.setattr(sys, "orig_argv", ["python3", "-m", "layersim"])
        assert called() == "python3 -m layersim"

    @pytest.mark.parametrize("words", [["/usr/bin/other"], [""], []])
    def test_within_another_program(self, monkeypatch: pytest.MonkeyPatch, words: list[str]) -> None:
        monkeypatch.setattr(sys, "argv", words)
        assert called() == "layersim"


class TestAsTyped:
    @pytest.mark.parametrize(
        ("text", "typed"),
        [
            ("then: layersim fit card.toml", "then: bin/layersim fit card.toml"),
            ("layersim paint x, layersim paints", "bin/layersim paint x, bin/layersim paints"),
            ("layersim --version", "bin/layersim --version"),
            ("layersim: x.toml: no such file", "layersim: x.toml: no such file"),
            ('expected format = "layersim paint 1"', 'expected format = "layersim paint 1"'),
            ("my-layersim fit; layersim reads", "my-layersim fit; layersim reads"),
        ],
    )
    def test_commands_alone_are_changed(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch, text: str, typed: str
    ) -> None:
        monkeypatch.setattr(sys, "argv", ["bin/layersim"])
        assert as_typed(text) == typed


class TestInstallCommand:
    def test_it_is_this_environments_own(self) -> None:
        python, *words = shlex.split(install_command("rawpy"))
        if python == "uv":
            assert words[:3] == ["pip", "install", "--python"]
            python = words[3]
        found = shutil.which(python)
        assert found is not None
        assert Path(found).absolute() == Path(sys.executable).absolute()
        assert words[-1] == "rawpy"

    def test_it_is_short_where_it_can_be(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        (folder / "python").touch()
        monkeypatch.setattr(sys, "executable", str(folder / "python"))
        assert os.path.join(".venv", "bin", "python") in install_command("x").split()  # noqa: PTH118
        monkeypatch.setenv("PATH", str(folder))
        assert "python" in install_command("x").split()


@pytest.mark.skipif(not Path(SCRIPTS, "layersim").exists(), reason="not installed as a command here")
class TestAnywhere:
    @pytest.mark.parametrize("shell", ["bash", "zsh"])
    def test_the_line_makes_every_new_shell_find_it(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shell: str
    ) -> None:
        program = shutil.which(shell)
        if program is None:
            pytest.skip(f"{shell} is not here")
        path = "/usr/bin:/bin"
        monkeypatch.setenv("PATH", path)
        monkeypatch.setenv("SHELL", program)
        line = next(row for row in anywhere_text().splitlines() if row.startswith("  "))
        home = {"HOME": str(tmp_path), "PATH": path}
        subprocess.run([program, "-c", line], env=home, cwd=tmp_path, check=True)
        found = subprocess.run(
            [program, "-ic", "command -v layersim"], env=home, cwd=tmp_path, capture_output=True, text=True
        )
        assert found.stdout.strip() == str(Path(SCRIPTS, "layersim"))

    def test_nothing_to_paste_where_it_is_found(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("PATH", SCRIPTS)
        assert anywhere_text() == "layersim is found from every folder: type layersim."
