"""From a world's swatches to what the program says of its stacks, as a painter would come to it.

Every pigment is sprayed at one, two and four coats over an opaque black and an opaque white and read by a
sphere instrument; a coat is 2.5 to 4 µm, drawn for each paint. Paints are fitted from those swatches alone.
Then stacks are laid out as schemes over a preshade of seven tones, for a hand without errors, and the
prediction and 90 % range that previews show are held against the true colours at D65, 2°.
"""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np

from layersim import colour
from layersim.errors import FitError
from layersim.fitting.measured import fit_swatches
from layersim.fitting.result import Fit
from layersim.measure.sheet import Specular
from layersim.measure.swatch import Ground, Swatch, SwatchSet
from layersim.optics import cones
from layersim.paint import Paint
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Hand, Mix, Scheme
from layersim.scheme.simulate import DRAWS, AreaModel
from layersim.shelf import Shelf
from layersim.spectra import BANDS, FloatArray
from tests.validation.errors import VIEW
from tests.validation.figures import Said, together
from tests.validation.world import PRESHADE_UM, Layer, Stack, World, over_preshade

COATS: Final = (1, 2, 4)
SOLIDS: Final = 0.3
# What a noiseless reading is taken to be good for, so that its weight stays finite.
LEAST_NOISE: Final = 5e-4
STEADY: Final = Hand(film=0.0, parts=0.0, greys=0.0, models=0.0, drift=0.0, slips=0.0, sheen=0.0, satin=0.0)
"""A hand without errors: what is left of a range is of the paints and of the model."""


@dataclass(frozen=True, kw_only=True)
class Making:
    """How swatches are made and read, and what the program is told of them."""

    noise: float = 0.001
    """Of a reading, one standard deviation."""
    swatches_vary: float = 0.05
    coats_vary: float = 0.0
    """How far a whole swatch's film, and each of its coats, is off; relative."""
    sheen: float = 0.0
    """Told of the paint and of the bare grounds."""
    specular: Specular = "excluded"
    """Told of the instrument."""
    film_error: float | None = None
    """Told of the films; None leaves it to the program."""

    @property
    def surface_told(self) -> float:
        """Share of the first surface reflection that the program takes readings to hold."""
        return 1.0 if self.specular == "included" else self.sheen


def swatch_set(world: World, name: str, making: Making, rng: np.random.Generator) -> SwatchSet:
    """Return a pigment's swatches as a painter with a field instrument would have them."""
    coat_um = float(rng.uniform(2.5, 4.0))
    swatches = []
    for word, ground in zip(("black", "white"), world.grounds(), strict=True):
        for coats in COATS:
            X = film_of(coats * coat_um, coats, making, rng)
            truth = world.seen(
                world.laid([(world.pigment(name), np.asarray(X))], ground), surface=world.surface
            )
            swatches.append(
                Swatch(
                    name=f"{coats} over {word}",
                    ground=word,
                    coats=coats,
                    reflectance=read(truth, making, rng),
                    noise=max(making.noise, LEAST_NOISE) * np.ones(BANDS),
                )
            )
    bare = [world.seen(ground, surface=world.surface) for ground in world.grounds()]
    return SwatchSet(
        paint=name,
        kind="paint",
        volume_solids=SOLIDS,
        wet_film_um=coat_um / SOLIDS,
        sheen=making.sheen,
        specular=making.specular,
        grounds=tuple(
            Ground(
                name=word,
                reflectance=read(seen, making, rng),
                noise=max(making.noise, LEAST_NOISE) * np.ones(BANDS),
                sheen=making.sheen,
            )
            for word, seen in zip(("black", "white"), bare, strict=True)
        ),
        swatches=tuple(swatches),
        invented=True,
    )


def film_of(nominal_um: float, coats: float, making: Making, rng: np.random.Generator) -> float:
    """Return the film that so many coats really left."""
    off = np.exp(making.swatches_vary * rng.standard_normal())
    if making.coats_vary:
        off *= np.mean(np.exp(making.coats_vary * rng.standard_normal(max(1, round(coats)))))
    return float(nominal_um * off)


def read(truth: FloatArray, making: Making, rng: np.random.Generator) -> FloatArray:
    """Return what the instrument reads; it shows nothing below -1 %."""
    return np.maximum(truth + making.noise * rng.standard_normal(truth.size), -0.01)


More = Callable[[SwatchSet, Fit, np.random.Generator], SwatchSet]


@dataclass(frozen=True)
class Fitted:
    """The paints of one world as fitted."""

    fits: Mapping[str, Fit]
    refused: Mapping[str, str]
    seconds: tuple[float, ...]


def told(film_error: float | None) -> dict[str, Any]:
    """Return what a fit is told of the films: nothing where that is left to the program."""
    return {} if film_error is None else {"film_error": film_error}


def fitted(world: World, making: Making, seed: int, *, more: More | None = None) -> Fitted:
    """Return a fit of every pigment, those that were refused with the reason, and how long each took.

    `more`: returns the swatches that each paint is fitted to once more; that time is not counted.
    """
    rng = np.random.default_rng(seed)
    fits, refused, seconds = {}, {}, []
    # No white on this shelf: suggested swatches are of the paint alone.
    shelf = Shelf([])
    for name in world.pigments:
        swatches = swatch_set(world, name, making, rng)
        begun = time.process_time()
        try:
            fits[name] = fit_swatches(swatches, shelf, **told(making.film_error))
        except FitError as fault:
            refused[name] = str(fault)
        seconds.append(time.process_time() - begun)
        if more is not None and name in fits:
            fits[name] = fit_swatches(more(swatches, fits[name], rng), shelf, **told(making.film_error))
    return Fitted(fits=fits, refused=refused, seconds=tuple(seconds))


def opaque_like(reflectance: FloatArray, *, sheen: float) -> Paint:
    """Return an opaque primer without doubts whose film looks like this without its surface."""
    low, high = np.full(BANDS, -18.0), np.full(BANDS, 18.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        dark = cones.seen(cones.endless(cones.medium(K_per_um=np.exp(middle), S_per_um=1.0)), sheen=0.0)
        low, high = np.where(dark > reflectance, middle, low), np.where(dark > reflectance, high, middle)
    return Paint(
        name="primer",
        kind="primer",
        K_per_um=np.exp(0.5 * (low + high)),
        S_per_um=np.ones(BANDS),
        volume_solids=SOLIDS,
        wet_film_um=50.0,
        sheen=sheen,
        provenance="a ground without doubts",
        invented=True,
    )


@dataclass(frozen=True, eq=False)
class Scene:
    """What the program is told of the stacks to predict."""

    paints: Mapping[str, Paint]
    """As fitted."""
    white: str = ""
    """Which of them the preshade and mixtures are made with."""
    surface: float = 0.0
    """Share of the first surface reflection that is truly seen."""
    told: float = 0.0
    """What the program takes it to be: the sheen of everything."""
    spread: float = 0.0
    """Told of the preshade's film: its relative spread at the full film."""
    finish: float | None = None
    """Sheen that every coat is said to dry with; by default what the fit says of its paints."""

    def ground(self, films_below: FloatArray) -> Paint:
        """Return a ground read with its surface, which is then taken off as far as it is known."""
        k1 = cones.directions().k1
        return opaque_like(np.maximum(films_below - self.told * k1, 1e-5), sheen=self.told)

    def sprayed(self) -> GreysSprayed:
        """Return the preshade as told by its mean film."""
        white = self.paints[self.white]
        return GreysSprayed(
            mix=Mix(((white, 1.0),)), passes=1, dry_film_um=PRESHADE_UM[-1], spread=self.spread, reach=0.0
        )

    def area(self, primer: Paint, preshade: GreysGiven | GreysSprayed | None, films: Sequence[Layer]) -> Area:
        """Return films as a scheme's area, bottom first."""
        coats = []
        for i, film in enumerate(films):
            parts: tuple[tuple[Paint, float], ...] = ((self.paints[film.name], 1.0),)
            if film.white_share:
                white = self.paints[self.white]
                parts = ((parts[0][0], 1.0 - film.white_share), (white, film.white_share))
            coats.append(Coat(f"coat {i + 1}", Mix(parts), 1, film.thickness_um, 0.0, sheen=self.finish))
        return Area(name="stack", ground=primer, preshade=preshade, coats=tuple(coats))


def scene_of(
    world: World,
    found: Fitted,
    *,
    surface: float,
    told: float,
    spread: float = 0.0,
    as_it_dries: bool = False,
) -> Scene:
    """Return a scene in which all paints dry with one sheen, told or as the fit found it."""
    paints = {name: fit.paint for name, fit in found.fits.items()}
    finish = None if as_it_dries else told
    return Scene(paints=paints, white=world.white, surface=surface, told=told, spread=spread, finish=finish)


Preshade = Literal["film", "greys measured", "greys by lightness"]
"""What is told of the preshade: its mean film, what each tone looks like, or only how light each is."""


def said_of(scene: Scene, world: World, stacks: Sequence[Stack], *, preshade: Preshade = "film") -> Said:
    """Return what previews say of stacks; those that hold a paint that was not fitted are left out.

    `world`: whose grounds they stand on.
    """
    none = Said(np.empty(0), np.empty(0))
    chosen = [stack for stack in stacks if all(film.name in scene.paints for film in stack.films)]
    if world.white not in scene.paints or not chosen:
        return none
    black = scene.ground(world.seen(world.grounds()[0], surface=scene.surface))
    bare = over_preshade(world, (), surface=scene.surface)
    said = [none]
    for stack in chosen:
        if preshade == "film":
            lab, reach = predicted(scene.area(black, scene.sprayed(), stack.films), films_um=PRESHADE_UM)
        else:
            tones = []
            for grey, L in zip(bare, colour.lab(bare, VIEW)[:, 0], strict=True):
                if preshade == "greys measured":
                    area = scene.area(scene.ground(grey), None, stack.films)
                    tones.append(predicted(area))
                else:
                    given = GreysGiven(darkest=float(L), lightest=float(L), sheen=scene.told)
                    hand = dataclasses.replace(STEADY, greys=Hand().greys)
                    tones.append(predicted(scene.area(black, given, stack.films), hand=hand))
            lab, reach = (np.stack([tone[i][0] for tone in tones]) for i in (0, 1))
        said.append(Said(colour.delta_e_2000(lab, stack.lab), reach))
    return together(said)


def predicted(
    area: Area, *, hand: Hand = STEADY, films_um: Sequence[float] = ()
) -> tuple[FloatArray, FloatArray]:
    """Return L*a*b* and reach of the finish: at every film of the preshade, or twice of one tone."""
    scheme = Scheme(name="stack", areas=(area,), viewing=VIEW, hand=hand)
    places = np.array(films_um) / films_um[-1] if films_um else None
    model = AreaModel(scheme, area, tones=len(films_um) or 2, places=places)
    seen = model.predict(VIEW, DRAWS, [])
    return seen.lab[-1], seen.reach[-1]
