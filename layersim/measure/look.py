"""A maker's look: what a camera or phone does to finished colours so that they please.

More saturation and a turn of all hues are made on the file's own values, after the tone curve, where no
matrix on linear light can undo them. With e the encoded value (IEC 61966-2-1), y its luma and (b, r) its
two chromas (ITU-T T.871, section 7),

    (b, r)' = s (c/0.2)⁻ᵈ T(φ) (b, r),   y' = y,   φ = φ₀ + φ₁ cos h + φ₂ sin h            (K3)

with c and h the length and the angle of (b, r)', and T a turn by φ: makers turn skies and skins by more than
the rest, and dull colours often gain more than vivid ones. What the camera made of it is not in the file;
whether there is anything to undo, and how much, is decided by a chart's patches, left out in turn
(:mod:`layersim.measure.processing`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import decode_srgb, encode_srgb
from layersim.spectra import FloatArray

_LUMA: Final = np.array([0.299, 0.587, 0.114])
_GREY: Final = 1e-9  # no hue is asked of less chroma
_MIDDLING: Final = 0.2
_DULLEST: Final = 1e-3  # colours with less chroma gain no more than those
_MOST: Final = 4.0  # encoded values are decoded up to this, for the arithmetic alone


@dataclass(frozen=True)
class Look:
    """What a maker did to finished colours, equation (K3).

    >>> Look().undone(np.array([0.5, 0.2, 0.1]))
    array([0.5, 0.2, 0.1])
    """

    log_saturation: float = 0.0
    """ln s."""
    turn: float = 0.0
    """φ₀, radians."""
    turn_blue: float = 0.0
    turn_red: float = 0.0
    """φ₁ and φ₂, radians: how much more blues and reds are turned than the colours opposite."""
    dull: float = 0.0
    """d: how much more dull colours gained than vivid ones."""

    @property
    def plain(self) -> bool:
        """Whether nothing was done."""
        return self == PLAIN

    def undone(self, values: npt.ArrayLike) -> FloatArray:
        """Return a file's linear values, shape (..., 3), as they were before the look was given them."""
        v = np.asarray(values, dtype=np.float64)
        if self.plain:
            return v
        e = encode_srgb(np.maximum(v, 0.0))
        luma = e @ _LUMA
        b, r = (e[..., 2] - luma) / 1.772, (e[..., 0] - luma) / 1.402
        chroma = np.maximum(np.hypot(b, r), _GREY)
        turn = self.turn + (self.turn_blue * b + self.turn_red * r) / chroma
        weaker = np.exp(-self.log_saturation) * (np.maximum(chroma, _DULLEST) / _MIDDLING) ** self.dull
        c, s = weaker * np.cos(turn), weaker * np.sin(turn)
        b, r = c * b + s * r, c * r - s * b
        red, blue = luma + 1.402 * r, luma + 1.772 * b
        green = (luma - _LUMA[0] * red - _LUMA[2] * blue) / _LUMA[1]
        before = np.stack([red, green, blue], axis=-1)
        return np.where(before < 0.0, before / 12.92, decode_srgb(np.clip(before, 0.0, _MOST)))


PLAIN: Final = Look()
"""No look at all."""
