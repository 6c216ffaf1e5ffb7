"""The greys of each area's preshade, read off a photograph of the model, with their doubt.

The ends of an area are where 2 % of its pixels are darker and 2 % lighter. With Y the light of an end, r the
relative error of light and tone curve, N the calibration's own covariance and ∂ the slope of L* by XYZ,

    σ² = ∂ (N + r² XYZ XYZᵀ) ∂ᵀ + (d / 1.645)²                                                  (F9)

d is how far the end moves if 5 % are left out in place of 2 %: of a mask that runs beyond its area, and of
specks, no picture tells more. σ is never taken for less than 2: light that falls off by a tenth to either
side of a rendered scene makes greys wrong by 1.8 on average (see the tests), and one card does not show it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import NINETY
from layersim.figure.repaint import SeenArea
from layersim.figure.seen import ModelPhotograph
from layersim.fitting.chip import relative_error
from layersim.fitting.greys import LEAST, SeenGreys
from layersim.measure.calibrate import lab_slope
from layersim.scheme.records import GreysGiven, Scheme

_LEAST: Final = 2.0
_CUT_OFF: Final = 0.02
"""Share of an area that may be cut off: it lies beyond the end that is read."""


def greys_seen(area: SeenArea, model: ModelPhotograph) -> SeenGreys:
    """Return the greys of an area as a scheme has them, their doubt by (F9), and what speaks against them."""
    errors = [
        np.hypot(_calibration_error(end, model), abs(end - within) / NINETY)
        for end, within in zip(area.seen, area.within, strict=True)
    ]
    notes = []
    if area.cut_off > _CUT_OFF:
        notes.append(
            f"{area.name}: {100.0 * area.cut_off:.0f} % of it is as light as the picture can show, so its "
            "lightest grey is not known. Photograph it darker"
        )
    if area.seen[1] - area.seen[0] < LEAST:
        notes.append(
            f"{area.name}: all of it is L* {area.seen[0]:.0f} in the picture, so it has no two greys"
        )
    return SeenGreys(*area.seen, doubt=NINETY * max(*map(float, errors), _LEAST), notes=tuple(notes))


def _calibration_error(L: float, model: ModelPhotograph) -> float:
    """Return one standard deviation of L* of a grey, for all but the choice of its pixels."""
    white = model.white
    xyz = np.maximum(colour.xyz_from_lab(np.array([L, 0.0, 0.0]), white), 0.05)
    r = relative_error(float(xyz[1]), model.greys, holds_light=model.photograph.holds_light)
    off = model.calibration.error_covariance(xyz) + r**2 * np.outer(xyz, xyz)
    slope = lab_slope(xyz, white)
    return float(np.sqrt((slope @ off @ slope.T)[0, 0]))


def hand_error(scheme: Scheme, read: Mapping[str, SeenGreys]) -> float:
    """Return what ``[hand] greys`` of a scheme has to be once greys were read for some of its areas.

    One number speaks for the greys of all areas: those in more doubt must not seem surer than they are.
    """
    error = max(greys.error for greys in read.values())
    others = any(isinstance(area.preshade, GreysGiven) and area.name not in read for area in scheme.areas)
    return max(error, scheme.hand.greys) if others else error
