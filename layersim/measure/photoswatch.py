"""Swatches on a photographed card: what was sprayed on which place, and how to read the photograph.

Records alone, like those of :mod:`layersim.measure.swatch`; the photograph itself is read by
:func:`layersim.measure.cardreading.photograph_card` when the paint is fitted.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from layersim.measure.card import CardLayout, coats_in_words
from layersim.measure.swatch import OfPaint, Sprayed

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
    """Of the card, where it is not found by itself."""
    chart_corners_px: Corners | None = None
    """Of the chart, where it is not found by itself."""


@dataclass(frozen=True, eq=False, kw_only=True)
class PhotographedSet(OfPaint):
    """The swatches of one paint on a photographed card.

    The lamp's mirror image must not be in the picture, so the specular reflection counts as excluded.
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
    """Of the card, where it is not found by itself."""
    chart_corners_px: Corners | None = None
    """Of the chart, where it is not found by itself."""
    other_light: OtherLight | None = None
    """A second photograph."""
    tilted: tuple[Path, ...] = ()
    """Of a metal: the card once more, at other tilts."""
    lamp_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Right, down and ahead of the lens."""

    @property
    def photographs(self) -> tuple[Path, ...]:
        """Return the file of every photograph, that which is shown first."""
        other = () if self.other_light is None else (self.other_light.photograph,)
        return (self.photograph, *other, *self.tilted)


def from_layout(
    layout: CardLayout, *, thinning: float = 0.0, thinning_said: bool = True, sheen: float = 1.0
) -> tuple[tuple[CardGround, ...], tuple[CardSwatch, ...]]:
    """Return the grounds that have a bare place, and the swatches, that a card's layout itself names.

    All swatches are thinned alike, and `sheen` is the bare grounds'.

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
