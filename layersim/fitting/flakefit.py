"""The least squares behind :mod:`layersim.fitting.metal`: what readings from several sides say of a paint.

Unknown are ln K of the binder at every wavelength, ln S alike at all, the flakes' ln tan(tilt), ln κ/(1 − κ)
and ln C of :mod:`layersim.optics.flakes`, and how far each film is from what was meant. With R the film's
reflectance from the side from which reading i was taken, W what makes its n numbers v of a spectrum, N their
noise, and x₀, P what is thought of any paint beforehand,

    minimise Σᵢ |Lᵢ⁻¹ (exp(eᵢ zᵢ) Wᵀ Rᵢ(x) − vᵢ)|² + zᵢ² + (x − x₀)ᵀ P (x − x₀),   Lᵢ Lᵢᵀ = Nᵢ         (O1)

e is what a whole reading may be lighter or darker: near the mirror a degree changes a metal by some per cent,
no two spots of it glitter alike, and the model is off. Were e part of N instead, by what was read, the fit
would come out too dark (R. W. Peelle's puzzle; from memory). With J the slopes of the first sum's terms, all
unknowns are left open by

    Σ = f Σ₀,   Σ₀ = (Jᵀ J + P)⁻¹,   f = max(1, χ²/(n r − trace J Σ₀ Jᵀ), Σ zᵢ²/Σ (1 − Σ₀ᵢᵢ))            (O2)

(least squares with a prior, which is 1 for z; f is R. T. Birge's ratio, Phys. Rev. 40 (1932) 207, of the
values and of the whole readings).
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.fitting.problem import Belief
from layersim.metals import refractive_index
from layersim.optics import cones, flakes, levels
from layersim.optics.flakes import Direction, FlakeSheet, Mirror
from layersim.spectra import BANDS, FloatArray

K, S, TILT, ROUGH, COVER = slice(0, BANDS), BANDS, BANDS + 1, BANDS + 2, BANDS + 3
PAINT: Final = BANDS + 4
"""How many unknowns are the paint's; those of the films follow."""
# What is thought of any metal paint, and how far it may be off in ln (assumptions; the starter paints lie
# within).
_TILT_DEG, _TILT_SPREAD = 9.0, 0.6
_ROUGH, _ROUGH_SPREAD = 0.15, 1.2
_COVER_OF_A_COAT, _COVER_SPREAD = 2.0, 0.8
_KX_OF_A_COAT, _SX_OF_A_COAT, _S_SPREAD = 0.1, 0.01, 1.0
# An opaque film, as its flakes cover it.
_OPAQUE: Final = 30.0
_STEP: Final = 1e-5
_HIGHEST_LOG: Final = 6.0
_MOST_STEPS: Final = 60
_SETTLED: Final = 1e-6
# Where a fit may begin: ln tilt, ln C and ln K from the middle.
_LATTICE: Final = np.array(list(itertools.product([-0.8, 0.0, 0.5], [-1.0, 0.0, 1.0], [-2.0, 0.0, 1.5, 3.0])))


@dataclass(frozen=True, eq=False, kw_only=True)
class MetalFilms:
    """Films of the paint."""

    film_um: FloatArray
    """(m,); ``inf`` where opaque."""
    error: FloatArray
    """One standard deviation of their ln thickness, (m,)."""
    over: FloatArray
    """Levels of their grounds, (m, 31, 5)."""
    sheen: float


@dataclass(frozen=True, eq=False, kw_only=True)
class FlakeReadings:
    """What was read of films, one a row."""

    film: npt.NDArray[np.intp]
    """Which film it is, (r,)."""
    at: Direction
    """From which side; its arrays are (r,)."""
    values: FloatArray
    """(r, n)."""
    covariance: FloatArray
    """Of their noise, (r, n, n)."""
    weights: FloatArray
    """What makes them of a spectrum, (r, 31, n)."""
    off: FloatArray
    """e of (O1), (r,)."""

    def of(self, spectra: FloatArray) -> FloatArray:
        """Return what would be read of spectra, (..., r, 31)."""
        return np.asarray((spectra[..., np.newaxis, :] @ self.weights)[..., 0, :])

    @functools.cached_property
    def whiten(self) -> FloatArray:
        """L⁻¹ of (O1), (r, n, n)."""
        return np.asarray(np.linalg.inv(np.linalg.cholesky(self.covariance)))


@dataclass(frozen=True, eq=False, kw_only=True)
class FlakeFit:
    """The most likely metal paint of some flakes."""

    metal: str
    unknowns: FloatArray
    covariance: FloatArray
    """Σ of (O2) for the paint's own unknowns, (35, 35)."""
    fitted: FloatArray
    """Spectra of the readings, (r, 31)."""
    cost: float
    """The sum of (O1), over f."""
    chi2: float
    freedom: float
    inflation: float

    @property
    def tilt_deg(self) -> float:
        """Standard deviation of the flakes' tilt."""
        return float(np.degrees(np.arctan(np.exp(self.unknowns[TILT]))))

    @property
    def rough(self) -> float:
        """Share that they strew evenly."""
        return float(_share(self.unknowns[ROUGH]))


def reflectances(
    x: FloatArray, *, metal: str, laid: MetalFilms, film: npt.NDArray[np.intp], at: Direction
) -> FloatArray:
    """Return what some paints reflect, (v, r, 31), by their unknowns, (v, p)."""
    v, m = len(x), len(laid.film_um)

    def rows(values: FloatArray) -> FloatArray:
        return np.repeat(values, m, axis=0)

    cover = np.exp(x[:, COVER])
    sheet = FlakeSheet(
        rows(cover),
        np.broadcast_to(flakes.in_cone(refractive_index(metal)), (v * m, BANDS)),
        rows(np.exp(2.0 * x[:, TILT])),
        rows(_share(x[:, ROUGH])),
    )
    coat = flakes.coating(
        K_per_um=rows(np.exp(np.minimum(x[:, K], _HIGHEST_LOG))),
        S_per_um=rows(np.repeat(np.exp(np.minimum(x[:, S, np.newaxis], _HIGHEST_LOG)), BANDS, axis=1)),
        sheet=sheet,
    )
    opaque = ~np.isfinite(laid.film_um)
    films = np.where(opaque, 0.0, laid.film_um) * np.exp(laid.error * x[:, PAINT : PAINT + m])
    films = np.where(opaque, _OPAQUE / cover[:, np.newaxis], films).reshape(-1, 1)
    level, mirror = flakes.lay(coat, film_um=films, over=np.tile(laid.over, (v, 1, 1)), mirror=None)
    assert mirror is not None, "there are flakes in it"

    def read(one: FloatArray) -> FloatArray:
        return one.reshape(v, m, BANDS)[:, film]

    z = cones.directions()
    even = read(levels.seen(level, sheen=0.0))
    more = flakes.seen_more(
        Mirror(read(mirror.share), read(mirror.variance), read(mirror.depth)),
        even=even,
        air=z,
        sheen=np.asarray(laid.sheen),
        at=Direction(*(one[..., np.newaxis] for one in (at.slope2, at.lean, at.weight, at.path))),
    )
    return even + laid.sheen * z.k1 + more


def fit_flakes(metal: str, laid: MetalFilms, readings: FlakeReadings, *, coat_um: float) -> FlakeFit:
    """Return the most likely paint with flakes of a metal, (O1) and (O2); `coat_um` is one unthinned coat."""
    from scipy.optimize import least_squares

    centre, root = _belief(coat_um, len(laid.film_um))
    p, (r, n) = len(centre), readings.values.shape

    def seen(x: FloatArray) -> FloatArray:
        return reflectances(x, metal=metal, laid=laid, film=readings.film, at=readings.at)

    def values_of(x: FloatArray) -> FloatArray:
        return readings.of(seen(x))

    def gain(x: FloatArray) -> FloatArray:
        return np.exp(readings.off * x[p:])[:, np.newaxis]

    def off(x: FloatArray) -> FloatArray:
        away = gain(x) * values_of(x[np.newaxis, :p])[0] - readings.values
        own = np.einsum("rij,rj->ri", readings.whiten, away)
        return np.concatenate([own.ravel(), x[p:], root @ (x[:p] - centre)])

    def slopes(x: FloatArray) -> FloatArray:
        J = np.zeros((r, n, p + r))
        J[:, :, :p] = np.swapaxes(readings.weights, 1, 2) @ slopes_of(seen, x[:p], readings.film)
        each = np.arange(r)
        J[each, :, p + each] = values_of(x[np.newaxis, :p])[0] * readings.off[:, np.newaxis]
        J = readings.whiten @ (gain(x)[:, :, np.newaxis] * J)
        return np.concatenate([J.reshape(-1, p + r), np.eye(p + r)[p:], np.pad(root, ((0, 0), (0, r)))])

    # There may be several valleys: downhill from the two best places of a lattice.
    grid = np.repeat(np.pad(centre, (0, r))[np.newaxis], len(_LATTICE), axis=0)
    grid[:, [TILT, COVER]] += _LATTICE[:, :2]
    grid[:, K] += _LATTICE[:, 2:]
    error = np.sqrt(np.diagonal(readings.covariance, axis1=1, axis2=2))
    error = np.hypot(error, readings.off[:, np.newaxis] * readings.values)
    apart = (((values_of(grid[:, :p]) - readings.values) / error) ** 2).sum(axis=(1, 2))
    found = min(
        (
            least_squares(off, grid[i], slopes, x_scale="jac", ftol=_SETTLED, max_nfev=_MOST_STEPS)
            for i in np.argsort(apart)[:2]
        ),
        key=lambda one: float(one.cost),
    )
    every = slopes(found.x)
    J = every[: r * n]
    open_ = np.asarray(np.linalg.inv(every.T @ every), dtype=np.float64)
    chi2 = float((off(found.x)[: r * n] ** 2).sum())
    freedom = r * n - float(np.einsum("ij,jk,ik->", J, open_, J))
    # Thousands of wavelengths that fit must not hide that whole readings do not.
    whole = float((found.x[p:] ** 2).sum() / (1.0 - np.diag(open_)[p:]).sum())
    inflation = max(1.0, chi2 / freedom, whole)
    return FlakeFit(
        metal=metal,
        unknowns=found.x[:p],
        covariance=inflation * open_[:PAINT, :PAINT],
        fitted=seen(found.x[np.newaxis, :p])[0],
        cost=2.0 * float(found.cost),
        chi2=chi2,
        freedom=freedom,
        inflation=inflation,
    )


def slopes_of(
    seen: Callable[[FloatArray], FloatArray], x: FloatArray, film: npt.NDArray[np.intp]
) -> FloatArray:
    """Return how spectra (r, 31), `seen` of some unknowns (v, p), change with those unknowns, (r, 31, p)."""
    # K of a wavelength acts on that one alone, and a film's error on that film.
    steps = np.zeros((3 + 4, len(x)))
    steps[1, K], steps[6, PAINT:] = _STEP, _STEP
    steps[range(2, 6), range(S, PAINT)] = _STEP
    base, by_K, *by_paint, by_film = seen(x + steps)
    J = np.zeros((*base.shape, len(x)))
    J[:, np.arange(BANDS), np.arange(BANDS)] = by_K - base
    J[:, :, S:PAINT] = np.moveaxis(np.array(by_paint) - base, 0, -1)
    J[np.arange(len(base)), :, PAINT + film] = by_film - base
    return J / _STEP


def _belief(coat_um: float, films: int) -> tuple[FloatArray, FloatArray]:
    """Return x₀ of (O1), and a root of P."""
    curve = Belief().precision()[K, K]
    centre, sizes = np.zeros(PAINT + films), np.ones(PAINT + films)
    centre[K] = np.log(_KX_OF_A_COAT / coat_um)
    centre[[S, TILT, ROUGH, COVER]] = (
        np.log(_SX_OF_A_COAT / coat_um),
        np.log(np.tan(np.radians(_TILT_DEG))),
        np.log(_ROUGH / (1.0 - _ROUGH)),
        np.log(_COVER_OF_A_COAT / coat_um),
    )
    sizes[[S, TILT, ROUGH, COVER]] = _S_SPREAD, _TILT_SPREAD, _ROUGH_SPREAD, _COVER_SPREAD
    root = np.diag(1.0 / sizes)
    root[K, K] = np.linalg.cholesky(curve).T
    return centre, root


def _share(logit: FloatArray) -> FloatArray:
    return np.asarray(1.0 / (1.0 + np.exp(-np.asarray(logit))))
