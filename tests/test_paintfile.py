"""Paint files: what is written is read again, and what is wrong in one is told, all of it at once."""

from __future__ import annotations

import contextlib
import dataclasses
import unicodedata
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from layersim.errors import OutputError, PaintFileError
from layersim.names import slug
from layersim.optics.diffuse import made_for_cones
from layersim.optics.surface import SHEENS
from layersim.paint import KINDS, Doubt, Flakes, Paint
from layersim.paintfile import paint_text, read_paint, write_paint
from layersim.spectra import resample
from tests.examples import GLOSS, MOSS, PAINTS, PLUM
from tests.optics.ranges import LAW

LEAST = """\
format = "layersim paint 1"
name = "slate"
kind = "paint"
provenance = "made up"
volume_solids = 0.28
wet_film_um = 14
sheen = "satin"
K_per_um = 0.1
S_per_um = 0.2
"""

Write = Callable[[str], Path]


@pytest.fixture
def written(tmp_path: Path) -> Write:
    def to_file(text: str) -> Path:
        path = tmp_path / "slate.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return to_file


def complaints(path: Path) -> list[str]:
    with pytest.raises(PaintFileError) as caught:
        read_paint(path)
    message = str(caught.value)
    assert message.startswith(f"{path}: ")
    rows = message.removeprefix(f"{path}: ").splitlines()
    return rows if len(rows) == 1 else [row.removeprefix("  - ") for row in rows[1:]]


def with_line(key: str, value: str) -> str:
    lines = [f"{key} = {value}" if line.startswith(f"{key} =") else line for line in LEAST.splitlines()]
    text = "\n".join(lines)
    return text if f"{key} = " in text else f"{text}\n{key} = {value}\n"


class TestReading:
    def test_the_least_that_a_file_must_say(self, written: Write) -> None:
        paint = read_paint(written(LEAST))
        assert (paint.name, paint.kind, paint.provenance) == ("slate", "paint", "made up")
        assert (paint.volume_solids, paint.wet_film_um, paint.sheen) == (0.28, 14.0, SHEENS["satin"])
        assert (paint.invented, paint.note, paint.doubts) == (False, "", ())
        np.testing.assert_array_equal(paint.K_per_um, np.full(31, 0.1))

    def test_a_spectrum_of_the_grid(self, written: Write) -> None:
        values = np.linspace(0.1, 0.4, 31).round(4)
        paint = read_paint(written(with_line("K_per_um", str(values.tolist()))))
        np.testing.assert_array_equal(paint.K_per_um, values)

    def test_a_spectrum_at_other_wavelengths(self, written: Write) -> None:
        text = with_line("K_per_um", "[0.1, 0.3, 0.2, 0.2]").replace(
            "K_per_um", "wavelength_nm = [380, 500, 620, 730]\nK_per_um"
        )
        paint = read_paint(written(text))
        expected = resample([0.1, 0.3, 0.2, 0.2], from_nm=[380, 500, 620, 730])
        np.testing.assert_allclose(paint.K_per_um, expected, rtol=0, atol=0)
        np.testing.assert_array_equal(paint.S_per_um, np.full(31, 0.2))

    def test_doubts_are_per_cent_up_and_become_shifts_of_logarithms(self, written: Write) -> None:
        text = LEAST + '[[doubt]]\ncause = "load"\nK_percent = 10\nS_percent = -20\n'
        [doubt] = read_paint(written(text)).doubts
        assert doubt.cause == "load"
        np.testing.assert_allclose(doubt.log_K, np.log(1.1))
        np.testing.assert_allclose(doubt.log_S, np.log(0.8))

    @pytest.mark.parametrize("sheen", ["0", "1", "0.33", '"gloss"', '"matt"'])
    def test_sheen_is_a_word_or_a_number(self, written: Write, sheen: str) -> None:
        paint = read_paint(written(with_line("sheen", sheen)))
        assert paint.sheen == SHEENS.get(sheen.strip('"'), 0.0 if sheen.startswith('"') else 1.0) or float(
            paint.sheen
        ) == float(sheen)


class TestComplaints:
    @pytest.mark.parametrize(
        ("key", "value", "words"),
        [
            ("kind", '"pant"', 'line 3, kind: found "pant"; expected one of "paint", "metal", "ink", "wash"'),
            ("name", '"!?"', 'found "!?"; expected a name with letters or digits, by which it can be found.'),
            ("volume_solids", "28", "found 28; expected a number above 0, at most 1. 28 % is 0.28 here."),
            ("sheen", '"mat"', 'found "mat"; expected one of "gloss", "satin", "matt". Did you mean "matt"?'),
            ("sheen", "2", "expected gloss, satin or matt in quotes, or a number from 0 (gloss) to 1 (matt)"),
            ("sheen", "true", "found true; expected gloss, satin or matt in quotes, or a number from 0"),
            ("K_per_um", "[0.1, 0.2]", "found 2 numbers; expected 1 or 31 numbers (400-700 nm by 10 nm). "),
            ("K_per_um", "[0.1, 0.2]", "For other wavelengths add a list wavelength_nm."),
            ("K_per_um", "[]", "found an empty list; expected a list of numbers in square brackets."),
            ("S_per_um", "5000", "found 5000; expected a number from 0 to 1000 at place 1 of the list."),
            ("S_per_um", '["a"]', 'found the text "a"; expected a number from 0 to 1000 at place 1'),
            ("wavelength_nm", "[700, 400]", "found wavelengths out of order; expected wavelengths that rise"),
            ("wavelength_nm", "[400, 450]", "found 400 to 450 nm; expected wavelengths that cover at least"),
            ("wavelength_nm", "[550]", "found 550 to 550 nm; expected wavelengths that cover at least half"),
            ("wavelength_nm", '"380-730"', "expected a list of numbers in square brackets."),
        ],
    )
    def test_every_key_that_is_not_as_it_should_be(
        self, written: Write, key: str, value: str, words: str
    ) -> None:
        [message] = complaints(written(with_line(key, value)))
        assert message.startswith("line ")
        assert f" {key}: " in message
        assert words in message

    def test_a_list_as_long_as_the_wavelengths_wants_to_be(self, written: Write) -> None:
        text = with_line("K_per_um", "[1, 2]") + "\nwavelength_nm = [400, 500, 700]"
        [message] = complaints(written(text))
        assert "K_per_um: found 2 numbers; expected 1 or 3 numbers (as wavelength_nm has)." in message

    def test_a_broken_list_of_wavelengths_is_blamed_alone(self, written: Write) -> None:
        text = with_line("K_per_um", "[1, 2]") + "\nwavelength_nm = [700, 400]"
        [message] = complaints(written(text))
        assert "wavelength_nm" in message

    def test_everything_wrong_is_told_at_once(self, written: Write) -> None:
        path = written(
            'name = ""\nkind = "pant"\nvolume_solids = 28\nwet_film_um = "x"\nsheen = 3\ninvented = 0\n'
            "K_per_um = []\nS_per_um = [1, 2]\nnote = 1\nmore = 1\n[[doubt]]\nK_percent = -100\nwhy = 1\n"
        )
        rows = complaints(path)
        for key in (
            "format", "name", "kind", "volume_solids", "wet_film_um", "sheen", "invented", "K_per_um",
            "S_per_um", "note", "more", "doubt 1, K_percent", "doubt 1, S_percent", "doubt 1, cause",
            "doubt 1, why", "provenance",
        ):  # fmt: skip
            assert sum(f"{key}: found" in row for row in rows) == 1, key
        assert len(rows) == 16


class TestRoundTrip:
    @pytest.mark.parametrize("paint", PAINTS, ids=lambda paint: paint.name)
    def test_what_is_written_is_read_again(self, tmp_path: Path, paint: Paint) -> None:
        write_paint(paint, tmp_path / "x.toml")
        again = read_paint(tmp_path / "x.toml")
        for name in (
            "name",
            "kind",
            "volume_solids",
            "wet_film_um",
            "sheen",
            "provenance",
            "invented",
            "note",
        ):
            assert getattr(again, name) == getattr(paint, name)
        np.testing.assert_allclose(again.K_per_um, paint.K_per_um, rtol=5e-5)
        np.testing.assert_allclose(again.S_per_um, paint.S_per_um, rtol=5e-5)
        for one, two in zip(again.doubts, paint.doubts, strict=True):
            assert one.cause == two.cause
            np.testing.assert_allclose(one.log_K, two.log_K, atol=5e-5)
        assert paint_text(again) == paint_text(paint)

    @LAW
    @given(
        name=st.text(min_size=1, max_size=40).filter(lambda text: bool(slug(text))),
        note=st.text(max_size=80),
        K=hnp.arrays(float, 31, elements=st.floats(0.0, 1000.0)),
        shift=st.floats(-20.0, 20.0),
        solids=st.floats(1e-3, 1.0),
        film=st.floats(1e-3, 1000.0),
        sheen=st.floats(0.0, 1.0),
        kind=st.sampled_from(KINDS),
    )
    def test_any_paint_can_be_read_again(
        self,
        tmp_path_factory: pytest.TempPathFactory,
        name: str,
        note: str,
        K: np.ndarray,
        shift: float,
        solids: float,
        film: float,
        sheen: float,
        kind: str,
    ) -> None:
        paint = Paint(
            name=name,
            kind=kind,
            K_per_um=K,
            S_per_um=K[::-1],
            volume_solids=solids,
            wet_film_um=film,
            sheen=sheen,
            provenance="x",
            invented=False,
            note=note,
            flakes=Flakes("copper", solids, 60.0 * sheen, sheen) if kind == "metal" else None,
            doubts=(Doubt("x", np.full(31, shift), np.full(31, -shift), log_tilt=0.1),),
        )
        path = tmp_path_factory.mktemp("any") / "x.toml"
        write_paint(paint, path)
        again = read_paint(path)
        assert (again.name, again.note) == (_plain(name), _plain(note))
        np.testing.assert_allclose(again.K_per_um, K, rtol=5e-5, atol=1e-300)
        assert again.doubts[0].log_tilt == 0.1
        if kind == "metal":
            assert again.flakes is not None
            assert again.flakes.tilt_deg == pytest.approx(60.0 * sheen, rel=1e-5)

    def test_flakes_go_with_the_kind(self, tmp_path: Path) -> None:
        path = tmp_path / "x.toml"
        path.write_text(paint_text(MOSS).replace('kind = "paint"', 'kind = "metal"'))
        with pytest.raises(PaintFileError, match=r'line 4, kind: found "metal"; expected .* has .flakes.'):
            read_paint(path)
        path.write_text(paint_text(MOSS) + '[flakes]\nmetal = "tin"\ncover_per_um = 1\ntilt_deg = 5\n')
        with pytest.raises(PaintFileError, match='metal: found "tin"; expected one of "aluminium"'):
            read_paint(path)

    def test_a_shift_beyond_all_knowledge_is_written_as_the_widest_that_can_be_read(
        self, tmp_path: Path
    ) -> None:
        wild = dataclasses.replace(MOSS, doubts=(Doubt("x", np.full(31, 30.0), np.full(31, -30.0)),))
        write_paint(wild, tmp_path / "x.toml")
        [doubt] = read_paint(tmp_path / "x.toml").doubts
        np.testing.assert_allclose(doubt.log_K, np.log(1e4), rtol=1e-3)
        np.testing.assert_allclose(doubt.log_S, np.log(1e-4), rtol=1e-3)

    def test_the_text_explains_itself(self) -> None:
        text = paint_text(MOSS)
        assert text.startswith("# An invented paint: plausible, measured by nobody.")
        assert "per micrometre of dry film, 400 to 700 nm by 10 nm" in text
        assert "# 400-490 nm" in text
        assert "# gloss, satin, matt, or a number" in text
        assert all(len(line) <= 130 for line in text.splitlines())
        assert "S_per_um = 0.004   # the same at every wavelength" in paint_text(PLUM)
        measured = paint_text(dataclasses.replace(MOSS, invented=False, name="a\nb = 1"))
        assert measured.startswith("# a b = 1. Made to be read")
        shiny = paint_text(dataclasses.replace(GLOSS, sheen=0.3))
        assert "sheen = 0.3   # gloss, satin, matt, or a number from 0 (gloss) to 1 (matt)" in shiny

    def test_a_disk_that_is_full_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(OutputError, match="there is no folder"):
            write_paint(MOSS, tmp_path / "no" / "x.toml")


def _plain(text: str) -> str:
    """One line, blanks made one, nothing in it that steers a terminal."""
    words = ["".join(c for c in word if unicodedata.category(c) != "Cc") for word in text.split()]
    return " ".join(word for word in words if word)


class TestFuzz:
    @LAW
    @given(st.binary(max_size=200))
    def test_any_bytes(self, tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
        path = tmp_path_factory.mktemp("fuzz") / "x.toml"
        path.write_bytes(content)
        with pytest.raises(PaintFileError):
            read_paint(path)

    @LAW
    @given(
        cut=st.integers(0, 3000),
        places=st.lists(st.tuples(st.integers(0, 3000), st.sampled_from('"[]{}=.,#\\\n-1eé\0')), max_size=4),
    )
    def test_a_file_cut_short_and_with_letters_changed(
        self, tmp_path_factory: pytest.TempPathFactory, cut: int, places: list[tuple[int, str]]
    ) -> None:
        text = paint_text(MOSS)[: cut + 50]
        for place, letter in places:
            at = place % len(text)
            text = text[:at] + letter + text[at + 1 :]
        path = tmp_path_factory.mktemp("fuzz") / "x.toml"
        path.write_text(text, encoding="utf-8")
        with contextlib.suppress(PaintFileError):
            read_paint(path)


class TestSlug:
    @pytest.mark.parametrize(
        ("name", "file"),
        [
            ("Titanium White", "titanium-white"),
            ("  navy--blue! ", "navy-blue"),
            ("No. 5 (old)", "no-5-old"),
            ("Grün", "grün"),
            ("Gru\u0308n", "grün"),  # the accent after its letter, as some systems write file names
            ("!?", ""),
            ("", ""),
            ("../../etc", "etc"),
        ],
    )
    def test_letters_and_digits_alone(self, name: str, file: str) -> None:
        assert slug(name) == file

    @LAW
    @given(st.text(max_size=40))
    def test_it_is_a_fixed_point_and_no_path(self, name: str) -> None:
        once = slug(name)
        assert slug(once) == once
        assert not set(once) & set("/\\. \n\0")


def test_constants_for_diffuse_light_are_made_over_once(tmp_path: Path) -> None:
    plain = (
        'format = "layersim paint 1"\nname = "rose"\nkind = "paint"\nsheen = 0\nprovenance = "a table"\n'
        "volume_solids = 0.25\nwet_film_um = 12\nK_per_um = 0.4\nS_per_um = 0.05\n"
    )
    (tmp_path / "plain.toml").write_text(plain, encoding="utf-8")
    (tmp_path / "marked.toml").write_text(plain + 'made_for = "diffuse light"\n', encoding="utf-8")
    (tmp_path / "said.toml").write_text(plain + 'made_for = "light from above"\n', encoding="utf-8")
    K, S = made_for_cones(K_per_um=[0.4], S_per_um=[0.05], coat_um=3.0)
    marked = read_paint(tmp_path / "marked.toml")
    np.testing.assert_allclose(marked.K_per_um, K[0])
    np.testing.assert_allclose(marked.S_per_um, S[0])
    assert marked.provenance == "a table; made over from K and S for diffuse light"
    np.testing.assert_array_equal(read_paint(tmp_path / "plain.toml").K_per_um, 0.4)
    np.testing.assert_array_equal(read_paint(tmp_path / "said.toml").S_per_um, 0.05)
    # Written again, it is a paint like any other.
    write_paint(marked, tmp_path / "again.toml")
    np.testing.assert_allclose(read_paint(tmp_path / "again.toml").K_per_um, K[0], rtol=1e-4)


def test_a_paint_of_a_long_provenance_can_be_made_over(tmp_path: Path) -> None:
    paint = dataclasses.replace(MOSS, provenance="p" * 5000)
    (tmp_path / "long.toml").write_text('made_for = "diffuse light"\n' + paint_text(paint), encoding="utf-8")
    assert read_paint(tmp_path / "long.toml").provenance.endswith("made over from K and S for diffuse light")
