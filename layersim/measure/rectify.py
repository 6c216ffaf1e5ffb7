"""Where the card lies in a photograph: from its tags, or from four corners given by hand.

A flat card seen by a straight-lined lens is a projective map (R. Hartley and A. Zisserman,
Multiple View Geometry in Computer Vision, 2nd ed., 2004, section 2.3):

    λ (u, v, 1)ᵀ = H (x, y, 1)ᵀ          (x, y) mm on the card, (u, v) pixels           (T1)

H is fitted to all corners of all tags found (ibid. section 4.1); how badly it fits tells whether the
card is flat and is the card that the layout describes.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.errors import PhotographError
from layersim.measure.card import CardLayout, Rect, standard_card
from layersim.measure.photograph import Levels, Photograph, import_cv2
from layersim.spectra import FloatArray

FEWEST_TAGS: Final = 2
LARGEST_MISFIT_MM: Final = 0.6
"""A card whose tags miss the plane by more than this is bent or is not the card of the layout."""

LARGEST_DOUBT_MM: Final = 0.7
"""Two tags along one side leave the other side in doubt; beyond this much at a corner they do not do."""

_SEARCH_SIDE_PX: Final = 2400
_CORNER_SIGMA_PX: Final = 0.4  # of one tag corner in a JPEG; measured on rendered photographs
_FEWEST_PX_PER_MM: Final = 2.0
# Were the card as long as the picture: its tags are then 40 pixels wide.
_FEWEST_PX_PER_MM_FOR_TAGS: Final = 4.0


@dataclass(frozen=True, eq=False)
class Placement:
    """Where something flat lies in a photograph."""

    to_px: FloatArray
    """Shape (3, 3): H of equation (T1), from mm to pixels; the centre of the first pixel is (0, 0)."""
    px_per_mm: float
    """Scale in the middle of the card."""
    misfit_px: float
    """Root mean square distance of the tags' corners from where H puts them; 0 for four corners."""
    tags: tuple[int, ...] = ()
    """The tags it was fitted to."""
    notes: tuple[str, ...] = ()

    def pixels(self, points_mm: npt.ArrayLike) -> FloatArray:
        """Return pixel positions of points on the card, equation (T1).

        `points_mm` has shape (..., 2). The answer has shape (..., 2).
        """
        return project(self.to_px, points_mm)


def project(matrix: FloatArray, points: npt.ArrayLike) -> FloatArray:
    """Return points carried by a projective map, equation (T1).

    `matrix` has shape (3, 3). `points` has shape (..., 2). The answer has shape (..., 2).

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
    """Return where a card lies, from its tags or from its four corners.

    `corners_px` has shape (4, 2): corners of the card as the upright photograph shows them: clockwise,
    from the card's own upper left one. Raises PhotographError if too few tags are found, they do not
    agree with the layout, the corners are not those of a card, or the card is too small in the picture.
    """
    import_cv2(photograph.path)
    if corners_px is not None:
        placement = place_rect(photograph, layout.whole, corners_px)
    elif layout.fiducials:
        placement = _place_by_tags(photograph, layout)
    else:
        raise PhotographError(
            photograph.path,
            f'the card "{layout.name}" has no tags; give its four corners in the photograph (pixels, '
            "clockwise from the card's upper left)",
        )
    if placement.px_per_mm < _FEWEST_PX_PER_MM:
        raise PhotographError(
            photograph.path,
            f"the card is too small in the picture: {placement.px_per_mm:.1f} pixels a millimetre; "
            f"expected {_FEWEST_PX_PER_MM:g} or more. Go nearer.",
        )
    return placement


def place_rect(
    photograph: Photograph, rect: Rect, corners_px: npt.ArrayLike, *, what: str = "card"
) -> Placement:
    """Return where a rectangle lies whose four corners are given.

    `corners_px` has shape (4, 2): clockwise from the rectangle's upper left corner. `what`: what it is,
    for the message. Raises PhotographError if they are not the corners of a rectangle seen from
    somewhere.
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
    return Placement(fit_projection(rect.corners_mm, corners), _scale(rect, corners), 0.0)


def _scale(rect: Rect, corners: FloatArray) -> float:
    x, y = corners[:, 0], corners[:, 1]
    area = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    return float(np.sqrt(area / (rect.width_mm * rect.height_mm)))


def _place_by_tags(photograph: Photograph, layout: CardLayout) -> Placement:
    wanted = {fiducial.tag: fiducial for fiducial in layout.fiducials}
    found = find_tags(photograph, wanted=wanted)
    expected = f'the tags {_listed(sorted(wanted))} of the card "{layout.name}"'
    advice = (
        "Is the whole card in the picture, sharp and uncovered, and not mirrored? "
        "Otherwise give its four corners (corners_px)."
    )
    longest = max(photograph.width, photograph.height)
    if longest < _FEWEST_PX_PER_MM_FOR_TAGS * max(layout.width_mm, layout.height_mm):
        advice = (
            f"The picture of {photograph.width} × {photograph.height} pixels is too small for the tags: use "
            "the camera's original, not a preview or a copy that was sent."
        )
    seen = [tag for tag, _ in found if tag in wanted]
    twice = sorted({tag for tag in seen if seen.count(tag) > 1})
    if twice:
        raise PhotographError(
            photograph.path, f"tag {_listed(twice)} is seen twice; photograph one card at a time"
        )
    if len(seen) < FEWEST_TAGS:
        others = sorted({tag for tag, _ in found} - set(wanted))
        shown = f"only tag {seen[0]}" if seen else "none of them"
        if len(others) >= FEWEST_TAGS:
            standard = {fiducial.tag for fiducial in standard_card().fiducials}
            whose = " of the card with the usual counts of coats" if set(others) <= standard else ""
            raise PhotographError(
                photograph.path,
                f"this is another card: it bears the tags {_listed(others)}{whose}; the layout "
                f'"{layout.name}" has {_listed(sorted(wanted))}. Name the layout file that was written with '
                'this card: card = "..."',
            )
        raise PhotographError(photograph.path, f"expected {expected}; found {shown}. {advice}")
    corners = {tag: points for tag, points in found if tag in wanted}
    source = np.concatenate([wanted[tag].rect.corners_mm for tag in corners])
    target = np.concatenate(list(corners.values()))
    try:
        to_px = fit_projection(source, target)
    except ValueError as fault:
        raise PhotographError(photograph.path, f"the card's tags do not fit together ({fault})") from None
    misfit = float(np.sqrt(((project(to_px, source) - target) ** 2).sum(axis=1).mean()))
    scale = _scale(layout.whole, project(to_px, layout.whole.corners_mm))
    if misfit > max(LARGEST_MISFIT_MM * scale, 1.5):
        raise PhotographError(
            photograph.path,
            f'the tags lie {misfit / scale:.1f} mm off where the layout "{layout.name}" has them; '
            "is the card bent, or is this the layout of another card?",
        )
    doubt = _doubt_px(to_px, source, layout.whole.corners_mm, max(misfit, _CORNER_SIGMA_PX)) / scale
    missing = sorted(set(wanted) - set(corners))
    if doubt > LARGEST_DOUBT_MM:
        raise PhotographError(
            photograph.path,
            f'tag {_listed(missing)} of the card "{layout.name}" not found; the others place its far side '
            f"only to {doubt:.1f} mm. {advice}",
        )
    notes = []
    if missing:
        notes.append(f"tag {_listed(missing)} not found; placed by the other {len(corners)}")
    return Placement(to_px, scale, misfit, tuple(sorted(corners)), tuple(notes))


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


def find_tags(photograph: Photograph, *, wanted: Collection[int] = ()) -> list[tuple[int, FloatArray]]:
    """Return all AprilTags 36h11 in a photograph.

    Large pictures are searched at a smaller scale and the corners then refined at full scale. Where
    a wanted tag is not found so, other scales are tried: blurred tags are found magnified or shrunk.

    `wanted`: tags to go on looking for. The answer holds number and corners in pixels,
    clockwise from the tag's own upper left.
    """
    cv2 = import_cv2(photograph.path)
    grey = _grey(photograph.levels)
    usual = max(1.0, max(grey.shape) / _SEARCH_SIDE_PX)
    found: list[tuple[int, FloatArray]] = []
    for shrink in (usual, 0.5 * usual, 2.0 * usual):
        missing = set(wanted) - {tag for tag, _ in found}
        if shrink == usual:
            found = _tags_at(cv2, grey, shrink)
        elif missing:
            found += [(tag, points) for tag, points in _tags_at(cv2, grey, shrink) if tag in missing]
    return found


def _tags_at(cv2: Any, grey: Any, shrink: float) -> list[tuple[int, FloatArray]]:
    seen = grey
    if shrink != 1.0:
        how = cv2.INTER_AREA if shrink > 1.0 else cv2.INTER_CUBIC
        seen = cv2.resize(grey, None, fx=1.0 / shrink, fy=1.0 / shrink, interpolation=how)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, tags, _ = cv2.aruco.ArucoDetector(family, settings).detectMarkers(seen)
    if tags is None:
        return []
    found = []
    for tag, quad in zip(np.ravel(tags).tolist(), corners, strict=True):
        points = (np.asarray(quad, dtype=np.float64).reshape(4, 2) + 0.5) * shrink - 0.5
        found.append((int(tag), _sharpened(cv2, grey, points) if shrink > 1.0 else points))
    return found


def _grey(levels: Levels) -> Any:
    """Return the green channel at 8 bits; only edges of black and white are looked for in it."""
    green = levels[..., 1]
    return np.ascontiguousarray(green) if green.dtype == np.uint8 else (green >> 8).astype(np.uint8)


def _sharpened(cv2: Any, grey: Any, points: FloatArray) -> FloatArray:
    """Refine corners at full scale, in windows that stay within the tag's border of one cell."""
    side = float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).min())
    half = int(np.clip(side / 20.0, 2, 15))
    until = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
    start = points.astype(np.float32).reshape(-1, 1, 2)
    refined = cv2.cornerSubPix(grey, start, (half, half), (-1, -1), until)
    return np.asarray(refined, dtype=np.float64).reshape(4, 2)


def _listed(tags: Sequence[int]) -> str:
    return ", ".join(str(tag) for tag in tags)
