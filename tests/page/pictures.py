"""Pictures that a painter, or somebody who means harm, may drop on the page."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import numpy.typing as npt
from PIL import Image

COLOURS = {"shadow": (30, 40, 70), "mid": (60, 90, 140), "light": (150, 180, 210)}


def artwork(*, noisy: bool = False) -> bytes:
    """Three upright fields of blue: shadow on the left, mid, light on the right, as a PNG."""
    pixels = np.zeros((90, 150, 3), dtype=np.float64)
    for i, rgb in enumerate(COLOURS.values()):
        pixels[:, 50 * i : 50 * (i + 1)] = rgb
    if noisy:
        pixels += np.random.default_rng(1).normal(0.0, 12.0, pixels.shape)
    return png(np.clip(pixels, 0, 255).astype(np.uint8))


def png(pixels: npt.NDArray[np.uint8]) -> bytes:
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, format="png")
    return file.getvalue()


def bomb(side: int = 60_000) -> bytes:
    """A PNG of few bytes that says it has very many pixels, and has them."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return (
            struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        )

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 4_000_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


EPS = (
    b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n%%EndComments\n(/tmp/x) (w) file\nshowpage\n%%EOF\n"
)
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><image href="file:///etc/passwd"/></svg>'

HOSTILE = {
    "nothing at all": b"",
    "words": b"not a picture",
    "EPS named .jpg": EPS,
    "SVG named .png": SVG,
    "cut short": artwork()[:200],
    "a bomb": bomb(),
    "zeros": bytes(5000),
}
