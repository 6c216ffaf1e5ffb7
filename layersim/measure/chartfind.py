"""Finding a chart's squares beside the card: squares of one size on a lattice, in the card's plane."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt

from layersim.measure.card import Rect
from layersim.measure.photograph import Photograph
from layersim.measure.rectify import Placement, fit_projection, project
from layersim.spectra import FloatArray

_SEARCH_SIDE_PX: Final = 1200
# How many times a small picture is enlarged: outlines are some pixels wide.
_MOST_ENLARGED: Final = 3.0
_FEWEST_SQUARES: Final = 10
_BEYOND_CARDS: Final = 1.6  # chart is looked for this many card sizes around the card


def find_lattice(
    photograph: Photograph, card: Placement, whole: Rect | None
) -> tuple[FloatArray, npt.NDArray[np.int_], npt.NDArray[np.int_]] | None:
    """Return the map from lattice to pixels and the lowest and highest places found, or None.

    The card, `whole`, is not searched; without one all of the picture is. The map has shape (3, 3), each
    place shape (2,).
    """
    seen = _plane_in_view(photograph, card, whole) if whole is not None else whole_picture(photograph)
    scale = float(min(_SEARCH_SIDE_PX / max(seen.width_mm, seen.height_mm), _MOST_ENLARGED * card.px_per_mm))
    to_plane = np.array([[scale, 0.0, -scale * seen.x_mm], [0.0, scale, -scale * seen.y_mm], [0.0, 0.0, 1.0]])
    size = (int(seen.width_mm * scale), int(seen.height_mm * scale))
    flat = _flattened(photograph, to_plane @ np.linalg.inv(card.to_px), size, scale / card.px_per_mm)
    corners = np.zeros((0, 2)) if whole is None else project(to_plane, whole.corners_mm)
    hidden = np.rint(corners).astype(np.int32)
    squares = _squares(flat, hidden)
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


def whole_picture(photograph: Photograph) -> Rect:
    """Return the whole of a picture, in pixels."""
    return Rect(0.0, 0.0, photograph.width - 1.0, photograph.height - 1.0)


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


def _flattened(photograph: Photograph, px_to_plane: FloatArray, size: tuple[int, int], shrink: float) -> Any:
    """Return the plane seen straight on, 8 bits, smoothed enough for its scale."""
    import cv2

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


def _squares(flat: Any, hidden: npt.NDArray[np.int32]) -> FloatArray:
    """Return squares in a picture: centre x, y, side, angle in radians modulo a quarter turn."""
    import cv2

    found: list[tuple[float, float, float, float]] = []
    kernel = np.ones((3, 3), dtype=np.uint8)
    lab = cv2.cvtColor(flat, cv2.COLOR_RGB2LAB)
    for channel in (*cv2.split(lab), flat[..., 0], flat[..., 2]):
        for low, high in ((8, 25), (20, 60)):
            edges = cv2.dilate(cv2.Canny(channel, low, high), kernel)
            if len(hidden):
                cv2.fillConvexPoly(edges, hidden, 255)
            # The insides of closed outlines are what is left black.
            outlines, _ = cv2.findContours(255 - edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
            for outline in outlines:
                square = _as_square(outline)
                if square is not None:
                    found.append(square)
    return np.array(found).reshape(-1, 4)


def _as_square(outline: Any) -> tuple[float, float, float, float] | None:
    import cv2

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
