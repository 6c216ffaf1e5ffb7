"""Fixtures for all tests: a shelf of synthetic paints, a scheme file, and no paints of the reader's own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from layersim import sprayer
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme
from layersim.shelf import FOLDER_VARIABLE, Shelf
from tests.examples import SCHEME, fill


@pytest.fixture(autouse=True)
def nobody(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever runs the tests has no paints, no sprayers, and no wish about colours."""
    own = tmp_path_factory.mktemp("own")
    (own / "paints").mkdir()
    monkeypatch.setenv(FOLDER_VARIABLE, str(own / "paints"))
    monkeypatch.setenv(sprayer.FOLDER_VARIABLE, str(own / "sprayers"))
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("FORCE_COLOR", raising=False)


@pytest.fixture(scope="session")
def paints_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of the synthetic paints; nobody writes into it."""
    return fill(tmp_path_factory.mktemp("paints"))


@pytest.fixture
def shelf(paints_folder: Path) -> Shelf:
    """A shelf of the synthetic paints alone."""
    return Shelf([paints_folder])


@pytest.fixture
def scheme_file(tmp_path: Path) -> Path:
    """A scheme that uses nearly every key."""
    path = tmp_path / "rig.toml"
    path.write_text(SCHEME, encoding="utf-8")
    return path


@pytest.fixture
def read(tmp_path: Path, shelf: Shelf) -> Callable[[str], Scheme]:
    """Read a scheme from its text."""

    def from_text(text: str) -> Scheme:
        path = tmp_path / "scheme.toml"
        path.write_text(text, encoding="utf-8")
        return load_scheme(path, shelf)

    return from_text


@pytest.fixture
def rig(read: Callable[[str], Scheme]) -> Scheme:
    """The scheme that uses nearly every key."""
    return read(SCHEME)
