"""A metal from rendered photographs of a tilted board: the side it is seen from, and what comes of it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from data.generate import example_metal as example
from layersim.errors import FitError
from layersim.fitting.metalphoto import fit_tilted
from layersim.fitting.photographed import fit_readings
from layersim.measure.card import standard_card
from layersim.measure.photoswatch import PhotographedSet, from_layout
from layersim.measure.pose import poses
from layersim.measure.rectify import Placement, fit_projection, project
from layersim.measure.swatchfile import read_any_swatches
from layersim.optics import cones, flakes
from layersim.spectra import BANDS, FloatArray
from tests.measure import camera

LAYOUT = standard_card()
WIDTH, HEIGHT, FOCAL_PX = 1200, 1600, 1500.0
TILTS_DEG = (8.0, 22.0, 45.0)


def seen_from(tilt_deg: float, *, focal_px: float = FOCAL_PX) -> tuple[FloatArray, FloatArray]:
    """Return the map from the scene's mm to pixels of a lens without faults, and the eye over the card."""
    tilt = np.radians(tilt_deg)
    away = np.array([0.0, np.sin(tilt), -np.cos(tilt)])
    eye = np.array([*camera.SCENE_MM, 0.0]) / 2.0 + 480.0 * focal_px / FOCAL_PX * away
    right = np.array([1.0, 0.0, 0.0])
    R = np.stack([right, np.cross(-away, right), -away])
    lens = np.array([[focal_px, 0.0, (WIDTH - 1) / 2], [0.0, focal_px, (HEIGHT - 1) / 2], [0.0, 0.0, 1.0]])
    to_px = lens @ np.column_stack([R[:, 0], R[:, 1], -R @ eye])
    return to_px / to_px[2, 2], eye * [1.0, 1.0, -1.0] - [*camera._CARD_AT, 0.0]


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> PhotographedSet:
    """Three photographs of the example's paint on the printed card, the lamp at the lens."""
    folder = tmp_path_factory.mktemp("board")
    k1 = cones.directions().k1
    grounds = {name: np.full(BANDS, R + k1) for name, R in example.GROUNDS.items()}
    rng = np.random.default_rng(4)
    off = {patch.name: np.exp(0.1 * rng.normal()) for patch in LAYOUT.patches}
    paths = []
    for i, tilt in enumerate(TILTS_DEG):
        to_px, eye = seen_from(tilt)
        patches = {}
        for patch in LAYOUT.patches:
            if patch.coats:
                way = eye - [*patch.rect.centre_mm, 0.0]
                way /= np.linalg.norm(way)
                film_um = patch.coats * example.WET_UM * example.SOLIDS * off[patch.name]
                true = example.truth(patch.ground, film_um, flakes.direction(way, way))
                patches[patch.name] = true * np.exp(0.03 * rng.normal())
        shot = camera.Shot(width_px=WIDTH, height_px=HEIGHT, exposure=0.45, oversample=1, seed=i)
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(camera, "_view", lambda _, to_px=to_px: to_px)
            frame = camera.photograph(LAYOUT, patches, grounds, shot)
        paths.append(camera.save_jpeg(folder / f"tilt-{tilt:.0f}.jpg", frame))
    on_card, swatches = from_layout(LAYOUT)
    return PhotographedSet(
        paint="amber metal",
        kind="metal",
        metal="aluminium",
        volume_solids=example.SOLIDS,
        wet_film_um=example.WET_UM,
        sheen=0.4,
        photograph=paths[0],
        tilted=tuple(paths[1:]),
        layout=LAYOUT,
        grounds=on_card,
        swatches=swatches,
    )


def test_flakes_are_found_from_three_tilts(board: PhotographedSet) -> None:
    fit = fit_tilted(board)
    assert fit.tilt_deg.low < example.FLAKES.tilt_deg < fit.tilt_deg.high
    assert fit.tilt_deg.error < 0.1
    assert fit.rough.low < example.FLAKES.rough < fit.rough.high
    assert fit.cover_per_um.low < example.FLAKES.cover_per_um < fit.cover_per_um.high
    off = np.abs(np.log(fit.paint.K_per_um / example.K_PER_UM))
    assert (off < 1.645 * fit.log_K_error).mean() > 0.8
    assert fit.measured is None
    assert fit.delta_e.max() < 3.0
    assert len(fit.names) == 24


def test_a_place_that_is_overexposed_is_left_out_and_named(board: PhotographedSet, tmp_path: Path) -> None:
    to_px, _ = seen_from(TILTS_DEG[0])
    k1 = cones.directions().k1
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(camera, "_view", lambda _: to_px)
        shot = camera.Shot(width_px=WIDTH, height_px=HEIGHT, exposure=0.85, oversample=1)
        bright = {one.name: np.full(BANDS, 0.6) for one in LAYOUT.patches} | {"black 1": np.full(BANDS, 2.5)}
        bare = {name: np.full(BANDS, R + k1) for name, R in example.GROUNDS.items()}
        bright = {name: values for name, values in bright.items() if "bare" not in name}
        path = camera.save_jpeg(tmp_path / "bright.jpg", camera.photograph(LAYOUT, bright, bare, shot))
    fit = fit_tilted(dataclasses.replace(board, photograph=path))
    assert len(fit.names) == 23
    assert any("1 coat over black" in one and "was left out" in one for one in fit.notices)


@pytest.mark.parametrize("focal_px", [1000.0, 1500.0, 3000.0])
def test_the_marks_tell_from_where_a_card_is_seen(focal_px: float) -> None:
    rng = np.random.default_rng(2)
    marks = np.concatenate([mark.rect.corners_mm for mark in LAYOUT.marks])
    placements, eyes = [], []
    for tilt in TILTS_DEG:
        to_px, eye = seen_from(tilt, focal_px=focal_px)
        px = project(to_px, marks + camera._CARD_AT) + 0.4 * rng.normal(size=marks.shape)
        placements.append(Placement(fit_projection(marks, px), 3.0))
        eyes.append(eye)
    found, note = poses(placements, LAYOUT, width=WIDTH, height=HEIGHT, lamp_mm=(100.0, 0.0, 0.0))
    assert note == ""
    at = LAYOUT.whole.corners_mm
    for pose, eye in zip(found, eyes, strict=True):
        true = eye - np.pad(at, ((0, 0), (0, 1)))
        true /= np.linalg.norm(true, axis=1, keepdims=True)
        lamp, way = pose.towards(at)
        assert np.degrees(np.arccos((way * true).sum(axis=1))).max() < 2.0
        # The lamp is 100 mm to the right, whichever way the board is tilted.
        apart = pose.lamp_mm - pose.eye_mm
        assert np.linalg.norm(apart) == pytest.approx(100.0)
        assert lamp[:, 0].mean() > way[:, 0].mean()


class TestWhatCannotBeTold:
    def test_one_photograph(self, board: PhotographedSet) -> None:
        with pytest.raises(FitError, match=r'"metal" and one photograph.*tilted'):
            fit_tilted(dataclasses.replace(board, tilted=()))

    def test_a_photograph_fitted_as_a_paint_without_flakes(self, board: PhotographedSet) -> None:
        with pytest.raises(FitError, match="looks different from every side"):
            fit_readings(board, [])

    def test_tilts_that_are_alike(self, board: PhotographedSet) -> None:
        with pytest.raises(FitError, match="from about one side"):
            fit_tilted(dataclasses.replace(board, tilted=(board.photograph,)))


def test_a_file_names_the_tilted_pictures(tmp_path: Path) -> None:
    text = """\
format = "layersim swatches 1"
name = "amber"
kind = "metal"
volume_solids = 0.26
wet_film_um = 14.0
sheen = "satin"
[photograph]
file = "a.jpg"
tilted = ["b.jpg", "c.jpg"]
lamp_mm = [60, 0, -20]
"""
    path = tmp_path / "card.toml"
    path.write_text(text, encoding="utf-8")
    found = read_any_swatches(path)
    assert isinstance(found, PhotographedSet)
    assert [one.name for one in found.photographs] == ["a.jpg", "b.jpg", "c.jpg"]
    assert found.lamp_mm == (60.0, 0.0, -20.0)
