"""Finding the card: where it is, and saying so when it is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import PhotographError
from layersim.measure.card import Mark, Rect, standard_card
from layersim.measure.photograph import SRGB_TO_XYZ_D50, Photograph
from layersim.measure.rectify import fit_projection, place_card, place_rect, project
from tests.measure.camera import card_image

cv2 = pytest.importorskip("cv2")

LAYOUT = standard_card()
SIZE = (1200, 900)  # width, height
SQUARE_ON = np.array([[120.0, 90.0], [1080.0, 90.0], [1080.0, 771.0], [120.0, 771.0]])
TILTED = np.array([[180.0, 130.0], [1020.0, 80.0], [1100.0, 800.0], [110.0, 720.0]])


def scene(corners: np.ndarray, *, hide: Sequence[Rect] = (), size: tuple[int, int] = SIZE) -> Photograph:
    """The ideal card laid into a picture, with some of it covered."""
    scale = 12.0
    drawn = card_image(LAYOUT, px_per_mm=scale).astype(np.float32)
    for rect in hide:
        y0, x0 = int(rect.y_mm * scale), int(rect.x_mm * scale)
        drawn[y0 : y0 + int(rect.height_mm * scale), x0 : x0 + int(rect.width_mm * scale)] = 0.5
    from_image = np.array([[1 / scale, 0, 0.5 / scale], [0, 1 / scale, 0.5 / scale], [0, 0, 1.0]])
    to_px = fit_projection(LAYOUT.whole.corners_mm, corners)
    over = np.array([[2, 0, 0.5], [0, 2, 0.5], [0, 0, 1.0]])
    seen = cv2.warpPerspective(
        drawn, over @ to_px @ from_image, (2 * size[0], 2 * size[1]), borderValue=(0.3, 0.3, 0.3)
    )
    seen = cv2.resize(seen, size, interpolation=cv2.INTER_AREA)
    noisy = seen + 0.01 * np.random.default_rng(3).standard_normal(seen.shape)
    return picture(np.clip(noisy * 230, 0, 255).astype(np.uint8))


def picture(levels: np.ndarray) -> Photograph:
    curve = np.repeat(np.linspace(0, 1, 256)[:, None], 3, axis=1)
    return Photograph(Path("shot.png"), np.ascontiguousarray(levels), curve, SRGB_TO_XYZ_D50, 255)


def turned(corners: np.ndarray, degrees: float) -> np.ndarray:
    a = np.radians(degrees)
    middle = np.array(SIZE) / 2
    return (corners - middle) @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) * 0.62 + middle


def test_projection_finds_the_map_that_made_the_points() -> None:
    rng = np.random.default_rng(0)
    source = rng.uniform(0, 100, (20, 2))
    true = np.array([[3.0, 0.2, 40.0], [-0.1, 2.8, 60.0], [2e-4, -1e-4, 1.0]])
    target = project(true, source)
    np.testing.assert_allclose(project(fit_projection(source, target), source), target, atol=1e-3)
    noisy = target + rng.normal(0, 0.3, target.shape)
    # Errors of many points average out.
    assert np.abs(project(fit_projection(source, noisy), source) - target).max() < 0.5


@pytest.mark.parametrize("points", [[[0, 0], [1, 1], [2, 2], [3, 3]], [[0, 0]] * 4, [[0, 0], [1, 0], [0, 1]]])
def test_projection_refuses_lines_and_spots(points: list[list[float]]) -> None:
    with pytest.raises(ValueError, match=r"line|spot|four"):
        fit_projection(points, points)


@pytest.mark.parametrize(
    "corners",
    [SQUARE_ON, TILTED, turned(TILTED, 90), turned(TILTED, 180), turned(TILTED, 217), turned(TILTED, -33)],
    ids=["square on", "tilted", "90", "180", "217", "-33"],
)
def test_card_is_found_to_half_a_pixel(corners: np.ndarray) -> None:
    placement = place_card(scene(corners), LAYOUT)
    assert placement.notes == ()
    assert np.abs(placement.pixels(LAYOUT.whole.corners_mm) - corners).max() < 0.7


def test_one_hidden_mark_is_named_and_done_without() -> None:
    placement = place_card(scene(TILTED, hide=[Rect(2, 2, 16, 16)]), LAYOUT)
    assert placement.notes == ("the card's upper left mark is not seen; placed by the other 3",)
    assert np.abs(placement.pixels(LAYOUT.whole.corners_mm) - TILTED).max() < 2.5


def test_two_marks_on_one_side_do_not_place_the_other() -> None:
    with pytest.raises(PhotographError, match=r"its upper left and upper right marks are not seen.*far side"):
        place_card(scene(TILTED, hide=[Rect(2, 2, 16, 16), Rect(130, 2, 16, 16)]), LAYOUT)


def test_two_marks_across_do() -> None:
    placement = place_card(scene(SQUARE_ON, hide=[Rect(2, 2, 16, 16), Rect(130, 87, 16, 16)]), LAYOUT)
    assert "upper left and lower right marks are not seen" in placement.notes[0]
    assert np.abs(placement.pixels(LAYOUT.whole.corners_mm) - SQUARE_ON).max() < 4.0


def test_no_marks_one_mark() -> None:
    hidden = [Rect(x, y, 16, 16) for x, y in ((2, 2), (130, 2), (130, 87), (2, 87))]
    with pytest.raises(PhotographError, match=r"none of them is seen.*corners_px"):
        place_card(scene(TILTED, hide=hidden), LAYOUT)
    with pytest.raises(PhotographError, match="only its lower left mark is seen"):
        place_card(scene(TILTED, hide=hidden[:3]), LAYOUT)


def test_mirrored_picture() -> None:
    mirrored = picture(scene(TILTED).levels[:, ::-1])
    with pytest.raises(PhotographError, match="not mirrored"):
        place_card(mirrored, LAYOUT)


def test_another_card() -> None:
    other = replace(LAYOUT, marks=tuple(replace(mark, number=mark.number + 10) for mark in LAYOUT.marks))
    with pytest.raises(
        PhotographError,
        match=r'another card than "test card": by its corner marks one with the usual counts of coats\. Name',
    ):
        place_card(scene(TILTED), other)
    moved = replace(LAYOUT, marks=(Mark(0, (30.0, 30.0), 10.0), *LAYOUT.marks[1:]))
    with pytest.raises(PhotographError, match="mm off where the layout"):
        place_card(scene(TILTED), moved)


def test_a_preview_is_too_small_and_said_to_be() -> None:
    small = cv2.resize(scene(TILTED).levels, (320, 240), interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), 1.5)
    with pytest.raises(PhotographError, match=r"320 × 240 pixels is too small for them: use the camera's"):
        place_card(picture(small), LAYOUT)


def test_two_cards() -> None:
    half = scene(SQUARE_ON * 0.5).levels
    both = np.concatenate([half[:, :600], half[:, :600]], axis=1)
    with pytest.raises(PhotographError, match="seen twice"):
        place_card(picture(both), LAYOUT)


def test_card_too_far_away() -> None:
    far = (SQUARE_ON - 600) * 0.25 + 500
    with pytest.raises(PhotographError, match=r"too small in the picture|is seen|not found well enough"):
        place_card(scene(far), LAYOUT)
    with pytest.raises(PhotographError, match="too small in the picture"):
        place_card(scene(far), LAYOUT, corners_px=far)


def test_corners_given_by_hand() -> None:
    bare = replace(LAYOUT, marks=())
    placement = place_card(scene(TILTED), bare, corners_px=TILTED)
    np.testing.assert_allclose(placement.pixels(LAYOUT.whole.corners_mm), TILTED, atol=1e-6)
    with pytest.raises(PhotographError, match="has no corner marks"):
        place_card(scene(TILTED), bare)


@pytest.mark.parametrize(
    ("corners", "says"),
    [
        (TILTED[::-1], "anticlockwise"),
        (TILTED[[0, 2, 1, 3]], "do not go round"),
        (TILTED + np.array([900, 0]), "outside the picture"),
        (TILTED[:3], "four corners"),
        (TILTED * np.nan, "four corners"),
        (np.zeros((4, 2)), "do not go round"),
    ],
)
def test_bad_corners(corners: np.ndarray, says: str) -> None:
    photograph = picture(np.zeros((SIZE[1], SIZE[0], 3), dtype=np.uint8))
    with pytest.raises(PhotographError, match=says):
        place_rect(photograph, LAYOUT.whole, corners)
