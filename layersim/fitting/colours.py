"""What photographs say of a card's patches: n numbers each, three a photograph, and the errors they share.

With a chart in the frame it is known what the camera's channels see, wavelength by wavelength
(:mod:`layersim.measure.channels`), and the numbers are its own: once what the picture departs from
its channels at a colour, h, is taken off, t_c = Σ w_c R. The errors of w and h are

    Cov(t_c of patch i, t_e of patch j),   by (N6)                                         (X1)

With neutrals only, the channels are taken for what the file's own primaries mean, mixtures of the
eye's weights, and as a random function over L*a*b* the error of that has between patches i and j, a
distance Δᵢⱼ apart, the covariance

    Cᵢⱼ = Aᵢ Aⱼᵀ exp(−½ (Δᵢⱼ/ℓ)²),   Aᵢ Aᵢᵀ = the calibration's covariance at i         (X2)

(a Gaussian process: C. E. Rasmussen and C. K. I. Williams, 2006, chapter 2). Either way the leading
directions become *shared* errors of the fit; noise is independent from patch to patch.

The same card photographed once more under another kind of lamp gives three further numbers a patch:
other channels, with errors of their own.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
import numpy.typing as npt

from layersim.colour import Viewing, lab_from_xyz
from layersim.fitting.bareground import ground_modes
from layersim.measure.calibrate import Calibration
from layersim.measure.cardreading import PhotographedPatch
from layersim.measure.channels import Channels, joint_covariance
from layersim.measure.processing import slopes
from layersim.spectra import FloatArray

ALIKE_LAB: Final = 30.0
"""ℓ of (X2): a matrix that was fitted to a chart is off in the same way over a hue or so (an assumption)."""

LEAST_NOISE: Final = 3e-4
"""Standard deviation, of white, below which no reading is believed: flare and rounding (an assumption)."""

# Shared errors of less than this part of the greatest's variance are left out: too small to matter.
_SHARED_KEPT: Final = 1e-5
# How well it is known how far below 0 a channel lies, relative (as CardReading.cut_off says).
_CUT_OFF_SPREAD: Final = 0.75
# Of white: the noise of a patch that a photograph does not show. Any number far above 1 would do.
_NOTHING_SAID: Final = 1e3
# Light over the chart is known from the card beside it, and a little off there: in all channels alike, and in
# each. Bare whites of tuning pigments' cards, as against the chart, were off by 0.004 to 0.007 that changed
# from card to card, 0.9 of it alike in all channels, and by 0.006 on average of a camera and lamp.
_CHART_LIGHT: Final = 0.005
_CHART_TINT: Final = 0.006
# Local tone mapping lights a chart and a card beside it differently, which no patch of the chart shows. A
# picture so processed has a larger misfit u of (N3), too: this part of it is taken for that, mostly common to
# all photographs by one camera (an assumption, from one rendered look that was for tuning).
_PROCESSED: Final = 0.5
# Share of the misfit's variance that each patch of the chart has of its own (N3) which a place of the card
# has, too: whether it is the chart's or the picture's, the chart cannot tell (an assumption).
_OWN_MISFIT: Final = 0.5
# How wrong a tone curve may go on beyond the lightest and the darkest grey that it was learnt from, of ln t
# for ln v (assumptions: highlights are rolled off, shadows less so).
_BEYOND_LIGHT: Final = 0.5
_BEYOND_DARK: Final = 0.15
# A shared error is left out where nowhere it makes more than this part of the noise (an assumption).
_FAINT: Final = 0.05
# A patch's own spectrum may bend this many times as much as a ground's (an assumption).
_BENDS_MORE: Final = 5.0
_MOST_SHARED: Final = 12  # shared errors a channel


@dataclass(frozen=True, eq=False)
class Colours:
    """The observation of a camera: n numbers, three a photograph, in units of their noise."""

    weights: FloatArray
    """Shape (31, n): what makes the numbers of a reflectance."""
    whiten: FloatArray
    """Shape (n, n): L⁻¹ with L Lᵀ = N, of all swatches or of each."""
    surface: FloatArray | float = 0.0
    """Shape (m, 1): reflectance that a patch's surface adds to what the films' own would: bare grounds
    have another sheen than the paint.
    """

    def observe(self, reflectance: FloatArray) -> FloatArray:
        """Return the whitened numbers, shape (..., m, n)."""
        seen = (reflectance + self.surface) @ self.weights
        return np.asarray((self.whiten @ seen[..., np.newaxis])[..., 0])

    def slopes(self, reflectance: FloatArray) -> FloatArray:
        """Return its derivative, shape (m, n, 31)."""
        slopes = self.whiten @ self.weights.T
        return np.broadcast_to(slopes, (len(reflectance), *slopes.shape[-2:]))


@dataclass(frozen=True, eq=False, kw_only=True)
class Seen:
    """Patches as the camera saw them, with their errors."""

    values: FloatArray
    """Shape (m, n): about 1 for a perfect white; three of each photograph."""
    noise: FloatArray
    """Shape (m, n, n): covariance, independent from patch to patch."""
    weights: FloatArray
    """Shape (31, n): what makes `values` of a reflectance."""
    xyz: FloatArray
    """Shape (m, 3): the same patches by the first photograph's calibration, to be shown; Y = 1 for a
    perfect white.
    """
    xyz_error: FloatArray
    """Shape (m, 3, 3): covariance of its error."""
    viewing: Viewing
    """The light of `xyz`."""
    channels: tuple[Channels, ...]
    """One a photograph. None where there is no chart to tell, and `weights` are those that the
    calibration's matrix means.
    """
    from_xyz: FloatArray
    """Shape (3, 3): what makes `values` of XYZ in that case (row vectors)."""
    limit: FloatArray
    """Shape (m, n): the most that a channel can be which the file has cut off at 0; ``inf`` for all
    others.
    """
    stretched: FloatArray
    """Shape (2, m, n): one standard deviation of what the tone curve is off beyond its lightest and its
    darkest grey.
    """
    departed: FloatArray
    """Shape (m, n): what was taken off `values` and `limit` for what the picture is not linear, h of (N1)."""

    @property
    def cut(self) -> npt.NDArray[np.bool_]:
        """Return of which values only a limit is known, shape (m, n)."""
        return np.isfinite(self.limit)

    @property
    def told(self) -> npt.NDArray[np.bool_]:
        """Return which values were seen at all, shape (m, n)."""
        return np.asarray(np.diagonal(self.noise, axis1=1, axis2=2) < _NOTHING_SAID**2)

    def whitening(self) -> FloatArray:
        """Return L⁻¹ of each patch's noise, shape (m, n, n)."""
        return np.asarray(np.linalg.inv(np.linalg.cholesky(self.noise)))

    def lab(self) -> FloatArray:
        """Return L*a*b* under the photograph's own light, shape (m, 3)."""
        return lab_from_xyz(100.0 * self.xyz, self.viewing.white)

    def lab_error(self) -> FloatArray:
        """Return each patch's error of all kinds, about ΔE*ab, one standard deviation, shape (m,)."""
        slope = self._lab_slope()
        whole = slope @ self.xyz_error @ np.swapaxes(slope, 1, 2)
        return np.asarray(np.sqrt(np.trace(whole, axis1=1, axis2=2) / 3.0))

    def shared(self, reflectance: FloatArray) -> FloatArray:
        """Return what one standard deviation of each shared error does to `values`.

        `reflectance` has shape (m, 31): of the patches, as far as it is known. The answer has shape (r,
        m, n).
        """
        if not self.channels:
            return np.asarray(self._shared_by_colour() @ self.from_xyz)
        m, n = self.values.shape
        noise = np.sqrt(np.diagonal(self.noise, axis1=1, axis2=2))
        # In units of the noise, so that what matters in dark places is not taken for small.
        joint = np.moveaxis(joint_covariance(self.channels, reflectance), (0, 2), (1, 3))
        joint = joint / noise[:, :, np.newaxis, np.newaxis] / noise
        variances, directions = np.linalg.eigh(joint.reshape(m * n, m * n))
        root = directions[:, ::-1] * np.sqrt(np.maximum(variances[::-1], 0.0))
        found = noise * root.T[: _MOST_SHARED * n].reshape(-1, m, n)
        channel = np.eye(n)
        alike = channel.reshape(n // 3, 3, n).sum(axis=1)
        processed = _PROCESSED * np.repeat([channels.misfit.light for channels in self.channels], 3)
        lit = np.concatenate(
            [_CHART_LIGHT * alike, 0.5 * processed * alike, processed[np.newaxis], _CHART_TINT * channel]
        )
        stretched = (alike[:, np.newaxis, np.newaxis] * self.stretched).reshape(-1, m, n)
        found = np.concatenate([found, lit[:, np.newaxis] * (reflectance @ self.weights), stretched])
        return np.asarray(found[(np.abs(found) / noise).max(axis=(1, 2)) > _FAINT])

    def looking_at(self, reflectance: FloatArray) -> Seen:
        """Return the patches with what the picture departs from its channels at their colours taken off.

        `reflectance` has shape (m, 31): of the patches, as far as it is known.
        """
        if not self.channels:
            return self
        departed = np.concatenate([channels.departure(reflectance) for channels in self.channels], axis=1)
        moved = np.where(self.told, departed - self.departed, 0.0)
        return dataclasses.replace(
            self,
            values=self.values - moved,
            limit=self.limit - moved,
            departed=self.departed + moved,
        )

    def smoothest(self) -> FloatArray:
        """Return for each patch a smooth reflectance with its colour, shape (m, 31)."""
        found = []
        for value, noise in zip(self.values, self.noise, strict=True):
            level = float(max(value[:3].mean(), 2e-3))
            bends = _BENDS_MORE * ground_modes(level)
            prior = bends.T @ bends + level**2
            off = value - level * self.weights.sum(axis=0)
            W = self.weights
            R = level + prior @ W @ np.linalg.solve(W.T @ prior @ W + noise, off)
            found.append(np.clip(R, 1e-4, 1.0))
        return np.array(found)

    def _shared_by_colour(self) -> FloatArray:
        m = len(self.xyz)
        slope = self._lab_slope()
        in_lab = slope @ self.xyz_error @ np.swapaxes(slope, 1, 2)
        values, vectors = np.linalg.eigh(0.5 * (in_lab + np.swapaxes(in_lab, 1, 2)))
        root = (vectors * np.sqrt(np.maximum(values, 0.0))[:, np.newaxis]) @ np.swapaxes(vectors, 1, 2)
        A = np.linalg.inv(slope) @ root
        lab = self.lab()
        apart = ((lab[:, np.newaxis] - lab) ** 2).sum(axis=-1) / ALIKE_LAB**2
        C = np.einsum("iac,jbc,ij->iajb", A, A, np.exp(-0.5 * apart)).reshape(3 * m, 3 * m)
        variances, directions = np.linalg.eigh(C)
        kept = variances > _SHARED_KEPT * variances[-1]
        return np.asarray((directions[:, kept] * np.sqrt(variances[kept])).T.reshape(-1, m, 3))

    def _lab_slope(self) -> FloatArray:
        """Return the derivative of L*a*b* by XYZ, by differences, shape (m, 3, 3)."""
        step = 1e-6
        moved = self.xyz[:, np.newaxis] + step * np.eye(3)
        change = lab_from_xyz(100.0 * moved, self.viewing.white) - self.lab()[:, np.newaxis]
        return np.asarray(np.swapaxes(change / step, 1, 2))


class Calibrated(Protocol):
    """A photograph with what is known of its colours."""

    @property
    def calibration(self) -> Calibration:
        """From what the camera says to XYZ."""

    @property
    def channels(self) -> Channels | None:
        """What the camera's channels see, where there is a chart to tell."""


def seen_patches(patches: Sequence[PhotographedPatch], reading: Calibrated) -> Seen:
    """Return some patches of a photograph with their errors.

    `patches`: usable ones, or cut off at 0 and nothing else.
    """
    calibration, channels = reading.calibration, reading.channels
    xyz = np.stack([patch.xyz for patch in patches]) / 100.0
    shared = np.stack([patch.xyz_calibration for patch in patches]) / 1e4
    by_noise = np.stack([patch.xyz_noise for patch in patches]) / 1e4
    W = calibration.viewing.weights / 100.0
    from_xyz: FloatArray = np.eye(3)
    if channels is not None:
        white, weights = channels.white, channels.weights
    else:
        # (K2) the other way round, of a calibration that has nothing but a matrix.
        from_xyz = np.asarray(100.0 * np.linalg.inv(calibration.matrix[:3]))
        white = W.sum(axis=0) @ from_xyz
        from_xyz = from_xyz / white
        weights = W @ from_xyz
    light = np.stack([calibration.tone.light(patch.rgb) for patch in patches]) / white
    cut_off = np.stack([patch.cut_off for patch in patches])
    beyond = np.where(cut_off > 0.0, 0.0, calibration.tone.beyond(np.stack([p.rgb for p in patches])))
    own = np.zeros(light.shape)
    if channels is not None:
        own = _OWN_MISFIT * (1.0 - channels.misfit.alike) * channels.misfit.sizes(light) ** 2
    slope = slopes(calibration.tone, np.stack([patch.rgb for patch in patches]))
    noise = slope @ np.stack([patch.rgb_covariance for patch in patches]) @ np.swapaxes(slope, 1, 2)
    # What is taken off a channel that stands at 0 goes through the tone too, which is steep there.
    below = np.maximum(np.diagonal(slope, axis1=1, axis2=2), 1.0) * cut_off / white
    noise = noise / np.outer(white, white) + (_CUT_OFF_SPREAD * below)[..., np.newaxis] ** 2 * np.eye(3)
    return Seen(
        values=light - below,
        noise=noise + (LEAST_NOISE**2 + own)[..., np.newaxis] * np.eye(3),
        weights=weights,
        xyz=xyz,
        xyz_error=shared if channels is None else shared + by_noise,
        viewing=calibration.viewing,
        channels=() if channels is None else (channels,),
        from_xyz=from_xyz,
        limit=np.where(np.stack([patch.limit for patch in patches]), light, np.inf),
        stretched=np.stack([_BEYOND_LIGHT * np.maximum(beyond, 0.0), _BEYOND_DARK * np.minimum(beyond, 0.0)])
        * light,
        departed=np.zeros(light.shape),
    )


def together(one: Seen, two: Seen) -> Seen:
    """Return the same patches as two photographs saw them.

    `one` and `two`: with channels known. The answer: shown as the first saw them.
    """
    m, n = one.values.shape
    noise = np.zeros((m, n + two.values.shape[1], n + two.values.shape[1]))
    noise[:, :n, :n], noise[:, n:, n:] = one.noise, two.noise
    return dataclasses.replace(
        one,
        values=np.concatenate([one.values, two.values], axis=1),
        noise=noise,
        weights=np.concatenate([one.weights, two.weights], axis=1),
        channels=one.channels + two.channels,
        limit=np.concatenate([one.limit, two.limit], axis=1),
        stretched=np.concatenate([one.stretched, two.stretched], axis=2),
        departed=np.concatenate([one.departed, two.departed], axis=1),
    )


def without(seen: Seen, lost: npt.NDArray[np.bool_]) -> Seen:
    """Return patches of which some say nothing.

    `lost` has shape (m,).
    """
    values, noise, limit = seen.values.copy(), seen.noise.copy(), seen.limit.copy()
    stretched = np.where(lost[:, np.newaxis], 0.0, seen.stretched)
    values[lost], noise[lost], limit[lost] = 0.5, _NOTHING_SAID**2 * np.eye(seen.values.shape[1]), np.inf
    return dataclasses.replace(seen, values=values, noise=noise, limit=limit, stretched=stretched)
