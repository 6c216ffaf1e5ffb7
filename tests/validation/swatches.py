"""What a painter's own swatches give: K and S fitted to one paint over black and over white."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.measure.swatch import SwatchSet
from layersim.spectra import BANDS, FloatArray
from tests.judge import radiative_transfer as judge
from tests.validation.models import Constants, Model
from tests.validation.stacks import PIGMENTS

COAT_UM: Final = 2.0
COATS: Final = (1, 2, 4)
_START_DEPTH: Final = 0.2
_STARTS: Final = (0.02, _START_DEPTH, 2.0)


@dataclass(frozen=True, eq=False)
class Card:
    """One paint over a card's two bands."""

    bare: FloatArray
    """Shape (2, 31). Black band and white band without paint, sphere, specular excluded."""
    painted: FloatArray
    """Shape (2, 3, 31). The same under one, two and four coats."""


@functools.cache
def card(name: str) -> Card:
    """Return a paint's card by radiative transfer; its bands are opaque black and opaque white paint."""
    films = tuple(COAT_UM * n for n in COATS)
    grounds = [judge.opaque(PIGMENTS[band]) for band in ("carbon black", "titanium white")]
    return Card(
        bare=np.stack([judge.render([], ground=ground) for ground in grounds]),
        painted=np.stack([judge.render([judge.Film(PIGMENTS[name], films)], ground=g) for g in grounds]),
    )


def card_by(model: Model, constants: Constants, bare: FloatArray) -> FloatArray:
    """Return what a model says of a card, shape (2, 3, 31)."""
    X = COAT_UM * np.array(COATS, dtype=np.float64)[:, np.newaxis]
    return np.stack([model.seen(model.lay(*constants, X, model.ground(band)), 0.0) for band in bare])


def fitted(model: Model, name: str) -> Constants:
    """Return K and S with which a model comes nearest to a card."""
    measured = card(name)
    each = len(COATS)
    return nearest(
        model,
        bare=np.repeat(measured.bare, each, axis=0),
        thickness_um=COAT_UM * np.tile(np.array(COATS, dtype=np.float64), len(measured.bare)),
        painted=measured.painted.reshape(-1, BANDS),
    )


def nearest(
    model: Model,
    *,
    bare: FloatArray,
    thickness_um: FloatArray,
    painted: FloatArray,
    start_depth: float = _START_DEPTH,
) -> Constants:
    """Return K and S with which a model comes nearest to swatches, each wavelength by itself.

    Least squares of differences of ∛R, which is even to the eye, over ln K and ln S.

    `bare`, `painted`: shape (m, 31); what lies below each swatch, and the swatch, without a surface.
    `thickness_um`: shape (m,), µm. `start_depth`: K and S times the median film where the search
    begins.
    """
    from scipy.optimize import least_squares
    from scipy.sparse import kron

    wanted = np.cbrt(painted)
    X, below = thickness_um[:, np.newaxis], model.ground(bare)

    def misses(logs: FloatArray) -> FloatArray:
        K, S = np.exp(logs).reshape(2, BANDS)
        return np.asarray((np.cbrt(model.seen(model.lay(K, S, X, below), 0.0)) - wanted).ravel())

    found = least_squares(
        misses,
        np.full(2 * BANDS, np.log(start_depth / np.median(thickness_um))),
        bounds=(np.log(1e-7), np.log(20.0)),
        # A wavelength's swatches hang on its own two constants alone.
        jac_sparsity=kron(np.ones((len(painted), 2)), np.eye(BANDS)),
        x_scale=1.0,
        max_nfev=300,
    )
    K, S = np.exp(found.x).reshape(2, BANDS)
    return K, S


def nearest_to(model: Model, swatches: SwatchSet) -> Constants:
    """Return K and S with which a model comes nearest to a set of swatches read without a surface.

    Swatches over one ground leave several pairs that are nearest among their like, so the search begins
    at thin, middling and thick films, and every band keeps the best.
    """
    each = swatches.swatches
    grounds = {ground.name: ground.reflectance for ground in swatches.grounds}
    bare = np.array([grounds[str(swatch.ground)] for swatch in each])
    coat_um = swatches.wet_film_um * swatches.volume_solids
    X = np.array([coat_um * float(swatch.coats or 0.0) for swatch in each])
    painted = np.array([swatch.reflectance for swatch in each])
    K, S, misses = (np.empty((len(_STARTS), BANDS)) for _ in range(3))
    for i, depth in enumerate(_STARTS):
        K[i], S[i] = nearest(model, bare=bare, thickness_um=X, painted=painted, start_depth=depth)
        seen = model.seen(model.lay(K[i], S[i], X[:, np.newaxis], model.ground(bare)), 0.0)
        misses[i] = ((np.cbrt(seen) - np.cbrt(painted)) ** 2).sum(axis=0)
    best = misses.argmin(axis=0)
    return K[best, range(BANDS)], S[best, range(BANDS)]
