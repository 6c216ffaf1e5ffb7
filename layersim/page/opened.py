"""The scheme that is open, as a worker process is given it: its text, and where its paints are looked for."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from starlette.applications import Starlette

from layersim.errors import LayersimError
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Scheme


def opened(app: Starlette) -> dict[str, Any]:
    """Return what :func:`read` takes, of the scheme as it is now."""
    desk = app.state.desk
    return {"path": desk.path, "text": desk.text, "folders": tuple(desk.folders)}


def read(source: dict[str, Any]) -> Scheme:
    """Return the scheme."""
    return load_scheme(source["path"], text=source["text"], folders=source["folders"])


def own_file(app: Starlette) -> Path:
    """Return the file of the open scheme; raises LayersimError for one that is kept in none yet."""
    file: Path | None = app.state.desk.file
    if file is None:
        raise LayersimError(
            "this scheme is in no file yet, so nothing can be kept beside it. Keep it first: Save as"
        )
    return file
