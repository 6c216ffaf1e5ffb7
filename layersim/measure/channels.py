"""What a camera's channels see, wavelength by wavelength, learnt from a chart in the same photograph.

A matrix from RGB to XYZ is never exact, since a camera does not see as an eye does: colours that are
alike to one are not alike to the other. Whoever knows reflectances, as a fit of paints does, need
not go through XYZ at all. With R the published reflectance of a chart's patch, linear light in
channel c is

    t_c = Σ w_c(λ) R(λ) + h_c(R) + misfit + noise                                          (N1)

and w, the product of lamp and channel (and of any matrix applied since), is a random function: some
mixture of the eye's own weights under a known light, which cameras are built to be near, and a
smooth departure from it,

    w_c ~ N(0, a² B Bᵀ + τ² k),   k = exp(−½ ((λ − λ')/ℓ)²)                                (N2)

which the chart's patches condition (a Gaussian process: C. E. Rasmussen and C. K. I. Williams, 2006,
chapter 2).

Neither is the chart at hand quite the published one, nor a picture quite linear: cameras and phones make
colours that please. How far this picture is off is not assumed but learnt. With t̂ the light that is
expected of a reflectance, its misfit has the size

    m_c² = (u t̂_c)² + (v (max t̂ − min t̂))² + z²                                           (N3)

heavier in saturated colours by v and in dark ones by z. A share η of its variance is alike in colours that
are alike, h of (N1), since a camera treats them alike; with Δ their distance in L*a*b*,

    Cov(h_c(R), h_c(R')) = η m_c m_c' exp(−½ (Δ/L)²)                                       (N4)

and the rest is each patch's own. What is settled by the patches left out, each predicted by all others
(closed form: O. Dubrule, Math. Geol. 15 (1983) 687; Rasmussen and Williams, equations 5.10 to 5.12), with
C the covariance of all t of a channel,

    tᵢ − prediction = [C⁻¹ t]ᵢ / [C⁻¹]ᵢᵢ,   variance = 1 / [C⁻¹]ᵢᵢ                        (N5)

by the greatest product of their densities, each a Student t's so that no single patch decides (K. L. Lange,
R. J. A. Little and J. M. G. Taylor, J. Am. Stat. Assoc. 84 (1989) 881). What remains open is a covariance of
w and h, which errs alike on reflectances that are alike.

What the chart itself departs from the published one, smooth over wavelengths, all channels share, and those
of a second photograph of the same chart too. So do two photographs by one camera share what it makes of
colours, as far as their channels are alike. With G what the conditioning makes of an error in t and D the
departure of all patches,

    Cov(f_c, f_e) of two channels = A_c X_ce A_eᵀ,   A_c = (1, −G_c)                       (N6)

X the covariance of D and h at the places asked for and at the chart: no lamp averages that out.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import LIGHTS, Viewing, lab
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

_DEPARTURES: Final = (0.003, 0.01, 0.03, 0.1)  # τ, of a channel's mean weight times the number of bands
_SMOOTH_NM: Final = (20.0, 35.0, 60.0)
_WIDE: Final = 10.0
# Over how many wavelengths charts depart alike (an assumption: a batch of paint).
_CHART_VARIES_NM: Final = 100.0
_TAILS: Final = 5.0  # degrees of freedom of the Student t (an assumption)
_ROUGHLY: Final = 0.03  # noise of white with which t̂ of (N3) is found; any small number would do


@dataclass(frozen=True)
class Misfit:
    """How far a picture's colours are from what channels make of the published chart, (N3) and (N4)."""

    light: float = 0.03
    """u, of white."""
    saturation: float = 0.01
    """v, of white."""
    dark: float = 0.001
    """z, of white."""
    alike: float = 0.27
    """η."""
    reach: float = 0.35
    """L, in hundreds of L*a*b*."""

    def sizes(self, light: FloatArray) -> FloatArray:
        """Return m of (N3) for light of shape (..., 3)."""
        t = np.maximum(light, 0.0)
        spread = np.ptp(t, axis=-1)[..., np.newaxis]
        return np.asarray(np.sqrt((self.light * t) ** 2 + (self.saturation * spread) ** 2 + self.dark**2))

    def likeness(self, one: FloatArray, two: FloatArray) -> FloatArray:
        """Return exp(−½ (Δ/L)²) of reflectances (m, 31) and (k, 31), shape (m, k)."""
        q, p = _place(one), _place(two)
        apart = ((q[:, np.newaxis] - p) ** 2).sum(axis=-1)
        return np.asarray(np.exp(-0.5 * apart / self.reach**2))


USUAL: Final = Misfit()
"""Where the search begins, and what few patches are drawn to."""


@dataclass(frozen=True, eq=False)
class Channels:
    """A camera's three channels in one photograph."""

    weights: FloatArray
    """Shape (31, 3): w; a perfect white gives 1 in each channel."""
    prior: FloatArray
    """Shape (3, 31, 31): of each channel's weights, equation (N2)."""
    white: FloatArray
    """Shape (3,): linear light of a perfect white, by which values are divided."""
    light: FloatArray
    """Shape (k, 3): t of the chart's patches that were used, of white."""
    whiten: FloatArray
    """Shape (3, k, k): L⁻¹ with L Lᵀ = C of (N5): what is small beside the prior is lost in C⁻¹ itself."""
    chart: FloatArray
    """Shape (k, 31): published reflectances of those patches."""
    sizes: FloatArray
    """Shape (k, 3): m of (N3) with which C was made."""
    misfit: Misfit

    def departure(self, reflectance: FloatArray) -> FloatArray:
        """Return what h of (N1) is expected to be of reflectances (m, 31), shape (m, 3)."""
        return np.asarray(np.einsum("cmi,ci->mc", self._h(reflectance), self._pull()))

    def left_out(self) -> tuple[FloatArray, FloatArray]:
        """Return how far each patch is off when left out, and the standard deviation said of it, (N5).

        Both have shape (k, 3), of white.
        """
        own = (self.whiten**2).sum(axis=1)
        return (self._pull() / own).T, (1.0 / np.sqrt(own)).T

    def gain(self, reflectance: FloatArray) -> FloatArray:
        """Return G: what an error in each patch of the chart makes of what is predicted, shape (3, m, k)."""
        return np.asarray(self._toward(reflectance) @ np.swapaxes(self.whiten, 1, 2) @ self.whiten)

    def covariance(self, reflectance: FloatArray) -> FloatArray:
        """Return the covariance of what is predicted of reflectances (m, 31), shape (3, m, m)."""
        R = reflectance
        known = self._toward(R) @ np.swapaxes(self.whiten, 1, 2)
        return np.asarray(R @ self.prior @ R.T + self._h_among(R) - known @ np.swapaxes(known, 1, 2))

    def _pull(self) -> FloatArray:
        """Return C⁻¹ t, shape (3, k)."""
        return np.asarray(np.einsum("cji,cjk,kc->ci", self.whiten, self.whiten, self.light))

    def _toward(self, reflectance: FloatArray) -> FloatArray:
        """Return the covariance of what reflectances and the chart's patches give, shape (3, m, k)."""
        return np.asarray(reflectance @ self.prior @ self.chart.T + self._h(reflectance))

    def _h(self, reflectance: FloatArray) -> FloatArray:
        """Return the covariance of h between reflectances (m, 31) and the chart's, (N4), shape (3, m, k)."""
        m = self.misfit.sizes(reflectance @ self.weights).T
        alike = self.misfit.alike * self.misfit.likeness(reflectance, self.chart)
        return np.asarray(m[:, :, np.newaxis] * self.sizes.T[:, np.newaxis] * alike)

    def _h_among(self, reflectance: FloatArray) -> FloatArray:
        """Return the covariance of h among reflectances, shape (3, m, m)."""
        m = self.misfit.sizes(reflectance @ self.weights).T
        alike = self.misfit.alike * self.misfit.likeness(reflectance, reflectance)
        return np.asarray(m[:, :, np.newaxis] * m[:, np.newaxis] * alike)


def added_by(second: Channels, first: Channels) -> float:
    """Return what part of a second photograph's channels is no mixture of the first's.

    It is 0 where it tells nothing new, 1 where all is new.
    """
    mixture = np.linalg.lstsq(first.weights, second.weights, rcond=None)[0]
    left = second.weights - first.weights @ mixture
    return float(np.linalg.norm(left) / np.linalg.norm(second.weights))


def joint_covariance(photographs: Sequence[Channels], reflectance: FloatArray) -> FloatArray:
    """Return the covariance of what all channels are predicted to see, with what they share by (N6).

    The photographs are of the same chart. Of reflectances (m, 31) it has shape (n, m, n, m), with n = 3
    channels a photograph.
    """
    W = np.concatenate([channels.weights for channels in photographs], axis=1)
    n, m = W.shape[1], len(reflectance)
    alike = _alike(W, reflectance)
    found = np.zeros((n, m, n, m))
    for c, e in itertools.product(range(n), repeat=2):
        one, two = photographs[c // 3], photographs[e // 3]
        if c == e:
            found[c, :, c] = one.covariance(reflectance)[c % 3]
        elif c < e:
            found[c, :, e] = _shared(one, two, c % 3, e % 3, reflectance, alike[c, e])
            found[e, :, c] = found[c, :, e].T
    # Parts by (N6) and parts by conditioning need not make a covariance together: the nearest that is one.
    values, vectors = np.linalg.eigh(found.reshape(n * m, n * m))
    mended = (vectors * np.maximum(values, 0.0)) @ vectors.T
    return np.asarray(mended.reshape(n, m, n, m))


def _shared(
    one: Channels, two: Channels, c: int, e: int, reflectance: FloatArray, alike: FloatArray
) -> FloatArray:
    """Return the covariance (m, m) of two channels' predictions by what both share, (N6)."""
    first, second = (
        np.concatenate([channels.misfit.sizes(reflectance @ channels.weights), channels.sizes])[:, i]
        for channels, i in ((one, c), (two, e))
    )
    m = len(reflectance)
    # Patches that both photographs used, found by their published reflectance.
    same = np.abs(one.chart[:, np.newaxis] - two.chart).sum(axis=-1) < 1e-12
    own = np.sqrt((1.0 - one.misfit.alike) * (1.0 - two.misfit.alike))
    likeness_of_patch = _alike(np.stack([one.weights[:, c], two.weights[:, e]], axis=1), one.chart)[0, 1]
    between = own * same * likeness_of_patch[:, np.newaxis]
    A, B = (
        np.concatenate([np.eye(m), -channels.gain(reflectance)[i]], axis=1)
        for channels, i in ((one, c), (two, e))
    )
    X = np.zeros((len(first), len(second)))
    X[m:, m:] = between
    if c == e and one is not two:
        places = [np.concatenate([reflectance, channels.chart]) for channels in (one, two)]
        h = np.sqrt(one.misfit.alike * two.misfit.alike) * one.misfit.likeness(places[0], places[1])
        X += h * float(alike.mean())
    return np.asarray(A @ (first[:, np.newaxis] * second * X) @ B.T)


def _alike(W: FloatArray, R: FloatArray) -> FloatArray:
    """Return how alike a chart's departure is in channels W (31, n) of reflectances (m, 31), (n, n, m)."""
    through = W.T[:, np.newaxis] * R
    departure = np.einsum("cib,bd,eid->cei", through, _smooth(_CHART_VARIES_NM), through)
    size = np.sqrt(np.maximum(np.einsum("cci->ci", departure), np.finfo(float).tiny))
    return np.asarray(departure / (size[:, np.newaxis] * size))


def learn_channels(
    light: npt.ArrayLike,
    reflectance: npt.ArrayLike,
    *,
    noise: npt.ArrayLike,
    misfit: Misfit = USUAL,
    prior: FloatArray | None = None,
) -> Channels:
    """Return what the channels see, equations (N1), (N2) and (N4).

    `light` is linear, of a chart's patches, shape (k, 3), in any unit; `noise` its standard deviation, and
    `reflectance` what is published of them, shape (k, 31). `prior` is by default the one of :func:`priors`
    that predicts left-out patches best.
    """
    R, seen = np.asarray(reflectance, dtype=np.float64), np.asarray(light, dtype=np.float64)
    first = rough_white(seen, R)
    t, sd = seen / first, np.asarray(noise, dtype=np.float64) / first
    if prior is None:
        prior = priors()[int(np.argmax(left_out_density(t, sd, R, misfit, priors())))]
    whiten = np.linalg.inv(np.linalg.cholesky(_covariance(t, sd, R, misfit, prior)))
    weights = prior @ R.T @ np.einsum("cji,cjk,kc->ic", whiten, whiten, t)
    of_white = weights.sum(axis=0)
    return Channels(
        weights=weights / of_white,
        prior=prior / of_white[:, np.newaxis, np.newaxis] ** 2,
        white=first * of_white,
        light=t / of_white,
        whiten=whiten * np.abs(of_white)[:, np.newaxis, np.newaxis],
        chart=R,
        sizes=misfit.sizes(_expected(t, R)) / np.abs(of_white),
        misfit=misfit,
    )


def rough_white(light: FloatArray, reflectance: FloatArray) -> FloatArray:
    """Return about what light a perfect white would give, shape (3,)."""
    level = reflectance.mean(axis=1)
    return np.asarray((light * level[:, np.newaxis]).sum(axis=0) / (level**2).sum())


def left_out_density(
    t: FloatArray, sd: FloatArray, reflectance: FloatArray, misfit: Misfit, prior: FloatArray
) -> FloatArray:
    """Return ln of the product of all left-out patches' densities, by (N5), for each prior (..., 31, 31).

    `t` and `sd` have shape (k, 3): light of white, and its noise.
    """
    inverse = np.linalg.inv(_covariance(t, sd, reflectance, misfit, prior))
    own = np.einsum("...cii->...ci", inverse)
    off2 = np.einsum("...cij,jc->...ci", inverse, t) ** 2 / own
    density = 0.5 * np.log(own) - 0.5 * (_TAILS + 1.0) * np.log1p(off2 / (_TAILS - 2.0))
    return np.asarray(density.sum(axis=(-1, -2)))


def _covariance(
    t: FloatArray, sd: FloatArray, R: FloatArray, misfit: Misfit, prior: FloatArray
) -> FloatArray:
    """Return C of (N5), shape (..., 3, k, k)."""
    m = misfit.sizes(_expected(t, R)).T
    own = np.eye(len(R))
    alike = misfit.alike * misfit.likeness(R, R) + (1.0 - misfit.alike) * own
    C = m[:, :, np.newaxis] * m[:, np.newaxis] * alike + (sd.T**2)[:, :, np.newaxis] * own
    return np.asarray((R @ prior @ R.T)[..., np.newaxis, :, :] + C)


def _expected(t: FloatArray, R: FloatArray) -> FloatArray:
    """Return t̂ of (N3) of the chart's own patches, shape (k, 3)."""
    among = R @ priors()[0] @ R.T
    return np.asarray(among @ np.linalg.solve(among + _ROUGHLY**2 * np.eye(len(R)), t))


@functools.cache
def priors() -> FloatArray:
    """Return the covariances of w that are tried, (N2), shape (p, 31, 31); the first is a plain one."""
    found = []
    for light, tau, length in itertools.product(LIGHTS, _DEPARTURES, _SMOOTH_NM):
        B = Viewing(light).weights
        B = B / B.sum(axis=0)
        found.append(_WIDE**2 * B @ B.T + (tau / np.sqrt(BANDS)) ** 2 * _smooth(length))
    plain = len(_SMOOTH_NM) * 2 + 1
    found.insert(0, found.pop(plain))
    return np.array(found)


@functools.cache
def _smooth(length_nm: float) -> FloatArray:
    nm = wavelengths_nm()
    return np.asarray(np.exp(-0.5 * ((nm[:, np.newaxis] - nm) / length_nm) ** 2))


def _place(reflectance: FloatArray) -> FloatArray:
    """Return where reflectances lie among colours, in hundreds of L*a*b*."""
    return np.asarray(lab(reflectance, Viewing("D50")) / 100.0)
