"""The 24-patch chart: its table, and finding it whichever way it lies."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from layersim.colour import decode_srgb, encode_srgb
from layersim.errors import PhotographError
from layersim.measure.card import standard_card
from layersim.measure.chart import FEWEST_PIXELS_WIDE, PATCH_SHARE, ChartReading, NoChart, read_chart
from layersim.measure.chart24 import chart_places, chart_reflectances
from layersim.measure.chartfind import whole_picture
from layersim.measure.chartspoilt import spoilt_words
from layersim.measure.patches import even_light, read_light
from layersim.measure.photograph import read_photograph
from layersim.measure.rectify import Placement, place_card
from tests.measure.camera import Frame, Shot, chart_spectra, chart_values, photograph, save_jpeg

cv2 = pytest.importorskip("cv2")

LAYOUT = standard_card()
GROUNDS = {"black": np.full(31, 0.04), "white": np.full(31, 0.85)}
SMALL = Shot(width_px=900, height_px=1200, oversample=1)


def read(
    tmp_path: Path, shot: Shot, *, corners: object = None, frame: Frame | None = None
) -> tuple[Frame, ChartReading | NoChart]:
    taken = frame or photograph(LAYOUT, {}, GROUNDS, shot)
    picture = read_photograph(save_jpeg(tmp_path / "a.jpg", taken))
    placement = place_card(picture, LAYOUT)
    light = read_light(picture, placement, LAYOUT.whole, LAYOUT.surround)
    return taken, read_chart(picture, placement, light, whole=LAYOUT.whole, corners_px=corners)


def test_table_is_the_librarys() -> None:
    np.testing.assert_allclose(chart_reflectances(), chart_spectra(), atol=1e-5)
    assert len(set(chart_places())) == 24


@pytest.mark.parametrize(
    "shot",
    [
        SMALL,
        SMALL.but(camera="D", light="FL2", turn_deg=14.0),
        SMALL.but(turn_deg=95.0, tilt=0.1),
        SMALL.but(turn_deg=180.0, exposure=0.35),
        SMALL.but(noise=0.03, quality=70),
    ],
    ids=["plain", "turned", "on its side", "upside down and dark", "noisy"],
)
def test_found_to_two_pixels(tmp_path: Path, shot: Shot) -> None:
    frame, chart = read(tmp_path, shot)
    assert isinstance(chart, ChartReading)
    assert np.abs(chart.corners_px - frame.chart_corners_px).max() < 2.0


@pytest.mark.parametrize(
    "shot",
    [
        SMALL.but(chart_mirrored=True),
        SMALL.but(chart_mirrored=True, turn_deg=184.0, developed="camera", light="D65"),
        SMALL.but(chart_rows=(2, 0, 1, 3)),
        SMALL.but(chart_rows=(1, 3, 0, 2), chart_mirrored=True, camera="D"),
    ],
    ids=["mirrored", "mirrored, upside down", "rows in another order", "both"],
)
@pytest.mark.parametrize("given", [False, True], ids=["found", "corners given"])
def test_a_chart_in_another_order_is_read_by_its_colours(tmp_path: Path, shot: Shot, given: bool) -> None:
    usual = SMALL.but(camera=shot.camera, light=shot.light, developed=shot.developed)
    _, expected = read(tmp_path, usual)
    frame = photograph(LAYOUT, {}, GROUNDS, shot)
    _, chart = read(tmp_path, shot, frame=frame, corners=frame.chart_corners_px if given else None)
    assert isinstance(chart, ChartReading)
    assert isinstance(expected, ChartReading)
    assert sum(patch.usable for patch in chart.patches) >= sum(patch.usable for patch in expected.patches) - 1
    seen, wanted = (np.array([patch.rgb for patch in found.patches]) for found in (chart, expected))
    np.testing.assert_allclose(seen, wanted, atol=0.03, rtol=0.1)
    assert any("mirrored or its rows are in another order" in note for note in chart.notes)


@pytest.mark.parametrize("patch_px", [FEWEST_PIXELS_WIDE + 1, 26, 40])
def test_small_charts_in_small_pictures_are_read(tmp_path: Path, patch_px: int) -> None:
    """Patches of 21 pixels were not found in 400 × 300 pixels, and nothing said why."""
    pitch = round(patch_px / PATCH_SHARE)
    picture = np.full((300, 400, 3), 0.45)
    picture[10 : 18 + 4 * pitch, 10 : 18 + 6 * pitch] = 0.15
    values, *_ = chart_values(SMALL)
    for i, colour in enumerate(encode_srgb(values)):
        x, y = 14 + pitch * (i % 6), 14 + pitch * (i // 6)
        picture[y : y + patch_px, x : x + patch_px] = colour
    picture += 0.004 * np.random.default_rng(1).standard_normal(picture.shape)
    path = tmp_path / "small.jpg"
    Image.fromarray(np.uint8(255 * picture.clip(0.0, 1.0))).save(path, quality=92)
    small = read_photograph(path)
    whole = whole_picture(small)
    chart = read_chart(small, Placement(np.eye(3), 1.0), even_light(whole), whole=None)
    assert isinstance(chart, ChartReading)
    assert sum(patch.usable for patch in chart.patches) >= 22


def test_absent_is_said_and_wrong_corners_are_refused(tmp_path: Path) -> None:
    frame, chart = read(tmp_path, SMALL.but(chart=None))
    assert chart == NoChart("")
    with pytest.raises(PhotographError, match="not those of a 24-patch chart"):
        read(tmp_path, SMALL, frame=frame, corners=frame.card_corners_px)


@pytest.mark.parametrize("first", range(4))
def test_corners_may_begin_anywhere(tmp_path: Path, first: int) -> None:
    shot = SMALL
    frame = photograph(LAYOUT, {}, GROUNDS, shot)
    assert frame.chart_corners_px is not None
    _, chart = read(tmp_path, shot, frame=frame, corners=np.roll(frame.chart_corners_px, first, axis=0))
    assert isinstance(chart, ChartReading)
    assert np.abs(chart.corners_px - frame.chart_corners_px).max() < 1.0


@pytest.mark.parametrize(
    ("shot", "columns", "cover"),
    [
        (SMALL, 1, (0.5, 0.5, 0.5)),
        (SMALL, 2, (0.6, 0.5, 0.45)),
        (SMALL.but(curve="contrast"), 2, (0.3, 0.3, 0.35)),
    ],
    ids=["a ruler", "a hand, over a patch of nearly its colour", "contrast curve"],
)
def test_what_lies_on_the_chart_is_noticed_and_the_rest_serves(
    tmp_path: Path, shot: Shot, columns: int, cover: tuple[float, float, float]
) -> None:
    frame = photograph(LAYOUT, {}, GROUNDS, shot)
    assert frame.chart_corners_px is not None
    _, clean = read(tmp_path, shot, frame=frame)
    assert isinstance(clean, ChartReading)
    assert all(patch.usable for patch in clean.patches)
    assert clean.notes == ()
    box = [[0, 0], [columns, 0], [columns, 4], [0, 4]]
    corners = frame.chart_corners_px
    across, down = (corners[1] - corners[0]) / 5.85, (corners[3] - corners[0]) / 3.85
    on_it = np.array([corners[0] + x * across + y * down for x, y in box])
    encoded = np.ascontiguousarray(frame.encoded, dtype=np.float32)
    cv2.fillPoly(encoded, [np.rint(on_it).astype(np.int32)], list(cover))
    _, chart = read(tmp_path, shot, frame=replace(frame, encoded=encoded))
    assert isinstance(chart, ChartReading)
    hidden = [not patch.usable for patch in chart.patches]
    assert all(hidden[i] for i in range(24) if i % 6 < columns)
    assert sum(hidden) <= 4 * columns + 2
    assert any(f"({sum(hidden)} not of the chart's colours" in n for n in chart.notes)


def on_chart(frame: Frame, x: float, y: float) -> np.ndarray:
    """Return the pixel of a place on the chart, in patches from its upper left corner."""
    assert frame.chart_corners_px is not None
    corners = frame.chart_corners_px
    return np.asarray(
        corners[0] + x * (corners[1] - corners[0]) / 5.85 + y * (corners[3] - corners[0]) / 3.85
    )


@pytest.mark.parametrize("given", [False, True], ids=["found", "corners given"])
@pytest.mark.parametrize("reach", [(0.55, 0.6), (0.9, 0.7), (1.3, 1.05)], ids=["two", "three", "eight"])
def test_glare_over_neighbouring_patches_leaves_the_others(
    tmp_path: Path, reach: tuple[float, float], given: bool
) -> None:
    frame = photograph(LAYOUT, {}, GROUNDS, SMALL)
    encoded = np.ascontiguousarray(frame.encoded, dtype=np.float32)
    pitch = np.linalg.norm(on_chart(frame, 1, 0) - on_chart(frame, 0, 0))
    middle = tuple(np.rint(on_chart(frame, 1.6, 1.2)).astype(int).tolist())
    axes = tuple(np.rint(np.array(reach) * pitch).astype(int).tolist())
    cv2.ellipse(encoded, middle, axes, 0, 0, 360, (1.0, 1.0, 1.0), -1)
    corners = frame.chart_corners_px if given else None
    _, chart = read(tmp_path, SMALL, frame=replace(frame, encoded=encoded), corners=corners)
    assert isinstance(chart, ChartReading)
    assert np.abs(chart.corners_px - frame.chart_corners_px).max() < 2.0
    unused = [i for i, patch in enumerate(chart.patches) if not patch.usable]
    assert 7 in unused
    assert len(unused) <= 8
    assert "as bright as the file can say" in chart.notes[0]


@pytest.mark.parametrize("depth", [0.5, 0.65, 0.85])
@pytest.mark.parametrize(
    "box", [(-1, -1, 7, 2), (-1, -1, 3, 5), (4, -1, 7, 2)], ids=["two rows", "three columns", "a corner"]
)
def test_patches_in_a_shadow_are_named(
    tmp_path: Path, box: tuple[float, float, float, float], depth: float
) -> None:
    frame = photograph(LAYOUT, {}, GROUNDS, SMALL)
    x0, y0, x1, y1 = box
    places = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    shade = np.ones(frame.encoded.shape[:2], dtype=np.float32)
    outline = np.rint([on_chart(frame, x, y) for x, y in places]).astype(np.int32)
    cv2.fillPoly(shade, [outline], 1.0 - depth)
    darker = encode_srgb(decode_srgb(frame.encoded) * shade[..., np.newaxis])
    _, chart = read(tmp_path, SMALL, frame=replace(frame, encoded=darker))
    assert isinstance(chart, ChartReading)
    inside = [x0 < i % 6 + 0.5 < x1 and y0 < i // 6 + 0.5 < y1 for i in range(24)]
    unused = [not patch.usable for patch in chart.patches]
    assert all(unused[i] for i in range(24) if inside[i])
    assert sum(unused) <= sum(inside) + 1
    assert "in a shadow" in chart.notes[0]
    assert spoilt_words(chart.patches)[1] == "no shadow on the chart"


def test_a_steep_or_vivid_rendering_is_no_shadow(tmp_path: Path) -> None:
    for shot in (SMALL.but(curve="contrast"), SMALL.but(camera="D", light="FL2", curve="contrast")):
        frame = photograph(LAYOUT, {}, GROUNDS, shot)
        grey = frame.encoded.mean(axis=-1, keepdims=True)
        for gain in (1.0, 1.3):
            vivid = np.clip(grey + gain * (frame.encoded - grey), 0.0, 1.0)
            _, chart = read(tmp_path, shot, frame=replace(frame, encoded=vivid))
            assert isinstance(chart, ChartReading)
            assert not any("shadow" in flag for patch in chart.patches for flag in patch.flags)


def test_a_chart_cut_off_or_of_other_colours_is_said(tmp_path: Path) -> None:
    frame = photograph(LAYOUT, {}, GROUNDS, SMALL)
    below = int(on_chart(frame, 3, 2.5)[1])
    cut = replace(frame, encoded=frame.encoded[:below])
    _, chart = read(tmp_path, SMALL, frame=cut)
    assert chart == NoChart("the edge of the picture cuts the 24-patch chart off")
    with pytest.raises(PhotographError, match="lies outside the picture"):
        read(tmp_path, SMALL, frame=cut, corners=frame.chart_corners_px)
    nearly = replace(frame, encoded=frame.encoded[: int(on_chart(frame, 3, 3.2)[1])])
    with pytest.raises(PhotographError, match="cuts the 24-patch chart off"):
        read(tmp_path, SMALL, frame=nearly, corners=frame.chart_corners_px)
    other = frame.encoded.copy()
    start = int(on_chart(frame, 0, -0.5)[1])
    other[start:] = 1.0 - other[start:]
    _, chart = read(tmp_path, SMALL, frame=replace(frame, encoded=other))
    assert isinstance(chart, NoChart)
    assert "their colours are not its" in chart.why
