"""A whole card from a photograph as cameras take them: how near its colours come, and what it refuses."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from layersim.colour import delta_e_2000, lab, lab_from_xyz
from layersim.errors import PhotographError
from layersim.measure import cardreading
from layersim.measure.card import Rect, standard_card
from layersim.measure.cardreading import CardReading, photograph_card
from layersim.measure.patches import PatchReading
from layersim.measure.rectify import fit_projection, project
from layersim.spectra import FloatArray, wavelengths_nm
from tests.measure.camera import (
    Frame,
    Shot,
    light_spectrum,
    maker_matrix,
    photograph,
    save_jpeg,
    save_png16,
    sensitivities,
)

pytest.importorskip("cv2")

LAYOUT = standard_card()
NM = wavelengths_nm()
GROUNDS = {"black": np.full(31, 0.04), "white": np.full(31, 0.85)}
PIGMENTS = {
    "red": 0.04 + 0.66 / (1 + np.exp(-(NM - 600) / 12)),
    "yellow": 0.05 + 0.75 / (1 + np.exp(-(NM - 515) / 14)),
    "blue": 0.03 + 0.42 * np.exp(-0.5 * ((NM - 455) / 35) ** 2),
    "green": 0.04 + 0.36 * np.exp(-0.5 * ((NM - 520) / 30) ** 2),
    "umber": 0.03 + 0.15 / (1 + np.exp(-(NM - 600) / 50)),
    "turquoise": 0.04 + 0.5 * np.exp(-0.5 * ((NM - 490) / 45) ** 2),
}
SHOT = Shot(width_px=900, height_px=1200, oversample=1)


def swatches() -> dict[str, FloatArray]:
    """One pigment a place, laid over its ground thinly, thicker, thickest."""
    colours = iter(PIGMENTS.values())
    return {
        f"{ground} {coats}": base * (1 - share) + next(colours) * share
        for ground, base in (("black", 0.04), ("white", 0.85))
        for coats, share in ((1, 0.35), (2, 0.65), (4, 0.95))
    }


def truth(name: str, ground: str) -> FloatArray:
    return swatches().get(name, GROUNDS[ground])


def shoot(tmp_path: Path, shot: Shot, **extra: object) -> tuple[Path, Frame]:
    frame = photograph(LAYOUT, swatches(), GROUNDS, shot, **extra)  # type: ignore[arg-type]
    return save_jpeg(tmp_path / "shot.jpg", frame, quality=shot.quality), frame


def misses(reading: CardReading) -> FloatArray:
    view = reading.calibration.viewing
    return np.array(
        [
            delta_e_2000(lab_from_xyz(p.xyz, view.white), lab(truth(p.name, p.ground), view))
            for p in reading.patches
            if p.usable
        ]
    )


@pytest.mark.parametrize(
    ("camera", "light", "developed", "mean", "most"),
    [
        ("A", "A", "maker", 1.2, 3.5),
        ("A", "FL2", "camera", 1.3, 3.5),
        ("A", "LED-B3", "maker daylight", 1.2, 3.5),
        ("C", "LED-B1", "camera", 1.1, 3.0),
        ("D", "A", "maker", 1.3, 3.5),
        ("D", "LED-B3", "camera", 1.3, 3.5),
    ],
)
def test_with_a_chart(
    tmp_path: Path, camera: str, light: str, developed: str, mean: float, most: float
) -> None:
    path, _ = shoot(tmp_path, SHOT.but(camera=camera, light=light, developed=developed))
    reading = photograph_card(path, LAYOUT)
    found = misses(reading)
    assert reading.calibration.reference == "chart"
    assert len(found) >= 8  # of 10: a file in sRGB cannot say the purest blue and green
    assert found.mean() < mean
    assert found.max() < most


def test_stacked_sensor_camera_from_sixteen_bits(tmp_path: Path) -> None:
    """Its channels hardly differ: the matrix multiplies noise twentyfold. Worse, and said to be so."""
    shot = SHOT.but(camera="B", light="LED-B3", developed="camera")
    frame = photograph(LAYOUT, swatches(), GROUNDS, shot)
    reading = photograph_card(save_png16(tmp_path / "a.png", frame), LAYOUT)
    assert misses(reading).mean() < 3.5


def test_another_chart_than_the_published_one(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT.but(chart="ISO 17321-1"))
    reading = photograph_card(path, LAYOUT)
    assert misses(reading).mean() < 1.8
    assert reading.calibration.mean_de00 < 3.0


def test_neutrals_that_were_asked_for_say_nothing_of_a_chart(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT)
    reading = photograph_card(path, LAYOUT, reference="neutrals")
    assert any(note.startswith("calibrated by the neutrals, as asked") for note in reading.notes)
    assert not any("no chart in the frame" in note for note in reading.notes)


@pytest.mark.parametrize("camera", ["A", "C", "D"])
def test_with_neutrals_only(tmp_path: Path, camera: str) -> None:
    path, _ = shoot(tmp_path, SHOT.but(camera=camera, chart=None))
    reading = photograph_card(path, LAYOUT)
    assert reading.calibration.reference == "neutrals"
    assert any(note.startswith("no chart in the frame: the camera's own") for note in reading.notes)
    assert misses(reading).mean() < 3.0


def without(frame: Frame, *names: str) -> Frame:
    """Leave places for neutrals as bare paper."""
    encoded = frame.encoded.copy()
    paper = encoded[tuple(_pixel(frame, 12.0, 50.0)[::-1])]
    for neutral in LAYOUT.neutrals:
        if neutral.name in names:
            corners = np.array([_pixel(frame, *corner) for corner in neutral.rect.corners_mm])
            (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
            noise = np.random.default_rng(1).normal(0.0, 0.004, (y1 - y0, x1 - x0, 3))
            encoded[y0:y1, x0:x1] = np.clip(paper + noise, 0.0, 1.0)
    return replace(frame, encoded=encoded)


def _pixel(frame: Frame, x_mm: float, y_mm: float) -> np.ndarray:
    mm = LAYOUT.whole.corners_mm
    return np.rint(project(fit_projection(mm, frame.card_corners_px), [x_mm, y_mm])).astype(int)


def test_bare_places_are_not_taken_for_neutrals(tmp_path: Path) -> None:
    frame = photograph(LAYOUT, swatches(), GROUNDS, SHOT.but(chart=None))
    path = save_jpeg(tmp_path / "bare.jpg", without(frame, "white", "grey", "black"))
    with pytest.raises(
        PhotographError,
        match="no 24-patch chart is found in the picture, and the places for neutrals "
        r"\(white, grey, black\) look like bare paper\. Photograph again with the whole chart in "
        "the picture, or glue neutrals",
    ):
        photograph_card(path, LAYOUT)
    with pytest.raises(PhotographError, match=r"bare\.jpg: the places for neutrals .* paper\. Glue neutrals"):
        photograph_card(path, LAYOUT, reference="neutrals")
    path = save_jpeg(tmp_path / "one.jpg", without(frame, "grey"))
    with pytest.raises(PhotographError, match=r"\(white, grey\) look like bare paper"):
        photograph_card(path, LAYOUT)
    path = save_jpeg(tmp_path / "white.jpg", without(frame, "white"))
    assert photograph_card(path, LAYOUT).calibration.reference == "neutrals", "white paper is a white, nearly"


def test_a_chart_that_cannot_be_used_is_not_called_absent(tmp_path: Path) -> None:
    frame = photograph(LAYOUT, swatches(), GROUNDS, SHOT)
    assert frame.chart_corners_px is not None
    middle = int(frame.chart_corners_px[:, 1].mean())
    cut = replace(frame, encoded=frame.encoded[: middle + 40])
    reading = photograph_card(save_jpeg(tmp_path / "cut.jpg", cut), LAYOUT)
    assert reading.calibration.reference == "neutrals"
    assert any(
        note.startswith("the edge of the picture cuts the 24-patch chart off:") for note in reading.notes
    )
    assert not any("no chart in the frame" in note for note in reading.notes)
    with pytest.raises(PhotographError, match="cuts the 24-patch chart off, and the places for neutrals"):
        photograph_card(save_jpeg(tmp_path / "b.jpg", without(cut, "white", "grey", "black")), LAYOUT)
    with pytest.raises(PhotographError, match=r"cuts the 24-patch chart off\. Lay the whole"):
        photograph_card(tmp_path / "cut.jpg", LAYOUT, reference="chart")


def test_a_shadow_over_half_of_the_chart_is_the_cause_that_is_named(tmp_path: Path) -> None:
    x, y = 24.0, 130.0
    path, _ = shoot(tmp_path, SHOT, shadow=[x - 8.0, y - 8.0, 112.0, 40.0], shadow_depth=0.65)
    with pytest.raises(
        PhotographError,
        match=r"expected 16 or more\. Not used: 1[23] in a shadow\. "
        r"Photograph again with no shadow on the chart\. "
        'The neutrals on the card do instead, less well: reference = "neutrals"',
    ):
        photograph_card(path, LAYOUT)
    assert photograph_card(path, LAYOUT, reference="neutrals").calibration.reference == "neutrals"


def test_a_soft_shadow_on_the_chart_makes_a_note(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT, shadow=[16.0, 122.0, 112.0, 40.0], shadow_depth=0.25)
    reading = photograph_card(path, LAYOUT)
    assert any("a soft shadow on the chart" in note for note in reading.notes)
    path, _ = shoot(tmp_path, SHOT)
    assert not any("a soft shadow" in note for note in photograph_card(path, LAYOUT).notes)


def test_under_exposure_is_one_note(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT.but(exposure=0.085, noise=0.001))
    notes = photograph_card(path, LAYOUT).notes
    assert [note for note in notes if "under-exposed" in note and "Photograph again" in note]
    assert not any("overspray" in note for note in notes)


def test_strong_compression_is_named(tmp_path: Path) -> None:
    frame = photograph(LAYOUT, swatches(), GROUNDS, SHOT)
    strong = photograph_card(save_jpeg(tmp_path / "strong.jpg", frame, quality=30), LAYOUT)
    assert any("in steps of 3 of 255: use the camera's original" in note for note in strong.notes)
    assert sum("overspray" in note for note in strong.notes) <= 1
    assert not any("overspray" in flag for patch in strong.patches for flag in patch.flags)
    usual = photograph_card(save_jpeg(tmp_path / "usual.jpg", frame, quality=85), LAYOUT)
    assert not any("compress" in note for note in usual.notes)


def test_light_that_is_even_is_not_called_corrected(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT.but(falloff=0.0))
    assert not any("falls off" in note for note in photograph_card(path, LAYOUT).notes)
    path, _ = shoot(tmp_path, SHOT)
    assert any("falls off" in note for note in photograph_card(path, LAYOUT).notes)


def test_contrast_curve_of_a_camera_is_undone(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT.but(curve="contrast"))
    reading = photograph_card(path, LAYOUT)
    assert reading.calibration.tone.kind in ("power", "curve")
    assert misses(reading).mean() < 2.0


def test_errors_hold_the_truth(tmp_path: Path) -> None:
    """Of the covariance given, the 90 % ellipsoids hold at least that many truths."""
    inside = []
    for camera, light in (("A", "A"), ("D", "FL2"), ("C", "LED-B1")):
        path, _ = shoot(tmp_path, SHOT.but(camera=camera, light=light))
        reading = photograph_card(path, LAYOUT)
        for patch in reading.patches:
            if patch.usable:
                miss = patch.xyz - truth(patch.name, patch.ground) @ reading.calibration.viewing.weights
                total = patch.xyz_noise + patch.xyz_calibration
                inside.append(miss @ np.linalg.solve(total, miss) < 6.25)  # χ², 3 degrees, 90 %
    assert np.mean(inside) > 0.85


def test_no_reference_is_refused_unless_asked_for(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT.but(chart=None))
    bare = replace(LAYOUT, neutrals=())
    with pytest.raises(PhotographError, match="own colours are made to please"):
        photograph_card(path, bare)
    with pytest.raises(PhotographError, match="no 24-patch chart is found"):
        photograph_card(path, LAYOUT, reference="chart")
    trusted = photograph_card(path, bare, reference="none")
    careful = photograph_card(path, LAYOUT)
    assert any("were taken, as asked" in note for note in trusted.notes)
    for wide, narrow in zip(trusted.patches, careful.patches, strict=True):
        assert np.trace(wide.xyz_calibration) > 4 * np.trace(narrow.xyz_calibration)


def test_overexposed_patches_are_out_and_named(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT.but(exposure=1.4))
    reading = photograph_card(path, LAYOUT)
    white = next(p for p in reading.patches if p.name == "white bare 1")
    assert not white.usable
    assert any("clipped" in flag for flag in white.flags)
    assert any("chart patches not used" in note and "row 4 column 1" in note for note in reading.notes)
    assert misses(reading).mean() < 4.0, "what is not clipped is still read, without evening"


def test_hopeless_exposure_is_refused(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT.but(exposure=2.6))
    with pytest.raises(
        PhotographError,
        match=r"of the chart's patches can be used; expected 16 or more\. "
        r"Not used: \d+ clipped, as bright as the file can say\. Photograph again with less exposure\.$",
    ):
        photograph_card(path, LAYOUT)


def test_glare_and_shadow_are_named(tmp_path: Path) -> None:
    glaring, _ = shoot(tmp_path, SHOT, glare=[80.0, 29.0, 5.0, 4.0])
    spotted = next(p for p in photograph_card(glaring, LAYOUT).patches if p.name == "black 2")
    assert any(flag.startswith("glare") for flag in spotted.flags)
    shaded, _ = shoot(tmp_path, SHOT, shadow=[0.0, 14.0, 45.0, 40.0])
    reading = photograph_card(shaded, LAYOUT)
    marked = [p.name for p in reading.patches if any("shadow" in f or "two tones" in f for f in p.flags)]
    assert "black 0.5" in marked
    assert any("bare surround were left out" in note and "black bare 1" in note for note in reading.notes)


def test_own_card_by_corners(tmp_path: Path) -> None:
    path, frame = shoot(tmp_path, SHOT)
    own = replace(LAYOUT, marks=(), surround=())
    reading = photograph_card(path, own, corners_px=frame.card_corners_px)
    assert misses(reading).mean() < 3.0
    assert any("uneven light could not be corrected" in note for note in reading.notes)


def test_same_photograph_same_numbers(tmp_path: Path) -> None:
    path, _ = shoot(tmp_path, SHOT)
    one, two = photograph_card(path, LAYOUT), photograph_card(path, LAYOUT)
    for a, b in zip(one.patches, two.patches, strict=True):
        np.testing.assert_array_equal(a.xyz, b.xyz)
        np.testing.assert_array_equal(a.xyz_noise, b.xyz_noise)


def test_covered_patch_is_named(tmp_path: Path) -> None:
    box = Rect(100.0, 20.0, 48.0, 40.0)
    path, _ = shoot(tmp_path, SHOT, cover=[box.x_mm, box.y_mm, box.width_mm, box.height_mm])
    reading = photograph_card(path, LAYOUT)
    assert any("bare surround were left out" in note and "black bare 2" in note for note in reading.notes), (
        "a thing lying over a patch and the surround beside it is noticed"
    )


def test_where_noise_is_cut_off_at_zero_a_reading_is_the_most_that_it_can_be(tmp_path: Path) -> None:
    """Red of dark cyans about 0: what noise spreads below it is lost, and JPEG blurs what is left."""
    shot = SHOT.but(light="LED-B3")
    dips = iter(np.linspace(0.7, 0.98, 6))
    spectra = {
        patch.name: 0.06 * (1.0 - next(dips) / (1.0 + np.exp(-(NM - 560.0) / 8.0)))
        for patch in LAYOUT.patches
        if patch.coats in (1.0, 2.0, 4.0)
    }
    frame = photograph(LAYOUT, spectra, GROUNDS, shot)
    reading = photograph_card(save_jpeg(tmp_path / "shot.jpg", frame), LAYOUT)
    lit = light_spectrum(shot.light)[:, np.newaxis] * sensitivities(shot.camera)

    def true(reflectance: FloatArray) -> FloatArray:
        return np.asarray((reflectance @ lit / lit.sum(axis=0)) @ maker_matrix(shot).T)

    [white] = [p for p in reading.patches if p.name == "white bare 1"]
    scale = white.rgb / true(GROUNDS["white"])
    limits: list[float] = []
    values: list[float] = []
    for patch in reading.patches:
        light = true(spectra.get(patch.name, GROUNDS[patch.ground]))
        off = patch.rgb / scale - light
        for c in range(3):
            (limits if patch.cut_off[c] > 0.0 else values).append(off[c] / (0.001 + 0.02 * light.max()))
    assert len(limits) >= 3
    assert min(limits) > -0.5
    assert max(limits) > 1.0
    assert np.abs(values).max() < 1.5


def test_where_some_pixels_stand_at_zero_a_channel_lies_about_there() -> None:
    """Fewer than half of the pixels at 0: noise reaches across it. All of them: anything below will do."""
    share = np.array([0.0, 0.4, 1.0])
    rgb = np.array([0.8, 0.0006, 0.0])
    below = cardreading._below_zero(PatchReading(rgb, np.eye(3), (), False, share))
    assert below[0] == 0.0
    assert 0.0 < below[1] < 0.02 < below[2]
