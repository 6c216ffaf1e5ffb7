"""Several readings of one swatch: their mean, its noise, and the reading that does not belong.

A reading is judged against the median of its repeats, which one wrong reading among three or more
cannot move far. With dᵢ the root-mean-square distance of reading i from the median spectrum, one is
left out where

    dᵢ > max(5 · 1.4826 · median(d), 0.01)

1.4826 makes the median of absolute deviations a standard deviation for normal noise (P. J. Rousseeuw
and C. Croux, J. Am. Stat. Assoc. 88 (1993) 1273, from memory); the 5 and the floor of one hundredth
of full scale are conventions of this package: well beyond what an instrument, and mostly what an
uneven coat, does from one place to the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.spectra import FloatArray

OUTLIER_SPREADS: Final = 5.0
OUTLIER_FLOOR: Final = 0.01
POOLING_NM: Final = 40.0
"""Noise is smooth across wavelengths; its variance is averaged this far to either side."""


@dataclass(frozen=True, eq=False)
class Average:
    """The mean of some repeats."""

    mean: FloatArray
    """Shape (m,)."""
    noise: FloatArray | None
    """Shape (m,): one standard deviation of the mean; None for a single reading."""
    kept: np.ndarray[tuple[int], np.dtype[np.bool_]]
    """Shape (n,): which repeats it is the mean of."""
    distances: FloatArray
    """Shape (n,): root-mean-square distance of each repeat from the median."""
    apart: float
    """How far the kept repeats lie apart, highest from lowest, root-mean-square."""


def average(repeats: FloatArray, *, wavelengths_nm: FloatArray) -> Average:
    """Return the mean of repeated readings with its noise, without those that do not belong.

    The variance between repeats is pooled over neighbouring bands. From few repeats it is rough
    still: two that happen to agree say little, so whoever weighs by it should set a floor.

    `repeats` has shape (n, m). `wavelengths_nm` has shape (m,).

    >>> nm = np.array([400.0, 500.0])
    >>> average(np.array([[0.30, 0.30], [0.31, 0.31], [0.32, 0.32], [0.70, 0.70]]), wavelengths_nm=nm).kept
    array([ True,  True,  True, False])
    """
    distances = np.sqrt(((repeats - np.median(repeats, axis=0)) ** 2).mean(axis=1))
    kept = np.ones(len(repeats), dtype=np.bool_)
    if len(repeats) >= 3:
        kept = distances <= max(OUTLIER_SPREADS * 1.4826 * float(np.median(distances)), OUTLIER_FLOOR)
    good = repeats[kept]
    noise = None
    if len(good) >= 2:
        variance = _pooled(good.var(axis=0, ddof=1), wavelengths_nm)
        noise = np.sqrt(variance / len(good))
    apart = float(np.sqrt((np.ptp(good, axis=0) ** 2).mean()))
    return Average(good.mean(axis=0), noise, kept, distances, apart)


def _pooled(variance: FloatArray, nm: FloatArray) -> FloatArray:
    first = np.searchsorted(nm, nm - POOLING_NM, side="left")
    last = np.searchsorted(nm, nm + POOLING_NM, side="right")
    sums = np.concatenate([[0.0], np.cumsum(variance)])
    return np.asarray(np.maximum(sums[last] - sums[first], 0.0) / (last - first))
