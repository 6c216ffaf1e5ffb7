"""What the program reads of data/ travels in the wheel."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_every_folder_that_is_read_is_in_the_wheel() -> None:
    """A form that comes with layersim was there in the tree alone."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    taken = settings["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    sources = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "layersim").rglob("*.py"))
    read = set(re.findall(r'data_folder\(\) / "([a-z]+)"', sources))
    assert len(read) > 4
    assert {f"data/{folder}": f"layersim/data/{folder}" for folder in read}.items() <= taken.items()
