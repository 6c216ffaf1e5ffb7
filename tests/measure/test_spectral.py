"""Units, ranges, wavelengths, and files that nobody should trust."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layersim.errors import InputFileError, SpectralFileError, UnknownNameError
from layersim.files import LARGEST_TEXT_BYTES
from layersim.measure.sheet import specular_said
from layersim.measure.spectral import SpectralFile, read_spectra
from layersim.spectra import wavelengths_nm

NM = range(400, 710, 10)
Write = Callable[[str | bytes], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def to_file(content: str | bytes) -> Path:
        path = tmp_path / "readings.txt"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return to_file


def table(*values: float, heading: str = "nm;white", nm: object = NM) -> str:
    rows = [f"{w};" + ";".join(f"{v:g}" for v in values) for w in nm]  # type: ignore[attr-defined]
    return "\n".join([heading, *rows]) + "\n"


def message(path: Path, **how: str) -> str:
    with pytest.raises(SpectralFileError) as fault:
        read_spectra(path, **how)  # type: ignore[arg-type]
    text = str(fault.value)
    assert text.startswith(f"{path}: ")
    return text


# --- the whole of a reading ------------------------------------------------------------------


def test_a_reading_comes_with_its_wavelengths_and_goes_onto_the_grid(write: Write) -> None:
    nm = np.arange(380, 731, 5)
    path = write("nm\tred\n" + "".join(f"{w}\t{0.1 + 1e-3 * (w - 380):.4f}\n" for w in nm))
    reading = read_spectra(path).find("red")
    np.testing.assert_array_equal(reading.wavelengths_nm, nm)
    grid, noise = reading.on_grid()
    np.testing.assert_allclose(grid, 0.1 + 1e-3 * (wavelengths_nm() - 380), atol=1e-12)
    assert noise is None


def test_names_are_found_whatever_their_capitals_and_the_nearest_is_named(write: Write) -> None:
    found = read_spectra(write(table(0.5, 0.1, heading="nm;Titanium  White;black")))
    assert found.names == ("Titanium White", "black")
    assert found.find("titanium white").reflectance[0] == 0.5
    with pytest.raises(UnknownNameError, match='Did you mean "Titanium White"'):
        found.find("titanum white")


# --- units -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("largest", "expected"), [(0.86, 0.86), (1.1, 1.1), (2.5, 0.025), (86.0, 0.86), (0.02, 0.02)]
)
def test_the_unit_is_told_by_the_largest_number_and_said(
    write: Write, largest: float, expected: float
) -> None:
    found = read_spectra(write(table(largest, largest / 2, heading="nm;a;b")))
    assert found.find("a").reflectance[0] == pytest.approx(expected)
    assert "no unit is stated" in found.notices[0]
    assert ("per cent" if largest > 2 else "fractions") in found.notices[0]


def test_a_largest_number_that_could_be_either_is_refused(write: Write) -> None:
    path = write(table(1.4))
    assert 'line 2, column 2, reading "white": found 1.4 as the largest number' in message(path)
    assert read_spectra(path, unit="per cent").find("white").reflectance[0] == pytest.approx(0.014)


def test_one_slip_of_the_keyboard_does_not_turn_fractions_into_per_cent(write: Write) -> None:
    text = message(write(table(0.5, 0.2, heading="nm;white;red").replace("430;0.5;0.2", "430;0.5;20")))
    assert 'line 5, column 3, reading "red": found 20 as the largest number of all, where 98 % are' in text


def test_what_the_caller_says_comes_before_what_the_file_says(write: Write) -> None:
    text = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME " + " ".join(f"SPECTRAL_PCT{w}" for w in NM)
    text += "\nEND_DATA_FORMAT\nBEGIN_DATA\nwhite " + " ".join(["0.8"] * 31) + "\nEND_DATA\n"
    path = write(text)
    assert "Are these fractions?" in message(path)
    assert read_spectra(path, unit="fraction").find("white").reflectance[0] == 0.8
    assert read_spectra(path, unit="fraction").notices == ()


@pytest.mark.parametrize(
    ("value", "how", "said"),
    [
        (
            45.0,
            {"unit": "fraction"},
            "45 (fraction), and 30 more out of range; expected a reflectance from -0.01",
        ),
        (45.0, {"unit": "fraction"}, "Are these per cent?"),
        (0.02, {"unit": "per cent"}, "the unit is per cent (as asked for)"),
        (0.0005, {}, "expected a lighter one"),
        (132.0, {}, "132 (per cent), and 30 more out of range; expected a reflectance from -1 to 110"),
        (-0.2, {"unit": "fraction"}, "the largest number is -0.2"),
    ],
)
def test_numbers_that_contradict_their_unit_are_refused(
    write: Write, value: float, how: dict[str, str], said: str
) -> None:
    assert said in message(write(table(value)), **how)


def test_a_reflectance_out_of_range_is_named_with_its_place(write: Write) -> None:
    whole = table(0.5, 0.2, heading="nm;white;red")
    text = message(write(whole.replace("430;0.5;0.2", "430;0.5;1.2")), unit="fraction")
    assert 'line 5, column 3, reading "red", 430 nm: found 1.2 (fraction)' in text
    text = message(write(whole.replace("430;0.5;0.2", "430;0.5;-0.02")))
    assert 'line 5, column 3, reading "red", 430 nm: found -0.02 (fraction)' in text


def test_dark_noise_may_fall_a_little_below_zero(write: Write) -> None:
    found = read_spectra(write(table(0.5, -0.004, heading="nm;white;black")))
    assert found.find("black").reflectance.min() == -0.004


# --- wavelengths -----------------------------------------------------------------------------


def test_a_scan_from_red_to_blue_is_turned_round(write: Write) -> None:
    rows = "".join(f"{w};{w / 1000}\n" for w in reversed(NM))
    reading = read_spectra(write("nm;white\n" + rows)).find("white")
    np.testing.assert_allclose(reading.reflectance, reading.wavelengths_nm / 1000)


@pytest.mark.parametrize(
    ("nm", "said"),
    [
        ([*range(400, 560, 10), 550, *range(560, 710, 10)], "line 18, column 1: found 550 nm a second time"),
        ([400, 420, 410, *range(430, 710, 10)], "line 4, column 1: found 410 nm after 420 nm"),
        ([*range(400, 500, 10), *range(550, 710, 10)], "no wavelengths between 490 and 550 nm"),
        (range(400, 500, 10), "expected at least half of 400 to 700 nm"),
        (range(900, 1200, 10), "0 wavelengths from 360 to 780 nm"),
    ],
)
def test_wavelengths_out_of_order_doubled_or_missing_are_refused(
    write: Write, nm: list[int], said: str
) -> None:
    assert said in message(write(table(0.5, nm=nm)))


def test_small_gaps_and_short_ends_are_bridged_and_told(write: Write) -> None:
    nm = [*range(410, 530, 10), *range(540, 700, 10)]
    notices = read_spectra(write(table(0.5, nm=nm))).notices
    assert any("missing between 520-540 nm" in notice for notice in notices)
    assert any("from 410 to 690 nm" in notice for notice in notices)


def test_readings_beyond_the_visible_are_passed_over(write: Write) -> None:
    rows = [f"{w};{'overflow' if w < 360 else 0.5}" for w in range(250, 1110, 10)]
    reading = read_spectra(write("\n".join(["nm;white", *rows]))).find("white")
    assert reading.wavelengths_nm[[0, -1]].tolist() == [360.0, 780.0]


# --- repeats ---------------------------------------------------------------------------------


def test_repeats_are_averaged_and_a_stray_one_is_named(write: Write) -> None:
    found = read_spectra(write(table(0.50, 0.51, 0.60, 0.52, heading="nm;a;a;A;a")))
    reading = found.find("a")
    assert reading.repeats == 3
    np.testing.assert_allclose(reading.reflectance, 0.51)
    assert reading.noise is not None
    np.testing.assert_allclose(reading.noise, 0.01 / np.sqrt(3))
    assert any("reading 3 of 4" in notice and "left out" in notice for notice in found.notices)


def test_different_swatches_under_one_name_are_refused(write: Write) -> None:
    text = message(write(table(0.5, 0.9, heading="nm;a;a")))
    assert '2 readings named "a" lie 0.40 apart' in text


# --- geometry --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("remark", "said"),
    [
        ("Geometry: d/8, specular component included", {"included"}),
        ("SCI", {"included"}),
        ("di:8", {"included"}),
        ("de:8°", {"excluded"}),
        ("Specular excluded", {"excluded"}),
        ("SPEX", {"excluded"}),
        ("45/0", {"excluded"}),
        ("0:45", {"excluded"}),
        ("45°a:0°", {"excluded"}),
        ("d/8", set()),
        ("measured on 2026/45/07, a scientific day", set()),
        ("angle 145/0.5", set()),
    ],
)
def test_words_for_the_geometry(remark: str, said: set[str]) -> None:
    assert specular_said((remark,)) == said


def test_a_file_that_says_both_geometries_is_told(write: Write) -> None:
    found = read_spectra(write("# SCI\n# specular excluded\n" + table(0.5)))
    assert found.specular is None
    assert any("both" in notice for notice in found.notices)


# --- files nobody should trust ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"  \n\n", "empty"),
        (b"# only a remark\n", "no readings"),
        (b";;;\n;;\n", "no readings"),
        (b"PK\x03\x04\x00\x00", "spreadsheet or archive"),
        (bytes(range(256)), "not text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not text"),
        (b"{\\rtf1 400;0.5}", "this is rich text"),
        (b"hello\nthere\n", "found no wavelengths"),
        (b"<?xml version='1.0'?>\n<SpectralData/>\n", "found no wavelengths"),
        (b"nm;a\n" + b"".join(b"%d;0.5\n" % w for w in NM)[:-1] + b'"\n', 'found "0.5""'),
    ],
)
def test_files_that_hold_no_readings(write: Write, content: bytes, said: str) -> None:
    assert said in message(write(content))


def test_older_encodings_are_read(write: Write) -> None:
    text = "# 45°/0°\n" + table(0.5, heading="nm;weiß")
    for encoding in ("utf-8", "utf-8-sig", "latin-1", "utf-16"):
        found = read_spectra(write(text.encode(encoding)))
        assert found.names == ("weiß",)
        assert found.specular == "excluded"


def test_missing_folders_and_huge_files_are_told(tmp_path: Path) -> None:
    assert "no such file" in message(tmp_path / "none.txt")
    assert "folder" in message(tmp_path)
    huge = tmp_path / "huge.txt"
    with huge.open("wb") as out:
        out.truncate(LARGEST_TEXT_BYTES + 1)
    assert "too large" in message(huge)
    huge.write_text("400;1\n" * 600_000, encoding="utf-8")
    assert "600000 rows; expected at most" in message(huge)


def test_a_file_wrong_throughout_gives_a_short_message(write: Write) -> None:
    text = message(write(table(0.5).replace("0.5", "n/a")))
    assert text.count("\n") <= 8
    assert "And 23 more like these." in text


VALID = (
    table(0.5, 0.02, heading="nm;white;black"),
    "name," + ",".join(f"{w} nm" for w in NM) + "\n" + "white," + ",".join(["45.1"] * 31) + "\n",
    "CGATS.17\nMEASUREMENT_GEOMETRY 45/0\nNUMBER_OF_FIELDS 33\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME "
    + " ".join(f"SPECTRAL_NM{w}" for w in NM)
    + '\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n1 "titanium white" '
    + " ".join(["0.8"] * 31)
    + "\n2 black "
    + " ".join(["0.04"] * 31)
    + "\nEND_DATA\n",
)


TOKENS = (b"\n", b";", b",", b"\t", b'"', b"#", b"nan", b"1e999", b"-", b"%", b"400", b"BEGIN_DATA\n")


def survives(path: Path, content: bytes) -> SpectralFile | None:
    """Read whatever it is: readings that are sound, or a complaint of the right kind."""
    path.write_bytes(content)
    try:
        found = read_spectra(path)
    except InputFileError:
        return None
    for reading in found.readings:
        grid, _ = reading.on_grid()
        assert np.isfinite(grid).all()
        assert grid.min() >= -0.011
        assert grid.max() <= 1.1001
    return found


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz") / "fuzz.txt"


@settings(deadline=None, max_examples=150)
@given(content=st.binary(max_size=400) | st.text(max_size=400).map(lambda text: text.encode()))
def test_random_bytes_and_text_give_a_message(scratch: Path, content: bytes) -> None:
    survives(scratch, content)


@settings(deadline=None, max_examples=250)
@given(
    valid=st.sampled_from(VALID),
    edits=st.lists(
        st.tuples(st.integers(0, 2000), st.integers(0, 12), st.binary(max_size=6) | st.sampled_from(TOKENS)),
        min_size=1,
        max_size=4,
    ),
)
def test_corrupted_files_give_readings_or_a_message(
    scratch: Path, valid: str, edits: list[tuple[int, int, bytes]]
) -> None:
    content = valid.encode()
    for at, length, instead in edits:
        at %= len(content) + 1
        content = content[:at] + instead + content[at + length :]
    survives(scratch, content)


@settings(deadline=None, max_examples=60)
@given(valid=st.sampled_from(VALID[2:]), share=st.floats(0.0, 1.0))
def test_a_cgats_file_cut_short_is_never_read(scratch: Path, valid: str, share: float) -> None:
    whole = valid.rstrip()
    cut = whole[: int(share * (len(whole) - 1))]
    assert survives(scratch, cut.encode()) is None
