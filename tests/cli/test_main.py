"""The command line: what people type, what they get, and what they are told when it cannot be had."""

from __future__ import annotations

import errno
import json
import os
import re
import shlex
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from layersim.cli import COMMANDS, main, run
from layersim.paintfile import paint_text
from layersim.resources import data_folder, demo_scheme
from layersim.scheme.ownfilms import takes_own_film
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate
from layersim.shelf import Shelf
from layersim.version import VERSION
from tests.bad_schemes import BAD, BROKEN_PAINT
from tests.examples import MOSS, SCHEME

Say = Callable[..., tuple[int, str, str]]


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Commands run in a folder of their own, where a picture without a name belongs."""
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str], paints_folder: Path) -> Say:
    """Run a command in this process and return its exit code, what it said, and what it complained of.

    The word PAINTS stands for the folder of the synthetic paints.
    """

    def command(*words: object) -> tuple[int, str, str]:
        given = [str(paints_folder) if word == "PAINTS" else str(word) for word in words]
        code = main(given)
        out, err = capsys.readouterr()
        return code, out, err

    return command


class TestOverview:
    @pytest.mark.parametrize("words", [(), ("--help",), ("-h",), ("--debug",)])
    def test_without_a_command_all_are_listed(self, say: Say, words: tuple[str, ...]) -> None:
        code, out, err = say(*words)
        assert (code, err) == (0, "")
        for name, summary in COMMANDS.items():
            assert re.search(rf"^  {name} +{re.escape(summary)}$", out, re.M)
        assert "To begin: layersim start my-scheme.toml, then layersim preview my-scheme.toml" in out

    def test_the_version(self, say: Say) -> None:
        assert say("--version") == (0, f"layersim {VERSION}\n", "")

    @pytest.mark.parametrize("name", COMMANDS)
    def test_every_command_explains_itself(self, say: Say, name: str) -> None:
        code, out, err = say(name, "--help")
        assert (code, err) == (0, "")
        assert out.startswith(f"usage: layersim {name}")
        assert "--debug" in out

    def test_an_unknown_command_names_the_nearest(self, say: Say) -> None:
        code, out, err = say("preveiw", "x.toml")
        assert (code, out) == (2, "")
        assert err == 'layersim: no command "preveiw". Did you mean "preview"?\n'
        code, _, err = say("\x1b[2J")
        assert code == 2
        assert "\x1b" not in err
        assert "The commands here are:" in err

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("preview",), "the following arguments are required: scheme"),
            (("preview", "a", "b"), '"b" is not known here.'),
            (("preview", "a", "--tone", "3"), '"--tone" is not known here. Did you mean "--tones"?'),
            (("preview", "a", "--tones", "many"), '--tones: found "many"; expected a whole number'),
            (("preview", "a", "--tones", "1"), "--tones: found 1; expected a whole number from 2 to 60"),
            (("preview", "a", "--tones", "61"), "--tones: found 61; expected a whole number from 2 to 60"),
            (("preview", "a", "--out"), "--out: expected one argument"),
            (("paint",), "the following arguments are required: name"),
            (("check", "a", "--paints", "nowhere"), "--paints nowhere: there is no such folder"),
            (("paints", "--kind", "stain"), '--kind: no kind "stain". '),
            (("paints", "--kind", "inc"), 'Did you mean "ink"?'),
        ],
    )
    def test_wrong_words_are_told(self, say: Say, here: Path, words: tuple[str, ...], said: str) -> None:
        code, out, err = say(*words)
        assert (code, out) == (2, "")
        assert err.startswith("layersim: ")
        assert said in err
        assert list(here.iterdir()) == []


class TestPreview:
    def test_a_picture_and_a_table(self, say: Say, scheme_file: Path, here: Path) -> None:
        code, out, err = say("preview", scheme_file, "--paints", "PAINTS")
        assert (code, err) == (0, "")
        assert out.startswith("Test rig\nPredicted under D65 (average daylight)")
        assert out.endswith(f"Picture: {here / 'rig-preview.png'}\n")
        assert [path.name for path in here.iterdir()] == ["rig-preview.png"]
        with Image.open(here / "rig-preview.png") as picture:
            assert picture.width == 1650

    def test_its_numbers_are_those_of_the_python_interface(
        self, say: Say, scheme_file: Path, here: Path, shelf: Shelf
    ) -> None:
        code, out, _ = say(
            "preview", scheme_file, "--paints", "PAINTS", "--no-picture", "--json", "x.json", "--tones", "4"
        )
        assert code == 0
        assert f"Data: {here / 'x.json'}" in out
        assert [path.name for path in here.iterdir()] == ["x.json"]
        said = json.loads((here / "x.json").read_text(encoding="utf-8"))
        for one, area in zip(
            said["result"][0]["areas"],
            simulate(load_scheme(scheme_file, shelf), tones=4).areas,
            strict=True,
        ):
            for tone in range(4):
                for key, values in (("lab", area.lab), ("lab_low", area.lab_low)):
                    assert one[key][-1][tone] == pytest.approx(values[-1, tone], abs=6e-4)

    @pytest.mark.parametrize("name", ["x.png", "x.pdf", "x.svg", "sub/x.PNG"])
    def test_out_says_where(self, say: Say, scheme_file: Path, here: Path, name: str) -> None:
        (here / "sub").mkdir()
        code, out, _ = say("preview", scheme_file, "--paints", "PAINTS", "--tones", "2", "--out", name)
        assert code == 0
        assert out.endswith(f"Picture: {here / name}\n")
        assert (here / name).stat().st_size > 1000

    def test_lights_are_compared(self, say: Say, scheme_file: Path) -> None:
        code, out, _ = say(
            "preview", scheme_file, "--paints", "PAINTS", "--no-picture", "--lamp", "D65", "--lamp", "A",
            "--lamp", "A",
        )  # fmt: skip
        assert code == 0
        assert "Predicted under D65" in out
        assert out.count("A: incandescent bulb") == out.count("ΔE00 from D65") == 2

    def test_a_light_of_ones_own_replaces_the_schemes(self, say: Say, scheme_file: Path) -> None:
        _, out, _ = say("preview", scheme_file, "--paints", "PAINTS", "--no-picture", "--lamp", "FL11")
        assert "Predicted under FL11 (fluorescent tube" in out
        assert out.count("D65") == out.count("preshade L* (D65)") > 0

    def test_areas_and_stages_can_be_chosen(self, say: Say, scheme_file: Path, here: Path) -> None:
        _, out, _ = say("preview", scheme_file, "--paints", "PAINTS", "--area", "strap")
        assert "strap" in out
        assert "cloth" not in out
        _, out, _ = say("preview", scheme_file, "--paints", "PAINTS", "--coat", "base", "--coat", "rust")
        for wanted in ("cloth", "strap", "after base"):
            assert wanted in out
        for left_out in ("varnish", "preshade  ", "target", "The filter"):
            assert left_out not in out
        assert (here / "rig-preview.png").is_file()

    def test_choosing_an_area_changes_none_of_its_numbers(self, say: Say, scheme_file: Path) -> None:
        _, whole, _ = say("preview", scheme_file, "--paints", "PAINTS", "--no-picture")
        _, alone, _ = say("preview", scheme_file, "--paints", "PAINTS", "--no-picture", "--area", "strap")
        assert alone.strip().split("\n\n")[1] in whole

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("--area", "cloht"), '--area: no area "cloht". Did you mean "cloth"?'),
            (("--area", "zzz"), "The areas here are: cloth, strap."),
            (("--coat", "vanish"), '--coat: no coat "vanish". Did you mean "varnish"?'),
            (("--lamp", "sun"), 'no lamp "sun": expected one of D65, D50, A, LED-B1'),
            (("--lamp", "d50"), 'LED-B5, FL2, FL11. Did you mean "D50"?'),
            (("--out", "x.jpg"), "a picture is written as png, pdf, svg or html, by the name's ending."),
            (("--out", "no/x.png"), "no/x.png: there is no folder no to write into; make it first"),
            (("--json", "no/x.json"), "no/x.json: there is no folder no to write into; make it first"),
            (("--json", "."), ".: this is a folder; give the name of a file to write"),
            (("--out", "x" * 300 + ".png"), "ile name too long"),
        ],
    )
    def test_what_cannot_be_had_is_told_before_anything_is_written(
        self, say: Say, scheme_file: Path, here: Path, words: tuple[str, ...], said: str
    ) -> None:
        code, out, err = say("preview", scheme_file, "--paints", "PAINTS", *words)
        assert (code, out) == (2, "")
        assert said in err
        assert list(here.iterdir()) == []

    def test_the_scheme_itself_is_not_written_over(self, say: Say, scheme_file: Path) -> None:
        before = scheme_file.read_bytes()
        code, _, err = say(
            "preview", scheme_file, "--paints", "PAINTS", "--no-picture", "--json", scheme_file
        )
        assert code == 2
        assert "name another one" in err
        assert scheme_file.read_bytes() == before

    def test_a_disk_that_fills_up_leaves_no_half_picture(
        self, say: Say, scheme_file: Path, here: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        (here / "rig-preview.png").write_bytes(b"old")

        def full(_: int) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr(os, "fsync", full)
        code, _, err = say("preview", scheme_file, "--paints", "PAINTS", "--tones", "2")
        assert code == 2
        assert err == "layersim: rig-preview.png: this file cannot be written (no space left on device)\n"
        assert {path.name: path.read_bytes() for path in here.iterdir()} == {"rig-preview.png": b"old"}

    def test_notices_are_told(self, say: Say, tmp_path: Path) -> None:
        path = tmp_path / "x.toml"
        path.write_text(SCHEME.replace("greys = [30, 80]", "greys = [5, 80]"))
        _, out, _ = say("preview", path, "--paints", "PAINTS", "--no-picture")
        assert "Note: strap: preshade greys from L* 5: its surface reflects enough by itself" in out

    def test_the_schemes_own_paints_are_searched_beside_those_given(
        self, say: Say, tmp_path: Path, paints_folder: Path
    ) -> None:
        own = tmp_path / "mine"
        own.mkdir()
        (own / "moss.toml").write_text(paint_text(MOSS).replace('"moss green"', '"my moss"'))
        path = tmp_path / "x.toml"
        text = SCHEME.replace('lamp = "D65"', 'paints = "mine"').replace('"rust"\n', '"my moss"\n')
        path.write_text(text)
        code, _, err = say("check", path, "--paints", "PAINTS")
        assert (code, err) == (0, "")


class TestBadInput:
    """The same bad files as for the Python interface; here, what leaves the program."""

    @pytest.mark.parametrize("command", ["check", "preview"])
    @pytest.mark.parametrize("name", BAD)
    def test_one_message_exit_code_2_and_nothing_written(
        self, say: Say, tmp_path: Path, here: Path, name: str, command: str
    ) -> None:
        path = BAD[name].make(tmp_path)
        before = sorted(p.name for p in tmp_path.rglob("*"))
        code, out, err = say(command, path, "--paints", "PAINTS")
        assert (code, out) == (2, "")
        if "See them all" not in BAD[name].said:
            assert err == f"layersim: {path}: {BAD[name].said}\n".replace("FOLDER", str(path.parent))
        assert "Traceback" not in err
        assert list(here.iterdir()) == []
        assert sorted(p.name for p in tmp_path.rglob("*")) == before

    def test_no_permission(self, say: Say, scheme_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def refuse(*_: object, **__: object) -> None:
            raise PermissionError(errno.EACCES, "Permission denied")

        monkeypatch.setattr(os, "open", refuse)
        code, out, err = say("check", scheme_file)
        assert (code, out) == (2, "")
        assert err == f"layersim: {scheme_file}: you have no permission to read this file\n"

    def test_a_paint_that_cannot_be_used(self, say: Say, tmp_path: Path) -> None:
        code, _, err = say("check", BROKEN_PAINT.make(tmp_path))
        assert code == 2
        assert 'found "pant"; expected one of "paint", "metal", "ink"' in err

    @pytest.mark.parametrize("command", ["check", "preview"])
    def test_debug_shows_the_traceback(self, scheme_file: Path, command: str) -> None:
        scheme_file.write_text("coats 3")
        from layersim.errors import SchemeError

        with pytest.raises(SchemeError):
            main([command, str(scheme_file), "--debug"])

    def test_a_fault_of_the_program_is_owned_up_to(
        self, say: Say, scheme_file: Path, paints_folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from layersim.scheme import simulate as module

        def slip(*_: object, **__: object) -> None:
            raise ZeroDivisionError("division by zero")

        monkeypatch.setattr(module, "simulate", slip)
        code, _, err = say("check", scheme_file, "--paints", "PAINTS")
        assert code == 1
        assert err == (
            "layersim: a fault of the program, not yours (ZeroDivisionError: division by zero). "
            "With --debug it shows where; please report it.\n"
        )
        with pytest.raises(ZeroDivisionError):
            main(["check", str(scheme_file), "--paints", str(paints_folder), "--debug"])

    def test_stopping_it_is_no_fault(
        self, say: Say, scheme_file: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from layersim.scheme import simulate as module

        def stop(*_: object, **__: object) -> None:
            raise KeyboardInterrupt

        monkeypatch.setattr(module, "simulate", stop)
        code, _, err = say("check", scheme_file, "--paints", "PAINTS")
        assert (code, err) == (130, "layersim: stopped\n")

    @settings(
        max_examples=40, deadline=None, derandomize=True, database=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture],
    )  # fmt: skip
    @given(
        cut=st.integers(0, len(SCHEME)),
        places=st.lists(
            st.tuples(st.integers(0, len(SCHEME) - 1), st.sampled_from(list('"[]{}=.,#\\\n-19é\0'))),
            max_size=3,
        ),
    )
    def test_whatever_is_in_the_file_there_is_never_a_traceback(
        self, say: Say, tmp_path: Path, cut: int, places: list[tuple[int, str]]
    ) -> None:
        text = list(SCHEME)
        for place, letter in places:
            text[place] = letter
        path = tmp_path / "x.toml"
        path.write_text("".join(text)[:cut], encoding="utf-8")
        code, out, err = say("check", path, "--paints", "PAINTS")
        assert (code, bool(out), bool(err)) in {(0, True, False), (2, False, True)}


class TestCheck:
    def test_a_sound_scheme(self, say: Say, scheme_file: Path) -> None:
        code, out, err = say("check", scheme_file, "--paints", "PAINTS")
        assert (code, err) == (0, "")
        assert out == (
            f"{scheme_file}: nothing wrong in it.\n"
            "  cloth: 5 coats over soot primer\n"
            "  strap: 1 coat over soot primer\n"
        )

    def test_areas_that_are_more_than_the_model_are_noted_as_quantities_has_them(
        self, say: Say, tmp_path: Path
    ) -> None:
        path = tmp_path / "x.toml"
        text = SCHEME.replace('name = "cloth"\n', 'name = "cloth"\nshare = 0.7\n')
        path.write_text(text.replace('name = "strap"\n', 'name = "strap"\nshare = 0.6\n'))
        code, out, err = say("check", path, "--paints", "PAINTS")
        assert (code, err) == (0, "")
        _, _, told = say("quantities", path, "--paints", "PAINTS")
        complaint = told.removeprefix(f"layersim: {path}: ").strip()
        assert "found areas that make up 130 % of the" in complaint
        assert f"Note: layersim quantities cannot use it yet: {complaint}\n" in out
        assert out.startswith(f"{path}: nothing else wrong in it.\n")

    def test_a_mesh_that_is_none_is_noted(self, say: Say, tmp_path: Path) -> None:
        pytest.importorskip("trimesh")
        (tmp_path / "m.stl").write_bytes(b"")
        path = tmp_path / "x.toml"
        path.write_text(SCHEME + '\n[batch]\nmesh = "m.stl"\n')
        _, out, _ = say("check", path, "--paints", "PAINTS")
        said = f"{tmp_path / 'm.stl'}: found no triangles; expected a whole mesh as STL.\n"
        assert f"cannot use it yet: {said}" in out

    def test_a_pre_shade_that_is_none(self, say: Say, tmp_path: Path) -> None:
        path = tmp_path / "x.toml"
        path.write_text(SCHEME.replace('white = "chalk white"', 'white = "soot primer"'))
        code, out, err = say("check", path, "--paints", "PAINTS")
        assert (code, out) == (2, "")
        assert err.startswith(
            f'layersim: {path}: area "cloth", preshade: soot primer, thinned 3:1 over soot primer'
        )


class TestStart:
    def test_it_can_be_previewed_at_once(self, say: Say, here: Path) -> None:
        code, out, err = say("start", "my-scheme.toml")
        assert (code, err) == (0, "")
        assert out == "Written: my-scheme.toml\n  Edit it, then: layersim preview my-scheme.toml\n"
        code, _, err = say("preview", "my-scheme.toml", "--tones", "3")
        assert (code, err) == (0, "")
        assert sorted(path.name for path in here.iterdir()) == ["my-scheme-preview.png", "my-scheme.toml"]

    def test_it_speaks_of_itself_by_its_own_name(self, say: Say, here: Path) -> None:
        say("start", "my-scheme.toml")
        text = (here / "my-scheme.toml").read_text(encoding="utf-8")
        assert "layersim preview my-scheme.toml" in text
        assert "starter.toml" not in text
        for path in (data_folder() / "schemes").glob("*.toml"):
            assert path.name not in text

    def test_it_explains_itself(self, say: Say, here: Path) -> None:
        say("start", "x.toml")
        lines = (here / "x.toml").read_text(encoding="utf-8").splitlines()
        assert sum("#" in line for line in lines) > 15

    def test_every_film_of_it_is_left_to_paint_and_sprayer(self, say: Say, here: Path) -> None:
        say("start", "x.toml")
        [area] = load_scheme("x.toml").areas
        assert all(takes_own_film(step) for step in (area.preshade, *area.coats))

    def test_a_swatches_file(self, say: Say, here: Path) -> None:
        code, out, err = say("start", "red.toml", "--swatches")
        assert (code, err) == (0, "")
        assert out.startswith("Written: red.toml\n  Edit it, then: layersim fit red.toml\n")
        assert "layersim start FILE --photograph" in out
        text = (here / "red.toml").read_text(encoding="utf-8")
        assert '\nname = "red" ' in text
        assert text.startswith("# Swatches of one paint")
        assert "layersim testcard card.pdf" in text
        assert "layersim start my-card.toml --photograph" in text

    def test_a_file_for_a_photographed_card(self, say: Say, here: Path) -> None:
        code, out, err = say("start", "red.toml", "--photograph")
        assert (code, err) == (0, "")
        assert "Edit it, then: layersim fit red.toml" in out
        assert "layersim testcard card.pdf" in out
        text = (here / "red.toml").read_text(encoding="utf-8")
        assert "\n[photograph]\n" in text
        assert '\nname = "red"              # put it right' in text
        assert '\nfile = "card.jpg" ' in text
        assert "Note: the photograph card.jpg is not there yet." in out
        assert "\n# card = " in text, "without a layout of its own the printed card's serves"
        assert "--swatches" in text
        (here / "card.toml").write_text("a layout", encoding="utf-8")
        assert say("start", "blue.toml", "--photograph")[0] == 0
        assert '\ncard = "card.toml" ' in (here / "blue.toml").read_text(encoding="utf-8")

    @pytest.mark.parametrize("kind", [(), ("--swatches",), ("--photograph",)])
    def test_a_name_has_its_ending(self, say: Say, here: Path, kind: tuple[str, ...]) -> None:
        code, out, err = say("start", "blue", *kind)
        assert (code, out) == (2, "")
        assert err == "layersim: blue: expected a file ending in .toml, such as blue.toml\n"
        assert list(here.iterdir()) == []

    def test_one_kind_of_file_at_a_time(self, say: Say, here: Path) -> None:
        code, out, err = say("start", "red.toml", "--photograph", "--swatches")
        assert (code, out) == (2, "")
        assert "not allowed with" in err
        assert list(here.iterdir()) == []

    def test_a_file_that_is_there_is_kept_unless_one_says_so(self, say: Say, here: Path) -> None:
        (here / "x.toml").write_text("mine")
        code, out, err = say("start", "x.toml")
        assert (code, out) == (2, "")
        assert err == "layersim: x.toml: this file is there already; name another, or add --replace\n"
        assert (here / "x.toml").read_text() == "mine"
        assert say("start", "x.toml", "--replace")[0] == 0
        assert (here / "x.toml").read_text() != "mine"

    @pytest.mark.parametrize(
        ("name", "said"),
        [
            ("no/x.toml", "there is no folder no to write into"),
            (".", "expected a file ending in .toml"),
            ("x" * 300, "ile name too long"),
        ],
    )
    def test_where_no_file_can_be(self, say: Say, here: Path, name: str, said: str) -> None:
        code, out, err = say("start", name)
        assert (code, out) == (2, "")
        assert said in err
        assert list(here.iterdir()) == []


class TestPaints:
    def test_ones_own_and_the_starters(self, say: Say, paints_folder: Path) -> None:
        code, out, err = say("paints", "--paints", "PAINTS")
        assert (code, err) == (0, "")
        assert f"{paints_folder / 'moss-green.toml'}, invented" in out
        assert "starter, invented" in out
        assert "Your own paints belong in " in out

    def test_of_one_kind(self, say: Say) -> None:
        _, out, _ = say("paints", "--paints", "PAINTS", "--kind", "varnish")
        rows = [line for line in out.splitlines() if " µm " in line]
        assert len(rows) >= 4
        assert all("  varnish  " in row for row in rows)
        assert "gloss lacquer" in out

    def test_a_broken_file_is_told_and_spoils_nothing(self, say: Say, tmp_path: Path) -> None:
        folder = tmp_path / "mine"
        folder.mkdir()
        (folder / "bad.toml").write_text("name = ")
        code, out, err = say("paints", "--paints", folder)
        assert (code, err) == (0, "")
        assert f"Note: left out: {folder / 'bad.toml'}: line 1, the end of the file: found" in out
        assert ".." not in out.split("Note: ")[1].splitlines()[0]


class TestPaint:
    def test_a_card_in_words_and_as_a_picture(self, say: Say, here: Path) -> None:
        code, out, err = say("paint", "Moss Green", "--paints", "PAINTS", "--out", "moss.png")
        assert (code, err) == (0, "")
        assert out.startswith("moss green\npaint; invented")
        assert out.endswith(f"Picture: {here / 'moss.png'}\n")
        with Image.open(here / "moss.png") as picture:
            assert picture.width > 1000

    def test_an_unknown_one_names_the_nearest(self, say: Say, here: Path) -> None:
        code, out, err = say("paint", "mos green", "--paints", "PAINTS", "--out", "x.png")
        assert (code, out) == (2, "")
        assert err == 'layersim: no paint "mos green" on the shelf. Did you mean "moss green"?\n'
        assert list(here.iterdir()) == []

    def test_a_paints_file_does_as_well_as_its_name(
        self, say: Say, scheme_file: Path, paints_folder: Path
    ) -> None:
        file = paints_folder / "moss-green.toml"
        assert say("paint", file) == say("paint", "moss green", "--paints", "PAINTS")
        code, out, err = say("paint", scheme_file)
        assert (code, out) == (2, "")
        assert "This is a scheme file, and a paint file was asked for." in err
        assert "there is no such file" in say("paint", "no/such.toml")[2]

    def test_an_ending_that_is_no_pictures_is_told_first(self, say: Say) -> None:
        code, out, err = say("paint", "moss green", "--paints", "PAINTS", "--out", "x.jpg")
        assert (code, out) == (2, "")
        assert "a picture is written as png, pdf, svg or html" in err


class TestProcess:
    """A few runs of the true program."""

    @staticmethod
    def call(*words: object, **others: object) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            [sys.executable, "-m", "layersim", *map(str, words)],
            check=False,
            **{"capture_output": True, **others},  # type: ignore[call-overload]
        )

    def test_the_demo_scheme(self, here: Path) -> None:
        done = self.call("preview", demo_scheme(), "--tones", "3")
        assert (done.returncode, done.stderr) == (0, b"")
        assert (here / f"{demo_scheme().stem}-preview.png").is_file()

    def test_exit_codes_and_streams(self, tmp_path: Path) -> None:
        done = self.call("check", tmp_path / "no.toml")
        assert (done.returncode, done.stdout) == (2, b"")
        assert done.stderr.decode().startswith(f"layersim: {tmp_path / 'no.toml'}: there is no such file")
        done = self.call("check", tmp_path / "no.toml", "--debug")
        assert done.returncode == 1
        assert b"Traceback" in done.stderr

    @pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device here")
    @pytest.mark.parametrize("words", ["--version", "--help", "paints", "preview --help"])
    def test_an_output_that_is_full_is_told(self, words: str) -> None:
        with Path("/dev/full").open("wb") as full:
            done = self.call(*words.split(), capture_output=False, stdout=full, stderr=subprocess.PIPE)
        assert (done.returncode, done.stderr) == (2, b"layersim: No space left on device\n")

    @pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device here")
    @pytest.mark.parametrize(("words", "code"), [("--version", 0), ("nonsense", 2), ("paints --no", 2)])
    def test_where_nobody_can_be_told_the_exit_code_says_it(self, words: str, code: int) -> None:
        with Path("/dev/full").open("wb") as full:
            done = self.call(*words.split(), capture_output=False, stdout=subprocess.PIPE, stderr=full)
        assert (done.returncode, bool(done.stdout)) == (code, code == 0)

    @pytest.mark.skipif(os.name == "nt", reason="a POSIX shell closes streams")
    @pytest.mark.parametrize(
        ("line", "code", "said"),
        [
            ("{} --version >&-", 2, "layersim: the output is closed\n"),
            ("{} paints >&-", 2, "layersim: the output is closed\n"),
            ("{} paints >&- 2>&-", 2, ""),
            ("{} paints 2>&- >paints.txt", 0, ""),
            ("{} nonsense 2>&-", 2, ""),
        ],
    )
    def test_a_closed_stream_is_as_good_as_a_full_one(
        self, here: Path, line: str, code: int, said: str
    ) -> None:
        program = f"{shlex.quote(sys.executable)} -m layersim"
        done = subprocess.run(line.format(program), shell=True, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout, done.stderr) == (code, "", said)

    @pytest.mark.skipif(os.name == "nt", reason="a POSIX shell closes streams")
    def test_no_file_becomes_an_output_that_was_closed(self, here: Path) -> None:
        start = f"{shlex.quote(sys.executable)} -m layersim start x.toml"
        written = []
        for line in (start, f"{start} --replace <&- >&- 2>&-"):
            subprocess.run(line, shell=True, capture_output=True, check=False)
            written.append((here / "x.toml").read_bytes())
            (here / "x.toml").write_bytes(b"")
        assert written[0] == written[1] != b""

    @pytest.mark.skipif(os.name == "nt", reason="signals are POSIX's")
    @pytest.mark.parametrize(
        "module", ["layersim.cli.arguments", "layersim.cli.check", "numpy", "trimesh.base"]
    )
    @pytest.mark.parametrize("way", ["", "ImportError"])
    def test_ctrl_c_while_a_module_is_imported(self, here: Path, module: str, way: str) -> None:
        """It comes in the middle of an import, where a library may make another error of it, or none."""
        if module.startswith("trimesh"):
            pytest.importorskip("trimesh")
        (here / "x.stl").write_bytes(b"solid")
        program = f"""
import os, signal, sys
class Press:
    def find_spec(self, name, path=None, target=None):
        if name == {module!r}:
            sys.meta_path.remove(self)
            try:
                os.kill(os.getpid(), signal.SIGINT)
            except KeyboardInterrupt:
                if {way!r}:
                    raise ImportError("made of it")
                raise
sys.meta_path.insert(0, Press())
from layersim.cli import run
run({["quantities" if "trimesh" in module else "check", str(demo_scheme())]!r}
    + {["--mesh", "x.stl"] if "trimesh" in module else []!r})
"""
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout, done.stderr) == (130, "", "layersim: stopped\n")

    def test_a_reader_that_leaves_early_is_no_fault(self, scheme_file: Path, paints_folder: Path) -> None:
        words = [sys.executable, "-m", "layersim", "preview", scheme_file, "--no-picture", "--tones", "60"]
        process = subprocess.Popen(
            [*map(str, words), "--paints", str(paints_folder)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait() == 0
        process.stderr.close()

    def test_a_reader_that_leaves_early_keeps_no_file_from_being_written(self, here: Path) -> None:
        """A fit left its picture and no paint, and the next fit was refused for the picture."""
        swatches = data_folder() / "examples" / "brick-red.toml"
        words = [sys.executable, "-u", "-m", "layersim", "fit", str(swatches), "--out", "red.toml"]
        process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=here)
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait() == 0
        process.stderr.close()
        assert (here / "red.toml").is_file()
        assert (here / "red.png").is_file()

    def test_an_output_without_greek_gets_question_marks(
        self, scheme_file: Path, paints_folder: Path
    ) -> None:
        environment = os.environ | {"PYTHONIOENCODING": "ascii"}
        done = self.call("preview", scheme_file, "--paints", paints_folder, "--no-picture", env=environment)
        assert (done.returncode, done.stderr) == (0, b"")
        assert b"?E00" in done.stdout

    @pytest.mark.skipif(sys.platform == "darwin", reason="its file system takes UTF-8 names only")
    def test_a_file_name_that_is_no_text(self, here: Path, paints_folder: Path) -> None:
        name = os.fsdecode(b"caf\xe9.toml")
        (here / name).write_text(SCHEME)
        done = self.call("preview", name, "--paints", paints_folder, "--tones", "2")
        assert (done.returncode, done.stderr) == (0, b"")
        assert (here / os.fsdecode(b"caf\xe9-preview.png")).is_file()

    def test_the_installed_command_is_this_one(self) -> None:
        before = signal.getsignal(signal.SIGINT)
        try:
            with pytest.raises(SystemExit) as leaving:
                run(["--version"])
        finally:
            signal.signal(signal.SIGINT, before)
        assert leaving.value.code == 0
