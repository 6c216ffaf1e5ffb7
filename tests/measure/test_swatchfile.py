"""The swatches file: the starter and the example read as they say, and every fault has a sentence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data.generate.example_swatches import NOISE, SPECTRA, SWATCHES, spectra_text, swatches_text, truths
from layersim.errors import InputFileError, SpectralFileError, SwatchFileError
from layersim.measure.card import coats_in_words
from layersim.measure.swatch import SwatchSet
from layersim.measure.swatchfile import DEFAULT_NOISE, read_any_swatches, starter_text
from layersim.resources import data_folder

NM = range(400, 710, 10)
READINGS = {"black primer": 0.04, "white primer": 0.86, "one": 0.2, "two": 0.3, "tint": 0.6}
HEAD = """\
format = "layersim swatches 1"
name = "brick red"
volume_solids = 0.28
wet_film_um = 15.0
sheen = "matt"
specular = "excluded"
"""
FILE = '[readings]\nfile = "readings.csv"\n'
BLACK = '[[ground]]\nname = "black"\nreading = "black primer"\n'
ONE = '[[swatch]]\nname = "one over black"\nground = "black"\nreading = "one"\ncoats = 1\n'

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def to_folder(*parts: str, readings: dict[str, float] = READINGS, remark: str = "") -> Path:
        columns = ["nm", *readings]
        rows = [";".join([str(w), *(f"{value:g}" for value in readings.values())]) for w in NM]
        (tmp_path / "readings.csv").write_text(
            "\n".join([remark, ";".join(columns), *rows]), encoding="utf-8"
        )
        path = tmp_path / "swatches.toml"
        path.write_text("".join(parts), encoding="utf-8")
        return path

    return to_folder


def refused(path: Path) -> str:
    with pytest.raises(SwatchFileError) as fault:
        read_any_swatches(path)
    text = str(fault.value)
    assert text.startswith(f"{path}: ")
    return text


# --- what is read ----------------------------------------------------------------------------


def test_the_starter_reads_as_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "brick-red.toml"
    path.write_text(starter_text(), encoding="utf-8")
    names = [
        f"{ground}, {coats}"
        for ground in ("black", "white")
        for coats in ("half a coat", "1 coat", "2 coats", "4 coats")
    ]
    names += ["black primer", "white primer"]
    rows = [";".join([f'"{name}"', *["0.5"] * 31]) for name in names]
    heading = ";".join(["name", *map(str, NM)])
    (tmp_path / "brick-red.txt").write_text("\n".join([heading, *rows]), encoding="utf-8")
    found = read_any_swatches(path)
    assert (found.paint, found.kind, found.specular) == ("brick red", "paint", "excluded")
    assert (found.carrier, found.hazards) == ("", ())
    assert [(s.ground, s.coats, s.thinning) for s in found.swatches] == [
        (ground, coats, 1.0) for ground in ("black", "white") for coats in (0.5, 1, 2, 4)
    ]
    assert all((swatch.noise == DEFAULT_NOISE).all() for swatch in found.swatches)
    liquid = starter_text().replace("# carrier", "carrier").replace("# hazards", "hazards")
    path.write_text(liquid, encoding="utf-8")
    found = read_any_swatches(path)
    assert (found.carrier, found.hazards) == ("water", ("cobalt",))


def test_a_starter_may_be_given_the_name_of_its_paint() -> None:
    plain, named = starter_text().splitlines(), starter_text(paint="blue").splitlines()
    [(before, after)] = [pair for pair in zip(plain, named, strict=True) if pair[0] != pair[1]]
    assert before.startswith('name = "brick red" ')
    assert after.startswith('name = "blue"             # put it right')


def test_every_key_that_the_starter_lists_is_known(write: Write) -> None:
    lines = [
        line.lstrip("# ").split("   ")[0] for line in starter_text().splitlines() if line.startswith("#   ")
    ]
    for line in lines:
        whole = line.replace("[ ... ]", str([0.5] * 31))
        swatch = ONE.replace("coats = 1\n", "") if "opaque" in line or "total" in line else ONE
        swatch = swatch.replace('reading = "one"\n', "") if "reflectance" in line else swatch
        kind = 'kind = "metal"\n' if "angle" in line else ""
        found = read_any_swatches(write(HEAD, kind, FILE, BLACK, swatch, whole))
        assert len(found.swatches) == 1, line
    assert len(lines) == 7


def test_the_example_is_what_its_generator_writes_and_is_marked_invented() -> None:
    folder = data_folder() / "examples"
    assert (folder / SPECTRA).read_text(encoding="utf-8") == spectra_text()
    assert (folder / SWATCHES).read_text(encoding="utf-8") == swatches_text()
    found = read_any_swatches(folder / SWATCHES)
    assert found.invented
    assert found.notices == ()
    exact = truths()
    for swatch in found.swatches:
        count = coats_in_words(swatch.coats or 0.0)
        # Means of three readings: within 4 standard deviations over 31 bands.
        np.testing.assert_allclose(
            swatch.reflectance, exact[f"{swatch.ground}, {count}"], atol=4 * NOISE / np.sqrt(3)
        )
        assert (swatch.noise >= NOISE / np.sqrt(3) - 1e-12).all()


def test_thickness_may_be_coats_or_films(write: Write) -> None:
    def thickness(lines: str) -> tuple[float | None, float | None, bool]:
        (swatch,) = read_any_swatches(write(HEAD, FILE, BLACK, ONE.replace("coats = 1\n", lines))).swatches
        return swatch.coats, swatch.dry_film_um, swatch.opaque

    assert thickness("coats = 2\n") == (2.0, None, False)
    assert thickness("coats = 2\ndry_film_um = 1.5\n") == (2.0, 3.0, False)
    assert thickness("total_dry_film_um = 40\n") == (None, 40.0, False)
    assert thickness("coats = 3\ntotal_dry_film_um = 40\n") == (3.0, 40.0, False)
    assert thickness("opaque = true\n") == (None, None, True)


def test_mixes_name_other_paints_and_this_one(write: Write) -> None:
    for own in ('"this paint"', '"Brick-Red"'):
        mix = f'mix = {{ {own} = 1, "titanium white" = 9, "glaze medium" = 0 }}\n'
        (swatch,) = read_any_swatches(write(HEAD, FILE, BLACK, ONE, mix)).swatches
        assert swatch.parts == (("this paint", 1.0), ("titanium white", 9.0))
        assert swatch.share == pytest.approx(0.1)


def test_grounds_may_be_named_and_spectra_written_out(write: Write) -> None:
    white = '[[ground]]\nname = "white"\npaint = "white primer"\nsheen = "satin"\n'
    swatch = '[[swatch]]\nname = "x"\nground = "white"\ncoats = 1\nreflectance = [0.2, 0.6]\nnoise = 0.01\n'
    found = read_any_swatches(write("wavelength_nm = [400, 700]\n", HEAD, white, swatch))
    assert (found.grounds[0].paint, found.grounds[0].reflectance, found.grounds[0].sheen) == (
        "white primer",
        None,
        0.4,
    )
    np.testing.assert_allclose(found.swatches[0].reflectance, np.linspace(0.2, 0.6, 31))
    assert (found.swatches[0].noise == 0.01).all()
    assert found.notices == ()


def test_repeats_count_if_they_are_worse_than_what_is_stated(write: Write) -> None:
    readings = {"black primer": 0.04, "white primer": 0.86, "one": 0.2, " one": 0.21}
    (swatch,) = read_any_swatches(write(HEAD, FILE, BLACK, ONE, readings=readings)).swatches
    np.testing.assert_allclose(swatch.reflectance, 0.205)
    np.testing.assert_allclose(swatch.noise, 0.005)
    wide = FILE + "noise = 0.02\n"
    (swatch,) = read_any_swatches(write(HEAD, wide, BLACK, ONE, readings=readings)).swatches
    np.testing.assert_allclose(swatch.noise, 0.02 / np.sqrt(2))


def test_the_geometry_may_be_left_to_the_spectral_file(write: Write) -> None:
    unsaid = HEAD.replace('specular = "excluded"\n', "")
    assert read_any_swatches(write(unsaid, FILE, BLACK, ONE, remark="# SCI")).specular == "included"
    assert "a sphere (d/8) can do either" in refused(write(unsaid, FILE, BLACK, ONE)).lower()
    text = refused(write(HEAD, FILE, BLACK, ONE, remark="# SCI"))
    assert 'specular: found "excluded"; expected "included", as readings.csv says' in text


def test_notices_of_the_spectral_file_are_passed_on(write: Write) -> None:
    assert any(
        "no unit is stated" in notice for notice in read_any_swatches(write(HEAD, FILE, BLACK, ONE)).notices
    )
    assert read_any_swatches(write(HEAD, FILE, 'unit = "fraction"\n', BLACK, ONE)).notices == ()


# --- what is refused -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        (
            (HEAD, FILE, BLACK, ONE.replace("coats = 1\n", "")),
            "coats, or total_dry_film_um, or opaque = true",
        ),
        ((HEAD, FILE, BLACK, ONE, "total_dry_film_um = 2\ndry_film_um = 1\n"), "both dry_film_um and total"),
        ((HEAD, FILE, BLACK, ONE.replace("coats = 1", "dry_film_um = 1")), "is the film of one coat"),
        ((HEAD, FILE, BLACK, ONE, "opaque = true\n"), "opaque = true and coats"),
        ((HEAD, FILE, BLACK, ONE.replace('"black"', '"blak"')), 'ground: found "blak"'),
        ((HEAD, FILE, BLACK, ONE.replace('"black"', '"blak"')), 'Did you mean "black"?'),
        ((HEAD, FILE, ONE), "There are no headings [[ground]] yet"),
        (
            (HEAD, FILE, BLACK, ONE.replace('"one"', '"onne"')),
            'found "onne"; expected a reading in readings.csv',
        ),
        ((HEAD, FILE, BLACK, ONE.replace('"one"', '"onne"')), 'Did you mean "one"?'),
        (
            (HEAD, FILE.removeprefix("[readings]\n"), BLACK, ONE),
            "expected the heading [readings] in the line",
        ),
        ((HEAD, BLACK, ONE), "a heading [readings] with the file it stands in"),
        ((HEAD, FILE, BLACK, ONE, "reflectance = 0.5\n"), "both reading and reflectance"),
        ((HEAD, FILE, BLACK, ONE.replace('reading = "one"\n', "")), "the name of its reading"),
        ((HEAD, FILE, BLACK, ONE.replace('"one"', '"black primer"')), 'which ground 1 "black" has already'),
        ((HEAD, FILE, BLACK, ONE, ONE.replace('"one"', '"two"')), '"one over black" a second time'),
        ((HEAD, FILE, BLACK, BLACK.replace("primer", "x"), ONE), '"black" a second time'),
        ((HEAD, FILE, BLACK, 'paint = "black primer"\n', ONE), "both a measurement and paint"),
        ((HEAD, FILE, '[[ground]]\nname = "black"\n', ONE), "neither reading, reflectance nor paint"),
        ((HEAD, FILE, BLACK), "at least one heading [[swatch]]"),
        ((HEAD, FILE, BLACK, ONE, 'mix = { "titanium white" = 9 }\n'), "no parts of this paint"),
        ((HEAD, FILE, BLACK, ONE, 'mix = { "this paint" = 1, "brick red" = 9 }\n'), "each paint once"),
        ((HEAD, FILE, BLACK, ONE, 'mix = { "" = 1, "this paint" = 1 }\n'), "the name of a paint"),
        ((HEAD, FILE, BLACK, ONE, 'mix = "titanium white"\n'), "expected a table"),
        (
            (HEAD, FILE.replace("readings.csv", "../readings.csv"), BLACK, ONE),
            "in the same folder as this one",
        ),
        ((HEAD, FILE.replace("readings.csv", "/etc/passwd"), BLACK, ONE), "in the same folder as this one"),
        ((HEAD, BLACK.replace('reading = "black primer"', "reflectance = 45")), "Are these per cent?"),
        ((HEAD, BLACK.replace('reading = "black primer"', "reflectance = [0.1, 0.2]")), "1 or 31 numbers"),
        (
            (
                "wavelength_nm = [700, 400]\n",
                HEAD,
                BLACK.replace('reading = "black primer"', "reflectance = 0.1"),
            ),
            "wavelengths out of order",
        ),
        (
            (
                "wavelength_nm = [400, 450]\n",
                HEAD,
                BLACK.replace('reading = "black primer"', "reflectance = [0.1, 0.2]"),
            ),
            "at least half of 400 to 700 nm",
        ),
    ],
)
def test_faults_have_a_sentence_each(write: Write, parts: tuple[str, ...], said: str) -> None:
    assert said in refused(write(*parts))


def test_one_look_at_the_message_mends_the_whole_file(write: Write) -> None:
    broken = ONE.replace("coats = 1\n", "")
    text = refused(
        write(HEAD.replace("15.0", "0"), FILE, BLACK, broken, broken.replace("over black", "again"))
    )
    for said in ("wet_film_um", 'swatch 1 "one over black"', 'swatch 2 "one again"'):
        assert said in text


def test_one_swatch_reads_and_is_left_to_the_fit_to_judge(write: Write) -> None:
    assert len(read_any_swatches(write(HEAD, FILE, BLACK, ONE)).swatches) == 1


def test_a_broken_spectral_file_is_told_by_its_own_name(write: Write, tmp_path: Path) -> None:
    path = write(HEAD, FILE, BLACK, ONE)
    (tmp_path / "readings.csv").write_text("nm;one\n400;x\n", encoding="utf-8")
    with pytest.raises(SpectralFileError, match=r"readings\.csv"):
        read_any_swatches(path)
    (tmp_path / "readings.csv").unlink()
    with pytest.raises(SpectralFileError, match="no such file"):
        read_any_swatches(path)


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"[" * 5000, b"a = " + b"9" * 400])
def test_files_that_are_no_swatches(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    refused(path)


WHOLE = (HEAD + FILE + BLACK + ONE + 'mix = { "this paint" = 1, "titanium white" = 9 }\n').encode()
PIECES = (
    b"\n",
    b'"',
    b"=",
    b"[",
    b"]",
    b"{",
    b"-1",
    b"nan",
    b"inf",
    b"1e400",
    b"''",
    b"true",
    b"swatch",
    b"#",
)


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fuzz")
    rows = ["nm;black primer;one", *(f"{w};0.04;0.5" for w in NM)]
    (folder / "readings.csv").write_text("\n".join(rows), encoding="utf-8")
    return folder / "swatches.toml"


@settings(deadline=None, max_examples=250)
@given(
    edits=st.lists(
        st.tuples(st.integers(0, 2000), st.integers(0, 12), st.binary(max_size=5) | st.sampled_from(PIECES)),
        max_size=4,
    )
)
def test_corrupted_files_give_swatches_or_a_message(
    scratch: Path, edits: list[tuple[int, int, bytes]]
) -> None:
    content = WHOLE
    for at, length, instead in edits:
        at %= len(content) + 1
        content = content[:at] + instead + content[at + length :]
    scratch.write_bytes(content)
    try:
        found = read_any_swatches(scratch)
    except InputFileError:
        return
    assert isinstance(found, SwatchSet)
    assert all(swatch.share > 0.0 for swatch in found.swatches)
