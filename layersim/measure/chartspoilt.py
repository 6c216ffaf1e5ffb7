"""Which patches of a chart in a photograph are spoilt, by what, and what to do about it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import Viewing, xyz
from layersim.measure.chart24 import COLUMNS, ROWS, chart_reflectances
from layersim.measure.chartmisfit import HALF, half_misfits, rough_fit, rough_misfits
from layersim.measure.patches import PatchReading

_FOREIGN_DE00: Final = 15.0
"""Off by this much from what the other patches make of it, a patch shows something that lies on the chart.

On charts rendered through four cameras, with and without a contrast curve, clean patches came to 13 at
the most and patches under a grey thing to 17 at the least.
"""
_BESIDE_DE00: Final = 6.0
"""The same beside such a patch: what lies there may have nearly the colour of one that it hides."""
_MOST_FOREIGN: Final = 8  # of 24; more, and it is the chart that is not the published one
_SHADOW_STEP: Final = 1.15
"""Light on the other patches over that on those in a shadow, at the least.

On charts computed for four cameras under six lights, unspoilt, it came to 1.06; steep and vivid renderings
reach more, so it is not enough.
"""
_FEWEST_IN_SHADOW: Final = 3
_MENDED: Final = 0.6
"""What may be left of the misfit when a shadow is taken out; steep and vivid renderings left above 0.65."""
_SHADED: Final = "in a shadow"
_FOREIGN: Final = "not of the chart's colour"
# What a patch's flag begins with, what to call many such patches, what to do about it.
_CAUSES: Final = (
    (_SHADED, "in a shadow", "no shadow on the chart"),
    (_FOREIGN, "not of the chart's colours", "nothing lying on the chart, in even light"),
    ("clipped", "clipped, as bright as the file can say", "less exposure"),
    ("glare", "in glare", "no lamp or window mirrored in the chart"),
    ("shadow", "partly in a shadow", "no shadow on the chart"),
    ("two tones", "of two tones: an edge or a shadow across them", "no shadow on the chart"),
    ("too dark or too pure", "too dark or too pure for the file's colours", "more exposure, or as raw"),
    ("outside", "outside the picture", "the whole chart in the picture"),
    ("too small", "too small", "the camera nearer"),
)


def spoilt_words(patches: tuple[PatchReading, ...]) -> tuple[str, str]:
    """Return why patches of a chart can't be used, most frequent causes first, and what mends the main ones.

    Both are empty where all can be used.
    """
    counts = Counter(_cause(patch) for patch in patches if not patch.usable)
    why = "; ".join(f"{count} {words}" for (words, _), count in counts.most_common())
    main = [remedy for (_, remedy), count in counts.most_common() if 4 * count >= counts.total()]
    return why, ", ".join(dict.fromkeys(main))


def _cause(patch: PatchReading) -> tuple[str, str]:
    for start, words, remedy in _CAUSES:
        if any(flag.startswith(start) for flag in patch.flags):
            return words, remedy
    return "uneven", "the chart evenly lit and sharp"


def without_covered(patches: tuple[PatchReading, ...]) -> tuple[PatchReading, ...]:
    """Return the patches, those that something lies on marked as not usable."""
    from scipy import ndimage

    usable = np.array([patch.usable for patch in patches])
    if usable.sum() < HALF:
        return patches
    de = rough_misfits(np.array([patch.rgb for patch in patches]), known=usable)
    foreign = ((de > _FOREIGN_DE00) & usable).reshape(ROWS, COLUMNS)
    if not 0 < foreign.sum() <= _MOST_FOREIGN:
        return patches
    near = ndimage.binary_dilation(foreign).ravel()
    covered = foreign.ravel() | (near & usable & (de > _BESIDE_DE00))
    return _marked(patches, covered, _FOREIGN)


def without_shaded(patches: tuple[PatchReading, ...]) -> tuple[PatchReading, ...]:
    """Return the patches, those marked that lie together in less light than all others.

    What a matrix finds is compared with what it should: in a shadow it is a share of it.
    """
    usable = np.array([patch.usable for patch in patches])
    if usable.sum() < HALF:
        return patches
    rgb = np.array([patch.rgb for patch in patches])
    start = half_misfits(np.where(usable[:, np.newaxis], rgb, np.nan))
    wanted = xyz(chart_reflectances(), Viewing("D50"))
    found = rough_fit(rgb, known=usable, start=start)
    light = np.log(np.maximum(found, 0.05) / wanted).mean(axis=1)
    order = np.flatnonzero(usable)[np.argsort(light[usable])]
    steps = np.diff(light[order])
    for last in np.argsort(-steps).tolist():
        if steps[last] < np.log(_SHADOW_STEP):
            break
        # Too dark to be used, perhaps; in the shadow all the same.
        darker = (light < light[order[last]] + 0.5 * steps[last]) & np.isfinite(rgb).all(axis=1)
        shaded = _largest_group(darker.reshape(ROWS, COLUMNS)).ravel()
        enough = [(usable & part).sum() >= _FEWEST_IN_SHADOW for part in (shaded, ~shaded)]
        if not all(enough) or shaded.sum() < 0.75 * darker.sum():
            continue
        gain = np.exp(light[usable & ~shaded].mean() - light[usable & shaded].mean())
        lit = np.where(shaded[:, np.newaxis], gain * rgb, rgb)
        before, after = (
            float(rough_misfits(seen, rounds=3, steepness=1, known=usable)[usable].mean())
            for seen in (rgb, lit)
        )
        if after < _MENDED * before:
            return _marked(patches, shaded, _SHADED)
    return patches


def _marked(
    patches: tuple[PatchReading, ...], which: npt.NDArray[np.bool_], flag: str
) -> tuple[PatchReading, ...]:
    return tuple(
        replace(patch, usable=False, flags=(flag, *patch.flags)) if off else patch
        for patch, off in zip(patches, which, strict=True)
    )


def _largest_group(which: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Return the largest set of places that hang together side by side."""
    from scipy import ndimage

    groups, count = ndimage.label(which)
    sizes = [int((groups == group).sum()) for group in range(1, count + 1)]
    return np.asarray(groups == 1 + int(np.argmax(sizes))) if sizes else which
