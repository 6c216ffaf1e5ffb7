"""Six figures of how far predictions are off, and of what was said about that beforehand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.spectra import FloatArray

HEAD: Final = (
    "mean",
    "95 %",
    "largest",
    "90 % range holds",
    "over 3 × its range",
    "range, median",
    "refused",
)
FAR: Final = 3.0
"""How many times its range a colour must be off to count as a surprise."""


@dataclass(frozen=True, eq=False)
class Said:
    """Predictions held against the truth."""

    off: FloatArray
    """Shape (n,). ΔE00 of each prediction from the truth."""
    reach: FloatArray
    """Shape (n,). ΔE00 that was said to hold it nine times in ten."""
    refused: int = 0
    asked: int = 0
    """Paints that the program would not fit, of how many; nothing is predicted from those."""

    def cells(self) -> list[str]:
        """Return the cells of a table under :data:`HEAD`."""
        refused = f"{self.refused} of {self.asked}"
        if not self.off.size:
            return ["–"] * 6 + [refused]
        numbers = (self.off.mean(), np.quantile(self.off, 0.95), self.off.max())
        return [
            *(f"{number:.2f}" for number in numbers),
            f"{100.0 * self.holds:.0f} %",
            f"{100.0 * np.mean(self.off > FAR * self.reach):.1f} %",
            f"{np.median(self.reach):.2f}",
            refused,
        ]

    @property
    def holds(self) -> float:
        """Share of truths that lie within what was said."""
        return float(np.mean(self.off <= self.reach))


def together(parts: Sequence[Said]) -> Said:
    """Return several as one."""
    return Said(
        off=np.concatenate([part.off.ravel() for part in parts]),
        reach=np.concatenate([part.reach.ravel() for part in parts]),
        refused=sum(part.refused for part in parts),
        asked=sum(part.asked for part in parts),
    )
