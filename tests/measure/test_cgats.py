"""CGATS.17 text: one content in the field names of many instruments, and counts that must agree."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layersim.errors import SpectralFileError
from layersim.measure.cgats import looks_like_cgats, read_cgats
from layersim.measure.sheet import Readings
from layersim.measure.spectral import read_spectra
from tests.measure.library import library_files

HERE = Path("readings.txt")
NM = range(400, 710, 10)
PATTERNS = (
    "SPECTRAL_NM{}", "SPECTRAL_NM_{}", "SPECTRAL_{}", "SPECTRAL_DEC{}", "SPECTRAL_DEC_{}", "SPECTRAL_PCT{}",
    "SPECTRUM_{}", "SPEC_{}", "nm{}", "NM_{}", "R_{}", "R{}", "{}nm", "{}_NM",
)  # fmt: skip
HALVES = " ".join(["0.5"] * 31)


def cgats(fields: str, *rows: str, keywords: str = "", sets: int | None = None) -> str:
    return (
        f'CGATS.17\nORIGINATOR "nobody"\n{keywords}BEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\n'
        f"NUMBER_OF_SETS {len(rows) if sets is None else sets}\nBEGIN_DATA\n"
        + "".join(row + "\n" for row in rows)
        + "END_DATA\n"
    )


def fields(pattern: str, names: str = "SAMPLE_ID SAMPLE_NAME") -> str:
    return f"{names} " + " ".join(pattern.format(w) for w in NM)


def only(text: str, **how: str) -> Readings:
    (sheet,), _ = read_cgats(HERE, text, **how)
    return sheet


def refused(text: str, **how: str) -> str:
    with pytest.raises(SpectralFileError) as fault:
        read_cgats(HERE, text, **how)
    return str(fault.value)


# --- one content, many names -----------------------------------------------------------------


@settings(deadline=None, max_examples=80)
@given(
    pattern=st.sampled_from(PATTERNS),
    names=st.lists(
        st.text("abc d,;#'é1", min_size=1, max_size=10).map(lambda text: " ".join(("x" + text).split())),
        min_size=1, max_size=4, unique_by=str.casefold,
    ),
    separator=st.sampled_from([" ", "\t", "   "]),
    seed=st.integers(0, 2**32 - 1),
)  # fmt: skip
def test_every_field_name_gives_the_same_numbers(
    tmp_path_factory: pytest.TempPathFactory,
    pattern: str,
    names: list[str],
    separator: str,
    seed: int,
) -> None:
    nm = np.arange(380, 740, 10)
    values = np.random.default_rng(seed).uniform(0.02, 1.0, (len(names), nm.size)).round(4)
    values[0, 0] = 0.9
    scale = 100.0 if "PCT" in pattern else 1.0
    rows = []
    for i, (name, row) in enumerate(zip(names, values, strict=True), start=1):
        texts = [repr(float(v * scale)) for v in row]
        cells = [str(i), f'"{name}"', *texts]
        rows.append(separator.join(cells))
    spectral = separator.join(pattern.format(w) for w in nm)
    path = tmp_path_factory.getbasetemp() / "cgats.txt"
    path.write_text(cgats(f"SAMPLE_ID SAMPLE_NAME {spectral}", *rows), encoding="utf-8")
    found = read_spectra(path)
    assert list(found.names) == names
    for reading, expected in zip(found.readings, values, strict=True):
        np.testing.assert_array_equal(reading.wavelengths_nm, nm)
        np.testing.assert_allclose(reading.reflectance, expected, rtol=1e-12)


def test_an_instruments_own_file() -> None:
    # A file as a field instrument's program wrote it (tabs, nm380..nm730, a remark after a keyword),
    # which colour-science carries for its tests; the values below were read in it by eye.
    path = next(p for p in library_files().glob("*.txt") if b"END_DATA_FORMAT" in p.read_bytes())
    found = read_spectra(path)
    assert found.names == tuple(f"X{i}" for i in range(1, 11))
    reading = found.find("X4")
    assert reading.wavelengths_nm.tolist() == list(range(380, 740, 10))
    assert reading.reflectance[:4].tolist() == [0.1763, 0.1738, 0.1715, 0.1696]
    assert found.find("X1").reflectance[-1] == 0.0065


# --- units -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pattern", "keywords", "full_scale"),
    [
        ("SPECTRAL_NM{}", "", None),
        ("SPECTRAL_PCT{}", "", 100.0),
        ("SPECTRAL_DEC{}", "", 1.0),
        ("SPEC_{}", 'SPECTRAL_NORM "100.0"\n', 100.0),
        ("SPEC_{}", "SPECTRAL_NORM 1\n", 1.0),
    ],
)
def test_where_a_file_may_state_its_unit(pattern: str, keywords: str, full_scale: float | None) -> None:
    sheet = only(cgats(fields(pattern), f"1 a {HALVES}", keywords=keywords))
    assert list(sheet.stated) == ([] if full_scale is None else [full_scale])


def test_keywords_give_the_wavelengths_without_the_rounding_of_the_names() -> None:
    exact = np.linspace(380.0, 730.0, 106)  # 3.33 nm, as some instruments report
    names = " ".join(f"SPEC_{w:.0f}" for w in exact)
    keywords = 'SPECTRAL_BANDS "106"\nSPECTRAL_START_NM "380.0"\nSPECTRAL_END_NM "730.0"\n'
    row = "1 " + " ".join(["0.5"] * 106)
    np.testing.assert_allclose(
        only(cgats(f"SAMPLE_ID {names}", row, keywords=keywords)).wavelengths_nm, exact
    )
    wrong = keywords.replace("730", "780")
    assert "SPECTRAL_END_NM" in refused(cgats(f"SAMPLE_ID {names}", row, keywords=wrong))


# --- names -----------------------------------------------------------------------------------


def test_names_come_from_the_name_or_else_the_id() -> None:
    text = cgats(fields("nm{}"), f'1 "titanium white, 2 coats" {HALVES}', f'2 "" {HALVES}')
    assert only(text).names == ("titanium white, 2 coats", "2")
    assert only(text, names_from="sample_id").names == ("1", "2")
    assert 'Did you mean "SAMPLE_NAME"' in refused(text, names_from="SAMPLE_NAMES")
    nameless = cgats(fields("nm{}", names="RGB_R"), f"10 {HALVES}")
    assert only(nameless).names == ("row 1",)


def test_tabs_part_names_with_spaces_and_without_quotes() -> None:
    row = "\t".join(["1", "titanium white", *HALVES.split()])
    assert only(cgats(fields("nm{}"), row)).names == ("titanium white",)


def test_one_wrong_block_does_not_hide_behind_another() -> None:
    colours = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", "1 50 0 0")
    spectra = cgats(fields("nm{}"), f"1 a {HALVES}")
    assert only(colours + spectra).names == ("a",)
    assert "no spectral field among SAMPLE_ID, LAB_L" in refused(colours)


def test_remarks_and_keywords_are_kept_for_the_geometry(tmp_path: Path) -> None:
    path = tmp_path / "sphere.txt"
    keywords = 'MEASUREMENT_GEOMETRY "d/8 # specular included"   # as set\n'
    path.write_text(cgats(fields("nm{}"), f"1 a {HALVES}", keywords=keywords), encoding="utf-8")
    assert read_spectra(path).specular == "included"


# --- what must agree -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (cgats(fields("nm{}"), f"1 a {HALVES}", sets=2), 'NUMBER_OF_SETS: found "2" and 1 rows of data'),
        (cgats(fields("nm{}"), f"1 a {HALVES}").replace("SETS 1", "SETS ²"), "NUMBER_OF_SETS"),
        (cgats(fields("nm{}"), f"1 a {HALVES}", keywords="NUMBER_OF_FIELDS 30\n"), "and 33 fields"),
        (cgats(fields("nm{}"), f"1 my paint {HALVES}"), "line 8, this row: found 34 columns; expected 33"),
        (cgats(fields("nm{}"), f"1 my paint {HALVES}"), "Put names that have spaces in quotes"),
        (cgats(fields("nm{}"), f"1 a\n{HALVES}", sets=2), "and each sample in one line"),
        (cgats(fields("nm{}"), f"1 a {HALVES} 0.5"), "found 34 columns"),
        (cgats(fields("nm{}"), f'1 "a {HALVES}'), "a quote that is opened and not closed"),
        (cgats(fields("nm{}"), f"1 a {HALVES[:-3]}nan"), 'column 33, reading "a": found "nan"'),
        (cgats(fields("nm{}"), sets=0), "BEGIN_DATA: found no data"),
        (cgats(fields("nm{}"), f"1 a {HALVES}").replace("END_DATA\n", ""), "Is the file cut short?"),
        (cgats(fields("nm{}"), f"1 a {HALVES}").replace("END_DATA_FORMAT\n", ""), "found BEGIN_DATA"),
        ("BEGIN_DATA\n1 2 3\nEND_DATA\n", "found no data format"),
        ("BEGIN_DATA_FORMAT\nSAMPLE_ID\nEND_DATA_FORMAT\n", "no BEGIN_DATA"),
        (cgats("SAMPLE_ID SPECTRAL_NM SPECTRAL_PCT", "1 400 50"), "expected one field a wavelength"),
        (cgats(fields("nm{}"), f"1 a {HALVES}", keywords="SPECTRAL_NORM 5\n"), 'SPECTRAL_NORM: found "5"'),
    ],
)  # fmt: skip
def test_files_that_disagree_with_themselves_are_refused(text: str, said: str) -> None:
    assert said in refused(text)


def test_a_unit_that_is_stated_twice_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "twice.txt"
    text = cgats(fields("SPECTRAL_DEC{}"), f"1 a {HALVES}", keywords="SPECTRAL_NORM 100\n")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SpectralFileError, match="stated twice"):
        read_spectra(path)


def test_wavelengths_doubled_among_the_fields_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "doubled.txt"
    path.write_text(cgats(fields("nm{}").replace("nm550", "nm540"), f"1 a {HALVES}"), encoding="utf-8")
    with pytest.raises(SpectralFileError, match="540 nm a second time"):
        read_spectra(path)


def test_a_table_with_such_words_in_a_row_is_not_taken_for_it() -> None:
    assert not looks_like_cgats("nm;BEGIN_DATA\n400;0.5\n")
