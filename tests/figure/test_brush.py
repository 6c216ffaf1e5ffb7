"""Rough strokes grow to areas whose masks are known: the example model, and a scene rendered by ourselves."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from layersim.figure.areas import Cover
from layersim.figure.brush import BrushStroke, Canvas, canvas_of, grown
from layersim.resources import data_folder

EXAMPLES = data_folder() / "examples"
CLOTH = (
    BrushStroke("cloth", ((42.0, 22.0), (40.0, 14.0), (50.0, 12.5), (59.0, 15.0), (58.0, 24.0)), 1.5),
    BrushStroke("cloth", ((28.0, 58.0), (32.0, 38.0), (50.0, 36.0), (68.0, 36.0), (80.0, 47.0)), 1.5),
    BrushStroke("cloth", ((27.0, 90.0), (40.0, 62.0), (50.0, 88.0), (62.0, 62.0), (72.0, 90.0)), 1.5),
)
REST = (
    BrushStroke("straps", ((36.0, 54.5), (67.0, 54.5)), 1.5),
    BrushStroke("straps", ((76.0, 57.3), (84.0, 57.3)), 1.0),
    BrushStroke("straps", ((76.0, 68.5), (84.0, 68.5)), 1.0),
    BrushStroke("glass", ((76.0, 63.0), (84.0, 63.0)), 1.5),
    BrushStroke(None, ((50.0, 21.0), (50.0, 28.0)), 1.5),  # the face
    BrushStroke(None, ((66.0, 45.0), (69.0, 50.0)), 1.0),  # between arm and coat
)


def example() -> np.ndarray:
    with Image.open(EXAMPLES / "lamplighter.jpg") as image:
        return np.asarray(image.resize((675, 900), Image.Resampling.BOX))


def noisy(picture: np.ndarray) -> np.ndarray:
    """As a small camera takes it: softer, and with noise of six levels."""
    import cv2

    noise = np.random.default_rng(3).normal(0.0, 6.0, picture.shape[:2])[..., np.newaxis]
    soft = cv2.GaussianBlur(picture.astype(float), (0, 0), 1.2)
    return np.clip(soft + noise, 0.0, 255.0).astype(np.uint8)


@pytest.fixture(scope="module", params=[example, lambda: noisy(example())], ids=["clean", "noisy"])
def canvas(request: pytest.FixtureRequest) -> Canvas:
    return canvas_of(request.param())


def alike(cover: Cover, name: str) -> float:
    """Pixels that a cover and the known mask share, of those that either has."""
    with Image.open(EXAMPLES / f"lamplighter-{name}.png") as image:
        mask = np.asarray(image.convert("L").resize((675, 900))) > 127
    return float(((cover > 127) & mask).sum() / ((cover > 127) | mask).sum())


def test_three_strokes_find_the_cloth(canvas: Canvas) -> None:
    """Belt and face lie within it, and nobody said yet that they are none: 0.91 is as good as can be."""
    assert alike(grown(canvas, CLOTH)["cloth"], "cloth") > 0.85


def test_areas_share_the_picture_out_among_them(canvas: Canvas) -> None:
    found = grown(canvas, (*CLOTH, *REST))
    assert alike(found["cloth"], "cloth") > 0.9
    assert alike(found["straps"], "straps") > 0.8
    assert alike(found["glass"], "glass") > 0.85
    assert sum(cover.astype(int) for cover in found.values()).max() <= 255


def test_what_is_taken_away_is_nobodys_and_a_later_stroke_wins(canvas: Canvas) -> None:
    at = (500, 340)  # on the belt's stroke
    stroke = REST[0]
    cut = BrushStroke(None, stroke.points, stroke.wide)
    assert grown(canvas, (*CLOTH, stroke))["straps"][at] == 255
    found = grown(canvas, (*CLOTH, stroke, cut))
    assert all(cover[at[0] - 9, at[1]] == 0 for cover in found.values())
    assert grown(canvas, (*CLOTH, cut, stroke))["straps"][at] == 255


def test_a_polygon_stays_as_it_is_but_for_what_is_painted_over_it(canvas: Canvas) -> None:
    polygon = np.zeros((900, 675), dtype=np.uint8)
    polygon[760:800, 250:400] = 255
    polygon[759, 250:400] = 100
    found = grown(canvas, CLOTH[:2], outlined={"straps": polygon})
    assert np.array_equal(found["straps"], polygon)
    assert not ((found["cloth"] > 127) & (polygon > 127)).any()
    over = grown(canvas, (BrushStroke("cloth", ((45.0, 86.0),), 2.0),), outlined={"straps": polygon})
    assert over["straps"][774, 303] == 0
    assert over["cloth"][774, 303] == 255


@pytest.mark.parametrize("shape", [(1, 1), (5, 40), (300, 20)])
def test_a_picture_of_one_colour_and_a_tiny_one(shape: tuple[int, int]) -> None:
    """Nothing in it is an edge, and still each pixel is somebody's or nobody's."""
    canvas = canvas_of(np.full((*shape, 3), 90, dtype=np.uint8))
    found = grown(canvas, (BrushStroke("cloth", ((50.0, 50.0),), 1.0),))
    assert found["cloth"].shape == shape
    assert found["cloth"][shape[0] // 2, shape[1] // 2] > 0
    assert grown(canvas, ()) == {}
