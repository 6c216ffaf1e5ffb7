"""Bare grounds on a photographed card: what spectra a ground's colour leaves it, its bare patches as films.

A few numbers do not tell a ground's spectrum. It is the smoothest that has its colour: with r its level,
B what else a ground may be (a level, smooth bends, the edges in violet and blue that whites have; one
standard deviation a row), W the weights that make numbers t with errors N, and σ k₁ its surface,

    R = σ k₁ + r + P W (Wᵀ P W + N)⁻¹ (t − Wᵀ (σ k₁ + r)),   P = Bᵀ B + r²                 (X3)

and the rows of B are nuisances of the fit. Bare patches count like any other, as films of no thickness.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from layersim.fitting.films import Below, measured_ground
from layersim.fitting.problem import Films
from layersim.optics import cones
from layersim.optics.cones import Admittance
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

# Smooth bends of a ground's spectrum: how many, and how far a bend reaches (assumptions).
_BENDS: Final = 4
_BEND_NM: Final = 80.0


def ground_of_colour(
    values: FloatArray, covariance: FloatArray, weights: FloatArray, *, sheen: float
) -> tuple[Below, FloatArray]:
    """Return the smoothest ground of a colour, and what else it might be, (X3).

    `values` has shape (n,): of the bare ground, as :attr:`layersim.fitting.colours.Seen.values`.
    `covariance` has shape (n, n): of its error. `weights` has shape (31, n). `sheen`: share of its
    surface's first reflection that was seen. The answer's `ground`: without noise of its own. The
    answer's `modes` has shape (k, 31): of its reflectance, one standard deviation each.
    """
    surface = sheen * cones.directions().k1
    level = float(max(values[1] - surface, 1e-3))
    modes = ground_modes(level)
    prior = modes.T @ modes + level**2
    off = values - (surface + level) * weights.sum(axis=0)
    gain = prior @ weights @ np.linalg.inv(weights.T @ prior @ weights + covariance)
    # Lighter than its surface alone, and no lighter than whites are (an assumption).
    R = np.clip(surface + level + gain @ off, surface + 2e-4, 0.97)
    return measured_ground(R, np.full(BANDS, 1e-9), sheen=sheen), modes


def ground_modes(level: float) -> FloatArray:
    """Return how grounds of a lightness may differ, one standard deviation each, shape (7, 31).

    All sizes are assumptions: primers are greys of many makes.

    `level`: reflectance.
    """
    nm = wavelengths_nm()
    # Shares of the level, and a little more, so that a black is not known exactly either.
    size = 0.06 * level + 0.002
    variances, directions = np.linalg.eigh(np.exp(-0.5 * ((nm[:, np.newaxis] - nm) / _BEND_NM) ** 2))
    bends = size * (directions[:, ::-1] * np.sqrt(np.maximum(variances[::-1], 0.0)))[:, :_BENDS].T
    even = np.full((1, BANDS), 0.15 * level + 0.003)
    # Whites absorb in the violet (rutile does below 410 nm); yellowed and buff ones into the blue, as one
    # pigment showed (docs/validation.md).
    violet, warm = (
        share * level / (1.0 + np.exp((nm - at) / width))
        for share, at, width in ((0.25, 412.0, 8.0), (0.12, 450.0, 20.0))
    )
    return np.concatenate([even, bends, violet[np.newaxis], warm[np.newaxis]])


def with_bare_grounds(
    films: Films,
    *,
    over: Sequence[str | None],
    bare: Sequence[tuple[str, str]],
    grounds: Mapping[str, Below],
    modes: Mapping[str, FloatArray],
    sheens: Mapping[str, float],
) -> Films:
    """Return films with the bare patches as further ones, and with the grounds' own nuisances.

    `films`: of the swatches. `over`: the ground of each. `bare`: name and ground of each bare patch.
    `modes`: of those grounds that were photographed. `sheens`: of those grounds' surfaces, bare. The
    answer: swatches first, then bare patches.
    """
    b = len(bare)
    m = len(films.names) + b
    none = np.zeros((b, BANDS))

    def longer(given: Admittance, added: Sequence[Admittance]) -> Admittance:
        extra = [np.stack([getattr(a, part) for a in added]) for part in ("cone", "cross", "trapped")]
        return (
            Admittance(
                *(
                    np.concatenate([getattr(given, part), more])
                    for part, more in zip(("cone", "cross", "trapped"), extra, strict=True)
                )
            )
            if b
            else given
        )

    under = [*over, *(ground for _, ground in bare)]
    names, shifts = list(films.nuisances), []
    for ground, own in modes.items():
        for i, shift in enumerate(own):
            moved = np.zeros((3, m, BANDS))
            moved[:, [place == ground for place in under]] = _moved(
                grounds[ground], shift, sheen=sheens[ground]
            )[:, np.newaxis]
            names.append(f"{ground}: spectrum {i + 1}")
            shifts.append(moved)
    q = len(films.nuisances)
    old_shift = np.concatenate([films.ground_shift, np.zeros((q, 3, b, BANDS))], axis=2)
    log_K, log_S = (
        np.concatenate(
            [np.concatenate([part, np.zeros((q, b, BANDS))], axis=1), np.zeros((len(shifts), m, BANDS))]
        )
        for part in (films.known_log_K, films.known_log_S)
    )
    return dataclasses.replace(
        films,
        names=(*films.names, *(name for name, _ in bare)),
        thickness_um=np.concatenate([films.thickness_um, np.zeros(b)]),
        share=np.concatenate([films.share, np.ones(b)]),
        known_K=np.concatenate([films.known_K, none]),
        known_S=np.concatenate([films.known_S, none]),
        ground=longer(films.ground, [grounds[ground].admittance for _, ground in bare]),
        film_error=np.concatenate([films.film_error, np.zeros(b)]),
        guessed_error=np.concatenate([films.guessed_error, np.zeros(b)]),
        ground_noise=longer(films.ground_noise, [Admittance(none[0], none[0], none[0])] * b),
        nuisances=tuple(names),
        known_log_K=log_K,
        known_log_S=log_S,
        ground_shift=np.concatenate([old_shift, np.stack(shifts)]) if shifts else old_shift,
        seen_shift=np.pad(films.seen_shift, ((0, len(shifts)), (0, b))),
        considered=np.pad(films.considered, (0, len(shifts))),
    )


def _moved(ground: Below, shift: FloatArray, *, sheen: float) -> FloatArray:
    """Return the change of a ground's admittance for a change of its reflectance, shape (3, 31)."""
    surface = sheen * cones.directions().k1
    seen = ground.reflectance + surface
    step = 1e-3
    ends = []
    for sign in (-0.5, 0.5):
        a = cones.ground_from_seen(seen + sign * step * shift, sheen=sheen)
        ends.append(np.stack([a.cone, a.cross, a.trapped]))
    return np.asarray((ends[1] - ends[0]) / step)
