"""From what a camera says to XYZ, learnt from a reference in the same photograph, and how far to trust it.

    linear light      t = tone(v)                                                       (K1)
    colours           XYZ = Mᵀ ρ(t)                                                     (K2)
                      ρ = (r, g, b)                                  3 × 3
                      ρ = (r, g, b, √rg, √gb, √rb)                   root-polynomial, degree 2

Root polynomials: G. D. Finlayson, M. Mackiewicz and A. Hurlbert, IEEE Trans. Image Process. 24
(2015) 1460, equation 9. Both scale with exposure, as a camera does; plain polynomials do not.
M is a least-squares fit with each patch's XYZ error weighed by what it means to the eye there (the
derivative of L*a*b*, and CIEDE2000's weighting functions). The tone is learnt beforehand, with the camera's
channels (:mod:`layersim.measure.processing`). Which terms are taken is decided by leaving out each patch in
turn and predicting it (M. Stone, J. R. Stat. Soc. B 36 (1974) 111), never by how well the patches fitted are
met; that error is reported as ΔE00.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import LIGHTS, Viewing, adaptation, delta_e_2000, lab_from_xyz, xyz
from layersim.measure.photograph import D50_WHITE
from layersim.measure.tone import SMALLEST, ToneCurve, tone_of_few
from layersim.spectra import FloatArray

_BETTER_BY: Final = 0.95  # the root-polynomial must lower the error by 5 %

# How far a camera's own colours lie from the truth when only its neutrals are set right, in L*, C*
# and hue direction: a constant part and a part that grows with chroma. From rendered photographs of
# four cameras under four lights (tests/measure/camera.py): root mean squares were 0.1, 0.2, 0.2 and
# 0.01, 0.06, 0.06 with a maker's matrix for the light at hand, 0.5, 0.9, 0.9 and 0.09, 0.21, 0.16 with
# its matrix for daylight. A file does not say which it was.
_NEUTRALS_SIGMA: Final = np.array([0.7, 0.8, 0.8]), np.array([0.05, 0.13, 0.11])
# With nothing at all in the frame exposure and white balance are guesses too (estimated, no source).
_TRUSTED_SIGMA: Final = np.array([8.0, 6.0, 6.0]), np.array([0.06, 0.20, 0.15])


@dataclass(frozen=True, eq=False)
class Calibration:
    """How to turn this photograph's linear RGB into XYZ, and how good that is."""

    reference: str
    """What it was learnt from: "chart", "neutrals" or "none"."""
    viewing: Viewing
    """The light and observer of the XYZ."""
    tone: ToneCurve
    matrix: FloatArray
    """Shape (3, 3), or (6, 3) with the root-polynomial: M of equation (K2), for Y = 100."""
    sigma_lab: FloatArray
    """Shape (3, 3): covariance of its error in L*a*b*, the same for all colours ("chart")."""
    sigma_lch: FloatArray
    """Shape (3,): where there is no chart, its standard deviations in L*, C* and hue direction."""
    sigma_lch_per_chroma: FloatArray
    """Shape (3,): what is added to them for each unit of chroma."""
    mean_de00: float
    """Of the chart's patches, each left out in turn; NaN where there is no chart."""

    def xyz(self, rgb: npt.ArrayLike) -> FloatArray:
        """Return the XYZ of linear camera RGB of this photograph, shape (..., 3), by (K1) and (K2)."""
        return np.maximum(expanded(self.tone.light(rgb), len(self.matrix)) @ self.matrix, 0.0)

    def slope(self, rgb: npt.ArrayLike) -> FloatArray:
        """Return the derivative of :meth:`xyz` at one colour, shape (3, 3), by central differences."""
        v = np.asarray(rgb, dtype=np.float64)
        step = np.maximum(0.01 * v, 1e-4)
        moved = np.diag(step)
        return np.asarray(((self.xyz(v + moved) - self.xyz(v - moved)) / (2.0 * step[:, np.newaxis])).T)

    def error_covariance(self, values: npt.ArrayLike) -> FloatArray:
        """Return the covariance of the calibration's own error at one XYZ, shape (3, 3)."""
        at = np.maximum(np.asarray(values, dtype=np.float64), 0.05)
        slope = np.linalg.inv(lab_slope(at, self.viewing.white))
        lab = lab_from_xyz(at, self.viewing.white)
        chroma = float(np.hypot(lab[1], lab[2]))
        sigma = self.sigma_lch + self.sigma_lch_per_chroma * chroma
        hue = np.array([1.0, 0.0]) if chroma < 1e-9 else lab[1:] / chroma
        turn = np.array([[1.0, 0.0, 0.0], [0.0, hue[0], -hue[1]], [0.0, hue[1], hue[0]]])
        in_lab = self.sigma_lab + (turn * sigma**2) @ turn.T
        return np.asarray(slope @ in_lab @ slope.T)


def expanded(light: FloatArray, terms: int) -> FloatArray:
    """Return the terms ρ of equation (K2), three or six, of linear light of shape (..., 3).

    >>> expanded(np.array([0.04, 0.09, 0.16]), 6).round(3)
    array([0.04, 0.09, 0.16, 0.06, 0.12, 0.08])
    """
    if terms == 3:
        return light
    r, g, b = light[..., 0], light[..., 1], light[..., 2]
    roots = np.sqrt(np.stack([r * g, g * b, r * b], axis=-1))
    return np.concatenate([light, roots], axis=-1)


def calibrate_by_chart(
    rgb: npt.ArrayLike, reflectance: npt.ArrayLike, *, tone: ToneCurve, viewing: Viewing | None = None
) -> Calibration:
    """Return the calibration that predicts a chart's left-out patches best.

    `rgb` has shape (n, 3): linear camera RGB of the patches that can be used, freed of uneven light;
    `reflectance` has shape (n, 31). `viewing` is by default the light, of all that are known, under which
    left-out patches are predicted best: mostly the one the photograph was taken in. A camera says little of
    what colours become in another light, so this halves the error; whoever compares with reflectances can
    do so in any light.
    """
    if viewing is None:
        each = [calibrate_by_chart(rgb, reflectance, tone=tone, viewing=Viewing(light)) for light in LIGHTS]
        return min(each, key=lambda calibration: calibration.mean_de00)
    light = tone.light(rgb)
    wanted = xyz(np.asarray(reflectance, dtype=np.float64), viewing)
    wanted_lab = lab_from_xyz(wanted, viewing.white)
    metric = _metric(wanted, viewing.white)
    least = np.inf
    for count in (3, 6):
        rho = expanded(light, count)
        matrix, without_one = _matrices(rho, wanted, metric)
        left_out = np.einsum("ik,ikc->ic", rho, without_one)
        found = lab_from_xyz(np.maximum(left_out, 0.0), viewing.white)
        mean = float(delta_e_2000(found, wanted_lab).mean())
        if mean < _BETTER_BY * least:
            best, least, misses = matrix, mean, found - wanted_lab
    return Calibration(
        reference="chart",
        viewing=viewing,
        tone=tone,
        matrix=best,
        sigma_lab=np.asarray(misses.T @ misses / len(misses)),
        sigma_lch=np.zeros(3),
        sigma_lch_per_chroma=np.zeros(3),
        mean_de00=least,
    )


def calibrate_by_neutrals(
    rgb: npt.ArrayLike, reflectance: npt.ArrayLike, *, to_xyz_d50: FloatArray
) -> Calibration:
    """Return a calibration that trusts the file's own primaries and sets white balance and tone right.

    `rgb` has shape (n, 3), linear camera RGB of one or more neutrals; `reflectance` has shape (n, 31);
    `to_xyz_d50` are the file's primaries, shape (3, 3). Its errors are as wide as makers' matrices differ,
    and grow with chroma. Raises ValueError if the neutrals do not get brighter in the order of their
    reflectances.
    """
    seen, spectra = np.asarray(rgb, dtype=np.float64), np.asarray(reflectance, dtype=np.float64)
    level = spectra.mean(axis=1)
    order = np.argsort(level)
    if (np.diff(seen[order], axis=0) <= 0.0).any():
        raise ValueError(
            "the neutrals do not get brighter in the order of their reflectances; is one of them "
            "missing, in shadow, or in another's place?"
        )
    tone = tone_of_few(seen, spectra)
    light = tone.light(seen)
    # Relative error counts, and the lighter neutrals more: their noise and flare are smaller.
    weight = level / (level + 0.05)
    gain = np.exp(
        (weight[:, np.newaxis] * (np.log(light + SMALLEST) - np.log(level)[:, np.newaxis])).sum(axis=0)
        / weight.sum()
    )
    return _by_primaries("neutrals", gain, tone, to_xyz_d50, _NEUTRALS_SIGMA)


def calibrate_by_trust(white_rgb: npt.ArrayLike, *, to_xyz_d50: FloatArray) -> Calibration:
    """Return a calibration by nothing but the camera's word; only where a user insists.

    `white_rgb` is the linear camera RGB taken for a perfect white, shape (3,). Its errors are very wide.
    """
    as_read = ToneCurve("as read", np.zeros(3))
    return _by_primaries("none", np.asarray(white_rgb), as_read, to_xyz_d50, _TRUSTED_SIGMA)


def _by_primaries(
    reference: str,
    gain: FloatArray,
    tone: ToneCurve,
    to_xyz_d50: FloatArray,
    sigmas: tuple[FloatArray, FloatArray],
) -> Calibration:
    viewing = Viewing()
    scaled = to_xyz_d50 * (D50_WHITE / to_xyz_d50.sum(axis=1))[:, np.newaxis]
    adapt = adaptation(tuple(D50_WHITE.tolist()), tuple(viewing.white.tolist()))
    return Calibration(
        reference=reference,
        viewing=viewing,
        tone=tone,
        matrix=np.asarray((adapt @ scaled / gain).T),
        sigma_lab=np.zeros((3, 3)),
        sigma_lch=sigmas[0],
        sigma_lch_per_chroma=sigmas[1],
        mean_de00=float("nan"),
    )


# -- least squares ----------------------------------------------------------------------------------


def _matrices(rho: FloatArray, wanted: FloatArray, metric: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return M of equation (K2), least squares of metric · (Mᵀρ − XYZ), and M fitted to all patches but one.

    Their shapes are (p, 3) and (n, p, 3).
    """
    normal, right = _normal_equations(rho, wanted, metric)
    every, each = normal.sum(axis=0), right.sum(axis=0)
    p = rho.shape[1]
    return _solved(every, each, p), _solved(every - normal, each - right, p)


def _normal_equations(
    rho: FloatArray, wanted: FloatArray, metric: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return each patch's share in the normal equations, shapes (n, 3p, 3p) and (n, 3p)."""
    n, p = rho.shape
    # Row (patch i, Lab axis a), column (term k, XYZ axis c): metric[i, a, c] ρ[i, k].
    rows = np.einsum("iac,ik->iakc", metric, rho).reshape(n, 3, 3 * p)
    target = np.einsum("iac,ic->ia", metric, wanted)
    return np.einsum("iau,iav->iuv", rows, rows), np.einsum("iau,ia->iu", rows, target)


def _solved(normal: FloatArray, right: FloatArray, p: int) -> FloatArray:
    # Scaled, with a trace of ridge: the root terms of nearly grey patches are alike.
    scale = np.sqrt(np.diagonal(normal, axis1=-2, axis2=-1)) + 1e-12
    scaled = normal / (scale[..., :, np.newaxis] * scale[..., np.newaxis, :]) + 1e-9 * np.eye(3 * p)
    solution = np.linalg.solve(scaled, (right / scale)[..., np.newaxis])[..., 0] / scale
    return np.asarray(solution.reshape(*solution.shape[:-1], p, 3))


def _metric(values: FloatArray, white: FloatArray) -> FloatArray:
    """Return, per colour, the map from an XYZ error to one in units of ΔE00, shape (n, 3, 3).

    The derivative of L*a*b*, turned into L*, C* and hue, over CIEDE2000's S_L, S_C and S_H (CIE 142;
    its rotation term and its change of a* are left out: these are weights, not the error reported).
    """
    lab = lab_from_xyz(values, white)
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    hue = np.divide(
        lab[:, 1:], chroma[:, np.newaxis], out=np.zeros((len(lab), 2)), where=chroma[:, np.newaxis] > 0
    )
    hue[chroma == 0.0, 0] = 1.0
    lightness = lab[:, 0]
    SL = 1.0 + 0.015 * (lightness - 50.0) ** 2 / np.sqrt(20.0 + (lightness - 50.0) ** 2)
    SC, SH = 1.0 + 0.045 * chroma, 1.0 + 0.015 * chroma
    turn = np.zeros((len(lab), 3, 3))
    turn[:, 0, 0] = 1.0 / SL
    turn[:, 1, 1], turn[:, 1, 2] = hue[:, 0] / SC, hue[:, 1] / SC
    turn[:, 2, 1], turn[:, 2, 2] = -hue[:, 1] / SH, hue[:, 0] / SH
    return np.asarray(turn @ lab_slope(values, white))


def lab_slope(values: FloatArray, white: FloatArray) -> FloatArray:
    """Return the derivative of L*a*b* by XYZ, shape (..., 3, 3)."""
    t = values / white
    delta = 6.0 / 29.0
    steep = np.where(t > delta**3, np.maximum(t, delta**3) ** (-2.0 / 3.0) / 3.0, 1.0 / (3.0 * delta**2))
    by_f = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])  # equation (C2)
    return np.asarray(by_f * (steep / white)[..., np.newaxis, :])
