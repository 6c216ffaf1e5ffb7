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

One part of it is not the channels' own: the chart at hand is not quite the published one. With G what
the conditioning makes of an error in t, and Δᵢ by how much patch i departs, smooth over wavelengths,

    δw_c = Σᵢ G_ci ∫ w_c Δᵢ dλ,   Cov(δw_c, δw_e) = Σᵢ G_ci Cov(t_ci, t_ei) G_eiᵀ          (N3)

so all channels share it, and those of a second photograph of the same chart too: no lamp averages it out.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
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
_CHART_VARIES_NM: Final = 100.0  # and over how many wavelengths alike (an assumption: a batch of paint)
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
    gain : ndarray, shape (3, 31, k)
        G: change of each channel's weights for an error in what each patch of the chart was seen to be.
    chart : ndarray, shape (k, 31)
        Published reflectances of the chart.
    """

    weights: FloatArray
    covariance: FloatArray
    white: FloatArray
    gain: FloatArray
    chart: FloatArray


def errors_of(photographs: Sequence[Channels], *, most: int = 10) -> FloatArray:
    """Return the leading errors of all channels' weights together, one standard deviation each.

    Parameters
    ----------
    photographs : sequence of Channels
        Of the same chart.
    most : int
        For each channel.

    Returns
    -------
    ndarray, shape (most · n, n, 31)
        n = 3 channels a photograph.
    """
    together = joint_covariance(photographs)
    n = len(together)
    values, vectors = np.linalg.eigh(together.reshape(n * BANDS, n * BANDS))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(root.T[::-1][: most * n].reshape(-1, n, BANDS))


def added_by(second: Channels, first: Channels) -> float:
    """Return what part of a second photograph's channels is no mixture of the first's.

    Parameters
    ----------
    second, first : Channels

    Returns
    -------
    float
        0 where it tells nothing new, 1 where all is new.
    """
    mixture = np.linalg.lstsq(first.weights, second.weights, rcond=None)[0]
    left = second.weights - first.weights @ mixture
    return float(np.linalg.norm(left) / np.linalg.norm(second.weights))


def joint_covariance(photographs: Sequence[Channels]) -> FloatArray:
    """Return the covariance of all channels' weights, with what they share by (N3).

    Parameters
    ----------
    photographs : sequence of Channels
        Of the same chart.

    Returns
    -------
    ndarray, shape (n, 31, n, 31)
    """
    W = np.concatenate([channels.weights for channels in photographs], axis=1)
    G = np.concatenate([channels.gain for channels in photographs])
    R = photographs[0].chart
    through = W.T[:, np.newaxis] * R
    departure = np.einsum("cib,bd,eid->cei", through, _smooth(_CHART_VARIES_NM), through)
    size = np.sqrt(np.einsum("cci->ci", departure))
    alike = departure / np.maximum(size[:, np.newaxis] * size, np.finfo(float).tiny)
    seen = CHART_VARIES * np.abs((R @ W).T)
    shared = alike * seen[:, np.newaxis] * seen
    found = np.einsum("cbi,cei,edi->cbed", G, shared, G)
    channel = np.arange(len(found))
    found[channel, :, channel] = np.concatenate([channels.covariance for channels in photographs])
    return np.asarray(found)


def learn_channels(
    light: npt.ArrayLike,
    reflectance: npt.ArrayLike,
    *,
    noise: npt.ArrayLike,
    used: npt.ArrayLike | None = None,
) -> Channels:
    """Return what the channels see, equations (N1) and (N2).

    Parameters
    ----------
    light : array_like, shape (k, 3)
        Linear light of a chart's patches, in any unit.
    reflectance : array_like, shape (k, 31)
        Their published reflectances.
    noise : array_like, shape (k, 3)
        Standard deviation of `light`.
    used : array_like of bool, shape (k,), optional
        False for patches that were not seen well enough. All are used by default.

    Returns
    -------
    Channels
    """
    chart = np.asarray(reflectance, dtype=np.float64)
    good = np.ones(len(chart), dtype=np.bool_) if used is None else np.asarray(used, dtype=np.bool_)
    R = chart[good]
    seen = np.asarray(light, dtype=np.float64)[good]
    level = R.mean(axis=1)
    # A first white, to have everything of the order of one.
    white = (seen * level[:, np.newaxis]).sum(axis=0) / (level**2).sum()
    t, sd = seen / white, np.asarray(noise, dtype=np.float64)[good] / white
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
    gain = np.zeros((3, BANDS, len(chart)))
    for c in range(3):
        G = prior @ R.T @ np.linalg.inv(R @ prior @ R.T + np.diag(variance[:, c]))
        weights[:, c] = G @ t[:, c]
        covariance[c] = prior - G @ R @ prior
        gain[c][:, good] = G
    of_white = weights.sum(axis=0)
    return Channels(
        weights=weights / of_white,
        covariance=covariance / of_white[:, np.newaxis, np.newaxis] ** 2,
        white=white * of_white,
        gain=gain,
        chart=chart,
    )


def _smooth(length_nm: float) -> FloatArray:
    nm = wavelengths_nm()
    return np.asarray(np.exp(-0.5 * ((nm[:, np.newaxis] - nm) / length_nm) ** 2))


def _priors() -> list[FloatArray]:
    found = []
    for light, tau, length in itertools.product(LIGHTS, _DEPARTURES, _SMOOTH_NM):
        B = Viewing(light).weights
        B = B / B.sum(axis=0)
        found.append(_WIDE**2 * B @ B.T + (tau / np.sqrt(BANDS)) ** 2 * _smooth(length))
    return found


def _log_likelihood(t: FloatArray, R: FloatArray, prior: FloatArray, variance: FloatArray) -> float:
    C = R @ prior @ R.T + np.diag(variance)
    L = np.linalg.cholesky(C)
    white = np.linalg.solve(L, t)
    return float(-0.5 * white @ white - np.log(np.diag(L)).sum())
