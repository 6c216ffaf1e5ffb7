"""What is fitted: films over grounds, how they were looked at, and everything that is not known exactly.

A fit goes one way only,

    ln K, ln S, nuisances  →  reflectance of every swatch (m, 31)  →  what was observed (m, n)

and the last arrow is an :class:`Observation`: the spectrum itself here (n = 31), three numbers of each
photograph of a card (n = 3 or 6). Nothing else in this room knows which of them it was.

*Nuisances* are what is not known exactly about the swatches and is not the paint: how far each
film is off what was meant, and each :class:`~layersim.paint.Doubt` of a paint that is taken as
known (in a tint, or as primer). All are standard normal deviates, fitted along with K and S, so
that they can neither be read as K and S nor be forgotten in the covariance.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
import numpy.typing as npt

from layersim.spectra import BANDS, FloatArray, wavelengths_nm

KX_OF_A_COAT: Final = 0.4
SX_OF_A_COAT: Final = 0.12
"""A plain paint's coat: four micrometres of 0.1 and 0.03 per µm."""
USUAL_MISFIT: Final = 0.35
"""ΔE00 with which swatches are met, beyond noise, where all that the model takes for true is true."""
MISFIT_DOUBLES: Final = 0.13
"""ΔE00 of misfit beyond it that adds as much again (set on measured stacks of films and watercolours)."""
MODEL_BENDS_NM: Final = 80.0
"""Half of what the model leaves open is alike at all wavelengths, the other half over so many."""
LIGHTNESS_OFFSET: Final = 0.004
"""Where ∛(R + offset) stops following lightness: darker bands are drowned by the surface anyway."""


@dataclass(frozen=True, eq=False)
class Nuisance:
    """One uncertain thing besides the paint and each film: what one standard deviation of it does."""

    name: str
    known: FloatArray
    """Shift of ln K and ln S of what known paints bring in, shape (2, m, 31)."""
    ground: FloatArray
    """Shift of the grounds' admittances, shape (3, m, 31)."""
    seen: FloatArray
    """Shift of :attr:`Films.sheen`, shape (m,)."""
    considered: bool = False
    """True where it is not fitted: its doubt alone counts."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Films:
    """The swatches as films over grounds, as far as the sprayer knows them.

    Admittances are arrays whose first axis is cone, cross and trapped.
    """

    names: tuple[str, ...]
    thickness_um: FloatArray
    """Nominal dry film, ``inf`` where opaque, shape (m,)."""
    share: FloatArray
    """Share of the dry film that is the paint to be fitted, shape (m,)."""
    known: FloatArray
    """K and S that the known paints of a tint bring in, their shares included, 1/µm, shape (2, m, 31)."""
    ground: FloatArray
    """Admittance of what lies below each film, shape (3, m, 31)."""
    sheen: float
    """Share of the surfaces' first reflection that was seen."""
    film_error: FloatArray
    """One standard deviation of each film's ln thickness; 0 where it does not matter."""
    guessed_error: FloatArray
    """What `film_error` was taken to be beforehand, where the swatches may put it right; 0 elsewhere."""
    guess_weight: float = 0.0
    """How many swatches would say as much about it."""
    guessed_hand: float = 0.0
    """`guessed_error` of a coat or more."""
    ground_noise: FloatArray
    """What one standard deviation of the ground's own measurement does to `ground`, band by band."""
    nuisances: tuple[Nuisance, ...] = ()

    @functools.cached_property
    def known_shift(self) -> FloatArray:
        """What all nuisances do to known paints, shape (q, 2, m, 31)."""
        return np.array([n.known for n in self.nuisances]).reshape(-1, *self.known.shape)

    @functools.cached_property
    def ground_shift(self) -> FloatArray:
        """What they do to grounds, shape (q, 3, m, 31)."""
        return np.array([n.ground for n in self.nuisances]).reshape(-1, *self.ground.shape)

    @functools.cached_property
    def seen_shift(self) -> FloatArray:
        """What they do to the share seen of the first reflection, shape (q, m)."""
        return np.array([n.seen for n in self.nuisances]).reshape(-1, len(self.names))

    @functools.cached_property
    def considered(self) -> npt.NDArray[np.bool_]:
        """Which of them are not fitted, shape (q,)."""
        return np.array([n.considered for n in self.nuisances], dtype=np.bool_)

    @property
    def unknowns(self) -> int:
        """Number of unknowns: ln K, ln S, a film error a swatch, the nuisances."""
        return 2 * BANDS + len(self.names) + len(self.nuisances)

    def film_factor(self, unknowns: FloatArray) -> FloatArray:
        """Return how thick each film is by some unknowns, over what was meant, shape (m,)."""
        own = slice(2 * BANDS, 2 * BANDS + len(self.names))
        return np.asarray(np.exp(self.film_error * unknowns[own]))


class Observation(Protocol):
    """How reflectances were looked at."""

    def observe(self, reflectance: FloatArray) -> FloatArray:
        """Return what would be observed, (..., m, n), of reflectances (..., m, 31)."""
        ...  # pragma: no cover - a protocol's body never runs

    def slopes(self, reflectance: FloatArray) -> FloatArray:
        """Return the derivative of :meth:`observe`, shape (m, n, 31), at reflectances (m, 31)."""
        ...  # pragma: no cover


class Spectra:
    """The observation of a spectrophotometer: the reflectance itself."""

    def observe(self, reflectance: FloatArray) -> FloatArray:
        """Return the reflectances as they are."""
        return reflectance

    def slopes(self, reflectance: FloatArray) -> FloatArray:
        """Return a unit matrix a swatch."""
        return np.broadcast_to(np.eye(BANDS), (len(reflectance), BANDS, BANDS))


@dataclass(frozen=True, eq=False, kw_only=True)
class FitProblem:
    """Swatches, what was observed on them, and what is thought beforehand."""

    films: Films
    observation: Observation
    observed: FloatArray
    noise: FloatArray
    """Shape (m, n). What was observed and its standard deviation."""
    belief: Belief
    shared: FloatArray | None = None
    """Shape (r, m, n). Errors that readings have in common (a camera's calibration): what one standard
    deviation of each adds to what is observed. None by default."""
    surface_scatter: float = 0.0
    """How far the share of the first reflection differs from swatch to swatch, one standard deviation."""
    model_scale: float = 1.0
    """The model's error over what `belief` says of it."""
    told: npt.NDArray[np.bool_] | None = None
    """Shape (m, n). False for values that were not seen and only stand in their place. All were by
    default."""

    @property
    def unknowns(self) -> int:
        """Number of unknowns: those of the films, then one for every shared error."""
        return self.films.unknowns + (0 if self.shared is None else len(self.shared))


@dataclass(frozen=True, kw_only=True)
class Belief:
    """What is thought of any paint, and of the model, before a swatch is looked at.

    All of it is weak beside measured spectra; where the swatches say nothing (scattering of a black)
    it keeps the answer sensible, and the covariance says that it was only a belief. The numbers were
    set on tuning pigments of a radiative-transfer judge (docs/validation.md).
    """

    K_per_um: float = 0.1
    S_per_um: float = 0.03
    """1/µm. A plain paint."""
    spread_K: float = 2.5
    spread_S: float = 2.0
    """How far ln K and ln S of a paint may lie from it, one standard deviation."""
    bend_K: float = 0.4
    bend_S: float = 0.12
    """Second difference of ln K and ln S from band to band, one standard deviation: edges of absorption
    are steep; scattering is smooth but for its own step across such an edge."""
    model_error: float = 0.006
    """How far the two-cone model is off, one standard deviation in ∛R: 0.001 is about 0.1 L*."""
    model_error_nm: float = 40.0
    """Over how many nanometres that error is one and the same."""
    model_K: float = 0.010
    model_S: float = 0.016
    """How far the K and S that suit one stack are from those that suit another, relative: no swatch can
    tell it, and it is added to the covariance."""

    @classmethod
    def of_coats(cls, coat_um: float) -> Belief:
        """Return the belief about a paint whose unthinned coat leaves so much: coats look alike."""
        return cls(K_per_um=KX_OF_A_COAT / coat_um, S_per_um=SX_OF_A_COAT / coat_um)

    def centre(self) -> FloatArray:
        """Return ln K and ln S of the plain paint, shape (62,)."""
        return np.repeat(np.log([self.K_per_um, self.S_per_um]), BANDS)

    def precision(self) -> FloatArray:
        """Return the inverse covariance of ln K and ln S around :meth:`centre`, shape (62, 62)."""
        # Spread over all bands, so that it is the level of a whole curve that has this spread.
        bend = np.diff(np.eye(BANDS), 2, axis=0)
        K, S = (
            np.eye(BANDS) / (BANDS * spread**2) + bend.T @ bend / curve**2
            for spread, curve in ((self.spread_K, self.bend_K), (self.spread_S, self.bend_S))
        )
        none = np.zeros((BANDS, BANDS))
        return np.block([[K, none], [none, S]])

    def model_covariance(self, misfit: float = 0.0) -> FloatArray:
        """Return what the model itself leaves open about ln K and ln S, shape (62, 62).

        `misfit`: how far off the swatches are met, a root mean square of ΔE00 beyond the noise of their
        readings: stacks will be met no better.
        """
        nm = wavelengths_nm()
        bent = np.exp(-0.5 * ((nm[:, np.newaxis] - nm) / MODEL_BENDS_NM) ** 2)
        alike = 0.5 + 0.5 * bent
        more = 1.0 + max(0.0, misfit**2 - USUAL_MISFIT**2) / MISFIT_DOUBLES**2
        none = np.zeros((BANDS, BANDS))
        return more * np.block([[self.model_K**2 * alike, none], [none, self.model_S**2 * alike]])
