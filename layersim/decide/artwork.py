"""Targets from a picture of the artwork: regions that are pointed at, or its main colours proposed.

A picture's numbers mean a colour only together with a profile. The one embedded in it is used (ICC,
through Pillow's LittleCMS); without one sRGB is assumed. Light is averaged, not the numbers of the file:
dots of ink that fill half the paper reflect half its light. Edges, lettering and outlines are left out of
main colours and tones, since their pixels are mixtures that nobody painted. A picture without colour is
taken for a picture of lightness, and its targets are neutral greys.
"""

from __future__ import annotations

import importlib.util
import io
import re
import warnings
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.errors import ArtworkError, LayersimError, quoted
from layersim.files import read_bytes, silent_decoders
from layersim.scheme.records import Targets, targets_of
from layersim.scheme.targets import Target, picked
from layersim.spectra import FloatArray

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageCms import ImageCmsTransform

Mask = npt.NDArray[np.bool_]

FORMATS: Final = ("PNG", "JPEG", "WEBP", "TIFF", "GIF", "BMP")
"""The formats read, told by content; HEIC too where the library pillow-heif is installed."""
MOST_BYTES: Final = 300 * 2**20
MOST_PIXELS: Final = 60_000_000
"""At most so many pixels are decoded: some 250 MB."""
MOST_JPEG_PIXELS: Final = 170_000_000
"""A JPEG may have more, since it can be shrunk while it is decoded."""
LEAST_CHROMA: Final = 4.0
"""A picture whose strongest colours (of one pixel in a hundred) are below this C* has no colour."""
DETAIL: Final = 9.0
"""A pixel further than this from its surroundings (ΔE*ab) is an edge, a letter or an outline."""
_JPEG_SIDE: Final = 3000
_SIDE: Final = 600
_BACKGROUND: Final = 0.25
_TO_LEVELS: Final = np.array([0.5, 128.0, 128.0])
"""What makes L*a*b* of screen colours fit bytes; steps of one ΔE are fine enough to part colours by."""
_TO_XYZ: Final = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)  # IEC 61966-2-1


@dataclass(frozen=True, eq=False)
class Artwork:
    """A picture, as colours. Arrays have the shape (height, width) of a copy of at most 600 pixels a side."""

    path: Path
    linear: FloatArray
    """Linear sRGB, 0..1, shape (height, width, 3)."""
    solid: Mask
    """Where the picture is opaque."""
    clipped: Mask
    """Where a channel stands at the end of its scale, so that the colour itself was lost."""
    plain: Mask
    """Opaque pixels that are no edge, letter or outline."""
    is_grey: bool = False
    """Whether the picture has no colour; it is then neutral throughout."""
    profile: str | None = None
    """Name of the colour profile that was used; None where sRGB is assumed."""
    is_profile_spoilt: bool = False
    is_ink: bool = False
    """Whether the file holds amounts of printing inks (CMYK)."""
    has_several: bool = False
    """Whether the file holds several pictures, of which this is the first."""

    @property
    def lab(self) -> FloatArray:
        """L*a*b* of each pixel for D65, shape (height, width, 3)."""
        return linear_to_lab(self.linear)


@dataclass(frozen=True, eq=False)
class Patch:
    """One colour of a picture, and where it comes from."""

    name: str
    lab: FloatArray
    """Of the mean light, for D65."""
    share: float
    """Of the opaque picture."""
    at: tuple[float, float]
    """Where it is found, as shares of width and height."""
    spread: float
    """Mean ΔE00 of its pixels from it."""
    clipped: float
    """Share of its pixels whose colour was lost."""
    pixels: Mask

    @property
    def target(self) -> Target:
        """The target that it makes."""
        return picked(self.lab, spread=self.spread)


@dataclass(frozen=True)
class Region:
    """A rectangle of a picture in per cent of its width and height."""

    left: float
    top: float
    width: float
    height: float


# --- a file into light ----------------------------------------------------------------------


def read_artwork(path: Path) -> Artwork:
    """Return a picture as colours.

    Raises ArtworkError if the file is none of the formats read, is damaged, too large or transparent
    everywhere.
    """
    content = read_bytes(path, what="picture", error=ArtworkError, most=MOST_BYTES)
    if not content:
        raise ArtworkError(path, "this file is empty; expected a picture")
    # Whatever a decoder grumbles about, it either gives a picture or does not.
    with warnings.catch_warnings(), silent_decoders():
        warnings.simplefilter("ignore")
        try:
            return _read(path, content)
        except ArtworkError:
            raise
        except Exception:
            # Decoders raise nearly every kind of exception on damaged files.
            words = "this picture is damaged, cut short or of a rare kind; save it anew as PNG or JPEG"
            raise ArtworkError(path, words) from None


def _read(path: Path, content: bytes) -> Artwork:
    from PIL import Image, UnidentifiedImageError

    formats = list(FORMATS)
    if importlib.util.find_spec("pillow_heif"):
        importlib.import_module("pillow_heif").register_heif_opener()
        formats.append("HEIF")
    most, most_jpeg = MOST_PIXELS // 10**6, MOST_JPEG_PIXELS // 10**6
    too_large = f"pixels; expected at most {most} million ({most_jpeg} in a JPEG)"
    with io.BytesIO(content) as file:
        try:
            picture = Image.open(file, formats=formats)
        except UnidentifiedImageError:
            known = ", ".join(formats)
            raise ArtworkError(path, f"found no picture of a kind read here; expected {known}") from None
        except Image.DecompressionBombError:
            raise ArtworkError(path, f"found far too many {too_large}") from None
        size = picture.size
        profile = picture.info.get("icc_profile")
        has_several = getattr(picture, "n_frames", 1) > 1
        # A JPEG is decoded at a half, quarter or eighth of its size where enough is left.
        picture.draft(None, (_JPEG_SIDE, _JPEG_SIDE))
        if picture.width * picture.height > MOST_PIXELS or size[0] * size[1] > MOST_JPEG_PIXELS:
            raise ArtworkError(path, f"found {size[0]} × {size[1]} {too_large}")
        picture.load()
        if picture.mode in ("I", "F"):
            raise ArtworkError(path, "found 32 bits a pixel; expected 8 or 16 bits a channel")
        named, transform, mode = _profile(picture, profile) if profile else (None, None, None)
        linear, alpha = _light(picture, transform, mode)
        turn = picture.getexif().get(0x0112, 1)
        is_ink = picture.mode == "CMYK"
    linear, alpha = _turned(linear, turn), _turned(alpha, turn)
    solid = alpha > 0.5
    if not solid.any():
        raise ArtworkError(path, "found a picture that is transparent everywhere; expected colours")
    low, high = colour.decode_srgb([0.002, 0.998])
    clipped = (linear >= high).any(axis=-1) | (linear <= low).all(axis=-1)
    chroma = np.hypot(*np.moveaxis(linear_to_lab(linear[solid])[:, 1:], -1, 0))
    is_grey = float(np.quantile(chroma, 0.99)) < LEAST_CHROMA
    if is_grey:
        linear = np.repeat((linear @ _TO_XYZ[1])[..., np.newaxis], 3, axis=-1)
    return Artwork(
        path=path,
        linear=linear,
        solid=solid,
        clipped=clipped & solid,
        plain=_plain(linear, solid),
        is_grey=is_grey,
        profile=named,
        is_profile_spoilt=bool(profile) and named is None,
        is_ink=is_ink,
        has_several=has_several,
    )


def _profile(picture: Image, profile: bytes) -> tuple[str | None, ImageCmsTransform | None, str | None]:
    """Return a profile's name, the way from it to sRGB, and the mode this starts from; or nothing."""
    from PIL import ImageCms

    kind = picture.mode if picture.mode in ("CMYK", "LAB") else "RGB"
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        space = source.profile.xcolor_space.strip()
        mode = {"RGB": "RGB", "CMYK": "CMYK", "GRAY": "L", "Lab": "LAB"}[space]
        if mode != kind and not (mode == "L" and picture.mode[0] in "1LI"):
            return None, None, None
        transform = ImageCms.buildTransform(source, ImageCms.createProfile("sRGB"), mode, "RGB")
        name = (ImageCms.getProfileDescription(source) or "").strip() or "unnamed"
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError, KeyError):
        return None, None, None
    return name, transform, mode


def _light(
    picture: Image, transform: ImageCmsTransform | None, mode: str | None
) -> tuple[FloatArray, FloatArray]:
    """Return linear sRGB (h, w, 3) and opacity (h, w), averaged over blocks, a band of rows at a time."""
    from PIL import Image

    levels = colour.decode_srgb(np.arange(256) / 255.0).astype(np.float32)
    width, height = picture.size
    step = -(-max(width, height) // _SIDE)
    rows = step * max(1, 1_000_000 // (width * step))
    is_clear = "A" in picture.getbands() or "a" in picture.getbands() or "transparency" in picture.info
    bands = []
    for top in range(0, height, rows):
        band = picture.crop((0, top, width, min(top + rows, height)))
        if band.mode.startswith("I;16"):
            # Pillow's own conversion would cut these off at 255.
            band = Image.fromarray(np.rint(np.asarray(band, dtype=np.float32) / 257.0).astype(np.uint8))
        opacity = np.ones((band.height, width, 1), dtype=np.float32)
        if is_clear:
            band = band.convert("RGBA")
            opacity = np.asarray(band.getchannel("A"), dtype=np.float32)[..., np.newaxis] / 255.0
        band = band.convert(mode or "RGB") if band.mode != (mode or "RGB") else band
        if transform is not None:
            band = transform.apply(band)
        light = np.concatenate([levels[np.asarray(band)] * opacity, opacity], axis=-1)
        light = np.add.reduceat(light, np.arange(0, width, step), axis=1)
        bands.append(np.add.reduceat(light, np.arange(0, band.height, step), axis=0))
    total = np.concatenate(bands).astype(np.float64)
    down, across = (np.diff(np.append(np.arange(0, side, step), side)) for side in (height, width))
    alpha = total[..., 3] / (down[:, np.newaxis] * across)
    return np.clip(total[..., :3] / np.maximum(total[..., 3:], 1e-9), 0.0, 1.0), alpha


def _turned(array: FloatArray, orientation: int) -> FloatArray:
    """Return a picture upright, by the orientation 1 to 8 of its EXIF data."""
    array = array.swapaxes(0, 1) if orientation in (5, 6, 7, 8) else array
    array = array[:, ::-1] if orientation in (2, 3, 6, 7) else array
    return array[::-1] if orientation in (3, 4, 7, 8) else array


def linear_to_lab(linear: FloatArray) -> FloatArray:
    """Return L*a*b* for D65 of linear sRGB, 0..1, shape (..., 3).

    >>> (linear_to_lab(np.ones(3)).round(3) + 0.0).tolist()
    [100.0, 0.0, 0.0]
    """
    return colour.lab_from_xyz(linear @ _TO_XYZ.T, _TO_XYZ.sum(axis=1))


def _smooth(linear: FloatArray) -> FloatArray:
    """Return L*a*b* of the mean light around each pixel, without the grain of paper and dots of print."""
    from scipy.ndimage import uniform_filter

    return linear_to_lab(uniform_filter(linear, size=(5, 5, 1), mode="nearest"))


def _plain(linear: FloatArray, solid: Mask) -> Mask:
    """Return the opaque pixels that look like their surroundings; all of them where few do."""
    from PIL import Image, ImageFilter

    lab = _smooth(linear)
    levels = np.rint(lab[::2, ::2] + _TO_LEVELS).astype(np.uint8)
    # The median of a window leaves out strokes, which fill less than half of it.
    around = np.asarray(Image.fromarray(levels).filter(ImageFilter.MedianFilter(7)), dtype=np.float64)
    around = around.repeat(2, axis=0).repeat(2, axis=1)[: solid.shape[0], : solid.shape[1]] - _TO_LEVELS
    plain = solid & (np.linalg.norm(lab - around, axis=-1) < DETAIL)
    # On an edge between two fields the median is a mixture, too; there the colour changes fast.
    padded = np.pad(lab, ((2, 2), (2, 2), (0, 0)), mode="edge")
    for change in (padded[4:, 2:-2] - padded[:-4, 2:-2], padded[2:-2, 4:] - padded[2:-2, :-4]):
        plain &= np.linalg.norm(change, axis=-1) < 2.0 * DETAIL
    return plain if plain.sum() >= 0.1 * solid.sum() else solid


# --- colours --------------------------------------------------------------------------------


def region_from(text: str) -> Region:
    """Return a region written as ``left,top,width,height`` in per cent; raises LayersimError.

    >>> region_from("10,20,5,5")
    Region(left=10.0, top=20.0, width=5.0, height=5.0)
    """
    expected = "left,top,width,height in per cent of the picture, such as 40,25,10,10"
    parts = [part.strip().rstrip("%").strip() for part in text.split(",")]
    if len(parts) != 4 or not all(re.fullmatch(r"[0-9]{1,3}(\.[0-9]{1,9})?", part) for part in parts):
        raise LayersimError(f"region: found {quoted(text)}; expected {expected}")
    left, top, width, height = (float(part) for part in parts)
    if width <= 0 or height <= 0 or left + width > 100.0 + 1e-9 or top + height > 100.0 + 1e-9:
        raise LayersimError(
            f"region: found {quoted(text)}, which is not inside the picture; expected {expected}"
        )
    return Region(left, top, width, height)


def patch_in(artwork: Artwork, region: Region, *, name: str) -> Patch:
    """Return the mean colour of all that a region holds; raises LayersimError if it is transparent."""
    mask = _mask(artwork, region)
    if not mask.any():
        raise LayersimError(
            f"region for {quoted(name)}: found nothing but transparency there; expected colours"
        )
    return patch_of(artwork, mask, name)


def tones_in(artwork: Artwork, region: Region) -> dict[str, Patch]:
    """Return shadow, mid and light of one painted thing: its darkest, middle and lightest fifths.

    Edges and lettering are left out, and so are the outermost twentieths, which are often glints.
    Raises LayersimError if the region is too small.
    """
    mask = _mask(artwork, region)
    if mask.sum() < 20:
        raise LayersimError("region: found fewer than 20 pixels; expected a larger one")
    plain = mask & artwork.plain
    return _by_lightness(artwork, plain if plain.sum() >= max(20, 0.1 * mask.sum()) else mask)


def _by_lightness(artwork: Artwork, mask: Mask) -> dict[str, Patch]:
    L = artwork.lab[..., 0]
    found = {}
    for name, low, high in (("shadow", 0.05, 0.25), ("mid", 0.40, 0.60), ("light", 0.75, 0.95)):
        ends = np.quantile(L[mask], [low, high])
        found[name] = patch_of(artwork, mask & (ends[0] <= L) & (ends[1] >= L), name)
    return found


def main_colours(artwork: Artwork, *, count: int = 8) -> tuple[Patch, ...]:
    """Return a picture's main colours, at most `count`, largest first.

    Pillow's median cut and k-means part L*a*b* into four times as many. The two whose joining adds least
    variance are joined (J. H. Ward, J. Am. Stat. Assoc. 58 (1963) 236, with ΔE00 as distance) until
    `count` are left, then those closer than ΔE00 5. What covers below half a per cent is left out.
    """
    from PIL import Image

    lab = _smooth(artwork.linear)[artwork.plain]
    levels = np.rint(lab + _TO_LEVELS).astype(np.uint8)
    label = np.asarray(Image.fromarray(levels[np.newaxis]).quantize(4 * count, kmeans=2))[0]
    label = np.unique(label, return_inverse=True)[1]
    amount = np.bincount(label).astype(np.float64)
    centres = np.stack([np.bincount(label, lab[:, k]) / amount for k in range(3)], axis=-1)
    while len(centres) > 1:
        apart = colour.delta_e_2000(centres[:, np.newaxis], centres) + np.diag(np.full(len(centres), np.inf))
        few = len(centres) <= count
        cost = (
            apart if few else apart * np.sqrt(amount * amount[:, np.newaxis] / np.add.outer(amount, amount))
        )
        i, j = sorted(np.unravel_index(cost.argmin(), cost.shape))
        if few and apart[i, j] >= 5.0:
            break
        centres[i] = np.average(centres[[i, j]], axis=0, weights=amount[[i, j]])
        amount[i] += amount[j]
        centres, amount = np.delete(centres, j, axis=0), np.delete(amount, j)
        label = np.where(label == j, i, label - (label > j))
    whole = np.full(artwork.plain.shape, -1)
    whole[artwork.plain] = label
    patches = [patch_of(artwork, whole == k, "") for k in range(len(centres))]
    patches = sorted((p for p in patches if p.share >= 0.005), key=lambda p: -p.share)
    return tuple(replace(patch, name=str(i)) for i, patch in enumerate(patches, start=1))


def proposed_targets(artwork: Artwork, colours: tuple[Patch, ...]) -> dict[str, Patch]:
    """Return shadow, mid and light of the largest family of one hue among :func:`main_colours`.

    A family are main colours within 35° of the hue of one of them; the largest has the most colour
    (share times chroma, summed). In a grey picture all are one family. Its darkest, the one nearest the
    middle and its lightest are proposed. What runs along a quarter of the picture's edge is taken for its
    background, and left out.
    """
    colours = tuple(p for p in colours if _edge_share(artwork, p) < _BACKGROUND) or colours
    lch = colour.lch(np.array([patch.lab for patch in colours]))
    amount = lch[:, 1] * np.array([patch.share for patch in colours])
    apart = np.abs((lch[:, 2, np.newaxis] - lch[:, 2] + 180.0) % 360.0 - 180.0)
    most = int(((apart <= 35.0) @ amount).argmax())
    alike = (apart[most] <= 35.0) & (lch[:, 1] >= 5.0) | artwork.is_grey
    family = [i for i in range(len(colours)) if i == most or alike[i]]
    if len(family) >= 3:
        family.sort(key=lambda i: lch[i, 0])
        middle = 0.5 * (lch[family[0], 0] + lch[family[-1], 0])
        mid = min(family[1:-1], key=lambda i: abs(lch[i, 0] - middle))
        chosen = {"shadow": family[0], "mid": mid, "light": family[-1]}
        return {name: colours[i] for name, i in chosen.items()}
    # One flat colour: its own darker and lighter parts.
    return _by_lightness(artwork, np.any([colours[i].pixels for i in family], axis=0))


def targets_from(patches: dict[str, Patch]) -> Targets:
    """Return patches, named "shadow", "mid" and "light", as targets."""
    return targets_of(**{name: patch.target for name, patch in patches.items()})


def _edge_share(artwork: Artwork, patch: Patch) -> float:
    edge = artwork.solid.copy()
    edge[1:-1, 1:-1] = False
    return float((patch.pixels & edge).sum() / max(1, edge.sum()))


def _mask(artwork: Artwork, region: Region) -> Mask:
    """Return the opaque pixels of a region."""
    height, width = artwork.solid.shape
    mask = np.zeros((height, width), dtype=bool)
    x, y = int(region.left / 100.0 * width), int(region.top / 100.0 * height)
    right = max(x + 1, round((region.left + region.width) / 100.0 * width))
    bottom = max(y + 1, round((region.top + region.height) / 100.0 * height))
    mask[min(y, height - 1) : bottom, min(x, width - 1) : right] = True
    return mask & artwork.solid


def patch_of(artwork: Artwork, mask: Mask, name: str) -> Patch:
    """Return the mean colour of some pixels."""
    mean = linear_to_lab(artwork.linear[mask].mean(axis=0))
    off = colour.delta_e_2000(linear_to_lab(artwork.linear[mask]), mean)
    rows, columns = np.nonzero(mask)
    # A mark in the middle of a ring would lie beside it: of the pixels most like it, the most central.
    like = off <= np.quantile(off, 0.3)
    middle = np.array([np.median(rows[like]), np.median(columns[like])])
    nearest = np.hypot(rows[like] - middle[0], columns[like] - middle[1]).argmin()
    height, width = mask.shape
    return Patch(
        name=name,
        lab=mean,
        share=float(mask.sum() / artwork.solid.sum()),
        at=(float((columns[like][nearest] + 0.5) / width), float((rows[like][nearest] + 0.5) / height)),
        spread=float(off.mean()),
        clipped=float(artwork.clipped[mask].mean()),
        pixels=mask,
    )
