"""The surface: Saunderson's two numbers, and how much they can mend."""

from __future__ import annotations

from typing import Final

import numpy as np

from layersim import colour
from layersim.optics import cones, surface
from layersim.spectra import BANDS, FloatArray
from tests.judge import radiative_transfer as judge
from tests.validation.document import table
from tests.validation.errors import VIEW, delta_e, four
from tests.validation.models import TWO_CONES, Constants, Model, straight, two_fluxes
from tests.validation.stacks import PIGMENTS, judged, predicted
from tests.validation.swatches import fitted

# S. A. Prahl, Light Transport in Tissue (thesis, University of Texas, 1988), table B.4.
PUBLISHED_INSIDE: Final = {1.3: 0.444, 1.4: 0.529, 1.5: 0.596, 1.6: 0.651}
SHEENS: Final = ("gloss", "satin", "matt")


def tables() -> dict[str, str]:
    """Return this section's tables."""
    return {"surface": _numbers(), "surface-k2": _choices(), "surface-sheen": _sheen()}


def _numbers() -> str:
    rows = [
        [
            f"{index:.1f}",
            f"{surface.smooth_surface(index).k1:.4f}",
            f"{float(surface.reflections(index=index)[1]):.4f}",
            f"{surface.smooth_surface(index).k2:.4f}",
            f"{published:.3f}",
        ]
        for index, published in PUBLISHED_INSIDE.items()
    ]
    return table(["index", "k₁, along the normal", "k₁, diffuse", "k₂", "k₂ published"], rows)


def _choices() -> str:
    normal, diffuse = (float(r) for r in surface.reflections(index=surface.BINDER_INDEX))
    inside = surface.smooth_surface().k2
    physics = {name: straight(pigmentation) for name, pigmentation in PIGMENTS.items()}
    rows = []
    for k1, k2 in ((normal, inside), (diffuse, inside), (normal, 0.5), (normal, 0.4), (normal, 0.2)):
        model = two_fluxes(surface.Surface(k1=k1, k2=k2))
        fit = {name: fitted(model, name) for name in PIGMENTS}
        words = f"two fluxes, k₁ = {k1:.3f}, k₂ = {k2:.3f}"
        rows += [
            [f"{words}, {source}", *four(_errors(model, K_S))]
            for source, K_S in (("straight", physics), ("fitted", fit))
        ]
    rows.append(["two cones, straight", *four(_errors(TWO_CONES, physics))])
    return table(["finish of all stacks, ΔE00", "mean", "median", "95 %", "largest"], rows)


def _errors(model: Model, constants: dict[str, Constants]) -> FloatArray:
    found = [delta_e(predicted(model, truth.stack, constants)[-1], truth.stages[-1]) for truth in judged()]
    return np.concatenate(found)


def _sheen() -> str:
    black = judge.HELD_OUT["bone black"]
    K, S = straight(black)
    primer = cones.endless(cones.medium(K_per_um=K, S_per_um=S))
    grounds = {
        "black primer": primer,
        "even grey, a tenth of the light returned inside": cones.even_ground(np.full(BANDS, 0.1)),
        "even grey, four tenths": cones.even_ground(np.full(BANDS, 0.4)),
        "even white, nine tenths": cones.even_ground(np.full(BANDS, 0.9)),
    }
    rows = []
    for words, ground in grounds.items():
        L = [colour.lab(cones.seen(ground, sheen=surface.SHEENS[sheen]), VIEW)[..., 0] for sheen in SHEENS]
        rows.append([words, *(f"{float(value):.1f}" for value in L), f"{float(L[2] - L[0]):.1f}"])
    return table(["L\\* as seen", *SHEENS, "matt − gloss"], rows)
