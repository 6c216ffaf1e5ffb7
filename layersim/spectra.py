"""The wavelength grid that every spectrum in the package stands on.

400 to 700 nm in steps of 10 nm, 31 bands, always on the last axis of an array: the interval that
field spectrophotometers report and the coarsest for which ASTM E308 gives weights without asking
for interpolation of the measured data.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

FIRST_NM: Final = 400
LAST_NM: Final = 700
STEP_NM: Final = 10
BANDS: Final = (LAST_NM - FIRST_NM) // STEP_NM + 1


def wavelengths_nm() -> FloatArray:
    """Return the grid.

    >>> wavelengths_nm()[[0, 1, -1]]
    array([400., 410., 700.])
    """
    return np.arange(FIRST_NM, LAST_NM + STEP_NM, STEP_NM, dtype=np.float64)


def as_bands(values: npt.ArrayLike, *, name: str) -> FloatArray:
    """Return `values` as floats with the 31 bands on the last axis.

    A single number stands for every band; `name` says in the message what the values are.

    Raises ValueError if the last axis is not 31 long or a value is not finite.

    >>> as_bands(0.5, name="reflectance").shape
    (31,)
    """
    array = np.asarray(values, dtype=np.float64)
    if array.ndim == 0:
        array = np.full(BANDS, float(array))
    if array.shape[-1] != BANDS:
        raise ValueError(f"{name} has {array.shape[-1]} bands; expected {BANDS} (400-700 nm by 10 nm)")
    if not np.isfinite(array).all():
        raise ValueError(f"{name} has a value that is not a finite number")
    return array


def resample(values: npt.ArrayLike, *, from_nm: npt.ArrayLike) -> FloatArray:
    """Return a spectrum given at other wavelengths on the package's grid, by a smooth curve.

    A piecewise cubic through every sample (F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5
    (1984) 300) that rises and falls only where the samples do, so no reflectance leaves the range of
    its two neighbours. Straight lines through measured spectra err three times as much in colour (the
    tests give the differences). Outside the given range the end values are held, as ASTM E308 section
    7.3 does for missing ends.

    Samples stand on the last axis, at wavelengths that rise.

    Raises ValueError if the shapes disagree, a number is not finite, the wavelengths do not rise, or they
    cover less than half of 400-700 nm (a spectrum mostly held constant is not a measurement).

    >>> resample([0.0, 1.0], from_nm=[400, 700])[15]
    np.float64(0.5)
    """
    array = np.asarray(values, dtype=np.float64)
    given = np.asarray(from_nm, dtype=np.float64)
    if given.ndim != 1 or array.shape[-1:] != given.shape:
        raise ValueError(f"{array.shape[-1:]} values for {given.shape} wavelengths")
    if not (np.isfinite(given).all() and np.isfinite(array).all()):
        raise ValueError("a wavelength or a value is not a finite number")
    if given.size < 2 or not (np.diff(given) > 0).all():
        raise ValueError("wavelengths must rise from the first to the last")
    if min(given[-1], LAST_NM) - max(given[0], FIRST_NM) < (LAST_NM - FIRST_NM) / 2:
        raise ValueError(f"wavelengths {given[0]:g}-{given[-1]:g} nm cover less than half of 400-700 nm")
    gap = np.diff(given)
    slope = _slopes(np.diff(array) / gap, gap)
    grid = wavelengths_nm()
    left = np.clip(np.searchsorted(given, grid, "right") - 1, 0, gap.size - 1)
    t = np.clip((grid - given[left]) / gap[left], 0.0, 1.0)
    from_left = (1.0 + 2.0 * t) * array[..., left] + t * gap[left] * slope[..., left]
    from_right = (3.0 - 2.0 * t) * array[..., left + 1] - (1.0 - t) * gap[left] * slope[..., left + 1]
    return np.asarray((1.0 - t) ** 2 * from_left + t**2 * from_right)


def _slopes(secant: FloatArray, gap: FloatArray) -> FloatArray:
    """Slopes of the curve at the samples: harmonic means of the two secants, 0 at a peak or a trough."""
    if gap.size == 1:
        return np.repeat(secant, 2, axis=-1)
    before, after = secant[..., :-1], secant[..., 1:]
    near, far = gap[:-1] + 2.0 * gap[1:], 2.0 * gap[:-1] + gap[1:]
    slope = np.zeros((*secant.shape[:-1], gap.size + 1))
    np.divide(
        (near + far) * before * after,
        near * after + far * before,
        out=slope[..., 1:-1],
        where=before * after > 0.0,
    )
    slope[..., 0] = _end_slope(secant[..., 0], secant[..., 1], gap[0], gap[1])
    slope[..., -1] = _end_slope(secant[..., -1], secant[..., -2], gap[-1], gap[-2])
    return slope


def _end_slope(secant: FloatArray, next_secant: FloatArray, gap: float, next_gap: float) -> FloatArray:
    """Slope at an end: of the parabola through three samples, unless the curve would overshoot."""
    parabola = ((2.0 * gap + next_gap) * secant - gap * next_secant) / (gap + next_gap)
    slope = np.where(parabola * secant > 0.0, parabola, 0.0)
    steep = (secant * next_secant < 0.0) & (np.abs(slope) > 3.0 * np.abs(secant))
    return np.asarray(np.where(steep, 3.0 * secant, slope))
