"""The 24-patch chart: its published reflectances, and finding it beside the card.

The chart lies in the plane of the card, so once the card is placed, its patches are squares of one
size on a square lattice of 6 × 4. They are found as such squares; which of the lattice's places is
the first patch, and which way the chart lies, is told by the colours alone, and a lattice whose
colours fit the published ones in no position is not taken for a chart. Glare, a shadow or a hand may
spoil up to half of the patches: the chart is then found by the other half, a least trimmed squares fit
(P. J. Rousseeuw, J. Am. Stat. Assoc. 79 (1984) 871).
"""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.colour import Viewing, delta_e_2000, lab_from_xyz, xyz
from layersim.errors import PhotographError
from layersim.measure.card import Rect
from layersim.measure.patches import LightField, PatchReading, read_patch
from layersim.measure.photograph import Photograph, import_cv2
from layersim.measure.rectify import Placement, fit_projection, place_rect, project
from layersim.resources import data_folder
from layersim.spectra import FloatArray

COLUMNS: Final = 6
ROWS: Final = 4
PATCH_SHARE: Final = 0.86
"""Side of a patch over the pitch of the lattice: 0.85 to 0.88 on charts of the common makes."""

_READ_SHARE: Final = 0.25  # taken off each side of a patch, for charts whose gaps are wider
_SEARCH_SIDE_PX: Final = 1200
_FEWEST_SQUARES: Final = 10
_WORST_MEAN_DE00: Final = 8.0  # of a chart in its right position under a rough 3 × 3; wrong ones reach 15
_FOREIGN_DE00: Final = 15.0
"""Off by this much from what the other patches make of it, a patch shows something that lies on the chart.

On charts rendered through four cameras, with and without a contrast curve, clean patches came to 13 at
the most and patches under a grey thing to 17 at the least.
"""
_BESIDE_DE00: Final = 6.0
"""The same beside such a patch: what lies there may have nearly the colour of one that it hides."""
_MOST_FOREIGN: Final = 8  # of 24; more, and it is the chart that is not the published one
_HALF: Final = COLUMNS * ROWS // 2
_WORST_HALF_DE00: Final = 5.0
"""Of the best half under a rough 3 × 3, in the right position.

On charts computed for four cameras under six lights, half of them in shadow, it came to 4.4 at the most; a
place beside it to 5.1 at the least, upside down and with other colours to 11.
"""
_DRAWS: Final = 400  # of four patches: with half of the chart spoilt, one in twenty is clean
_SHADOW_STEP: Final = 1.15
"""Light on the other patches over that on those in a shadow, at the least.

On the same charts, unspoilt, it came to 1.06; steep and vivid renderings reach more, so it is not enough.
"""
_FEWEST_IN_SHADOW: Final = 3
_MENDED: Final = 0.6
"""What may be left of the misfit when a shadow is taken out; steep and vivid renderings left above 0.65."""
_BEYOND_CARDS: Final = 1.6  # chart is looked for this many card sizes around the card


@functools.cache
def chart_reflectances() -> FloatArray:
    """Return the published reflectances of the 24 patches.

    Returns
    -------
    ndarray, shape (24, 31)
        Row by row from "dark skin" to "black"; averages over many measured charts
        (data/generate/chart_table.py).

    Examples
    --------
    >>> chart_reflectances().shape
    (24, 31)
    """
    table = np.array([values for _, values in _rows()])
    table.setflags(write=False)
    return table


@functools.cache
def chart_names() -> tuple[str, ...]:
    """Return the names of the 24 patches.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> chart_names()[0], chart_names()[-1]
    ('dark skin', 'black 2')
    """
    return tuple(name for name, _ in _rows())


@functools.cache
def _rows() -> tuple[tuple[str, tuple[float, ...]], ...]:
    lines = (data_folder() / "colour" / "chart24.csv").read_text(encoding="utf-8").splitlines()
    cells = [line.split(",") for line in lines if not line.startswith("#")][1:]
    return tuple((name, tuple(float(v) for v in values)) for name, *values in cells)


@dataclass(frozen=True, eq=False)
class ChartReading:
    """The chart as the camera saw it.

    Parameters
    ----------
    patches : tuple of PatchReading, 24 long
        In the order of :func:`chart_names`.
    corners_px : ndarray, shape (4, 2)
        Outer corners of the first, sixth, last and nineteenth patch, whichever way the chart lay.
    notes : tuple of str
    """

    patches: tuple[PatchReading, ...]
    corners_px: FloatArray
    notes: tuple[str, ...]


@dataclass(frozen=True)
class NoChart:
    """No chart could be read.

    Parameters
    ----------
    why : str
        What is wrong with that in the picture; empty where nothing like a chart is.
    """

    why: str = ""


def read_chart(
    photograph: Photograph,
    card: Placement,
    light: LightField,
    *,
    whole: Rect,
    corners_px: npt.ArrayLike | None = None,
) -> ChartReading | NoChart:
    """Return what the photograph says of a chart lying in the card's plane.

    Parameters
    ----------
    photograph : Photograph
    card : Placement
        Of the card.
    light : LightField
        Over the card; it is carried on to the chart.
    whole : Rect
        The card, which is not searched.
    corners_px : array_like, shape (4, 2), optional
        Outer corners of the four corner patches, clockwise in the picture; which of them comes
        first does not matter.

    Returns
    -------
    ChartReading or NoChart
        The latter where no chart is found and no corners were given.

    Raises
    ------
    PhotographError
        If corners were given and the colours there are not those of a chart.
    """
    if corners_px is None:
        lattice = _find_lattice(photograph, card, whole)
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
    best, whole_in_picture = _best_position(photograph, card, light, candidates)
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
    placement = Placement(best, card.px_per_mm, 0.0)
    patches = tuple(
        read_patch(photograph, placement, cell, light, edge_share=_READ_SHARE, to_card=to_card)
        for cell in _patch_rects()
    )
    patches = _without_covered(_without_shaded(patches))
    bad = [name for name, patch in zip(chart_names(), patches, strict=True) if not patch.usable]
    notes = [f"chart patches not used: {', '.join(bad)} ({spoilt_words(patches)[0]})"] if bad else []
    outer = project(best, _patch_array(COLUMNS, ROWS).corners_mm)
    return ChartReading(patches, outer, tuple(notes))


_SHADED: Final = "in a shadow"
_FOREIGN: Final = "not of the chart's colour"
# What a patch's flag begins with, what to call many such patches, what to do about it.
_CAUSES: Final = (
    (_SHADED, "in a shadow", "no shadow on the chart"),
    (_FOREIGN, "not of the chart's colours", "nothing lying on the chart, in even light"),
    ("clipped", "clipped, as bright as the file can say", "less exposure"),
    ("glare", "in glare", "no lamp or window mirrored in the chart"),
    ("shadow", "partly in a shadow", "no shadow on the chart"),
    ("two tones", "of two tones: an edge or a shadow across them", "no shadow on the chart"),
    ("too dark or too pure", "too dark or too pure for the file's colours", "more exposure, or as raw"),
    ("outside", "outside the picture", "the whole chart in the picture"),
    ("too small", "too small", "the camera nearer"),
)


def spoilt_words(patches: tuple[PatchReading, ...]) -> tuple[str, str]:
    """Return why patches of a chart cannot be used, and how to photograph it again.

    Parameters
    ----------
    patches : tuple of PatchReading

    Returns
    -------
    why, remedy : str
        The most frequent cause first, and what mends the main ones; empty where all can be used.
    """
    counts: dict[tuple[str, str], int] = {}
    for patch in patches:
        if not patch.usable:
            cause = next(
                (words for start, *words in _CAUSES if any(flag.startswith(start) for flag in patch.flags)),
                ["uneven", "the chart evenly lit and sharp"],
            )
            counts[cause[0], cause[1]] = counts.get((cause[0], cause[1]), 0) + 1
    by_count = sorted(counts, key=lambda cause: -counts[cause])
    why = "; ".join(f"{counts[cause]} {cause[0]}" for cause in by_count)
    main = [remedy for words, remedy in by_count if 4 * counts[words, remedy] >= sum(counts.values())]
    return why, ", ".join(dict.fromkeys(main))


def _without_covered(patches: tuple[PatchReading, ...]) -> tuple[PatchReading, ...]:
    """Return the patches, those that something lies on marked."""
    usable = np.array([patch.usable for patch in patches])
    if usable.sum() < _HALF:
        return patches
    de = _rough_misfits(np.array([patch.rgb for patch in patches]), known=usable)
    foreign = ((de > _FOREIGN_DE00) & usable).reshape(ROWS, COLUMNS)
    if not 0 < foreign.sum() <= _MOST_FOREIGN:
        return patches
    beside = _neighbours(foreign)
    covered = foreign.ravel() | (beside.ravel() & usable & (de > _BESIDE_DE00))
    return _marked(patches, covered, _FOREIGN)


def _without_shaded(patches: tuple[PatchReading, ...]) -> tuple[PatchReading, ...]:
    """Return the patches, those marked that lie together in less light than all others.

    What a matrix finds is compared with what it should: in a shadow it is a share of it.
    """
    usable = np.array([patch.usable for patch in patches])
    if usable.sum() < _HALF:
        return patches
    rgb = np.array([patch.rgb for patch in patches])
    start = _half_misfits(np.where(usable[:, np.newaxis], rgb, np.nan))
    wanted = xyz(chart_reflectances(), Viewing("D50"))
    found = _rough_fit(rgb, known=usable, start=start)
    light = np.log(np.maximum(found, 0.05) / wanted).mean(axis=1)
    order = np.flatnonzero(usable)[np.argsort(light[usable])]
    steps = np.diff(light[order])
    for last in np.argsort(-steps).tolist():
        if steps[last] < np.log(_SHADOW_STEP):
            break
        # Too dark to be used, perhaps; in the shadow all the same.
        darker = (light < light[order[last]] + 0.5 * steps[last]) & np.isfinite(rgb).all(axis=1)
        shaded = _largest_group(darker.reshape(ROWS, COLUMNS)).ravel()
        enough = [(usable & part).sum() >= _FEWEST_IN_SHADOW for part in (shaded, ~shaded)]
        if not all(enough) or shaded.sum() < 0.75 * darker.sum():
            continue
        gain = np.exp(light[usable & ~shaded].mean() - light[usable & shaded].mean())
        lit = np.where(shaded[:, np.newaxis], gain * rgb, rgb)
        before, after = (
            float(_rough_misfits(seen, rounds=3, steepness=1, known=usable)[usable].mean())
            for seen in (rgb, lit)
        )
        if after < _MENDED * before:
            return _marked(patches, shaded, _SHADED)
    return patches


def _marked(
    patches: tuple[PatchReading, ...], which: npt.NDArray[np.bool_], flag: str
) -> tuple[PatchReading, ...]:
    return tuple(
        replace(patch, usable=False, flags=(flag, *patch.flags)) if off else patch
        for patch, off in zip(patches, which, strict=True)
    )


def _neighbours(which: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    beside = np.zeros_like(which)
    beside[1:] |= which[:-1]
    beside[:-1] |= which[1:]
    beside[:, 1:] |= which[:, :-1]
    beside[:, :-1] |= which[:, 1:]
    return beside


def _largest_group(which: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Return the largest set of places that hang together side by side."""
    largest, left = np.zeros_like(which), which.copy()
    while left.any():
        group = np.zeros_like(which)
        group[tuple(np.argwhere(left)[0])] = True
        while (grown := group | (_neighbours(group) & which)).sum() > group.sum():
            group = grown
        left &= ~group
        if group.sum() > largest.sum():
            largest = group
    return largest


# -- positions on the lattice, whose pitch is 1 ------------------------------------------------------


def _patch_array(columns: int, rows: int) -> Rect:
    gap = 0.5 * (1.0 - PATCH_SHARE)
    return Rect(gap, gap, columns - 2 * gap, rows - 2 * gap)


def _patch_rects() -> list[Rect]:
    gap = 0.5 * (1.0 - PATCH_SHARE)
    return [
        Rect(column + gap, row + gap, PATCH_SHARE, PATCH_SHARE)
        for row in range(ROWS)
        for column in range(COLUMNS)
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
) -> tuple[FloatArray | None, bool]:
    """Return the candidate whose colours are those of a chart, and whether all of it is in the picture."""
    seen = [_seen(photograph, card, light, candidate) for candidate in candidates]
    misfits = [_rough_misfit(rgb) if np.isfinite(rgb).all() else np.inf for rgb in seen]
    if min(misfits, default=np.inf) <= _WORST_MEAN_DE00:
        return candidates[int(np.argmin(misfits))], True
    halves = [float(np.sort(_half_misfits(rgb))[:_HALF].mean()) for rgb in seen]
    if not min(halves, default=np.inf) <= _WORST_HALF_DE00:
        return None, False
    best = int(np.argmin(halves))
    return candidates[best], bool(np.isfinite(seen[best]).all())


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


def _rough_misfit(rgb: FloatArray) -> float:
    """Return the mean ΔE00 left by the best 3 × 3 matrix: small in the right position only.

    The worst four are left out, so that covered or clipped ones do not decide.
    """
    return float(np.sort(_rough_misfits(rgb, rounds=3, steepness=1))[:20].mean())


def _rough_misfits(
    rgb: FloatArray, *, rounds: int = 8, steepness: int = 2, known: npt.NDArray[np.bool_] | None = None
) -> FloatArray:
    """Return the ΔE00 that the best 3 × 3 matrix leaves at each patch, patches far off hardly counting."""
    return _off(_rough_fit(rgb, rounds=rounds, steepness=steepness, known=known))


def _rough_fit(
    rgb: FloatArray,
    *,
    rounds: int = 8,
    steepness: int = 2,
    known: npt.NDArray[np.bool_] | None = None,
    start: FloatArray | None = None,
) -> FloatArray:
    """Return the XYZ that the best 3 × 3 matrix gives each patch, patches far off hardly counting.

    Only those that are known are fitted, at first even, or as `start` says how far they are off.
    """
    wanted = xyz(chart_reflectances(), Viewing("D50"))
    even = 1.0 / (wanted[:, 1] + 10.0)
    if known is not None:
        rgb, even = np.nan_to_num(rgb), np.where(known, even, 0.0)
    weights = even if start is None else even / np.maximum(start, 2.0) ** steepness
    found = wanted
    for _ in range(rounds):
        matrix, *_ = np.linalg.lstsq(
            rgb * weights[:, np.newaxis], wanted * weights[:, np.newaxis], rcond=None
        )
        found = np.maximum(rgb @ matrix, 0.0)
        weights = even / np.maximum(_off(found), 2.0) ** steepness
    return found


def _half_misfits(rgb: FloatArray) -> FloatArray:
    """Return the ΔE00 that the matrix which meets the best half leaves at each patch; infinite where NaN.

    Of matrices through four patches drawn at random, the same every time. With fewer than half of the patches
    all is infinite.
    """
    known = np.flatnonzero(np.isfinite(rgb).all(axis=1))
    off = np.full(len(rgb), np.inf)
    if len(known) < _HALF:
        return off
    wanted = xyz(chart_reflectances()[known], Viewing("D50"))
    weighed = 1.0 / (wanted[:, 1:2] + 10.0)
    drawn = np.random.default_rng(0).random((_DRAWS, len(known))).argpartition(4, axis=1)[:, :4]
    rows, values = (rgb[known] * weighed)[drawn], (wanted * weighed)[drawn]
    normal = np.einsum("dij,dik->djk", rows, rows)
    normal += (1e-9 + 1e-6 * np.trace(normal, axis1=1, axis2=2))[:, np.newaxis, np.newaxis] * np.eye(3)
    matrices = np.linalg.solve(normal, np.einsum("dij,dik->djk", rows, values))
    viewing = Viewing("D50")
    misses = delta_e_2000(
        lab_from_xyz(np.maximum(rgb[known] @ matrices, 0.0), viewing.white),
        lab_from_xyz(wanted, viewing.white),
    )
    off[known] = misses[int(np.argmin(np.sort(misses, axis=1)[:, :_HALF].mean(axis=1)))]
    return off


def _off(found: FloatArray) -> FloatArray:
    """Return how far XYZ of the patches are from the published ones, ΔE00."""
    viewing = Viewing("D50")
    wanted = xyz(chart_reflectances(), viewing)
    return np.asarray(delta_e_2000(lab_from_xyz(found, viewing.white), lab_from_xyz(wanted, viewing.white)))


# -- squares in the plane of the card ----------------------------------------------------------------


def _find_lattice(
    photograph: Photograph, card: Placement, whole: Rect
) -> tuple[FloatArray, npt.NDArray[np.int_], npt.NDArray[np.int_]] | None:
    """Return the map from lattice to pixels and the lowest and highest places found, or None."""
    cv2 = import_cv2(photograph.path)
    seen = _plane_in_view(photograph, card, whole)
    scale = float(min(_SEARCH_SIDE_PX / max(seen.width_mm, seen.height_mm), card.px_per_mm))
    to_plane = np.array([[scale, 0.0, -scale * seen.x_mm], [0.0, scale, -scale * seen.y_mm], [0.0, 0.0, 1.0]])
    size = (int(seen.width_mm * scale), int(seen.height_mm * scale))
    flat = _flattened(cv2, photograph, to_plane @ np.linalg.inv(card.to_px), size, scale / card.px_per_mm)
    hidden = np.rint(project(to_plane, whole.corners_mm)).astype(np.int32)
    squares = _squares(cv2, flat, hidden)
    group = _of_one_size(squares)
    if group is None:
        return None
    fitted = _lattice_through(group)
    if fitted is None:
        return None
    places, centres = fitted
    to_px = np.asarray(card.to_px @ np.linalg.inv(to_plane), dtype=np.float64)
    try:
        in_pixels = project(to_px, centres)
        lattice = fit_projection(places + 0.5, in_pixels)
    except ValueError:
        return None
    return lattice, places.min(axis=0), places.max(axis=0)


def _plane_in_view(photograph: Photograph, card: Placement, whole: Rect) -> Rect:
    """Return the part of the card's plane that the picture shows, not farther than makes sense."""
    w, h = photograph.width - 1.0, photograph.height - 1.0
    from_px = np.asarray(np.linalg.inv(card.to_px), dtype=np.float64)
    corners = project(from_px, [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])
    reach = _BEYOND_CARDS * max(whole.width_mm, whole.height_mm)
    low = np.maximum(corners.min(axis=0), -reach)
    high = np.minimum(corners.max(axis=0), np.array([whole.width_mm, whole.height_mm]) + reach)
    if (high - low < 1.0).any():  # the horizon is in the picture: look around the card only
        low, high = np.full(2, -reach), np.array([whole.width_mm, whole.height_mm]) + reach
    return Rect(float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))


def _flattened(
    cv2: Any, photograph: Photograph, px_to_plane: FloatArray, size: tuple[int, int], shrink: float
) -> Any:
    """Return the plane seen straight on, 8 bits, smoothed enough for its scale."""
    levels: Any = photograph.levels
    steps = max(1, int(1.0 / shrink))
    if steps > 1:
        height, width = levels.shape[0] // steps, levels.shape[1] // steps
        levels = cv2.resize(
            levels[: height * steps, : width * steps], (width, height), interpolation=cv2.INTER_AREA
        )
        half = (steps - 1) / 2.0
        px_to_plane = px_to_plane @ np.array([[steps, 0.0, half], [0.0, steps, half], [0.0, 0.0, 1.0]])
    if levels.dtype == np.uint16:
        levels = cv2.convertScaleAbs(levels, alpha=1.0 / 257.0)
    flat = cv2.warpPerspective(levels, px_to_plane, size, flags=cv2.INTER_LINEAR)
    return cv2.medianBlur(flat, 5)


def _squares(cv2: Any, flat: Any, hidden: npt.NDArray[np.int32]) -> FloatArray:
    """Return squares in a picture: centre x, y, side, angle in radians modulo a quarter turn."""
    found: list[tuple[float, float, float, float]] = []
    kernel = np.ones((3, 3), dtype=np.uint8)
    lab = cv2.cvtColor(flat, cv2.COLOR_RGB2LAB)
    for channel in (*cv2.split(lab), flat[..., 0], flat[..., 2]):
        for low, high in ((8, 25), (20, 60)):
            edges = cv2.dilate(cv2.Canny(channel, low, high), kernel)
            cv2.fillConvexPoly(edges, hidden, 255)
            # The insides of closed outlines are what is left black.
            outlines, _ = cv2.findContours(255 - edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
            for outline in outlines:
                square = _as_square(cv2, outline)
                if square is not None:
                    found.append(square)
    return np.array(found).reshape(-1, 4)


def _as_square(cv2: Any, outline: Any) -> tuple[float, float, float, float] | None:
    area = cv2.contourArea(outline)
    if area < 64.0:
        return None
    (x, y), (w, h), angle = cv2.minAreaRect(outline)
    if min(w, h) < 0.8 * max(w, h) or area < 0.85 * w * h:
        return None
    return float(x), float(y), float(np.sqrt(w * h)), float(np.radians(angle) % (np.pi / 2))


def _of_one_size(squares: FloatArray) -> FloatArray | None:
    """Return the largest set of squares that agree in size and angle, each place once."""
    if len(squares) < _FEWEST_SQUARES:
        return None
    side, angle = squares[:, 2], squares[:, 3]
    alike = np.abs(np.log(side[:, np.newaxis] / side)) < 0.12
    turned = np.abs((angle[:, np.newaxis] - angle + np.pi / 4) % (np.pi / 2) - np.pi / 4)
    alike &= turned < 0.09
    apart = np.linalg.norm(squares[:, np.newaxis, :2] - squares[np.newaxis, :, :2], axis=-1)
    # Another of the same kind must lie a pitch away: lone squares of like size are not a chart.
    neighbour = alike & (apart > 1.02 * side) & (apart < 1.35 * side)
    score = (alike & neighbour.any(axis=1)).sum(axis=1)
    chosen = squares[alike[int(np.argmax(score))] & neighbour.any(axis=1)]
    kept: list[FloatArray] = []
    for square in chosen:
        if all(np.hypot(*(square[:2] - other[:2])) > 0.5 * other[2] for other in kept):
            kept.append(square)
    return np.array(kept) if len(kept) >= _FEWEST_SQUARES else None


def _lattice_through(squares: FloatArray) -> tuple[npt.NDArray[np.int_], FloatArray] | None:
    """Return whole-number places and centres of the squares that lie on one lattice."""
    centres = squares[:, :2]
    angle = float(np.angle(np.exp(4j * squares[:, 3]).mean()) / 4.0)
    axes = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    along = centres @ axes
    apart = np.linalg.norm(along[:, np.newaxis] - along, axis=-1)
    np.fill_diagonal(apart, np.inf)
    pitch = float(np.median(apart.min(axis=1)))
    places: dict[int, npt.NDArray[np.int_]] = {}
    start = int(np.argmin(np.linalg.norm(along - np.median(along, axis=0), axis=1)))
    places[start] = np.zeros(2, dtype=int)
    waiting = [start]
    while waiting:
        here = waiting.pop()
        steps = (along - along[here]) / pitch
        whole = np.rint(steps).astype(int)
        near = (np.abs(steps - whole).max(axis=1) < 0.2) & (np.abs(whole).sum(axis=1) == 1)
        for other in np.flatnonzero(near).tolist():
            if other not in places:
                places[other] = places[here] + whole[other]
                waiting.append(other)
    if len(places) < _FEWEST_SQUARES:
        return None
    chosen = sorted(places)
    return np.array([places[i] for i in chosen]), centres[chosen]
