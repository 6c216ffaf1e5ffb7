"""One answer of a match, with all that a painter weighs, and the order that this gives."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from layersim import colour
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Area, Coat, Preshade
from layersim.spectra import FloatArray

FILLER: Final = 5.0
"""ΔE00 of closeness."""
MOST_FINALISTS: Final = 14
_PLAINER: Final = 0.05
OTHER_LIGHTS: Final = ("A", "LED-B3", "FL11")
"""Lights under which likeness is judged besides the scheme's own: a bulb, a white LED, a narrow-band tube."""


@dataclass(frozen=True)
class Weights:
    """What each thing that a painter weighs is worth, in ΔE00.

    These are a convention of this package (common practice, no source): an answer that is a little likelier
    to look right does not go before the simpler one.
    """

    chance: float = 2.0
    """Of the whole of the chance that it does not look right on the batch."""
    closeness: float = 0.20
    """Of each ΔE00 of closeness."""
    paint: float = 0.20
    """Of each paint beyond the first."""
    coat: float = 0.05
    """Of each coat beyond the first."""
    drop: float = 0.02
    """Of each drop of a mix beyond six."""
    lights: float = 0.10
    """Of each ΔE00 of unlikeness under other lights."""
    change: float = 0.30
    """Of a change to the rest of the scheme: a filter after, another preshade."""
    thin: float = 0.40
    """Of the whole of a coat that is ink, wash or medium, where no filter is sought: it hides nothing, and
    shows every unevenness."""
    stray: float = 0.50
    """Of each coloured paint in a mix for a grey, whose hue any slip shows: black and white come first."""

    def effort(self, coats: int, drops: Sequence[float]) -> float:
        """Return what laying so many coats and counting so many drops costs."""
        counted = sum(drops) if len(drops) > 1 else 0.0
        return self.coat * (coats - 1) + self.drop * max(0.0, counted - 6.0)


@dataclass(frozen=True, eq=False)
class Answer:
    """One way to bring the tones to their targets."""

    coat: Coat
    """To be laid at the place asked for."""
    area: Area
    """The area with it."""
    preshade: Preshade | None
    """Another preshade than the scheme's; None where it stays."""
    extra: tuple[Coat, ...]
    """Coats to follow it at once, such as a filter."""
    prediction: AreaPrediction
    """Of that area without its local effects, as a preview predicts it."""
    delta_e: FloatArray
    """Shape (counted tones,). ΔE00 from the targets."""
    one_drop: float
    one_coat: float
    film: float
    """Mean ΔE00 by which the tones move: the worst single drop more or less, one coat more, one standard
    deviation of a session's film."""
    lights: dict[str, float] = field(default_factory=dict)
    """Light to mean ΔE00 of unlikeness there, see :func:`unlikeness`."""
    chance: float = 0.0
    """That it looks right on a model of the batch, see :mod:`layersim.decide.likely`."""
    found_closeness: float = 0.0
    """What the search found, with even films."""
    strays: int = 0
    """Coloured paints in the coat, where only greys are asked for."""
    thin: float = 0.0
    """Share of ink, wash and medium in a coat that is no filter."""

    @property
    def mean(self) -> float:
        """Mean ΔE00 over the tones that have targets."""
        return float(self.delta_e.mean())

    @property
    def worst(self) -> float:
        """ΔE00 of the worst tone."""
        return float(self.delta_e.max())

    @property
    def closeness(self) -> float:
        """½ (mean + worst)."""
        return 0.5 * (self.mean + self.worst)

    @property
    def changes_more(self) -> bool:
        """Whether more of the scheme would change than the coat: its preshade, or a filter after."""
        return bool(self.extra) or self.preshade is not None

    @property
    def paints(self) -> frozenset[str]:
        """Names of the paints in it, of what follows it at once, too."""
        coats = (self.coat, *self.extra)
        return frozenset(paint.name for coat in coats for paint, _ in coat.mix.ingredients)

    def merit(self, weights: Weights) -> float:
        """Return what it costs a painter, in ΔE00: the lower the better."""
        coats = self.coat.coats + sum(coat.coats for coat in self.extra)
        return float(
            weights.chance * (1.0 - self.chance)
            + weights.closeness * self.closeness
            + weights.paint * (len(self.paints) - 1)
            + weights.effort(coats, self.coat.mix.parts.tolist())
            + weights.lights * max(self.lights.values(), default=0.0)
            + weights.change * self.changes_more
            + weights.thin * self.thin
            + weights.stray * self.strays
        )


def unlikeness(
    reflectance: FloatArray, wanted: FloatArray | None, *, viewing: colour.Viewing, light: str
) -> FloatArray:
    """Return how unlike the target a colour becomes under another light.

    Where the target's spectrum is known this is CIE 15's special index of metamerism for a change
    of light: a small mismatch under the first light is divided out of the XYZ (the multiplicative
    correction), and what is left under the other is ΔE00. Where the target is a colour only, it has no
    colour under another light; then this is the colour's own inconstancy, its ΔE00 between an eye
    used to the one light and one used to the other.

    `reflectance` and `wanted` have the shape (..., 31). They are matched under `viewing`, and `light` is the
    other. Returns shape (...).
    """
    other = colour.Viewing(light, viewing.observer)
    there = colour.xyz(reflectance, other)
    if wanted is None:
        alike = colour.lab_alike(there, under=other, to=viewing)
        return colour.delta_e_2000(colour.lab(reflectance, viewing), alike)
    here, wanted_here = colour.xyz(reflectance, viewing), colour.xyz(wanted, viewing)
    corrected = there * wanted_here / np.maximum(here, 1e-9)
    return colour.delta_e_2000(colour.lab_from_xyz(corrected, other.white), colour.lab(wanted, other))


def in_order(answers: Sequence[Answer], weights: Weights, *, most: int) -> tuple[Answer, ...]:
    """Return a short list of different answers, best first.

    The closest is always in it, then the best over the preshade that stands and the best with each number of
    paints. The others are taken in order of :meth:`Answer.merit`, each only if it shares fewer than half of
    the paints that it and any answer already taken have together: two that differ in a pinch of a third
    paint are one idea. At most half of them ask for another preshade than the one that stands.
    """
    closest = min(answers, key=lambda answer: answer.closeness)
    ranked = sorted(answers, key=lambda answer: answer.merit(weights))
    counts = sorted({len(answer.coat.mix.ingredients) for answer in ranked})
    firsts = [next(a for a in ranked if len(a.coat.mix.ingredients) == count) for count in counts]
    firsts = [*(a for a in ranked if a.preshade is None)][:1] + firsts
    chosen = [closest]
    for answer in (*firsts, *ranked):
        if len(chosen) == most or answer in chosen:
            continue
        different = all(_likeness(answer, other) < 0.5 for other in chosen)
        # The same paints in another ratio are another answer only where that is plainer.
        plainer = all(
            o.paints != answer.paints or answer.merit(weights) < o.merit(weights) - _PLAINER for o in chosen
        )
        if different or (answer in firsts and plainer):
            chosen.append(answer)
    chosen.sort(key=lambda answer: answer.merit(weights))
    while 2 * sum(answer.preshade is not None for answer in chosen) > len(chosen) > 1:
        chosen.remove([a for a in chosen if a.preshade is not None and a is not closest][-1])
    return tuple(chosen)


def finalists(answers: Sequence[Answer], weights: Weights) -> list[Answer]:
    """Return the answers whose chances are worth drawing.

    What is farther than the closest by more than :data:`FILLER` is none that a painter would take. Of the
    rest the closest is kept, and those that would be best if what is closer were as much likelier. Where all
    of them ask for another preshade, the closest over the one that stands is kept beside them.
    """
    closest = min(answers, key=lambda answer: answer.closeness)
    near = [answer for answer in answers if answer.closeness <= closest.closeness + FILLER]
    plain = dataclasses.replace(weights, chance=0.0, closeness=1.0)
    near.sort(key=lambda answer: (answer is not closest, answer.merit(plain)))
    kept = near[:MOST_FINALISTS]
    for count in {len(answer.coat.mix.ingredients) for answer in near}:
        kept += [a for a in near if len(a.coat.mix.ingredients) == count and a not in kept][:1]
    if all(answer.preshade is not None for answer in kept):
        kept += sorted((a for a in answers if a.preshade is None), key=lambda a: a.closeness)[:1]
    return kept


def _likeness(one: Answer, other: Answer) -> float:
    return len(one.paints & other.paints) / len(one.paints | other.paints)
