"""Where a coat lands, in a painter's words: named parts of the way from deepest shadow to full highlight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from layersim.scheme.records import Where

_NEAR: Final = 3.0
"""L* within which a coat still lands where a name says."""
_PARTS: Final = (
    (0.07, "sliver"),
    (0.15, "tenth"),
    (0.225, "fifth"),
    (0.29, "quarter"),
    (0.37, "third"),
    (0.45, "two fifths"),
    (0.58, "half"),
    (0.71, "two thirds"),
    (0.85, "three quarters"),
)


@dataclass(frozen=True)
class NamedPlace:
    """A named place; its ends and its edge are shares of the way from the deepest shadow to the highlight."""

    words: str
    lightest_from: float | None = None
    darkest_up_to: float | None = None
    edge: float = 0.0

    def on(self, shade: Sequence[float]) -> Where:
        """Return the place on a preshade, whose L* rises from the first of `shade` to its last."""
        dark, wide = shade[0], shade[-1] - shade[0]

        def at(share: float | None) -> float | None:
            return None if share is None else float(round(dark + share * wide))

        if self.lightest_from is None and self.darkest_up_to is None:
            return Where()
        return Where(at(self.lightest_from), at(self.darkest_up_to), float(round(self.edge * wide)))


PLACES: Final = {
    "deep": NamedPlace("deepest shadow", darkest_up_to=0.15, edge=0.2),
    "recesses": NamedPlace("recesses", darkest_up_to=0.35, edge=0.35),
    "everywhere": NamedPlace("everywhere"),
    "raised": NamedPlace("raised parts", lightest_from=0.6, edge=0.3),
    "edges": NamedPlace("edges", lightest_from=0.85, edge=0.2),
}
"""Where coats are mostly sprayed or brushed (common practice, no source; the shares are ours)."""


def place_of(where: Where, shade: Sequence[float]) -> str | None:
    """Return the name in :data:`PLACES` of where a coat lands; None where none fits."""
    for name, place in PLACES.items():
        there = place.on(shade)
        ends = (
            (where.lightest_from, there.lightest_from),
            (where.darkest_up_to, there.darkest_up_to),
        )
        if all(a == b if a is None or b is None else abs(a - b) <= _NEAR for a, b in ends):
            return name
    return None


def place_words(where: Where, shade: Sequence[float]) -> str:
    """Return where a coat lands on a preshade.

    >>> place_words(Where(darkest_up_to=55.0), [20.0, 90.0])
    'the darkest half'
    >>> place_words(Where(50.0, 80.0), [20.0, 90.0])
    'all but the darkest two fifths and the lightest tenth'
    """
    name = place_of(where, shade)
    if name is not None:
        return PLACES[name].words
    dark, wide = shade[0], max(shade[-1] - shade[0], 1e-9)
    below = None if where.lightest_from is None else (where.lightest_from - dark) / wide
    above = None if where.darkest_up_to is None else (dark + wide - where.darkest_up_to) / wide
    if below is None:
        return _tones("darkest", 1.0 - (above or 0.0))
    if above is None:
        return _tones("lightest", 1.0 - below)
    left = [
        f"the {end} {_part(share)}" for end, share in (("darkest", below), ("lightest", above)) if share > 0.0
    ]
    return f"all but {' and '.join(left)}" if left else PLACES["everywhere"].words


def _tones(end: str, share: float) -> str:
    return "nearly everywhere" if share >= 0.95 else f"the {end} {_part(share)}"


def _part(share: float) -> str:
    return next((words for most, words in _PARTS if share < most), "nine tenths")
