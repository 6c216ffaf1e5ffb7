"""Pictures with slips in them: artwork, and photographs that greys, chips and cards are read from."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image

from layersim.decide.spot import spot_in
from layersim.errors import LONGEST_MESSAGE, LayersimError
from layersim.fitting.chip import Grey, read_reference, spot_seen
from layersim.resources import data_folder
from tests.decide import hostile

_SIDE = 440
"""A chart is still found in it."""


def sound_photographs(folder: Path) -> list[bytes]:
    """Return the example card and its chart, small, in the formats and depths that are read."""
    import OpenImageIO as oiio  # noqa: N813 - so its own manual calls it

    with Image.open(data_folder() / "examples" / "teal-card.jpg") as whole:
        whole.thumbnail((_SIDE, _SIDE))
        picture = whole.convert("RGB")
    turned = Image.Exif()
    turned[0x0112] = 6
    found = []
    for kind, options in (
        ("JPEG", {"exif": turned, "quality": 92}), ("JPEG", {"progressive": True}), ("PNG", {}), ("TIFF", {}),
        ("TIFF", {"compression": "tiff_lzw"}), ("TIFF", {"compression": "jpeg"}),
        ("TIFF", {"compression": "tiff_adobe_deflate", "exif": turned}),
    ):  # fmt: skip
        out = io.BytesIO()
        picture.save(out, kind, **options)
        found.append(out.getvalue())
    for ending in ("png", "tif"):
        path = folder / f"deep.{ending}"
        written = oiio.ImageOutput.create(str(path))
        written.open(str(path), oiio.ImageSpec(picture.width, picture.height, 3, oiio.UINT16))
        written.write_image(np.asarray(picture, dtype=np.uint16) * 257)
        written.close()
        found.append(path.read_bytes())
    return found


def read_as_photograph(path: Path, rng: np.random.Generator) -> None:
    """Read a spot of a photograph, by a grey card in it or by its chart, and hold it to be a colour."""
    x, y = rng.uniform(0.0, 100.0, 2)
    by_grey = rng.random() < 0.8
    reference = read_reference(path, greys=[Grey((x, y))] if by_grey else [])
    spot = spot_seen(reference, tuple(rng.uniform(0.0, 100.0, 2)))
    assert np.isfinite([*spot.lab, spot.doubt, spot.lightness_doubt]).all()


def read_as_artwork(path: Path, rng: np.random.Generator) -> None:
    """Read a target from a spot of a picture, and hold it to be a colour."""
    spot = spot_in(hostile.art.read_artwork(path), tuple(rng.uniform(0.0, 100.0, 2)))
    assert np.isfinite([*spot.lab, spot.target.doubt]).all()


def faults(folder: Path, *, count: int, seed: int) -> Iterator[str]:
    """Yield what went wrong with some spoilt pictures; a file that shows it stays in the folder."""
    rng = np.random.default_rng(seed)
    kinds = (
        (read_as_photograph, sound_photographs(folder)),
        (read_as_artwork, hostile.sound_pictures() + list(hostile.OTHER_KINDS)),
    )
    for i in range(count):
        read, whole = kinds[i % 2]
        path = folder / f"fuzz-{i}.jpg"
        path.write_bytes(hostile.spoilt(whole[int(rng.integers(len(whole)))], rng))
        wrong = ""
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                read(path, rng)
        except LayersimError as fault:
            message = str(fault)
            if len(message) > LONGEST_MESSAGE or not message.isprintable():
                wrong = f"unfit to show: {message!r}"
        except Exception as fault:
            wrong = f"{type(fault).__name__}: {fault}"
        if wrong:
            yield f"{path}: {read.__name__}: {wrong}"
        else:
            path.unlink()
