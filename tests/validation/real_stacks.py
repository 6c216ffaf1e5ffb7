"""Stacks of real translucent layers: each colour fitted from a few stacks, all the others predicted.

The board: five printed layers of 0.08 mm of translucent plastic over white plastic, in every order of four
colours, 1024 in all; L*a*b* read from a photograph calibrated by a chart (data and terms:
``measured/NOTICE``). Only colours were measured, so the smoothest spectrum of each stands for it.

The protocol. Each colour is fitted from one, two and four layers of it over white, and over the ground of the
remaining layers that makes them darkest; what a ground looks like bare is read off the stack that has it
uppermost, over white layers. Everything else on the board is predicted from the white upwards.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.errors import FitError
from layersim.fitting import onlycolours
from layersim.fitting.measured import fit_swatches
from layersim.measure.swatch import Ground, Swatch, SwatchSet
from layersim.paint import Paint
from layersim.shelf import Shelf
from layersim.spectra import FloatArray
from tests.validation import real_data
from tests.validation.errors import delta_e
from tests.validation.figures import Said, together
from tests.validation.models import Constants, Model
from tests.validation.protocol import Scene, predicted, told
from tests.validation.swatches import nearest_to
from tests.validation.world import Layer

FILE: Final = "stacks.csv"
COLOURS: Final = "WYMC"
LAYERS: Final = 5
LAYER_UM: Final = 80.0
COUNTS: Final = (1, 2, 4)
READING: Final = 0.01
"""How exactly a photograph beside a chart is taken to tell a reflectance, relative (an assumption)."""
LEAST_READING: Final = 0.002
EVERY: Final = 5
"""Of the stacks that are predicted with a range, which takes a while."""


@dataclass(frozen=True, eq=False)
class Board:
    """The colours of all stacks by name, top layer first, and a spectrum for each."""

    lab: dict[str, FloatArray]
    reflectance: dict[str, FloatArray]


@functools.cache
def board() -> Board:
    """Return the board."""
    rows = list(real_data.rows_of(FILE))
    names = [row["stack"] for row in rows]
    lab = np.array([[float(row[axis]) for axis in ("L", "a", "b")] for row in rows])
    spectra = onlycolours.smoothest(lab)
    return Board(lab=dict(zip(names, lab, strict=True)), reflectance=dict(zip(names, spectra, strict=True)))


def swatch_set(letter: str, *, over_black: bool, reading: float) -> tuple[SwatchSet, set[str]]:
    """Return a colour's swatches, and the stacks that they were read off."""
    white = "W" * LAYERS
    grounds, swatches, used = {"white": white}, {}, {white}
    for count in COUNTS:
        stack = letter * count + "W" * (LAYERS - count)
        swatches[f"{count} over white"] = ("white", count, stack)
        if over_black:
            below = darkest_under(letter * count)
            grounds[below] = below + "W" * count
            swatches[f"{count} over {below}"] = (below, count, letter * count + below)
    if letter == "W":
        # All of its layers over white are the white itself: one swatch.
        swatches = {k: v for k, v in swatches.items() if v[0] != "white" or v[1] == COUNTS[-1]}
    used |= {stack for _, _, stack in swatches.values()} | set(grounds.values())
    seen = board().reflectance

    def noise(stack: str) -> FloatArray:
        return np.maximum(reading * seen[stack], LEAST_READING)

    made = SwatchSet(
        paint=letter,
        kind="paint",
        volume_solids=1.0,
        wet_film_um=LAYER_UM,
        sheen=0.0,
        specular="excluded",
        grounds=tuple(
            Ground(name=name, reflectance=seen[stack], noise=noise(stack), sheen=0.0)
            for name, stack in grounds.items()
        ),
        swatches=tuple(
            Swatch(name=name, ground=ground, coats=count, reflectance=seen[stack], noise=noise(stack))
            for name, (ground, count, stack) in swatches.items()
        ),
    )
    return made, used


def darkest_under(layers: str) -> str:
    """Return what makes some layers look darkest."""
    found = {stack: lab[0] for stack, lab in board().lab.items() if stack.startswith(layers)}
    return min(found, key=lambda stack: found[stack])[len(layers) :]


def fits(
    *, over_black: bool, film_error: float | None, reading: float
) -> tuple[dict[str, Paint], set[str], int]:
    """Return each colour as fitted, the stacks that were used for that, and how many were refused."""
    found, used, refused = {}, set(), 0
    for letter in COLOURS:
        swatches, stacks = swatch_set(letter, over_black=over_black, reading=reading)
        used |= stacks
        try:
            found[letter] = fit_swatches(swatches, Shelf([]), **told(film_error)).paint
        except FitError:
            refused += 1
    return found, used, refused


def outcome(*, over_black: bool = True, film_error: float | None = None, reading: float = READING) -> Said:
    """Return how the predictions of other stacks compare with what was measured, every fifth of them."""
    found, used, refused = fits(over_black=over_black, film_error=film_error, reading=reading)
    scene = Scene(paints=found)
    white = scene.ground(board().reflectance["W" * LAYERS])
    said = [Said(np.empty(0), np.empty(0), refused, len(COLOURS))]
    for name in [stack for stack in board().lab if stack not in used][::EVERY]:
        if set(name) <= set(found):
            films = [Layer(letter, LAYER_UM) for letter in reversed(name)]
            lab, reach = predicted(scene.area(white, None, films))
            said.append(Said(colour.delta_e_2000(lab[:1], board().lab[name]), reach[:1]))
    return together(said)


def by_least_squares(model: Model) -> FloatArray:
    """Return ΔE00 of the same stacks by a model whose K and S come nearest to the same swatches.

    Every band by itself, without priors or doubts; no colour is refused.
    """
    constants, used = {}, set()
    for letter in COLOURS:
        swatches, stacks = swatch_set(letter, over_black=True, reading=READING)
        used |= stacks
        constants[letter] = nearest_to(model, swatches)
    names = [stack for stack in board().lab if stack not in used][::EVERY]
    return delta_e(laid(constants, model, names), np.stack([board().reflectance[name] for name in names]))


def laid(constants: dict[str, Constants], model: Model, names: Sequence[str]) -> FloatArray:
    """Return the spectra of stacks by a model, from the white upwards, shape (n, 31)."""
    levels = {"": model.ground(board().reflectance["W" * LAYERS])}
    for _ in range(LAYERS):
        levels = {
            letter + below: model.lay(*pair, np.asarray(LAYER_UM), ground)
            for below, ground in levels.items()
            for letter, pair in constants.items()
        }
    return np.stack([model.seen(levels[name], 0.0) for name in names])
