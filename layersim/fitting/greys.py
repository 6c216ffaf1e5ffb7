"""The greys of one's own preshade, from two spots of a photograph with something of known colour in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.chance import NINETY
from layersim.colour import GREY_CHROMA
from layersim.errors import LayersimError
from layersim.fitting.chip import SeenSpot

LEAST: Final = 1.0
"""L* that lies between the two at least."""


@dataclass(frozen=True)
class SeenGreys:
    """A preshade's greys as a scheme has them."""

    darkest: float
    lightest: float
    doubt: float
    """By how much each L* may be off, nine times in ten."""
    notes: tuple[str, ...]
    """What speaks against these spots being bare preshade."""

    @property
    def error(self) -> float:
        """One standard deviation, as ``[hand]`` of a scheme has it."""
        return self.doubt / NINETY


def seen_greys(*, shadow: SeenSpot, light: SeenSpot) -> SeenGreys:
    """Return the greys of a preshade from its deepest shadow and its full highlight.

    Raises LayersimError if the highlight is not the lighter one.
    """
    darkest, lightest = float(shadow.lab[0]), float(light.lab[0])
    if lightest - darkest < LEAST:
        raise LayersimError(
            f"found L* {darkest:.0f} at the shadow and L* {lightest:.0f} at the light; expected a lighter "
            "highlight. Are the points the other way round?"
        )
    notes = []
    for name, spot in (("shadow", shadow), ("light", light)):
        chroma = float(np.hypot(spot.lab[1], spot.lab[2]))
        if chroma > GREY_CHROMA + spot.doubt:
            notes.append(
                f"{name}: no grey, its chroma is C* {chroma:.0f}: is it bare preshade, and is there one "
                "kind of light?"
            )
    doubt = max(shadow.lightness_doubt, light.lightness_doubt)
    return SeenGreys(darkest, lightest, doubt, tuple(notes))
