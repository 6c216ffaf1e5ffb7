"""What a built package holds."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

TREE = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """Names of the files in a wheel built from this tree."""
    folder = tmp_path_factory.mktemp("wheel")
    words = ["-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    subprocess.run([sys.executable, *words], cwd=TREE, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    return set(zipfile.ZipFile(wheel).namelist())


def test_type_checkers_are_told_that_it_has_types(held: set[str]) -> None:
    assert "layersim/py.typed" in held


def test_its_data_travels_inside_and_nothing_else_does(held: set[str]) -> None:
    for kind in ("colour", "paints", "schemes", "fitting"):
        assert {f"layersim/data/{kind}/{path.name}" for path in (TREE / "data" / kind).iterdir()} <= held
    vendor = TREE / "layersim" / "page" / "static" / "vendor"
    assert {f"layersim/page/static/vendor/{path.name}" for path in vendor.iterdir()} <= held
    assert {name.split("/")[0].partition("-")[0] for name in held} == {"layersim"}
