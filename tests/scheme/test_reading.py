"""Reading schemes: what every key says, and what is said about every key that is wrong."""

from __future__ import annotations

import contextlib
import errno
import os
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim.colour import lab_of_hex
from layersim.errors import SchemeError
from layersim.optics.surface import SHEENS
from layersim.paintfile import write_paint
from layersim.resources import data_folder, demo_scheme
from layersim.scheme.reading import DEFAULT_REACH, DEFAULT_SPREAD, load_scheme
from layersim.scheme.records import GreysGiven, GreysSprayed, Hand, Scheme, Where
from layersim.shelf import FOLDER_VARIABLE, Shelf
from tests.bad_schemes import BAD, BROKEN_PAINT, line_of
from tests.examples import MOSS, PLUM, RUST, SCHEME
from tests.optics.ranges import LAW

Read = Callable[[str], Scheme]
HEAD = 'format = "layersim scheme 1"\nname = "x"\n[[area]]\nname = "a"\nprimer = "soot primer"\n'


class TestKeys:
    def test_every_key_of_the_example(self, rig: Scheme, tmp_path: Path) -> None:
        assert (rig.name, rig.note, rig.viewing.light, rig.viewing.observer) == (
            "Test rig",
            "for tests",
            "D65",
            "2",
        )
        assert rig.hand == Hand(film=0.2, parts=0.1, greys=2.0, satin=0.1)
        assert rig.path == tmp_path / "scheme.toml"
        cloth, strap = rig.areas
        assert (cloth.name, cloth.ground.name, strap.name) == ("cloth", "soot primer", "strap")
        preshade = cloth.preshade
        assert isinstance(preshade, GreysSprayed)
        assert (preshade.mix.ingredients[0][0].name, preshade.mix.thinning) == ("chalk white", 3.0)
        assert (preshade.passes, preshade.dry_film_um, preshade.spread, preshade.reach) == (
            4, 0.6, DEFAULT_SPREAD, DEFAULT_REACH,
        )  # fmt: skip
        # Droplets of 10 µm, thinned 3 to 1: 2/3 · 10 · solids/4 / 1.5²
        assert preshade.spot_um == pytest.approx(10.0 / 13.5 * preshade.mix.ingredients[0][0].volume_solids)
        assert strap.preshade == GreysGiven(30.0, 80.0, SHEENS["matt"], spotted=0.2, tint=0.3)
        base, light, filter_, chips, varnish = cloth.coats
        assert [(paint.name, parts) for paint, parts in base.mix.ingredients] == [
            ("moss green", 4.0),
            ("plum ink", 1.0),
        ]
        assert (base.coats, base.dry_film_um, base.spread, base.where) == (2, 0.8, DEFAULT_SPREAD, Where())
        assert light.where == Where(lightest_from=60.0, edge=20.0)
        assert (filter_.is_filter, light.is_filter) == (True, False)
        assert (chips.patch, chips.coverage) == ("chips", 0.1)
        assert (varnish.patch, varnish.coverage, varnish.sheen) == (None, 1.0, None)
        assert cloth.targets.shadow is not None
        np.testing.assert_array_equal(cloth.targets.shadow, lab_of_hex("#202020"))
        np.testing.assert_array_equal(cloth.targets.light, [60.0, 5.0, -10.0])
        assert cloth.targets.mid is None

    def test_a_film_left_out_is_the_paints_own_thinned(self, read: Read) -> None:
        area = read(
            HEAD + '[[area.coat]]\npaint = "rust"\n[[area.coat]]\npaint = "rust"\nthinning = 3\n'
        ).areas[0]
        assert area.coats[0].dry_film_um == pytest.approx(RUST.wet_film_um * RUST.volume_solids)
        assert area.coats[1].dry_film_um == pytest.approx(RUST.wet_film_um * RUST.volume_solids / 4.0)

    def test_a_wet_film_is_dried(self, read: Read) -> None:
        text = (
            HEAD
            + '[[area.coat]]\nmix = { "moss green" = 3, "plum ink" = 1 }\nwet_film_um = 20\nthinning = 1\n'
        )
        [coat] = read(text).areas[0].coats
        solids = (3.0 * MOSS.volume_solids + PLUM.volume_solids) / 4.0 / 2.0
        assert coat.dry_film_um == pytest.approx(20.0 * solids)
        assert coat.name == "moss green"

    def test_a_part_of_zero_is_left_out(self, read: Read) -> None:
        [coat] = read(HEAD + '[[area.coat]]\nmix = { "rust" = 0, "plum ink" = 2 }\n').areas[0].coats
        assert [paint.name for paint, _ in coat.mix.ingredients] == ["plum ink"]

    @pytest.mark.parametrize(
        ("said", "where"),
        [
            ('"everywhere"', Where()),
            ("{ up_to = 40 }", Where(darkest_up_to=40.0)),
            ("{ from = 40, up_to = 60, edge = 0 }", Where(lightest_from=40.0, darkest_up_to=60.0, edge=0.0)),
        ],
    )
    def test_places(self, read: Read, said: str, where: Where) -> None:
        assert (
            read(HEAD + f'[[area.coat]]\npaint = "rust"\nwhere = {said}\n').areas[0].coats[0].where == where
        )

    def test_a_patch_is_sized_and_placed_by_its_first_coat(self, read: Read) -> None:
        text = '[[area.coat]]\npaint = "rust"\npatch = "chips"\ncoverage = 0.2\nwhere = { from = 50 }\n'
        again = '[[area.coat]]\npaint = "moss green"\npatch = " chips "\n'
        coats = read(HEAD + text + again).areas[0].coats
        assert [(coat.patch, coat.coverage) for coat in coats] == [("chips", 0.2)] * 2

    def test_an_area_needs_neither_pre_shade_nor_coats(self, read: Read) -> None:
        [area] = read(HEAD).areas
        assert (area.preshade, area.coats) == (None, ())

    def test_headings_may_be_written_as_one_line(self, read: Read) -> None:
        text = (
            'format = "layersim scheme 1"\nname = "x"\nhand = { film = 0.3 }\n'
            'area = [{ name = "a", primer = "soot primer", preshade = { greys = [20, 80], sheen = "satin" }, '
            'coat = [{ paint = "rust", sheen = 0.5 }] }]\n'
        )
        scheme = read(text)
        assert scheme.hand.film == 0.3
        assert scheme.areas[0].preshade == GreysGiven(20.0, 80.0, 0.4, spotted=0.2, tint=0.3)
        assert scheme.areas[0].coats[0].sheen == 0.5


class TestFolders:
    def test_the_schemes_own_paints_come_before_ones_own_and_the_starters(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        own, beside, given = tmp_path / "own", tmp_path / "beside", tmp_path / "given"
        for folder, solids in ((own, 0.1), (beside, 0.2), (given, 0.3)):
            folder.mkdir()
            write_paint(
                type(RUST)(**{**vars(RUST), "name": "bone", "volume_solids": solids}), folder / "bone.toml"
            )
        monkeypatch.setenv(FOLDER_VARIABLE, str(own))
        path = tmp_path / "x.toml"
        head = HEAD.replace("soot primer", "bone")
        path.write_text(head)
        assert load_scheme(path).areas[0].ground.volume_solids == 0.1
        path.write_text(head.replace("[[area]]", 'paints = "beside"\n[[area]]'))
        scheme = load_scheme(path)
        assert scheme.areas[0].ground.volume_solids == 0.2
        assert [notice for notice in scheme.notices if "two paints are named" in notice]
        # What the caller names comes first, and the scheme's own is still searched.
        assert load_scheme(path, folders=[given]).areas[0].ground.volume_solids == 0.3
        assert load_scheme(path, folders=[tmp_path / "none"]).areas[0].ground.volume_solids == 0.2
        # A shelf is a shelf: nothing is added to it, and the key is no fault.
        assert load_scheme(path, Shelf([own])).areas[0].ground.volume_solids == 0.1

    def test_a_broken_paint_says_what_is_wrong_with_it(self, tmp_path: Path) -> None:
        with pytest.raises(SchemeError) as caught:
            load_scheme(BROKEN_PAINT.make(tmp_path))
        message = str(caught.value)
        assert 'area 1 "a", primer: found "rust", whose file cannot be used; expected a paint.' in message
        assert str(tmp_path / "paints" / "rust.toml") in message
        assert 'found "pant"; expected one of "paint", "metal", "ink"' in message
        assert "volume_solids: found nothing" in message


def test_what_keys_were_once_called_is_still_read_and_said(read: Read) -> None:
    old = SCHEME.replace("primer = ", "ground = ").replace("lamp = ", "light = ", 1)
    assert old.count("ground = ") == SCHEME.count("primer = ") > 1
    found, now = read(old), read(SCHEME)
    assert [area.ground.name for area in found.areas] == [area.ground.name for area in now.areas]
    assert found.viewing == now.viewing
    said = [notice for notice in found.notices if notice not in now.notices]
    assert said == [
        '"light" is now called "lamp"; the file is read as before',
        '"ground" is now called "primer"; the file is read as before',
    ]
    # What is wrong with it is told by the word and the line that the file has.
    with pytest.raises(SchemeError, match=r'line \d+, light: found "sun"'):
        read(old.replace('light = "D65"', 'light = "sun"'))
    # Who says both means something else by one of them.
    with pytest.raises(SchemeError, match='the key "light"'):
        read(SCHEME.replace('lamp = "D65"', 'lamp = "D65"\nlight = "A"'))


class TestBadInput:
    @pytest.mark.parametrize("name", BAD)
    def test_it_is_said_where_what_was_found_and_what_was_expected(
        self, tmp_path: Path, shelf: Shelf, name: str
    ) -> None:
        path = BAD[name].make(tmp_path)
        with pytest.raises(SchemeError) as caught:
            load_scheme(path, shelf)
        assert str(caught.value) == f"{path}: {BAD[name].said}".replace("FOLDER", str(path.parent))

    def test_no_permission(self, scheme_file: Path, shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
        def refuse(*_: object, **__: object) -> None:
            raise PermissionError(errno.EACCES, "Permission denied")

        monkeypatch.setattr(os, "open", refuse)
        with pytest.raises(SchemeError, match="you have no permission to read this file"):
            load_scheme(scheme_file, shelf)

    def test_a_spectrum_of_the_wrong_length_in_a_paint(self, tmp_path: Path) -> None:
        (tmp_path / "paints").mkdir()
        path = tmp_path / "paints" / "rust.toml"
        write_paint(RUST, path)
        path.write_text(re.sub(r"(?s)K_per_um = \[.*?\]", "K_per_um = [1, 2, 3]", path.read_text()))
        line = line_of(path.read_text(), "K_per_um")
        (tmp_path / "x.toml").write_text(
            HEAD.replace("soot primer", "rust").replace("[[area]]", 'paints = "paints"\n[[area]]')
        )
        with pytest.raises(SchemeError) as caught:
            load_scheme(tmp_path / "x.toml")
        assert str(caught.value) == (
            f'{tmp_path / "x.toml"}: line 6, area 1 "a", primer: found "rust", whose file cannot be used; '
            f"expected a paint. {path}: line {line}, K_per_um: found 3 numbers; "
            "expected 1 or 31 numbers (400-700 nm by 10 nm). For other wavelengths add a list wavelength_nm."
        )

    def test_everything_wrong_in_a_file_is_told_at_once_in_its_order(self, read: Read) -> None:
        text = SCHEME
        wrong = {
            'note = "for tests"': "note = 1",
            'lamp = "D65"': 'lamp = "sun"',
            "film = 0.2": "film = 20",
            "thinning = 3\n": "thinning = -3\n",
            "passes = 4": "passes = 0",
            '"moss green" = 4, "plum ink" = 1': '"mos green" = -4, "plumb ink" = 1',
            "coats = 2": "coats = 0",
            "where = { from = 60, edge = 20 }": "where = { from = 600, edgy = 20 }",
            "filter = true": 'filter = "yes"',
            "coverage = 0.1": "coverage = 2",
            'shadow = "#202020"': 'shadow = "dark"',
            "light = [60, 5, -10]": "light = [60]",
            "greys = [30, 80]": 'greys = [80, 30]\nsheen = "mat"',
        }
        for old, new in wrong.items():
            assert text.count(old) == 1
            text = text.replace(old, new)
        text += "unknown = 1\n"
        with pytest.raises(SchemeError) as caught:
            read(text)
        problems = caught.value.problems
        lines = [problem.line for problem in problems if problem.line is not None]
        assert lines == sorted(lines)
        said = [problem.where.split(", ")[-1] for problem in problems]
        assert said == [
            "note", "lamp", "film", "thinning", "passes", "mos green", "mos green", "plumb ink", "coats",
            "from", "edgy", "filter", "coverage", "shadow", "light", "greys", "sheen", "unknown",
        ]  # fmt: skip
        for problem in problems:
            assert problem.line is not None
            assert said[problems.index(problem)].split()[0] in text.split("\n")[problem.line - 1]

    def test_faults_of_every_area_are_told(self, read: Read) -> None:
        area = '[[area]]\nname = "{}"\nground = "nothing"\n'
        with pytest.raises(SchemeError, match="3 things to put right"):
            read('format = "layersim scheme 1"\nname = "x"\n' + "".join(area.format(n) for n in "abc"))

    def test_a_missing_format_hides_nothing_else(self, read: Read) -> None:
        with pytest.raises(SchemeError, match="2 things to put right"):
            read(HEAD.replace('format = "layersim scheme 1"\n', "").replace("soot", "sot"))

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            (
                "".join(f'[[area]]\nname = "{i}"\nground = "rust"\n' for i in range(51)),
                "area: found 51 areas",
            ),
            (HEAD.split("\n", 2)[2] + '[[area.coat]]\npaint = "rust"\n' * 101, "coat: found 101 coats"),
            (
                HEAD.split("\n", 2)[2]
                + "".join(
                    f'[[area.coat]]\npaint = "rust"\npatch = "{i}"\ncoverage = 0.1\n' for i in range(5)
                ),
                'coat 5, patch: found a further patch "4"; expected at most 4 in an area.',
            ),
            (
                HEAD.split("\n", 2)[2]
                + "[[area.coat]]\nmix = {"
                + ", ".join(f'"{i}" = 1' for i in range(21))
                + "}\n",
                "mix: found 21 paints; expected at most 20.",
            ),
        ],
    )
    def test_more_than_anybody_paints(self, read: Read, text: str, words: str) -> None:
        with pytest.raises(SchemeError) as caught:
            read('format = "layersim scheme 1"\nname = "x"\n' + text)
        assert words in str(caught.value)

    def test_the_lines_of_the_table_of_bad_files_are_right(self) -> None:
        assert line_of("a\nb\nc", "c") == 3


class TestFuzz:
    @LAW
    @given(st.binary(max_size=300))
    def test_any_bytes(self, tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
        path = tmp_path_factory.mktemp("fuzz") / "x.toml"
        path.write_bytes(content)
        with pytest.raises(SchemeError):
            load_scheme(path, Shelf([]))

    @pytest.mark.parametrize("text", [SCHEME, demo_scheme().read_text(encoding="utf-8")], ids=["rig", "demo"])
    @LAW
    @given(
        cut=st.integers(0, 5000),
        places=st.lists(
            st.tuples(
                st.integers(0, 5000),
                st.sampled_from(
                    ['"', "[", "]", "{", "}", "=", ".", ",", "#", "\\", "\n", "-", "1", "é", "\0"]
                ),
            ),
            max_size=3,
        ),
    )
    def test_a_file_cut_short_and_with_letters_changed(
        self,
        tmp_path_factory: pytest.TempPathFactory,
        paints_folder: Path,
        text: str,
        cut: int,
        places: list[tuple[int, str]],
    ) -> None:
        text = text[: cut + 30]
        for place, letter in places:
            at = place % len(text)
            text = text[:at] + letter + text[at + 1 :]
        self._load(tmp_path_factory, text, paints_folder)

    @LAW
    @given(
        line=st.integers(0, 60),
        value=st.sampled_from(
            [
                "[]",
                "{}",
                '""',
                "0",
                "-1",
                "1e308",
                "-1e308",
                "nan",
                "inf",
                "true",
                "1979-05-27",
                "07:32:00",
                '"x"',
                "[[]]",
                "[{}]",
                "{ a = 1 }",
                '["a"]',
                "[1, 'a']",
                "0x7fffffffffffffffffff",
                '"\\u0000"',
                "{ from = [] }",
                "{ a.b.c.d = 1 }",
                "9" * 30,
            ]
        ),
    )
    def test_any_kind_of_value_for_any_key(
        self, tmp_path_factory: pytest.TempPathFactory, paints_folder: Path, line: int, value: str
    ) -> None:
        lines = SCHEME.splitlines()
        keyed = [i for i, text in enumerate(lines) if " = " in text]
        at = keyed[line % len(keyed)]
        lines[at] = lines[at].split(" = ")[0] + f" = {value}"
        self._load(tmp_path_factory, "\n".join(lines), paints_folder)

    @staticmethod
    def _load(factory: pytest.TempPathFactory, text: str, paints: Path) -> None:
        path = factory.mktemp("fuzz") / "x.toml"
        path.write_text(text, encoding="utf-8")
        with contextlib.suppress(SchemeError):
            assert load_scheme(path, Shelf([paints])).areas


class TestShipped:
    @pytest.mark.parametrize(
        "path", sorted((data_folder() / "schemes").glob("*.toml")), ids=lambda path: path.stem
    )
    def test_it_can_be_read_without_a_notice(self, path: Path) -> None:
        scheme = load_scheme(path)
        assert scheme.areas
        assert scheme.notices == ()
