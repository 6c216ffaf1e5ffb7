"""The finished photograph as a file: in its own encoding, with nothing that tells of people or places."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Final

from layersim.errors import OutputError, quoted
from layersim.figure.figure import Figure
from layersim.files import write_whole

ENDINGS: Final = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG"}
_QUALITY: Final = 95


def check_finished(path: Path) -> None:
    """Raise OutputError if a photograph cannot be written under a name."""
    if path.suffix.lower() not in ENDINGS:
        raise OutputError(f"{path}: found {quoted(path.suffix)}; expected a name that ends in .jpg or .png")


def save_finished(figure: Figure, path: Path) -> None:
    """Write the finished photograph as .jpg or .png; raises OutputError.

    The colour profile is kept, since levels mean colours by it. Of the rest that a camera writes (where, when
    and by whom) nothing is.
    """
    from PIL import Image

    check_finished(path)
    with Image.open(figure.model.photograph.path) as image:
        profile = image.info.get("icc_profile")
    kept = {"icc_profile": profile} if isinstance(profile, bytes) and profile else {}
    content = io.BytesIO()
    Image.fromarray(figure.finished).save(content, ENDINGS[path.suffix.lower()], quality=_QUALITY, **kept)
    write_whole(path, content.getvalue())
