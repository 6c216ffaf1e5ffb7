"""Plain tables: the same numbers in every layout, and what could be taken two ways."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layersim.errors import SpectralFileError
from layersim.measure.plain import read_plain
from layersim.measure.sheet import Readings
from layersim.measure.spectral import read_spectra
from layersim.spectra import FloatArray
from tests.measure.library import library_files

HERE = Path("readings.csv")
NM = range(400, 710, 10)


def only(text: str, *, names_from: str | None = None) -> Readings:
    (sheet,), _ = read_plain(HERE, text, names_from=names_from)
    return sheet


def refused(text: str, *, names_from: str | None = None) -> str:
    with pytest.raises(SpectralFileError) as fault:
        read_plain(HERE, text, names_from=names_from)
    return str(fault.value)


def rows(separator: str = ";", cells: str = "0.5") -> str:
    return "".join(f"{w}{separator}{cells}\n" for w in NM)


# --- the same numbers in every layout --------------------------------------------------------


@dataclass
class Layout:
    """One way of writing a table down."""

    separator: str
    down: bool
    decimal_comma: bool
    falling: bool
    heading_nm: str
    corner: str
    remark: str
    line_end: str

    def write(self, names: list[str], nm: FloatArray, values: FloatArray) -> str:
        """Write values (n, m) down, with the numbers' text as Python would give it."""
        order = slice(None, None, -1) if self.falling else slice(None)
        heads = [self.heading_nm.format(f"{w:g}") for w in nm[order]]
        body = [[self.number(v) for v in row] for row in values[:, order]]
        if self.down:
            plain = [self.number(w) for w in nm[order]]
            table = [[self.corner, *names], *([w, *column] for w, *column in zip(plain, *body, strict=True))]
        else:
            table = [[self.corner, *heads], *([name, *row] for name, row in zip(names, body, strict=True))]
        lines = [self.remark, "", *(self.separator.join(map(self.quoted, row)) for row in table)]
        return self.line_end.join(lines) + self.line_end

    def quoted(self, cell: str) -> str:
        return f'"{cell}"' if self.separator in cell else cell

    def number(self, value: float) -> str:
        text = repr(float(value))
        return text.replace(".", ",") if self.decimal_comma else text


@st.composite
def layouts(draw: st.DrawFn) -> Layout:
    separator = draw(st.sampled_from("\t;,"))
    return Layout(
        separator=separator,
        down=draw(st.booleans()),
        decimal_comma=separator != "," and draw(st.booleans()),
        falling=draw(st.booleans()),
        heading_nm=draw(st.sampled_from(["{}", "{} nm", "R{}", "nm{}", "R_{}", "SPECTRAL_NM{}"])),
        corner=draw(st.sampled_from(["nm", "name", "wavelength (nm)"])),
        remark=draw(st.sampled_from(["", "# a remark; with, all\tthe separators", "Measured at 45/0"])),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
    )


NAMES = st.text(st.sampled_from("abcdefghäßλ #1234()-_+'"), min_size=1, max_size=12).map(
    lambda text: " ".join(("x" + text + "x").split())
)


@st.composite
def spectra(draw: st.DrawFn) -> tuple[list[str], FloatArray, FloatArray]:
    step = draw(st.sampled_from([5.0, 10.0, 20.0, 3.5]))
    nm = np.arange(
        draw(st.sampled_from([360.0, 380.0, 400.0])), draw(st.sampled_from([700.0, 780.0])) + 1, step
    )
    names = draw(st.lists(NAMES, min_size=1, max_size=4, unique_by=str.casefold))
    seed = draw(st.integers(0, 2**32 - 1))
    values = np.random.default_rng(seed).uniform(0.02, 1.05, (len(names), nm.size)).round(4)
    # Without a word about the unit the largest number decides; a white is among most swatches.
    values[0, 0] = 0.93
    return names, nm, values


@settings(deadline=None, max_examples=150)
@given(layout=layouts(), content=spectra())
def test_every_layout_gives_the_same_numbers(
    layout: Layout,
    content: tuple[list[str], FloatArray, FloatArray],
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    names, nm, values = content
    path = tmp_path_factory.getbasetemp() / "layout.txt"
    path.write_bytes(layout.write(names, nm, values).encode())
    found = read_spectra(path)
    assert list(found.names) == names
    for reading, expected in zip(found.readings, values, strict=True):
        np.testing.assert_array_equal(reading.wavelengths_nm, nm)
        np.testing.assert_allclose(reading.reflectance, expected, rtol=1e-12)


# --- against files and a reader that are not ours --------------------------------------------


@pytest.mark.parametrize("pattern", ["*_n_ohta.csv", "*_n_ohta_transposed.csv"])
def test_a_published_chart_is_read_either_way_round(pattern: str) -> None:
    # Ohta's measured 24-patch chart as colour-science carries it (380-780 nm by 5 nm), read by
    # numpy, which is sound on a table as plain as this.
    path = next(library_files().glob("*_n_ohta.csv"))
    theirs = np.loadtxt(path, delimiter=",", skiprows=1)
    found = read_spectra(next(library_files().glob(pattern)))
    assert found.names == tuple(str(i) for i in range(1, 25))
    np.testing.assert_array_equal(found.readings[0].wavelengths_nm, theirs[:, 0])
    np.testing.assert_array_equal([reading.reflectance for reading in found.readings], theirs[:, 1:].T)


# --- layouts a generator would not think of --------------------------------------------------


def test_tables_without_names() -> None:
    assert only(rows("\t")).names == ("readings",)
    assert only("\t".join(map(str, NM)) + "\n" + "\t".join(["0.5"] * 31)).names == ("row 1",)


def test_an_export_with_a_preamble_labels_and_colours_beside() -> None:
    heading = "ID,Sample Name,Date," + ",".join(f"{w} nm" for w in NM) + ",L*,a*,b*"
    values = ",".join(["45.2"] * 31)
    text = f"Exported by an instrument\nGeometry,45/0\n{heading}\n7,white,2026-11-25,{values},95.1,0,1.2\n"
    (sheet,), remarks = read_plain(HERE, text)
    assert sheet.names == ("white",)
    assert sheet.values.shape == (1, 31)
    assert "Geometry 45/0" in remarks
    assert only(text, names_from="id").names == ("7",)
    assert 'Did you mean "Date"' in refused(text, names_from="Dates")


def test_places_are_those_of_the_file() -> None:
    sheet = only("# one\n\nname;note;" + ";".join(map(str, NM)) + "\na;x;" + ";".join(["0.5"] * 31) + "\n")
    assert [cell[1:] for cell in (sheet.cells[0][0], sheet.cells[0][-1], sheet.heads[0])] == [
        (4, 3),
        (4, 33),
        (3, 3),
    ]


def test_a_name_may_hold_the_sign_of_a_remark() -> None:
    assert only("nm;swatch #3\n" + rows()).names == ("swatch #3",)


def test_quotes_hold_separators() -> None:
    assert only('nm,"white, one coat"\n' + rows(",", '"0,5"')).values[0, 0] == 0.5
    assert only("nm\ttitanium white\tit's\n" + rows("\t", "0.5\t0.1")).names == ("titanium white", "it's")


# --- what could be taken two ways ------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("".join(f"{w},50,4\n" for w in NM), "line 1, this row: found 3 columns and no heading"),
        ("".join(f"{w}\t0.5\t0.1\n" for w in NM), "expected a row above that names the readings"),
        ("nm,a\n" + "".join(f"{w},0,4\n" for w in NM), "line 2, this row: found 3 columns; expected 2"),
        ("nm,a\n" + "".join(f"{w},0,4\n" for w in NM), "A decimal comma needs tabs or semicolons"),
        ("nm white\n" + rows(" "), "with tabs, semicolons or commas between the columns"),
        ("nm;a\n" + rows(cells="0.5  # cloudy"), 'found "0.5 # cloudy"; expected a number'),
        (
            "nm;a\n" + rows(cells="1.234,5"),
            'line 2, column 2, reading "a": found "1.234,5"; expected a number',
        ),
        ("nm;a\n" + rows(cells="50 %"), 'found "50 %"; expected a number'),
        ("nm;a\n" + rows().replace("500;0.5", "500"), "line 12, this row: found 1 columns; expected 2"),
        ("nm;a\n" + rows().replace("500;0.5", "500;0.5;0.5"), "line 12, this row: found 3 columns"),
        ("nm;a;b\n" + rows(cells="0.5;0.5").replace("500;0.5;", "500;;"), "found an empty cell"),
        ("nm;a\n" + rows(cells="nan"), 'found "nan"; expected a number'),
        ("nm;a\n" + rows(cells="inf"), 'found "inf"; expected a number'),
        ("nm;a\n" + rows(cells="1e999"), 'found "1e999"; expected a number'),
        ("nm;a\n" + rows() + "mean;0.5\n", 'line 33, column 1: found "mean"; expected a wavelength in nm'),
        ("nm;;b\n" + rows(cells="0.5;0.5"), "column 2: found no name"),
        ("".join(f"{w}\n" for w in NM), "found no wavelengths"),
        ("name;" + ";".join(map(str, NM)) + "\n", "a heading and no readings"),
        ("name;" + ";".join(map(str, NM)) + "\na;" + ";".join(["0.5"] * 30), "found 31 columns; expected 32"),
        ("name;" + ";".join(map(str, NM)) + "\n;" + ";".join(["0.5"] * 31), "found no name"),
        (
            "name;" + ";".join(map(str, NM)).replace(";550;", ";x;") + "\na;" + ";".join(["0.5"] * 31),
            'column 17: found "x"; expected a wavelength',
        ),
        ('nm;"a\n' + rows(), "line 1, this row: found what cannot be parted into columns"),
    ],
)
def test_doubtful_tables_are_refused(text: str, said: str) -> None:
    assert said in refused(text)


def test_names_are_asked_for_where_they_cannot_be() -> None:
    assert "here the names stand in the heading" in refused("nm;a\n" + rows(), names_from="SAMPLE_ID")
