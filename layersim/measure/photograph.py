"""Photographs: read whole, kept as the file's own levels, and made linear only where they are looked at.

Pillow reads headers, profiles, JPEG and 8-bit PNG. It cuts 16-bit colour to 8 without a word and turns
TIFFs by itself, so those are decoded by OpenImageIO (OpenCV 5.0, which finds the card, returned wrong
values for 16-bit TIFFs asked for as RGB). Sizes are taken from the header and judged before anything
is decoded.

    linear = curve[level]           one table per channel, from the embedded profile      (I1)

The values stay scene-referred: proportional to the light on the sensor as far as the file tells,
not clipped, not mapped into another gamut. What the file does not tell (a maker's tone curve) is
left to the calibration.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

import numpy as np
import numpy.typing as npt

from layersim.called import install_command
from layersim.colour import decode_srgb
from layersim.errors import PhotographError
from layersim.files import is_file, read_bytes, silent_decoders
from layersim.measure.profile import read_matrix_profile
from layersim.spectra import FloatArray

if TYPE_CHECKING:
    from PIL.Image import Image

Levels = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]

LARGEST_PIXELS: Final = 64_000_000
"""Beyond this a picture would not be read within a gigabyte (16-bit: 6 bytes a pixel, twice over)."""

LARGEST_FILE_BYTES: Final = 800 * 2**20
SMALLEST_SIDE_PX: Final = 200
COARSE_STEP: Final = 2.0
"""Steps of brightness, in levels, from which on a JPEG is called strongly compressed: "quality 50"."""

RAW_SUFFIXES: Final = frozenset(
    (".dng", ".cr2", ".cr3", ".nef", ".nrw", ".arw", ".raf", ".orf", ".rw2", ".pef", ".srw", ".raw")
)
"""Names that camera raw files end in."""

ENCODINGS: Final = ("profile", "srgb", "linear")
"""How levels become light: as the embedded profile says, or by the user's word."""

D50_WHITE: Final = np.array([0.9642, 1.0, 0.8249])  # ICC.1:2010 section 7.2.16
# IEC 61966-2-1: sRGB's own primaries, adapted to D50 as ICC profiles hold them (ICC.1:2010 with the
# Bradford matrix of its annex E). Columns red, green, blue; rows XYZ.
SRGB_TO_XYZ_D50: Final = np.array(
    [[0.4360747, 0.3850649, 0.1430804], [0.2225045, 0.7168786, 0.0606169], [0.0139322, 0.0971045, 0.7141733]]
)


@dataclass(frozen=True, eq=False)
class Photograph:
    """A photograph, upright, in the file's own levels."""

    path: Path
    levels: Levels
    """Shape (height, width, 3): red, green, blue."""
    curve: FloatArray
    """Shape (levels, 3): linear value of each level in each channel, equation (I1)."""
    to_xyz_d50: FloatArray
    """Shape (3, 3): the file's primaries: linear RGB to XYZ under D50, the white having Y = 1."""
    top: int
    """The level at which the picture is clipped."""
    notes: tuple[str, ...] = ()
    """What a painter should know: how its colours were read, what was ignored."""
    mean_step: float = 0.0
    """Levels from one brightness to the next that a JPEG gives a block of pixels; else 0."""
    holds_light: bool = False
    """Whether the file is known to hold light itself, as raw files do: no look was given it."""

    @property
    def height(self) -> int:
        """Rows of pixels."""
        return int(self.levels.shape[0])

    @property
    def width(self) -> int:
        """Columns of pixels."""
        return int(self.levels.shape[1])

    def linear(self, levels: Levels) -> FloatArray:
        """Return the linear values of some of :attr:`levels`, shape (..., 3), by (I1)."""
        return np.stack([self.curve[levels[..., c], c] for c in range(3)], axis=-1)


def read_photograph(path: Path, *, encoding: str = "profile") -> Photograph:
    """Return a photograph from a JPEG, PNG, TIFF (8 or 16 bits) or camera raw file.

    `encoding` is one of :data:`ENCODINGS`; a raw file is always linear. Raises PhotographError if the file
    is not there, not a picture in colour, damaged, too large or too small, or raw and rawpy is missing.
    """
    size = path.stat().st_size if is_file(path) else 0
    if size > LARGEST_FILE_BYTES:
        raise PhotographError(path, f"{size / 2**20:.0f} MB is too large a file for a photograph")
    if not read_bytes(path, what="photograph", error=PhotographError, most=size):
        raise PhotographError(path, "this file is empty; expected a photograph")
    with silent_decoders():
        if path.suffix.lower() in RAW_SUFFIXES:
            return _read_raw(path)
        return _read(path, encoding)


def _read(path: Path, encoding: str) -> Photograph:
    header = _read_header(path)
    notes: list[str] = []
    by_pillow = header.bits == 8 and header.kind != "TIFF"
    levels = _decode_by_pillow(path, notes) if by_pillow else _decode_by_oiio(path, header)
    if levels.shape[:2] != (header.height, header.width):
        raise PhotographError(path, "this picture is not of the size that its header says; it is damaged")
    curve, to_xyz = _meaning(path, header, encoding, notes)
    if header.orientation not in range(1, 9):
        notes.append(f"the file's orientation, {header.orientation}, means nothing and was ignored")
    if header.mean_step >= COARSE_STEP:
        notes.append(
            f"the JPEG is compressed so strongly that it keeps brightness in steps of {header.mean_step:.0f} "
            "of 255: use the camera's original, not a copy that was sent or saved again"
        )
    return Photograph(
        path=path,
        levels=_turned(levels, header.orientation),
        curve=curve,
        to_xyz_d50=to_xyz,
        top=len(curve) - 1,
        notes=tuple(notes),
        mean_step=header.mean_step,
        holds_light=encoding == "linear",
    )


# -- before decoding -------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Header:
    kind: str
    width: int
    height: int
    bits: int
    orientation: int
    profile: bytes | None
    mean_step: float


_SMALLER: Final = "Save it smaller: a card is read well from 4 million pixels."


def _check_size(path: Path, width: int, height: int) -> None:
    if width * height > LARGEST_PIXELS:
        raise PhotographError(
            path,
            f"{width} × {height} pixels are too many; expected at most {LARGEST_PIXELS / 1e6:.0f} million. "
            f"{_SMALLER}",
        )
    if min(width, height) < SMALLEST_SIDE_PX:
        raise PhotographError(
            path, f"{width} × {height} pixels are too few; expected {SMALLEST_SIDE_PX} or more a side"
        )


def _open(path: Path) -> Image:
    """Open a picture's header; nothing is decoded yet."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            # Pillow warns of large sizes and odd tags; sizes are judged below by our own limit.
            warnings.simplefilter("ignore")
            return Image.open(path, formats=("JPEG", "PNG", "TIFF"))
    except UnidentifiedImageError:
        raise PhotographError(
            path,
            "this is not a JPEG, PNG or TIFF picture; export the photograph as one of these "
            "(16-bit TIFF keeps most)",
        ) from None
    except Image.DecompressionBombError:
        raise PhotographError(
            path, f"too many pixels; expected at most {LARGEST_PIXELS / 1e6:.0f} million. {_SMALLER}"
        ) from None
    except Exception as fault:  # a damaged header can fail anywhere inside the decoder
        raise PhotographError(path, f"this picture is damaged ({_plain(fault)})") from None


def _read_header(path: Path) -> _Header:
    from PIL.JpegImagePlugin import JpegImageFile

    with _open(path) as image:
        _check_size(path, image.width, image.height)
        if image.mode in ("1", "L", "LA", "I", "I;16", "I;16B", "F"):
            raise PhotographError(path, "this picture is grey; expected one in colour")
        if image.mode not in ("RGB", "RGBA", "RGBX", "P"):
            raise PhotographError(
                path, f"the colours of this picture are {image.mode}; expected RGB. Export it as sRGB."
            )
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                bits = _bits(path, image)
                width, height = _stored_size(image)
                orientation = image.getexif().get(0x0112, 1)
                profile = image.info.get("icc_profile")
                # The first entry of the luma table over 8: ITU-T T.81, sections A.3.3 and A.3.4.
                mean_step = (
                    image.quantization.get(0, [0])[0] / 8.0 if isinstance(image, JpegImageFile) else 0.0
                )
        except Exception as fault:  # as in _open
            raise PhotographError(path, f"this picture is damaged ({_plain(fault)})") from None
        return _Header(
            kind=str(image.format),
            width=width,
            height=height,
            bits=bits,
            orientation=orientation if isinstance(orientation, int) else 0,
            profile=profile if isinstance(profile, bytes) and profile else None,
            mean_step=mean_step,
        )


def _stored_size(image: Image) -> tuple[int, int]:
    """Return width and height as stored: of a TIFF, Pillow tells them as the orientation tag has them."""
    if image.format == "TIFF":
        tags: Any = image
        return int(tags.tag_v2[256]), int(tags.tag_v2[257])
    return image.width, image.height


def _bits(path: Path, image: Image) -> int:
    if image.format == "PNG":
        with path.open("rb") as file:
            head = file.read(26)
        return 16 if head[24] == 16 else 8  # IHDR, W3C PNG section 11.2.1
    if image.format == "TIFF":
        tags: Any = image
        bits = tags.tag_v2.get(258, (8,))  # BitsPerSample
        deepest = max(bits) if isinstance(bits, tuple) else int(bits)
        if deepest not in (8, 16):
            raise PhotographError(path, f"{deepest} bits a channel; expected 8 or 16")
        return int(deepest)
    return 8


# -- decoding --------------------------------------------------------------------------------------


def _decode_by_pillow(path: Path, notes: list[str]) -> Levels:
    try:
        with _open(path) as image:
            if "A" in image.getbands() or "transparency" in image.info:
                notes.append("the picture's transparency was ignored")
            return np.array(image if image.mode == "RGB" else image.convert("RGB"), dtype=np.uint8)
    except PhotographError:
        raise
    except MemoryError:
        raise PhotographError(path, "there is not enough memory to read this picture") from None
    except Exception as fault:  # a damaged file can fail anywhere inside the decoder
        raise PhotographError(path, f"this picture is damaged or cut short ({_plain(fault)})") from None


def _decode_by_oiio(path: Path, header: _Header) -> Levels:
    import OpenImageIO as oiio  # noqa: N813 - so its own manual calls it

    wishes = oiio.ImageSpec()
    wishes.attribute("oiio:UnassociatedAlpha", 1)  # otherwise colours come multiplied by alpha
    source = oiio.ImageInput.open(str(path), wishes)
    if source is None:
        raise PhotographError(path, f"this picture is damaged ({_plain_text(oiio.geterror())})")
    try:
        spec = source.spec()
        if spec.nchannels < 3 or (spec.width, spec.height) != (header.width, header.height):
            raise PhotographError(path, "this picture is not what its header says; it is damaged")
        depth = oiio.UINT16 if header.bits == 16 else oiio.UINT8
        found = source.read_image(0, 0, 0, 3, depth)
        if found is None:
            raise PhotographError(
                path, f"this picture is damaged or cut short ({_plain_text(source.geterror())})"
            )
    finally:
        source.close()
    levels: Any = np.asarray(found, dtype=np.uint16 if header.bits == 16 else np.uint8)
    return cast(Levels, levels)


def _turned(levels: Levels, orientation: int) -> Levels:
    """Return the picture upright (Exif 2.3, tag 274)."""
    turned: Any = levels.transpose(1, 0, 2) if orientation in (5, 6, 7, 8) else levels
    turned = turned[::-1] if orientation in (3, 4, 7, 8) else turned
    turned = turned[:, ::-1] if orientation in (2, 3, 6, 7) else turned
    return cast(Levels, np.ascontiguousarray(turned))


def _read_raw(path: Path) -> Photograph:
    """Return a raw file's own linear colours, neither balanced nor mapped."""
    try:
        import rawpy
    except ImportError:
        raise PhotographError(
            path,
            f"reading camera raw needs rawpy; type: {install_command('rawpy')}; or export a 16-bit TIFF",
        ) from None
    try:
        with rawpy.imread(str(path)) as raw:
            _check_size(path, raw.sizes.iwidth, raw.sizes.iheight)
            levels = raw.postprocess(
                gamma=(1, 1),
                no_auto_bright=True,
                output_bps=16,
                user_wb=[1.0, 1.0, 1.0, 1.0],
                output_color=rawpy.ColorSpace.raw,
            )
            to_xyz = _raw_matrix(np.asarray(raw.rgb_xyz_matrix, dtype=np.float64)[:3])
    except PhotographError:
        raise
    except Exception as fault:  # LibRaw's own errors, of many classes
        raise PhotographError(path, f"this raw file cannot be read ({_plain(fault)})") from None
    curve = np.repeat(np.linspace(0.0, 1.0, 65536)[:, np.newaxis], 3, axis=1)
    notes = ["camera raw: linear, the camera's own colours"]
    return Photograph(path, levels, curve, to_xyz, top=65535, notes=tuple(notes), holds_light=True)


def _raw_matrix(xyz_to_rgb: FloatArray) -> FloatArray:
    """Return camera RGB to XYZ for D50, each channel scaled to give the white.

    Where the file gives no matrix the camera's channels are taken for sRGB's.
    """
    if np.linalg.matrix_rank(xyz_to_rgb) < 3:
        return SRGB_TO_XYZ_D50
    inverse = np.linalg.inv(xyz_to_rgb)
    return np.asarray(inverse * (xyz_to_rgb @ D50_WHITE))


# -- what the levels mean --------------------------------------------------------------------------


def _meaning(path: Path, header: _Header, encoding: str, notes: list[str]) -> tuple[FloatArray, FloatArray]:
    levels = np.linspace(0.0, 1.0, 2**header.bits)
    if encoding == "linear":
        notes.append("taken as linear, as asked")
        return np.repeat(levels[:, np.newaxis], 3, axis=1), SRGB_TO_XYZ_D50
    if encoding == "profile" and header.profile is not None:
        try:
            curve, to_xyz = read_matrix_profile(header.profile, levels)
        except ValueError as fault:
            raise PhotographError(
                path, f"the embedded colour profile cannot be used ({fault}). Export the picture as sRGB."
            ) from None
        notes.append("colours by the embedded profile")
        return curve, to_xyz
    notes.append(
        "the picture names no colour profile: taken as sRGB"
        if encoding == "profile"
        else "taken as sRGB, as asked"
    )
    return np.repeat(decode_srgb(levels)[:, np.newaxis], 3, axis=1), SRGB_TO_XYZ_D50


def _plain(fault: Exception) -> str:
    said = fault.args[0] if fault.args else ""
    if isinstance(said, bytes):  # as LibRaw's faults are
        return _plain_text(said.decode(errors="replace"))
    return _plain_text(getattr(fault, "strerror", None) or str(fault) or type(fault).__name__)


def _plain_text(text: str) -> str:
    lines = text.strip().splitlines()
    return lines[0][:120].lower() if lines else "no reason given"
