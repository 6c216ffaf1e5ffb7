"""The [photograph] of a swatches file: what may be left out, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from layersim.errors import CardFileError, SwatchFileError
from layersim.measure.card import standard_card
from layersim.measure.cardfile import write_card_file
from layersim.measure.photofile import photograph_starter_text
from layersim.measure.photoswatch import PhotographedSet
from layersim.measure.swatchfile import read_any_swatches, read_swatches

TOP = """\
format = "layersim swatches 1"
name = "storm teal"
volume_solids = 0.28
wet_film_um = 15
sheen = "matt"
"""
PHOTOGRAPH = '[photograph]\nfile = "card.jpg"\n'
CORNERS = "[[10, 10], [900, 12], [890, 700], [8, 690]]"


def read(folder: Path, text: str) -> PhotographedSet:
    path = folder / "swatches.toml"
    path.write_text(text, encoding="utf-8")
    found = read_any_swatches(path)
    assert isinstance(found, PhotographedSet)
    return found


def test_a_card_says_itself_which_place_is_what(tmp_path: Path) -> None:
    found = read(tmp_path, TOP + PHOTOGRAPH + "thinning = 1.5\n")
    assert found.photograph == tmp_path / "card.jpg"
    assert found.layout == standard_card()
    assert [s.name for s in found.swatches][:2] == ["half a coat over black", "1 coat over black"]
    assert {s.thinning for s in found.swatches} == {1.5}
    assert [g.name for g in found.grounds] == ["black", "white"]
    assert found.reference == "best"
    assert found.corners_px is None


def test_a_card_of_ones_own(tmp_path: Path) -> None:
    write_card_file(tmp_path / "mine.toml", standard_card(coats=(0.5, 1)))
    more = f'card = "mine.toml"\ncorners_px = {CORNERS}\nreference = "neutrals"\nencoding = "linear"\n'
    found = read(tmp_path, TOP + PHOTOGRAPH + more)
    assert [s.coats for s in found.swatches] == [0.5, 1.0, 0.5, 1.0]
    assert found.corners_px == ((10.0, 10.0), (900.0, 12.0), (890.0, 700.0), (8.0, 690.0))
    assert (found.reference, found.encoding) == ("neutrals", "linear")


def test_a_second_picture_under_another_lamp(tmp_path: Path) -> None:
    other = f'[photograph.other_lamp]\nfile = "led.jpg"\nchart_corners_px = {CORNERS}\n'
    found = read(tmp_path, TOP + PHOTOGRAPH + other).other_light
    assert found is not None
    assert found.photograph == tmp_path / "led.jpg"
    assert found.corners_px is None
    assert found.chart_corners_px is not None
    assert read(tmp_path, TOP + PHOTOGRAPH).other_light is None
    old = read(tmp_path, TOP + PHOTOGRAPH + other.replace("other_lamp", "other_light"))
    assert old.other_light == found


def test_which_patch_is_which_may_be_said(tmp_path: Path) -> None:
    more = """
[[ground]]
name = "black"
patches = ["black bare 1"]
sheen = "satin"
[[ground]]
name = "white"
paint = "white primer"
patches = ["white bare 2"]
[[swatch]]
name = "a mist"
ground = "black"
coats = 0.5
patch = "black 1"
[[swatch]]
name = "a tint"
ground = "white"
coats = 2
thinning = 0
patch = "white 2"
mix = { "this paint" = 1, "titanium white" = 4 }
"""
    found = read(tmp_path, TOP + PHOTOGRAPH + "thinning = 1\n" + more)
    assert [(s.name, s.patch, s.thinning) for s in found.swatches] == [
        ("a mist", "black 1", 1.0),
        ("a tint", "white 2", 0.0),
    ]
    assert found.grounds[0].patches == ("black bare 1",)
    assert found.grounds[0].sheen < 1.0
    assert found.swatches[1].share == pytest.approx(0.2)


@pytest.mark.parametrize("patches", ["", 'patches = ["black bare 1", "black bare 2"]\n'])
def test_a_ground_that_is_written_changes_that_one_alone(tmp_path: Path, patches: str) -> None:
    plain = read(tmp_path, TOP + PHOTOGRAPH)
    more = f'[[ground]]\nname = "black"\nsheen = "gloss"\n{patches}'
    found = read(tmp_path, TOP + PHOTOGRAPH + more)
    assert [g.name for g in found.grounds] == ["black", "white"]
    assert found.grounds[0].sheen < 0.1
    assert found.grounds[1] == plain.grounds[1]
    assert [g.patches for g in found.grounds] == [g.patches for g in plain.grounds]
    assert [s.name for s in found.swatches] == [s.name for s in plain.swatches]


def test_a_ground_of_ones_own_takes_its_places(tmp_path: Path) -> None:
    more = '[[ground]]\nname = "grey"\npatches = ["black bare 1"]\n'
    found = read(tmp_path, TOP + PHOTOGRAPH + more)
    assert [(g.name, g.patches) for g in found.grounds] == [
        ("black", ("black bare 2",)),
        ("white", ("white bare 1", "white bare 2")),
        ("grey", ("black bare 1",)),
    ]
    both = more.replace('1"]', '1", "black bare 2"]')
    with pytest.raises(SwatchFileError) as caught:
        read(tmp_path, TOP + PHOTOGRAPH + both)
    assert 'found no place where "black" lies bare' in str(caught.value)
    assert 'Its places went to "grey"; was "black" meant there?' in str(caught.value)
    over = '[[swatch]]\nname = "x"\nground = "grey"\ncoats = 1\npatch = "black 1"\n'
    assert [g.name for g in read(tmp_path, TOP + PHOTOGRAPH + both + over).grounds] == ["white", "grey"]


def test_a_layout_may_have_too_few_places(tmp_path: Path) -> None:
    layout = standard_card()
    for without, words in (
        ("white bare", 'no place where "white" lies bare'),
        ("", "at least one heading [[swatch]]"),
    ):
        left = tuple(p for p in layout.patches if (without not in p.name if without else p.coats == 0.0))
        write_card_file(tmp_path / "mine.toml", replace(layout, patches=left))
        with pytest.raises(SwatchFileError) as caught:
            read(tmp_path, TOP + PHOTOGRAPH + 'card = "mine.toml"\n')
        assert words in str(caught.value)


def test_thinning_that_nobody_said_is_known_as_such(tmp_path: Path) -> None:
    assert not any(s.thinning_said for s in read(tmp_path, TOP + PHOTOGRAPH).swatches)
    assert all(s.thinning_said for s in read(tmp_path, TOP + PHOTOGRAPH + "thinning = 0\n").swatches)
    swatch = '[[swatch]]\nname = "{0}"\nground = "black"\ncoats = 1\npatch = "black {0}"\n'
    more = swatch.format(1) + swatch.format(2) + "thinning = 2\n"
    assert [s.thinning_said for s in read(tmp_path, TOP + PHOTOGRAPH + more).swatches] == [False, True]


@pytest.mark.parametrize("other", ["", '[photograph.other_lamp]\nfile = "led.jpg"\n'])
def test_a_heading_that_is_missing_is_the_one_thing_said(tmp_path: Path, other: str) -> None:
    more = PHOTOGRAPH.removeprefix("[photograph]\n") + "thinning = 1\nreference = 'best'\n" + other
    with pytest.raises(SwatchFileError) as caught:
        read(tmp_path, TOP + more)
    [problem] = caught.value.problems
    assert str(problem) == (
        "line 6, file: found it above every heading; expected the heading [photograph] in the line before "
        "it. That heading seems to be missing."
    )


def test_the_heading_of_a_second_lamp_that_is_missing_is_named(tmp_path: Path) -> None:
    with pytest.raises(SwatchFileError) as caught:
        read(tmp_path, TOP + PHOTOGRAPH + 'file = "led.jpg"\n')
    assert "is the heading [photograph.other_lamp] missing above the second?" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('carrier = "watr"\n' + PHOTOGRAPH, 'Did you mean "water"?'),
        ('hazards = ["lead", "cobolt"]\n' + PHOTOGRAPH, 'Did you mean "cobalt"?'),
        (PHOTOGRAPH.replace("file", "fiel"), "file"),
        (PHOTOGRAPH.replace("card.jpg", "../card.jpg"), "in the same folder"),
        (PHOTOGRAPH + 'reference = "chrt"\n', 'Did you mean "chart"?'),
        (PHOTOGRAPH + "corners_px = [[1, 2], [3, 4]]\n", "found 2 entries; expected four corners"),
        (PHOTOGRAPH + 'chart_corners_px = "here"\n', "four corners"),
        (PHOTOGRAPH + "thinning = -1\n", "thinning"),
        (PHOTOGRAPH + '[photograph.other_lamp]\nfile = "card.jpg"\n', "under another kind of lamp"),
        (PHOTOGRAPH + "[photograph.other_lamp]\n", "file"),
        (PHOTOGRAPH + '[photograph.other_lamp]\nfile = "b.jpg"\nlamp = 1\n', "lamp"),
        (PHOTOGRAPH + 'other_light = "b.jpg"\n', "other_light"),
        (PHOTOGRAPH + "thining = 1\n", 'Did you mean "thinning"?'),
        ('[readings]\nfile = "a.txt"\n' + PHOTOGRAPH, "either measured or photographed"),
        (
            PHOTOGRAPH + '[[swatch]]\nname = "x"\nground = "black"\ncoats = 1\npatch = "black 3"\n',
            "Did you mean",
        ),
        (
            PHOTOGRAPH + '[[swatch]]\nname = "x"\nground = "blak"\ncoats = 1\npatch = "black 1"\n',
            'Did you mean "black"?',
        ),
        (
            PHOTOGRAPH + '[[swatch]]\nname = "x"\nground = "black"\npatch = "black 1"\n',
            "Without its thickness",
        ),
        (PHOTOGRAPH + '[[ground]]\nname = "blak"\n', 'Did you mean "black"?'),
        (PHOTOGRAPH + 'thinning = "1:1"\n', "drops of thinner to one drop of paint. Write the drops to one"),
        (PHOTOGRAPH + 'thinning = "1:1"\n', "without quotes: 1 for 1:1"),
        (PHOTOGRAPH + '[[ground]]\nname = "grey"\n', "places where it lies bare"),
        (PHOTOGRAPH + '[[ground]]\nname = "black"\npatches = [1]\n', "names of places"),
        (
            PHOTOGRAPH
            + '[[swatch]]\nname = "x"\nground = "black"\ncoats = 1\npatch = "black 1"\n'
            + '[[swatch]]\nname = "y"\nground = "black"\ncoats = 2\npatch = "black 1"\n',
            "each place once",
        ),
    ],
)
def test_what_is_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(SwatchFileError) as caught:
        read(tmp_path, TOP + text)
    assert words in str(caught.value)


def test_a_layout_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(CardFileError, match=r"mine\.toml"):
        read(tmp_path, TOP + PHOTOGRAPH + 'card = "mine.toml"\n')


def test_measured_swatches_are_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "swatches.toml"
    path.write_text(TOP + PHOTOGRAPH, encoding="utf-8")
    with pytest.raises(SwatchFileError, match="photographed card"):
        read_swatches(path)


def test_the_starter_reads_as_it_stands_and_with_all_its_remarks(tmp_path: Path) -> None:
    write_card_file(tmp_path / "mine.toml", standard_card())
    text = photograph_starter_text(card="mine.toml")
    found = read(tmp_path, text)
    assert (found.paint, found.swatches[0].thinning) == ("my paint", 1.0)
    assert (found.carrier, found.hazards) == ("", ())
    liquid = text.replace("# carrier", "carrier").replace("# hazards", "hazards")
    assert (read(tmp_path, liquid).carrier, read(tmp_path, liquid).hazards) == ("water", ("cobalt",))
    more = text.replace("#   corners_px = ", "corners_px = ").replace("]         a card", "]  # a card")
    more = more.replace("#   chart_corners_px = ", "chart_corners_px = ")
    more = more.replace("]       a chart", "]  # a chart")
    head, tail = more.split("# [[ground]]")
    tail = "\n".join(line.removeprefix("# ").removeprefix("#") for line in tail.splitlines())
    found = read(tmp_path, f"{head}[[ground]]{tail}")
    assert found.chart_corners_px is not None
    assert [s.coats for s in found.swatches] == [0.5]


def test_names_in_a_starter_stand_as_they_are(tmp_path: Path) -> None:
    found = read(tmp_path, photograph_starter_text(paint='the "FILE"'))
    assert (found.paint, found.photograph) == ('the "FILE"', tmp_path / "card.jpg")
