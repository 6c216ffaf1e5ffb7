"""How a file's values follow light: a camera's tone curve, learnt from greys, with its look undone first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.measure.look import PLAIN, Look
from layersim.spectra import FloatArray

TONES: Final = ("as read", "flare", "power", "curve")
SMALLEST: Final = 1e-6
"""Of full scale: the least value whose logarithm is taken."""


@dataclass(frozen=True, eq=False)
class ToneCurve:
    """How a file's values follow light, the same for each channel once the look is undone, equation (K1)."""

    kind: str
    """One of :data:`TONES`."""
    numbers: FloatArray
    """For "flare" what to take off each channel, shape (3,). "power" and "curve": a₁, a₂, a₃ of ln t = a₁l +
    a₂l² + a₃l³, l = ln v.
    """
    low: float = 0.0
    """Least l of the neutrals; the curve goes on straight beyond it."""
    high: float = 0.0
    """Greatest l of the neutrals; the curve goes on straight beyond it."""
    look: Look = PLAIN
    """What is undone first."""

    def light(self, values: npt.ArrayLike) -> FloatArray:
        """Return what is proportional to light of values of shape (..., 3), equation (K1)."""
        v = self.look.undone(values)
        if self.kind == "as read":
            return np.maximum(v, 0.0)
        if self.kind == "flare":
            return np.maximum(v - self.numbers, 0.0)
        lv = np.log(np.maximum(v, SMALLEST))
        inside = np.clip(lv, self.low, self.high)
        return np.asarray(np.exp(self._poly(inside) + self._slope(inside) * (lv - inside)))

    def beyond(self, values: npt.ArrayLike) -> FloatArray:
        """Return how far values (..., 3) lie beyond the greys that the curve was learnt from, in ln v."""
        v = self.look.undone(values)
        if self.kind in ("as read", "flare"):
            return np.zeros(v.shape)
        lv = np.log(np.maximum(v, SMALLEST))
        return np.asarray(lv - np.clip(lv, self.low, self.high))

    def _poly(self, lv: FloatArray) -> FloatArray:
        a1, a2, a3 = self.numbers
        return np.asarray(lv * (a1 + lv * (a2 + lv * a3)))

    def _slope(self, lv: FloatArray) -> FloatArray:
        a1, a2, a3 = self.numbers
        return np.asarray(a1 + lv * (2.0 * a2 + lv * 3.0 * a3))

    @property
    def rises(self) -> bool:
        """Whether more light always gives a larger value."""
        if self.kind in ("as read", "flare"):
            return True
        return bool((self._slope(np.linspace(self.low, self.high, 50)) > 0.2).all())


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
    degree = 1 if kind == "power" else 3
    lv = np.log(np.maximum(rgb, SMALLEST))
    columns = [(lv ** (k + 1)).ravel() for k in range(degree)]
    channel = [np.tile(np.eye(3)[c], len(rgb)) for c in range(3)]
    weight = np.sqrt(np.repeat(level / (level + 0.03), 3))
    rows = np.column_stack([*columns, *channel]) * weight[:, np.newaxis]
    fit, *_ = np.linalg.lstsq(rows, np.repeat(np.log(level), 3) * weight, rcond=None)
    numbers = np.zeros(3)
    numbers[:degree] = fit[:degree]
    return ToneCurve(kind, numbers, float(lv.min()), float(lv.max()))


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
