"""The forward model of a fit: reflectances of swatches from a paint's K and S, with derivatives.

A tint's film holds shares c of the paint and of known paints, and their constants add (D. R.
Duncan, Proc. Phys. Soc. 52 (1940) 390), K = c K₁ + Σ cⱼ Kⱼ; films over grounds are the two-cone
model of :mod:`layersim.optics.cones`. Every band is on its own, so three extra runs of the model,
each with every band moved at once, give all derivatives by K, S and the ground; the one by thickness is
free, since only KX and SX count: ∂R/∂ln X = ∂R/∂ln K + ∂R/∂ln S.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.fitting.problem import Films
from layersim.optics import cones
from layersim.optics.cones import Admittance
from layersim.spectra import BANDS, FloatArray

BOUNDS_PER_UM: Final = (1e-7, 50.0)
"""No film of paint absorbs or scatters less or more than this in a way that could be seen."""

SHOWS: Final = 0.02
"""Reflectance by which a film over a light ground is lighter than over a dark one, where its ground shows at
all (an assumption: about an L* in the middle)."""

# Of forward differences: rounding and curvature each leave about 1e-7 of a derivative.
_STEP: Final = 1e-6
# A swatch without the paint may have no absorption at all.
_NONE: Final = 1e-300


def rows_of(ground: Admittance) -> FloatArray:
    """Return an admittance as an array whose first axis is cone, cross and trapped."""
    return np.stack([ground.cone, ground.cross, ground.trapped])


def predict(films: Films, unknowns: FloatArray) -> FloatArray:
    """Return what the swatches would reflect.

    `unknowns`: shape (films.unknowns,); ln K, ln S, film errors and nuisances, the latter two in
    standard deviations. Returns shape (m, 31).
    """
    (K, S), X, ground = _stack(films, unknowns)
    laid = cones.lay(cones.medium(K_per_um=K, S_per_um=S), thickness_um=X, over=Admittance(*ground))
    return cones.seen(laid, sheen=_share_seen(films, unknowns))


def ground_shows(films: Films, unknowns: FloatArray) -> npt.NDArray[np.bool_]:
    """Return which swatches would look another over a ground that is much darker or lighter, shape (m,)."""
    seen = []
    for reflectance in (0.05, 0.80):
        ground = rows_of(cones.ground_from_seen(np.full(films.ground.shape[1:], reflectance), sheen=0.0))
        seen.append(predict(dataclasses.replace(films, ground=ground), unknowns))
    return np.asarray((seen[1] - seen[0]).max(axis=1) > SHOWS)


def predict_with_slopes(films: Films, unknowns: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what the swatches would reflect, and how it changes with every unknown.

    `unknowns`: shape (films.unknowns,). Returns `reflectance`, shape (m, 31). Returns `slopes`, shape
    (m, 31, films.unknowns). Returns `ground_noise`, shape (m, 31); change of each reflectance for one
    standard deviation of the ground's own measurement.
    """
    m = len(films.names)
    (K, S), X, ground = _stack(films, unknowns)
    up = np.exp(_STEP)
    # A paint's lines cost most and do not depend on what lies below: three suffice for all runs.
    paints = cones.medium(K_per_um=np.stack([K, K * up, K]), S_per_um=np.stack([S, S, S * up]))
    by_one = np.concatenate([[np.zeros_like(ground), films.ground_noise], films.ground_shift])
    below = Admittance(*np.moveaxis(ground + by_one * _STEP, 1, 0))
    plain = cones.lay(cones.rows_of(paints, slice(0, 1)), thickness_um=X, over=below)
    other = cones.lay(cones.rows_of(paints, slice(1, 3)), thickness_um=X, over=Admittance(*ground))
    share = _share_seen(films, unknowns)
    seen = cones.seen(plain, sheen=share)
    by_constants = (cones.seen(other, sheen=share) - seen[0]) / _STEP
    change = (seen[1:] - seen[0]) / _STEP

    own = films.share[:, np.newaxis] * _constants(unknowns) / np.maximum([K, S], _NONE)
    slopes = np.zeros((m, BANDS, films.unknowns))
    swatch, band = np.arange(m), np.arange(BANDS)
    slopes[:, band, band], slopes[:, band, BANDS + band] = by_constants * own
    slopes[swatch, :, 2 * BANDS + swatch] = by_constants.sum(axis=0) * films.film_error[:, np.newaxis]
    if films.nuisances:
        by_known = (by_constants * (1.0 - own) * films.known_shift).sum(axis=1)
        by_share = films.seen_shift[:, :, np.newaxis] * cones.directions().k1
        slopes[:, :, 2 * BANDS + m :] = np.moveaxis(by_known + change[1:] + by_share, 0, -1)
    return seen[0], slopes, change[0]


def _constants(unknowns: FloatArray) -> FloatArray:
    return np.exp(unknowns[: 2 * BANDS]).reshape(2, 1, BANDS)


def _stack(films: Films, unknowns: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return K and S (2, m, 31), thickness (m, 1) and the ground's admittance (3, m, 31) of every swatch."""
    z = unknowns[2 * BANDS + len(films.names) :]
    known = films.known * np.exp(_moved(z, films.known_shift))
    X = films.thickness_um * films.film_factor(unknowns)
    own = films.share[:, np.newaxis] * _constants(unknowns)
    return own + known, X[:, np.newaxis], films.ground + _moved(z, films.ground_shift)


def _moved(z: FloatArray, shifts: FloatArray) -> FloatArray:
    """Return what deviates (q,) make of shifts (q, ...) together; much quicker than tensordot for few."""
    return np.asarray((z @ shifts.reshape(len(z), math.prod(shifts.shape[1:]))).reshape(shifts.shape[1:]))


def _share_seen(films: Films, unknowns: FloatArray) -> FloatArray:
    """Return the share of the first reflection with which each swatch was seen, shape (m, 1)."""
    z = unknowns[2 * BANDS + len(films.names) :]
    return np.asarray((films.sheen + z @ films.seen_shift)[:, np.newaxis])
