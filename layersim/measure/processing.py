"""What a camera made of light: its tone, its look and its channels, settled together by a chart.

Of every way to undo what was done to a picture (tone curves, and a look of (K3)) the channels are learnt, and
each of the chart's patches, left out, is predicted (N5). The densities are those of the file's own
values v, so that no way gains by merely squeezing colours together:

    ln p(v) = ln p(t) + Σ ln |det ∂t/∂v|                                                  (K4)

A way with more freedom must gain :data:`_WORTH` a parameter. How far the best one still is off is learnt with
it (N3), and tells what was processed beyond what can be undone.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.measure.channels import (
    USUAL,
    Channels,
    Misfit,
    learn_channels,
    left_out_density,
    priors,
    rough_white,
)
from layersim.measure.look import PLAIN, Look
from layersim.measure.tone import TONES, ToneCurve, fit_tone
from layersim.spectra import FloatArray

_WORTH: Final = 1.0
_LOOK_WORTH: Final = 4.0  # of a look as a whole: pictures without one must not get one by chance
_FREEDOM: Final = dict(zip(TONES, (0, 1, 1, 3), strict=True))
_SATURATIONS: Final = (0.08, 0.16, 0.24, 0.32)
_TURNS: Final = (-0.06, 0.0, 0.06)
_FEWEST_GREYS: Final = 4
# Of ln u, ln v, ln z, logit η and ln L: how far they may be from the usual, and how far a first step goes.
_SPREAD: Final = np.array([1.5, 1.5, 1.0, 2.0, 0.3])
_STEPS: Final = np.array([0.7, 0.7, 0.7, 1.2, 0.3])
# The same of ln s, φ₀, φ₁, φ₂ and d of a look.
_LOOK_SPREAD: Final = np.array([0.3, 0.3, 0.06, 0.06, 0.1])
_LOOK_STEPS: Final = np.array([0.04, 0.04, 0.03, 0.03, 0.04])
_HALVINGS: Final = 3


def learn_camera(
    values: npt.ArrayLike,
    covariance: npt.ArrayLike,
    reflectance: npt.ArrayLike,
    *,
    grey: npt.ArrayLike,
    linear: bool = False,
) -> tuple[ToneCurve, Channels]:
    """Return what a camera made of light.

    `values`, shape (k, 3), are linear values of a chart's patches as the file has them, with the covariance
    of their noise; `reflectance`, shape (k, 31), is what is published of them, and `grey` says which are
    neutral. If the file is known to hold light itself, `linear`, only flare is undone. The look is in the
    tone.
    """
    chart = _Chart(
        np.asarray(values, dtype=np.float64),
        np.asarray(covariance, dtype=np.float64),
        np.asarray(reflectance, dtype=np.float64),
        np.asarray(grey, dtype=np.bool_),
    )
    as_read = ToneCurve("as read", np.zeros(3))
    prior = _best_prior(chart, as_read, USUAL)
    best, most = as_read, -math.inf
    kinds: tuple[str, ...] = TONES[:2] if linear else TONES
    if chart.grey.sum() < _FEWEST_GREYS:
        kinds = TONES[:1]
    looks = [PLAIN]
    if not linear:
        looks += [Look(log_s, turn) for log_s, turn in itertools.product(_SATURATIONS, _TURNS)]
    for kind, look in itertools.product(kinds, looks):
        tone = chart.tone(kind, look)
        gained = chart.density(tone, USUAL, prior) - _WORTH * _FREEDOM[kind] - _LOOK_WORTH * (not look.plain)
        if gained > most:
            best, most = tone, gained
    misfit = USUAL
    for _ in range(2):
        misfit, best = _settled(chart, best, misfit, prior)
        prior = _best_prior(chart, best, misfit)
    t, sd = chart.light(best)
    return best, learn_channels(t, chart.reflectance, noise=sd, misfit=misfit, prior=prior)


@dataclasses.dataclass(frozen=True, eq=False)
class _Chart:
    values: FloatArray
    covariance: FloatArray
    reflectance: FloatArray
    grey: npt.NDArray[np.bool_]

    def tone(self, kind: str, look: Look) -> ToneCurve:
        greys = np.maximum(look.undone(self.values[self.grey]), 0.0)
        return dataclasses.replace(fit_tone(kind, greys, self.reflectance[self.grey]), look=look)

    def light(self, tone: ToneCurve) -> tuple[FloatArray, FloatArray]:
        """Return linear light and its noise, shape (k, 3)."""
        slope = slopes(tone, self.values)
        sd = np.sqrt(np.einsum("iab,ibd,iad->ia", slope, self.covariance, slope))
        return tone.light(self.values), sd

    def density(self, tone: ToneCurve, misfit: Misfit, prior: FloatArray) -> float:
        """Return (K4), minus infinity where a tone does not rise."""
        slope = slopes(tone, self.values)
        det = np.linalg.det(slope)
        if not tone.rises or (det <= 0.0).any():
            return -math.inf
        sd = np.sqrt(np.einsum("iab,ibd,iad->ia", slope, self.covariance, slope))
        t = tone.light(self.values)
        white = rough_white(t, self.reflectance)
        if (white <= 0.0).any():
            return -math.inf
        found = left_out_density(t / white, sd / white, self.reflectance, misfit, prior)
        return float(found + np.log(det).sum() - len(t) * np.log(white).sum())


def slopes(tone: ToneCurve, values: FloatArray) -> FloatArray:
    """Return the derivative of light by a file's linear values, shape (..., 3, 3), by differences."""
    low, high = np.maximum(0.99 * values - 1e-4, 0.0), 1.01 * values + 1e-4
    found = np.empty((*values.shape, 3))
    for c in range(3):
        below, above = values.copy(), values.copy()
        below[..., c], above[..., c] = low[..., c], high[..., c]
        found[..., c] = (tone.light(above) - tone.light(below)) / (high - low)[..., c, np.newaxis]
    return found


def _best_prior(chart: _Chart, tone: ToneCurve, misfit: Misfit) -> FloatArray:
    t, sd = chart.light(tone)
    white = rough_white(t, chart.reflectance)
    found = left_out_density(t / white, sd / white, chart.reflectance, misfit, priors())
    return np.asarray(priors()[int(np.argmax(found))])


def _settled(chart: _Chart, tone: ToneCurve, misfit: Misfit, prior: FloatArray) -> tuple[Misfit, ToneCurve]:
    """Return the misfit, and the look where there is one, of greatest density with a prior on both."""
    usual = _as_numbers(USUAL)
    fixed = tone.look.plain

    def tone_of(x: FloatArray) -> ToneCurve:
        return tone if fixed else chart.tone(tone.kind, Look(*x[5:].tolist()))

    def gained(x: FloatArray) -> float:
        away = (x[:5] - usual) / _SPREAD
        if not fixed:
            away = np.concatenate([away, x[5:] / _LOOK_SPREAD])
        return chart.density(tone_of(x), _as_misfit(x), prior) - 0.5 * float(away @ away)

    begin, steps = _as_numbers(misfit), _STEPS
    if not fixed:
        begin = np.concatenate([begin, dataclasses.astuple(tone.look)])
        steps = np.concatenate([steps, _LOOK_STEPS])
    found = _highest(gained, begin, steps)
    return _as_misfit(found), tone_of(found)


def _highest(gained: Callable[[FloatArray], float], begin: FloatArray, steps: FloatArray) -> FloatArray:
    """Return where a function is highest, by steps along each axis in turn.

    R. Hooke and T. A. Jeeves, J. ACM 8 (1961) 212, without its pattern moves.
    """
    at, most = begin, gained(begin)
    for halving in range(_HALVINGS):
        for i, sign in itertools.product(range(len(at)), (1.0, -1.0)):
            tried = at.copy()
            tried[i] += sign * steps[i] * 0.5**halving
            there = gained(tried)
            if there > most:
                at, most = tried, there
    return at


def _as_numbers(misfit: Misfit) -> FloatArray:
    logit = math.log(misfit.alike / (1.0 - misfit.alike))
    logs = [math.log(v) for v in (misfit.light, misfit.saturation, misfit.dark)]
    return np.array([*logs, logit, math.log(misfit.reach)])


def _as_misfit(x: FloatArray) -> Misfit:
    u, v, z = np.exp(x[:3]).tolist()
    return Misfit(u, v, z, alike=1.0 / (1.0 + math.exp(-x[3])), reach=math.exp(x[4]))
