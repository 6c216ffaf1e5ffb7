"""What is said and shown of metal, which looks different from every side."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from layersim.optics.flakes import FAR, LIT_FROM_DEG, NEAR, TURNED
from layersim.scheme.prediction import AreaPrediction, AtAngle
from layersim.spectra import FloatArray
from layersim.views.words import joined, lightness_words

_LOOKS: Final = {NEAR: "near the glint", TURNED: "turned", FAR: "turned away"}
_LEAST_FLOP: Final = 1.0
"""Change of the flop index that is worth a sentence."""
FLOP: Final = "flop index"
_WHITE: Final = 100.0

LOOKS_EXPLAINED: Final = (
    "Metal looks different from every side. Its glint is where a mirror would throw the light; degrees count "
    f"from there, back towards the light, which falls from {LIT_FROM_DEG:.0f}°. Where metal is shown once, "
    f"it is turned by {TURNED:.0f}°."
)
FLOP_EXPLAINED: Final = (
    "Flop index: how much lighter metal is near the glint than turned away. Paint without metal has 0, "
    "sprayed metal about 4 to 12, car paint up to 17."
)
_LIGHTER: Final = (
    "L* above 100 is lighter than white paper. No screen shows that: the colour is drawn darker, in its hue."
)


def look_words(degrees: float) -> str:
    """Return what metal at some degrees from the mirror direction is called.

    >>> look_words(NEAR)
    'near the glint, 15°'
    """
    return f"{_LOOKS[degrees]}, {degrees:.0f}°"


USUAL: Final = f"metal, {look_words(TURNED)}"
"""Beside metal that is shown once."""


def usual_words(area: AreaPrediction) -> str:
    """Return what stands beside an area that is shown once; empty without metal."""
    return USUAL if area.angles else ""


def explained(areas: Iterable[AreaPrediction]) -> list[str]:
    """Return what has to be known to read some areas; nothing where none has metal."""
    angles = [angle for area in areas for angle in area.angles]
    if not angles:
        return []
    return [LOOKS_EXPLAINED, FLOP_EXPLAINED, *lighter_words(*(angle.lab for angle in angles))]


def lighter_words(*labs: FloatArray) -> list[str]:
    """Return what has to be known of L*a*b* that are lighter than white, if some are."""
    return [_LIGHTER] if any(lab[..., 0].max() > _WHITE for lab in labs) else []


def flop_cells(area: AreaPrediction, stage: int = -1) -> list[str]:
    """Return the flop index of each tone; 0 without metal."""
    flop = np.zeros_like(area.lab[..., 0]) if area.flop_index is None else area.flop_index
    return [f"{value:.1f}" for value in flop[stage]]


def under_coats_words(area: AreaPrediction) -> list[str]:
    """Return a sentence for every coat over metal that changes how it flops: a wash, a varnish."""
    if area.flop_index is None:
        return []
    flop = area.flop_index.mean(axis=-1)
    said, is_laid = [], False
    for i, stage in enumerate(area.stages):
        if is_laid and not stage.is_metal and abs(flop[i] - flop[i - 1]) >= _LEAST_FLOP:
            does = _changes(area.angles, i)
            said.append(
                f"“{stage.name}” takes the {FLOP} from {flop[i - 1]:.0f} to {flop[i]:.0f}"
                f"{f': {joined(does)}' if does else ''}."
            )
        is_laid = is_laid or stage.is_metal
    return said


def _changes(angles: Sequence[AtAngle], stage: int) -> list[str]:
    """Return what a stage does to the mean lightness from each side."""
    each = ((one.degrees, *one.lab[stage - 1 : stage + 1, :, 0].mean(axis=-1)) for one in angles)
    words = ((degrees, lightness_words(before, after)) for degrees, before, after in each)
    return [f"{_LOOKS[degrees]} it gets {said}" for degrees, said in words if said]
