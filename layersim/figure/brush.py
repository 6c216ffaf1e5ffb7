"""Areas painted roughly with a brush: strokes grow to the edges that the picture shows.

A preshade is grey, so lightness and its steps are most of what there is. The picture is cut into small pieces
along its own edges, by a watershed from a kept library. Pieces that touch are joined by

    w = n exp(-(d / σ)²),    σ = max(noise of the picture, σ₀)                                  (F7)

with n the pixels of their border and d the step of L*a*b* across it. Pieces under a stroke belong to its
area, those at the picture's own edge to none. Each other piece goes to the area that a random walk from it
most likely comes to first. With L the graph's Laplacian, u the open pieces, s the others and M their areas,

    L_uu X = -L_us M                                                                            (F8)

(L. Grady, "Random walks for image segmentation", IEEE Trans. PAMI 28, 2006). All areas are found at once, so
no pixel belongs to two. Where areas meet, a last watershed over the picture's own pixels says which.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.figure.areas import Cover
from layersim.figure.repaint import Picture
from layersim.spectra import FloatArray

_CUTS: Final = ((9, 1.2), (11, 1.5), (10, 1.5), (12, 1.8))
"""How wide pieces are, and by how much the picture is blurred before, in pixels. One way to cut it may miss
an edge, so several are added up. These were chosen by how well rough strokes find known masks."""
_FINE_BLUR_PX: Final = 1.0
_LEAST_STEP: Final = 0.3
"""σ₀: a step of L*a*b* from a pixel to the next that is no edge, in a picture without noise."""
_UNSURE_PX: Final = 3
"""So far from a border between areas the last watershed may move it."""
_THIN: Final = 1e-4
"""What joins two pieces however strong the edge is between them, or the system could not be solved."""
_NOTHING: Final = 1
"""Label of what belongs to no area. 0 is what nobody painted, and areas come after."""

Labels = npt.NDArray[np.int32]
Lab = Any
"""L*a*b* of each pixel, shape (height, width, 3), 32 bits."""


@dataclass(frozen=True)
class BrushStroke:
    """One stroke of the brush."""

    area: str | None
    """None: what is painted belongs to no area."""
    points: tuple[tuple[float, float], ...]
    """X,Y in per cent of the picture from its upper left corner; one alone is a dab."""
    wide: float
    """In per cent of the picture's longer side."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """A picture in pieces."""

    of_pixel: Labels
    """Number of each pixel's piece, shape (height, width)."""
    pairs: npt.NDArray[np.intp]
    """Pieces that touch, shape (n, 2)."""
    weights: FloatArray
    """What joins them, (F7), shape (n,)."""


@dataclass(frozen=True, eq=False)
class Canvas:
    """A picture made ready for the brush."""

    cuts: tuple[Pieces, ...]
    fine: Picture
    """The picture as the last watershed looks at it."""


def canvas_of(picture: Picture) -> Canvas:
    """Return a picture of 8 bits, as large as a screen, made ready for the brush."""
    import cv2

    lab = cv2.cvtColor(picture.astype(np.float32) / np.float32(255.0), cv2.COLOR_RGB2LAB)
    cuts = tuple(_cut(cv2.GaussianBlur(lab, (0, 0), blur), side) for side, blur in _CUTS)
    fine = cv2.GaussianBlur(lab, (0, 0), _FINE_BLUR_PX) * 2.5 + np.array([0.0, 128.0, 128.0])
    return Canvas(cuts, np.clip(fine, 0.0, 255.0).astype(np.uint8))


def _cut(lab: Lab, side: int) -> Pieces:
    """Return a picture cut along its own edges, into pieces about so many pixels wide."""
    import cv2

    across, down = (cv2.Sobel(lab, cv2.CV_32F, *by, scale=1 / 8) for by in ((1, 0), (0, 1)))
    slope = np.sqrt((across**2 + down**2).sum(axis=-1))
    height, width = slope.shape
    side = min(side, height, width)
    rows, columns = height // side, width // side
    cells = slope[: rows * side, : columns * side].reshape(rows, side, columns, side)
    flattest = cells.transpose(0, 2, 1, 3).reshape(rows, columns, -1).argmin(axis=-1)
    seeds = np.zeros((height, width), dtype=np.int32)
    y = np.arange(rows)[:, np.newaxis] * side + flattest // side
    x = np.arange(columns) * side + flattest % side
    seeds[y, x] = 1 + np.arange(rows * columns, dtype=np.int32).reshape(rows, columns)
    heights = np.clip(slope * 40.0, 0.0, 255.0).astype(np.uint8)
    of_pixel = _watershed(np.dstack([heights] * 3), seeds) - 1
    return Pieces(of_pixel, *_joined(of_pixel, lab, rows * columns))


def _watershed(picture: Picture, seeds: Labels) -> Labels:
    import cv2

    # It leaves a frame of one pixel, so that is laid around.
    found = np.pad(seeds, 1)
    cv2.watershed(np.pad(picture, ((1, 1), (1, 1), (0, 0)), mode="edge"), found)
    found = np.ascontiguousarray(found[1:-1, 1:-1])
    # What it leaves between two is a line, one pixel wide, and the picture's own edge.
    while (between := found < 1).any():
        near = cv2.dilate(np.where(between, 0, found).astype(np.float32), np.ones((3, 3), np.uint8))
        found = np.where(between, near, found).astype(np.int32)
    return found


def _joined(of_pixel: Labels, lab: Lab, many: int) -> tuple[npt.NDArray[np.intp], FloatArray]:
    """Return which pieces touch, and the weights of (F7)."""
    ends, steps, noise = [], [], []
    for one, other in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        step = ((lab[one] - lab[other]) ** 2).sum(axis=-1)
        border = of_pixel[one] != of_pixel[other]
        ends.append(np.sort(np.stack([of_pixel[one][border], of_pixel[other][border]], axis=-1), axis=-1))
        steps.append(step[border])
        noise.append(np.median(step[~border]) if not border.all() else 0.0)
    low, high = np.concatenate(ends).astype(np.int64).T
    keys, of_key, count = np.unique(low * many + high, return_inverse=True, return_counts=True)
    square = np.bincount(of_key, np.concatenate(steps), minlength=len(keys)) / count
    sigma = max(float(np.sqrt(np.mean(noise))), _LEAST_STEP)
    return np.stack(np.divmod(keys, many), axis=-1), count * (np.exp(-square / sigma**2) + _THIN)


def grown(
    canvas: Canvas, strokes: Sequence[BrushStroke], *, outlined: Mapping[str, Cover] | None = None
) -> dict[str, Cover]:
    """Return what strokes grow to, by areas. Where strokes cross, the later one has the pixels.

    `outlined` are areas that were marked otherwise: they do not grow but by strokes of their own, and strokes
    of others take from them.
    """
    import cv2

    outlined = outlined or {}
    painted = dict.fromkeys(stroke.area for stroke in strokes if stroke.area is not None)
    names = list(dict.fromkeys([*outlined, *painted]))
    number = {name: _NOTHING + 1 + i for i, name in enumerate(names)}
    given = np.zeros(canvas.fine.shape[:2], dtype=np.int32)
    for name, cover in outlined.items():
        given[cover > 127] = number[name]
    for stroke in strokes:
        given[_under(stroke, given.shape)] = number.get(stroke.area or "", _NOTHING)
    of_pixel = _spread(canvas, given, len(names)) if painted else given
    found = {}
    for name in names:
        if name in painted:
            there = (of_pixel == number[name]).astype(np.float32) * np.float32(255.0)
            # Smooth as a polygon's edge is; rounded down, so that shares of a pixel add up to no more.
            found[name] = cv2.GaussianBlur(there, (3, 3), 0).astype(np.uint8)
        else:
            taken = (given != number[name]) & (given > 0)
            found[name] = np.where(taken, 0, outlined[name]).astype(np.uint8)
    return found


def _under(stroke: BrushStroke, shape: tuple[int, ...]) -> npt.NDArray[np.bool_]:
    import cv2

    height, width = shape
    there = np.zeros(shape, dtype=np.uint8)
    ends = np.rint(np.array(stroke.points) / 100.0 * [width - 1, height - 1]).astype(np.int32)
    wide = max(round(stroke.wide / 100.0 * max(shape)), 1)
    cv2.polylines(there, [ends], isClosed=False, color=(1,), thickness=wide)
    for end in (ends[0], ends[-1]):  # round at both ends, and a dab a disc
        cv2.circle(there, end.tolist(), wide // 2, (1,), cv2.FILLED)
    return there > 0


def _spread(canvas: Canvas, given: Labels, areas: int) -> Labels:
    """Return the label of every pixel: as given, else what the random walks from it come to."""
    import cv2

    labels = areas + _NOTHING + 1
    chances = sum(_chances(cut, given, labels)[cut.of_pixel] for cut in canvas.cuts)
    found = np.where(given > 0, given, np.argmax(chances, axis=-1)).astype(np.uint8)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * _UNSURE_PX + 1,) * 2)
    sure = (cv2.erode(found, disc) == cv2.dilate(found, disc)) | (given > 0)
    return _watershed(canvas.fine, np.where(sure, found, 0).astype(np.int32))


def _chances(cut: Pieces, given: Labels, labels: int) -> npt.NDArray[np.float32]:
    """Return how likely each piece is of each label, (F8), shape (pieces, labels)."""
    from scipy.sparse import coo_array, diags_array
    from scipy.sparse.linalg import splu

    many = int(cut.of_pixel.max()) + 1
    votes = np.zeros((many, labels))
    np.add.at(votes, (cut.of_pixel[given > 0], given[given > 0]), 1.0)
    # What is at the picture's own edge is no area's, unless it was painted.
    for edge in (np.s_[0], np.s_[-1], np.s_[:, 0], np.s_[:, -1]):
        votes[np.unique(cut.of_pixel[edge]), _NOTHING] += 0.1
    found = np.eye(labels)[votes.argmax(axis=-1)]
    is_open = votes.max(axis=-1) == 0.0
    if is_open.any():
        one, other = cut.pairs.T
        ends = np.concatenate([one, other]), np.concatenate([other, one])
        joined = coo_array((np.concatenate([cut.weights] * 2), ends), shape=(many, many)).tocsr()
        laplacian = (diags_array(joined.sum(axis=1)) - joined).tocsr()
        sides = -(laplacian[is_open][:, ~is_open] @ found[~is_open])
        found[is_open] = splu(laplacian[is_open][:, is_open].tocsc()).solve(sides)
    return np.asarray(found, dtype=np.float32)
