"""Hostile pictures: sound ones in every format read, spoilt at random, and some of other kinds."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

import numpy as np
from PIL import Image

from layersim.decide import artwork as art
from layersim.errors import ArtworkError
from layersim.views.artwork import sentences

OTHER_KINDS = (
    b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\nshowpage\n",
    b"DDS \x7c\x00\x00\x00" + b"\x10" * 120 + b"DXT1" + b"\x00" * 64,
    b"\x00\x00\x00\x1cftypavif\x00\x00\x00\x00avifmif1miaf" + b"\x01" * 80,
    b"P6\n4 4\n255\n" + b"\x80" * 48,
    b"<svg xmlns='http://www.w3.org/2000/svg'/>",
    b"%PDF-1.4\n",
)


def sound_pictures() -> list[bytes]:
    """Return small pictures in every format and many modes."""
    rows = np.arange(24 * 32, dtype=np.uint16).reshape(24, 32)
    rgb = np.stack([rows % 251, rows % 197, rows % 83], axis=-1).astype(np.uint8)
    base = Image.fromarray(rgb)
    clear = base.convert("RGBA")
    clear.putalpha(Image.fromarray((rows % 256).astype(np.uint8)))
    deep = Image.fromarray(rows * np.uint16(80))
    exif = Image.Exif()
    exif[0x0112] = 6
    many: list[tuple[Image.Image, str, dict[str, object]]] = [
        (base, "PNG", {}), (clear, "PNG", {}), (base.quantize(16), "PNG", {"transparency": 3}),
        (deep, "PNG", {}), (base.convert("L"), "PNG", {}), (base.convert("1"), "PNG", {}),
        (base, "JPEG", {"exif": exif}), (base, "JPEG", {"progressive": True}),
        (base.convert("CMYK"), "JPEG", {}),
        (base, "WEBP", {"lossless": True}), (clear, "WEBP", {"save_all": True, "append_images": [base]}),
        (base, "GIF", {"save_all": True, "append_images": [base.rotate(90)]}), (base, "BMP", {}),
        (base.quantize(8), "BMP", {}), (base, "TIFF", {}), (deep, "TIFF", {}),
        *((base, "TIFF", {"compression": kind}) for kind in ("tiff_lzw", "jpeg", "tiff_adobe_deflate")),
        (base.convert("CMYK"), "TIFF", {"compression": "packbits"}), (base.convert("LAB"), "TIFF", {}),
        (base.convert("F"), "TIFF", {}), (base.convert("1"), "TIFF", {"compression": "group4"}),
    ]  # fmt: skip
    found = []
    for picture, kind, options in many:
        out = io.BytesIO()
        picture.save(out, kind, **options)
        found.append(out.getvalue())
    return found


def spoilt(whole: bytes, draw: np.random.Generator) -> bytes:
    """Return a picture with bytes changed, mostly near its header, or cut short, or with a part doubled."""
    content = bytearray(whole)
    for _ in range(int(draw.integers(1, 6))):
        at = int(len(content) * draw.random() ** draw.choice([1, 3]))
        match draw.integers(5):
            case 0:
                content[at : at + 1] = draw.bytes(1)
            case 1:
                content[at : at + 4] = draw.choice(
                    [b"\xff\xff\xff\xff", b"\x00\x00\x00\x00", b"\x7f\xff\xff\xff"]
                )
            case 2:
                del content[at : at + int(draw.integers(1, 40))]
            case 3:
                content[at:at] = content[at : at + int(draw.integers(1, 200))]
            case _:
                del content[max(8, at) :]
    return bytes(content)


def survives(path: Path, content: bytes) -> art.Artwork | None:
    """Read whatever it is: a sound picture, or a complaint of one line. Nothing may warn."""
    path.write_bytes(content)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            found = art.read_artwork(path)
        except ArtworkError as fault:
            said = str(fault)
        else:
            said = ""
    if said:
        assert said.startswith(f"{path}: ")
        assert len(said.splitlines()) == 1
        return None
    assert np.isfinite(found.linear).all()
    assert sentences(found, {}, proposed=True)
    return found
