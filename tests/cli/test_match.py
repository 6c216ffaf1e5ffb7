"""`layersim match` and `layersim correct`: what they print and write, and what they say of a slip."""

from __future__ import annotations

import re
import shlex
import shutil

import pytest
from PIL import Image

import layersim
from layersim.cli import main

DEMO = str(layersim.demo_scheme())
GLASS = ["--area", "lamp glass", "--coat", "glow"]
QUICK = [
    "--tones", "3", "--among", "bone", "brass yellow", "turquoise", "--drops", "3", "--coats", "1-2",
]  # fmt: skip


def run(capsys, command, *arguments):
    code = main([command, *arguments])
    out, err = capsys.readouterr()
    return code, out, err


@pytest.mark.parametrize("command", ["match", "correct"])
def test_the_examples_fit_the_scheme_that_start_writes(capsys, tmp_path, command):
    path = tmp_path / "my-scheme.toml"
    assert main(["start", str(path)]) == 0
    capsys.readouterr()
    assert main([command, "--help"]) == 0
    shown = capsys.readouterr().out
    scheme = layersim.load_scheme(path)
    examples = [shlex.split(row) for row in shown.splitlines() if row.startswith(f"  layersim {command} ")]
    assert examples
    for words in examples:
        area = next(area for area in scheme.areas if area.name == words[words.index("--area") + 1])
        if "--coat" in words:
            assert words[words.index("--coat") + 1] in [coat.name for coat in area.coats]


def test_it_prints_answers_and_draws_them(capsys, tmp_path):
    picture = tmp_path / "m.png"
    code, out, err = run(capsys, "match", DEMO, *GLASS, *QUICK, "--light", "#d8e0c0", "--out", str(picture))
    assert (code, err) == (0, "")
    assert 'lamp glass: in place of "glow"' in out
    assert " 1. " in out
    assert "ΔE00 mean" in out
    assert re.search(
        r"\nNote: Searched in \d+\.\d s: every recipe within these limits, "
        r"and the closest is among the answers\.\n",
        out,
    )
    assert picture.read_bytes().startswith(b"\x89PNG")


def test_targets_from_a_picture_come_with_a_picture_of_them(capsys, tmp_path):
    art = tmp_path / "art.png"
    Image.new("RGB", (80, 60), (60, 140, 140)).save(art)
    code, out, err = run(
        capsys, "match", DEMO, *GLASS, *QUICK, "--artwork", str(art), "--out", str(tmp_path / "m.png")
    )
    assert (code, err) == (0, "")
    assert "not measured colours" in out
    assert (tmp_path / "m-colours.png").read_bytes().startswith(b"\x89PNG")


def test_regions_are_picked(capsys, tmp_path):
    art = tmp_path / "art.png"
    image = Image.new("RGB", (80, 60), (60, 140, 140))
    image.paste((200, 60, 40), (40, 0, 80, 60))
    image.save(art)
    code, out, _ = run(
        capsys, "match", DEMO, *GLASS, *QUICK, "--artwork", str(art), "--no-picture",
        "--pick", "light=60,10,20,20", "--pick", "shadow=5,5,20,20",
    )  # fmt: skip
    assert code == 0
    assert "proposed" not in out


def test_an_answer_is_written(capsys, tmp_path):
    scheme = tmp_path / "s.toml"
    shutil.copy(DEMO, scheme)
    before = scheme.read_text("utf-8")
    code, out, _ = run(
        capsys, "match", str(scheme), *GLASS, *QUICK, "--light", "70,-8,10", "--no-picture", "--write", "1"
    )
    assert code == 0
    assert "written into" in out
    after = scheme.read_text("utf-8")
    assert after != before
    assert main(["check", str(scheme)]) == 0
    assert "read off a photograph" in after


def test_as_planned_finds_a_stand_in(capsys):
    code, out, _ = run(capsys, "match", DEMO, *GLASS, *QUICK, "--as-planned", "--no-picture")
    assert code == 0
    assert "moves away from the target by" in out


def test_owned_paints_are_read_from_a_list(capsys, tmp_path):
    owned = tmp_path / "mine.txt"
    owned.write_text("bone   # nearly empty\n\nturquoise\n", encoding="utf-8")
    code, out, _ = run(
        capsys, "match", DEMO, *GLASS, "--tones", "3", "--owned", str(owned), "--drops", "3",
        "--mid", "60,-8,0", "--no-picture",
    )  # fmt: skip
    assert code == 0
    assert "of 2 paints" in out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--area", "lamp glas", "--coat", "glow", "--mid", "#808080"], 'Did you mean "lamp glass"?'),
        (["--area", "lamp glass", "--coat", "glw", "--mid", "#808080"], 'Did you mean "glow"?'),
        (
            ["--coat", "glow", "--mid", "#808080"],
            "--area: found nothing, and the scheme has 4 areas; expected one of",
        ),
        ([*GLASS], "no target"),
        ([*GLASS, "--mid", "blue"], '--mid: found "blue"; expected "#rrggbb"'),
        ([*GLASS, "--light", "D65"], "The lamp to judge under stands in the scheme"),
        ([*GLASS, "--mid", "20,0,150"], "expected a colour that a surface can"),
        ([*GLASS, "--mid", "#808080", "--drops", "0"], "drops: found 0"),
        ([*GLASS, "--mid", "#808080", "--paints-at-most", "4"], "paints at most: found 4"),
        ([*GLASS, "--mid", "#808080", "--coats", "6-1"], "--coats: found"),
        ([*GLASS, "--mid", "#808080", "--among", "bonne"], 'Did you mean "bone"?'),
        (
            [*GLASS, "--mid", "#808080", "--among", "titnium", "white", "bone"],
            'found "titnium white bone"; expected names in quotes, each by itself. '
            'Did you mean --among "titanium white" "bone"?',
        ),
        (
            [*GLASS, "--mid", "#808080", "--among", "navy blue,bone"],
            'Did you mean --among "navy blue" "bone"?',
        ),
        (
            [*GLASS, "--mid", "#808080", "--filter", "violet glaze, brown wash"],
            'Did you mean --filter "violet glaze" --filter "brown wash"?',
        ),
        ([*GLASS, "--mid", "808080"], 'Did you mean "#808080"?'),
        ([*GLASS, "--mid", "40,5,-5,10"], "Write decimals with a point."),
        (
            [*GLASS, "--mid", "40", "-5", "10"],
            '--mid: found "40 -5 10" as 3 words; expected one: --mid 40,-5,10',
        ),
        ([*GLASS, "--mid", "40,", "-5,", "10.5"], "expected one: --mid 40,-5,10.5"),
        ([*GLASS, "--mid"], "without them the command line leaves out # and all that follows"),
        ([*GLASS, "--mid", "#808080", "--thinning", "1,5"], "Write decimals with a point. Did you mean 1.5?"),
        ([*GLASS, "--mid", "#808080", "--owned", "missing.txt"], "no such file"),
        ([*GLASS, "--artwork", "missing.png"], "no such file"),
        ([*GLASS, "--pick", "mid=0,0,10,10"], "--pick: found no picture"),
        ([*GLASS, "--mid", "#808080", "--as-planned"], "several sources"),
        ([*GLASS, "--light", "#808080", "--write", "99", *QUICK], "--write: found 99"),
        (["--area", "lamp glass", "--mid", "#808080"], "one of the arguments --coat --after is required"),
    ],
)
def test_a_slip_is_told_and_nothing_written(capsys, tmp_path, arguments, says):
    scheme = tmp_path / "s.toml"
    shutil.copy(DEMO, scheme)
    code, _, err = run(capsys, "match", str(scheme), *arguments, "--no-picture")
    assert code == 2
    assert says in err
    assert "Traceback" not in err
    assert scheme.read_text("utf-8") == layersim.demo_scheme().read_text("utf-8")


def test_a_picture_without_colour_is_told(capsys, tmp_path):
    Image.new("L", (30, 30), 90).save(tmp_path / "g.png")
    code, out, err = run(
        capsys, "match", DEMO, *GLASS, *QUICK, "--artwork", str(tmp_path / "g.png"), "--no-picture"
    )
    assert (code, err) == (0, "")
    assert "only its lightness is used" in out


def test_a_correction_is_told(capsys):
    code, out, err = run(
        capsys, "correct", DEMO, "--area", "lamp glass", "--shadow", "30,-14,-4", "--light", "80,-14,2",
        "--among", "turquoise", "bone", "blue ink", "--coats", "1-2", "--tones", "3",
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert "Smallest correction:" in out or "Leave it" in out


def test_a_correction_needs_what_came_out(capsys):
    code, _, err = run(capsys, "correct", DEMO, "--area", "lamp glass")
    assert code == 2
    assert "what came out: found no colour" in err


def test_a_quick_search_says_what_it_left_out(capsys):
    among = ["bone", "turquoise", "navy blue", "black ink", "warm red"]
    few = ["--tones", "3", "--drops", "3", "--coats", "1", "--among", *among]
    _, whole, _ = run(capsys, "match", DEMO, *GLASS, "--light", "#4060a0", "--no-picture", *few)
    _, quick, _ = run(capsys, "match", DEMO, *GLASS, "--light", "#4060a0", "--no-picture", "--quick", *few)
    # All pairs of five paints are among the best 24 pairs, so this quick search has left out nothing.
    assert "the closest is among the answers" in whole
    assert "the closest is among the answers" in quick
    more = [*few, "bright orange", "violet", "olive green", "burnt umber"]
    _, quick, _ = run(capsys, "match", DEMO, *GLASS, "--light", "#4060a0", "--no-picture", "--quick", *more)
    assert re.search(
        r"s\. \d+ recipes of three paints were left out, .*: without --quick all are tried\.", quick
    )


@pytest.mark.parametrize("colour", ["40 -5 10", "40; -5; 10", "40,−5,10"])
def test_numbers_of_a_colour_may_stand_with_spaces_between(capsys, colour):
    code, out, _ = run(capsys, "match", DEMO, *GLASS, *QUICK, "--mid", colour, "--no-picture")
    code_plain, plain, _ = run(capsys, "match", DEMO, *GLASS, *QUICK, "--mid", "40,-5,10", "--no-picture")
    assert (code, code_plain) == (0, 0)
    assert out.split("Searched in")[0] == plain.split("Searched in")[0]


def test_a_slip_in_a_list_of_paints_names_file_and_line(capsys, tmp_path):
    owned = tmp_path / "mine.txt"
    owned.write_text("bone\n\nturkoise\n", encoding="utf-8")
    code, _, err = run(
        capsys, "match", DEMO, *GLASS, "--owned", str(owned), "--mid", "60,-8,0", "--no-picture"
    )
    assert code == 2
    assert f'{owned}: line 3: no paint "turkoise" on the shelf. Did you mean "turquoise"?' in err


@pytest.mark.parametrize("command", ["match", "correct"])
def test_paints_that_cannot_be_mixed_are_told(capsys, command):
    oil = ["--among", "oil wash dark brown", "bone"]
    where = GLASS if command == "match" else GLASS[:2]
    quiet = ["--no-picture"] if command == "match" else []
    code, out, err = run(capsys, command, DEMO, *where, "--mid", "50,0,10", "--drops", "3", *quiet, *oil)
    assert (code, err) == (0, "")
    assert "No two of these paints can be mixed in one film" in out
    assert "(oil wash dark brown by oil, bone by water): each is tried by itself" in out
    assert not re.search(r"\d oil wash dark brown : \d|\d bone : \d", out)
    if command == "match":
        assert "recipes of 1 of 2 paints" in out


def test_a_finish_in_the_way_of_a_dark_tone_is_told(capsys):
    code, out, _ = run(
        capsys, "match", DEMO, "--area", "wax cloth", "--coat", "base", "--shadow", "8,0,0",
        "--tones", "2", "--among", "black ink", "navy blue", "--drops", "3", "--no-picture",
    )  # fmt: skip
    assert code == 0
    assert re.search(r"this tone could be as dark as L\* \d with a gloss finish", out)
    assert 'a gloss finish instead of "satin varnish"' in out
