"""One film of paint: how much light it returns and lets through.

Kubelka and Munk's two-flux theory for a uniform film of thickness X with absorption K and
scattering S, both per micrometre of dry film:

    dI/dx = −(K + S) I + S J,      dJ/dx = (K + S) J − S I                                (F1)

(P. Kubelka and F. Munk, Z. tech. Phys. 12 (1931) 593.) Its solution, after P. Kubelka, J. Opt.
Soc. Am. 38 (1948) 448, rewritten with c = √(K (K + 2S)) and τ = tanh(cX) / c, both of which
stay finite when K, S or X vanish:

    R = S τ / (1 + (K + S) τ)                                                             (F2)
    T = sech(cX) / (1 + (K + S) τ)                                                        (F3)

No division by S, so clear coats (S = 0: R = 0, T = exp(−KX)) and lossless ones (K = 0:
R = SX / (1 + SX), R + T = 1) are exact. Opaque limit, X → ∞:

    R∞ = S / (K + S + c)                                                                  (F4)

These are fluxes inside the binder. What crosses its surface is in :mod:`layersim.optics.surface`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layersim.optics import kernel
from layersim.optics.hiding import least_film_um
from layersim.spectra import FloatArray


@dataclass(frozen=True)
class Film:
    """What one film, or a pile of films, does to diffuse light inside the binder.

    Parameters
    ----------
    R : ndarray
        Reflectance for light from above.
    T : ndarray
        Transmittance; the same both ways (Kubelka 1954).
    R_below : ndarray
        Reflectance for light from below; equals `R` for a single uniform film.
    """

    R: FloatArray
    T: FloatArray
    R_below: FloatArray


def film(
    *, K_per_um: npt.ArrayLike, S_per_um: npt.ArrayLike, thickness_um: npt.ArrayLike, threads: int = 1
) -> Film:
    """Return reflectance and transmittance of a film, equations (F2) and (F3).

    Parameters
    ----------
    K_per_um, S_per_um : array_like, 1/µm, ≥ 0
        Absorption and scattering.
    thickness_um : array_like, µm, ≥ 0; ``inf`` gives the opaque limit (F4)
    threads : int
        Large arrays are shared out among so many threads.

    Returns
    -------
    Film
        Arrays of the inputs' broadcast shape; all finite and within 0..1.

    Raises
    ------
    ValueError
        If an input is negative or not a number, or K or S is infinite.

    Examples
    --------
    >>> white = film(K_per_um=0.0, S_per_um=0.5, thickness_um=[0.0, 2.0, np.inf])
    >>> white.R
    array([0. , 0.5, 1. ])
    >>> white.T
    array([1. , 0.5, 0. ])
    """
    K = _constants(K_per_um, "K_per_um")
    S = _constants(S_per_um, "S_per_um")
    X = np.asarray(thickness_um, dtype=np.float64)
    if X.size and not X.min() >= 0.0:
        raise ValueError("thickness_um must be zero or more")
    R, T = kernel.films(K, S, X, threads=threads)
    return Film(R=R, T=T, R_below=R)


def opaque_reflectance(*, K_per_um: npt.ArrayLike, S_per_um: npt.ArrayLike) -> FloatArray:
    """Return the reflectance of an endlessly thick film, equation (F4).

    A film that neither absorbs nor scatters returns nothing: 0.

    Parameters
    ----------
    K_per_um, S_per_um : array_like, 1/µm, ≥ 0

    Returns
    -------
    ndarray, 0..1

    Raises
    ------
    ValueError
        If an input is negative or not finite.

    Examples
    --------
    >>> float(opaque_reflectance(K_per_um=0.25, S_per_um=1.0))
    0.5
    """
    return np.asarray(film(K_per_um=K_per_um, S_per_um=S_per_um, thickness_um=np.inf).R)


def absorption_over_scattering(reflectance: npt.ArrayLike) -> FloatArray:
    """Return K/S of an opaque film from its reflectance, K/S = (1 − R∞)² / 2R∞.

    Kubelka and Munk 1931; the inverse of (F4).

    Parameters
    ----------
    reflectance : array_like, 0 < R∞ ≤ 1, without the surface's own reflection

    Returns
    -------
    ndarray

    Raises
    ------
    ValueError
        If a reflectance is outside 0..1 or zero, subnormal numbers included (nothing comes back:
        K/S has no bound).

    Examples
    --------
    >>> absorption_over_scattering([0.1, 0.25, 0.5])
    array([4.05 , 1.125, 0.25 ])
    """
    R = np.asarray(reflectance, dtype=np.float64)
    least = np.finfo(np.float64).tiny
    if not ((least <= R) & (R <= 1.0)).all():
        raise ValueError("reflectance must be above 0 and at most 1")
    return np.asarray((1.0 - R) ** 2 / (2.0 * R))


def constants_over_two_grounds(
    *,
    over_dark: npt.ArrayLike,
    over_light: npt.ArrayLike,
    dark: npt.ArrayLike,
    light: npt.ArrayLike,
    thickness_um: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Return K and S from one film seen over two grounds: the inverse of film and stack.

    Eliminating T between the two sums over grounds g of R + T² g / (1 − R g) leaves an equation
    linear in R; K and S then follow from (F2) and (F3) with z = ½ √((1−R)²−T²) √((1+R)²−T²) / T:

        SX = (R / T) · asinh(z) / z,    KX = ((1 − R)² − T²) / (2T) · asinh(z) / z         (F5)

    Kubelka 1948 gives the case dark = 0; here derived for any two grounds and finite at S = 0.

    Parameters
    ----------
    over_dark, over_light : array_like
        Internal reflectance of the film over the dark and the light ground.
    dark, light : array_like
        Internal reflectance of the grounds themselves; ``dark < light``.
    thickness_um : array_like, µm, > 0

    Returns
    -------
    K_per_um, S_per_um : ndarray, 1/µm

    Raises
    ------
    ValueError
        If a number is not finite, the film looks the same over both grounds (opaque: the two
        constants cannot be told apart) or the four reflectances fit no film at all.

    Examples
    --------
    >>> K, S = constants_over_two_grounds(
    ...     over_dark=0.75, over_light=1.0, dark=0.0, light=1.0, thickness_um=3.0)
    >>> (float(K.round(6)), float(S.round(6)))
    (0.0, 1.0)
    """
    Rb, Rw, gb, gw, X = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (over_dark, over_light, dark, light, thickness_um))
    )
    if not (X > 0.0).all() or not np.isfinite(X).all():
        raise ValueError("thickness_um must be above zero, and finite")
    if not (np.isfinite(Rb).all() and np.isfinite(Rw).all()):
        raise ValueError("over_dark and over_light must be finite numbers")
    if not ((gb >= 0.0) & (gw <= 1.0) & (gb < gw)).all():
        raise ValueError("the dark ground must be darker than the light one, both within 0..1")
    if not (Rw > Rb).all():
        raise ValueError("the film looks the same over both grounds: opaque, or the two were swapped")
    no_film = "these reflectances fit no film: R + T would pass 1, or R is below 0"
    # No film widens the gap between its grounds, so this is at least (gw − gb)(1 − gb gw).
    divisor = gw * (1.0 + Rb * gb) - gb * (1.0 + Rw * gw)
    if not (divisor > 0.0).all():
        raise ValueError(no_film)
    R = (gw * Rb - gb * Rw) / divisor
    T_squared = (Rw - R) * (1.0 - R * gw) / gw
    loss = (1.0 - R) ** 2 - T_squared
    # Rounding may leave a lossless film a few ulp on the wrong side.
    if not ((R > -1e-9) & (R < 1.0) & (T_squared > 0.0) & (loss > -1e-9)).all():
        raise ValueError(no_film)
    R, loss = np.maximum(R, 0.0), np.maximum(loss, 0.0)
    T = np.sqrt(T_squared)
    z = 0.5 * np.sqrt(loss * ((1.0 + R) ** 2 - T_squared)) / T
    ratio = np.where(z > 1e-8, np.arcsinh(z) / np.where(z > 1e-8, z, 1.0), 1.0)
    return np.asarray(loss / (2.0 * T) * ratio / X), np.asarray(R / T * ratio / X)


def contrast_ratio(
    *,
    K_per_um: npt.ArrayLike,
    S_per_um: npt.ArrayLike,
    thickness_um: npt.ArrayLike,
    luminance_weights: npt.ArrayLike,
    white: float = 0.80,
) -> FloatArray:
    """Return Y over black divided by Y over white, with no surface in between.

    ISO 6504-1 and ASTM D2805 define hiding by this ratio, over a white of Y = 0.80.

    Parameters
    ----------
    K_per_um, S_per_um : array_like, shape (..., 31), 1/µm
    thickness_um : array_like, shape (...), µm
    luminance_weights : array_like, shape (31,)
        Any multiple of the weights that turn a reflectance into Y.
    white : float, above 0 and at most 1
        Reflectance of the white ground.

    Returns
    -------
    ndarray, shape (...), 0..1
        0 for a clear film (S = 0) at any thickness.

    Raises
    ------
    ValueError
        If `white` is out of its range, or as :func:`film`.

    Examples
    --------
    >>> lossless = contrast_ratio(K_per_um=np.zeros(31), S_per_um=np.ones(31), thickness_um=49.0,
    ...                           luminance_weights=np.ones(31), white=1.0)
    >>> round(float(lossless), 12)
    0.98
    """
    if not 0.0 < white <= 1.0:
        raise ValueError("white must lie above 0 and at most at 1")
    X = np.asarray(thickness_um, dtype=np.float64)[..., np.newaxis]
    one = film(K_per_um=K_per_um, S_per_um=S_per_um, thickness_um=X)
    weights = np.asarray(luminance_weights, dtype=np.float64)
    over_white = one.R + one.T**2 * white / np.maximum(1.0 - one.R * white, kernel.LEAST_GAP)
    Y_black, Y_white = one.R @ weights, over_white @ weights
    # A clear dye sends nothing back over black, however thick: 0 is the limit that 0/0 stands for.
    return np.asarray(np.divide(Y_black, Y_white, out=np.zeros_like(Y_white), where=Y_white > 0.0))


def thickness_to_hide_um(
    *,
    K_per_um: npt.ArrayLike,
    S_per_um: npt.ArrayLike,
    luminance_weights: npt.ArrayLike,
    contrast: float = 0.98,
    white: float = 0.80,
) -> FloatArray:
    """Return the least dry film that reaches a contrast ratio, by bisection on :func:`contrast_ratio`.

    Parameters
    ----------
    K_per_um, S_per_um : array_like, shape (..., 31), 1/µm
    luminance_weights : array_like, shape (31,)
    contrast : float
        0.98 is the standards' "hides" (ISO 6504-1, ASTM D2805).
    white : float, above 0 and at most 1
        Reflectance of the white ground.

    Returns
    -------
    ndarray, shape (...), µm
        ``inf`` for a film that reaches it at no thickness below one metre.

    Raises
    ------
    ValueError
        If `contrast` is not between 0 and 1, or as :func:`contrast_ratio`.

    Examples
    --------
    >>> round(float(thickness_to_hide_um(K_per_um=np.zeros(31), S_per_um=np.ones(31),
    ...                                  luminance_weights=np.ones(31))), 4)
    11.7215
    """
    if not 0.0 < contrast < 1.0:
        raise ValueError("contrast must lie between 0 and 1")
    K, S = np.broadcast_arrays(_constants(K_per_um, "K_per_um"), _constants(S_per_um, "S_per_um"))

    def hides(thickness_um: FloatArray) -> npt.NDArray[np.bool_]:
        ratio = contrast_ratio(
            K_per_um=K,
            S_per_um=S,
            thickness_um=thickness_um,
            luminance_weights=luminance_weights,
            white=white,
        )
        return np.asarray(ratio >= contrast)

    return least_film_um(hides, shape=K.shape[:-1])


def _constants(values: npt.ArrayLike, name: str) -> FloatArray:
    array = np.asarray(values, dtype=np.float64)
    if array.size and not (array.min() >= 0.0 and array.max() < np.inf):
        raise ValueError(f"{name} must be zero or more, and finite")
    return array
