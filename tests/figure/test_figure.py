"""A photograph of a model in the finished colours, against the same scene rendered in them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import layersim
from layersim import colour
from layersim.chance import NINETY
from layersim.errors import LayersimError, PhotographError
from layersim.figure.areas import AreaPlace, cover_of, place_from
from layersim.figure.figure import paint_figure
from layersim.figure.greys import _calibration_error, greys_seen
from layersim.figure.repaint import seen_area, table
from layersim.figure.seen import BINS, linear_of, luminance_of_bins, read_model
from layersim.fitting.chip import Grey
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate
from tests.figure.scene import GREY_AT, TO_LINEAR, TO_XYZ, photographed, scene

DEMO = load_scheme(layersim.demo_scheme())
PRESHADE = 1
_DAYLIGHT = colour.Viewing()


@pytest.fixture(scope="module")
def cloth() -> AreaPrediction:
    return simulate(DEMO, tones=65, draws=0, reasons=False).areas[0]


def levels(path: Path) -> np.ndarray:
    with Image.open(path) as image:
        return np.asarray(image)


def lab_of(picture: np.ndarray, *, exposure: float = 0.9) -> np.ndarray:
    """Of what an sRGB picture shows, a perfect white in its light having L* 100."""
    linear = colour.decode_srgb(picture / 255.0) / exposure
    return colour.lab_from_xyz(100.0 * linear @ TO_XYZ.T, _DAYLIGHT.white)


@pytest.mark.parametrize(
    ("falloff", "mean"), [(0.0, 0.6), (0.1, 1.2)], ids=["even light", "light that falls off"]
)
def test_it_is_the_scene_in_its_finished_colours(
    tmp_path: Path, cloth: AreaPrediction, falloff: float, mean: float
) -> None:
    there = scene(falloff=falloff)
    picture = photographed(there.xyz(cloth, PRESHADE), tmp_path / "model.jpg")
    model = read_model(picture, greys=[Grey(GREY_AT)])
    cover = np.where(there.inside, 255, 0).astype(np.uint8)
    found = paint_figure(DEMO, model, {cloth.name: cover})
    true = photographed(there.xyz(cloth, -1), tmp_path / "true.png", noise=0.0)
    wanted, got = lab_of(levels(true)), lab_of(found.finished)
    off = colour.delta_e_2000(wanted, got)[there.inside]
    assert off.mean() < mean
    assert np.quantile(off, 0.95) < 2.5
    # Beside the model nothing has changed, not by one level.
    before = levels(picture)
    assert np.array_equal(found.finished[~there.inside], before[~there.inside])
    # Its greys are read within L* 2.
    L = colour.lab_from_xyz(luminance_of_bins()[:, np.newaxis] * _DAYLIGHT.white, _DAYLIGHT.white)[:, 0]
    seen = L[model.bins_of(model.photograph.levels)][there.inside]
    true_L = cloth.shade[0] + there.place[there.inside] * (cloth.shade[-1] - cloth.shade[0])
    assert abs(seen - true_L).mean() < 2.0


def test_a_look_of_the_cameras_own_is_kept(tmp_path: Path, cloth: AreaPrediction) -> None:
    """What is new in the picture has its white balance: grey comes back as the picture's own grey."""
    there = scene()
    warm = there.xyz(cloth, PRESHADE) * [1.12, 1.0, 0.75]
    model = read_model(photographed(warm, tmp_path / "model.png", noise=0.0), greys=[Grey(GREY_AT)])
    steps = np.array([0.05, 0.2, 0.6])
    neutral = model.levels_of(100.0 * steps[:, np.newaxis] * model.white / 100.0)
    expected = colour.encode_srgb(0.9 * steps[:, np.newaxis] * _as_linear([1.12, 1.0, 0.75]))
    assert np.abs(neutral / 255.0 - expected).max() < 0.015


def _as_linear(of_white: list[float]) -> np.ndarray:
    return TO_LINEAR @ (_DAYLIGHT.white / 100.0 * of_white)


def test_tables_are_as_good_as_laying_each_pixels_coats(tmp_path: Path, cloth: AreaPrediction) -> None:
    picture = photographed(scene().xyz(cloth, PRESHADE), tmp_path / "model.png", noise=0.0)
    model = read_model(picture, greys=[Grey(GREY_AT)])
    # As in use: 33 tones, and between them by interpolation; against 65 tones at their own places.
    coarse = simulate(DEMO, tones=33, draws=0, reasons=False).areas[0]
    at = np.cbrt(coarse.xyz[-1])
    between = np.stack([np.interp(cloth.shade, coarse.shade, at[:, c]) for c in range(3)], axis=-1) ** 3
    off = colour.delta_e_2000(colour.lab_from_xyz(between, _DAYLIGHT.white), cloth.lab[-1])
    assert off.max() < 0.05
    # And the steps of lightness that pixels are sorted into are finer than the levels of a picture.
    axis = (float(cloth.shade[0]), float(cloth.shade[-1]))
    became = table(cloth, -1, model, viewing=_DAYLIGHT, ends=axis)
    assert np.abs(np.diff(became[200:].astype(int), axis=0)).max() <= 2


def test_what_no_paint_explains_is_shadow_or_gloss(tmp_path: Path, cloth: AreaPrediction) -> None:
    picture = photographed(scene().xyz(cloth, PRESHADE), tmp_path / "model.png", noise=0.0)
    model = read_model(picture, greys=[Grey(GREY_AT)])
    axis = (float(cloth.shade[0]), float(cloth.shade[-1]))
    became = lab_of(table(cloth, -1, model, viewing=_DAYLIGHT, ends=axis))
    Y = luminance_of_bins()
    low, high = (colour.xyz_from_lab([L, 0, 0], _DAYLIGHT.white)[1] / 100.0 for L in axis)
    deepest, lightest = np.searchsorted(Y, low), np.searchsorted(Y, high)
    # Half the light gives half the colour's light; gloss has the colour of the light, so chroma falls.
    half = np.searchsorted(Y, low / 2.0)
    Y_of = [colour.xyz_from_lab(became[i], _DAYLIGHT.white)[1] for i in (half, deepest)]
    assert Y_of[0] / Y_of[1] == pytest.approx(0.5, abs=0.08)
    assert (became[:-1, 0] <= became[1:, 0] + 0.3).all()
    shining = np.searchsorted(Y, 1.05)
    assert np.hypot(*became[shining, 1:]) < np.hypot(*became[lightest, 1:])


def test_stretched_the_darkest_and_lightest_are_the_ends(tmp_path: Path, cloth: AreaPrediction) -> None:
    there = scene()
    dim = photographed(0.5 * there.xyz(cloth, PRESHADE), tmp_path / "dim.jpg")
    grey = photographed(there.xyz(cloth, PRESHADE), tmp_path / "lit.jpg")
    cover = {cloth.name: np.where(there.inside, 255, 0).astype(np.uint8)}
    # The card lies in the dim light, too. Said to reflect half of what it does, it is as if it did not.
    dark = read_model(dim, greys=[Grey(GREY_AT)])
    lit = read_model(grey, greys=[Grey(GREY_AT)])
    first, second = (paint_figure(DEMO, model, cover) for model in (dark, lit))
    assert first.areas[0].seen == pytest.approx(second.areas[0].seen, abs=1.0)
    half = read_model(dim, greys=[Grey(GREY_AT, 0.09)])
    assert paint_figure(DEMO, half, cover).areas[0].seen[1] < second.areas[0].seen[1] - 15.0
    stretched = paint_figure(DEMO, half, cover, stretch=True)
    ends = stretched.stages[-1].picture, second.stages[-1].picture
    assert stretched.stretched
    assert abs(np.diff([colour.lch(lab_of(end))[..., 1].max() for end in ends])[0]) < 6.0


def test_values_and_colours_turn_round(tmp_path: Path, cloth: AreaPrediction) -> None:
    picture = photographed(scene().xyz(cloth, PRESHADE), tmp_path / "model.png", noise=0.0)
    calibration = read_model(picture, greys=[Grey(GREY_AT)]).calibration
    rgb = np.random.default_rng(5).uniform(0.01, 0.95, (200, 3))
    assert np.allclose(linear_of(calibration, calibration.xyz(rgb)), rgb, rtol=1e-5)


def test_what_is_seen_of_an_area(tmp_path: Path, cloth: AreaPrediction) -> None:
    there = scene()
    model = read_model(photographed(there.xyz(cloth, PRESHADE), tmp_path / "m.jpg"), greys=[Grey(GREY_AT)])
    cover = np.where(there.inside, 255, 0).astype(np.uint8)
    found = seen_area(cloth, model, cover, viewing=_DAYLIGHT)
    assert found.share == pytest.approx(there.inside.mean(), abs=1e-6)
    assert found.axis == (cloth.shade[0], cloth.shade[-1])
    assert found.seen[0] - found.axis[0] == pytest.approx(0.02 * 57 + 2.0, abs=2.5)
    assert found.in_shade < 0.01
    assert found.in_gloss < 0.01
    brighter = seen_area(replace(cloth, shade=cloth.shade - 40.0), model, cover, viewing=_DAYLIGHT)
    assert brighter.in_gloss > 0.5
    assert luminance_of_bins().shape == (BINS,)


@pytest.mark.parametrize("falloff", [0.0, 0.1], ids=["even light", "light that falls off"])
def test_greys_are_within_their_doubt(tmp_path: Path, cloth: AreaPrediction, falloff: float) -> None:
    there = scene(falloff=falloff)
    picture = photographed(there.xyz(cloth, PRESHADE), tmp_path / "m.jpg")
    model = read_model(picture, greys=[Grey(GREY_AT)])
    cover = np.where(there.inside, 255, 0).astype(np.uint8)
    seen = seen_area(cloth, model, cover, viewing=_DAYLIGHT)
    found = greys_seen(seen, model)
    assert 2.0 * NINETY <= found.doubt < 20.0
    assert abs(found.darkest - cloth.shade[0]) < found.doubt
    assert abs(found.lightest - cloth.shade[-1]) < found.doubt
    # A camera's tone curve counts: a card that is as dark as the darkest makes that end surer than the other.
    assert _calibration_error(50.0, model) < _calibration_error(20.0, model)


def test_what_the_picture_cannot_show_is_no_grey_to_write(tmp_path: Path, cloth: AreaPrediction) -> None:
    there = scene()
    cover = {cloth.name: np.where(there.inside, 255, 0).astype(np.uint8)}

    def notes(xyz: np.ndarray, exposure: float) -> tuple[str, ...]:
        picture = photographed(xyz, tmp_path / "m.jpg", exposure=exposure)
        model = read_model(picture, greys=[Grey(GREY_AT)])
        return greys_seen(paint_figure(DEMO, model, cover).areas[0], model).notes

    xyz = there.xyz(cloth, PRESHADE)
    assert notes(xyz, 0.9) == ()
    assert "is as light as the picture can show" in notes(xyz, 2.5)[0]
    flat = np.where(there.inside[..., np.newaxis], 0.0, xyz)
    assert "so it has no two greys" in notes(flat, 0.9)[0]


class TestAreas:
    def test_a_polygon(self) -> None:
        place = place_from("Wax-Cloth = 0,0 100,0 100,50 0,50", DEMO.areas)
        assert place == AreaPlace("wax cloth", None, ((0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)))
        cover = cover_of(place, height=101, width=61)
        assert (cover[:50] == 255).all()
        assert (cover[52:] == 0).all()

    def test_a_mask_of_another_size_and_one_that_is_see_through(self, tmp_path: Path) -> None:
        mask = np.zeros((50, 30), dtype=np.uint8)
        mask[:25] = 255
        Image.fromarray(mask).save(tmp_path / "grey.png")
        shown = np.dstack([np.full((50, 30, 3), 255, dtype=np.uint8), mask])
        Image.fromarray(shown).save(tmp_path / "layer.png")
        for name in ("grey.png", "layer.png"):
            cover = cover_of(AreaPlace("x", tmp_path / name), height=500, width=300)
            assert (cover[:240] == 255).all()
            assert (cover[260:] == 0).all()

    @pytest.mark.parametrize("kind", [np.uint16, np.int32, np.float32])
    def test_a_mask_of_many_levels_keeps_its_greys(self, tmp_path: Path, kind: type) -> None:
        mask = np.full((50, 30), 0.1)
        mask[:25] = 0.9
        full = 1.0 if kind is np.float32 else 65535.0
        Image.fromarray((mask * full).astype(kind)).save(tmp_path / "mask.tif")
        cover = cover_of(AreaPlace("x", tmp_path / "mask.tif"), height=50, width=30)
        assert cover[0, 0] == pytest.approx(0.9 * 255, abs=1)
        assert cover[49, 0] == pytest.approx(0.1 * 255, abs=1)

    def test_a_mask_is_held_as_its_file_says(self, tmp_path: Path) -> None:
        """As photographs are: tag 274 of 3 says that the picture stands on its head (Exif 2.3)."""
        mask = np.zeros((50, 30), dtype=np.uint8)
        mask[:25] = 255
        exif = Image.Exif()
        exif[0x0112] = 3
        Image.fromarray(mask).save(tmp_path / "mask.png", exif=exif)
        cover = cover_of(AreaPlace("x", tmp_path / "mask.png"), height=50, width=30)
        assert (cover[25:] == 255).all()
        assert (cover[:25] == 0).all()

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ("wax cloth", "expected an area and where it is"),
            ("waxcloths=1,1 2,2 3,3", "Did you mean"),
            ("straps=1,1 2,2", "found 2 corners; expected 3 to 500"),
            ("straps=1,1 2,2 3,300", "a corner outside the picture"),
        ],
    )
    def test_what_is_no_place(self, text: str, said: str) -> None:
        with pytest.raises(LayersimError, match=said):
            place_from(text, DEMO.areas)

    def test_masks_that_cannot_be_used(self, tmp_path: Path) -> None:
        def said(name: str) -> str:
            with pytest.raises(LayersimError) as caught:
                cover_of(AreaPlace("straps", tmp_path / name), height=500, width=300)
            return str(caught.value)

        assert "there is no such file" in said("no.png")
        (tmp_path / "text.png").write_text("no picture")
        assert "this is not a PNG" in said("text.png")
        Image.new("L", (300, 300)).save(tmp_path / "square.png")
        assert "300 × 300 pixels, and the photograph 300 × 500" in said("square.png")
        Image.new("L", (300, 500)).save(tmp_path / "black.png")
        assert "nothing of the picture is marked" in said("black.png")
        cut = (tmp_path / "black.png").read_bytes()[:60]
        (tmp_path / "cut.png").write_bytes(cut)
        assert "damaged" in said("cut.png")


def test_what_is_of_one_tone_is_not_stretched(tmp_path: Path, cloth: AreaPrediction) -> None:
    there = scene()
    xyz = np.where(there.inside[..., np.newaxis], 0.0, there.xyz(cloth, PRESHADE))
    model = read_model(photographed(xyz, tmp_path / "black.png", noise=0.0), greys=[Grey(GREY_AT)])
    cover = np.where(there.inside, 255, 0).astype(np.uint8)
    with pytest.raises(LayersimError, match=r"wax cloth: all of it is L\* 0 in the picture"):
        paint_figure(DEMO, model, {cloth.name: cover}, stretch=True)


def test_a_raw_file_is_no_picture_to_give_back(tmp_path: Path) -> None:
    with pytest.raises(PhotographError, match="export it as TIFF or JPEG"):
        read_model(tmp_path / "model.dng")


def test_a_picture_of_other_primaries_is_shown_as_it_looks(tmp_path: Path) -> None:
    from layersim.figure.repaint import in_srgb
    from layersim.measure.photograph import read_photograph

    colours = np.random.default_rng(2).integers(60, 200, (20, 20, 3)).astype(np.uint8)
    colours = np.kron(colours, np.ones((12, 12, 1), dtype=np.uint8))
    picture = Image.fromarray(colours)
    picture.save(tmp_path / "plain.png")
    same = read_photograph(tmp_path / "plain.png")
    assert in_srgb(same, colours) is colours
    # One whose channels stand in another order than sRGB's: red and blue are exchanged in its matrix.
    wide = replace(same, to_xyz_d50=same.to_xyz_d50[:, ::-1])
    assert np.abs(in_srgb(wide, colours).astype(int) - colours[..., ::-1]).max() <= 1
