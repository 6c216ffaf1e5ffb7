"""Colour differences, and how a table sums them up."""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim import colour
from layersim.spectra import FloatArray

VIEW: Final = colour.Viewing()
"""D65, 2°: the light and observer of every table."""


def delta_e(predicted: FloatArray, truth: FloatArray) -> FloatArray:
    """Return ΔE00 of reflectances, shape (..., 31) giving (...)."""
    return colour.delta_e_2000(colour.lab(predicted, VIEW), colour.lab(truth, VIEW))


def four(errors: FloatArray) -> list[str]:
    """Return mean, median, 95th percentile and largest, as a table's cells."""
    numbers = (errors.mean(), np.median(errors), np.quantile(errors, 0.95), errors.max())
    return [f"{number:.2f}" for number in numbers]


def two(errors: FloatArray) -> str:
    """Return mean and 95th percentile, as one cell."""
    return f"{errors.mean():.2f} / {np.quantile(errors, 0.95):.2f}"
