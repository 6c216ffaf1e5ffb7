"""From a covariance of ln K and ln S to a few doubts that a paint file can hold.

A covariance Σ = L Lᵀ of 62 numbers is a sum of 62 independent shifts, and any rotation of them
serves as well: L Q. Chosen are those in order of what they do to typical stacks, whose colours change
by G for a change of ln K and ln S: with G L = U s Vᵀ, the shifts are L V, and each explains s² of the
colours' variance (E1). A few explain nearly all, however wide Σ is where nothing can be seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import NINETY
from layersim.fitting.problem import Films
from layersim.fitting.two_constant import predict_with_slopes, rows_of
from layersim.optics import cones
from layersim.optics.surface import SHEENS
from layersim.paint import Doubt
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

MOST_DOUBTS: Final = 6
EXPLAINED: Final = 0.985
"""Share of the typical stacks' variance that the doubts must explain, if there is room."""

TYPICAL_COATS: Final = (0.5, 1.0, 2.0, 4.0)
TYPICAL_GROUNDS: Final = (0.02, 0.18, 0.70)
"""Reflectances as seen without gloss: a dark, a middle and a light tone of a preshade (convention)."""

BY_SURFACE: Final = "how much of their surface's reflection the readings hold"

_LIGHT: Final = ((450.0, "violet"), (495.0, "blue"), (570.0, "green"), (590.0, "yellow"), (620.0, "orange"))
"""Where each colour of light ends, nm, from violet on (customary limits, from memory); then red."""

WIDEST: Final = 3.0
"""A doubt's own shift of ln K or ln S is cut here: beyond it only says that nothing is known."""

FINISHES: Final = tuple(SHEENS)
"""What a paint may be varnished with, and so what its shadows may be seen under."""


@dataclass(frozen=True, eq=False)
class Typical:
    """Stacks a paint is likely to be used in, and how their colours depend on it."""

    films: Films
    change: FloatArray
    """Shape (stacks · 3, 63). Change of colour, about one ΔE00 each, by ln K, ln S and the paint's own
    sheen, as it dries."""
    under: dict[str, FloatArray]
    """Shape (stacks · 3, 62). The same by ln K and ln S under each varnish of :data:`FINISHES`."""

    def reach(self, covariance: FloatArray) -> float:
        """Return the colour difference that holds 90 % of outcomes, a root mean square over stacks."""
        return float(self.reach_of_variance(np.asarray(self.variance(covariance))))

    def reach_under(self, covariance: FloatArray) -> dict[str, float]:
        """Return the same under each varnish."""
        K_and_S = covariance[: 2 * BANDS, : 2 * BANDS]
        return {
            finish: float(self.reach_of_variance(np.einsum("ij,jk,ik->", change, K_and_S, change)))
            for finish, change in self.under.items()
        }

    def variance(self, covariance: FloatArray) -> float:
        """Return the variance of all stacks' colours together, for a covariance of ln K, ln S and sheen."""
        change = self.change[:, : len(covariance)]
        return float(np.einsum("ij,jk,ik->", change, covariance, change))

    def spread(self, covariance: FloatArray) -> FloatArray:
        """Return how far each stack's colour may be off: lightness, chroma and hue, shape (stacks, 3).

        One standard deviation of each, about one ΔE00 to the unit.
        """
        change = self.change[:, : len(covariance)]
        variance = np.einsum("ij,jk,ik->i", change, covariance, change)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)).reshape(-1, 3))

    def reach_of_variance(self, variance: FloatArray) -> FloatArray:
        """Return :meth:`reach` for what :meth:`variance` gives."""
        return np.asarray(NINETY * np.sqrt(np.maximum(variance, 0.0) / len(self.films.names)))


def films_over(
    *, thickness_um: FloatArray, reflectance: FloatArray, sheen: float = 0.0, film_error: float = 0.0
) -> Films:
    """Return films of the paint alone over measured grounds, with nothing else in doubt.

    `thickness_um`: shape (m,), µm. `reflectance`: shape (m, 31); of the grounds, as seen. `sheen`: of
    grounds and films. `film_error`: one standard deviation of ln thickness.
    """
    m = len(thickness_um)
    return Films(
        names=tuple(f"film {i + 1}" for i in range(m)),
        thickness_um=thickness_um,
        share=np.ones(m),
        known=np.zeros((2, m, BANDS)),
        ground=rows_of(cones.ground_from_seen(reflectance, sheen=sheen)),
        sheen=sheen,
        film_error=np.full(m, film_error),
        guessed_error=np.zeros(m),
        ground_noise=np.zeros((3, m, BANDS)),
    )


def typical_stacks(log_K: FloatArray, log_S: FloatArray, *, coat_um: float, sheen: float) -> Typical:
    """Return half a coat to four coats of a paint over dark, middle and light grounds.

    `log_K`, `log_S`: shape (31,). `coat_um`: µm; dry film of one coat. `sheen`: of the dry paint.
    """
    X, R = np.meshgrid(coat_um * np.array(TYPICAL_COATS), TYPICAL_GROUNDS)
    films = films_over(thickness_um=X.ravel(), reflectance=np.repeat(R.ravel()[:, np.newaxis], BANDS, axis=1))
    unknowns = np.concatenate([log_K, log_S, np.zeros(len(films.names))])
    reflectance, slopes, _ = predict_with_slopes(films, unknowns)
    k1 = cones.directions().k1
    by_paint = slopes[..., : 2 * BANDS]
    by_sheen = np.full((*reflectance.shape, 1), k1)
    return Typical(
        films,
        colour_change(reflectance + sheen * k1, np.concatenate([by_paint, by_sheen], axis=-1)),
        {finish: colour_change(reflectance + SHEENS[finish] * k1, by_paint) for finish in FINISHES},
    )


def colour_change(reflectance: FloatArray, slopes: FloatArray) -> FloatArray:
    """Return how colours change where reflectances change, in units of about one ΔE00.

    CIE94's weights of chroma (CIE 116) stand for those of ΔE00, hue counted as chroma.

    `reflectance`: shape (m, 31). `slopes`: shape (m, 31, p). Returns shape (3m, p).
    """
    view = colour.Viewing()
    step = 1e-6
    there = colour.lab(reflectance, view)[:, np.newaxis]
    moved = colour.lab(reflectance[:, np.newaxis] + step * np.swapaxes(slopes, 1, 2), view)
    change = (moved - there) / step
    chroma = np.hypot(there[..., 1], there[..., 2])
    scale = np.stack([np.ones_like(chroma), 1.0 + 0.045 * chroma, 1.0 + 0.045 * chroma], axis=-1)
    return np.asarray(np.swapaxes(change / scale, 1, 2).reshape(-1, slopes.shape[-1]))


def surface_doubt(by_surface: FloatArray, *, sheen: float, first_reflection: float) -> Doubt:
    """Return the doubt about the share of the first reflection in the readings.

    `by_surface`: shape (62,); what one standard deviation of it does to ln K and ln S. `sheen`,
    `first_reflection`: what it does to the dry paint's own.
    """
    shift = np.clip(by_surface, -WIDEST, WIDEST)
    own, first = (float(np.clip(value, -1.0, 1.0)) for value in (sheen, first_reflection))
    return Doubt(
        BY_SURFACE, shift[:BANDS], shift[BANDS:], sheen=own, first_reflection=first, by_swatches=True
    )


def moved_by(doubt: Doubt, *, sheen: float) -> FloatArray:
    """Return what one standard deviation of a doubt moves: ln K, ln S and what is seen of the surface, (63,).

    The last is the share of a usual first reflection that a dry paint of this sheen shows.
    """
    return np.concatenate([doubt.log_K, doubt.log_S, [doubt.sheen + sheen * doubt.first_reflection]])


def joint_covariance(covariance: FloatArray, surface: Doubt, *, sheen: float) -> FloatArray:
    """Return the covariance of ln K, ln S and the share of the dry paint's first reflection, shape (63, 63).

    Given is that of ln K and ln S with the surface taken as known, and the doubt about the surface.
    """
    along = moved_by(surface, sheen=sheen)
    return np.pad(covariance, (0, 1)) + np.outer(along, along)


def doubts_from(covariance: FloatArray, typical: Typical, *, coats_only: bool) -> tuple[Doubt, ...]:
    """Return the leading shifts of (E1), each with its cause in words.

    `covariance`: shape (62, 62); of ln K and ln S. `coats_only`: whether the swatches' films were
    counted in coats, not measured.
    """
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    # Under every varnish: a doubt that shows under one of them alone matters, too.
    changes = np.concatenate(list(typical.under.values()))
    _, s, Vt = np.linalg.svd(changes @ root, full_matrices=False)
    total = float((s**2).sum())
    if total == 0.0:
        return ()
    needed = int(np.searchsorted(np.cumsum(s**2) / total, EXPLAINED)) + 1
    shifts = np.clip(root @ Vt[: min(needed, MOST_DOUBTS)].T, -WIDEST, WIDEST).T
    found, causes = [], set()
    for shift in shifts:
        cause = _cause(shift, typical, coats_only=coats_only)
        while cause in causes:
            cause += ", another way"
        causes.add(cause)
        found.append(Doubt(cause=cause, log_K=shift[:BANDS], log_S=shift[BANDS:], by_swatches=True))
    return tuple(found)


def _cause(shift: FloatArray, typical: Typical, *, coats_only: bool) -> str:
    """Return what is in doubt: which constant does the most to the colours, and where."""
    by_K = typical.change[:, :BANDS] * shift[:BANDS]
    by_S = typical.change[:, BANDS : 2 * BANDS] * shift[BANDS:]
    weight_K, weight_S = (float((by.sum(axis=1) ** 2).sum()) for by in (by_K, by_S))
    both = min(weight_K, weight_S) > 0.2 * max(weight_K, weight_S)
    together = float(shift[:BANDS].mean() * shift[BANDS:].mean()) > 0.0
    if both:
        where = np.abs(by_K).sum(axis=0) + np.abs(by_S).sum(axis=0)
        what = "absorption and scattering" if together else "absorption against scattering"
    elif weight_K > weight_S:
        where, what = np.abs(by_K).sum(axis=0), "absorption"
    else:
        where, what = np.abs(by_S).sum(axis=0), "scattering"
    even = float(np.std(shift)) < 0.35 * abs(float(np.mean(shift)))
    if both and together and even:
        films = "counted in coats" if coats_only else "as measured"
        return f"how thick their films were ({films})"
    share = np.cumsum(where) / where.sum()
    nm = wavelengths_nm()
    low, high = (float(nm[int(np.searchsorted(share, tail))]) for tail in (0.15, 0.85))
    if high - low >= 190.0:
        return f"{what} at all wavelengths"
    ends = list(dict.fromkeys(_light(at) for at in (low, high)))
    return f"{what} of {' to '.join(ends)} light ({low:.0f}-{high:.0f} nm)"


def _light(nm: float) -> str:
    return next((word for end, word in _LIGHT if nm < end), "red")
