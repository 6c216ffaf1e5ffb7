"""Small changes of a scheme's text: what they mean, and that nothing else of the text moves."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layersim.errors import LayersimError
from layersim.page.edits import GoneError, changed_text, changed_values
from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme

DEMO = demo_scheme().read_bytes().decode()
KEYS = {
    "thinning": st.one_of(st.none(), st.floats(0, 5).map(lambda x: round(x, 2))),
    "coats": st.sampled_from([1, 2, 3.0, 1.5]),
    "dry_film_um": st.sampled_from([None, 0.5, 1.25]),
    "wet_film_um": st.sampled_from([None, 5]),
    "where": st.sampled_from([None, {"from": 60, "edge": 12.5}, {"up_to": 40.0}]),
    "off": st.sampled_from([None, True]),
    "name": st.sampled_from([None, "a new name", 'with "quotes" # and more']),
    "sheen": st.sampled_from([None, 0.25]),
    "filter": st.booleans(),
}


def an_area() -> st.SearchStrategy[int]:
    return st.integers(0, 3)


SET = st.sampled_from(sorted(KEYS)).flatmap(
    lambda key: st.builds(
        lambda a, c, v: {"do": "set", "at": ["area", a, "coat", c, key], "value": v},
        an_area(),
        st.integers(0, 6),
        KEYS[key],
    )
)
DROPS = st.builds(
    lambda a, c, p, v: {"do": "set", "at": ["area", a, "coat", c, "mix", p], "value": v},
    an_area(),
    st.integers(0, 6),
    st.sampled_from(["navy blue", "bone", "blue ink"]),
    st.sampled_from([None, 1, 3.0, 0.5]),
)
ROWS = st.one_of(
    st.builds(
        lambda do, a, c, to: {"do": do, "area": a, "coat": c, "to": to},
        st.sampled_from(["copy_coat", "remove_coat", "move_coat"]),
        an_area(),
        st.integers(0, 6),
        st.integers(0, 6),
    ),
    st.builds(
        lambda a, at: {"do": "add_coat", "area": a, "after": at, "value": {"paint": "bone", "thinning": 2.0}},
        an_area(),
        st.integers(-1, 6),
    ),
    st.builds(lambda a: {"do": "add_area", "copy_of": a}, an_area()),
    st.builds(lambda a: {"do": "remove_area", "area": a}, an_area()),
    st.builds(
        lambda a, v: {"do": "set_targets", "area": a, "value": v},
        an_area(),
        st.sampled_from([{"shadow": "#102030"}, {"mid": None}, {"light": [50, 1.5, 2], "shadow": None}]),
    ),
)
EDIT = st.one_of(SET, DROPS, ROWS)


def remarks(text: str) -> list[str]:
    return sorted(line.partition("#")[2].strip() for line in text.splitlines() if line.startswith("#"))


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(edits=st.lists(EDIT, max_size=6))
def test_the_text_says_what_was_meant_and_no_other_line_changes(ending: str, edits: list[Any]) -> None:
    text = DEMO.replace("\n", ending)
    for edit in edits:
        try:
            wanted = changed_values(tomllib.loads(text), [edit])
        except GoneError:
            continue
        new = changed_text(text, [edit])
        assert tomllib.loads(new) == wanted
        assert ("\r\n" in new) == (ending == "\r\n")
        assert new.count("\n") == new.count(ending)
        if edit["do"] == "set":
            # One line changed; or one gone and one come, where a key takes another's place.
            gone = set(text.splitlines()) - set(new.splitlines())
            assert len(gone) <= 2
        if edit["do"] in ("set", "set_targets", "move_coat", "add_coat"):
            assert remarks(new) == remarks(text)
        text = new


@pytest.mark.parametrize(
    ("at", "old"), [(["lamp"], 'light = "D65"'), (["area", 0, "primer"], 'ground = "black primer"')]
)
@pytest.mark.parametrize("value", ["A", None])
def test_what_was_once_called_otherwise_goes_too(at: list[Any], old: str, value: str | None) -> None:
    """Taken out as well as set: else the file would go on saying what the page has taken out."""
    text = TestForms.HEAD.replace("\n\n", '\nlight = "D65"\n\n')
    assert old in text
    new = changed_text(text, [{"do": "set", "at": at, "value": value}])
    assert old not in new
    assert (f'{at[-1]} = "A"' in new) == (value is not None)


class TestForms:
    HEAD = 'format = "layersim scheme 1"\nname = "x"\n\n[[area]]\nname = "a"\nground = "black primer"\n'

    def made(self, coat: str, *edits: Any) -> str:
        text = changed_text(f"{self.HEAD}\n[[area.coat]]\n{coat}", list(edits))
        return text.partition("[[area.coat]]\n")[2]

    def at(self, *keys: str) -> list[Any]:
        return ["area", 0, "coat", 0, *keys]

    def test_a_mix_written_as_a_text_stays_one(self) -> None:
        coat = 'mix = "5 navy blue : 1 blue ink, thinned 2:1"  # as on the bottle\n'
        drops = {"do": "set", "at": self.at("mix", "blue ink"), "value": 2}
        thin = {"do": "set", "at": self.at("thinning"), "value": 1.5}
        assert self.made(coat, drops, thin) == (
            'mix = "5 navy blue : 2 blue ink, thinned 1.5:1"  # as on the bottle\n'
        )

    def test_a_step_as_it_is_printed_gets_keys_of_its_own(self) -> None:
        coat = 'mix = "5 navy blue : 1 blue ink, thinned 2:1, 2 coats, 2.3 µm dry, from L* 60 up"\n'
        edits = [
            {"do": "set", "at": self.at("coats"), "value": 3},
            {"do": "set", "at": self.at("mix", "blue ink"), "value": 2},
        ]
        assert tomllib.loads(self.made(coat, *edits)) == {
            "mix": "5 navy blue : 2 blue ink, thinned 2:1", "coats": 3, "where": {"from": 60.0}
        }  # fmt: skip

    def test_half_a_coat_in_words_becomes_a_figure(self) -> None:
        edit = {"do": "set", "at": self.at("coats"), "value": 2}
        assert self.made('paint = "bone"\ncoats = "half a coat"  # thin\n', edit) == (
            'paint = "bone"\ncoats = 2  # thin\n'
        )

    def test_a_place_under_a_heading_of_its_own(self) -> None:
        coat = 'paint = "bone"\n\n# here\n[area.coat.where]\nfrom = 60 # light\n'
        edit = {"do": "set", "at": self.at("where", "from"), "value": 50}
        assert "from = 50" in self.made(coat, edit)
        gone = {"do": "set", "at": self.at("where"), "value": None}
        assert "where" not in self.made(coat, gone)

    def test_a_place_joined_by_dots(self) -> None:
        edit = {"do": "set", "at": self.at("where", "edge"), "value": 5}
        new = self.made('paint = "bone"\nwhere.from = 60\n', edit)
        assert tomllib.loads(new)["where"] == {"from": 60, "edge": 5}

    def test_a_film_takes_the_place_of_the_other(self) -> None:
        edit = {"do": "set", "at": self.at("dry_film_um"), "value": 1.25}
        assert self.made('paint = "bone"\nwet_film_um = 9\n', edit) == 'paint = "bone"\ndry_film_um = 1.25\n'

    def test_a_second_paint_makes_a_mix(self) -> None:
        edit = {"do": "set", "at": self.at("mix", "blue ink"), "value": 1}
        assert self.made('paint = "bone"\n', edit) == 'mix = { bone = 1, "blue ink" = 1 }\n'

    def test_a_coats_remarks_travel_with_it(self) -> None:
        coat = 'paint = "bone"\n\n# The second one,\n# a wash.\n[[area.coat]]\npaint = "brown wash" # mine\n'
        new = self.made(coat, {"do": "move_coat", "area": 0, "coat": 1, "to": 0})
        assert new == 'paint = "brown wash" # mine\n\n[[area.coat]]\npaint = "bone"\n'
        whole = changed_text(
            f"{self.HEAD}\n[[area.coat]]\n{coat}", [{"do": "move_coat", "area": 0, "coat": 1, "to": 0}]
        )
        assert '# The second one,\n# a wash.\n[[area.coat]]\npaint = "brown wash" # mine\n' in whole

    def test_coats_in_brackets_are_left_to_the_text(self) -> None:
        text = f'{self.HEAD}coat = [{{ paint = "bone" }}, {{ paint = "brown wash" }}]\n'
        with pytest.raises(LayersimError, match="change it in the text"):
            changed_text(text, [{"do": "move_coat", "area": 0, "coat": 0, "to": 1}])

    def test_a_file_without_a_last_line_end(self) -> None:
        edits = [{"do": "add_coat", "area": 0, "after": 0, "value": {"paint": "bone"}}]
        for coat in ('paint = "bone"', 'paint = "bone" # mine'):
            new = self.made(coat, *edits)
            assert new.startswith(coat + "\n\n[[area.coat]]")


@pytest.mark.parametrize(
    "edit",
    [
        {},
        {"do": "set"},
        {"do": "set", "at": []},
        {"do": "set", "at": ["area"], "value": 3},
        {"do": "set", "at": ["area", 0, "coat", 0], "value": 3},
        {"do": "set", "at": ["area", "0", "name"], "value": 3},
        {"do": "set", "at": ["area", 0, "coat", True, "coats"], "value": 3},
        {"do": "set", "at": ["area", 99, "name"], "value": "x"},
        {"do": "set", "at": ["light", "x", "y"], "value": 3},
        {"do": "move_coat", "area": 0, "coat": 0},
        {"do": "remove_coat", "area": 0, "coat": -1},
        {"do": "add_coat", "area": 0, "after": 0, "value": 3},
        {"do": "set_targets", "area": 0, "value": {"else": 1}},
        {"do": "else", "area": 0},
    ],
)
def test_what_is_no_change_is_told(edit: Any) -> None:
    with pytest.raises(LayersimError):
        changed_text(DEMO, [edit])


def test_a_new_area_has_none_of_the_other_areas_targets() -> None:
    text = demo_scheme().read_text(encoding="utf-8")
    new = changed_text(text, [{"do": "add_area", "copy_of": 0, "name": "boots"}])
    cloth, *_, boots = load_scheme(demo_scheme(), text=new).areas
    assert cloth.targets.shadow is not None
    assert (boots.targets.shadow, boots.targets.mid, boots.targets.light) == (None, None, None)
    assert [coat.name for coat in boots.coats] == [coat.name for coat in cloth.coats]
