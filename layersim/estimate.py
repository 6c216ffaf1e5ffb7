"""One number that is not known exactly, how far it may be off, and what it rests on.

The error is one standard deviation of the number's logarithm, so that no amount turns negative and
"half or twice" is as likely one way as the other. A range [low, high] holds 90 % of cases:

    value = √(low · high),   error = ln(high / low) / (2 · 1.645)                          (E1)

the geometric middle and the spread of a normal deviate whose 5th and 95th percentiles are the ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.chance import NINETY
from layersim.spectra import FloatArray

COMMON_PRACTICE: Final = "common practice, no source"


@dataclass(frozen=True)
class Estimate:
    """A number, its relative error, and its basis.

    Raises ValueError if a number is negative or not finite.

    >>> Estimate(50.0, 0.1, "weighed").words("µl")
    '50 µl (42-59)'
    """

    value: float
    """≥ 0."""
    error: float
    """≥ 0; One standard deviation of the number's logarithm; 0 where it is taken as exact."""
    basis: str = COMMON_PRACTICE
    """What it rests on, in words."""

    def __post_init__(self) -> None:
        for number in (self.value, self.error):
            if not 0.0 <= number < math.inf:
                raise ValueError("an estimate and its error must be zero or more, and finite")

    @classmethod
    def within(cls, low: float, high: float, basis: str = COMMON_PRACTICE) -> Estimate:
        """Return the estimate whose range holds 90 % of cases, equation (E1).

        Raises ValueError if the ends are not above zero and in order.

        >>> round(Estimate.within(11.0, 25.0).value, 1)
        16.6
        """
        if not 0.0 < low <= high < math.inf:
            raise ValueError("a range needs ends above zero, the lower first")
        return cls(math.sqrt(low * high), math.log(high / low) / (2.0 * NINETY), basis)

    @property
    def low(self) -> float:
        """Lower end of the range that holds 90 %."""
        return self.value * math.exp(-NINETY * self.error)

    @property
    def high(self) -> float:
        """Upper end of the range that holds 90 %."""
        return self.value * math.exp(NINETY * self.error)

    def drawn(self, deviate: FloatArray) -> FloatArray:
        """Return the number for normal deviates, of their shape."""
        return np.asarray(self.value * np.exp(self.error * deviate))

    def words(self, unit: str = "") -> str:
        """Return the number with its range, such as "50 µl (42-59)"."""
        text = f"{self.value:.3g}{' ' if unit else ''}{unit}"
        return f"{text} ({self.low:.2g}-{self.high:.2g})" if self.error and self.value else text
