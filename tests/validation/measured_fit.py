"""How well a paint fitted to measured swatches predicts: pigments kept back, rendered by radiative transfer.

The protocol. Every pigment of ``HELD_OUT`` is sprayed at one, two and four coats over an opaque black and an
opaque white, and measured with the mirror reflection excluded; a coat is 2.5 to 4 µm, drawn for each paint.
Paints are fitted from those swatches alone. Then stacks of one to four films, drawn at random (0.5 to 8 µm,
thirty in a hundred of them under a micrometre), are laid over a preshade of seven tones, and the
predicted colours compared with the rendered ones at D65, 2°. Ranges come from the paints' doubts alone.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.fitting.result import Fit
from layersim.measure.swatch import Swatch, SwatchSet
from layersim.optics import cones, mixing
from layersim.paint import Paint
from layersim.spectra import FloatArray
from tests.judge import radiative_transfer as judge
from tests.validation import protocol, world
from tests.validation.broken import plain
from tests.validation.document import table
from tests.validation.errors import VIEW, four
from tests.validation.protocol import LEAST_NOISE, Making
from tests.validation.ranges import drawn
from tests.validation.world import PRESHADE_UM, Stack

SEEDS: Final = 3
STACKS: Final = 30
GEOMETRY: Final = "collimated_excluded"
WHITE, BLACK = "buff white", "bone black"


@dataclass(frozen=True)
class Condition:
    """How the swatches were made and measured."""

    words: str
    noise: float
    films_vary: float
    film_error: float | None
    one_more: bool = False

    @property
    def making(self) -> Making:
        """Return how the swatches are made and read, and what the fit is told."""
        return Making(noise=self.noise, swatches_vary=self.films_vary, film_error=self.film_error)


CONDITIONS: Final = (
    Condition("no noise, films as counted", 0.0, 0.0, 0.0),
    Condition("noise 0.1 %, films as counted", 0.001, 0.0, 0.0),
    Condition("noise 0.3 %, films as counted", 0.003, 0.0, 0.0),
    Condition("noise 0.1 %, films vary 5 %", 0.001, 0.05, None),
    Condition("noise 0.1 %, films vary 15 %", 0.001, 0.15, None),
    Condition("noise 0.1 %, films vary 15 %, the suggested swatch added", 0.001, 0.15, None, True),
    Condition("noise 0.1 %, films as counted, though nobody said so", 0.001, 0.0, None),
)
SPRAYED: Final = 3
"""The condition nearest to practice."""


@dataclass(frozen=True)
class Outcome:
    """What came of one condition."""

    errors: FloatArray
    within: float
    within_lab: FloatArray
    seconds: tuple[float, ...]
    fits: tuple[Fit, ...]
    mixture_errors: FloatArray


def grounds() -> tuple[FloatArray, FloatArray]:
    """Return the reflection operators of the black and the white."""
    return plain(held_out=True).grounds()


def stacks(seed: int, count: int) -> tuple[Stack, ...]:
    """Return random stacks over the preshade with their rendered colours."""
    return world.stacks(plain(held_out=True), seed, count)


def suggested(condition: Condition, swatches: SwatchSet, fit: Fit, rng: np.random.Generator) -> SwatchSet:
    """Return the swatches with the suggested one sprayed and measured too."""
    if fit.suggestion is None:
        return swatches
    made = fit.suggestion.swatch
    one_um = swatches.wet_film_um * swatches.volume_solids
    pigment = judge.HELD_OUT[swatches.paint]
    if made.coats is None or made.ground is None:
        raise AssertionError("a suggested swatch has coats and a ground")
    X = protocol.film_of(one_um * made.coats, made.coats, condition.making, rng)
    ground = grounds()[("black", "white").index(made.ground)]
    truth = judge.render([judge.Film(pigment, X)], ground=ground, geometry=GEOMETRY)
    keys = {field.name: getattr(made, field.name) for field in dataclasses.fields(made)}
    more = Swatch(
        **keys,
        reflectance=protocol.read(truth, condition.making, rng),
        noise=max(condition.noise, LEAST_NOISE),
    )
    return dataclasses.replace(swatches, swatches=(*swatches.swatches, more))


def compared(
    stack: Stack, media: Mapping[str, cones.Medium], preshade: cones.Admittance
) -> tuple[FloatArray, npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Return a stack's ΔE00 from its prediction, and whether the 90 % range holds it: in ΔE00, and by axis.

    `media`: of each paint as fitted, then of draws of its doubts. `preshade`: what lies below. Returns
    shape (tones,).
    """
    below = preshade
    for name, X, _ in stack.films:
        below = cones.lay(media[name], thickness_um=X, over=below)
    lab = colour.lab(cones.seen(below, sheen=0.0), VIEW)
    off = colour.delta_e_2000(lab[0], stack.lab)
    reach = np.quantile(colour.delta_e_2000(lab[1:], lab[0]), 0.9, axis=0)
    low, high = np.quantile(lab[1:], [0.05, 0.95], axis=0)
    within_lab = (stack.lab >= np.minimum(low, lab[0])) & (stack.lab <= np.maximum(high, lab[0]))
    return off, off <= reach, within_lab


def judged(condition: Condition, *, seeds: int = SEEDS, count: int = STACKS) -> Outcome:
    """Return how one condition's predictions compare with radiative transfer."""
    errors, within, within_lab, seconds, mixtures = [], [], [], [], []
    fits: list[Fit] = []
    bare = judge.emergent_reflectance(grounds()[0], geometry=GEOMETRY)
    for seed in range(seeds):
        more = functools.partial(suggested, condition) if condition.one_more else None
        found = protocol.fitted(plain(held_out=True), condition.making, seed, more=more)
        if found.refused:
            raise RuntimeError(f"pigments kept back were refused: {found.refused}")
        by_name = found.fits
        fits += by_name.values()
        seconds += found.seconds
        constants = {
            name: drawn(fit.paint, seed=100 * seed + i) for i, (name, fit) in enumerate(by_name.items())
        }
        media = {
            name: cones.medium(K_per_um=K[:, np.newaxis], S_per_um=S[:, np.newaxis])
            for name, (K, S) in constants.items()
        }
        pre = cones.lay(
            media[WHITE],
            thickness_um=np.array(PRESHADE_UM)[:, np.newaxis],
            over=cones.ground_from_seen(bare, sheen=0.0),
        )
        for stack in stacks(seed, count):
            off, held, held_by_axis = compared(stack, media, pre)
            errors.append(off)
            within.append(held)
            within_lab.append(held_by_axis)
        mixtures.append(mixture_errors({name: fit.paint for name, fit in by_name.items()}))
    return Outcome(
        errors=np.array(errors),
        within=float(np.mean(within)),
        within_lab=np.mean(within_lab, axis=(0, 1)),
        seconds=tuple(seconds),
        fits=tuple(fits),
        mixture_errors=np.concatenate(mixtures),
    )


@functools.cache
def mixture_truths() -> tuple[tuple[str, float, FloatArray], ...]:
    """Return mixtures of each pigment with the white: name, dry share, rendered colours of three films."""
    found = []
    for name, pigment in judge.HELD_OUT.items():
        if name == WHITE:
            continue
        for share in (0.1, 0.3, 0.6):
            mixture = judge.mix("mixture", [(pigment, share), (judge.HELD_OUT[WHITE], 1.0 - share)])
            seen = judge.render(
                [judge.Film(mixture, (2.0, 6.0, 20.0))], ground=grounds()[0], geometry=GEOMETRY
            )
            found.append((name, share, colour.lab(seen, VIEW)))
    return tuple(found)


def mixture_errors(paints: dict[str, Paint]) -> FloatArray:
    """Return ΔE00 of mixtures with the white predicted from single paints, shape (mixtures · films,)."""
    bare = judge.emergent_reflectance(grounds()[0], geometry=GEOMETRY)
    errors = []
    for name, share, truth in mixture_truths():
        shares = np.array([share, 1.0 - share])
        K = mixing.mixed_constants(constants=[paints[name].K_per_um, paints[WHITE].K_per_um], shares=shares)
        S = mixing.mixed_constants(constants=[paints[name].S_per_um, paints[WHITE].S_per_um], shares=shares)
        below = cones.lay(
            cones.medium(K_per_um=K, S_per_um=S),
            thickness_um=np.array([[2.0], [6.0], [20.0]]),
            over=cones.ground_from_seen(bare, sheen=0.0),
        )
        errors.append(colour.delta_e_2000(colour.lab(cones.seen(below, sheen=0.0), VIEW), truth))
    return np.concatenate(errors)


@functools.cache
def outcomes() -> tuple[Outcome, ...]:
    """Return what came of every condition."""
    return tuple(judged(condition) for condition in CONDITIONS)


def tables() -> dict[str, str]:
    """Return the tables of this section."""
    return {
        "measured-fit": _stacks(),
        "measured-fit-mixtures": _mixtures(),
        "measured-fit-paints": _paints(),
        "measured-fit-time": _times(),
    }


def _stacks() -> str:
    rows = []
    for condition, outcome in zip(CONDITIONS, outcomes(), strict=True):
        held = [f"{100 * share:.0f} %" for share in (outcome.within, *outcome.within_lab)]
        rows.append([condition.words, *four(outcome.errors.ravel()), *held])
    head = [
        "ΔE00 of stacks",
        "mean",
        "median",
        "95 %",
        "largest",
        "90 % range holds: ΔE00",
        "L\\*",
        "a\\*",
        "b\\*",
    ]
    return table(head, rows)


def _mixtures() -> str:
    rows = [
        [condition.words, *four(outcome.mixture_errors)]
        for condition, outcome in zip(CONDITIONS, outcomes(), strict=True)
        if not condition.one_more
    ]
    straight = {}
    for fit in outcomes()[0].fits:
        K, S = judge.HELD_OUT[fit.paint.name].kubelka_munk_per_um()
        straight[fit.paint.name] = dataclasses.replace(fit.paint, K_per_um=K, S_per_um=S)
    rows.append(["nothing fitted: K and S straight from the pigments", *four(mixture_errors(straight))])
    return table(["ΔE00 of mixtures with white", "mean", "median", "95 %", "largest"], rows)


def _paints() -> str:
    outcome = outcomes()[SPRAYED]
    rows = []
    for name in judge.HELD_OUT:
        fits = [fit for fit in outcome.fits if fit.paint.name == name]
        suggestions = [fit.suggestion.words for fit in fits if fit.suggestion is not None]
        rows.append(
            [
                name,
                f"{np.mean([fit.delta_e for fit in fits]):.2f}",
                f"{np.mean([fit.verdict.reach for fit in fits]):.2f}",
                f"{sum(fit.verdict.grade == 'good' for fit in fits)} of {len(fits)}",
                max(set(suggestions), key=suggestions.count) if suggestions else "none",
            ]
        )
    head = [
        "swatches with noise and varying films",
        "swatches, mean ΔE00",
        "reach",
        "called good",
        "one more swatch",
    ]
    return table(head, rows)


def _times() -> str:
    seconds = np.concatenate([outcome.seconds for outcome in outcomes()])
    row = [f"{seconds.size} fits of six swatches", f"{np.median(seconds):.2f}", f"{seconds.max():.2f}"]
    return table(["time of a fit, s", "median", "longest"], [row])
