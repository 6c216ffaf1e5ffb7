"""Pages and notebooks that are generated are as the program would write them now."""

from __future__ import annotations

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from data.generate import command_reference

TREE = Path(__file__).parents[1]


def test_the_command_reference_is_that_of_this_program() -> None:
    written = command_reference.PAGE.read_text(encoding="utf-8")
    assert written == command_reference.page(), "run: make generated"


@pytest.mark.skipif(find_spec("myst_parser") is None, reason="needs the extra docs")
def test_the_site_builds_without_a_warning(tmp_path: Path) -> None:
    words = ["-m", "sphinx", "--fail-on-warning", "--quiet", "-b", "html", "-c", "docs/site", "docs"]
    subprocess.run([sys.executable, *words, str(tmp_path)], cwd=TREE, check=True)
    assert (tmp_path / "commands.html").is_file()
