"""What once led people astray: each slip, and the words that put it right."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest

from layersim.documents.recipes import place_of
from layersim.documents.syntax import syntax_problem
from layersim.errors import LONGEST_MESSAGE, LayersimError, SchemeError, SwatchFileError
from layersim.files import read_bytes, read_text
from layersim.measure.swatchfile import read_any_swatches
from layersim.scheme.reading import MOST_STEPS_IN_ALL, load_scheme
from layersim.scheme.records import Scheme, Where
from layersim.shelf import Shelf

HEAD = 'format = "layersim scheme 1"\nname = "x"\n'
AREA = '[[area]]\nname = "a"\nground = "black primer"\n'
COAT = '[[area.coat]]\npaint = "bone"\n'
MIX = COAT.replace('paint = "bone"', 'mix = { "navy blue" = 5, "blue ink" = 1 }')


def scheme(folder: Path, text: str) -> Scheme:
    path = folder / "x.toml"
    path.write_text(text, encoding="utf-8")
    return load_scheme(path, Shelf.usual())


def refused(folder: Path, text: str) -> str:
    with pytest.raises(SchemeError) as caught:
        scheme(folder, text)
    return str(caught.value)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("coats = two", "Write numbers in figures: 2, not two."),
        ("\u00a0coats = 2", "expected an ordinary space, or nothing. That is no-break space (U+00A0)"),
        ("coats =\u00a02", "no-break space (U+00A0)"),
        ("coats\u202e = 2", "right-to-left override (U+202E)"),
        ('mix = { "navy blue": 5 }', "Write an equals sign instead of the colon."),
        ("where = { from 76 }", "Write an equals sign after the name: { from = 60 }."),
        ("mid = #2c4470", 'Put colours in quotes: "#3d4c74".'),
        ("the second coat is thin", "Is this a remark? Then begin the line with #."),
    ],
)
def test_slips_that_are_no_toml(tmp_path: Path, line: str, words: str) -> None:
    assert words in refused(tmp_path, HEAD + AREA + COAT + line + "\n")


def test_only_the_place_of_a_fault_counts_not_the_librarys_sentences() -> None:
    for text in ("coats = two", "name: base", "film = 0,5", "a = [1 2]", "a = 1\na = 2", "[area", 'b = "x'):
        with pytest.raises(tomllib.TOMLDecodeError) as caught:
            tomllib.loads(text)
        place = str(caught.value).rpartition("(")[2]
        other = tomllib.TOMLDecodeError(f"Quite other words ({place}")
        assert syntax_problem(text, other) == syntax_problem(text, caught.value)


def test_lights_by_their_everyday_names(tmp_path: Path) -> None:
    assert 'Did you mean "D65"?' in refused(tmp_path, HEAD + 'light = "daylight"\n' + AREA)


def test_a_number_in_words(tmp_path: Path) -> None:
    said = refused(tmp_path, HEAD + AREA + COAT + 'thinning = "two"\n')
    assert "Write numbers in figures, without quotes: 2, not two." in said


def test_a_heading_that_is_missing_is_named_and_keys_are_listed_once(tmp_path: Path) -> None:
    said = refused(tmp_path, HEAD + "film = 0.1\nzzz = 1\nqqq = 2\n" + AREA)
    assert 'film: found the key "film"; expected a key known here. It belongs under [hand]' in said
    assert said.count("The keys here are") == 1


def test_keys_under_the_wrong_heading_are_sent_to_their_own(tmp_path: Path) -> None:
    """Where [area.targets] was forgotten, "mid" was taken for "mix" and "light" listed fifteen keys."""
    said = refused(tmp_path, HEAD + AREA + COAT + 'shadow = "#20253a"\nmid = "#2c4470"\nlight = "#7080b0"\n')
    assert said.count("It belongs under [area.targets]: is that heading missing above it?") == 3
    said = refused(tmp_path, HEAD + '[batch]\nmodels = 5\nname = "a"\nground = "black primer"\n')
    assert (
        'found the key "name"; expected a key known here. It belongs under [[area]] or [[area.coat]]' in said
    )
    assert "The keys here are" not in said


def test_a_colour_without_its_mark(tmp_path: Path) -> None:
    said = refused(tmp_path, HEAD + AREA + '[area.targets]\nmid = "2c4470"\n')
    assert 'Did you mean "#2c4470"?' in said


def test_a_coat_may_be_written_as_it_is_printed(tmp_path: Path) -> None:
    printed = "5 navy blue : 1 blue ink, thinned 1.5:1, 2 coats, 2.3 µm dry, from L* 60 up"
    as_printed = scheme(tmp_path, HEAD + AREA + f'[[area.coat]]\nmix = "{printed}"\n').areas[0].coats[0]
    keys = "thinning = 1.5\ncoats = 2\nwhere = { from = 60 }\n"
    by_keys = scheme(tmp_path, HEAD + AREA + MIX + keys).areas[0].coats[0]
    assert as_printed.words() == by_keys.words() == printed
    said = refused(tmp_path, HEAD + AREA + f'[[area.coat]]\nmix = "{printed}"\ncoats = 3\n')
    assert "coats in it, and another beside it; expected one of them" in said
    assert "expected a mix such as" in refused(
        tmp_path, HEAD + AREA + '[[area.coat]]\nmix = "5 navy blue, 1 blue ink"\n'
    )


def test_three_numbers_that_are_red_green_and_blue_get_a_question(tmp_path: Path) -> None:
    said = refused(tmp_path, HEAD + AREA + "[area.targets]\nmid = [44, 68, 112]\n")
    assert 'Is this red, green, blue? Then write "#2c4470".' in said
    said = refused(tmp_path, HEAD + AREA + "[area.targets]\nmid = [200, 68, 112]\n")
    assert "found a lightness L of 200; expected one from 0 to 100. Is this red, green, blue? Then" in said
    assert (
        scheme(tmp_path, HEAD + AREA + "[area.targets]\nmid = [44, 30, 12]\n").areas[0].targets.mid
        is not None
    )


@pytest.mark.parametrize(
    "mix", ['"5 navy blue : 1 blue ink"', '"5 drops of navy blue + 1 blue ink"', '"5 Navy-Blue:1 blue ink"']
)
def test_a_recipe_that_is_printed_can_be_read(tmp_path: Path, mix: str) -> None:
    wanted = scheme(tmp_path, HEAD + AREA + MIX).areas[0].coats[0].mix
    found = scheme(tmp_path, HEAD + AREA + f"[[area.coat]]\nmix = {mix}\n").areas[0].coats[0].mix
    assert found.words() == wanted.words()
    thin = scheme(tmp_path, HEAD + AREA + MIX + "thinning = 2\n").areas[0].coats[0].mix
    again = f'[[area.coat]]\nmix = "{thin.words()}"\n'
    assert scheme(tmp_path, HEAD + AREA + again).areas[0].coats[0].mix.words() == thin.words()


def test_places_that_are_printed_can_be_read() -> None:
    for where in (Where(60.0), Where(None, 40.0), Where(30.0, 60.0)):
        found = place_of(where.words())
        assert found is not None
        assert Where(found.get("from"), found.get("up_to")) == where


def test_shares_may_be_per_cent(tmp_path: Path) -> None:
    text = HEAD + AREA + COAT + 'patch = "chips"\ncoverage = "20 %"\nspread = "12,5 %"\n'
    [coat] = scheme(tmp_path, text).areas[0].coats
    assert (coat.coverage, coat.spread) == (0.2, 0.125)
    assert 'found the text "20 %"' in refused(tmp_path, HEAD + AREA + COAT + 'thinning = "20 %"\n')
    assert "found the text" in refused(tmp_path, HEAD + AREA + COAT + 'coverage = "20 or 30 %"\n')


@pytest.mark.parametrize(
    ("said", "coats", "film"), [("1.5", 2, 1.5), ("0.5", 1, 0.5), ('"half a coat"', 1, 0.5)]
)
def test_half_a_coat_is_half_the_film(tmp_path: Path, said: str, coats: int, film: float) -> None:
    [full] = scheme(tmp_path, HEAD + AREA + COAT).areas[0].coats
    found = scheme(tmp_path, HEAD + AREA + COAT + f"coats = {said}\n")
    [half] = found.areas[0].coats
    assert half.coats == coats
    assert half.total_film_um == pytest.approx(film * full.total_film_um)
    assert any(f"{film:g} coats are taken as {coats} thin" in notice for notice in found.notices)


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (b"{\\rtf1\\ansi x = 1}", "rich text"),
        (b"PK\x03\x04\x00", "a word processor's document or another zip archive"),
        (b"\n<!DOCTYPE html><p>", "a web page"),
    ],
)
def test_what_a_word_processor_saves_is_told_by_name(tmp_path: Path, content: bytes, kind: str) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    with pytest.raises(SchemeError, match=f"this is {kind}.*Save it as plain text"):
        read_text(path, what="scheme", error=SchemeError)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_or_an_endless_device_does_not_block(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero")):
        with pytest.raises(LayersimError, match="this is not an ordinary file"):
            read_bytes(path, what="log")


@pytest.mark.parametrize("key", ["\x1b[2J", "\u202eabc", "k" * 100_000])
def test_keys_steer_no_terminal_and_fill_no_screen(tmp_path: Path, key: str) -> None:
    escaped = "".join(f"\\u{ord(c):04x}" if not c.isprintable() else c for c in key)
    for text in (f'"{escaped}" = 1\n{AREA}', f'{AREA}{COAT}[area.targets]\n"{escaped}" = 1\n'):
        said = refused(tmp_path, HEAD + text)
        assert said.replace("\n", "").isprintable()
        assert len(said) < LONGEST_MESSAGE / 4


def test_everything_that_can_be_counted_has_an_end(tmp_path: Path) -> None:
    for text, words in (
        (AREA * 51, "found 51 areas; expected at most 50"),
        (AREA + COAT * 101, "found 101 coats; expected at most 100"),
        (
            "".join(AREA.replace('"a"', f'"a{i}"') + COAT * 60 for i in range(10)),
            f"at most {MOST_STEPS_IN_ALL}",
        ),
    ):
        assert words in refused(tmp_path, HEAD + text)


SWATCHES = (
    'format = "layersim swatches 1"\nname = "{name}"\nvolume_solids = 0.3\nwet_film_um = 15\nsheen = "matt"\n'
)
SWATCH = '[[swatch]]\nname = "{0}"\nground = "black"\nreflectance = 0.3\ncoats = 1\n'
GROUND = '[[ground]]\nname = "{0}"\nreflectance = {1}\n'


def swatches(folder: Path, *parts: str, name: str = "x", note: str = "") -> Path:
    path = folder / "swatches.toml"
    head = SWATCHES.format(name=name) + f'specular = "excluded"\nnote = "{note}"\n'
    path.write_text(head + "".join(parts), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("name", "note", "words"),
    [
        ("y" * 150, "", "a text of 150 letters; expected at most 100"),
        ("!!!", "", 'found "!!!"; expected a name with letters or digits'),
        ("x", "n" * 4990, "a text of 4990 letters; expected at most 3500"),
    ],
)
def test_a_fit_is_refused_before_it_writes_what_cannot_be_read(
    tmp_path: Path, name: str, note: str, words: str
) -> None:
    path = swatches(tmp_path, GROUND.format("black", 0.04), SWATCH.format(1), name=name, note=note)
    with pytest.raises(SwatchFileError) as caught:
        read_any_swatches(path)
    assert words in str(caught.value)


def test_grounds_that_nothing_lies_on_cost_a_fit_nothing(tmp_path: Path) -> None:
    others = [GROUND.format(f"g{i}", 0.02 + i / 100) for i in range(12)]
    found = read_any_swatches(swatches(tmp_path, GROUND.format("black", 0.04), *others, SWATCH.format(1)))
    assert [ground.name for ground in found.grounds] == ["black", "g0"]  # the darkest tells of the surface
    for rows, words in (
        ([GROUND.format(i, 0.04) for i in range(100)], "100 grounds; expected at most 20"),
        (
            [GROUND.format("black", 0.04), *(SWATCH.format(i) for i in range(300))],
            "300 swatches; expected at most",
        ),
    ):
        with pytest.raises(SwatchFileError, match=words):
            read_any_swatches(swatches(tmp_path, *rows))
