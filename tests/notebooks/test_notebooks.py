"""Notebooks are percent files, each of which runs from top to bottom; beside it lies what it gave."""

from __future__ import annotations

import json
import re
import runpy
import sys
import tempfile
from pathlib import Path

import pytest

from data.generate.notebooks import unrun

FOLDER = Path(__file__).parents[2] / "notebooks"
PERCENT = sorted(FOLDER.glob("*.py"))
LARGEST_BYTES = 300_000
HERE = {str(FOLDER.parent), str(Path.home()), tempfile.gettempdir(), sys.prefix, "/home/", "/Users/", ":\\\\"}
"""What begins the name of a folder on somebody's machine."""


def of_each(name):
    return pytest.mark.parametrize("path", PERCENT, ids=lambda path: path.stem)(name)


def test_each_is_there_twice():
    assert PERCENT
    assert [path.stem for path in PERCENT] == sorted(path.stem for path in FOLDER.glob("*.ipynb"))


@of_each
def test_notebook_runs(path, capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("LAYERSIM_PAINTS", str(tmp_path))
    runpy.run_path(str(path), run_name="__main__")
    assert "ΔE00" in capsys.readouterr().out
    assert not list(tmp_path.iterdir())


@of_each
def test_what_was_run_is_what_stands_beside_it(path):
    written = json.loads(path.with_suffix(".ipynb").read_text(encoding="utf-8"))
    source = unrun(path.read_text(encoding="utf-8"))
    for notebook in (written, source):
        for cell in notebook["cells"]:
            cell["source"] = "".join(cell["source"])
            if cell["cell_type"] == "code":
                cell |= {"outputs": [], "execution_count": None}
    assert written == source, "run: make notebooks"


@of_each
def test_it_holds_pictures_and_is_small_and_nobodys_own(path):
    written = path.with_suffix(".ipynb")
    text = written.read_text(encoding="utf-8")
    assert '"text/html"' in text
    assert written.stat().st_size < LARGEST_BYTES
    said = re.sub(r'"image/png": "[^"]*"', "", text)
    assert not [place for place in HERE if place in said]
    outputs = [o for cell in json.loads(text)["cells"] for o in cell.get("outputs", [])]
    assert not [o for o in outputs if o["output_type"] == "error" or o.get("name") == "stderr"]
