"""Where in a photograph what was found, and where what is wrong: for whoever looks at the picture.

A photograph that cannot be read as a card is looked at as far as it goes: a corner that is missing says more
beside those that were found.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from layersim.errors import LayersimError, PhotographError
from layersim.measure.card import CardLayout
from layersim.measure.cardreading import CardReading, card_in, chart_in
from layersim.measure.chart import ChartReading
from layersim.measure.chart24 import chart_places
from layersim.measure.patches import LightField, PatchReading, read_light, read_patch
from layersim.measure.photograph import Photograph
from layersim.measure.rectify import Placement, find_marks, place_card, rough_placement
from layersim.spectra import FloatArray

Kind = Literal["card", "corner mark", "chart", "chart patch", "place", "neutral", "surround"]
_ODD_MM = 1.3
"""Half the width of a place of the surround that is shown as odd."""


@dataclass(frozen=True, eq=False)
class OnPicture:
    """One thing in a picture."""

    kind: Kind
    name: str
    corners: FloatArray
    """Shape (n, 2): shares of the picture's width and height, clockwise; some may lie outside.

    Empty where nobody knows where it is.
    """
    words: tuple[str, ...] = ()
    """What is wrong with it."""
    used: bool = True
    """False where it is left out, or is not there."""


@dataclass(frozen=True, eq=False)
class Looked:
    """A photograph of a card, looked at."""

    photograph: Photograph
    found: tuple[OnPicture, ...]
    reading: CardReading | None
    """None where it cannot be read as the card."""
    fault: str
    """Why it cannot be read; empty where it can."""


def look(
    photograph: Photograph,
    layout: CardLayout,
    *,
    corners_px: npt.ArrayLike | None = None,
    chart_corners_px: npt.ArrayLike | None = None,
    reference: str = "best",
) -> Looked:
    """Return what is found of a card in a photograph; the arguments are those of :func:`card_in`."""
    eye = _Eye(photograph, layout)
    reading, fault = None, ""
    try:
        reading = card_in(
            photograph,
            layout,
            corners_px=corners_px,
            chart_corners_px=chart_corners_px,
            reference=reference,
        )
    except PhotographError as told:
        fault = str(told)
    if reading is not None:
        patches = [(patch.flags, patch.tells) for patch in reading.patches]
        found = eye.card(reading.placement, reading.light, patches, reading.chart)
    else:
        found = eye.as_far_as_it_goes(corners_px, chart_corners_px)
    marks = eye.marks(reading.placement if reading is not None else None) if corners_px is None else []
    return Looked(photograph, (*found, *marks), reading, fault)


class _Eye:
    """Turns what was read of a photograph into things with a place in it."""

    def __init__(self, photograph: Photograph, layout: CardLayout) -> None:
        self.photograph, self.layout = photograph, layout
        self.size = np.array([photograph.width, photograph.height], dtype=np.float64)

    def marks(self, placement: Placement | None) -> list[OnPicture]:
        """Return the corner marks that are seen, and where those that are not should be."""
        wanted = {mark.number: mark for mark in self.layout.marks}
        try:
            seen, _ = find_marks(self.photograph, wanted)
        except PhotographError:
            return []
        found = [self._at("corner mark", self._corner(n), corners) for n, corners in seen.items()]
        placement = placement or rough_placement(self.layout, seen)
        for number in sorted(wanted.keys() - seen.keys()):
            corners = np.empty((0, 2))
            if placement is not None:
                corners = placement.pixels(wanted[number].rect.corners_mm)
            found.append(self._at("corner mark", self._corner(number), corners, ("not seen",), used=False))
        return found

    def _corner(self, number: int) -> str:
        [mark] = [mark for mark in self.layout.marks if mark.number == number]
        x, y = mark.centre_mm < self.layout.whole.centre_mm
        return f"{'upper' if y else 'lower'} {'left' if x else 'right'}"

    def as_far_as_it_goes(
        self, corners_px: npt.ArrayLike | None, chart_corners_px: npt.ArrayLike | None
    ) -> list[OnPicture]:
        """Return what is found of a card that cannot be read."""
        photograph, layout = self.photograph, self.layout
        try:
            placement = place_card(photograph, layout, corners_px=corners_px)
        except PhotographError:
            return []
        light = read_light(photograph, placement, layout.whole, layout.surround)
        chart: ChartReading | None = None
        with contextlib.suppress(LayersimError):
            sought = chart_in(photograph, placement, light, layout, chart_corners_px)
            chart = sought if isinstance(sought, ChartReading) else None
        readings = [read_patch(photograph, placement, patch.rect, light) for patch in layout.patches]
        return self.card(placement, light, [_told(reading) for reading in readings], chart)

    def card(
        self,
        placement: Placement,
        light: LightField,
        patches: Sequence[tuple[tuple[str, ...], bool]],
        chart: ChartReading | None,
    ) -> list[OnPicture]:
        """Return a card that was placed: its places, neutrals and surround, and the chart beside it."""
        layout = self.layout
        found = [self._at("card", layout.name, placement.pixels(layout.whole.corners_mm))]
        for patch, (flags, used) in zip(layout.patches, patches, strict=True):
            corners = placement.pixels(patch.rect.corners_mm)
            found.append(self._at("place", patch.name, corners, flags, used=used))
        if chart is None:
            for neutral in layout.neutrals:
                reading = read_patch(self.photograph, placement, neutral.rect, light)
                corners = placement.pixels(neutral.rect.corners_mm)
                found.append(self._at("neutral", neutral.name, corners, reading.flags, used=reading.usable))
        else:
            found.append(self._at("chart", "24-patch chart", chart.corners_px))
            for name, reading, corners in zip(chart_places(), chart.patches, chart.cells_px, strict=True):
                if not reading.usable:
                    found.append(self._at("chart patch", name, corners, reading.flags, used=False))
        square = _ODD_MM * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
        words = ("shadow, glare or overspray",)
        for at in light.odd_mm:
            found.append(self._at("surround", "", placement.pixels(at + square), words, used=False))
        return found

    def _at(
        self,
        kind: Kind,
        name: str,
        corners_px: FloatArray,
        words: tuple[str, ...] = (),
        *,
        used: bool = True,
    ) -> OnPicture:
        # The centre of the first pixel is (0, 0).
        return OnPicture(kind, name, (np.asarray(corners_px) + 0.5) / self.size, words, used)


def _told(reading: PatchReading) -> tuple[tuple[str, ...], bool]:
    return reading.flags, reading.usable or reading.only_cut_off
