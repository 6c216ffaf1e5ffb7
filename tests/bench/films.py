"""The inner loops: nanoseconds a film and wavelength."""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim.optics import cones, levels
from layersim.spectra import BANDS
from tests.bench.clock import alternately, ratio_of_processor
from tests.bench.report import Row
from tests.oracle.two_fluxes import film

ROUNDS: Final = 20
ROWS, SITES, TONES = 7, 8, 9


def rows() -> list[Row]:
    """Return the figures of one film of a prediction, laid over what lies below."""
    random = np.random.default_rng(0)
    K, S = random.uniform(0.01, 0.4, (2, ROWS, BANDS))
    X = random.uniform(0.2, 4.0, (ROWS, 1, SITES, TONES, 1))
    wide = (..., np.newaxis, np.newaxis, np.newaxis)
    paint = cones.medium(K_per_um=K[wide], S_per_um=S[wide])
    ready = levels.layable(cones.medium(K_per_um=K, S_per_um=S))
    below = cones.lay(paint, thickness_um=X[::-1], over=cones.even_ground(0.05))
    level = levels.level_of(below)
    times = alternately(
        {
            "fluxes": lambda: film(K_per_um=K[wide], S_per_um=S[wide], thickness_um=X),
            "fractions": lambda: cones.lay(paint, thickness_um=X, over=below),
            "products": lambda: levels.lay(ready, thickness_um=X, over=level),
        },
        rounds=ROUNDS,
    )
    each = 1e9 / (ROWS * SITES * TONES * BANDS)

    def row(name: str, what: str) -> Row:
        return Row(
            what, times[name].best_processor * each, "ns", note=f"(median {times[name].median * each:.3g})"
        )

    return [
        row("fluxes", "two-flux R and T, as anybody would write them"),
        row("fractions", "two cones by fractions (D7)"),
        row("products", "two cones by products (D10), what previews use"),
        Row("fractions ÷ products", ratio_of_processor(times["fractions"], times["products"]), "×"),
    ]
