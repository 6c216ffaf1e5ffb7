"""The one chip that would narrow the next preview of a scheme most.

With p what stays from one spraying to the next (the sprayer's film, bottles, the model's own errors) and C
its covariance, a chip has slopes H along p and N is the covariance of all else in it: the films and mixes
of the day, and its own error. The finish has slopes G. Once the chip is measured, the finish's variance is
less by

    tr G C Hᵀ (H C Hᵀ + N)⁻¹ H C Gᵀ                                                          (H4)

(the same rule of Bayes as in :mod:`layersim.learn.films`). Films and mixes of the next time are drawn anew,
so no chip narrows them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import NINETY
from layersim.errors import LayersimError
from layersim.learn.posterior import Column, Posterior, factor_key
from layersim.learn.really import step_names, step_of
from layersim.log import TONES
from layersim.scheme.records import Area, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray

_SLOPE: Final = 0.1


@dataclass(frozen=True)
class Wanted:
    """A chip to be measured, and how far the finish's tones may be off before it and after it."""

    area: str
    step: str
    tone: str
    before: float
    """ΔE within which 90 % of outcomes lie, about, as a mean over areas and tones."""
    after: float


def wanted_chip(scheme: Scheme, known: Posterior, *, chip_error: float) -> Wanted | None:
    """Return the one chip that would narrow the next preview of a scheme most; None where none can.

    `known` is what chips have told; the scheme is the first of its schemes, without what was learned put to
    it.
    """
    areas = [one for area in scheme.areas if (one := _slopes(scheme, area, known)) is not None]
    keys = list(dict.fromkeys(key for _, own, _, _ in areas for key in own))
    column = {key: i for i, key in enumerate(keys)}
    _, C = known.of(keys)
    daily = np.array([_is_daily(key) for key in keys])
    # What is drawn anew each day has nothing to do with the day that was measured.
    fresh = np.diag(np.where([key.key.kind == "film" for key in keys], known.scatter**2, 1.0))
    C = np.where(daily[:, np.newaxis] | daily, fresh, C)
    G = (
        np.concatenate([_put(slopes[:, -1], own, column) for _, own, slopes, _ in areas])
        if areas
        else np.empty(0)
    )
    stay = ~daily
    best: tuple[float, str, str, str] | None = None
    for area, own, slopes, stages in areas:
        for stage in stages:
            for tone, word in enumerate(TONES):
                H = _put(slopes[:, stage, tone : tone + 1], own, column)
                N = H[:, daily] @ C[np.ix_(daily, daily)] @ H[:, daily].T + chip_error**2 * np.eye(3)
                HC = H[:, stay] @ C[np.ix_(stay, stay)]
                reach = HC @ G[:, stay].T
                gain = float(np.trace(reach.T @ np.linalg.solve(HC @ H[:, stay].T + N, reach)))
                if best is None or gain > best[0]:
                    best = (gain, area.name, step_names(area)[stage], word)
    if best is None:
        return None
    gain, name, step, word = best
    variance, count = float(np.einsum("ij,jk,ik->", G, C, G)), len(G) / 3.0
    before, after = (NINETY * float(np.sqrt(max(v, 0.0) / count)) for v in (variance, variance - gain))
    return Wanted(name, step, word, before, after)


def _is_daily(column: Column) -> bool:
    return column.key.kind in ("film", "parts")


def _slopes(
    scheme: Scheme, area: Area, known: Posterior
) -> tuple[Area, list[Column], FloatArray, list[int]] | None:
    """Return an area, its factors' keys, slopes of L*a*b* (factor, stage, tone, 3), and its stages."""
    try:
        model = AreaModel(scheme, area, tones=len(TONES))
    except LayersimError:
        return None
    keys = [factor_key(0, area, factor.key) for factor in model.factors]
    z, _ = known.of(keys)
    z = np.where([_is_daily(key) for key in keys], 0.0, z)
    lab = colour.lab(
        model.reflectance(z + np.concatenate([z[np.newaxis] * 0.0, _SLOPE * np.eye(len(z))])), scheme.viewing
    )
    stages = [i for i in range(len(step_names(area))) if step_of(area, i) is not None]
    return area, keys, (lab[1:] - lab[0]) / _SLOPE, stages


def _put(slopes: FloatArray, own: list[Column], column: dict[Column, int]) -> FloatArray:
    """Return slopes (factor, tone, 3) as rows of L*, a*, b* over all factors."""
    rows = np.zeros((slopes[0].size, len(column)))
    rows[:, [column[key] for key in own]] = slopes.reshape(len(own), -1).T
    return rows
