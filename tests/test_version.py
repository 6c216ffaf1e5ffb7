"""One version, said in several places."""

from __future__ import annotations

import importlib.metadata
import re
import tomllib
from pathlib import Path

from layersim.version import VERSION

TREE = Path(__file__).parents[1]


def test_the_package_and_its_build_file_say_the_same() -> None:
    built = tomllib.loads((TREE / "pyproject.toml").read_text(encoding="utf-8"))
    assert built["project"]["version"] == VERSION


def test_the_change_log_begins_with_it() -> None:
    text = (TREE / "docs" / "changelog.md").read_text(encoding="utf-8")
    assert re.findall(r"^## (\S+)", text, re.MULTILINE)[0] == VERSION


def test_who_cites_it_cites_it() -> None:
    text = (TREE / "CITATION.cff").read_text(encoding="utf-8")
    assert re.findall(r"^version: (\S+)$", text, re.MULTILINE) == [VERSION]


def test_what_is_installed_is_this() -> None:
    assert importlib.metadata.version("layersim") == VERSION
