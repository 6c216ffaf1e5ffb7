"""Colour against its standards, and against colour-science and coloraide, two general libraries."""

from __future__ import annotations

import functools
import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim.colour import (
    LIGHTS,
    OBSERVERS,
    Viewing,
    decode_srgb,
    delta_e_2000,
    encode_srgb,
    hex_of,
    lab,
    lab_from_xyz,
    lab_of_hex,
    lch,
    luminance_weights,
    on_screen,
    xyz,
    xyz_from_lab,
)
from layersim.errors import UnknownNameError
from layersim.resources import data_folder
from tests.optics.ranges import LAW

D65 = Viewing()
IEC_WHITE = np.array([95.05, 100.0, 108.90])  # IEC 61966-2-1: the sums of its matrix's rows
IEC_TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
LUMINANCE = IEC_TO_XYZ[1]

# G. Sharma, W. Wu and E. N. Dalal, The CIEDE2000 color-difference formula: implementation notes,
# supplementary test data, and mathematical observations, Color Res. Appl. 30 (2005) 21, table 1: all pairs.
SHARMA_WU_DALAL = """
50.0000   2.6772 -79.7751  50.0000   0.0000 -82.7485   2.0425
50.0000   3.1571 -77.2803  50.0000   0.0000 -82.7485   2.8615
50.0000   2.8361 -74.0200  50.0000   0.0000 -82.7485   3.4412
50.0000  -1.3802 -84.2814  50.0000   0.0000 -82.7485   1.0000
50.0000  -1.1848 -84.8006  50.0000   0.0000 -82.7485   1.0000
50.0000  -0.9009 -85.5211  50.0000   0.0000 -82.7485   1.0000
50.0000   0.0000   0.0000  50.0000  -1.0000   2.0000   2.3669
50.0000  -1.0000   2.0000  50.0000   0.0000   0.0000   2.3669
50.0000   2.4900  -0.0010  50.0000  -2.4900   0.0009   7.1792
50.0000   2.4900  -0.0010  50.0000  -2.4900   0.0010   7.1792
50.0000   2.4900  -0.0010  50.0000  -2.4900   0.0011   7.2195
50.0000   2.4900  -0.0010  50.0000  -2.4900   0.0012   7.2195
50.0000  -0.0010   2.4900  50.0000   0.0009  -2.4900   4.8045
50.0000  -0.0010   2.4900  50.0000   0.0010  -2.4900   4.8045
50.0000  -0.0010   2.4900  50.0000   0.0011  -2.4900   4.7461
50.0000   2.5000   0.0000  50.0000   0.0000  -2.5000   4.3065
50.0000   2.5000   0.0000  73.0000  25.0000 -18.0000  27.1492
50.0000   2.5000   0.0000  61.0000  -5.0000  29.0000  22.8977
50.0000   2.5000   0.0000  56.0000 -27.0000  -3.0000  31.9030
50.0000   2.5000   0.0000  58.0000  24.0000  15.0000  19.4535
50.0000   2.5000   0.0000  50.0000   3.1736   0.5854   1.0000
50.0000   2.5000   0.0000  50.0000   3.2972   0.0000   1.0000
50.0000   2.5000   0.0000  50.0000   1.8634   0.5757   1.0000
50.0000   2.5000   0.0000  50.0000   3.2592   0.3350   1.0000
60.2574 -34.0099  36.2677  60.4626 -34.1751  39.4387   1.2644
63.0109 -31.0961  -5.8663  62.8187 -29.7946  -4.0864   1.2630
61.2901   3.7196  -5.3901  61.4292   2.2480  -4.9620   1.8731
35.0831 -44.1164   3.7933  35.0232 -40.0716   1.5901   1.8645
22.7233  20.0904 -46.6940  23.0331  14.9730 -42.5619   2.0373
36.4612  47.8580  18.3852  36.2715  50.5065  21.2231   1.4146
90.8027  -2.0831   1.4410  91.1528  -1.6435   0.0447   1.4441
90.9257  -0.5406  -0.9208  88.6381  -0.8985  -0.7239   1.5381
 6.7747  -0.2908  -2.4247   5.8714  -0.0985  -2.2286   0.6377
 2.0776   0.0795  -1.1350   0.9033  -0.0636  -0.5514   0.9082
"""
PAIRS = np.array([line.split() for line in SHARMA_WU_DALAL.strip().splitlines()], dtype=float)
ONE, TWO, DIFFERENCE = PAIRS[:, :3], PAIRS[:, 3:6], PAIRS[:, 6]


@functools.cache
def library() -> ModuleType:
    # colour-science sets numpy's way of printing for the whole process.
    with np.printoptions():
        import colour
    return colour


@functools.cache
def generator() -> ModuleType:
    path = Path(__file__).parents[1] / "data" / "generate" / "colour_table.py"
    spec = importlib.util.spec_from_file_location("colour_table", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def some_colours(count: int = 200) -> np.ndarray:
    random = np.random.default_rng(1)
    return random.uniform([0.0, -100.0, -100.0], [100.0, 100.0, 100.0], (count, 3))


def some_spectra(count: int = 50) -> np.ndarray:
    return np.random.default_rng(2).uniform(0.0, 1.0, (count, 31))


class TestCiede2000:
    def test_all_34_pairs(self) -> None:
        assert len(PAIRS) == 34
        np.testing.assert_allclose(delta_e_2000(ONE, TWO), DIFFERENCE, atol=5.1e-5)  # given to 4 digits

    def test_the_pairs_are_written_down_right(self) -> None:
        theirs = library().delta_E(ONE, TWO, method="CIE 2000")
        np.testing.assert_allclose(theirs, DIFFERENCE, atol=5.1e-5)

    def test_it_is_that_of_the_library(self) -> None:
        one, two = some_colours(), some_colours()[::-1]
        np.testing.assert_allclose(delta_e_2000(one, two), library().delta_E(one, two, method="CIE 2000"))

    @LAW
    @given(*[st.tuples(st.floats(0, 100), st.floats(-128, 128), st.floats(-128, 128))] * 2)
    def test_it_is_symmetric_and_zero_for_equals(
        self, one: tuple[float, float, float], two: tuple[float, float, float]
    ) -> None:
        there, back = float(delta_e_2000(one, two)), float(delta_e_2000(two, one))
        assert there == pytest.approx(back, abs=1e-9)
        assert there >= 0.0
        assert float(delta_e_2000(one, one)) == 0.0

    def test_it_broadcasts(self) -> None:
        assert delta_e_2000(np.zeros((4, 1, 3)), np.ones((5, 3))).shape == (4, 5)


class TestWhitePoints:
    # ASTM E308-18 tables 5 (10 nm weights): X and Z for Y = 100. The standard's own tables come from the
    # CIE's 1 nm colour-matching functions and 5 nm illuminants; ours from the library's copies of both by
    # the weighting of ASTM E2022, which differs in the third decimal. 0.01 in XYZ is ΔE*ab 0.02 at white.
    @pytest.mark.parametrize(
        ("light", "observer", "X", "Z"),
        [
            ("D65", "2", 95.047, 108.883),
            ("D50", "2", 96.422, 82.521),
            ("A", "2", 109.850, 35.585),
            ("D65", "10", 94.811, 107.304),
        ],
    )
    def test_astm_e308(self, light: str, observer: str, X: float, Z: float) -> None:
        np.testing.assert_allclose(Viewing(light, observer).white, [X, 100.0, Z], atol=0.01)

    # Likewise (from memory). Tubes have lines that 5 nm data only sketch, so the way of interpolation
    # tells more: up to 0.08.
    @pytest.mark.parametrize(
        ("light", "observer", "X", "Z"),
        [
            ("D50", "10", 96.720, 81.427),
            ("A", "10", 111.144, 35.200),
            ("FL2", "2", 99.186, 67.393),
            ("FL2", "10", 103.279, 69.027),
            ("FL11", "2", 100.962, 64.350),
            ("FL11", "10", 103.863, 65.607),
        ],
    )
    def test_astm_e308_others(self, light: str, observer: str, X: float, Z: float) -> None:
        np.testing.assert_allclose(Viewing(light, observer).white, [X, 100.0, Z], atol=0.09)

    @pytest.mark.parametrize("light", LIGHTS)
    @pytest.mark.parametrize("observer", OBSERVERS)
    def test_every_light_has_the_white_of_its_full_spectrum(self, light: str, observer: str) -> None:
        # CIE 15 at 5 nm: the sum over 380-780 nm, without any weights. Chromaticity to 0.0005.
        colour = library()
        shape = colour.SpectralShape(380, 780, 5)
        name = {"2": "CIE 1931 2 Degree Standard Observer", "10": "CIE 1964 10 Degree Standard Observer"}
        cmfs = colour.MSDS_CMFS[name[observer]].copy().align(shape)
        power = colour.SDS_ILLUMINANTS[light].copy().align(shape).values
        XYZ = power @ cmfs.values
        xy = XYZ[:2] / XYZ.sum()
        white = Viewing(light, observer).white
        np.testing.assert_allclose(white[:2] / white.sum(), xy, atol=5e-4)
        assert white[1] == pytest.approx(100.0, abs=1e-4)


class TestTable:
    def test_it_is_what_its_script_makes_with_the_library(self) -> None:
        for light in LIGHTS:
            for observer in OBSERVERS:
                made = generator().weights(light, observer)
                np.testing.assert_allclose(Viewing(light, observer).weights, made, atol=5.1e-7)  # 6 decimals

    def test_script_table_and_package_know_the_same_lights(self) -> None:
        assert tuple(LIGHTS) == generator().LIGHTS
        assert tuple(generator().OBSERVERS) == OBSERVERS
        lines = (data_folder() / "colour" / "weights.csv").read_text(encoding="utf-8").splitlines()
        header = lines[2].split(",")
        assert header[0] == "nm"
        assert header[1:] == [
            f"{light}/{observer}/{axis}" for light in LIGHTS for observer in OBSERVERS for axis in "XYZ"
        ]
        assert [line.split(",")[0] for line in lines[3:]] == [str(nm) for nm in range(400, 701, 10)]

    def test_it_cannot_be_changed(self) -> None:
        with pytest.raises(ValueError, match="read-only"):
            D65.weights[0, 0] = 1.0

    @pytest.mark.parametrize("light", LIGHTS)
    def test_a_smooth_spectrum_gives_the_sum_over_every_nanometre(self, light: str) -> None:
        # CIE 15 section 7.1, at 1 nm, beyond 400 and 700 nm as at the ends (ASTM E308 section 7.3).
        colour = library()
        shape = colour.SpectralShape(360, 780, 1)
        cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
        power = colour.SDS_ILLUMINANTS[light].copy().align(shape).values[:, np.newaxis]

        def pigment(nm: np.ndarray) -> np.ndarray:
            return 0.4 + 0.3 * np.sin((np.clip(nm, 400.0, 700.0) - 400.0) / 60.0)

        expected = 100.0 * pigment(shape.wavelengths) @ (power * cmfs) / (power * cmfs)[:, 1].sum()
        np.testing.assert_allclose(xyz(pigment(np.arange(400, 701, 10)), Viewing(light)), expected, atol=0.01)


class TestViewing:
    def test_unknown_names(self) -> None:
        known = "D65, D50, A, LED-B1, LED-B3, LED-B5, FL2, FL11"
        with pytest.raises(UnknownNameError) as near:
            Viewing("d65")
        assert str(near.value) == f'no lamp "d65": expected one of {known}. Did you mean "D65"?'
        with pytest.raises(UnknownNameError, match=f"expected one of {known}"):
            Viewing("candle")
        with pytest.raises(UnknownNameError, match=r'no observer "5"; there are 2 and 10 \(degrees\)'):
            Viewing("D65", "5")

    @pytest.mark.parametrize("light", LIGHTS)
    @pytest.mark.parametrize("observer", OBSERVERS)
    def test_a_perfect_white_is_white_and_a_grey_is_grey(self, light: str, observer: str) -> None:
        viewing = Viewing(light, observer)
        np.testing.assert_allclose(lab(np.ones(31), viewing), [100.0, 0.0, 0.0], atol=1e-9)
        np.testing.assert_allclose(lab(np.full(31, 0.2), viewing)[1:], 0.0, atol=1e-9)
        np.testing.assert_allclose(lab(np.zeros(31), viewing), 0.0, atol=1e-9)

    def test_luminance_weights_sum_to_one(self) -> None:
        assert luminance_weights().sum() == pytest.approx(1.0, abs=1e-6)
        np.testing.assert_allclose(
            luminance_weights(Viewing("A", "10")) * 100.0, Viewing("A", "10").weights[:, 1]
        )


class TestLab:
    @pytest.mark.parametrize("light", LIGHTS)
    def test_it_is_that_of_the_library(self, light: str) -> None:
        colour = library()
        white = Viewing(light).white
        values = xyz(some_spectra(), Viewing(light))
        xy = colour.XYZ_to_xy(white)
        np.testing.assert_allclose(
            lab_from_xyz(values, white), colour.XYZ_to_Lab(values / 100.0, xy), atol=1e-9
        )

    def test_it_is_that_of_another_library_for_its_white(self) -> None:
        from coloraide import Color

        for hex_, srgb in (
            ("#3d4c74", (0x3D, 0x4C, 0x74)),
            ("#ff8000", (255, 128, 0)),
            ("#010203", (1, 2, 3)),
        ):
            other = Color("srgb", [level / 255.0 for level in srgb]).convert("lab-d65").coords()
            # Their white has x = 0.31270, y = 0.32900; the standard's matrix sums to 0.9505, 1, 1.0890.
            np.testing.assert_allclose(lab_of_hex(hex_), other, atol=0.03)

    def test_dark_colours_take_the_straight_line(self) -> None:
        # CIE 15: below (6/29)³ L* is 903.3 Y/Yn.
        values = lab_from_xyz([0.0, 0.5, 0.0], [100.0, 100.0, 100.0])
        assert values[0] == pytest.approx(903.2963 * 0.005, abs=1e-5)

    @LAW
    @given(st.tuples(st.floats(0.0, 100.0), st.floats(-150, 150), st.floats(-150, 150)))
    def test_there_and_back(self, value: tuple[float, float, float]) -> None:
        white = Viewing("A").white
        np.testing.assert_allclose(lab_from_xyz(xyz_from_lab(value, white), white), value, atol=1e-9)

    def test_lch_is_that_of_the_library(self) -> None:
        theirs = library().models.Lab_to_LCHab(some_colours())
        np.testing.assert_allclose(lch(some_colours()), theirs, atol=1e-9)

    def test_measured_chart_patches_have_their_published_colours(self) -> None:
        # Averages of many measured 24-patch charts: colour-science publishes both their spectra and,
        # separately, their xyY under D50 and the 2° observer. It has one set with both.
        colour = library()
        [key, *_] = sorted(set(colour.SDS_COLOURCHECKERS) & set(colour.CCS_COLOURCHECKERS))
        published = colour.CCS_COLOURCHECKERS[key]
        spectra = colour.SDS_COLOURCHECKERS[key].values()
        viewing = Viewing("D50")
        shape = colour.SpectralShape(400, 700, 10)
        mine = lab([spectrum.copy().align(shape).values for spectrum in spectra], viewing)
        white = colour.xy_to_XYZ(published.illuminant) * 100.0
        theirs = lab_from_xyz(colour.xyY_to_XYZ(np.array(list(published.data.values()))) * 100.0, white)
        assert mine.shape == theirs.shape == (24, 3)
        off = delta_e_2000(mine, theirs)
        assert off.max() <= 0.2
        assert off.mean() <= 0.05


class TestScreen:
    def test_iec_61966_2_1_values(self) -> None:
        assert float(decode_srgb(0.5)) == pytest.approx(0.2140411, abs=5e-8)
        assert float(encode_srgb(0.2140411)) == pytest.approx(0.5, abs=1e-7)
        np.testing.assert_allclose(decode_srgb([0.0, 0.04045, 1.0]), [0.0, 0.04045 / 12.92, 1.0])
        np.testing.assert_allclose(encode_srgb([0.0, 0.0031308, 1.0]), [0.0, 12.92 * 0.0031308, 1.0])
        # Red, green, blue in Lab under D65 (the usual figures, to 2 decimals).
        np.testing.assert_allclose(lab_of_hex("#ff0000"), [53.23, 80.11, 67.22], atol=0.03)
        np.testing.assert_allclose(lab_of_hex("#00ff00"), [87.74, -86.18, 83.18], atol=0.03)
        np.testing.assert_allclose(lab_of_hex("#0000ff"), [32.30, 79.20, -107.86], atol=0.03)

    def test_encoding_is_that_of_the_library(self) -> None:
        values = np.linspace(0.0, 1.0, 1001)
        np.testing.assert_allclose(
            encode_srgb(values), library().cctf_encoding(values, function="sRGB"), atol=1e-12
        )
        np.testing.assert_allclose(
            decode_srgb(values), library().cctf_decoding(values, function="sRGB"), atol=1e-12
        )

    def test_every_level_of_a_channel_comes_back(self) -> None:
        levels = np.arange(256) / 255.0
        np.testing.assert_allclose(np.rint(encode_srgb(decode_srgb(levels)) * 255.0), np.arange(256))

    @pytest.mark.parametrize("light", LIGHTS)
    def test_adaptation_is_the_librarys_linear_bradford(self, light: str) -> None:
        # The standard's own white and matrix behind it, so that nothing but the adaptation is compared.
        colour = library()
        white = Viewing(light).white
        values = white * np.random.default_rng(3).uniform(0.25, 0.45, (40, 3))
        adapted = colour.adaptation.chromatic_adaptation_VonKries(
            values / 100.0, white / 100.0, IEC_WHITE / 100.0, transform="Bradford"
        )
        to_linear = np.linalg.inv(IEC_TO_XYZ)
        linear = adapted @ to_linear.T
        inside = ((linear > 0.0) & (linear < 1.0)).all(axis=1)
        assert inside.sum() > 10
        found = on_screen(values, white)
        assert found.shown[inside].all()
        np.testing.assert_allclose(found.rgb[inside], encode_srgb(linear[inside]), atol=1e-9)

    def test_the_inverse_is_that_of_amendment_1(self) -> None:
        # IEC 61966-2-1 Amd 1 (2003), from memory; what it does to one primary's XYZ shows a column.
        inverse = [
            [3.2406255, -1.5372080, -0.4986286],
            [-0.9689307, 1.8757561, 0.0415175],
            [0.0557101, -0.2040211, 1.0569959],
        ]
        np.testing.assert_allclose(np.linalg.inv(IEC_TO_XYZ), inverse, atol=1e-7)
        for hex_, column in (("#800000", 0), ("#008000", 1), ("#000080", 2)):
            found = on_screen(IEC_TO_XYZ[:, column] * 100.0 * decode_srgb(128.0 / 255.0), IEC_WHITE)
            assert hex_of(found.rgb) == hex_

    def test_it_is_what_the_library_shows_in_daylight(self) -> None:
        colour = library()
        values = xyz(some_spectra(), D65)
        theirs = colour.XYZ_to_sRGB(
            values / 100.0, illuminant=colour.XYZ_to_xy(D65.white), chromatic_adaptation_transform="Bradford"
        )
        found = on_screen(values, D65.white)
        assert found.shown.all()
        # Its white has x = 0.3127, y = 0.3290: 0.0001 off the sums of the standard's matrix.
        np.testing.assert_allclose(found.rgb, theirs, atol=3e-4)

    def test_it_is_what_another_library_shows(self) -> None:
        from coloraide import Color

        for value in ([20.0, 21.0, 30.0], [41.24, 50.0, 25.0], [5.0, 4.0, 3.0]):
            other = Color("xyz-d65", [v / 100.0 for v in value]).convert("srgb").coords()
            np.testing.assert_allclose(on_screen(value, IEC_WHITE).rgb, other, atol=1e-3)

    @pytest.mark.parametrize("light", LIGHTS)
    def test_a_white_is_white_under_every_light(self, light: str) -> None:
        white = Viewing(light).white
        found = on_screen([white, 0.18 * white, 0.0 * white], white)
        assert found.shown.all()
        assert [hex_of(rgb) for rgb in found.rgb] == ["#ffffff", "#767676", "#000000"]

    def test_what_the_screen_cannot_show_is_flagged_and_keeps_its_luminance(self) -> None:
        outside = np.array(
            [[20.0, -80.0, 0.0], [60.0, 120.0, 60.0], [50.0, -120.0, 20.0], [70.0, 0.0, 110.0]]
        )
        values = xyz_from_lab(outside, D65.white)
        found = on_screen(values, D65.white)
        assert not found.shown.any()
        assert ((found.rgb >= 0.0) & (found.rgb <= 1.0)).all()
        # D65's white and the matrix's differ by 0.02 %, so the luminances do.
        np.testing.assert_allclose(decode_srgb(found.rgb) @ LUMINANCE, values[:, 1] / 100.0, rtol=2e-3)
        # As much chroma as there is room for: some channel is at its end.
        linear = decode_srgb(found.rgb)
        assert (np.isclose(linear.min(axis=1), 0.0, atol=1e-9) | np.isclose(linear.max(axis=1), 1.0)).all()

    def test_what_it_can_just_show_is_not(self) -> None:
        for hex_ in ("#ff0000", "#00ff00", "#0000ff", "#ffff00", "#00ffff", "#ff00ff", "#ffffff", "#000000"):
            found = on_screen(xyz_from_lab(lab_of_hex(hex_), IEC_WHITE), IEC_WHITE)
            assert bool(found.shown)
            assert hex_of(found.rgb) == hex_

    def test_brighter_than_white_is_white_and_flagged(self) -> None:
        found = on_screen(1.2 * D65.white, D65.white)
        assert hex_of(found.rgb) == "#ffffff"
        assert not found.shown

    def test_shapes_are_kept(self) -> None:
        found = on_screen(np.full((2, 5, 3), 20.0), D65.white)
        assert (found.rgb.shape, found.shown.shape) == ((2, 5, 3), (2, 5))


class TestHex:
    @LAW
    @given(st.integers(0, 0xFFFFFF))
    def test_there_and_back(self, value: int) -> None:
        text = f"#{value:06x}"
        back = on_screen(xyz_from_lab(lab_of_hex(text), IEC_WHITE), IEC_WHITE)
        assert hex_of(back.rgb) == text
        assert bool(back.shown)

    @pytest.mark.parametrize(
        "text", ["", "#", "#12345", "#1234567", "3d4c74", "#3d4c7g", "#3D4C74 ", "red", "#３d4c74"]
    )
    def test_what_is_no_colour(self, text: str) -> None:
        with pytest.raises(ValueError, match='is not a colour such as "#7a4c2e"'):
            lab_of_hex(text)

    def test_capitals_are_the_same(self) -> None:
        np.testing.assert_array_equal(lab_of_hex("#3D4C74"), lab_of_hex("#3d4c74"))


def test_chart_table_of_the_package_is_the_librarys() -> None:
    """The patches that stand in data/ for photographs of charts."""
    path = data_folder() / "colour" / "chart24.csv"
    rows = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines() if line[0] != "#"][1:]
    colour = library()
    [key, *_] = sorted(set(colour.SDS_COLOURCHECKERS) & set(colour.CCS_COLOURCHECKERS))
    shape = colour.SpectralShape(400, 700, 10)
    theirs = [spectrum.copy().align(shape).values for spectrum in colour.SDS_COLOURCHECKERS[key].values()]
    np.testing.assert_allclose(np.array([row[1:] for row in rows], dtype=float), theirs, rtol=1e-4)


@pytest.mark.parametrize("wrong", [np.nan, np.inf, -1.0, 2.0, 50.0])
@pytest.mark.filterwarnings("ignore:invalid value:RuntimeWarning")
def test_a_reflectance_that_is_no_share_of_light_has_no_colour(wrong: float) -> None:
    with pytest.raises(ValueError, match="must be a share of the light"):
        lab(np.full(31, wrong), Viewing())
