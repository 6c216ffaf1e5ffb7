"""How a file's values follow light: a camera's tone curve, learnt from greys, with its look undone first.

With v a linear value and e the same encoded (IEC 61966-2-1), t is in proportion to

    ln t = a ln v                                          "power"
    ln t = ln v + a₁u + a₂u² + a₃u³,  u = −ln(1 − e/1.5)   "curve"                         (K5)

The curves that makers draw go straight to nothing in the dark, so that there t follows v, and turn flat
towards white, where u grows. A cubic of ln t in ln v, which does neither, missed greys by 4 to 7 % where
highlights were rolled off; (K5) misses them by 1 to 4 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import encode_srgb
from layersim.measure.look import PLAIN, Look
from layersim.spectra import FloatArray

TONES: Final = ("as read", "flare", "power", "curve")
SMALLEST: Final = 1e-6
"""Of full scale: the least value whose logarithm is taken."""
_POWERS: Final = np.arange(1, 4)
# 1.5 of (K5): on looks for tuning 1.2 and 3 served nearly as well.
_FLAT_AT: Final = 1.5
# No curve is believed that turns so flat or so steep that t gains less than this of ln v.
_LEAST_SLOPE: Final = 0.2


@dataclass(frozen=True, eq=False)
class ToneCurve:
    """How a file's values follow light, the same for each channel once the look is undone, equation (K1)."""

    kind: str
    """One of :data:`TONES`."""
    numbers: FloatArray
    """For "flare" what to take off each channel, shape (3,); otherwise a of (K5)."""
    low: float = 0.0
    """Least ln v of the neutrals."""
    high: float = 0.0
    """Greatest ln v of the neutrals; beyond it a curve goes on straight."""
    look: Look = PLAIN
    """What is undone first."""

    def light(self, values: npt.ArrayLike) -> FloatArray:
        """Return what is proportional to light of values of shape (..., 3), equation (K1)."""
        return self._toned(self.look.undone(values))

    def _toned(self, v: FloatArray) -> FloatArray:
        if self.kind == "as read":
            return np.maximum(v, 0.0)
        if self.kind == "flare":
            return np.maximum(v - self.numbers, 0.0)
        lv = np.log(np.maximum(v, SMALLEST))
        if self.kind == "power":
            return np.asarray(np.exp(self.numbers[0] * lv))
        u, most = _towards_white(lv), _towards_white(np.array(self.high))
        inside = np.minimum(u, most)[..., np.newaxis] ** _POWERS
        steep = (_POWERS * most ** (_POWERS - 1)) @ self.numbers
        return np.asarray(np.exp(lv + inside @ self.numbers + steep * np.maximum(u - most, 0.0)))

    def beyond(self, values: npt.ArrayLike) -> FloatArray:
        """Return how far values (..., 3) lie beyond the greys that the curve was learnt from, in ln v."""
        v = self.look.undone(values)
        if self.kind in ("as read", "flare"):
            return np.zeros(v.shape)
        lv = np.log(np.maximum(v, SMALLEST))
        return np.asarray(lv - np.clip(lv, self.low, self.high))

    @property
    def rises(self) -> bool:
        """Whether more light always gives a larger value."""
        if self.kind in ("as read", "flare"):
            return True
        lv = np.linspace(self.low, self.high, 50)
        gained = np.diff(np.log(self._toned(np.exp(lv))))
        return bool((gained > _LEAST_SLOPE * np.diff(lv)).all())


def _towards_white(lv: FloatArray) -> FloatArray:
    """Return u of (K5)."""
    return np.asarray(-np.log1p(-encode_srgb(np.exp(np.minimum(lv, 0.0))) / _FLAT_AT))


def fit_tone(kind: str, rgb: FloatArray, spectra: FloatArray) -> ToneCurve:
    """Return a tone fitted to neutrals, shape (n, 3) and (n, 31)."""
    level = spectra.mean(axis=1)
    if kind == "as read":
        return ToneCurve(kind, np.zeros(3))
    if kind == "flare":
        # v = level · gain + flare, errors relative to the value
        weight = 1.0 / np.maximum(rgb, 1e-3)
        flare = np.empty(3)
        for c in range(3):
            rows = np.column_stack([level, np.ones_like(level)]) * weight[:, c : c + 1]
            flare[c] = np.linalg.lstsq(rows, rgb[:, c] * weight[:, c], rcond=None)[0][1]
        return ToneCurve(kind, np.clip(flare, -0.02, 0.8 * rgb.min(axis=0)))
    lv = np.log(np.maximum(rgb, SMALLEST))
    if kind == "power":
        columns, known = lv[..., np.newaxis], np.zeros(lv.shape)
    else:
        columns, known = _towards_white(lv)[..., np.newaxis] ** _POWERS, lv
    # Of each channel, its gain.
    rows = np.concatenate([columns, np.broadcast_to(np.eye(3), (*lv.shape, 3))], axis=-1)
    weight = np.sqrt(level / (level + 0.03))[:, np.newaxis, np.newaxis]
    wanted = (np.log(level)[:, np.newaxis] - known)[..., np.newaxis] * weight
    fit, *_ = np.linalg.lstsq((rows * weight).reshape(-1, rows.shape[-1]), wanted.ravel(), rcond=None)
    return ToneCurve(kind, fit[:-3], float(lv.min()), float(lv.max()))


def tone_of_few(rgb: FloatArray, spectra: FloatArray) -> ToneCurve:
    """Return the simplest tone under which a few neutrals agree to 4 % (flare: of the darkest)."""
    if len(rgb) < 2:
        return ToneCurve("as read", np.zeros(3))
    level = spectra.mean(axis=1)[:, np.newaxis]

    def disagreement(tone: ToneCurve) -> float:
        logs = np.log(np.maximum(tone.light(rgb), SMALLEST) / level)
        return float(np.ptp(logs, axis=0).max())

    kinds = ["as read", "power"] if len(rgb) == 2 else ["as read", "flare", "power"]
    tones = [fit_tone(kind, rgb, spectra) for kind in kinds]
    misses = [disagreement(tone) for tone in tones]
    for tone, miss in zip(tones, misses, strict=True):
        if tone.rises and miss < 0.04:
            return tone
    return tones[int(np.argmin(misses))]
