"""Radiative transfer with one assumption of the model broken at a time, as rows of one table.

Each row is a world and what a painter, who knows nothing of that, tells the program. By default the pigments
are those that may be tuned on; ``held_out`` takes the others.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from layersim.optics.spray import spread_of_spots
from layersim.spectra import wavelengths_nm
from tests.judge import radiative_transfer as judge
from tests.judge.phase import spheres, two_lobes, with_function
from tests.judge.unusual import UNUSUAL_HELD_OUT, UNUSUAL_TUNING
from tests.validation import real_data
from tests.validation.figures import Said, together
from tests.validation.protocol import Making, Preshade, fitted, said_of, scene_of
from tests.validation.world import PRESHADE_UM, World, stacks

SEEDS: Final = 2
STACKS: Final = 20
PARTICLES: Final[Mapping[str, tuple[float, float]]] = {
    # Refractive index and mean radius in µm, of their kind in handbooks (from memory).
    "titanium white": (2.7, 0.11),
    "carbon black": (1.9, 0.04),
    "iron oxide red": (2.8, 0.10),
    "ultramarine": (1.56, 0.60),
    "phthalo green": (1.75, 0.05),
    "azo yellow": (1.75, 0.12),
    "quinacridone magenta": (1.80, 0.06),
    "raw umber": (2.2, 0.18),
    "blue ink": (1.7, 0.03),
    "matt varnish": (1.46, 1.50),
    "buff white": (2.6, 0.15),
    "bone black": (1.8, 0.20),
    "yellow ochre": (2.2, 0.15),
    "chromium oxide green": (2.5, 0.20),
    "phthalo blue": (1.75, 0.05),
    "pyrrole red": (1.85, 0.12),
    "dioxazine purple": (1.8, 0.05),
    "burnt sienna": (2.4, 0.12),
    "red ink": (1.7, 0.03),
    "sepia wash": (1.7, 0.08),
    "satin varnish": (1.46, 1.00),
}
_BACK_LOBE: Final = 0.5
_ACRYLICS_G: Final = 0.5


@dataclass(frozen=True, eq=False, kw_only=True)
class Case:
    """A world, what a painter does and tells there, and how the stacks are seen."""

    world: World
    making: Making = Making()  # noqa: RUF009 - a frozen record
    mixed: float = 0.0
    """Chance that a film of a stack is a mixture with the white."""
    preshade: Preshade = "film"
    """What is told of it."""
    gloss: bool = False
    """Whether stacks are seen without a surface, under a gloss varnish say; else their surface is that of
    the swatches."""


@functools.cache
def plain(*, held_out: bool) -> World:
    """Return the world in which all assumptions are true."""
    if held_out:
        return World(pigments=judge.HELD_OUT, white="buff white", black="bone black")
    return World(pigments=judge.TUNING, white="titanium white", black="carbon black")


def outcome(case: Case, *, seeds: int = SEEDS, count: int = STACKS) -> Said:
    """Return how one case's predictions compare with the truth."""
    world = case.world
    surface = 0.0 if case.gloss else world.surface
    told = 0.0 if case.gloss else case.making.surface_told
    film_um = PRESHADE_UM[-1]
    spread = spread_of_spots(spot_um=world.spot_um, film_um=film_um)
    parts = []
    for seed in range(seeds):
        found = fitted(world, case.making, seed)
        parts.append(Said(np.empty(0), np.empty(0), len(found.refused), len(world.pigments)))
        scene = scene_of(
            world,
            found,
            surface=surface,
            told=told,
            spread=spread,
            as_it_dries=case.making.specular == "excluded" and not case.gloss,
        )
        drawn = stacks(world, seed, count, case.mixed, surface)
        parts.append(said_of(scene, world, drawn, preshade=case.preshade))
    return together(parts)


@functools.cache
def _with(held_out: bool, **changes: Any) -> World:
    return dataclasses.replace(plain(held_out=held_out), **changes)


@functools.cache
def _unusual(held_out: bool) -> World:
    pigments = UNUSUAL_HELD_OUT if held_out else UNUSUAL_TUNING
    return dataclasses.replace(plain(held_out=held_out), pigments=pigments)


@functools.cache
def _mie(held_out: bool) -> World:
    world = plain(held_out=held_out)
    pigments = {
        name: with_function(pigment, spheres(index=PARTICLES[name][0], radius_um=PARTICLES[name][1]))
        for name, pigment in world.pigments.items()
    }
    return dataclasses.replace(world, pigments=pigments)


@functools.cache
def _lobes(held_out: bool) -> World:
    """Return a world in which everything scatters by a peak and a back lobe of the same mean cosine."""
    world = plain(held_out=held_out)
    pigments = {}
    for name, pigment in world.pigments.items():
        g = np.asarray(pigment.g)
        peak = 0.5 * (1.0 + g)
        share = (g + _BACK_LOBE) / (peak + _BACK_LOBE)
        moments = two_lobes(forward=peak, backward=_BACK_LOBE, share_forward=share)
        pigments[name] = with_function(pigment, moments)
    return dataclasses.replace(world, pigments=pigments)


@functools.cache
def acrylics() -> World:
    """Return a world whose pigments have K and S of real acrylics, K = 2 μa and S = ¾ μs (1 − g).

    The table tells both relative to the S of a titanium white, for two diffuse fluxes; here they are taken as
    they are, with the tuning white's S.
    """
    white = judge.TUNING["titanium white"]
    _, S = white.kubelka_munk_per_um()
    constants: dict[str, dict[str, Any]] = {}
    for row in real_data.rows_of("acrylics.csv"):
        values = np.array([float(row[f"{nm:.0f}"]) for nm in wavelengths_nm()])
        constants.setdefault(row["paint"], {})[row["constant"]] = values * S
    pigments = {white.name: white}
    for name, pair in constants.items():
        mu_s = 4.0 / 3.0 * pair["S"] / (1.0 - _ACRYLICS_G)
        pigments[name] = judge.Pigmentation(name, 0.5 * pair["K"], mu_s, _ACRYLICS_G)
    return World(pigments=pigments, white=white.name, black="carbon black")


_INCLUDED: Final = Making(specular="included")
_SATIN: Final = Making(sheen=0.4)

CASES: Final[Mapping[str, Callable[[bool], Case]]] = {
    "usual pigments, all assumptions true": lambda held: Case(world=plain(held_out=held)),
    "unusual pigments, all assumptions true": lambda held: Case(world=_unusual(held)),
    "real acrylics' K and S": lambda _: Case(world=acrylics()),
    "scattering by Mie": lambda held: Case(world=_mie(held)),
    "scattering by a peak and a back lobe": lambda held: Case(world=_lobes(held)),
    "binder index 1.60, specular included": lambda held: Case(
        world=_with(held, index=1.60, surface=1.0), making=_INCLUDED
    ),
    "binder index 1.47, specular included": lambda held: Case(
        world=_with(held, index=1.47, surface=1.0), making=_INCLUDED
    ),
    "binder index 1.45, specular included": lambda held: Case(
        world=_with(held, index=1.45, surface=1.0), making=_INCLUDED
    ),
    "matt swatches said to be satin, specular excluded": lambda held: Case(
        world=_with(held, surface=1.0), making=_SATIN
    ),
    "the same, seen under gloss varnish": lambda held: Case(
        world=_with(held, surface=1.0), making=_SATIN, gloss=True
    ),
    "films vary 15 %": lambda held: Case(world=plain(held_out=held), making=Making(swatches_vary=0.15)),
    "white scatters 20 % less when crowded": lambda held: Case(world=_with(held, crowding=0.2), mixed=0.5),
    "1 µm of every joint blended": lambda held: Case(world=_with(held, joint_um=1.0)),
    "preshade of droplets that leave 1 µm, mean film given": lambda held: Case(
        world=_with(held, spot_um=1.0)
    ),
    "preshade of droplets that leave 5 µm, mean film given": lambda held: Case(
        world=_with(held, spot_um=5.0)
    ),
    "the same, greys measured": lambda held: Case(world=_with(held, spot_um=5.0), preshade="greys measured"),
    "the same, greys told by lightness": lambda held: Case(
        world=_with(held, spot_um=5.0), preshade="greys by lightness"
    ),
}
"""Rows by name: the case for the tuning pigments (False) or for those kept back (True)."""
