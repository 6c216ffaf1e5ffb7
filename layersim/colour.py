"""From reflectance to colour: XYZ, Lab, what a screen can show, and how far apart two colours are.

The weights for each light come from a table made from colour-science (data/generate/colour_table.py)
and tested equal to it, because importing that library takes longer than a whole preview.

    XYZ = Σ W R                                 ASTM E308, 10 nm weights                  (C1)
    Lab from XYZ and the light's white          CIE 15 / ISO/CIE 11664-4                  (C2)
    ΔE00                                        CIE 142 / ISO/CIE 11664-6                 (C3)
    sRGB                                        IEC 61966-2-1                             (C4)
    adaptation to the screen's white            linear Bradford, ISO 15076-1 annex E      (C5)
"""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.errors import UnknownNameError, nearest_hint, quoted
from layersim.resources import data_folder
from layersim.spectra import FloatArray

LIGHTS: Final[dict[str, str]] = {
    "D65": "average daylight; screens are made for it",
    "D50": "warm daylight; print is judged in it",
    "A": "incandescent bulb, 2856 K",
    "LED-B1": "white LED lamp, warm, 2733 K",
    "LED-B3": "white LED lamp, neutral, 4103 K",
    "LED-B5": "white LED lamp, cool, 6598 K",
    "FL2": "fluorescent tube, cool white, 4230 K",
    "FL11": "fluorescent tube, narrow band, 4000 K",
}
"""The lights of the table (CIE 15 names) and what they are."""

OBSERVERS: Final = ("2", "10")
"""CIE 1931 (2°) and CIE 1964 (10°) standard observers."""
GREY_CHROMA: Final = 5.0
"""Below this chroma C* a colour passes for a grey, and its hue means nothing."""

_LINEAR_TO_XYZ: Final = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)  # IEC 61966-2-1
# The inverse to all digits, as its amendment 1 (2003) has it to seven: the four of the first edition
# bring a screen's own yellow back as #ffff03.
_XYZ_TO_LINEAR: Final = np.linalg.inv(_LINEAR_TO_XYZ)
_BRADFORD: Final = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)  # ISO 15076-1 annex E
_SCREEN_WHITE: Final = _LINEAR_TO_XYZ.sum(axis=1) * 100.0
# XYZ of two whites at once, and of a fifth of one less than nothing: what readings make, by noise or by
# fluorescence, lies well between.
_FAR_TOO_BRIGHT: Final = 200.0
_FAR_TOO_DARK: Final = -20.0
# Half a level of 8 bits in the darkest tones: nearer than this, a screen shows the colour itself.
_GAMUT_SLACK: Final = 1.5e-4
# Y, 1 for white, from which a colour too bright for a screen is dimmed rather than made paler, and from which
# wholly. Paint is hardly ever too bright; metal near its glint is by half and more.
_DIMMED_FROM: Final = (0.5, 0.6)


LAMPS_MEANT: Final = {
    "daylight": "D65",
    "day": "D65",
    "window": "D65",
    "bulb": "A",
    "warm": "A",
    "led": "LED-B3",
    "tube": "FL2",
}
"""What people call lamps, and which one they are likely to mean."""


def lamp_hint(name: str) -> str:
    """Return which lamp may be meant, in a sentence; else nothing."""
    likely = LAMPS_MEANT.get(name.casefold())
    return f"Did you mean {quoted(likely)}?" if likely else nearest_hint(name, LIGHTS, listed=False)


@dataclass(frozen=True)
class Viewing:
    """The light a model is judged under, and the observer.

    Raises UnknownNameError if the table has no such light or observer.

    >>> Viewing().white.round(2)
    array([ 95.05, 100.  , 108.88])
    """

    light: str = "D65"
    """One of :data:`LIGHTS`."""
    observer: str = "2"
    """``"2"`` or ``"10"`` degrees."""

    def __post_init__(self) -> None:
        if self.light not in LIGHTS:
            raise UnknownNameError(
                f"no lamp {quoted(self.light)}: expected one of {', '.join(LIGHTS)}. "
                f"{lamp_hint(self.light)}".rstrip()
            )
        if self.observer not in OBSERVERS:
            raise UnknownNameError(f'no observer "{self.observer}"; there are 2 and 10 (degrees)')

    @property
    def weights(self) -> FloatArray:
        """ASTM E308 weights, shape (31, 3); a reflectance of 1 gives the white, Y = 100."""
        return _table()[f"{self.light}/{self.observer}"]

    @property
    def white(self) -> FloatArray:
        """XYZ of the light itself, shape (3,)."""
        return np.asarray(self.weights.sum(axis=0))


@dataclass(frozen=True)
class ScreenColour:
    """What a screen shows of a colour."""

    rgb: FloatArray
    """Encoded sRGB, 0..1, (..., 3). Where the screen cannot show the colour, its chroma is lowered at
    constant luminance until it can; what is too bright is dimmed first (:func:`dimmed`)."""
    shown: npt.NDArray[np.bool_]
    """Whether the screen shows the colour itself, (...)."""


@functools.cache
def _table() -> dict[str, FloatArray]:
    lines = (data_folder() / "colour" / "weights.csv").read_text(encoding="utf-8").splitlines()
    header, *rows = [line for line in lines if not line.startswith("#")]
    names = header.split(",")
    values = np.array([[float(cell) for cell in row.split(",")] for row in rows])
    values.setflags(write=False)
    return {names[i].rsplit("/", 1)[0]: values[:, i : i + 3] for i in range(1, len(names), 3)}


def xyz(reflectance: npt.ArrayLike, viewing: Viewing) -> FloatArray:
    """Return tristimulus values, equation (C1).

    Bands stand on the last axis; Y = 100 for a perfect white.

    >>> xyz(np.full(31, 0.5), Viewing()).round(2)
    array([47.52, 50.  , 54.44])
    """
    return np.asarray(np.asarray(reflectance, dtype=np.float64) @ viewing.weights)


def lab_from_xyz(values: npt.ArrayLike, white: npt.ArrayLike) -> FloatArray:
    """Return CIE L*a*b*, equation (C2).

    >>> lab_from_xyz([95.047, 100.0, 108.883], [95.047, 100.0, 108.883])
    array([100.,   0.,   0.])
    """
    t = np.asarray(values, dtype=np.float64) / np.asarray(white, dtype=np.float64)
    delta = 6.0 / 29.0
    f = np.where(t > delta**3, np.cbrt(t), t / (3.0 * delta**2) + 4.0 / 29.0)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def xyz_from_lab(lab: npt.ArrayLike, white: npt.ArrayLike) -> FloatArray:
    """Return XYZ from CIE L*a*b*: the inverse of :func:`lab_from_xyz`."""
    values = np.asarray(lab, dtype=np.float64)
    y = (values[..., 0] + 16.0) / 116.0
    f = np.stack([y + values[..., 1] / 500.0, y, y - values[..., 2] / 200.0], axis=-1)
    delta = 6.0 / 29.0
    t = np.where(f > delta, f**3, 3.0 * delta**2 * (f - 4.0 / 29.0))
    return np.asarray(t * np.asarray(white, dtype=np.float64))


def lab(reflectance: npt.ArrayLike, viewing: Viewing) -> FloatArray:
    """Return CIE L*a*b* of a reflectance under a light.

    Bands stand on the last axis.

    >>> lab(np.ones(31), Viewing("A")).round(6)
    array([100.,   0.,   0.])
    """
    values = xyz(reflectance, viewing)
    # The sums of 31 bands are cheaper to look at than the bands, and hold whatever was wrong in them.
    if not ((values > _FAR_TOO_DARK) & (values < _FAR_TOO_BRIGHT)).all():
        raise ValueError("a reflectance must be a share of the light, within 0..1: no percentage, no nan")
    return lab_from_xyz(values, viewing.white)


def lch(lab_values: npt.ArrayLike) -> FloatArray:
    """Return lightness, chroma and hue angle in degrees (CIE 15) from L*a*b*.

    Hue from 0 to 360.

    >>> lch([50.0, 0.0, -20.0])
    array([ 50.,  20., 270.])
    """
    v = np.asarray(lab_values, dtype=np.float64)
    hue = np.degrees(np.arctan2(v[..., 2], v[..., 1])) % 360.0
    return np.stack([v[..., 0], np.hypot(v[..., 1], v[..., 2]), hue], axis=-1)


def delta_e_2000(first: npt.ArrayLike, second: npt.ArrayLike) -> FloatArray:
    """Return the CIEDE2000 difference, equation (C3), all weights 1.

    Written after the formulas of G. Sharma, W. Wu and E. N. Dalal, Color Res. Appl. 30 (2005) 21,
    equations 2 to 22, with their care for hues across 360° and for greys.

    L*a*b* on the last axis, broadcasting against each other.

    >>> float(delta_e_2000([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485]).round(4))
    2.0425
    """
    one, two = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    L1, a1, b1 = one[..., 0], one[..., 1], one[..., 2]
    L2, a2, b2 = two[..., 0], two[..., 1], two[..., 2]
    mean_C7 = (0.5 * (np.hypot(a1, b1) + np.hypot(a2, b2))) ** 7
    G = 0.5 * (1.0 - np.sqrt(mean_C7 / (mean_C7 + 25.0**7)))
    a1, a2 = (1.0 + G) * a1, (1.0 + G) * a2
    C1, C2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360.0, np.degrees(np.arctan2(b2, a2)) % 360.0
    grey = C1 * C2 == 0.0
    dh = h2 - h1
    dh = np.where(dh > 180.0, dh - 360.0, np.where(dh < -180.0, dh + 360.0, dh))
    dh = np.where(grey, 0.0, dh)
    dL, dC = L2 - L1, C2 - C1
    dH = 2.0 * np.sqrt(C1 * C2) * np.sin(np.radians(dh) / 2.0)
    L, C = 0.5 * (L1 + L2), 0.5 * (C1 + C2)
    total = h1 + h2
    wrapped = np.where(total < 360.0, 0.5 * (total + 360.0), 0.5 * (total - 360.0))
    h = np.where(grey, total, np.where(np.abs(h1 - h2) <= 180.0, 0.5 * total, wrapped))
    T = (
        1.0
        - 0.17 * np.cos(np.radians(h - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * h))
        + 0.32 * np.cos(np.radians(3.0 * h + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * h - 63.0))
    )
    SL = 1.0 + 0.015 * (L - 50.0) ** 2 / np.sqrt(20.0 + (L - 50.0) ** 2)
    SC, SH = 1.0 + 0.045 * C, 1.0 + 0.015 * C * T
    C7 = C**7
    RC = 2.0 * np.sqrt(C7 / (C7 + 25.0**7))
    RT = -RC * np.sin(np.radians(60.0 * np.exp(-(((h - 275.0) / 25.0) ** 2))))
    l_term, c_term, h_term = dL / SL, dC / SC, dH / SH
    return np.asarray(np.sqrt(np.maximum(l_term**2 + c_term**2 + h_term**2 + RT * c_term * h_term, 0.0)))


def on_screen(values: npt.ArrayLike, white: npt.ArrayLike) -> ScreenColour:
    """Return what an sRGB screen shows of a colour seen by an eye adapted to `white`.

    Equations (C5) then (C4).

    `values` are XYZ, Y = 100 for white; `white` is the XYZ of the light the eye is adapted to.

    >>> colour = on_screen(Viewing().white * 0.5, Viewing().white)
    >>> colour.rgb.round(3), bool(colour.shown)
    (array([0.735, 0.735, 0.735]), True)
    """
    linear = _on_screen(values, white)
    low, high = linear.min(axis=-1), linear.max(axis=-1)
    shown = (low >= -_GAMUT_SLACK) & (high <= 1.0 + _GAMUT_SLACK)
    linear = linear * _dimming(linear)[..., np.newaxis]
    grey = np.clip(linear @ _LINEAR_TO_XYZ[1], 0.0, 1.0)
    # Each channel may move away from the grey of equal luminance this far before it leaves 0..1.
    room = linear - grey[..., np.newaxis]
    limit = np.where(room > 0.0, 1.0 - grey[..., np.newaxis], grey[..., np.newaxis])
    keep = np.divide(limit, np.abs(room), out=np.ones_like(room), where=np.abs(room) > limit).min(axis=-1)
    inside = np.clip(grey[..., np.newaxis] + room * keep[..., np.newaxis], 0.0, 1.0)
    return ScreenColour(rgb=encode_srgb(inside), shown=np.asarray(shown))


def lab_on_screen(values: npt.ArrayLike, viewing: Viewing) -> ScreenColour:
    """Return what an sRGB screen shows of some L*a*b* seen under a light.

    >>> hex_of(lab_on_screen([50.0, 0.0, 0.0], Viewing("A")).rgb)
    '#777777'
    """
    return on_screen(xyz_from_lab(values, viewing.white), viewing.white)


def dimmed(values: npt.ArrayLike, white: npt.ArrayLike) -> FloatArray:
    """Return XYZ with light colours that are too bright for a screen brought down to what it shows.

    Hue and saturation stay. Metals outshine white: at constant luminance their colour would be gone.

    >>> gold = np.array([130.0, 135.0, 60.0])
    >>> dimmed([gold, gold / 2.0], Viewing().white).round(1).tolist()
    [[70.7, 73.4, 32.6], [65.0, 67.5, 30.0]]
    """
    return np.asarray(values, dtype=np.float64) * _dimming(_on_screen(values, white))[..., np.newaxis]


def _on_screen(values: npt.ArrayLike, white: npt.ArrayLike) -> FloatArray:
    """Return XYZ as linear sRGB for an eye adapted to a white."""
    to_screen = _to_screen(tuple(np.asarray(white, dtype=np.float64).tolist()))
    return np.asarray(np.asarray(values, dtype=np.float64) @ to_screen)


def _dimming(linear: FloatArray) -> FloatArray:
    start, end = _DIMMED_FROM
    part = np.clip((linear @ _LINEAR_TO_XYZ[1] - start) / (end - start), 0.0, 1.0)
    return np.asarray(1.0 / (1.0 + part * np.maximum(linear.max(axis=-1) - 1.0, 0.0)))


@functools.cache
def _to_screen(white: tuple[float, ...]) -> FloatArray:
    return np.asarray((_XYZ_TO_LINEAR @ adaptation(white, tuple(_SCREEN_WHITE.tolist())) / 100.0).T)


@functools.cache
def adaptation(white: tuple[float, ...], to: tuple[float, ...]) -> FloatArray:
    """Return the matrix that brings XYZ for an eye used to one white to what it sees alike under another."""
    gain = (_BRADFORD @ np.array(to)) / (_BRADFORD @ np.array(white))
    return np.asarray(np.linalg.inv(_BRADFORD) @ (gain[:, np.newaxis] * _BRADFORD))


def lab_alike(values: npt.ArrayLike, *, under: Viewing, to: Viewing) -> FloatArray:
    """Return the L*a*b* under one light of colours that look there as some XYZ do under another.

    Colours under two lights are compared so: brought to one white by a chromatic adaptation (C5) first, as
    ISO 105-J05 does with another matrix, for each light's own L*a*b* adapts an eye badly.

    >>> lab_alike(Viewing("A").white * 0.5, under=Viewing("A"), to=Viewing()).round(6).tolist()
    [76.069261, 0.0, 0.0]
    """
    matrix = adaptation(tuple(under.white.tolist()), tuple(to.white.tolist()))
    return lab_from_xyz(np.asarray(values, dtype=np.float64) @ matrix.T, to.white)


def encode_srgb(linear: npt.ArrayLike) -> FloatArray:
    """Return encoded sRGB values from linear ones, both 0..1 (IEC 61966-2-1)."""
    v = np.asarray(linear, dtype=np.float64)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 0.0031308) ** (1.0 / 2.4) - 0.055)


def decode_srgb(encoded: npt.ArrayLike) -> FloatArray:
    """Return linear sRGB values from encoded ones, both 0..1 (IEC 61966-2-1).

    >>> float(decode_srgb(0.5).round(7))
    0.2140411
    """
    v = np.asarray(encoded, dtype=np.float64)
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0.04045) + 0.055) / 1.055) ** 2.4)


def hex_of(rgb: npt.ArrayLike) -> str:
    """Return one encoded sRGB colour as ``#rrggbb``.

    >>> hex_of([1.0, 0.5, 0.0])
    '#ff8000'
    """
    levels = np.rint(np.asarray(rgb, dtype=np.float64) * 255.0).astype(int)
    return "#" + "".join(f"{level:02x}" for level in levels)


def lab_of_hex(text: str) -> FloatArray:
    """Return L*a*b* (D65, 2°) of a screen colour written as ``#rrggbb``.

    Raises ValueError if the text is not ``#`` and six hexadecimal digits.

    >>> lab_of_hex("#ff0000").round(1)
    array([53.2, 80.1, 67.2])
    """
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        raise ValueError(f'"{text}" is not a colour such as "#7a4c2e"')
    encoded = np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    return lab_from_xyz(_LINEAR_TO_XYZ @ decode_srgb(encoded) * 100.0, _SCREEN_WHITE)


def luminance_weights(viewing: Viewing | None = None) -> FloatArray:
    """Return the weights that turn a reflectance into Y, a perfect white giving 1."""
    return np.asarray((viewing or Viewing()).weights[:, 1] / 100.0)
