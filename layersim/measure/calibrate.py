"""From what a camera says to XYZ, learnt from a reference in the same photograph, and how far to trust it.

    linear light      t = tone(v)                                                       (K1)
    colours           XYZ = Mᵀ ρ(t)                                                     (K2)
                      ρ = (r, g, b)                                  3 × 3
                      ρ = (r, g, b, √rg, √gb, √rb)                   root-polynomial, degree 2

Root polynomials: G. D. Finlayson, M. Mackiewicz and A. Hurlbert, IEEE Trans. Image Process. 24
(2015) 1460, equation 9. Both scale with exposure, as a camera does; plain polynomials do not.
M is a least-squares fit with each patch's XYZ error weighed by what it means to the eye there (the
derivative of L*a*b*, and CIEDE2000's weighting functions). Which tone and which terms are taken is
decided by leaving out each patch in turn and predicting it (M. Stone, J. R. Stat. Soc. B 36 (1974)
111), never by how well the patches fitted are met; that error is reported as ΔE00.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import LIGHTS, Viewing, delta_e_2000, lab_from_xyz, xyz
from layersim.measure.tone import SMALLEST, TONES, Tone, fit_tone, tone_of_few
from layersim.spectra import FloatArray

TERMS: Final = ("3 × 3", "root-polynomial")

_BETTER_BY: Final = 0.95  # a model with more freedom must lower the error by 5 %
FEWEST_CHART_PATCHES: Final = 16
_FEWEST_GREYS: Final = 4
_BRADFORD: Final = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)  # ISO 15076-1 annex E
_D50_WHITE: Final = np.array([0.9642, 1.0, 0.8249])  # ICC.1:2010 section 7.2.16

# How far a camera's own colours lie from the truth when only its neutrals are set right, in L*, C*
# and hue direction: a constant part and a part that grows with chroma. From rendered photographs of
# four cameras under four lights (tests/measure/camera.py): root mean squares were 0.1, 0.2, 0.2 and
# 0.01, 0.06, 0.06 with a maker's matrix for the light at hand, 0.5, 0.9, 0.9 and 0.09, 0.21, 0.16 with
# its matrix for daylight. A file does not say which it was.
_NEUTRALS_SIGMA: Final = np.array([0.7, 0.8, 0.8])
_NEUTRALS_SIGMA_PER_CHROMA: Final = np.array([0.05, 0.13, 0.11])
# With nothing at all in the frame exposure and white balance are guesses too (estimated, no source).
_TRUSTED_SIGMA: Final = np.array([8.0, 6.0, 6.0])
_TRUSTED_SIGMA_PER_CHROMA: Final = np.array([0.06, 0.20, 0.15])


@dataclass(frozen=True)
class Candidate:
    """One way to calibrate and its error on patches it had not seen."""

    tone: str
    terms: str
    mean_de00: float
    worst_de00: float


@dataclass(frozen=True, eq=False)
class Calibration:
    """How to turn this photograph's linear RGB into XYZ, and how good that is."""

    reference: str
    """What it was learnt from: "chart", "neutrals" or "none"."""
    viewing: Viewing
    """The light and observer of the XYZ."""
    tone: Tone
    terms: str
    """One of :data:`TERMS`."""
    matrix: FloatArray
    """Shape (3 or 6, 3): M of equation (K2), for Y = 100."""
    sigma_lab: FloatArray
    """Shape (3, 3): covariance of its error in L*a*b*, the same for all colours ("chart")."""
    sigma_lch: FloatArray
    sigma_lch_per_chroma: FloatArray
    """`sigma_lch` and `sigma_lch_per_chroma`: shape (3,): standard deviations in L*, C* and hue direction,
    constant and by chroma (without a chart).
    """
    mean_de00: float
    worst_de00: float
    """`mean_de00` and `worst_de00`: on patches left out; NaN where there is no chart."""
    candidates: tuple[Candidate, ...] = ()
    """All that were tried."""
    notes: tuple[str, ...] = ()

    def xyz(self, rgb: npt.ArrayLike) -> FloatArray:
        """Return XYZ, equations (K1) and (K2).

        `rgb` has shape (..., 3): linear camera RGB of the photograph that was calibrated. The answer
        has shape (..., 3).
        """
        return np.maximum(expanded(self.tone.light(rgb), self.terms) @ self.matrix, 0.0)

    def slope(self, rgb: npt.ArrayLike) -> FloatArray:
        """Return the derivative of :meth:`xyz`, by central differences.

        `rgb` has shape (3,). The answer has shape (3, 3).
        """
        v = np.asarray(rgb, dtype=np.float64)
        step = np.maximum(0.01 * v, 1e-4)
        moved = np.diag(step)
        return np.asarray(((self.xyz(v + moved) - self.xyz(v - moved)) / (2.0 * step[:, np.newaxis])).T)

    def error_covariance(self, values: npt.ArrayLike) -> FloatArray:
        """Return the covariance of the calibration's own error at a colour.

        `values` has shape (3,): XYZ. The answer has shape (3, 3).
        """
        at = np.maximum(np.asarray(values, dtype=np.float64), 0.05)
        slope = np.linalg.inv(_lab_slope(at, self.viewing.white))
        lab = lab_from_xyz(at, self.viewing.white)
        chroma = float(np.hypot(lab[1], lab[2]))
        sigma = self.sigma_lch + self.sigma_lch_per_chroma * chroma
        hue = np.array([1.0, 0.0]) if chroma < 1e-9 else lab[1:] / chroma
        turn = np.array([[1.0, 0.0, 0.0], [0.0, hue[0], -hue[1]], [0.0, hue[1], hue[0]]])
        in_lab = self.sigma_lab + (turn * sigma**2) @ turn.T
        return np.asarray(slope @ in_lab @ slope.T)


def expanded(light: FloatArray, terms: str) -> FloatArray:
    """Return the terms ρ of equation (K2).

    `light` has shape (..., 3). `terms`: one of :data:`TERMS`. The answer has shape (..., 3).

    >>> expanded(np.array([0.04, 0.09, 0.16]), "root-polynomial").round(3)
    array([0.04, 0.09, 0.16, 0.06, 0.12, 0.08])
    """
    if terms == TERMS[0]:
        return light
    r, g, b = light[..., 0], light[..., 1], light[..., 2]
    roots = np.sqrt(np.stack([r * g, g * b, r * b], axis=-1))
    return np.concatenate([light, roots], axis=-1)


def calibrate_by_chart(
    rgb: npt.ArrayLike,
    reflectance: npt.ArrayLike,
    *,
    grey: npt.ArrayLike,
    viewing: Viewing | None = None,
    like: Tone | None = None,
) -> Calibration:
    """Return the calibration that predicts a chart's left-out patches best.

    `rgb` has shape (n, 3): linear camera RGB of the patches that can be used, freed of uneven light.
    `reflectance` has shape (n, 31): their published reflectances. `grey` has shape (n,): which of them
    are neutral: the tone is learnt from these. `viewing`: light of the XYZ. By default the one, of all
    that are known, under which left-out patches are predicted best: mostly the light the photograph was
    taken in. A camera says little of what colours become in another light, so this halves the error;
    whoever compares with reflectances can do so in any light. `like`: the tone, and the look, that are
    known already, as :func:`layersim.measure.processing.learn_camera` finds them. By default that of
    :data:`layersim.measure.tone.TONES` is taken, without a look, by which left-out patches are
    predicted best. Raises ValueError if too few patches are left.
    """
    if viewing is None:
        each = [
            calibrate_by_chart(rgb, reflectance, grey=grey, viewing=Viewing(light), like=like)
            for light in LIGHTS
        ]
        return min(each, key=lambda calibration: calibration.mean_de00)
    seen, spectra = np.asarray(rgb, dtype=np.float64), np.asarray(reflectance, dtype=np.float64)
    neutral = np.asarray(grey, dtype=bool)
    view = viewing
    if like is not None:
        seen = np.maximum(like.look.undone(seen), 0.0)
    if len(seen) < FEWEST_CHART_PATCHES:
        raise ValueError(
            f"only {len(seen)} of the chart's patches can be used; expected {FEWEST_CHART_PATCHES} or more"
        )
    wanted = xyz(spectra, view)
    wanted_lab = lab_from_xyz(wanted, view.white)
    metric = _metric(wanted, view.white)
    best: tuple[Candidate, FloatArray] | None = None
    tried: list[Candidate] = []
    for tone_kind, terms in _simplest_first(TONES if like is None else (like.kind,)):
        left_out = _predicted_when_left_out(
            seen, spectra, neutral, wanted, metric, tone_kind, terms, known=like is not None
        )
        if left_out is None:
            continue
        found = lab_from_xyz(np.maximum(left_out, 0.0), view.white)
        de = delta_e_2000(found, wanted_lab)
        candidate = Candidate(tone_kind, terms, float(de.mean()), float(de.max()))
        tried.append(candidate)
        if best is None or candidate.mean_de00 < _BETTER_BY * best[0].mean_de00:
            best = (candidate, found - wanted_lab)
    if best is None:
        raise ValueError("the chart's neutrals do not follow any tone curve; are they covered or in shadow?")
    chosen, misses = best
    tone = fit_tone(chosen.tone, seen[neutral], spectra[neutral])
    matrix = _fit_matrix(expanded(tone.light(seen), chosen.terms), wanted, metric)
    if like is not None:
        tone = replace(tone, look=like.look)
    return Calibration(
        reference="chart",
        viewing=view,
        tone=tone,
        terms=chosen.terms,
        matrix=matrix,
        sigma_lab=np.asarray(misses.T @ misses / len(misses)),
        sigma_lch=np.zeros(3),
        sigma_lch_per_chroma=np.zeros(3),
        mean_de00=chosen.mean_de00,
        worst_de00=chosen.worst_de00,
        candidates=tuple(tried),
    )


def calibrate_by_neutrals(
    rgb: npt.ArrayLike,
    reflectance: npt.ArrayLike,
    *,
    to_xyz_d50: FloatArray,
    viewing: Viewing | None = None,
) -> Calibration:
    """Return a calibration that trusts the file's own primaries and sets white balance and tone right.

    `rgb` has shape (n, 3): linear camera RGB of the neutrals, n ≥ 1. `reflectance` has shape (n, 31).
    `to_xyz_d50` has shape (3, 3): the file's primaries. `viewing`: light of the XYZ; D65, 2° by
    default. The answer: with errors as wide as makers' matrices differ, growing with chroma. Raises
    ValueError if there is no neutral, or they do not get brighter in the order of their reflectances.
    """
    seen, spectra = np.asarray(rgb, dtype=np.float64), np.asarray(reflectance, dtype=np.float64)
    if len(seen) == 0:
        raise ValueError("no neutral can be used")
    level = spectra.mean(axis=1)
    order = np.argsort(level)
    if (np.diff(seen[order], axis=0) <= 0.0).any():
        raise ValueError(
            "the neutrals do not get brighter in the order of their reflectances; is one of them "
            "missing, in shadow, or in another's place?"
        )
    tone = tone_of_few(seen, spectra)
    view = viewing or Viewing()
    light = tone.light(seen)
    # Relative error counts, and the lighter neutrals more: their noise and flare are smaller.
    weight = level / (level + 0.05)
    gain = np.exp(
        (weight[:, np.newaxis] * (np.log(light + SMALLEST) - np.log(level)[:, np.newaxis])).sum(axis=0)
        / weight.sum()
    )
    return _by_primaries(
        "neutrals",
        gain,
        tone,
        to_xyz_d50,
        view,
        _NEUTRALS_SIGMA,
        _NEUTRALS_SIGMA_PER_CHROMA,
        (),
    )


def calibrate_by_trust(
    white_rgb: npt.ArrayLike, *, to_xyz_d50: FloatArray, viewing: Viewing | None = None
) -> Calibration:
    """Return a calibration by nothing but the camera's word; only where a user insists.

    `white_rgb` has shape (3,): linear camera RGB taken for a perfect white. `to_xyz_d50` has shape (3,
    3): the file's primaries. The answer: with very wide errors.
    """
    return _by_primaries(
        "none",
        np.asarray(white_rgb, dtype=np.float64),
        Tone("as read", np.zeros(3)),
        to_xyz_d50,
        viewing or Viewing(),
        _TRUSTED_SIGMA,
        _TRUSTED_SIGMA_PER_CHROMA,
        ("no reference in the frame: the camera's colours were trusted as asked, its band is wide",),
    )


def _by_primaries(
    reference: str,
    gain: FloatArray,
    tone: Tone,
    to_xyz_d50: FloatArray,
    viewing: Viewing,
    sigma_lch: FloatArray,
    sigma_lch_per_chroma: FloatArray,
    notes: tuple[str, ...],
) -> Calibration:
    scaled = to_xyz_d50 * (_D50_WHITE / to_xyz_d50.sum(axis=1))[:, np.newaxis]
    cones = _BRADFORD @ viewing.white / (_BRADFORD @ _D50_WHITE)
    adapt = np.linalg.inv(_BRADFORD) @ (cones[:, np.newaxis] * _BRADFORD)
    return Calibration(
        reference=reference,
        viewing=viewing,
        tone=tone,
        terms=TERMS[0],
        matrix=np.asarray((adapt @ scaled / gain).T),
        sigma_lab=np.zeros((3, 3)),
        sigma_lch=sigma_lch,
        sigma_lch_per_chroma=sigma_lch_per_chroma,
        mean_de00=float("nan"),
        worst_de00=float("nan"),
        notes=notes,
    )


# -- choosing --------------------------------------------------------------------------------------


def _simplest_first(tones: Sequence[str]) -> Iterator[tuple[str, str]]:
    for tone in tones:
        for terms in TERMS:
            yield tone, terms


def _predicted_when_left_out(
    seen: FloatArray,
    spectra: FloatArray,
    neutral: npt.NDArray[np.bool_],
    wanted: FloatArray,
    metric: FloatArray,
    tone_kind: str,
    terms: str,
    *,
    known: bool = False,
) -> FloatArray | None:
    """Return each patch's XYZ predicted from all the others, or None where the model cannot be fitted.

    A tone that is known stays where too few greys are left to learn it anew.
    """
    whole = fit_tone(tone_kind, seen[neutral], spectra[neutral])
    if not whole.rises:
        return None
    rho = expanded(whole.light(seen), terms)
    out: FloatArray = np.einsum("ik,ikc->ic", rho, _matrices_without_one(rho, wanted, metric))
    if tone_kind == "as read" or (known and neutral.sum() <= _FEWEST_GREYS):
        return out
    for i in np.flatnonzero(neutral).tolist():  # a grey left out is left out of the tone too
        greys = neutral.copy()
        greys[i] = False
        if greys.sum() < _FEWEST_GREYS:
            return None
        tone = fit_tone(tone_kind, seen[greys], spectra[greys])
        if not tone.rises:
            if known:
                continue
            return None
        rho = expanded(tone.light(seen), terms)
        others = np.arange(len(seen)) != i
        out[i] = rho[i] @ _fit_matrix(rho[others], wanted[others], metric[others])
    return out


def _fit_matrix(rho: FloatArray, wanted: FloatArray, metric: FloatArray) -> FloatArray:
    """Return M of equation (K2): least squares of metric · (Mᵀρ − XYZ), shape (p, 3)."""
    normal, right = _normal_equations(rho, wanted, metric)
    return _solved(normal.sum(axis=0), right.sum(axis=0), rho.shape[1])


def _matrices_without_one(rho: FloatArray, wanted: FloatArray, metric: FloatArray) -> FloatArray:
    """Return, for each patch, M fitted to all the others, shape (n, p, 3)."""
    normal, right = _normal_equations(rho, wanted, metric)
    return _solved(normal.sum(axis=0) - normal, right.sum(axis=0) - right, rho.shape[1])


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
    return np.asarray(turn @ _lab_slope(values, white))


def _lab_slope(values: FloatArray, white: FloatArray) -> FloatArray:
    """Return the derivative of L*a*b* by XYZ, shape (..., 3, 3)."""
    t = values / white
    delta = 6.0 / 29.0
    steep = np.where(t > delta**3, np.maximum(t, delta**3) ** (-2.0 / 3.0) / 3.0, 1.0 / (3.0 * delta**2))
    by_f = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])  # equation (C2)
    return np.asarray(by_f * (steep / white)[..., np.newaxis, :])
