"""The finished photograph as a file: in its own encoding, with nothing that tells of people or places."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from layersim.errors import OutputError, quoted
from layersim.figure.figure import Figure
from layersim.figure.repaint import Picture
from layersim.files import write_whole

ENDINGS: Final = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG"}
_QUALITY: Final = 95
TURNTABLES: Final = {".webp": "WEBP", ".png": "PNG", ".gif": "GIF"}
"""Endings of animated pictures that go round for ever."""
_EACH_MS: Final = 120


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


def check_turntable(path: Path) -> None:
    """Raise OutputError if an animated picture cannot be written under a name."""
    if path.suffix.lower() not in TURNTABLES:
        raise OutputError(
            f"{path}: found {quoted(path.suffix)}; expected a name that ends in .webp, .png or .gif"
        )


def save_turntable(pictures: Sequence[Picture], path: Path) -> None:
    """Write pictures as one that moves, over and over; raises OutputError."""
    from PIL import Image

    check_turntable(path)
    kind = TURNTABLES[path.suffix.lower()]
    first, *others = (Image.fromarray(picture) for picture in pictures)
    if kind == "GIF":
        # One palette for all, so that nothing flickers; rare colours keep theirs, and no dots crawl.
        every = Image.fromarray(np.vstack(list(pictures))).quantize(256, Image.Quantize.FASTOCTREE)
        first, *others = (one.quantize(palette=every, dither=Image.Dither.NONE) for one in (first, *others))
    content = io.BytesIO()
    how: dict[str, Any] = {"quality": 90, "method": 4} if kind == "WEBP" else {}
    first.save(content, kind, save_all=True, append_images=others, duration=_EACH_MS, loop=0, **how)
    write_whole(path, content.getvalue())
