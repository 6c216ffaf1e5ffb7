"""Where the card lies in a photograph: from its marks, or from four corners given by hand.

A flat card seen by a straight-lined lens is a projective map (R. Hartley and A. Zisserman,
Multiple View Geometry in Computer Vision, 2nd ed., 2004, section 2.3):

    λ (u, v, 1)ᵀ = H (x, y, 1)ᵀ          (x, y) mm on the card, (u, v) pixels           (T1)

H is fitted to all corners of all marks found (ibid. section 4.1); how badly it fits tells whether the
card is flat and is the card that the layout describes.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.errors import PhotographError
from layersim.measure.card import CardLayout, Rect, standard_card
from layersim.measure.photograph import Photograph
from layersim.spectra import FloatArray

FEWEST_MARKS: Final = 2
LARGEST_MISFIT_MM: Final = 0.6
"""A card whose marks miss the plane by more than this is bent or is not the card of the layout."""
LARGEST_DOUBT_MM: Final = 0.7
"""How well the card's corners must be placed: two marks along one side leave the other side in doubt."""

_SEARCH_SIDE_PX: Final = 2400
_CORNER_SIGMA_PX: Final = 0.4  # of one corner of a mark in a JPEG; measured on rendered photographs
_FEWEST_PX_PER_MM: Final = 2.0
# Were the card as long as the picture: its marks are then 40 pixels wide.
_FEWEST_PX_PER_MM_FOR_MARKS: Final = 4.0


@dataclass(frozen=True, eq=False)
class Placement:
    """Where something flat lies in a photograph."""

    to_px: FloatArray
    """Shape (3, 3): H of equation (T1), from mm to pixels; the centre of the first pixel is (0, 0)."""
    px_per_mm: float
    """Scale in the middle of the card."""
    notes: tuple[str, ...] = ()

    def pixels(self, points_mm: npt.ArrayLike) -> FloatArray:
        """Return pixel positions of points on the card, shape (..., 2), by (T1)."""
        return project(self.to_px, points_mm)


def project(matrix: FloatArray, points: npt.ArrayLike) -> FloatArray:
    """Return points of shape (..., 2) carried by a projective map, equation (T1).

    >>> project(np.diag([2.0, 2.0, 1.0]), [3.0, 4.0])
    array([6., 8.])
    """
    xy = np.asarray(points, dtype=np.float64)
    flat = xy @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(flat[..., :2] / flat[..., 2:])


def fit_projection(source: npt.ArrayLike, target: npt.ArrayLike) -> FloatArray:
    """Return the projective map of least squares that carries points (n, 2) to where they should go.

    Raises ValueError if the points are too few or lie on one line.

    >>> square = [[0, 0], [1, 0], [1, 1], [0, 1]]
    >>> doubled = fit_projection(square, [[2, 2], [4, 2], [4, 4], [2, 4]])
    >>> project(doubled, [0.5, 0.5]).round(6)
    array([3., 3.])
    """
    import cv2

    a, b = np.asarray(source, dtype=np.float64), np.asarray(target, dtype=np.float64)
    if a.shape != b.shape or a.ndim != 2 or len(a) < 4:
        raise ValueError("expected four or more pairs of points")
    for points in (a, b):
        spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
        if not spread[1] > 1e-9 * spread[0]:
            raise ValueError("the points lie on one line")
    found, _ = cv2.findHomography(a, b)
    if found is None or not np.isfinite(found).all():
        raise ValueError("the points lie on one line")
    return np.asarray(found, dtype=np.float64)


def place_card(
    photograph: Photograph, layout: CardLayout, *, corners_px: npt.ArrayLike | None = None
) -> Placement:
    """Return where a card lies, from its marks or from its four corners.

    `corners_px` has shape (4, 2): the card's corners in the upright picture, clockwise from the card's own
    upper left. Raises PhotographError if too few marks are found, they do not agree with the layout, the
    corners are not those of a card, or the card is too small in the picture.
    """
    if corners_px is not None:
        placement = place_rect(photograph, layout.whole, corners_px)
    elif layout.marks:
        placement = _place_by_marks(photograph, layout)
    else:
        raise PhotographError(
            photograph.path,
            f'the card "{layout.name}" has no corner marks. Say where its corners are in the picture, in '
            "pixels, clockwise from its upper left: corners_px = [[x, y], [x, y], [x, y], [x, y]]",
        )
    if placement.px_per_mm < _FEWEST_PX_PER_MM:
        raise PhotographError(
            photograph.path,
            f"the card is too small in the picture: {placement.px_per_mm:.1f} pixels a millimetre; "
            f"expected {_FEWEST_PX_PER_MM:g} or more. Photograph it from nearer.",
        )
    return placement


def place_rect(
    photograph: Photograph, rect: Rect, corners_px: npt.ArrayLike, *, what: str = "card"
) -> Placement:
    """Return where a rectangle lies whose four corners are given, clockwise from its upper left.

    `what` it is stands in messages. Raises PhotographError if no rectangle looks so.
    """
    corners = np.asarray(corners_px, dtype=np.float64)
    if corners.shape != (4, 2) or not np.isfinite(corners).all():
        raise PhotographError(photograph.path, f"expected four corners of the {what}, two numbers each")
    size = np.array([photograph.width, photograph.height])
    outside = ((corners < -0.1 * size) | (corners > 1.1 * size)).any(axis=1)
    if outside.any():
        x, y = corners[outside][0]
        raise PhotographError(
            photograph.path,
            f"the {what}'s corner ({x:g}, {y:g}) lies outside the picture of {photograph.width} × "
            f"{photograph.height} pixels (as it is seen upright)",
        )
    sides = np.roll(corners, -1, axis=0) - corners
    following = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    if (turns < 0.0).all():
        raise PhotographError(
            photograph.path, f"the {what}'s corners run anticlockwise; give them clockwise, upper left first"
        )
    if not (turns > 0.0).all() or float(turns.sum()) < 200.0:
        raise PhotographError(
            photograph.path,
            f"the {what}'s four corners do not go round a rectangle; give them clockwise, upper left first",
        )
    return Placement(fit_projection(rect.corners_mm, corners), _scale(rect, corners))


def _scale(rect: Rect, corners: FloatArray) -> float:
    x, y = corners[:, 0], corners[:, 1]
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    return float(np.sqrt(area / (rect.width_mm * rect.height_mm)))


def rough_placement(layout: CardLayout, seen: Mapping[int, FloatArray]) -> Placement | None:
    """Return about where a card lies by the marks that :func:`find_marks` saw, however badly; else None."""
    if len(seen) < FEWEST_MARKS:
        return None
    try:
        to_px = fit_projection(*_pairs(layout, seen))
    except ValueError:
        return None
    return Placement(to_px, _scale(layout.whole, project(to_px, layout.whole.corners_mm)))


def _pairs(layout: CardLayout, seen: Mapping[int, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Return the corners of marks on the card, in millimetres, and in the picture."""
    on_card = {mark.number: mark.rect.corners_mm for mark in layout.marks}
    return np.concatenate([on_card[number] for number in seen]), np.concatenate(list(seen.values()))


def _place_by_marks(photograph: Photograph, layout: CardLayout) -> Placement:
    wanted = {mark.number: mark for mark in layout.marks}
    seen, others = find_marks(photograph, wanted)
    if len(seen) < FEWEST_MARKS:
        if len(others) >= FEWEST_MARKS:
            standard = {mark.number for mark in standard_card().marks}
            whose = "with the usual counts of coats" if others <= standard else "with other counts of coats"
            raise PhotographError(
                photograph.path,
                f'this is another card than "{layout.name}": by its corner marks one {whose}. Name the '
                'layout file that was written with the card in the picture: card = "..."',
            )
        only = f"only its {_which(layout, seen)}" if seen else "none of them is"
        raise PhotographError(
            photograph.path,
            f"the card is not found by its corner marks: {only} seen. {_advice(photograph, layout)}",
        )
    source, target = _pairs(layout, seen)
    try:
        to_px = fit_projection(source, target)
    except ValueError as fault:  # a layout may have marks of no size
        raise PhotographError(photograph.path, f"the card's marks do not fit together ({fault})") from None
    misfit = float(np.sqrt(((project(to_px, source) - target) ** 2).sum(axis=1).mean()))
    scale = _scale(layout.whole, project(to_px, layout.whole.corners_mm))
    if misfit > max(LARGEST_MISFIT_MM * scale, 1.5):
        raise PhotographError(
            photograph.path,
            f'the corner marks lie {misfit / scale:.1f} mm off where the layout "{layout.name}" has them. '
            'Lay the card flat and photograph it again, or name the layout of this very card: card = "..."',
        )
    doubt = _doubt_px(to_px, source, layout.whole.corners_mm, max(misfit, _CORNER_SIGMA_PX)) / scale
    missing = _which(layout, wanted.keys() - seen.keys())
    if doubt > LARGEST_DOUBT_MM:
        raise PhotographError(
            photograph.path,
            f"the card is not found well enough: its {missing} not seen, and the others leave its "
            f"far side open by {doubt:.1f} mm. {_advice(photograph, layout)}",
        )
    notes = (f"the card's {missing} not seen; placed by the other {len(seen)}",) if missing else ()
    return Placement(to_px, scale, notes)


def _which(layout: CardLayout, numbers: Collection[int]) -> str:
    """Return some marks of a card by where they lie, as the beginning of a sentence."""
    words = []
    for mark in layout.marks:
        if mark.number in numbers:
            x, y = mark.centre_mm < layout.whole.centre_mm
            words.append(f"{'upper' if y else 'lower'} {'left' if x else 'right'}")
    return " and ".join(words) + (" mark is" if len(words) == 1 else " marks are") if words else ""


def _advice(photograph: Photograph, layout: CardLayout) -> str:
    longest = max(photograph.width, photograph.height)
    if longest < _FEWEST_PX_PER_MM_FOR_MARKS * max(layout.width_mm, layout.height_mm):
        return (
            f"The picture of {photograph.width} × {photograph.height} pixels is too small for them: use the "
            "camera's original, not a preview or a copy that was sent."
        )
    return (
        "Photograph the whole card again, sharp, with nothing over its corners, and not mirrored. Or say "
        "where its corners are in this picture: corners_px = [[x, y], [x, y], [x, y], [x, y]]"
    )


def _doubt_px(to_px: FloatArray, source: FloatArray, at: FloatArray, sigma_px: float) -> float:
    """Return the largest standard deviation of where H puts some points, given that of its corners."""
    free = np.linalg.inv(_slope_by_h(to_px, source).T @ _slope_by_h(to_px, source))
    slope = _slope_by_h(to_px, at)
    return float(sigma_px * np.sqrt(np.einsum("ij,jk,ik->i", slope, free, slope).max()))


def _slope_by_h(h: FloatArray, points: FloatArray) -> FloatArray:
    """Return the derivative of equation (T1) by the eight free elements of H, u rows then v rows."""
    homogeneous = np.column_stack([points, np.ones(len(points))])
    at = project(h, points)
    over = homogeneous / (homogeneous @ h[2])[:, np.newaxis]
    zero = np.zeros_like(over)
    return np.concatenate(
        [
            np.column_stack([over, zero, -at[:, :1] * over[:, :2]]),
            np.column_stack([zero, over, -at[:, 1:] * over[:, :2]]),
        ]
    )


def find_marks(photograph: Photograph, wanted: Collection[int]) -> tuple[dict[int, FloatArray], set[int]]:
    """Return the corners of the wanted marks in a photograph, and the numbers of the others in it.

    Corners have shape (4, 2), pixels, clockwise from the mark's own upper left. Large pictures are searched
    at a smaller scale and the corners then refined at full scale. Where a mark is not found so, other scales
    are tried: blurred marks are found magnified or shrunk. Raises PhotographError if one is there twice.
    """
    green: Any = photograph.levels[..., 1]
    grey = np.ascontiguousarray(green if green.dtype == np.uint8 else (green >> 8).astype(np.uint8))
    usual = max(1.0, max(grey.shape) / _SEARCH_SIDE_PX)
    found: dict[int, FloatArray] = {}
    others: set[int] = set()
    for shrink in (usual, 0.5 * usual, 2.0 * usual):
        missing = set(wanted) - found.keys()
        if not missing:
            break
        marks = _marks_at(grey, shrink)
        numbers = [number for number, _ in marks]
        if any(numbers.count(number) > 1 for number in missing):
            raise PhotographError(
                photograph.path, "a corner mark is seen twice; photograph one card at a time"
            )
        found |= {number: corners for number, corners in marks if number in missing}
        others |= set(numbers) - set(wanted)
    return found, others


def _marks_at(grey: Any, shrink: float) -> list[tuple[int, FloatArray]]:
    import cv2

    seen = grey
    if shrink != 1.0:
        how = cv2.INTER_AREA if shrink > 1.0 else cv2.INTER_CUBIC
        seen = cv2.resize(grey, None, fx=1.0 / shrink, fy=1.0 / shrink, interpolation=how)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, numbers, _ = cv2.aruco.ArucoDetector(family, settings).detectMarkers(seen)
    found = []
    for number, quad in zip([] if numbers is None else np.ravel(numbers).tolist(), corners, strict=True):
        points = (np.asarray(quad, dtype=np.float64).reshape(4, 2) + 0.5) * shrink - 0.5
        found.append((int(number), _sharpened(grey, points) if shrink > 1.0 else points))
    return found


def _sharpened(grey: Any, points: FloatArray) -> FloatArray:
    """Refine corners at full scale, in windows that stay within the mark's border of one cell."""
    import cv2

    side = float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).min())
    half = int(np.clip(side / 20.0, 2, 15))
    until = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
    start = points.astype(np.float32).reshape(-1, 1, 2)
    refined = cv2.cornerSubPix(grey, start, (half, half), (-1, -1), until)
    return np.asarray(refined, dtype=np.float64).reshape(4, 2)
