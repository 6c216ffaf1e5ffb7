"""Arguments that several commands share: what goes together and what does not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import layersim
from layersim.cli import main
from layersim.cli.arguments import paints_named
from layersim.decide.targets import colour_from
from layersim.errors import UnknownNameError
from layersim.shelf import Shelf

DEMO = str(layersim.demo_scheme())


@pytest.mark.parametrize(
    "words",
    [
        ["preview", DEMO],
        ["compare", DEMO, "--choice", "a: lamp = A"],
        ["tolerance", DEMO],
        ["match", DEMO, "--area", "straps", "--coat", "base", "--as-planned"],
    ],
    ids=lambda words: words[0],
)
def test_a_place_for_a_picture_that_is_not_wanted_is_refused(
    words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, "--no-picture", "--out", str(tmp_path / "x.png")]) == 2
    out, err = capsys.readouterr()
    assert (out, err) == ("", "layersim: --out and --no-picture: found both; expected one of them\n")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["paint", "titanium", "white"], 'A name with spaces goes in quotes: "titanium white".'),
        (["check", "my", "scheme.toml"], 'A name with spaces goes in quotes: "my scheme.toml".'),
        (
            ["match", DEMO, "--area", "wax", "cloth", "--coat", "base"],
            '--area: found 2 words; expected one, or quotes around them: --area "wax cloth"',
        ),
        (
            ["match", "--coat", "blue", "filter", DEMO, "--mid", "1,2,3"],
            'expected one, or quotes around them: --coat "blue filter"',
        ),
        (
            ["log", DEMO, "add", "--area", "wax", "cloth", "--coat", "base"],
            'expected one, or quotes around them: --area "wax cloth"',
        ),
        (
            ["log", DEMO, "add", "--area", "wax cloth", "--coat", "base", "--chip", "mid=31.5", "2", "-18"],
            'expected one, or quotes around them: --chip "mid=31.5 2 -18"',
        ),
        (["log", DEMO, "add", "--aera", "cloth", "--coat", "b"], 'Did you mean "--area"?'),
        (
            ["log", DEMO, "ad"],
            'ACTION: found "ad"; expected add, take-back, show, learn, swatches. Did you mean "add"?',
        ),
        (
            ["log", DEMO, "swatches", "--paint", "x", "--out", "y", "--specular", "in"],
            "expected included, excluded",
        ),
        (
            ["correct", DEMO, "--light", "40", "-5", "10"],
            '--light: found "40 -5 10" as 3 words; expected one: --light 40,-5,10',
        ),
        (["correct", DEMO, "--light", "40,-5,", "10"], "as 2 words; expected one: --light 40,-5,10"),
        (["correct", "--light", "40", "-5", "10", DEMO], "expected one: --light 40,-5,10"),
        (
            ["match", "--coat", "base", "--mid", "1,2,3", "--among", "bone", DEMO],
            "required: scheme. Write scheme before --among, which takes every word after it",
        ),
        (
            ["match", "--coat", "base", "--mid", "1,2,3", "--owned", DEMO],
            "required: scheme. Write scheme before --owned, which takes the word after it",
        ),
        (["correct", DEMO, "--mid"], 'a colour such as 40,-5,10 or "#2c4470". The quotes are needed'),
        (["paint", "„titanium", "white“"], '; expected straight ones: "titanium white"'),
        (["paint", "'titanium", "white'"], '; expected straight ones: "titanium white"'),
        (
            ["match", DEMO, "--area=“wax", "cloth”", "--coat", "base"],
            "found “wax cloth”, in quotes that a command line does not know; "
            'expected straight ones: --area "wax cloth"',
        ),
        (
            ["match", DEMO, "--coat", "base", "--wet-film", "9,5"],
            "Write decimals with a point. Did you mean 9.5?",
        ),
        (["tolerance", DEMO, "--visible", "2 de"], 'found "2 de"; expected a number, without its unit.'),
        (["preview", DEMO, "--replace"], "Leave it out: this command writes over its own files"),
        (["paints", "--replce"], '"--replce" is not known here.\n'),
        (["preview", DEMO, "--output"], 'Did you mean "--out"?'),
        (["fit", DEMO, "--replce"], 'Did you mean "--replace"?'),
        (["tolerance", DEMO, "--seed", "x"], 'found "x"; expected a whole number'),
    ],
    ids=lambda words: " ".join(words) if isinstance(words, list) else "",
)
def test_what_to_type_instead_is_told(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert err.startswith("layersim: ")
    assert err.endswith(" --help\n")


@pytest.mark.parametrize(
    "note",
    [
        "'wet' look on the 'cloth'",
        "'80s blue, like the riders'",
        "„nass“ auf „feucht“",
        "«wet»",
        "ratio='2:1'",
    ],
)
def test_quotes_within_quotes_are_the_painters_own(note: str, tmp_path: Path) -> None:
    scheme = tmp_path / "s.toml"
    assert main(["start", str(scheme)]) == 0
    for words in (["--note", note], [f"--note={note}"]):
        said = ["log", str(scheme), "add", "--area", "cloth", "--coat", "base", "--coats", "1", *words]
        assert main(said) == 0


def test_an_option_is_no_part_of_a_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["preview", DEMO, "--lamp", "D65", "-o", "out.png"]) == 2
    assert "found 2 words" not in capsys.readouterr().err


def test_names_in_odd_quotes_are_told_as_they_should_be_typed(capsys: pytest.CaptureFixture[str]) -> None:
    among = ["--among", "“titanium", "white”", "“blue", "ink”"]
    assert main(["match", DEMO, "--area", "wax cloth", "--coat", "base", "--mid", "40,0,0", *among]) == 2
    assert 'Did you mean --among "titanium white" "blue ink"?' in capsys.readouterr().err


def test_an_apostrophe_is_no_quote(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["paint", "'tis", "painter’s"]) == 2
    assert "straight" not in capsys.readouterr().err
    assert main(["paint", "the painters’"]) == 2
    assert 'no paint "the painters’"' in capsys.readouterr().err


def test_names_torn_apart_or_misspelt_are_put_together() -> None:
    shelf = Shelf.usual()
    assert [paint.name for paint in paints_named(shelf, ["Bone", "bone", "navy-blue"], option="--x")] == [
        "bone",
        "navy blue",
    ]
    for words, typed in (
        (["leather", "brown,", "titnium", "white"], '--x "leather brown" "titanium white"'),
        (["black", "ink", "black", "ink"], '--x "black ink" "black ink"'),
        (["oil", "wash", "dark", "brown", "bone"], '--x "oil wash dark brown" "bone"'),
    ):
        with pytest.raises(UnknownNameError, match=re.escape(f"Did you mean {typed}?")):
            paints_named(shelf, words, option="--x")
    # Where no name can be made of them, the first that is not there is told.
    with pytest.raises(UnknownNameError, match='--x: no paint "zzz" on the shelf'):
        paints_named(shelf, ["zzz", "qqq"], option="--x")
    with pytest.raises(UnknownNameError, match='--x: no paint "bonne" on the shelf'):
        paints_named(shelf, ["bonne"], option="--x")


def test_a_colour_in_odd_quotes_is_that_colour() -> None:
    assert (
        colour_from("“#2c4470”", name="mid").lab.tolist() == colour_from("#2c4470", name="mid").lab.tolist()
    )


@pytest.mark.parametrize(
    ("words", "once"),
    [
        (["preview", DEMO, "--no-picture", "--tones", "3"], {"--light": "--lamp", "--stage": "--coat"}),
        (["quantities", DEMO], {"--step": "--coat"}),
    ],
    ids=lambda words: words[0] if isinstance(words, list) else "",
)
def test_options_are_read_by_what_they_were_once_called(
    words: list[str], once: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    values = {"--light": "A", "--stage": "filter", "--step": "filter"}
    assert main([*words, *(word for old, now in once.items() for word in (now, values[old]))]) == 0
    now, quiet = capsys.readouterr()
    assert main([*words, *(f"{old}={values[old]}" for old in once)]) == 0
    out, err = capsys.readouterr()
    assert (out, quiet) == (now, "")
    assert err.splitlines() == [
        f"{old} is now called {new}; it is read as before." for old, new in once.items()
    ]
