"""Local tone mapping: whether a camera has lightened what lies beside dark places, as HDR pictures have it.

A chart does not show it, for the card beside it has other surroundings. The card's bare paper does: it is
one paper under a smooth light (U1), and no light makes it brighter where dark things lie beside it. With b
the picture's own brightness, blurred, about each place of the paper, and t the terms of (U1),

    ln v = q t + p b                                                                       (U3)

fitted to all places that go together. Flare and light that is thrown back make p positive, local tone mapping
makes it negative. Rendered cards came to |p| < 0.02 and less than three of its standard errors, whatever
camera, light, falloff, exposure and table; made 5 % lighter beside black than beside white, in the file's
own numbers, to -0.08 to -0.13 (tests/measure/test_localtone.py).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim.measure.photograph import COARSE_STEP, Photograph
from layersim.spectra import FloatArray

LIFTED: Final = 0.02
"""Share of light from which lifting is told: of a white, that difference can just be seen (ΔE00 0.8)."""
_SURE: Final = 5.0
"""Standard errors of p from which it is believed."""
_SCALE: Final = 0.06
"""Reach of the blur, of the picture's height (an assumption: makers tell nobody)."""
_BLURRED_PX: Final = 200
_FEWEST: Final = 30
_GO_TOGETHER: Final = 0.95
"""Of all places; where a shadow's edge crosses the paper, (U1) holds for fewer, and nothing is said."""
_ROUNDS: Final = 6
_LEAST_SIGMA: Final = 0.003


def lifted(photograph: Photograph, *, at_px: FloatArray, terms: FloatArray, logs: FloatArray) -> float:
    """Return how much lighter paper is beside the darkest places than beside the lightest; 0 if unsure.

    `at_px`, shape (n, 2), are places of the bare paper, `terms`, shape (n, k), those of (U1) there, and
    `logs`, shape (n,), the logarithm of its brightness.
    """
    # The blocks of a strongly compressed picture take their brightness from each other.
    if len(logs) < _FEWEST or photograph.mean_step >= COARSE_STEP:
        return 0.0
    about = _surroundings(photograph, at_px)
    columns = np.column_stack([terms, about])
    kept = np.ones(len(logs), dtype=np.bool_)
    for _ in range(_ROUNDS):
        fit, *_ = np.linalg.lstsq(columns[kept], logs[kept], rcond=None)
        off = logs - columns @ fit
        sigma = max(1.4826 * float(np.median(np.abs(off[kept]))), _LEAST_SIGMA)
        kept = np.abs(off) < 4.0 * sigma
    if kept.mean() < _GO_TOGETHER:
        return 0.0
    variance = max(float(off[kept].var()), _LEAST_SIGMA**2)
    error = np.sqrt(variance * np.linalg.pinv(columns[kept].T @ columns[kept])[-1, -1])
    share = -float(fit[-1]) * float(np.ptp(about))
    return share if share >= LIFTED and -fit[-1] > _SURE * error else 0.0


def _surroundings(photograph: Photograph, at_px: FloatArray) -> FloatArray:
    """Return the brightness about some places, in the file's own numbers, 0..1, shape (n,)."""
    from scipy import ndimage

    step = max(1, min(photograph.width, photograph.height) // _BLURRED_PX)
    height, width = photograph.height // step, photograph.width // step
    levels = photograph.levels[: height * step, : width * step]
    small = levels.reshape(height, step, width, step, 3).mean(axis=(1, 3, 4)) / photograph.top
    blurred = ndimage.gaussian_filter(small, _SCALE * height, mode="nearest")
    rows, columns = at_px[:, 1] / step, at_px[:, 0] / step
    return np.asarray(ndimage.map_coordinates(blurred, [rows, columns], order=1, mode="nearest"))
