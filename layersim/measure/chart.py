"""Reading a 24-patch chart that lies beside the card.

The chart lies in the plane of the card, so once the card is placed, its patches are squares of one
size on a square lattice of 6 × 4. They are found as such squares (:mod:`layersim.measure.chartfind`);
which of the lattice's places is the first patch, and which way the chart lies, is told by the colours
alone (:mod:`layersim.measure.chartmisfit`), and a lattice whose colours fit the published ones in no
position is not taken for a chart. A chart that fits no way as it is published may be printed by hand, or
be seen in a mirror: its mirror image, and every order of its rows, are tried next.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.errors import PhotographError
from layersim.measure.card import Rect
from layersim.measure.chart24 import COLUMNS, ROWS, chart_places
from layersim.measure.chartfind import find_lattice
from layersim.measure.chartmisfit import HALF, half_misfits, rough_misfit
from layersim.measure.chartspoilt import spoilt_words, without_covered, without_shaded
from layersim.measure.patches import LightField, PatchReading, read_patch
from layersim.measure.photograph import Photograph
from layersim.measure.rectify import Placement, place_rect, project
from layersim.spectra import FloatArray

PATCH_SHARE: Final = 0.86
"""Side of a patch over the pitch of the lattice: 0.85 to 0.88 on charts of the common makes."""

FEWEST_PIXELS_WIDE: Final = 20
"""A patch must be so wide in the picture: half its width is read, and a hundred pixels at the least."""
_READ_SHARE: Final = 0.25  # taken off each side of a patch, for charts whose gaps are wider
_WORST_MEAN_DE00: Final = 8.0  # of a chart in its right position under a rough 3 × 3; wrong ones reach 15
_WORST_OTHER_DE00: Final = 6.0  # the same in another order: so many are tried that one may fit by chance
_AS_PUBLISHED: Final = tuple(range(ROWS))
_WORST_HALF_DE00: Final = 5.0
"""Of the best half under a rough 3 × 3, in the right position.

On charts computed for four cameras under six lights, half of them in shadow, it came to 4.4 at the most; a
place beside it to 5.1 at the least, upside down and with other colours to 11.
"""


@dataclass(frozen=True, eq=False)
class ChartReading:
    """The chart as the camera saw it."""

    patches: tuple[PatchReading, ...]
    """Row by row as the chart is published, whatever the order of the rows in the picture."""
    corners_px: FloatArray
    """Shape (4, 2): outer corners of the whole, that of the first patch first where the rows are in their
    own order, and on towards the sixth, whichever way the chart lay.
    """
    notes: tuple[str, ...]
    cells_px: FloatArray
    """Shape (24, 4, 2): corners of each of `patches`."""


@dataclass(frozen=True)
class NoChart:
    """No chart could be read."""

    why: str = ""
    """What is wrong with that in the picture; empty where nothing like a chart is."""


def read_chart(
    photograph: Photograph,
    card: Placement,
    light: LightField,
    *,
    whole: Rect | None,
    corners_px: npt.ArrayLike | None = None,
) -> ChartReading | NoChart:
    """Return what the photograph says of a chart lying in the card's plane.

    The card, `whole`, is not searched, and the light over it is carried on to the chart; without one all of
    the picture is searched. `corners_px` are the
    outer corners of the four corner patches, shape (4, 2), clockwise in the picture; which comes first does
    not matter. Raises PhotographError if they are given and the colours there are not a chart's.
    """
    if corners_px is None:
        lattice = find_lattice(photograph, card, whole)
        if lattice is None:
            return NoChart()
        candidates = list(_positions(*lattice))
    else:
        unit = _patch_array(COLUMNS, ROWS)
        given = place_rect(photograph, unit, corners_px, what="chart").to_px
        candidates = [given @ turn for turn in _turns(COLUMNS, ROWS)]
        # A chart standing on its short side: the corners then run round 4 × 6.
        upright = place_rect(photograph, _patch_array(ROWS, COLUMNS), corners_px, what="chart").to_px
        candidates += [upright @ turn for turn in _turns(ROWS, COLUMNS)]
    best, rows, whole_in_picture = _best_position(photograph, card, light, candidates)
    if best is None or not whole_in_picture:
        if best is not None:
            why = "the edge of the picture cuts the 24-patch chart off"
        elif corners_px is None:
            why = (
                "squares such as a 24-patch chart has are in the picture, but their colours are not its "
                "(another kind of chart, or more than half of it is covered, in glare or in shadow)"
            )
        else:
            why = (
                "the colours at the chart's corners are not those of a 24-patch chart of the common "
                "geometry; are they the outer corners of the four corner patches, and is it uncovered?"
            )
        if corners_px is None:
            return NoChart(why)
        raise PhotographError(photograph.path, why)
    to_card = np.linalg.inv(card.to_px) @ best
    placement = Placement(best, card.px_per_mm)
    patches = tuple(
        read_patch(photograph, placement, cell, light, edge_share=_READ_SHARE, to_card=to_card)
        for cell in _patch_rects(rows)
    )
    patches = without_covered(without_shaded(patches))
    bad = [place for place, patch in zip(chart_places(), patches, strict=True) if not patch.usable]
    notes = [f"chart patches not used: {', '.join(bad)} ({spoilt_words(patches)[0]})"] if bad else []
    if rows != _AS_PUBLISHED or np.linalg.det(best[:2, :2]) < 0.0:
        notes.append(
            "the chart is mirrored or its rows are in another order than published: read by its colours"
        )
    outer = project(best, _patch_array(COLUMNS, ROWS).corners_mm)
    cells = np.stack([project(best, cell.corners_mm) for cell in _patch_rects(rows)])
    return ChartReading(patches, outer, tuple(notes), cells)


# -- positions on the lattice, whose pitch is 1 ------------------------------------------------------


def _patch_array(columns: int, rows: int) -> Rect:
    gap = 0.5 * (1.0 - PATCH_SHARE)
    return Rect(gap, gap, columns - 2 * gap, rows - 2 * gap)


def _patch_rects(rows: tuple[int, ...] = _AS_PUBLISHED) -> list[Rect]:
    """Return the places of the 24 patches, published row r lying in the row `rows[r]`."""
    gap = 0.5 * (1.0 - PATCH_SHARE)
    return [
        Rect(column + gap, row + gap, PATCH_SHARE, PATCH_SHARE) for row in rows for column in range(COLUMNS)
    ]


def _turns(columns: int, rows: int) -> list[FloatArray]:
    """Return the maps from the chart's own lattice into one of `columns` × `rows` lying any way."""
    if (columns, rows) == (COLUMNS, ROWS):
        return [
            np.eye(3),
            np.array([[-1.0, 0.0, columns], [0.0, -1.0, rows], [0.0, 0.0, 1.0]]),
        ]
    return [
        np.array([[0.0, -1.0, columns], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]),
        np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, rows], [0.0, 0.0, 1.0]]),
    ]


def _positions(
    lattice: FloatArray, low: npt.NDArray[np.int_], high: npt.NDArray[np.int_]
) -> Iterator[FloatArray]:
    """Give every map from the chart's lattice to pixels that covers the squares that were found."""
    span = high - low + 1
    for columns, rows in ((COLUMNS, ROWS), (ROWS, COLUMNS)):
        if span[0] > columns or span[1] > rows:
            continue
        for x in range(high[0] - columns + 1, low[0] + 1):
            for y in range(high[1] - rows + 1, low[1] + 1):
                shift = np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
                for turn in _turns(columns, rows):
                    yield lattice @ shift @ turn


def _best_position(
    photograph: Photograph, card: Placement, light: LightField, candidates: list[FloatArray]
) -> tuple[FloatArray | None, tuple[int, ...], bool]:
    """Return where colours are a chart's, its rows' places, and whether all of it is in the picture."""
    seen = [_seen(photograph, card, light, candidate) for candidate in candidates]
    misfits = [rough_misfit(rgb) if np.isfinite(rgb).all() else np.inf for rgb in seen]
    if min(misfits, default=np.inf) <= _WORST_MEAN_DE00:
        return candidates[int(np.argmin(misfits))], _AS_PUBLISHED, True
    other, rows = _other_order(photograph, card, light, candidates)
    if other is not None:
        return other, rows, True
    halves = [float(np.sort(half_misfits(rgb))[:HALF].mean()) for rgb in seen]
    if not min(halves, default=np.inf) <= _WORST_HALF_DE00:
        return None, _AS_PUBLISHED, False
    best = int(np.argmin(halves))
    return candidates[best], _AS_PUBLISHED, bool(np.isfinite(seen[best]).all())


_MIRROR: Final = np.array([[-1.0, 0.0, COLUMNS], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])


def _other_order(
    photograph: Photograph, card: Placement, light: LightField, candidates: list[FloatArray]
) -> tuple[FloatArray | None, tuple[int, ...]]:
    """Return the place of a chart that is mirrored or has its rows in another order, and the rows' places."""
    least, best, order = _WORST_OTHER_DE00, None, _AS_PUBLISHED
    for place in itertools.chain(*((candidate, candidate @ _MIRROR) for candidate in candidates)):
        seen = _seen(photograph, card, light, place)
        if not np.isfinite(seen).all():
            continue
        by_row = seen.reshape(ROWS, COLUMNS, 3)
        for rows in itertools.permutations(range(ROWS)):
            misfit = rough_misfit(by_row[list(rows)].reshape(-1, 3))
            if misfit < least:
                least, best, order = misfit, place, rows
    return best, order


def _seen(photograph: Photograph, card: Placement, light: LightField, candidate: FloatArray) -> FloatArray:
    """Return the colours in the middles of the patches, shape (24, 3), NaN outside the picture."""
    middles = np.array([rect.centre_mm for rect in _patch_rects()])
    offsets = np.stack(np.meshgrid([-0.15, 0.0, 0.15], [-0.15, 0.0, 0.15]), axis=-1).reshape(-1, 2)
    points = project(candidate, middles[:, np.newaxis] + offsets)
    at = np.rint(points).astype(int)
    low, high = at.min(axis=1), at.max(axis=1)
    outside = (low < 1).any(axis=1) | (high >= [photograph.width - 1, photograph.height - 1]).any(axis=1)
    at = np.clip(at, 1, [photograph.width - 2, photograph.height - 2])
    samples = [
        photograph.linear(photograph.levels[at[..., 1] + dy, at[..., 0] + dx])
        for dy in (-1, 0, 1)
        for dx in (-1, 0, 1)
    ]
    rgb = np.median(np.concatenate(samples, axis=1), axis=1)
    rgb /= light.at(project(np.linalg.inv(card.to_px) @ candidate, middles))
    return np.where(outside[:, np.newaxis], np.nan, rgb)
