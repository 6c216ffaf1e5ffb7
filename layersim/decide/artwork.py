"""Targets from a picture of the artwork: regions that are pointed at, or its main colours proposed.

A picture's numbers mean a colour only together with a profile. The one embedded in it is honoured
(ICC, through Pillow's LittleCMS); without one sRGB is assumed and said. Colours are averaged in
linear light. Neither a screen nor a print is a measurement, and that is said, too.
"""

from __future__ import annotations

import contextlib
import io
import re
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.decide.words import PLACE_WORDS
from layersim.errors import ArtworkError, LayersimError, quoted
from layersim.scheme.records import Targets
from layersim.spectra import FloatArray

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_PIXELS: Final = 150_000_000
"""A picture that claims more is taken for a mistake, or a trap."""
MOST_BYTES: Final = 300 * 2**20
LEAST_CHROMA: Final = 4.0
"""A picture whose strongest colours (of one pixel in a hundred) are below this C* has none to match."""
WARNING: Final = (
    "printed art, scans and screens are not measured colours: inks, papers and cameras change them. "
    "Treat these targets as a direction, and judge a sprayed chip beside the artwork"
)
_WORKING_SIDE: Final = 700
_SAMPLE: Final = 20_000
_BACKGROUND: Final = 0.25
_TO_XYZ: Final = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)  # IEC 61966-2-1


@dataclass(frozen=True, eq=False)
class Artwork:
    """A picture, as colours.

    Parameters
    ----------
    path : Path
    size : tuple of int
        Width and height of the picture itself, pixels.
    linear : ndarray, shape (height, width, 3), 0..1
        Linear sRGB at working size.
    solid : ndarray of bool, shape (height, width)
        Where the picture is opaque.
    clipped : ndarray of bool, shape (height, width)
        Where a channel stands at the end of its scale, so that the colour itself was lost.
    notices : tuple of str
    """

    path: Path
    size: tuple[int, int]
    linear: FloatArray
    solid: npt.NDArray[np.bool_]
    clipped: npt.NDArray[np.bool_]
    notices: tuple[str, ...]

    @property
    def lab(self) -> FloatArray:
        """L*a*b* of each pixel for D65, shape (height, width, 3)."""
        return linear_to_lab(self.linear)


@dataclass(frozen=True, eq=False)
class Patch:
    """One colour of a picture, and where it comes from.

    Parameters
    ----------
    name : str
    lab : ndarray, shape (3,)
        Of the mean light, for D65.
    share : float
        Of the opaque picture.
    at : tuple of float
        Where it is found, as shares of width and height.
    spread : float
        Mean ΔE00 of its pixels from it.
    clipped : float
        Share of its pixels whose colour was lost.
    pixels : ndarray of bool, shape (height, width)
    """

    name: str
    lab: FloatArray
    share: float
    at: tuple[float, float]
    spread: float
    clipped: float
    pixels: npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Region:
    """A rectangle of a picture in per cent of its width and height.

    Parameters
    ----------
    left, top, width, height : float
    """

    left: float
    top: float
    width: float
    height: float


def read_artwork(path: Path) -> Artwork:
    """Return a picture as colours, its profile honoured.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Artwork

    Raises
    ------
    ArtworkError
        If it is no picture, far too large, or without any colour.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    notices: list[str] = []
    _check_file(path)
    try:
        with warnings.catch_warnings(), contextlib.ExitStack() as stack:
            # Size is judged here, by the header, before anything is unpacked.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            file = stack.enter_context(path.open("rb"))
            picture = Image.open(file)
            if picture.width * picture.height > MOST_PIXELS:
                found = f"{picture.width} × {picture.height} pixels"
                raise ArtworkError(
                    path, f"found {found}; expected at most {MOST_PIXELS // 1_000_000} million"
                )
            size = (picture.width, picture.height)
            profile = picture.info.get("icc_profile")
            if picture.format == "JPEG":
                # Unpacks at a fraction of its size, never below what is wanted.
                picture.draft(None, (2 * _WORKING_SIDE, 2 * _WORKING_SIDE))
            if getattr(picture, "n_frames", 1) > 1:
                notices.append("of several pictures in the file the first is used")
            picture.load()
            turned = ImageOps.exif_transpose(picture)
            if (turned.width > turned.height) != (size[0] > size[1]) and size[0] != size[1]:
                size = (size[1], size[0])
            encoded, alpha = _screen_values(turned, profile, notices)
    except UnidentifiedImageError:
        raise ArtworkError(path, "found no picture; expected a PNG, JPEG, TIFF, WebP or BMP") from None
    except Image.DecompressionBombError:
        raise ArtworkError(path, "found a picture of an absurd size; expected an ordinary one") from None
    except (OSError, ValueError, SyntaxError, MemoryError, EOFError) as fault:
        raise ArtworkError(path, f"this picture cannot be read ({fault}); is it whole?") from None
    clipped = (encoded >= 0.998).any(axis=-1) | (encoded <= 0.002).all(axis=-1)
    solid = alpha > 0.5
    if not solid.any():
        raise ArtworkError(path, "found a picture that is transparent everywhere; expected colours")
    artwork = Artwork(path, size, colour.decode_srgb(encoded), solid, clipped & solid, tuple(notices))
    chroma = np.hypot(*np.moveaxis(artwork.lab[solid][:, 1:], -1, 0))
    if float(np.quantile(chroma, 0.99)) < LEAST_CHROMA:
        raise ArtworkError(
            path,
            f"found a picture without colour (C* at most {np.quantile(chroma, 0.99):.1f}); "
            "expected a coloured one. "
            "For greys give --shadow, --mid and --light",
        )
    return artwork


def _check_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise ArtworkError(path, "this is a folder; expected a picture")
        length = path.stat().st_size
    except FileNotFoundError:
        raise ArtworkError(path, "there is no such file; expected a picture") from None
    except (OSError, ValueError) as fault:
        raise ArtworkError(path, f"this file cannot be read ({fault})") from None
    if length == 0:
        raise ArtworkError(path, "this file is empty; expected a picture")
    if length > MOST_BYTES:
        raise ArtworkError(
            path, f"found {length // 2**20} MB; expected a picture of at most {MOST_BYTES // 2**20} MB"
        )


def _screen_values(
    picture: Image, profile: bytes | None, notices: list[str]
) -> tuple[FloatArray, FloatArray]:
    """Return encoded sRGB (h, w, 3) at working size and opacity (h, w), both 0..1."""
    from PIL import Image, ImageCms

    has_alpha = "A" in picture.getbands() or "transparency" in picture.info
    alpha = picture.convert("RGBA").getchannel("A") if has_alpha else None
    if picture.mode in ("I", "I;16", "I;16B", "I;16L", "F"):
        # Greys of more than 8 bits: Pillow's own conversion would cut them off at 255.
        deep = np.asarray(picture, dtype=np.float64)
        top = 65535.0 if deep.max(initial=0.0) > 255.0 else 255.0 if deep.max(initial=0.0) > 1.0 else 1.0
        picture = Image.fromarray(np.clip(deep / top * 255.0, 0, 255).astype(np.uint8))
    plain = picture if picture.mode in ("RGB", "CMYK", "L", "LAB") else picture.convert("RGB")
    rgb = None
    if profile:
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            space = source.profile.xcolor_space.strip()
            expected = {"RGB": "RGB", "CMYK": "CMYK", "GRAY": "L", "Lab": "LAB"}.get(space)
            if expected is not None and plain.mode != expected:
                plain = plain.convert(expected)
            named = (ImageCms.getProfileDescription(source) or "").strip() or "unnamed"
            rgb = ImageCms.profileToProfile(plain, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
            notices.append(f"the picture's own colour profile was used: {named[:60]}")
        except (ImageCms.PyCMSError, OSError, ValueError, TypeError, KeyError):
            notices.append("the picture's colour profile cannot be read: sRGB is assumed instead")
    else:
        notices.append("the picture names no colour profile: sRGB is assumed")
        if plain.mode == "CMYK":
            notices.append("printing inks (CMYK) without a profile mean no certain colour")
    small = (rgb if rgb is not None else plain.convert("RGB")).copy()
    small.thumbnail((_WORKING_SIDE, _WORKING_SIDE), Image.Resampling.BOX, reducing_gap=2.0)
    encoded = np.asarray(small, dtype=np.float64) / 255.0
    if alpha is None:
        return encoded, np.ones(encoded.shape[:2])
    return encoded, np.asarray(alpha.resize(small.size, Image.Resampling.BOX), dtype=np.float64) / 255.0


def linear_to_lab(linear: FloatArray) -> FloatArray:
    """Return L*a*b* for D65 of linear sRGB.

    Parameters
    ----------
    linear : ndarray, shape (..., 3), 0..1

    Examples
    --------
    >>> (linear_to_lab(np.ones(3)).round(3) + 0.0).tolist()
    [100.0, 0.0, 0.0]
    """
    return colour.lab_from_xyz(linear @ _TO_XYZ.T, _TO_XYZ.sum(axis=1))


def region_from(text: str) -> Region:
    """Return a region written as ``left,top,width,height`` in per cent.

    Parameters
    ----------
    text : str

    Raises
    ------
    LayersimError

    Examples
    --------
    >>> region_from("10,20,5,5")
    Region(left=10.0, top=20.0, width=5.0, height=5.0)
    """
    expected = "left,top,width,height in per cent of the picture, such as 40,25,10,10"
    parts = [part.strip().rstrip("%").strip() for part in text.split(",")]
    if len(parts) != 4 or not all(re.fullmatch(r"\d+(\.\d+)?", part) for part in parts):
        raise LayersimError(f"region: found {quoted(text)}; expected {expected}")
    left, top, width, height = (float(part) for part in parts)
    if width <= 0 or height <= 0 or left + width > 100.0 + 1e-9 or top + height > 100.0 + 1e-9:
        raise LayersimError(
            f"region: found {quoted(text)}, which is not inside the picture; expected {expected}"
        )
    return Region(left, top, width, height)


def patch_in(artwork: Artwork, region: Region, *, name: str) -> Patch:
    """Return the mean colour of a region.

    Parameters
    ----------
    artwork : Artwork
    region : Region
    name : str

    Raises
    ------
    LayersimError
        If the region is transparent.
    """
    mask = _mask(artwork, region)
    if not (mask & artwork.solid).any():
        raise LayersimError(
            f"region for {quoted(name)}: found nothing but transparency there; expected colours"
        )
    return _patch(artwork, mask & artwork.solid, name)


def tones_in(artwork: Artwork, region: Region) -> dict[str, Patch]:
    """Return shadow, mid and light of one painted thing: its darkest, middle and lightest fifths.

    The outermost twentieths are left out, which are often outlines and glints.

    Parameters
    ----------
    artwork : Artwork
    region : Region

    Returns
    -------
    dict of str to Patch
    """
    mask = _mask(artwork, region) & artwork.solid
    if mask.sum() < 20:
        raise LayersimError("region: found fewer than 20 pixels; expected a larger one")
    return _by_lightness(artwork, mask)


def _by_lightness(artwork: Artwork, mask: npt.NDArray[np.bool_]) -> dict[str, Patch]:
    """Return the darker, middle and lighter pixels of a part of a picture, without its extremes."""
    L = artwork.lab[..., 0]
    found = {}
    for name, low, high in (("shadow", 0.05, 0.25), ("mid", 0.40, 0.60), ("light", 0.75, 0.95)):
        ends = np.quantile(L[mask], [low, high])
        found[name] = _patch(artwork, mask & (ends[0] <= L) & (ends[1] >= L), name)
    return found


def main_colours(artwork: Artwork, *, count: int = 8, seed: int = 0) -> tuple[Patch, ...]:
    """Return a picture's main colours, largest first.

    Lloyd's k-means in L*a*b* from starts spread by D. Arthur and S. Vassilvitskii (k-means++, SODA
    2007, 1027), over medians of neighbouring pixels, so that grain makes no colours of its own.
    Clusters closer than ΔE00 5 are joined, and those below half a per cent of the picture left out.

    Parameters
    ----------
    artwork : Artwork
    count : int
        At most so many.
    seed : int

    Returns
    -------
    tuple of Patch
    """
    lab = linear_to_lab(_without_grain(artwork))
    every = lab[artwork.solid]
    draw = np.random.default_rng(seed)
    sample = every if len(every) <= _SAMPLE else every[draw.choice(len(every), _SAMPLE, replace=False)]
    centres = sample[[draw.integers(len(sample))]]
    while len(centres) < count:
        distance = ((sample[:, np.newaxis] - centres) ** 2).sum(axis=-1).min(axis=1)
        if distance.sum() < 1e-9:
            break
        centres = np.concatenate([centres, sample[[draw.choice(len(sample), p=distance / distance.sum())]]])
    for _ in range(40):
        label = ((sample[:, np.newaxis] - centres) ** 2).sum(axis=-1).argmin(axis=1)
        moved = np.array(
            [sample[label == k].mean(axis=0) if (label == k).any() else c for k, c in enumerate(centres)]
        )
        if np.abs(moved - centres).max() < 0.05:
            break
        centres = moved
    centres = _joined(centres, sample)
    label = ((lab[..., np.newaxis, :] - centres) ** 2).sum(axis=-1).argmin(axis=-1)
    patches = [
        _patch(artwork, artwork.solid & (label == k), "")
        for k in range(len(centres))
        if (artwork.solid & (label == k)).any()
    ]
    patches = sorted((p for p in patches if p.share >= 0.005), key=lambda p: -p.share)
    return tuple(
        Patch(str(i), p.lab, p.share, p.at, p.spread, p.clipped, p.pixels)
        for i, p in enumerate(patches, start=1)
    )


def _without_grain(artwork: Artwork) -> FloatArray:
    """Return linear pixels as medians of their neighbourhoods: grain goes, edges stay."""
    from PIL import Image, ImageFilter

    levels = np.rint(colour.encode_srgb(artwork.linear) * 255.0).astype(np.uint8)
    quiet = Image.fromarray(levels).filter(ImageFilter.MedianFilter(5))
    return colour.decode_srgb(np.asarray(quiet, dtype=np.float64) / 255.0)


def _joined(centres: FloatArray, sample: FloatArray) -> FloatArray:
    while len(centres) > 1:
        apart = colour.delta_e_2000(centres[:, np.newaxis], centres) + np.where(
            np.eye(len(centres)) > 0, np.inf, 0.0
        )
        i, j = np.unravel_index(apart.argmin(), apart.shape)
        if apart[i, j] >= 5.0:
            break
        label = ((sample[:, np.newaxis] - centres) ** 2).sum(axis=-1).argmin(axis=1)
        both = sample[(label == i) | (label == j)]
        middle = both.mean(axis=0) if len(both) else 0.5 * (centres[i] + centres[j])
        centres = np.concatenate([np.delete(centres, [i, j], axis=0), middle[np.newaxis]])
    return centres


def proposed_targets(artwork: Artwork, colours: tuple[Patch, ...]) -> dict[str, Patch]:
    """Return shadow, mid and light of the picture's largest family of one hue.

    A family are main colours within 35° of the hue of one of them; the largest has the most colour
    (share times chroma, summed). Its darkest, the one nearest the middle and its lightest are proposed.
    What runs along a quarter of the picture's edge is taken for its background, and left out.

    Parameters
    ----------
    artwork : Artwork
    colours : tuple of Patch
        From :func:`main_colours`.
    """
    colours = tuple(p for p in colours if _edge_share(artwork, p) < _BACKGROUND) or colours
    lch = colour.lch(np.array([patch.lab for patch in colours]))
    amount = lch[:, 1] * np.array([patch.share for patch in colours])
    apart = np.abs((lch[:, 2, np.newaxis] - lch[:, 2] + 180.0) % 360.0 - 180.0)
    most = int(((apart <= 35.0) @ amount).argmax())
    turn = apart[most]
    family = [i for i in range(len(colours)) if i == most or (turn[i] <= 35.0 and lch[i, 1] >= 5.0)]
    if len(family) >= 3:
        family.sort(key=lambda i: lch[i, 0])
        middle = 0.5 * (lch[family[0], 0] + lch[family[-1], 0])
        mid = min(family[1:-1], key=lambda i: abs(lch[i, 0] - middle))
        chosen = {"shadow": family[0], "mid": mid, "light": family[-1]}
        return {name: colours[i] for name, i in chosen.items()}
    # One flat colour: its own darker and lighter parts.
    mask = np.any([colours[i].pixels for i in family], axis=0)
    return _by_lightness(artwork, mask)


def targets_from(patches: dict[str, Patch]) -> Targets:
    """Return patches as targets.

    Parameters
    ----------
    patches : dict
        "shadow", "mid", "light" to Patch.
    """
    return Targets(**{name: patch.lab for name, patch in patches.items()})


def patch_notices(patches: dict[str, Patch]) -> list[str]:
    """Return what to know about patches: lost colour, and colours that are not one colour."""
    notices = []
    for place, patch in patches.items():
        name = PLACE_WORDS.get(place, place)
        if patch.clipped > 0.05:
            notices.append(
                f"{name}: {100 * patch.clipped:.0f} % of its pixels stand at the end of the scale; "
                "their true colour is lost"
            )
        if patch.spread > 6.0:
            notices.append(
                f"{name}: its pixels differ by ΔE00 {patch.spread:.0f} from their mean; "
                "a smaller region says more"
            )
    return notices


def _edge_share(artwork: Artwork, patch: Patch) -> float:
    edge = np.zeros_like(patch.pixels)
    edge[[0, -1], :] = edge[:, [0, -1]] = True
    edge &= artwork.solid
    return float((patch.pixels & edge).sum() / max(1, edge.sum()))


def _mask(artwork: Artwork, region: Region) -> npt.NDArray[np.bool_]:
    height, width = artwork.solid.shape
    mask = np.zeros((height, width), dtype=bool)
    x, y = int(region.left / 100.0 * width), int(region.top / 100.0 * height)
    right = max(x + 1, round((region.left + region.width) / 100.0 * width))
    bottom = max(y + 1, round((region.top + region.height) / 100.0 * height))
    mask[min(y, height - 1) : bottom, min(x, width - 1) : right] = True
    return mask


def _patch(artwork: Artwork, mask: npt.NDArray[np.bool_], name: str) -> Patch:
    mean = linear_to_lab(artwork.linear[mask].mean(axis=0))
    lab = artwork.lab[mask]
    off = colour.delta_e_2000(lab, mean)
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
