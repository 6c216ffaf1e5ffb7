"""What is left to chance: a normal deviate for each thing that is uncertain, and ranges of what they give.

All factors are independent of each other. Where many of them vary together, the draws are a Latin hypercube
(M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21 (1979) 239).
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray

COVERED: Final = 0.90
"""Share of outcomes that every range in the package holds."""
NINETY: Final = NormalDist().inv_cdf(0.5 + COVERED / 2.0)
"""Standard deviations from the middle to either end of a range that holds 90 %: 1.645."""

MOST_TONES: Final = 400
"""Tones along a shade axis."""
MOST_DRAWS: Final = 10_000
MOST_DRAWN: Final = 100_000
"""Tones times draws: some gigabyte and half a minute."""

Kind = Literal[
    "film", "parts", "paint", "greys", "satin", "mist", "own film", "model", "index", "spotted", "tint",
    "flakes", "airbrush", "brush", "loss", "drop", "figure", "area", "place", "solids",
]  # fmt: skip
Step = int | Literal["ground", "preshade"]
"""A step of an area: the index of a coat, or what lies below the coats."""
_OF_MODEL: Final[tuple[Kind, ...]] = ("model", "index", "spotted", "tint", "flakes")


class Source(NamedTuple):
    """What a factor is."""

    kind: Kind
    step: Step | tuple[str, int] | None = None
    """A step, or by its name and how many of that name came before, so that two schemes can share it."""
    name: str = ""
    """Of a paint, or of what is off about a film."""
    number: int = 0
    """Which ingredient or doubt or shape of it."""

    @property
    def of_model(self) -> bool:
        """Whether it is an error of the film model, not of a hand or a bottle."""
        return self.kind in _OF_MODEL


@dataclass(frozen=True)
class Factor:
    """One independent source of doubt."""

    key: Source
    what: str
    """In words: the cause. All factors of the film model share one."""
    advice: str
    """What would narrow it."""
    towards: float = 1.0
    """1 or -1: which way a standard deviation is taken when it alone is off."""
    room: float = np.inf
    """How many standard deviations there are the other way, before nothing more changes."""


def check_counts(*, tones: int = 2, draws: int = 0, least_draws: int = 0) -> None:
    """Raise ValueError where tones or draws are no whole numbers, or beyond what can be worked out.

    >>> check_counts(tones=1)
    Traceback (most recent call last):
    ...
    ValueError: tones: found 1; expected a whole number from 2 to 400
    """
    _check_count("tones", tones, 2, MOST_TONES, "")
    most = min(MOST_DRAWS, MOST_DRAWN // tones)
    _check_count("draws", draws, least_draws, most, f" with {tones} tones" * (most < MOST_DRAWS))


def _check_count(name: str, value: int, low: int, high: int, beside: str) -> None:
    # numpy's whole numbers count, too; True is none.
    is_whole = hasattr(value, "__index__") and not isinstance(value, bool)
    if not is_whole or not low <= value <= high:
        raise ValueError(f"{name}: found {value!r}; expected a whole number from {low} to {high}{beside}")


def normal_hypercube(factors: int, draws: int, *, seed: int) -> FloatArray:
    """Return independent normal deviates in a Latin hypercube, shape (draws, factors).

    Each column has exactly the same slices of a normal distribution, in an order of its own.
    """
    normal = NormalDist()
    slices = np.array([normal.inv_cdf((i + 0.5) / draws) for i in range(draws)])
    # The slices' middles fall a little short of a normal's spread; this makes it whole again.
    slices = slices / np.sqrt((slices**2).mean()) if draws > 1 else slices
    shuffle = np.random.default_rng(seed + 1)
    return np.array([shuffle.permutation(slices) for _ in range(factors)]).reshape(factors, draws).T


def range_of(draws: FloatArray, middle: npt.ArrayLike | None = None) -> tuple[FloatArray, FloatArray]:
    """Return the ends between which 90 % of outcomes lie, from draws along the first axis.

    A bent response can leave the middle just outside its draws: the range is widened to it where it is given.
    """
    tail = (1.0 - COVERED) / 2.0
    low, high = _quantiles(draws, [tail, 1.0 - tail])
    return (low, high) if middle is None else (np.minimum(low, middle), np.maximum(high, middle))


def reach_of(draws: FloatArray) -> FloatArray:
    """Return what 90 % of outcomes stay below, from draws along the first axis."""
    return _quantiles(draws, COVERED)


def _quantiles(draws: FloatArray, shares: float | list[float]) -> FloatArray:
    # The k-th of n draws has k/(n + 1) of all outcomes below it on average (E. J. Gumbel, Statistics of
    # Extremes, 1958, from memory); the usual quantile would hold 87 % for 90 at 64 draws.
    return np.asarray(np.quantile(draws, shares, axis=0, method="weibull"))
