"""From where a photographed card was seen, and from where it was lit.

H of (T1) is what a lens does to a plane: with f its focal length in pixels, its axis through the middle of
the picture, and R, t the card's turn and place (Z. Zhang, IEEE Trans. Pattern Anal. Mach. Intell. 22 (2000)
1330),

    H ∝ diag(f, f, 1) [r₁ r₂ t]                                                                     (T2)

OpenCV finds R and t, and f of one camera from several pictures at several tilts. How the lens bends straight
lines is left out. A picture that was cut has its middle elsewhere, and what it says of sides is then wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.measure.card import CardLayout
from layersim.measure.rectify import Placement
from layersim.spectra import FloatArray

_ASSUMED: Final = 1.0
"""Focal length over the picture's longer side where pictures do not tell it: a phone's (an assumption)."""
_LEAST, _MOST = 0.5, 8.0
_KNOWN_WITHIN: Final = 0.15
"""Relative error of a focal length from several pictures beyond which the usual one is taken instead."""


@dataclass(frozen=True, eq=False)
class Pose:
    """Where the eye and the lamp are: mm right, down and up from the card's upper left corner, (3,)."""

    eye_mm: FloatArray
    lamp_mm: FloatArray
    tilt_deg: float
    """Between the card's normal and the way to the lens, in the middle of the card."""

    def towards(self, points_mm: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return unit vectors from points on the card, (..., 2), to lamp and eye, z up from the card."""
        at = np.asarray(points_mm, dtype=np.float64)
        at = np.concatenate([at, np.zeros((*at.shape[:-1], 1))], axis=-1)
        lamp, eye = (one - at for one in (self.lamp_mm, self.eye_mm))
        return tuple(one / np.linalg.norm(one, axis=-1, keepdims=True) for one in (lamp, eye))


def poses(
    placements: Sequence[Placement],
    layout: CardLayout,
    *,
    width: int,
    height: int,
    lamp_mm: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> tuple[tuple[Pose, ...], str]:
    """Return how one camera saw a card in pictures of one size, and a note where its focal length is a guess.

    `lamp_mm` is where the lamp is beside the lens: right, down and ahead of it.
    """
    import cv2

    corners = np.concatenate([mark.rect.corners_mm for mark in layout.marks] or [layout.whole.corners_mm])
    card = np.pad(corners, ((0, 0), (0, 1))).astype(np.float32)
    seen = [one.pixels(corners).astype(np.float32) for one in placements]
    middle = (0.5 * (width - 1), 0.5 * (height - 1))
    focal_px, words = _found_focal(card, seen, width=width, height=height, middle=middle)
    camera = np.array([[focal_px, 0.0, middle[0]], [0.0, focal_px, middle[1]], [0.0, 0.0, 1.0]])
    found = []
    for points in seen:
        _, turn, place = cv2.solvePnP(card, points, camera, None, flags=cv2.SOLVEPNP_IPPE)
        R, t = cv2.Rodrigues(turn)[0], np.ravel(place)
        # The card's own axes are right and down, so that its third points away from the eye.
        eye, lamp = (R.T @ (one - t) * [1.0, 1.0, -1.0] for one in (np.zeros(3), np.array(lamp_mm)))
        up = eye - [*layout.whole.centre_mm, 0.0]
        tilt = float(np.degrees(np.arccos(up[2] / np.linalg.norm(up))))
        found.append(Pose(eye, lamp, tilt))
    return tuple(found), words


def _found_focal(
    card: npt.NDArray[np.float32],
    seen: Sequence[npt.NDArray[np.float32]],
    *,
    width: int,
    height: int,
    middle: tuple[float, float],
) -> tuple[float, str]:
    import cv2

    longer = max(width, height)
    usual = _ASSUMED * longer
    fixed = cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST
    fixed |= cv2.CALIB_FIX_K1 | cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3 | cv2.CALIB_USE_INTRINSIC_GUESS
    guess = np.array([[usual, 0.0, middle[0]], [0.0, usual, middle[1]], [0.0, 0.0, 1.0]])
    _, camera, _, _, _, off, _, _ = cv2.calibrateCameraExtended(
        [card] * len(seen), list(seen), (width, height), guess, np.zeros(5), flags=fixed
    )
    focal, error = float(camera[0, 0]), float(np.ravel(off)[0])
    if _LEAST * longer < focal < _MOST * longer and error < _KNOWN_WITHIN * focal:
        return focal, ""
    return usual, (
        "the pictures do not tell the lens's focal length, and a phone's usual one was taken: places of the "
        "card may be seen some degrees otherwise"
    )
