"""Metal paints from readings at several angles: what was laid comes out, and what cannot be told is said."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import numpy as np
import pytest

from data.generate import example_metal as example
from data.generate.example_swatches import cgats_text
from layersim.cli import main
from layersim.errors import FitError
from layersim.fitting import flakefit
from layersim.fitting.measured import fit_swatches
from layersim.fitting.metal import MetalFit, fit_metal
from layersim.measure.swatch import SwatchSet
from layersim.measure.swatchfile import read_any_swatches
from layersim.optics import cones, flakes, levels
from layersim.paintfile import read_paint
from layersim.resources import data_folder
from layersim.spectra import BANDS

EXAMPLE = data_folder() / "examples" / example.SWATCHES


@pytest.fixture(scope="module")
def swatches() -> SwatchSet:
    found = read_any_swatches(EXAMPLE)
    assert isinstance(found, SwatchSet)
    return found


@pytest.fixture(scope="module")
def fit(swatches: SwatchSet) -> MetalFit:
    return fit_metal(swatches)


def only(swatches: SwatchSet, *angles: float, film: str = "") -> SwatchSet:
    kept = tuple(one for one in swatches.swatches if one.angle_deg in angles and film in one.name)
    return dataclasses.replace(swatches, swatches=kept, metal="aluminium")


def read_anew(swatches: SwatchSet, seed: int) -> SwatchSet:
    """Return swatches of the same paint, films and readings off by other amounts."""
    rng = np.random.default_rng(seed)
    off = {ground: np.exp(0.15 * rng.normal()) for ground in example.FILMS}
    read = []
    for one in swatches.swatches:
        assert one.ground is not None
        assert one.coats is not None
        assert one.angle_deg is not None
        film_um = one.coats * example.WET_UM * example.SOLIDS * off[one.ground, one.coats]
        true = example.truth(one.ground, film_um, flakes.turned(one.angle_deg))
        seen = true * np.exp(0.03 * rng.normal()) + rng.normal(0.0, 0.002, BANDS)
        read.append(dataclasses.replace(one, reflectance=seen))
    return dataclasses.replace(swatches, swatches=tuple(read), metal="aluminium")


class TestWhatIsFound:
    def test_the_example_is_what_its_generator_writes(self) -> None:
        assert EXAMPLE.read_text(encoding="utf-8") == example.swatches_text()
        spectra = EXAMPLE.with_name(example.SPECTRA).read_text(encoding="utf-8")
        assert spectra == cgats_text(list(example.readings().items()))

    def test_the_example_is_its_own_paint(self, fit: MetalFit) -> None:
        own = fit.paint.flakes
        assert own is not None
        assert own.metal == example.FLAKES.metal
        assert own.tilt_deg == pytest.approx(example.FLAKES.tilt_deg, rel=0.04)
        assert own.rough == pytest.approx(example.FLAKES.rough, abs=0.03)
        assert own.cover_per_um == pytest.approx(example.FLAKES.cover_per_um, rel=0.2)
        off = np.abs(np.log(fit.paint.K_per_um / example.K_PER_UM))
        assert (off < 2.0 * fit.log_K_error).all()
        assert off.max() < 0.5
        assert fit.verdict.grade == "usable"
        assert fit.delta_e.max() < 2.5
        assert fit.notices == ()

    def test_ranges_hold_what_they_say(self, swatches: SwatchSet) -> None:
        held = []
        for seed in range(16):
            found = fit_metal(read_anew(swatches, seed))
            K = np.abs(np.log(found.paint.K_per_um / example.K_PER_UM)) < 1.645 * found.log_K_error
            held.append(
                [
                    found.tilt_deg.low < example.FLAKES.tilt_deg < found.tilt_deg.high,
                    found.rough.low < example.FLAKES.rough < found.rough.high,
                    found.cover_per_um.low < example.FLAKES.cover_per_um < found.cover_per_um.high,
                    K.mean() > 0.5,
                ]
            )
        # Of 16 at 90 %, fewer than 12 would be chance in one of a hundred sets.
        assert (np.sum(held, axis=0) >= 12).all()

    def test_a_doubt_shifts_what_readings_left_open(self, swatches: SwatchSet) -> None:
        opaque = only(swatches, 15.0, 45.0, 110.0, film="2 coats")
        found = fit_metal(opaque)
        assert any("how well the flakes cover is a guess" in one for one in found.notices)
        whole = fit_metal(only(swatches, 15.0, 45.0, 110.0))
        assert found.cover_per_um.error > 2.0 * whole.cover_per_um.error
        assert max(abs(doubt.log_cover) for doubt in found.paint.doubts) > 0.3

    def test_the_metal_is_the_likeliest_and_another_is_named_only_if_it_may_be(self, fit: MetalFit) -> None:
        others = [worse for metal, worse in fit.misfits.items() if metal != "aluminium"]
        assert min(others) > fit.misfits["aluminium"] + 50.0

    def test_without_the_glint_tilt_is_less_known(self, swatches: SwatchSet, fit: MetalFit) -> None:
        found = fit_metal(only(swatches, 45.0, 110.0))
        assert found.tilt_deg.error > 3.0 * fit.tilt_deg.error
        assert found.tilt_deg.low < example.FLAKES.tilt_deg < found.tilt_deg.high
        assert any("no reading is within 30°" in one for one in found.notices)
        assert found.verdict.grade == "doubtful"


def test_slopes_are_those_of_the_model() -> None:
    rng = np.random.default_rng(3)
    laid = flakefit.MetalFilms(
        film_um=np.array([2.0, np.inf]),
        error=np.array([0.15, 0.0]),
        over=levels.level_of(cones.ground_from_seen(np.array([[0.05], [0.6]]) * np.ones(BANDS), sheen=0.0)),
        sheen=0.4,
    )
    film = np.array([0, 1, 0])
    views = [flakes.turned(angle) for angle in (15.0, 45.0, 110.0)]
    names = [field.name for field in dataclasses.fields(flakes.Direction)]
    at = flakes.Direction(*(np.stack([getattr(v, n) for v in views], axis=-1) for n in names))

    def seen(x: np.ndarray) -> np.ndarray:
        return flakefit.reflectances(x, metal="copper", laid=laid, film=film, at=at)

    x = np.concatenate([rng.normal(-2.5, 0.5, BANDS), [-5.0, -2.0, -1.5, -0.5], [0.4, 0.0]])
    J = flakefit.slopes_of(seen, x, film)
    steps = 1e-5 * np.eye(len(x))
    for i in (0, 30, flakefit.S, flakefit.TILT, flakefit.ROUGH, flakefit.COVER, flakefit.PAINT):
        slope = (seen((x + steps[i])[np.newaxis])[0] - seen((x - steps[i])[np.newaxis])[0]) / 2e-5
        np.testing.assert_allclose(J[:, :, i], slope, atol=2e-4)


class TestWhatCannotBeTold:
    def test_one_side_is_too_few(self, swatches: SwatchSet) -> None:
        with pytest.raises(FitError, match=r"all readings are from about one side \(45°.*15°, 45° and 110°"):
            fit_metal(only(swatches, 45.0))

    def test_a_metal_without_angles_is_refused_whoever_fits_it(self, swatches: SwatchSet) -> None:
        bare = tuple(dataclasses.replace(one, angle_deg=None) for one in swatches.swatches)
        with pytest.raises(FitError, match="angle_deg"):
            fit_metal(dataclasses.replace(swatches, swatches=bare))
        with pytest.raises(FitError, match="looks different from every side"):
            fit_swatches(swatches)

    def test_what_sees_the_mirror_image_is_refused(self, swatches: SwatchSet) -> None:
        with pytest.raises(FitError, match='found "included"'):
            fit_metal(dataclasses.replace(swatches, specular="included"))

    def test_what_is_no_metal_is_refused(self, swatches: SwatchSet) -> None:
        flat = tuple(
            dataclasses.replace(one, reflectance=np.full(BANDS, 0.2 if one.angle_deg == 15.0 else 1.5))
            for one in swatches.swatches
        )
        with pytest.raises(FitError, match="no metal paint of aluminium meets these readings"):
            fit_metal(dataclasses.replace(swatches, swatches=flat, metal="aluminium"))


@pytest.fixture
def file(tmp_path: Path) -> Path:
    for name in (example.SWATCHES, example.SPECTRA):
        shutil.copy(EXAMPLE.parent / name, tmp_path / name)
    return tmp_path / example.SWATCHES


class TestCommand:
    def test_it_writes_a_paint_of_the_shelf(self, file: Path, capsys: pytest.CaptureFixture[str]) -> None:
        file.write_text(file.read_text(encoding="utf-8").replace("# metal =", "metal ="), encoding="utf-8")
        out, data = file.with_name("own.toml"), file.with_name("own.json")
        assert main(["fit", str(file), "--out", str(out), "--json", str(data)]) == 0
        printed = capsys.readouterr().out
        assert "Usable, but not yet good." in printed
        assert "Near the glint, 15°" in printed
        paint = read_paint(out)
        assert paint.flakes is not None
        assert paint.flakes.metal == "aluminium"
        assert any(doubt.rough for doubt in paint.doubts)
        assert '"layersim metalfit 2"' in data.read_text(encoding="utf-8")
        assert out.with_suffix(".png").read_bytes().startswith(b"\x89PNG")

    @pytest.mark.parametrize(
        ("old", "new", "said"),
        [
            ("angle_deg = 15", "angle_deg = 2", "Nearer than that"),
            ('kind = "metal"', 'kind = "paint"', 'it only where kind = "metal"'),
            ("# metal = ", 'metal = "gold" # ', 'found "gold"'),
            ("angle_deg = 15\n", "", "angle_deg is missing"),
        ],
    )
    def test_what_is_wrong_is_said(
        self, file: Path, old: str, new: str, said: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        text = file.read_text(encoding="utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), encoding="utf-8")
        assert main(["fit", str(file), "--no-picture", "--out", str(file.with_name("x.toml"))]) == 2
        assert said in capsys.readouterr().err
        assert not file.with_name("x.toml").exists()
