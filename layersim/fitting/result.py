"""What a fit hands back: the paint, how well the swatches agree with it, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.estimate import Estimate
from layersim.measure.swatch import Sprayed
from layersim.paint import Paint
from layersim.shown import Shown
from layersim.spectra import FloatArray

FAR_OFF: Final = 0.35
"""ln of a film over what was meant, beyond which it is told: more than a third off."""


def far_off(film_factor: FloatArray) -> npt.NDArray[np.bool_]:
    """Return which films are far from what was said of them, by how thick they seem over it."""
    return np.asarray(np.abs(np.log(film_factor)) > FAR_OFF)


GRADES = ("good", "usable", "doubtful")


@dataclass(frozen=True)
class Verdict:
    """Whether the fit is good enough."""

    grade: str
    """One of :data:`GRADES`."""
    words: str
    """Why, in a sentence or two."""
    reach: float
    """Colour difference that holds 90 % of outcomes, over typical thin stacks as the paint dries."""
    reach_under: Mapping[str, float]
    """The same under each varnish."""


@dataclass(frozen=True)
class Suggestion:
    """The one more swatch that would narrow typical predictions most."""

    swatch: Sprayed
    """How to make it."""
    reach: float
    """:attr:`Verdict.reach` as expected with it."""

    @property
    def words(self) -> str:
        """How many coats of what over which ground."""
        return self.swatch.name


@dataclass(frozen=True)
class Outlier:
    """A swatch that does not agree with the others and was left out."""

    name: str
    delta_e: float
    """How far it is from what the others say it should look like, ΔE00."""
    looks_like: str
    """What would explain it; empty where nothing does."""

    def words(self) -> str:
        """Return it in words.

        >>> Outlier("2 coats over black", 4.7, "4 coats (not 2)").words()
        '"2 coats over black" is ΔE00 4.7 from what the others say; it looks like 4 coats (not 2)'
        """
        what = f'"{self.name}" is ΔE00 {self.delta_e:.1f} from what the others say'
        return f"{what}; it looks like {self.looks_like}" if self.looks_like else what


@dataclass(frozen=True, eq=False, kw_only=True)
class Fit(Shown):
    """A paint fitted to swatches."""

    paint: Paint
    """With doubts."""
    coat_um: float
    """Dry film of one coat, of the paint thinned as most of the swatches were."""
    names: tuple[str, ...]
    """The swatches."""
    measured: FloatArray | None
    """Shape (m, 31). Their spectra, where spectra were measured."""
    fitted: FloatArray
    """Shape (m, 31). The spectra that the paint gives them."""
    measured_lab: FloatArray
    fitted_lab: FloatArray
    """Shape (m, 3). Their colours at D65, 2°."""
    delta_e: FloatArray
    """Shape (m,). Residuals, ΔE00."""
    kept: npt.NDArray[np.bool_]
    """Shape (m,). False for outliers."""
    film_factor: FloatArray
    """Shape (m,). How thick each film seems to have been, over what was meant."""
    outliers: tuple[Outlier, ...]
    verdict: Verdict
    suggestion: Suggestion | None
    """None where no swatch would help noticeably."""
    remedy: str
    """What else would help, as a sentence; empty where nothing is known to."""
    covariance: FloatArray
    """Shape (63, 63). Of ln K, ln S and the share of its first reflection; the paint's doubts are its
    leading part."""
    chi2: float
    """Sum of squared residuals in units of their errors, the prior's part counted in."""
    freedom: float
    """Observed values less those spent on unknowns; `chi2` is about as large in a good fit."""
    inflation: float
    """≥ 1. Factor on the covariance because `chi2` was larger, or all films lie over one ground."""
    steps: int
    """Of the solver."""
    notices: tuple[str, ...]
    """What a user should know besides."""
    hand: Estimate | None = None
    """How far films of this hand vary from swatch to swatch; None where nothing tells."""

    @property
    def odd_films(self) -> tuple[str, ...]:
        """Names of swatches whose film is far from what was said of it."""
        off = self.kept & far_off(self.film_factor)
        return tuple(name for name, far in zip(self.names, off, strict=False) if far)
