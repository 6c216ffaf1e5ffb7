"""The models that are judged, each behind the same few steps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from layersim.optics import cones, surface
from layersim.spectra import FloatArray
from tests.judge.radiative_transfer import Pigmentation
from tests.oracle.two_fluxes import film, opaque_reflectance, over_ground

Constants = tuple[FloatArray, FloatArray]
"""K and S of a paint, each (31,), 1/µm."""


@dataclass(frozen=True)
class Model:
    """One way from K, S and thickness to what is seen."""

    name: str
    endless: Callable[[FloatArray, FloatArray], Any]
    """What an opaque ground of this paint is."""
    ground: Callable[[FloatArray], Any]
    """What an even ground is that looks like this, without gloss."""
    lay: Callable[[FloatArray, FloatArray, FloatArray, Any], Any]
    seen: Callable[[Any, float], FloatArray]


TWO_CONES = Model(
    name="two cones",
    endless=lambda K, S: cones.endless(cones.medium(K_per_um=K, S_per_um=S)),
    ground=lambda R: cones.ground_from_seen(R, sheen=0.0),
    lay=lambda K, S, X, below: cones.lay(cones.medium(K_per_um=K, S_per_um=S), thickness_um=X, over=below),
    seen=lambda below, sheen: cones.seen(below, sheen=sheen),
)
"""What previews use: layersim.optics.cones."""


def two_fluxes(air: surface.Surface | None = None) -> Model:
    """Return the textbook: Kubelka and Munk's films under Saunderson's surface."""
    return Model(
        name="two fluxes",
        endless=lambda K, S: opaque_reflectance(K_per_um=K, S_per_um=S),
        ground=lambda R: surface.internal_from_seen(R, sheen=0.0, surface=air),
        lay=lambda K, S, X, below: over_ground(film(K_per_um=K, S_per_um=S, thickness_um=X), below),
        seen=lambda below, sheen: surface.seen(below, sheen=sheen, surface=air),
    )


TWO_FLUXES = two_fluxes()


BEER_LAMBERT = Model(
    name="Beer-Lambert",
    endless=lambda K, S: np.zeros_like(K),
    ground=lambda R: R,
    lay=lambda K, S, X, below: below * np.exp(-K * X),
    seen=lambda below, sheen: below,
)
"""Light that passes a filter twice and is nowhere scattered: the simplest of textbooks; S does nothing."""


def straight(pigmentation: Pigmentation) -> Constants:
    """Return K = 2μa and S = ¾ μs (1 − g) (Gate 1974): a pigment's own physics, nothing adjusted."""
    return pigmentation.kubelka_munk_per_um()


def mixed(parts: Sequence[tuple[str, float]], constants: dict[str, Constants]) -> Constants:
    """Return K and S of a dry mix by shares of its volume (Duncan 1940); what is left is clear binder."""
    return (
        np.sum([share * constants[name][0] for name, share in parts], axis=0),
        np.sum([share * constants[name][1] for name, share in parts], axis=0),
    )
