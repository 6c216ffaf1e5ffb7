"""What a camera's channels see, wavelength by wavelength, learnt from a chart in the same photograph.

A matrix from RGB to XYZ is never exact, since a camera does not see as an eye does: colours that are
alike to one are not alike to the other. Whoever knows reflectances, as a fit of paints does, need
not go through XYZ at all. With R the published reflectance of a chart's patch, linear light in
channel c is

    t_c = Σ w_c(λ) R(λ) + noise                                                            (N1)

and w, the product of lamp and channel (and of any matrix applied since), is a random function: some
mixture of the eye's own weights under a known light, which cameras are built to be near, and a
smooth departure from it,

    w_c ~ N(0, a² B Bᵀ + τ² k),   k = exp(−½ ((λ − λ')/ℓ)²)                                (N2)

which the chart's patches condition (a Gaussian process: C. E. Rasmussen and C. K. I. Williams, 2006,
chapter 2). The light of B, τ and ℓ are those of greatest marginal likelihood (ibid., equation 5.8). What
remains open is a covariance of w, which errs alike on reflectances that are alike.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import LIGHTS, Viewing
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

_DEPARTURES: Final = (0.003, 0.01, 0.03, 0.1)  # τ, of a channel's mean weight times the number of bands
_SMOOTH_NM: Final = (20.0, 35.0, 60.0)
_WIDE: Final = 10.0
CHART_VARIES: Final = 0.007
"""How far one chart's patches differ from the published average, relative (an assumption: about ΔE00 0.4)."""
_CHART_FLOOR: Final = 4e-4


@dataclass(frozen=True, eq=False)
class Channels:
    """A camera's three channels in one photograph.

    Parameters
    ----------
    weights : ndarray, shape (31, 3)
        w; a perfect white gives 1 in each channel.
    covariance : ndarray, shape (3, 31, 31)
        Of each channel's weights.
    white : ndarray, shape (3,)
        Linear light of a perfect white, by which values are divided.
    """

    weights: FloatArray
    covariance: FloatArray
    white: FloatArray

    def modes(self, *, most: int = 10) -> FloatArray:
        """Return the leading errors of the weights, one standard deviation each.

        Parameters
        ----------
        most : int
            Of each channel.

        Returns
        -------
        ndarray, shape (3, most, 31)
        """
        values, vectors = np.linalg.eigh(self.covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))[:, np.newaxis]
        return np.asarray(np.swapaxes(root, 1, 2)[:, ::-1][:, :most])


def learn_channels(light: npt.ArrayLike, reflectance: npt.ArrayLike, *, noise: npt.ArrayLike) -> Channels:
    """Return what the channels see, equations (N1) and (N2).

    Parameters
    ----------
    light : array_like, shape (n, 3)
        Linear light of a chart's patches, in any unit.
    reflectance : array_like, shape (n, 31)
        Their published reflectances.
    noise : array_like, shape (n, 3)
        Standard deviation of `light`.

    Returns
    -------
    Channels
    """
    R = np.asarray(reflectance, dtype=np.float64)
    seen = np.asarray(light, dtype=np.float64)
    level = R.mean(axis=1)
    # A first white, to have everything of the order of one.
    white = (seen * level[:, np.newaxis]).sum(axis=0) / (level**2).sum()
    t, sd = seen / white, np.asarray(noise, dtype=np.float64) / white
    variance = sd**2 + (CHART_VARIES * t) ** 2 + _CHART_FLOOR**2
    best: tuple[float, FloatArray] | None = None
    for prior in _priors():
        score = sum(_log_likelihood(t[:, c], R, prior, variance[:, c]) for c in range(3))
        if best is None or score > best[0]:
            best = (score, prior)
    if best is None:  # pragma: no cover - there are priors
        raise AssertionError
    prior = best[1]
    weights, covariance = np.empty((BANDS, 3)), np.empty((3, BANDS, BANDS))
    for c in range(3):
        gain = prior @ R.T @ np.linalg.inv(R @ prior @ R.T + np.diag(variance[:, c]))
        weights[:, c] = gain @ t[:, c]
        covariance[c] = prior - gain @ R @ prior
    of_white = weights.sum(axis=0)
    return Channels(
        weights=weights / of_white,
        covariance=covariance / of_white[:, np.newaxis, np.newaxis] ** 2,
        white=white * of_white,
    )


def _priors() -> list[FloatArray]:
    nm = wavelengths_nm()
    found = []
    for light, tau, length in itertools.product(LIGHTS, _DEPARTURES, _SMOOTH_NM):
        B = Viewing(light).weights
        B = B / B.sum(axis=0)
        k = np.exp(-0.5 * ((nm[:, np.newaxis] - nm) / length) ** 2)
        found.append(_WIDE**2 * B @ B.T + (tau / np.sqrt(BANDS)) ** 2 * k)
    return found


def _log_likelihood(t: FloatArray, R: FloatArray, prior: FloatArray, variance: FloatArray) -> float:
    C = R @ prior @ R.T + np.diag(variance)
    L = np.linalg.cholesky(C)
    white = np.linalg.solve(L, t)
    return float(-0.5 * white @ white - np.log(np.diag(L)).sum())
