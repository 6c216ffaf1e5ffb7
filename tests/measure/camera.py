"""A camera for tests: photographs of a card as a measured camera would take them.

The oracle side of the photographed chain. Light, reflectance and the camera's measured
sensitivities are multiplied wavelength by wavelength; everything after that is what cameras do:
falloff, noise, white balance, the maker's matrix, a tone curve, 8 bits, JPEG.
"""

from __future__ import annotations

import functools
import io
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from layersim.colour import Viewing, decode_srgb, encode_srgb, xyz
from layersim.measure.card import CardLayout
from layersim.measure.cardprint import MM_PER_INCH, card_figure
from layersim.measure.rectify import fit_projection, project
from layersim.spectra import FloatArray, wavelengths_nm

CAMERAS = ("A", "B", "C", "D")
"""A and B are measured; C is ISO 17321's reference device, nearly an eye; D invented, with broad,
overlapping channels that no matrix turns into an eye's."""

LIGHTS = ("A", "FL2", "LED-B3", "LED-B1", "D50", "D65")

CHART_GAP = 0.13
"""Part of the pitch of a 24-patch chart that lies between its patches."""


@functools.cache
def _colour() -> Any:
    with warnings.catch_warnings(), np.printoptions():
        warnings.simplefilter("ignore")
        import colour
    return colour


def _on_grid(spectrum: Any) -> FloatArray:
    colour = _colour()
    domain, values = np.asarray(spectrum.wavelengths), np.asarray(spectrum.values)
    del colour
    columns = values.reshape(len(domain), -1)
    return np.stack(
        [np.interp(wavelengths_nm(), domain, column, left=0.0, right=0.0) for column in columns.T], axis=-1
    )


@functools.cache
def sensitivities(camera: str) -> FloatArray:
    """Return a camera's sensitivities, shape (31, 3)."""
    colour = _colour()
    measured = colour.MSDS_CAMERA_SENSITIVITIES
    names = list(measured)
    if camera == "A":
        return _on_grid(measured[names[0]])
    if camera == "B":
        return _on_grid(measured[names[1]])
    if camera == "C":
        return _on_grid(colour.characterisation.MSDS_ACES_RICD)
    nm = wavelengths_nm()[:, np.newaxis]
    peaks, widths = np.array([595.0, 535.0, 460.0]), np.array([42.0, 44.0, 34.0])
    return np.asarray(np.exp(-0.5 * ((nm - peaks) / widths) ** 2) + 0.03)


@functools.cache
def light_spectrum(light: str) -> FloatArray:
    """Return a CIE illuminant, shape (31,)."""
    return _on_grid(_colour().SDS_ILLUMINANTS[light])[:, 0]


@functools.cache
def chart_spectra(which: str = "average") -> FloatArray:
    """Return the reflectances of one of the library's measured 24-patch charts, shape (24, 31)."""
    charts = _colour().SDS_COLOURCHECKERS
    spectra = next(charts[key] for key in charts if which.casefold() in key.casefold())
    return np.stack([_on_grid(s)[:, 0] for s in spectra.values()])


@dataclass(frozen=True)
class MakersLook:
    """What a maker does to finished colours so that they please (all invented).

    Parameters
    ----------
    contrast : float
        Of an S-curve on encoded values, each channel alone.
    shoulder : float
        How far a film-like curve on light rolls off highlights and toe, each channel alone.
    saturation : float
        Factor of all chroma.
    of : str
        What saturation works on: "encoded" luma and chroma, or "light" about its luminance.
    vibrance : float
        How much more dull colours gain than vivid ones.
    turn, warp, warp_at : float
        Hues turned by `turn` + `warp` cos(hue − `warp_at`), radians.
    local : float
        Local tone mapping: how far dark surroundings are lifted.
    """

    contrast: float = 0.0
    shoulder: float = 0.0
    saturation: float = 1.0
    of: str = "encoded"
    vibrance: float = 0.0
    turn: float = 0.0
    warp: float = 0.0
    warp_at: float = 0.0
    local: float = 0.0


LOOKS: Mapping[str, MakersLook] = {
    # For tuning.
    "saturation": MakersLook(saturation=1.25),
    "phone 1": MakersLook(contrast=0.4, saturation=1.2),
    "phone 2": MakersLook(contrast=0.3, saturation=1.3, turn=0.06, warp=0.05, warp_at=1.0),
    "phone 3": MakersLook(contrast=0.5, saturation=1.25, of="light", vibrance=0.2),
    "phone 4": MakersLook(shoulder=1.0, saturation=1.15, warp=0.08, warp_at=-1.0, local=0.05),
    "local": MakersLook(local=0.08),
    # For judging only.
    "phone 5": MakersLook(contrast=0.35, saturation=1.28, vibrance=0.1, warp=0.04, warp_at=2.5, local=0.04),
    "phone 6": MakersLook(shoulder=0.6, contrast=0.15, saturation=1.2, turn=-0.04),
}


@dataclass(frozen=True)
class Shot:
    """How a photograph is taken.

    Parameters
    ----------
    camera, light : str
    developed : str
        "camera": the camera's own colours, white balanced. "maker": through the maker's matrix to
        sRGB. "maker daylight": through the matrix the maker made for daylight.
    curve : str
        "srgb", "contrast" (an S on top of it, as cameras like to apply), or "linear".
    chart : str or None
        Which measured chart lies beside the card.
    width_px, height_px : int
    noise : float
        At full scale; grows with the square root of the signal, as photon noise does.
    falloff : float
        Loss at the corners of the frame.
    tilt : float
        Perspective: how much narrower the far side is.
    turn_deg : float
        The card turned in its plane.
    exposure : float
        Signal of a perfect white in the middle.
    denoise_px : float
        How far the maker's noise reduction smears noise, before the matrix.
    flare : float
        Veiling light, as a share of white.
    quality : int
        Of the JPEG.
    seed : int
    look : str or None
        One of :data:`LOOKS`.
    chart_rows : tuple of int
        In which row of the chart each published one lies.
    chart_mirrored : bool
    """

    camera: str = "A"
    light: str = "A"
    developed: str = "maker"
    curve: str = "srgb"
    chart: str | None = "average"
    width_px: int = 1200
    height_px: int = 1600
    noise: float = 0.01
    falloff: float = 0.15
    tilt: float = 0.04
    turn_deg: float = 2.0
    exposure: float = 0.85
    denoise_px: float = 0.0
    flare: float = 0.0
    quality: int = 90
    seed: int = 1
    oversample: int = 2
    look: str | None = None
    chart_rows: tuple[int, int, int, int] = (0, 1, 2, 3)
    chart_mirrored: bool = False

    def but(self, **changes: Any) -> Shot:
        return replace(self, **changes)


@dataclass(frozen=True, eq=False)
class Frame:
    """A photograph before it is packed into a file, and where things lie in it."""

    encoded: FloatArray
    card_corners_px: FloatArray
    chart_corners_px: FloatArray | None
    to_px: FloatArray


SCENE_MM = (190.0, 252.0)
_CARD_AT = (21.0, 20.0)
_CHART_AT = (45.0, 150.0)
_CHART_PITCH_MM = 16.0
_PAPER, _INK, _TABLE, _CHART_FRAME = 0.86, 0.05, 0.25, 0.04


def photograph(
    layout: CardLayout,
    patches: Mapping[str, npt.ArrayLike],
    grounds: Mapping[str, npt.ArrayLike],
    shot: Shot,
    *,
    shadow: Sequence[float] | None = None,
    glare: Sequence[float] | None = None,
    cover: Sequence[float] | None = None,
    shadow_depth: float = 0.4,
) -> Frame:
    """Take a photograph of a card.

    Parameters
    ----------
    patches : mapping
        Reflectance (31,) of each patch by name; a patch not named shows its ground.
    grounds : mapping
        Reflectance of the primed bands.
    shadow, glare, cover : [x, y, width, height] in card mm, optional
        Where light is taken away, where it is reflected, where a grey thing lies on the card.
    """
    import cv2

    rng = np.random.default_rng(shot.seed)
    white = light_spectrum(shot.light) @ sensitivities(shot.camera)

    def seen(reflectance: npt.ArrayLike) -> FloatArray:
        return (
            (np.broadcast_to(reflectance, 31) * light_spectrum(shot.light)) @ sensitivities(shot.camera)
        ) / white

    scale = shot.oversample * min(shot.width_px / SCENE_MM[0], shot.height_px / SCENE_MM[1])
    size = (int(SCENE_MM[1] * scale), int(SCENE_MM[0] * scale))
    scene = np.empty((*size, 3), dtype=np.float32)
    scene[:] = seen(_TABLE)
    gain = np.ones(size, dtype=np.float32)

    def area(x: float, y: float, w: float, h: float) -> tuple[slice, slice]:
        return (
            slice(round((_CARD_AT[1] + y) * scale), round((_CARD_AT[1] + y + h) * scale)),
            slice(round((_CARD_AT[0] + x) * scale), round((_CARD_AT[0] + x + w) * scale)),
        )

    ink = _ink(layout, scale)
    place = area(0, 0, layout.width_mm, layout.height_mm)
    target = scene[place]
    ink = cv2.resize(ink, target.shape[1::-1])[..., np.newaxis]
    target[:] = seen(_PAPER) * (1 - ink) + seen(_INK) * ink
    for ground in {patch.ground for patch in layout.patches}:
        corners = np.concatenate([p.rect.corners_mm for p in layout.patches if p.ground == ground])
        (x0, y0), (x1, y1) = corners.min(axis=0) - 1.5, corners.max(axis=0) + 1.5
        scene[area(x0, y0, x1 - x0, y1 - y0)] = seen(grounds[ground])
    for patch in layout.patches:
        r = patch.rect
        scene[area(r.x_mm, r.y_mm, r.width_mm, r.height_mm)] = seen(
            patches.get(patch.name, grounds[patch.ground])
        )
    for neutral in layout.neutrals:
        r = neutral.rect
        scene[area(r.x_mm, r.y_mm, r.width_mm, r.height_mm)] = seen(neutral.reflectance)
    chart_mm: FloatArray | None = None
    if shot.chart is not None:
        x0, y0 = _CHART_AT[0] - _CARD_AT[0], _CHART_AT[1] - _CARD_AT[1]
        pitch = _CHART_PITCH_MM
        scene[area(x0 - 4, y0 - 4, 6 * pitch + 8, 4 * pitch + 8)] = seen(_CHART_FRAME)
        for i, reflectance in enumerate(chart_spectra(shot.chart)):
            column, row = i % 6, shot.chart_rows[i // 6]
            if shot.chart_mirrored:
                column = 5 - column
            gap = CHART_GAP * pitch
            scene[
                area(x0 + pitch * column + gap / 2, y0 + pitch * row + gap / 2, pitch - gap, pitch - gap)
            ] = seen(reflectance)
        gap = CHART_GAP * pitch / 2
        w, h = 6 * pitch - 2 * gap, 4 * pitch - 2 * gap
        corner = np.array(_CHART_AT) + gap
        chart_mm = corner + np.array([[0, 0], [w, 0], [w, h], [0, h]])
    if cover is not None:
        scene[area(*cover)] = seen(0.4)
    if shadow is not None:
        gain[area(*shadow)] = 1.0 - shadow_depth
    if glare is not None:
        scene[area(*glare)] += np.float32(0.5)
    scene *= gain[..., np.newaxis]

    to_px = _view(shot)
    over = shot.oversample
    lift = np.array([[over, 0, (over - 1) / 2], [0, over, (over - 1) / 2], [0, 0, 1.0]])
    from_scene = np.array([[1 / scale, 0, 0.5 / scale], [0, 1 / scale, 0.5 / scale], [0, 0, 1.0]])
    taken = cv2.warpPerspective(
        scene,
        lift @ to_px @ from_scene,
        (shot.width_px * over, shot.height_px * over),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=[float(v) for v in seen(_TABLE)],
    )
    if over > 1:
        taken = cv2.resize(taken, (shot.width_px, shot.height_px), interpolation=cv2.INTER_AREA)
    taken = taken * _falloff(shot)[..., np.newaxis] * np.float32(shot.exposure) + np.float32(
        shot.flare * shot.exposure
    )
    sigma = np.sqrt(np.maximum(taken, 0.0) * shot.noise**2 + (0.1 * shot.noise) ** 2)
    taken += sigma * rng.standard_normal(taken.shape, dtype=np.float32)
    if shot.denoise_px > 0:
        taken = cv2.GaussianBlur(taken, (0, 0), shot.denoise_px)
    developed = np.clip(taken, 0.0, 1.0) @ maker_matrix(shot).T
    corners = layout.whole.corners_mm + np.array(_CARD_AT)
    return Frame(
        encoded=looked(_toned(np.clip(developed, 0.0, 1.0), shot.curve), shot.look),
        card_corners_px=project(to_px, corners),
        chart_corners_px=None if chart_mm is None else project(to_px, chart_mm),
        to_px=to_px,
    )


def card_image(layout: CardLayout, *, px_per_mm: float) -> FloatArray:
    """Return an ideal picture of a printed card, evenly lit and square on, shape (height, width, 3)."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure = card_figure(layout)
    figure.set_dpi(px_per_mm * MM_PER_INCH)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba(), dtype=np.float64)[..., :3] / 255.0


@functools.lru_cache(maxsize=2)
def _ink(layout: CardLayout, scale: float) -> FloatArray:
    drawn = card_image(layout, px_per_mm=scale).mean(axis=-1)
    return np.asarray(1.0 - drawn**2.2, dtype=np.float32)


def _view(shot: Shot) -> FloatArray:
    """Return the map from scene mm to pixels: turned, seen slightly from below."""
    w, h = shot.width_px, shot.height_px
    corners = np.array([[0, 0], [SCENE_MM[0], 0], [SCENE_MM[0], SCENE_MM[1]], [0, SCENE_MM[1]]])
    angle = np.radians(shot.turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    unit = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * 0.98
    unit = unit * np.array([[1 - 2 * shot.tilt, 1], [1 - 2 * shot.tilt, 1 - shot.tilt], [1, 1], [1, 1]])
    half = np.array([w, h]) / 2
    seen = (unit * half) @ turn.T
    seen *= 0.99 * min(1.0, *(half / np.abs(seen).max(axis=0)))
    return fit_projection(corners, seen + half - 0.5)


def _falloff(shot: Shot) -> FloatArray:
    y, x = np.mgrid[0 : shot.height_px, 0 : shot.width_px].astype(np.float32)
    half = np.array([shot.width_px, shot.height_px]) / 2
    # A lens's own law, cos⁴ of the angle, off centre because a lamp adds to it, cut to the loss asked for.
    r2 = ((x - 1.1 * half[0]) / half[0]) ** 2 + ((y - 0.9 * half[1]) / half[1]) ** 2
    r2 /= r2.max()
    k = 1 / np.sqrt(1 - shot.falloff) - 1
    return np.asarray(1.0 / (1.0 + k * r2) ** 2, dtype=np.float32)


@functools.cache
def maker_matrix(shot: Shot) -> FloatArray:
    """Return the maker's white-keeping matrix from balanced camera RGB to linear sRGB."""
    if shot.developed == "camera":
        return np.eye(3, dtype=np.float32)
    light = "D65" if shot.developed == "maker daylight" else shot.light
    spectra = chart_spectra("ISO 17321-1")
    power = light_spectrum(light)
    rgb = (spectra * power) @ sensitivities(shot.camera) / (power @ sensitivities(shot.camera))
    from layersim.colour import _XYZ_TO_LINEAR

    wanted = xyz(spectra, Viewing()) / 100 @ _XYZ_TO_LINEAR.T
    differences = rgb[:, :2] - rgb[:, 2:]
    matrix = np.zeros((3, 3))
    for row in range(3):
        fit, *_ = np.linalg.lstsq(differences, wanted[:, row] - rgb[:, 2], rcond=None)
        matrix[row] = [*fit, 1 - fit.sum()]
    return matrix.astype(np.float32)


def _toned(linear: FloatArray, curve: str) -> FloatArray:
    if curve == "linear":
        return linear
    encoded = encode_srgb(linear)
    if curve == "contrast":
        encoded = encoded + 0.35 * (3 * encoded**2 - 2 * encoded**3 - encoded)
    return encoded


def chart_values(
    shot: Shot, *, beside: FloatArray | None = None
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """Return what a file says of the chart's patches, without drawing a picture.

    Parameters
    ----------
    beside : ndarray, shape (m, 31), optional
        Further reflectances in the same picture.

    Returns
    -------
    values : ndarray, shape (24 + m, 3)
        Linear, as decoded from 8 bits.
    covariance : ndarray, shape (24 + m, 3, 3)
        Of their noise.
    usable : ndarray of bool, shape (24 + m,)
        False where a channel stands at an end.
    """
    rng = np.random.default_rng(shot.seed)
    spectra = chart_spectra(shot.chart or "average")
    R = spectra if beside is None else np.concatenate([spectra, beside])
    power = light_spectrum(shot.light)
    taken = shot.exposure * ((R * power) @ sensitivities(shot.camera)) / (power @ sensitivities(shot.camera))
    noise = 0.2 * shot.noise * np.sqrt(np.maximum(taken, 0.01))
    taken = taken * np.exp(0.003 * rng.standard_normal((len(R), 1))) + noise * rng.standard_normal(
        taken.shape
    )
    developed = np.clip(np.clip(taken, 0.0, 1.0) @ maker_matrix(shot).T, 0.0, 1.0)
    encoded = looked(_toned(developed, shot.curve), shot.look)
    level = np.clip(np.rint(255.0 * encoded + 0.3 * rng.standard_normal(encoded.shape)), 0.0, 255.0)
    values = decode_srgb(level / 255.0)
    step = decode_srgb(np.minimum((level + 0.5) / 255.0, 1.0)) - decode_srgb(
        np.maximum(level - 0.5, 0) / 255.0
    )
    variance = (0.4 * step) ** 2 + (0.004 * values) ** 2 + (0.2 * shot.noise) ** 2 * np.maximum(values, 0.01)
    usable = ((level > 2) & (level < 255)).all(axis=-1)
    return values, variance[..., np.newaxis] * np.eye(3), usable


def looked(encoded: FloatArray, look: str | None) -> FloatArray:
    """Return encoded values (..., 3) with a maker's look on them."""
    if look is None:
        return encoded
    made = LOOKS[look]
    e = np.asarray(encoded, dtype=np.float64)
    if made.local and e.ndim == 3:
        import cv2

        around = cv2.GaussianBlur(e.mean(axis=-1), (0, 0), 0.06 * e.shape[0])[..., np.newaxis]
        e = np.clip(e * (1.0 + made.local * (0.5 - around)), 0.0, 1.0)
    if made.of == "light":
        light = decode_srgb(e)
        luminance = (light @ [0.2126, 0.7152, 0.0722])[..., np.newaxis]
        e = encode_srgb(np.clip(luminance + made.saturation * (light - luminance), 0.0, 1.0))
    if made.shoulder:
        a, light = made.shoulder, decode_srgb(e)

        def rolled(x: FloatArray) -> FloatArray:
            return np.asarray(x * (x + 0.05 * a) / (x * (x + 0.6 * a) + 0.15))

        e = encode_srgb(np.clip(rolled(light * (1.0 + a)) / rolled(np.asarray(1.0 + a)), 0.0, 1.0))
    e = e + made.contrast * (3 * e**2 - 2 * e**3 - e)
    luma = e @ [0.299, 0.587, 0.114]
    blue, red = (e[..., 2] - luma) / 1.772, (e[..., 0] - luma) / 1.402
    chroma, hue = np.hypot(blue, red), np.arctan2(red, blue)
    more = made.saturation if made.of == "encoded" else 1.0
    chroma = more * chroma * (1.0 + made.vibrance * np.exp(-chroma / 0.15))
    hue = hue + made.turn + made.warp * np.cos(hue - made.warp_at)
    blue, red = chroma * np.cos(hue), chroma * np.sin(hue)
    r, b = luma + 1.402 * red, luma + 1.772 * blue
    g = (luma - 0.299 * r - 0.114 * b) / 0.587
    return np.clip(np.stack([r, g, b], axis=-1), 0.0, 1.0)


def save_jpeg(path: Path, frame: Frame, *, quality: int = 90, **options: Any) -> Path:
    from PIL import Image

    Image.fromarray(np.rint(frame.encoded * 255).astype(np.uint8)).save(path, quality=quality, **options)
    return path


def save_png16(path: Path, frame: Frame) -> Path:
    import cv2

    cv2.imwrite(str(path), np.rint(frame.encoded * 65535).astype(np.uint16)[..., ::-1])
    return path


def as_jpeg_bytes(frame: Frame, quality: int = 90) -> bytes:
    from PIL import Image

    held = io.BytesIO()
    Image.fromarray(np.rint(frame.encoded * 255).astype(np.uint8)).save(held, "JPEG", quality=quality)
    return held.getvalue()
