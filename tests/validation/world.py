"""Worlds to predict: pigments, and how films lie, scatter and are read there, by radiative transfer.

In the plain world everything is as the model takes it to be, but for the model's own two directions of light.
The others break one assumption each. What a painter is told of a world is not in here.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.stats import poisson

from layersim import colour
from layersim.spectra import FloatArray
from tests.judge import radiative_transfer as judge
from tests.validation.errors import VIEW

PRESHADE_UM: Final = (0.0, 0.8, 1.6, 2.8, 5.0, 9.0, 25.0)
_SPOTS: Final = (0, 1, 2, 3, 4, 5, 6, 8, 10, 13, 17, 22, 28, 36, 48, 64)
"""How many spots lie over a place, where the films are worked out; between them they are interpolated."""

Bottom = tuple[judge.Pigmentation, FloatArray]


@dataclass(frozen=True, eq=False, kw_only=True)
class World:
    """Pigments, and what becomes of light in their films."""

    pigments: Mapping[str, judge.Pigmentation]
    white: str
    black: str
    """What the grounds and the preshade are made of."""
    index: float = judge.BINDER_INDEX
    """Refractive index of the binder."""
    surface: float = 0.0
    """Share of the first surface reflection that readings have in them."""
    crowding: float = 0.0
    """Share of its scattering that the white loses in a film of its own; less in mixtures, as its share."""
    joint_um: float = 0.0
    """Μm. Of this much every two films are blended where they meet."""
    spot_um: float = 0.0
    """Μm. Dry film of one droplet of the preshade; 0 for an even film."""

    @property
    def directions(self) -> judge.Quadrature:
        """Return the directions in which its light is followed."""
        return judge.quadrature(refractive_index=self.index)

    def seen(self, operator: FloatArray, *, surface: float = 0.0) -> FloatArray:
        """Return what a sphere instrument reads, with a share of the first surface reflection in it."""
        inside = judge.emergent_reflectance(
            operator, geometry="collimated_excluded", directions=self.directions
        )
        return inside + surface * ((self.index - 1.0) / (self.index + 1.0)) ** 2

    @functools.cache  # noqa: B019 - worlds are few, and made once
    def pigment(self, name: str, white_share: float = 0.0) -> judge.Pigmentation:
        """Return a paint by itself, or with this share of the film the white."""
        if name == self.white:
            white_share = 1.0
        plain = self.pigments[self.white]
        white = judge.Pigmentation(
            plain.name,
            plain.mu_a_per_um,
            plain.mu_s_per_um * (1.0 - self.crowding * white_share),
            plain.g,
            plain.moments,
        )
        if name == self.white:
            return white if self.crowding else plain
        if not white_share:
            return self.pigments[name]
        return judge.mix(name, [(self.pigments[name], 1.0 - white_share), (white, white_share)])

    @functools.cache  # noqa: B019
    def grounds(self) -> tuple[FloatArray, FloatArray]:
        """Return the reflection operators of the black and the white of a card."""
        black = judge.opaque(self.pigment(self.black), self.directions)
        white = judge.film_operators(self.pigment(self.white), 60.0, self.directions)
        return black, judge.add(black, white)

    def laid(self, films: Sequence[Bottom], ground: FloatArray) -> FloatArray:
        """Return the reflection operator of films over a ground, bottom first, blended where they meet."""
        operator = ground
        for pigment, X in _blended(films, self.joint_um):
            operator = judge.add(operator, judge.film_operators(pigment, X, self.directions))
        return operator


def _blended(films: Sequence[Bottom], joint_um: float) -> list[Bottom]:
    """Return films with so much around every joint replaced by an even blend of both."""
    if not joint_um or len(films) < 2:
        return list(films)
    left = [X for _, X in films]
    found: list[Bottom] = []
    for i, ((lower, a), (upper, b)) in enumerate(itertools.pairwise(films)):
        half = np.minimum(0.5 * joint_um, 0.5 * np.minimum(a, b))
        left[i], left[i + 1] = left[i] - half, left[i + 1] - half
        found += [(lower, left[i]), (_joint(lower, upper), 2.0 * half)]
    return [*found, (films[-1][0], left[-1])]


@functools.cache
def _joint(lower: judge.Pigmentation, upper: judge.Pigmentation) -> judge.Pigmentation:
    return judge.mix("joint", [(lower, 0.5), (upper, 0.5)])


class Layer(NamedTuple):
    """One film of a stack: a paint, its dry film, and what share of that is the white."""

    name: str
    thickness_um: float
    white_share: float = 0.0


@dataclass(frozen=True)
class Stack:
    """Films over the preshade, and their true colours, (tones, 3)."""

    films: tuple[Layer, ...]
    lab: FloatArray


@functools.cache
def stacks(
    world: World, seed: int, count: int, mixed: float = 0.0, surface: float = 0.0
) -> tuple[Stack, ...]:
    """Return stacks of one to four films, drawn at random, over a preshade of seven tones.

    Films are of 0.5 to 8 µm, thirty in a hundred of them under a micrometre.

    `mixed`: chance that a film is a mixture with the white. `surface`: share of the first surface
    reflection that is seen.
    """
    rng = np.random.default_rng(1000 + seed)
    names = list(world.pigments)
    found = []
    for _ in range(count):
        films = []
        for name in rng.choice(names, rng.integers(1, 5)):
            thin = rng.random() < 0.3
            X = rng.uniform(0.5, 1.0) if thin else float(np.exp(rng.uniform(0.0, np.log(8.0))))
            share = 0.0
            if mixed and rng.random() < mixed and name not in (world.white, world.black):
                share = float(rng.uniform(0.2, 0.8))
            films.append(Layer(str(name), float(X), share))
        found.append(Stack(tuple(films), colour.lab(over_preshade(world, films, surface=surface), VIEW)))
    return tuple(found)


def over_preshade(world: World, films: Sequence[Layer], *, surface: float = 0.0) -> FloatArray:
    """Return what films look like over every tone of the preshade, (tones, 31)."""
    black, _ = world.grounds()
    white = world.pigment(world.white)
    above = [(world.pigment(f.name, f.white_share), np.asarray(f.thickness_um)) for f in films]
    if not world.spot_um:
        return world.seen(world.laid([(white, np.array(PRESHADE_UM)), *above], black), surface=surface)
    spots = np.array(_SPOTS, dtype=np.float64)
    at = world.seen(world.laid([(white, world.spot_um * spots), *above], black), surface=surface)
    every = np.arange(_SPOTS[-1] + 1)
    seen = PchipInterpolator(spots, at)(every)
    chance = np.asarray(poisson.pmf(every, np.array(PRESHADE_UM)[:, np.newaxis] / world.spot_um))
    return np.asarray(chance @ seen / chance.sum(axis=1, keepdims=True))
