"""The inner loops: nanoseconds a film and wavelength."""

from __future__ import annotations

from typing import Final

import numpy as np
from layersim.optics.film import film
from layersim.optics.threads import share_out

from layersim.optics import cones, kernel
from layersim.spectra import BANDS, FloatArray
from tests.bench.clock import alternately, ratio
from tests.bench.report import Row

ROUNDS: Final = 20
FILMS: Final = 60_000


def rows() -> list[Row]:
    """Return the figures of single films."""
    random = np.random.default_rng(0)
    K, S = random.uniform(0.01, 0.4, BANDS), random.uniform(0.01, 0.5, BANDS)
    X = random.uniform(0.5, 8.0, (FILMS, 1))
    depth, E = random.uniform(0.05, 5.0, kernel.BLOCK), np.empty(kernel.BLOCK)
    some = X[: kernel.BLOCK // BANDS]
    glaze, below = cones.medium(K_per_um=K, S_per_um=S), cones.even_ground(np.full(BANDS, 0.4))
    values, few = FILMS * BANDS, len(some) * BANDS
    # Name, action, values it makes.
    plan = {
        "exp": (lambda: [np.exp(depth, out=E) for _ in range(20)], 20 * kernel.BLOCK),
        "blocks": (lambda: _in_blocks(K, S, X, threads=1), values),
        "blocks, two": (lambda: _in_blocks(K, S, X, threads=2), values),
        "film": (lambda: film(K_per_um=K, S_per_um=S, thickness_um=X), values),
        "film, two": (lambda: film(K_per_um=K, S_per_um=S, thickness_um=X, threads=2), values),
        "whole": (lambda: _whole_arrays(K, S, X), values),
        "cones": (lambda: cones.lay(glaze, thickness_um=some, over=below), few),
    }
    times = alternately({name: action for name, (action, _) in plan.items()}, rounds=ROUNDS)

    def in_proportion(over: str, under: str) -> float:
        return ratio(times[over], times[under]) * plan[under][1] / plan[over][1]

    def row(name: str, what: str, target: float | None = None, *, threads: int = 1) -> Row:
        found, each = times[name], 1e9 / plan[name][1]
        least = found.best_processor if threads == 1 else found.best
        return Row(what, least * each, "ns", target, f"(median by the clock {found.median * each:.3g})")

    return [
        row("exp", "numpy's exp alone, in cache"),
        row("blocks", "two-flux R and T in blocks, buffers used again, 1 thread", 10.0),
        row("blocks, two", "  the same, 2 threads, by the clock", 6.0, threads=2),
        row("film", "film() with fresh arrays for all results, 1 thread"),
        row("film, two", "  the same, 2 threads, by the clock", threads=2),
        row("whole", "the same equations on whole arrays, tanh and cosh"),
        row("cones", "two-cone film over a ground, what previews use"),
        Row("share of exp in the blocks", in_proportion("exp", "blocks"), "×"),
        Row(
            "2 threads ÷ 1 thread, in blocks",
            in_proportion("blocks, two", "blocks"),
            "×",
            note=f"(best ÷ best {times['blocks, two'].best / times['blocks'].best:.2f})",
        ),
        Row("whole arrays ÷ film()", in_proportion("whole", "film"), "×"),
        Row("two cones ÷ two fluxes in blocks", in_proportion("cones", "blocks"), "×"),
    ]


def _in_blocks(K: FloatArray, S: FloatArray, X: FloatArray, *, threads: int) -> None:
    """Work out films block by block, each block's results in the place of the last one's."""
    width = kernel.BLOCK // BANDS
    constants = kernel.Constants.of(K, S).over((width, BANDS)).copied()
    quick = constants.quick(X)

    def work(span: tuple[int, int]) -> None:
        workspace = kernel.Workspace()
        R, T = np.empty((2, width, BANDS))
        for first in range(span[0], span[1], width):
            n = min(width, span[1] - first)
            here = constants.at((slice(n),))
            workspace.film(here, X[first : first + n], R[:n], T[:n], quick=quick)

    share_out(work, len(X), threads)


def _whole_arrays(K: FloatArray, S: FloatArray, X: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Equations (F2) and (F3) as anybody would write them."""
    c = np.sqrt(K * (K + 2.0 * S))
    t = np.tanh(c * X)
    den = (K + S) * t + c
    return S * t / den, c / np.cosh(c * X) / den
