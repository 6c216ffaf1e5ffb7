"""The version of the package, kept in pyproject.toml and here; a test holds them equal."""

from typing import Final

VERSION: Final = "0.1.0"
