"""Notebooks are percent-format scripts: each runs from top to bottom."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.py"))


def test_there_are_notebooks():
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_runs(path, capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("LAYERSIM_PAINTS", str(tmp_path))
    runpy.run_path(str(path), run_name="__main__")
    assert "ΔE00" in capsys.readouterr().out
    assert not list(tmp_path.iterdir())
