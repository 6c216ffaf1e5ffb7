"""Answers that show themselves: print them, save them, turn them into plain values."""

from __future__ import annotations

import importlib
from os import PathLike
from pathlib import Path
from typing import Any


class Shown:
    """What an answer can do by itself, in Python.

    Views and writers are higher rooms, and no answer needs them to be worked out. They are looked up by name
    when somebody asks to see the answer, which is the one import here that points upwards.
    """

    def __init_subclass__(cls) -> None:
        # Set here, it stands before the one that dataclasses make, which would print every spectrum.
        if "__repr__" not in cls.__dict__:
            cls.__repr__ = Shown.__repr__  # type: ignore[method-assign]

    def __repr__(self) -> str:
        """Return what this is, and of what, in one line."""
        of = getattr(self, "scheme", None) or getattr(self, "paint", None)
        return f"<{type(self).__name__}{f' of {of.name!r}' if of is not None else ''}>"

    def __str__(self) -> str:
        """Return the answer as the command line prints it, without colour."""
        return str(_room("writers.terminal").text(_room("views").of(self)))

    def save(self, path: str | PathLike[str]) -> Path:
        """Write the answer as .png, .pdf, .svg, .html or .json, by the ending, and return the path.

        Raises OutputError if it cannot be written there.
        """
        path = Path(path)
        if path.suffix.lower() == ".json":
            _room("files").write_whole(path, _room("writers.data").json_text(self.to_dict()))
        else:
            _room("writers.whole").save(_room("views").of(self), path)
        return path

    def to_dict(self) -> dict[str, Any]:
        """Return the answer as plain values, in the form of the JSON that commands write."""
        content: dict[str, Any] = _room("writers.data").document(self, name=_room("views").name_of(self))
        return content

    def _repr_html_(self) -> str:
        """Return the answer as a notebook shows it."""
        return str(_room("writers.html").notebook(_room("views").of(self)))


def _room(name: str) -> Any:
    return importlib.import_module(f"layersim.{name}")
