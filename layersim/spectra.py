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
    at = np.clip(wavelengths_nm(), given[0], given[-1])
    if np.isin(at, given).all():
        return np.asarray(array[..., np.searchsorted(given, at)])
    # It takes half a second to be imported, and most instruments have the grid's own wavelengths.
    from scipy.interpolate import PchipInterpolator

    return np.asarray(PchipInterpolator(given, array, axis=-1)(at))
