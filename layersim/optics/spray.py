"""A sprayed coat is not even: its film differs from site to site.

Droplets land at random. If each dries to a spot that adds h to the film where it lies, and the
mean film is X, the number of spots over a site is Poisson with mean X / h, so the film there has

    mean X,   relative spread (standard deviation ÷ mean)  s = √(h / X)                   (P1)

(the shot noise, or Poisson coverage, model: D. J. Daley and D. Vere-Jones, An Introduction to the
Theory of Point Processes, ch. 2; wet spots run together and level, which acts as a smaller h).
Sums of such counts are such counts again: n coats of spread s each have together

    s_n = s / √n                                                                          (P2)

so many mist coats even out, and where a coat thins out to a share e of its film, as at its edge and
in the shadow of a preshade, it has

    s_e = s / √e                                                                          (P3)

and leaves the part exp(−1/s_e²) of the place bare. What the eye sees is the mean of the sites'
reflectances, not the reflectance of their mean. For a clear ink of absorption K the mean transmittance
is known:

    ⟨exp(−KX)⟩ = exp(−(1 − exp(−s²K⟨X⟩)) / s²)                                            (P4)

(the Poisson distribution's generating function), which is more than exp(−K⟨X⟩): an uneven glaze looks
weaker than an even one that used as much paint.

A droplet of diameter d as it lands, of which the share v is left when it is dry, and which spreads to
a spot β times as wide, leaves

    h = ⅔ v d / β²                                                                        (P5)

(its volume over the spot's area).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray

SPOT_WIDTH: Final = 1.5
"""How many times as wide as a droplet its spot is: droplets at low speed on what they wet (an assumption)."""
_COUNTED_FROM: Final = 0.04
"""Relative spread from which spots are counted one by one: 625 of them on a site."""
_ALL_ON_ONE_SITE: Final = 3.0
"""Spreads beyond this times √sites put all spots on one site, to rounding of no account."""


def spread_of_spots(*, spot_um: npt.ArrayLike, film_um: float) -> FloatArray:
    """Return the relative spread of a film built from spots that land at random, equation (P1).

    A spot is the dry film that one droplet leaves where it lies; the film is the mean dry film of the coat.

    Raises ValueError if the film is not above zero, or a number is not finite.

    >>> float(spread_of_spots(spot_um=0.1, film_um=2.5).round(6))
    0.2
    """
    spot = np.asarray(spot_um, dtype=np.float64)
    if not (0.0 < film_um < math.inf and (spot >= 0.0).all() and np.isfinite(spot).all()):
        raise ValueError("a film above zero and a spot of zero or more are needed")
    return np.asarray(np.sqrt(spot / film_um))


def spread_of_coats(*, spread: float, coats: float) -> float:
    """Return the relative spread of several coats together, equation (P2).

    `spread` is that of one coat.

    Raises ValueError if there is no coat or the spread is negative.

    >>> spread_of_coats(spread=0.4, coats=4)
    0.2
    """
    if not (spread >= 0.0 and coats > 0.0):
        raise ValueError("a spread of zero or more and coats above zero are needed")
    return spread / math.sqrt(coats)


def spot_of_droplet(*, droplet_um: float, volume_solids: float) -> float:
    """Return the dry film of the spot that a droplet leaves, equation (P5).

    The droplet's diameter is that as it lands; volume solids, 0..1, are those of the paint as sprayed,
    thinner included.

    >>> round(spot_of_droplet(droplet_um=10.0, volume_solids=0.0675), 6)
    0.2
    """
    return 2.0 * volume_solids * droplet_um / (3.0 * SPOT_WIDTH**2)


def spread_where_thin(*, spread: npt.ArrayLike, share: npt.ArrayLike) -> FloatArray:
    """Return the relative spread of a coat where a share of its film lies, equation (P3).

    `spread` is that of the full film. Returns ``inf`` where nothing lies, unless the film has no spread at
    all.

    >>> spread_where_thin(spread=0.2, share=[1.0, 0.25, 0.0])
    array([0.2, 0.4, inf])
    """
    s, e = np.broadcast_arrays(np.asarray(spread, np.float64), np.asarray(share, np.float64))
    thin = np.full(s.shape, np.inf)
    np.divide(s, np.sqrt(e), out=thin, where=e > 0.0)
    return np.asarray(np.where(s > 0.0, thin, 0.0))


def site_films(*, spread: npt.ArrayLike, sites: int) -> FloatArray:
    """Return films at sites that stand for equal areas, as multiples of the mean film.

    The Poisson distribution of the spots is cut into slices of equal probability and each stands for
    its own mean, so the mean over the sites is 1 to rounding. Slices hide what varies within them: 8
    sites keep 93 to 98 % of a spread up to 1/2, 64 more than 99 %. Spots so rare that they cover less
    than one site all lie on the last.

    Sites stand on the last axis, rising. A spread of 0 gives ones exactly; ``inf`` is a film that is nowhere.

    Raises ValueError if a spread is negative or not a number, or there is no site.

    >>> site_films(spread=0.0, sites=3)
    array([1., 1., 1.])
    >>> float(site_films(spread=0.3, sites=8).mean().round(12))
    1.0
    >>> site_films(spread=100.0, sites=4)
    array([0., 0., 0., 4.])
    """
    s = np.asarray(spread, dtype=np.float64)
    if s.size and not s.min() >= 0.0:
        raise ValueError("spread must be zero or more")
    if sites < 1:
        raise ValueError("at least one site is needed")
    # Below a few per cent spots are too many to count, and all that matters of them is their spread.
    counted = np.clip(s, _COUNTED_FROM, _ALL_ON_ONE_SITE * math.sqrt(sites))
    slices = _poisson_slices(1.0 / counted.reshape(-1) ** 2, sites).reshape(*s.shape, sites)
    small = np.minimum(s / _COUNTED_FROM, 1.0)[..., np.newaxis]
    return np.asarray(1.0 + small * (slices - 1.0))


def _poisson_slices(mean: FloatArray, sites: int) -> FloatArray:
    """Return the mean of each slice of equal probability of Poisson counts, over the mean, (n, sites)."""
    # A count further out than this has a probability below rounding.
    most = int(np.ceil(mean.max() + 12.0 * math.sqrt(mean.max()) + 20.0)) if mean.size else 1
    count = np.arange(1.0, most + 1.0)
    log_odds = np.cumsum(np.log(mean[:, np.newaxis]) - np.log(count), axis=1)
    log_odds = np.concatenate([np.zeros((len(mean), 1)), log_odds], axis=1)
    odds = np.exp(log_odds - log_odds.max(axis=1, keepdims=True))
    below = np.cumsum(odds, axis=1)
    below /= below[:, -1:]
    # Σ k p(k) up to n is the mean times Σ p(k) up to n − 1.
    upto = np.concatenate([np.zeros((len(mean), 1)), below], axis=1)
    moment = np.concatenate([np.zeros((len(mean), 1)), upto[:, :-1]], axis=1)
    cuts = np.linspace(0.0, 1.0, sites + 1)[1:-1]
    # The two are straight from count to count, so interpolating between them is exact.
    last = np.argmax(upto[:, :, np.newaxis] >= cuts, axis=1)
    rows = np.arange(len(mean))[:, np.newaxis]
    x0, x1, y0, y1 = upto[rows, last - 1], upto[rows, last], moment[rows, last - 1], moment[rows, last]
    inner = y0 + (y1 - y0) * (cuts - x0) / (x1 - x0)
    ends = np.zeros((len(mean), 1)), np.ones((len(mean), 1))
    slices = np.diff(np.concatenate([ends[0], inner, ends[1]], axis=1), axis=1) * sites
    return np.asarray(slices / slices.mean(axis=1, keepdims=True))


def independent_orders(*, coats: int, sites: int, seed: int = 0) -> npt.NDArray[np.intp]:
    """Return which slice of each coat's film lies on which site, each coat shuffled on its own.

    A Latin hypercube (M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21 (1979) 239):
    every coat keeps its exact distribution over the sites, and no coat knows of another.

    Shape (coats, sites), to pick by from the last axis of :func:`site_films`.

    >>> independent_orders(coats=2, sites=4).shape
    (2, 4)
    """
    shuffle = np.random.default_rng(seed)
    return np.array([shuffle.permutation(sites) for _ in range(coats)], dtype=np.intp).reshape(coats, sites)
