"""The 24-patch chart: its table, and finding it whichever way it lies."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import PhotographError
from layersim.measure.card import standard_card
from layersim.measure.chart import ChartReading, chart_names, chart_reflectances, read_chart
from layersim.measure.patches import read_light
from layersim.measure.photograph import read_photograph
from layersim.measure.rectify import place_card
from tests.measure.camera import Frame, Shot, chart_spectra, photograph, save_jpeg

cv2 = pytest.importorskip("cv2")

LAYOUT = standard_card()
GROUNDS = {"black": np.full(31, 0.04), "white": np.full(31, 0.85)}
SMALL = Shot(width_px=900, height_px=1200, oversample=1)


def read(
    tmp_path: Path, shot: Shot, *, corners: object = None, frame: Frame | None = None
) -> tuple[Frame, ChartReading | None]:
    taken = frame or photograph(LAYOUT, {}, GROUNDS, shot)
    picture = read_photograph(save_jpeg(tmp_path / "a.jpg", taken))
    placement = place_card(picture, LAYOUT)
    light = read_light(picture, placement, LAYOUT.whole, LAYOUT.surround)
    return taken, read_chart(picture, placement, light, whole=LAYOUT.whole, corners_px=corners)


def test_table_is_the_librarys() -> None:
    np.testing.assert_allclose(chart_reflectances(), chart_spectra(), atol=1e-5)
    assert len(chart_names()) == 24


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
    assert chart is not None
    assert np.abs(chart.corners_px - frame.chart_corners_px).max() < 2.0


def test_absent_is_none_and_wrong_corners_are_refused(tmp_path: Path) -> None:
    frame, chart = read(tmp_path, SMALL.but(chart=None))
    assert chart is None
    with pytest.raises(PhotographError, match="not those of a 24-patch chart"):
        read(tmp_path, SMALL, frame=frame, corners=frame.card_corners_px)


@pytest.mark.parametrize("first", range(4))
def test_corners_may_begin_anywhere(tmp_path: Path, first: int) -> None:
    shot = SMALL
    frame = photograph(LAYOUT, {}, GROUNDS, shot)
    assert frame.chart_corners_px is not None
    _, chart = read(tmp_path, shot, frame=frame, corners=np.roll(frame.chart_corners_px, first, axis=0))
    assert chart is not None
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
    assert clean is not None
    assert all(patch.usable for patch in clean.patches)
    assert clean.notes == ()
    box = [[0, 0], [columns, 0], [columns, 4], [0, 4]]
    corners = frame.chart_corners_px
    across, down = (corners[1] - corners[0]) / 5.85, (corners[3] - corners[0]) / 3.85
    on_it = np.array([corners[0] + x * across + y * down for x, y in box])
    encoded = np.ascontiguousarray(frame.encoded, dtype=np.float32)
    cv2.fillPoly(encoded, [np.rint(on_it).astype(np.int32)], list(cover))
    _, chart = read(tmp_path, shot, frame=replace(frame, encoded=encoded))
    assert chart is not None
    hidden = [not patch.usable for patch in chart.patches]
    assert all(hidden[i] for i in range(24) if i % 6 < columns)
    assert sum(hidden) <= 4 * columns + 2
    assert any(f"({sum(hidden)} not of the chart's colours" in n for n in chart.notes)
