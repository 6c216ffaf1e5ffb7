"""Files that are not ours: those colour-science carries for its own tests."""

from __future__ import annotations

import importlib.util
from pathlib import Path


def library_files() -> Path:
    """Return their folder, without importing the library."""
    spec = importlib.util.find_spec("colour")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "io" / "tests" / "resources"
