"""Bare grounds on a photographed card: what spectra a ground's colour leaves it, its bare patches as films.

A few numbers do not tell a ground's spectrum. It is the smoothest that has its colour: with r its level,
B what else a ground may be (a level, smooth bends, the edges in violet and blue that whites have; one
standard deviation a row), W the weights that make numbers t with errors N, and σ k₁ its surface,

    R = σ k₁ + r + P W (Wᵀ P W + N)⁻¹ (t − Wᵀ (σ k₁ + r)),   P = Bᵀ B + r²                 (X3)

and the rows of B are nuisances of the fit. Bare patches count like any other, as films of no thickness.
"""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from layersim.fitting.films import Below, measured_ground
from layersim.fitting.two_constant import rows_of
from layersim.optics import cones
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

# Smooth bends of a ground's spectrum: how many, and how far a bend reaches (assumptions).
_BENDS: Final = 4
_BEND_NM: Final = 80.0
# Of a mode: either way, for the slope of what it does.
_HALF: Final = 5e-4


def ground_of_colour(
    values: FloatArray, covariance: FloatArray, weights: FloatArray, *, sheen: float
) -> Below:
    """Return the smoothest ground of a colour, and what else it might be, (X3).

    `values`, shape (n,), are the bare ground's, as in :attr:`layersim.fitting.colours.Seen.values`, and
    `covariance`, shape (n, n), that of their error; `weights` have shape (31, n). `sheen` is the share of its
    surface's first reflection that was seen. The ground has no noise of its own.
    """
    surface = sheen * cones.directions().k1
    level = float(max(values[1] - surface, 1e-3))
    modes = ground_modes(level)
    prior = modes.T @ modes + level**2
    off = values - (surface + level) * weights.sum(axis=0)
    gain = prior @ weights @ np.linalg.inv(weights.T @ prior @ weights + covariance)
    # Lighter than its surface alone, and no lighter than whites are (an assumption).
    R = np.clip(surface + level + gain @ off, surface + 2e-4, 0.97)
    ends = [rows_of(cones.ground_from_seen(R + half * modes, sheen=sheen)) for half in (-_HALF, _HALF)]
    shifts = np.moveaxis(ends[1] - ends[0], 1, 0) / (2.0 * _HALF)
    return dataclasses.replace(measured_ground(R, np.full(BANDS, 1e-9), sheen=sheen), modes=shifts)


def ground_modes(level: float) -> FloatArray:
    """Return how grounds of a lightness may differ, one standard deviation each, shape (7, 31).

    All sizes are assumptions: primers are greys of many makes.

    `level`: reflectance.
    """
    nm = wavelengths_nm()
    # Shares of the level, and a little more, so that a black is not known exactly either.
    size = 0.06 * level + 0.002
    variances, directions = np.linalg.eigh(np.exp(-0.5 * ((nm[:, np.newaxis] - nm) / _BEND_NM) ** 2))
    bends = size * (directions[:, ::-1] * np.sqrt(np.maximum(variances[::-1], 0.0)))[:, :_BENDS].T
    even = np.full((1, BANDS), 0.15 * level + 0.003)
    # Whites absorb in the violet (rutile does below 410 nm); yellowed and buff ones into the blue, as one
    # pigment showed (docs/validation.md).
    violet, warm = (
        share * level / (1.0 + np.exp((nm - at) / width))
        for share, at, width in ((0.25, 412.0, 8.0), (0.12, 450.0, 20.0))
    )
    return np.concatenate([even, bends, violet[np.newaxis], warm[np.newaxis]])
