"""Stacks as they are painted, and what they look like by radiative transfer."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.spectra import FloatArray
from tests.judge import radiative_transfer as judge
from tests.validation.models import Constants, Model, mixed

GEOMETRIES: Final[dict[judge.Geometry, tuple[str, float]]] = {
    "collimated_excluded": ("sphere (d/8), specular excluded", 0.0),
    "collimated_included": ("sphere (d/8), specular included", 1.0),
    "45_0": ("45/0", 0.0),
    "diffuse_excluded": ("lit and seen from all sides, without gloss", 0.0),
}
"""Judge's geometries in words, and the sheen under which the model is compared."""


@dataclass(frozen=True)
class Palette:
    """The pigmentations that stacks of one set are made of."""

    name: str
    pigments: Mapping[str, judge.Pigmentation]
    black: str
    white: str
    colours: tuple[str, ...]
    glazes: tuple[str, ...]
    washes: tuple[str, ...]
    varnish: str


PALETTES: Final = (
    Palette(
        name="tuning",
        pigments=judge.TUNING,
        black="carbon black",
        white="titanium white",
        colours=(
            "iron oxide red",
            "ultramarine",
            "phthalo green",
            "azo yellow",
            "quinacridone magenta",
            "raw umber",
        ),
        glazes=("phthalo green", "quinacridone magenta", "blue ink"),
        washes=("blue ink", "raw umber"),
        varnish="matt varnish",
    ),
    Palette(
        name="held out",
        pigments=judge.HELD_OUT,
        black="bone black",
        white="buff white",
        colours=(
            "yellow ochre",
            "chromium oxide green",
            "phthalo blue",
            "pyrrole red",
            "dioxazine purple",
            "burnt sienna",
        ),
        glazes=("phthalo blue", "dioxazine purple", "red ink"),
        washes=("sepia wash", "red ink"),
        varnish="satin varnish",
    ),
)
PIGMENTS: Final = {**judge.TUNING, **judge.HELD_OUT}
"""All pigmentations by name."""


@dataclass(frozen=True)
class Coat:
    """Pigmentations by share of the dry film, and how thick it lies."""

    what: str
    parts: tuple[tuple[str, float], ...]
    thickness_um: float

    def words(self) -> str:
        return f"{self.what} ({' + '.join(name for name, _ in self.parts)}, {self.thickness_um:.1f} µm)"


@dataclass(frozen=True)
class Stack:
    """An opaque black primer, white of nine thicknesses over it, and four coats or more over that."""

    palette: Palette
    coats: tuple[Coat, ...]

    @property
    def glaze(self) -> int:
        """Index of the filter glaze among the coats."""
        return next(i for i, coat in enumerate(self.coats) if coat.what == "glaze")

    def words(self) -> str:
        return ", ".join(coat.words() for coat in self.coats)


@dataclass(frozen=True, eq=False)
class Judged:
    """A stack with its reflectances by radiative transfer."""

    stack: Stack
    stages: FloatArray
    """Shape (1 + coats, 9, 31). After the preshade and each coat, sphere, specular excluded."""
    finish: dict[judge.Geometry, FloatArray]
    """Shape (9, 31). The last stage by geometry."""


@functools.cache
def judged(each: int = 24) -> tuple[Judged, ...]:
    """Return so many stacks of each palette, in thirds of four, five and six coats."""
    random = np.random.default_rng(1931)
    stacks = [_invented(palette, random, coats=4 + i % 3) for palette in PALETTES for i in range(each)]
    return tuple(_rendered(stack) for stack in stacks)


def predicted(
    model: Model, stack: Stack, constants: dict[str, Constants], *, sheen: float = 0.0
) -> FloatArray:
    """Return what a model says of a stack, shape (1 + coats, 9, 31)."""
    palette = stack.palette
    below = model.endless(*constants[palette.black])
    preshade = np.array(judge.PRESHADE_UM)[:, np.newaxis]
    below = model.lay(*constants[palette.white], preshade, below)
    stages = [model.seen(below, sheen)]
    for coat in stack.coats:
        below = model.lay(*mixed(coat.parts, constants), np.asarray(coat.thickness_um), below)
        stages.append(model.seen(below, sheen))
    return np.stack(stages)


def _invented(palette: Palette, random: np.random.Generator, *, coats: int) -> Stack:
    """Draw a stack in the order of the trade: base, shade, highlight, glaze, wash, varnish.

    Mixes, dry films and the order are those of common practice (no source): a base of paint with some
    ink, thin shades and highlights, a glaze of one transparent paint over everything.
    """

    def between(low: float, high: float) -> float:
        return float(random.uniform(low, high))

    main = str(random.choice(palette.colours))
    glaze = str(random.choice([name for name in palette.glazes if name != main]))
    wash = str(random.choice([name for name in palette.washes if name != glaze]))
    every = {
        "base": Coat("base", ((main, between(0.5, 0.8)), (wash, between(0.05, 0.2))), between(1.5, 5.0)),
        "shade": Coat("shade", ((main, 0.6), (palette.black, between(0.03, 0.12))), between(0.4, 1.5)),
        "highlight": Coat(
            "highlight", ((main, between(0.2, 0.4)), (palette.white, between(0.2, 0.5))), between(0.4, 2.5)
        ),
        "glaze": Coat("glaze", ((glaze, between(0.2, 0.5)),), between(0.7, 2.5)),
        "wash": Coat("wash", ((wash, between(0.2, 0.8)),), between(0.5, 2.0)),
        "varnish": Coat("varnish", ((palette.varnish, 1.0),), between(4.0, 8.0)),
    }
    left_out = {4: ("shade", "wash"), 5: ("shade",), 6: ()}[coats]
    return Stack(palette, tuple(coat for name, coat in every.items() if name not in left_out))


def _rendered(stack: Stack) -> Judged:
    palette = stack.palette
    below = judge.stack_operator(
        [judge.preshade(palette.pigments[palette.white])],
        ground=judge.opaque(palette.pigments[palette.black]),
    )
    stages = [judge.emergent_reflectance(below, geometry="collimated_excluded")]
    for coat in stack.coats:
        pigmentation = judge.mix(coat.what, [(palette.pigments[name], share) for name, share in coat.parts])
        below = judge.add(below, judge.film_operators(pigmentation, coat.thickness_um))
        stages.append(judge.emergent_reflectance(below, geometry="collimated_excluded"))
    finish = {name: judge.emergent_reflectance(below, geometry=name) for name in GEOMETRIES}
    return Judged(stack, np.stack(stages), finish)
