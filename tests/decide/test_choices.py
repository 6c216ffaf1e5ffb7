"""Choices: what can be written, what it does to the scheme, and what is said of a slip."""

from __future__ import annotations

import pytest

import layersim
from layersim.decide.choices import (
    Choice,
    asked_in_file,
    asked_in_words,
    checked_choices,
    choices_of,
)
from layersim.errors import LayersimError
from layersim.optics.surface import SHEENS

DEMO = layersim.demo_scheme()


def changed(*changes, areas=()):
    asked = asked_in_words("choice: " + "; ".join(changes))
    return choices_of(DEMO, [asked], areas=areas)[1].scheme


def step(scheme, name, area="wax cloth"):
    found = next(a for a in scheme.areas if a.name == area)
    return next(coat for coat in found.coats if coat.name == name)


def recipe(coat):
    return {paint.name: parts for paint, parts in coat.mix.ingredients}


def test_coats_film_thinning_spread_and_sheen():
    scheme = changed(
        "wax cloth/filter.coats = 2",
        "shade.dry film = 0,5",
        "wax cloth/base.spread = 10 %",
        "pin wash.sheen = gloss",
    )
    assert step(scheme, "filter").coats == 2
    assert step(scheme, "shade").dry_film_um == 0.5
    assert step(scheme, "base").spread == 0.1
    assert step(scheme, "pin wash").sheen == SHEENS["gloss"]


@pytest.mark.parametrize(
    "text",
    [
        "glow = 3 bone : 1 sky blue",
        "Glow = 3 bone + 1 sky blue",
        "glow.mix = 3 drops of bone : 1 drop of Sky-Blue",
        'glow.mix = { bone = 3, "sky blue" = 1 }',
    ],
)
def test_a_mix_may_be_written_in_several_ways(text):
    assert recipe(step(changed(text), "glow", "lamp glass")) == {"bone": 3.0, "sky blue": 1.0}


def test_a_coat_as_it_is_printed_and_half_a_coat_in_words():
    printed = step(
        changed("glow = 3 bone : 1 sky blue, thinned 2:1, 3 coats, 2.3 µm dry"), "glow", "lamp glass"
    )
    assert (recipe(printed), printed.mix.thinning, printed.coats) == ({"bone": 3.0, "sky blue": 1.0}, 2.0, 3)
    half = step(changed("lamp glass/glow = half a coat"), "glow", "lamp glass")
    assert (half.coats, recipe(half)) == (1, {"brass yellow": 1.0, "bone": 1.0})


def test_what_keys_were_once_called_is_still_read_and_said():
    now = changed("all/primer = grey primer", "lamp = A")
    once = changed("all/ground = grey primer", "light = A")
    assert once.viewing == now.viewing
    assert {area.ground.name for area in (*once.areas, *now.areas)} == {"grey primer"}
    assert [notice.partition(": ")[2] for notice in once.notices if "now called" in notice] == [
        '"ground" is now called "primer"; it is read as before',
        '"light" is now called "lamp"; it is read as before',
    ]
    assert not any("now called" in notice for notice in now.notices)


def test_a_step_without_a_name_of_its_own_keeps_its_name_when_its_paint_changes():
    scheme = changed("gloss varnish = matt varnish")
    assert recipe(step(scheme, "gloss varnish", "lamp glass")) == {"matt varnish": 1.0}


@pytest.mark.parametrize(
    ("text", "low", "high", "edge"),
    [
        ("everywhere", None, None, 20.0),
        ("from 60 up", 60.0, None, 20.0),
        ("up to L* 40", None, 40.0, 20.0),
        ("from 30 to 60, edge 10", 30.0, 60.0, 10.0),
        ("{ from = 60, edge = 5 }", 60.0, None, 5.0),
    ],
)
def test_a_place_may_be_written_in_words(text, low, high, edge):
    where = step(changed(f"glow.where = {text}"), "glow", "lamp glass").where
    assert (where.lightest_from, where.darkest_up_to, where.edge) == (low, high, edge)


def test_steps_left_out_preshade_light_ground_and_all_areas():
    scheme = changed(
        "without shade", "all/primer = grey primer", "lamp = LED-B3", "straps/preshade.passes = 9"
    )
    assert "shade" not in [coat.name for coat in scheme.areas[0].coats]
    assert {area.ground.name for area in scheme.areas} == {"grey primer"}
    assert scheme.viewing.light == "LED-B3"
    assert scheme.areas[1].preshade.passes == 9
    assert scheme.areas[0].preshade.passes == 30
    given = changed("wax cloth/preshade.greys = 20 to 90").areas[0].preshade
    assert (given.darkest, given.lightest) == (20.0, 90.0)


def test_changes_without_an_area_are_for_the_areas_asked_for():
    scheme = changed("filter.coats = 2", areas=["straps"])
    assert step(scheme, "filter", "straps").coats == 2
    assert step(scheme, "filter", "wax cloth").coats == 1


def test_names_may_be_left_out_and_mixes_hold_colons():
    assert asked_in_words("glow = 1 bone : 2 violet").name == "glow = 1 bone : 2 violet"
    assert asked_in_words("brighter: glow = 1 bone : 2 violet").changes == ("glow = 1 bone : 2 violet",)
    assert asked_in_words("without glow").name == "without glow"


def test_thinning_that_changes_the_recipe_only_is_pointed_out():
    assert "changes the recipe only" in " ".join(changed("glow.thinning = 2").notices)
    assert not changed("pin wash.thinning = 2").notices


def test_a_file_of_choices_says_what_the_command_line_says(tmp_path):
    file = tmp_path / "choices.toml"
    file.write_text(
        'format = "layersim choices 1"\n[[choice]]\nname = "two"\n'
        'change = ["glow.coats = 3; without glass colour"]\n'
    )
    [asked] = asked_in_file(file)
    assert (asked.name, asked.changes) == ("two", ("glow.coats = 3", "without glass colour"))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            "wax cloth/filtr.coats = 2",
            'found the coat "filtr"; expected a coat of "wax cloth". Did you mean "filter"?',
        ),
        (
            "cloth/filter.coats = 2",
            'found the area "cloth"; expected an area of the scheme. Did you mean "wax cloth"?',
        ),
        ("glow.coatz = 2", 'coatz: found the key "coatz"; expected a key known here. Did you mean "coats"?'),
        ("glow.coats = 0", "coats: found 0; expected a whole number from 1 to 100, or a half such as 1.5."),
        (
            "glow.coats = many",
            'coats: found the text "many"; expected a whole number from 1 to 100, or a half such as 1.5.',
        ),
        (
            "glow = bonee",
            'paint: found "bonee"; expected the name of a paint on the shelf. Did you mean "bone"?',
        ),
        ("glow = 2 bone : 1 turqoise", 'Did you mean "turquoise"?'),
        ("glow.dry_film_um = -1", "found -1; expected a number from 0 to 1000."),
        ("glow.where = banana", 'found "banana"; expected "from 60 up", "up to 40"'),
        ("glow.where = up 40", 'found "up 40"; expected "from 60 up", "up to 40"'),
        ("lamp = LED-B9", 'lamp: found "LED-B9"'),
        ("filter.coats = 2", 'found "filter" in 2 areas ("wax cloth", "straps"); expected the area first'),
        ("lamp glass/preshade.passes = 3", 'the key "passes"'),
        ("without nothing", 'found the coat "nothing"'),
        ("hello", 'found "hello"; expected a change such as'),
        ("glow.coats =", "expected a change such as"),
        ("hand.flim = 0.1", 'Did you mean "film"?'),
    ],
)
def test_a_slip_in_a_change_gets_one_message(change, said):
    with pytest.raises(LayersimError) as fault:
        changed(change)
    text = str(fault.value)
    assert said in text
    assert text.startswith('choice "choice": ')
    assert "line " not in text
    assert "\n" not in text


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "this file is empty"),
        ('format = "layersim choices 1"\n', "at least one choice"),
        ('format = "layersim scheme 1"\n', "This is a scheme file"),
        ('format = "layersim choices 1"\n[[choice]]\nname = "a"\nchange = 3\n', "line 4"),
        ('format = "layersim choices 1"\n[[choice]]\nname = "a"\nchanges = "x"\n', 'Did you mean "change"?'),
    ],
)
def test_a_slip_in_a_file_of_choices_is_found(tmp_path, content, said):
    file = tmp_path / "choices.toml"
    file.write_text(content)
    with pytest.raises(LayersimError, match=r"choices\.toml") as fault:
        asked_in_file(file)
    assert said in str(fault.value)


def test_one_choice_and_doubled_names_cannot_be_compared():
    plain = layersim.load_scheme(DEMO)
    with pytest.raises(LayersimError, match="found one choice; expected two or more"):
        checked_choices([Choice("a", plain)])
    with pytest.raises(LayersimError, match='found two choices named "A B"; expected names that differ'):
        checked_choices([Choice("a-b", plain), Choice("A B", plain)])
    with pytest.raises(LayersimError, match="found 9 choices; expected at most 8"):
        checked_choices([Choice(str(i), plain) for i in range(9)])
    with pytest.raises(LayersimError, match="found no change"):
        asked_in_words("name only:")


def test_two_steps_of_one_name_are_told_apart_by_number(tmp_path):
    text = DEMO.read_text().replace('name = "shade"', 'name = "base"', 1)
    file = tmp_path / "two.toml"
    file.write_text(text)
    with pytest.raises(LayersimError, match="which one: base#1"):
        choices_of(file, [asked_in_words("wax cloth/base.coats = 5")])
    scheme = choices_of(file, [asked_in_words("wax cloth/base#2.coats = 5")])[1].scheme
    assert [coat.coats for coat in scheme.areas[0].coats[:2]] == [3, 5]


def test_one_paint_as_it_is_printed():
    filtered = step(changed("wax cloth/filter = blue ink, thinned 1:1, 2 coats, 0.72 µm dry"), "filter")
    assert (recipe(filtered), filtered.mix.thinning, filtered.coats) == ({"blue ink": 1.0}, 1.0, 2)


def test_part_of_a_coat_that_is_written_as_it_is_printed_may_be_changed(tmp_path):
    printed = 'mix = "3 raw umber : 1 carbon black, thinned 1.5:1, 2 coats"'
    path = tmp_path / "printed.toml"
    path.write_text(
        'format = "layersim scheme 1"\nname = "crew"\n[[area]]\nname = "boots"\nprimer = "black primer"\n'
        f'[[area.coat]]\nname = "base"\n{printed}\n',
        encoding="utf-8",
    )
    asked = [asked_in_words(one) for one in ("more: base.coats = 3", "other: base = 1 bone : 1 raw umber")]
    _, more, other = (choice.scheme.areas[0].coats[0] for choice in choices_of(path, asked))
    assert (more.coats, more.mix.thinning) == (3, 1.5)
    assert recipe(more) == {"raw umber": 3.0, "carbon black": 1.0}
    assert (other.coats, other.mix.thinning) == (2, 1.5)
    assert recipe(other) == {"bone": 1.0, "raw umber": 1.0}
