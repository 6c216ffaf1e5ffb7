"""The wavelength grid, and bringing spectra onto it."""

import math
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from layersim.spectra import BANDS, FIRST_NM, LAST_NM, STEP_NM, as_bands, resample, wavelengths_nm
from tests.optics.ranges import LAW

VALUE = st.sampled_from([0.0, 0.25, 1.0]) | st.integers(-2000, 2000).map(
    lambda thousandth: thousandth / 1000.0
)


def colour_science() -> ModuleType:
    # The library sets numpy's way of printing for the whole process.
    with np.printoptions():
        import colour
    return colour


def test_the_grid() -> None:
    grid = wavelengths_nm()
    assert (FIRST_NM, LAST_NM, STEP_NM, BANDS) == (400, 700, 10, 31)
    assert grid.dtype == np.float64
    np.testing.assert_array_equal(grid, [400 + 10 * i for i in range(31)])
    grid[0] = 0.0
    assert wavelengths_nm()[0] == 400.0  # a fresh one each time


class TestAsBands:
    @pytest.mark.parametrize("number", [0, 1, 0.25, np.float32(0.25), np.array(0.25)])
    def test_a_number_stands_for_every_band(self, number: float) -> None:
        bands = as_bands(number, name="it")
        assert bands.dtype == np.float64
        np.testing.assert_array_equal(bands, np.full(31, float(number)))

    @pytest.mark.parametrize("shape", [(31,), (4, 31), (2, 3, 31), (0, 31)])
    def test_bands_are_taken_as_they_are(self, shape: tuple[int, ...]) -> None:
        given = np.arange(math.prod(shape), dtype=float).reshape(shape)
        np.testing.assert_array_equal(as_bands(given.tolist() if given.size else given, name="it"), given)

    @pytest.mark.parametrize("shape", [(30,), (32,), (1,), (0,), (31, 1), (31, 30)])
    def test_any_other_length_is_named(self, shape: tuple[int, ...]) -> None:
        with pytest.raises(ValueError, match=rf"the ground has {shape[-1]} bands; expected 31"):
            as_bands(np.zeros(shape), name="the ground")

    @pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
    def test_what_is_no_number_is_named(self, bad: float) -> None:
        values = np.zeros((2, 31))
        values[1, 30] = bad
        with pytest.raises(ValueError, match="the ground has a value that is not a finite number"):
            as_bands(values, name="the ground")
        with pytest.raises(ValueError, match="finite"):
            as_bands(bad, name="it")


class TestResample:
    @LAW
    @given(hnp.arrays(float, (2, 31), elements=VALUE))
    def test_its_own_grid_changes_nothing(self, values: np.ndarray) -> None:
        np.testing.assert_allclose(resample(values, from_nm=wavelengths_nm()), values, rtol=1e-14, atol=1e-15)

    @LAW
    @given(VALUE, VALUE, st.floats(380.0, 400.0), st.floats(700.0, 780.0), st.integers(2, 50))
    def test_straight_lines_stay_straight(
        self, at_0: float, slope: float, first: float, last: float, n: int
    ) -> None:
        nm = np.linspace(first, last, n)
        line = at_0 + slope * (nm - 400.0) / 300.0
        expected = at_0 + slope * (wavelengths_nm() - 400.0) / 300.0
        np.testing.assert_allclose(resample(line, from_nm=nm), expected, atol=1e-13)

    @LAW
    @given(hnp.arrays(float, 17, elements=VALUE))
    def test_nothing_beyond_what_was_given(self, values: np.ndarray) -> None:
        out = resample(values, from_nm=np.linspace(390.0, 710.0, 17))
        assert out.min() >= values.min() - 1e-15
        assert out.max() <= values.max() + 1e-15

    def test_ends_are_held(self) -> None:
        out = resample([[1.0, 2.0, 4.0], [0.0, 0.5, 0.0]], from_nm=[430.0, 500.0, 650.0])
        np.testing.assert_allclose(out[:, :4], [[1.0] * 4, [0.0] * 4], atol=1e-15)
        np.testing.assert_allclose(out[:, 25:], [[4.0] * 6, [0.0] * 6], atol=1e-15)
        assert out[0, 10] == pytest.approx(2.0)

    def test_what_was_measured_at_the_grids_wavelengths_is_taken_as_it_is(self) -> None:
        nm = np.arange(380.0, 735.0, 5.0)
        np.testing.assert_array_equal(resample(nm, from_nm=nm), wavelengths_nm())
        np.testing.assert_array_equal(resample(nm[:60], from_nm=nm[:60])[-3:], [675.0] * 3)

    def test_ends_held_are_astm_e308s_weights_moved_to_the_ends(self) -> None:
        # ASTM E308 sec. 7.3: weights of wavelengths without data are added to those of the nearest
        # wavelength with data. colour-science carries that rule out on its tables.
        colour = colour_science()
        cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        shape = colour.SpectralShape(400, 700, 10)
        weights = colour.colorimetry.tristimulus_weighting_factors_ASTME2022(
            cmfs, colour.SDS_ILLUMINANTS["D65"].copy().align(cmfs.shape), shape
        )[4:35]  # its rows are 360, 370 … 830 nm
        cut = colour.SpectralShape(430, 660, 10)
        moved = colour.colorimetry.adjust_tristimulus_weighting_factors_ASTME308(weights, shape, cut)
        values = np.linspace(0.1, 0.9, 24) ** 2
        held = resample(values, from_nm=np.arange(430.0, 661.0, 10.0))
        np.testing.assert_allclose(held @ weights, values @ moved, rtol=1e-12)

    def test_measured_paints_come_back(self) -> None:
        # Spectra of 24 painted patches measured each 5 nm (N. Ohta 1997, as stored in colour-science):
        # some samples kept, brought back to the grid and compared with the measured values there.
        colour = colour_science()
        cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        weights = colour.colorimetry.tristimulus_weighting_factors_ASTME2022(
            cmfs, colour.SDS_ILLUMINANTS["D65"].copy().align(cmfs.shape), colour.SpectralShape(400, 700, 10)
        )[4:35]
        white = weights.sum(axis=0) / weights[:, 1].sum()

        def lab(reflectance: np.ndarray) -> np.ndarray:
            return colour.XYZ_to_Lab(reflectance @ weights / weights[:, 1].sum(), colour.XYZ_to_xy(white))

        patches = colour.SDS_COLOURCHECKERS["cc_ohta"].values()
        true = np.array([sd[wavelengths_nm()] for sd in patches])
        for nm, mean, most in (
            (np.arange(395.0, 706.0, 10.0), 0.04, 0.18),  # 10 nm apart, off the grid
            (np.arange(380.0, 721.0, 20.0), 0.07, 0.20),  # 20 nm apart
        ):
            kept = np.array([sd[nm] for sd in patches])
            lines = np.array([np.interp(wavelengths_nm(), nm, row) for row in kept])
            off = colour.delta_E(lab(true), lab(resample(kept, from_nm=nm)), method="CIE 2000")
            off_lines = colour.delta_E(lab(true), lab(lines), method="CIE 2000")
            assert off.mean() < mean
            assert off.max() < most
            assert off_lines.mean() > 3.0 * off.mean()

    @pytest.mark.parametrize(
        ("values", "nm", "message"),
        [
            ([1.0, 2.0], [400.0, 500.0, 700.0], "values for"),
            ([1.0, 2.0], [[400.0, 700.0]], "values for"),
            (1.0, [400.0, 700.0], "values for"),
            ([1.0], [500.0], "must rise"),
            ([], [], "must rise"),
            ([1.0, 2.0], [700.0, 400.0], "must rise"),
            ([1.0, 2.0, 3.0], [400.0, 400.0, 700.0], "must rise"),
            ([1.0, math.nan], [400.0, 700.0], "finite"),
            ([1.0, math.inf], [400.0, 700.0], "finite"),
            ([1.0, 2.0], [400.0, math.inf], "finite"),
            ([1.0, 2.0], [math.nan, 700.0], "finite"),
            ([1.0, 2.0], [400.0, 549.0], "400-549 nm cover less than half"),
            ([1.0, 2.0], [551.0, 900.0], "551-900 nm cover less than half"),
            ([1.0, 2.0], [0.4, 0.7], "less than half"),  # micrometres by mistake
            ([1.0, 2.0], [800.0, 1000.0], "less than half"),
        ],
    )
    def test_refusals(self, values: list[float], nm: list[float], message: str) -> None:
        with pytest.raises(ValueError, match=message):
            resample(values, from_nm=nm)

    def test_half_the_range_is_enough(self) -> None:
        assert resample([1.0, 2.0], from_nm=[400.0, 550.0])[-1] == 2.0
        assert resample([1.0, 2.0], from_nm=[550.0, 700.0])[0] == 1.0
