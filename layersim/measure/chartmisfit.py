"""How far colours are from those of a 24-patch chart: by a rough matrix from camera RGB.

Glare, a shadow or a hand may spoil up to half of the patches. The chart is then known by the other half, a
least trimmed squares fit (P. J. Rousseeuw, J. Am. Stat. Assoc. 79 (1984) 871).
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import Viewing, delta_e_2000, lab_from_xyz, xyz
from layersim.measure.chart24 import COLUMNS, ROWS, chart_reflectances
from layersim.spectra import FloatArray

HALF: Final = COLUMNS * ROWS // 2
_DRAWS: Final = 400  # of four patches: with half of the chart spoilt, one in twenty is clean


def rough_misfit(rgb: FloatArray) -> float:
    """Return the mean ΔE00 left by the best 3 × 3 matrix: small in the right position only.

    `rgb` is linear, of shape (24, 3), in any unit. The worst four patches are left out, so that covered or
    clipped ones do not decide.
    """
    return float(np.sort(rough_misfits(rgb, rounds=3, steepness=1))[:20].mean())


def rough_misfits(
    rgb: FloatArray, *, rounds: int = 8, steepness: int = 2, known: npt.NDArray[np.bool_] | None = None
) -> FloatArray:
    """Return the ΔE00 that the matrix of :func:`rough_fit` leaves at each patch, shape (24,)."""
    return _off(rough_fit(rgb, rounds=rounds, steepness=steepness, known=known))


def rough_fit(
    rgb: FloatArray,
    *,
    rounds: int = 8,
    steepness: int = 2,
    known: npt.NDArray[np.bool_] | None = None,
    start: FloatArray | None = None,
) -> FloatArray:
    """Return the XYZ that the best 3 × 3 matrix gives each patch, patches far off hardly counting.

    A patch's weight falls with its ΔE00 to the power `steepness`; weights are made anew in each of some
    `rounds`. Only patches that are `known`, shape (24,), are fitted. `start` says how far each is off at
    first, ΔE00; by default all count alike at first.
    """
    wanted = xyz(chart_reflectances(), Viewing("D50"))
    even = 1.0 / (wanted[:, 1] + 10.0)
    if known is not None:
        rgb, even = np.nan_to_num(rgb), np.where(known, even, 0.0)
    weights = even if start is None else even / np.maximum(start, 2.0) ** steepness
    found = wanted
    for _ in range(rounds):
        matrix, *_ = np.linalg.lstsq(
            rgb * weights[:, np.newaxis], wanted * weights[:, np.newaxis], rcond=None
        )
        found = np.maximum(rgb @ matrix, 0.0)
        weights = even / np.maximum(_off(found), 2.0) ** steepness
    return found


def half_misfits(rgb: FloatArray) -> FloatArray:
    """Return the ΔE00 that the matrix which meets the best half leaves at each patch, shape (24,).

    Of matrices through four patches drawn at random, the same every time. It is infinite where `rgb` is NaN,
    and everywhere if fewer than half of the patches are seen.
    """
    known = np.flatnonzero(np.isfinite(rgb).all(axis=1))
    off = np.full(len(rgb), np.inf)
    if len(known) < HALF:
        return off
    wanted = xyz(chart_reflectances()[known], Viewing("D50"))
    weighed = 1.0 / (wanted[:, 1:2] + 10.0)
    drawn = np.random.default_rng(0).random((_DRAWS, len(known))).argpartition(4, axis=1)[:, :4]
    rows, values = (rgb[known] * weighed)[drawn], (wanted * weighed)[drawn]
    normal = np.einsum("dij,dik->djk", rows, rows)
    normal += (1e-9 + 1e-6 * np.trace(normal, axis1=1, axis2=2))[:, np.newaxis, np.newaxis] * np.eye(3)
    matrices = np.linalg.solve(normal, np.einsum("dij,dik->djk", rows, values))
    viewing = Viewing("D50")
    misses = delta_e_2000(
        lab_from_xyz(np.maximum(rgb[known] @ matrices, 0.0), viewing.white),
        lab_from_xyz(wanted, viewing.white),
    )
    off[known] = misses[int(np.argmin(np.sort(misses, axis=1)[:, :HALF].mean(axis=1)))]
    return off


def _off(found: FloatArray) -> FloatArray:
    """Return how far XYZ of the patches are from the published ones, ΔE00."""
    viewing = Viewing("D50")
    wanted = xyz(chart_reflectances(), viewing)
    return np.asarray(delta_e_2000(lab_from_xyz(found, viewing.white), lab_from_xyz(wanted, viewing.white)))
