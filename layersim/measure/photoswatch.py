"""Swatches on a photographed card: what was sprayed on which place, and how to read the photograph.

Records alone, like those of :mod:`layersim.measure.swatch`; the photograph itself is read by
:func:`layersim.measure.cardreading.photograph_card` when the paint is fitted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from layersim.measure.card import CardLayout, coats_in_words
from layersim.measure.cardreading import REFERENCES
from layersim.measure.photograph import ENCODINGS
from layersim.measure.swatch import LAID, THIS_PAINT, Laid, Sprayed
from layersim.paint import CARRIERS, HAZARDS, KINDS

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class CardGround:
    """What swatches on a card were painted on."""

    name: str
    patches: tuple[str, ...] = ()
    """Places of the card where it lies bare."""
    paint: str | None = None
    """Name of a primer on the shelf, where no place is bare."""
    sheen: float = 1.0
    """Share of the bare ground's surface reflection that reaches the camera, 0 (gloss) to 1 (matt)."""

    def __post_init__(self) -> None:
        if not self.patches and self.paint is None:
            raise ValueError(f'ground "{self.name}" needs a bare place on the card, or the name of a paint')


@dataclass(frozen=True, eq=False, kw_only=True)
class CardSwatch(Sprayed):
    """One swatch on a card."""

    patch: str
    """The place on the card."""


@dataclass(frozen=True, kw_only=True)
class OtherLight:
    """The same card once more, under another kind of lamp."""

    photograph: Path
    corners_px: Corners | None = None
    chart_corners_px: Corners | None = None
    """`corners_px` and `chart_corners_px`: of the card and of the chart, where they are not found by
    themselves.
    """


@dataclass(frozen=True, eq=False, kw_only=True)
class PhotographedSet:
    """The swatches of one paint on a photographed card.

    Raises ValueError if a value is out of its range, a name stands twice, or a ground or place is not
    there.
    """

    paint: str
    kind: str
    volume_solids: float
    wet_film_um: float
    sheen: float
    """`volume_solids` and `wet_film_um` and `sheen`: as in :class:`layersim.measure.swatch.SwatchSet`. The
    lamp's mirror image must not be in the picture, so the specular reflection counts as excluded.
    """
    photograph: Path
    layout: CardLayout
    """Of the card."""
    grounds: tuple[CardGround, ...]
    swatches: tuple[CardSwatch, ...]
    reference: str = "best"
    """One of :data:`layersim.measure.cardreading.REFERENCES`."""
    encoding: str = "profile"
    """One of :data:`layersim.measure.photograph.ENCODINGS`."""
    corners_px: Corners | None = None
    chart_corners_px: Corners | None = None
    """`corners_px` and `chart_corners_px`: of the card and of the chart, where they are not found by
    themselves.
    """
    other_light: OtherLight | None = None
    """A second photograph."""
    source: Path | None = None
    """The swatches file."""
    invented: bool = False
    provenance: str = ""
    note: str = ""
    carrier: str = ""
    hazards: tuple[str, ...] = ()
    """As in :class:`layersim.paint.Paint`."""
    laid: Laid = "sprayed"
    """How the swatches were laid."""

    def __post_init__(self) -> None:
        if self.laid not in LAID:
            raise ValueError(f"laid must be one of {', '.join(LAID)}")
        if self.kind not in KINDS:
            raise ValueError(f"kind must be one of {', '.join(KINDS)}")
        if self.carrier not in ("", *CARRIERS) or not set(self.hazards) <= set(HAZARDS):
            raise ValueError(f"carrier must be one of {', '.join(CARRIERS)}; hazards of {', '.join(HAZARDS)}")
        if self.reference not in REFERENCES:
            raise ValueError(f"reference must be one of {', '.join(REFERENCES)}")
        if self.encoding not in ENCODINGS:
            raise ValueError(f"encoding must be one of {', '.join(ENCODINGS)}")
        if not 0.0 < self.volume_solids <= 1.0:
            raise ValueError("volume_solids must be above 0 and at most 1")
        if not 0.0 < self.wet_film_um < math.inf:
            raise ValueError("wet_film_um must be above 0")
        if not 0.0 <= self.sheen <= 1.0:
            raise ValueError("sheen must lie within 0..1")
        places = {patch.name for patch in self.layout.patches}
        used = [name for ground in self.grounds for name in ground.patches]
        used += [swatch.patch for swatch in self.swatches]
        if len(set(used)) < len(used):
            raise ValueError("a place on the card is used twice")
        if not set(used) <= places:
            raise ValueError(f"the card has no place {', '.join(sorted(set(used) - places))}")
        grounds = {ground.name for ground in self.grounds}
        for swatch in self.swatches:
            if swatch.ground is not None and swatch.ground not in grounds:
                raise ValueError(f'no ground is named "{swatch.ground}"')
        if not any(swatch.share > 0.0 for swatch in self.swatches):
            raise ValueError(f'no swatch has "{THIS_PAINT}" in it')

    @property
    def photographs(self) -> tuple[Path, ...]:
        """Return the file of every photograph, that which is shown first."""
        return (self.photograph, *(() if self.other_light is None else (self.other_light.photograph,)))


def from_layout(
    layout: CardLayout, *, thinning: float = 0.0, thinning_said: bool = True, sheen: float = 1.0
) -> tuple[tuple[CardGround, ...], tuple[CardSwatch, ...]]:
    """Return the grounds and swatches that a card's layout itself names.

    `thinning`: parts of thinner to one of paint, the same for all. `thinning_said`: as in
    :class:`layersim.measure.swatch.Sprayed`. `sheen`: of the bare grounds. The answer's `grounds`:
    those that have a bare place.

    >>> from layersim.measure.card import standard_card
    >>> grounds, swatches = from_layout(standard_card())
    >>> grounds[0].patches, swatches[0].name, swatches[0].coats
    (('black bare 1', 'black bare 2'), 'half a coat over black', 0.5)
    """
    bare: dict[str, list[str]] = {}
    for patch in layout.patches:
        if patch.coats == 0.0:
            bare.setdefault(patch.ground, []).append(patch.name)
    grounds = tuple(CardGround(name=name, patches=tuple(where), sheen=sheen) for name, where in bare.items())
    swatches = tuple(
        CardSwatch(
            name=f"{coats_in_words(patch.coats)} over {patch.ground}",
            ground=patch.ground,
            coats=patch.coats,
            thinning=thinning,
            thinning_said=thinning_said,
            patch=patch.name,
        )
        for patch in layout.patches
        if patch.coats > 0.0
    )
    return grounds, swatches
