"""Where the files that travel with the package lie."""

from __future__ import annotations

from pathlib import Path


def data_folder() -> Path:
    """Return the folder of starter paints, demo scheme and colour table.

    In a wheel they lie inside the package; in the tree `data/` stands beside it.
    """
    package = Path(__file__).resolve().parent
    inside = package / "data"
    return inside if inside.is_dir() else package.parent / "data"


def demo_scheme() -> Path:
    """Return the file of the demo scheme, an invented one."""
    return data_folder() / "schemes" / "tide-lamplighters.toml"
