"""Writing an answer into a scheme: every remark stays, what is written reads back, or nothing is."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim.decide.match import match
from layersim.decide.recipes import Limits
from layersim.decide.writing import with_answer, write_answer
from layersim.errors import LayersimError
from layersim.scheme.reading import load_scheme
from layersim.scheme.records import Targets
from tests.examples import CHALK, MOSS, PLUM, RUST, SCHEME

SMALL = Limits(paints_at_most=2, drops=4, coats=(1, 2))
MARKED = SCHEME.replace('name = "base"', 'name = "base"   # the base').replace(
    "coats = 2", "coats = 2  # two, thin"
)
TARGETS = Targets(mid=np.array([30.0, 5.0, 5.0]))


@pytest.fixture
def marked(tmp_path, paints_folder):
    path = tmp_path / "marked.toml"
    path.write_text(MARKED.replace('lamp = "D65"', 'lamp = "D65"\n# a remark of mine'), encoding="utf-8")
    return path


def found_in(path, paints_folder, **place):
    scheme = load_scheme(path, folders=[paints_folder])
    return match(
        scheme, paints=(CHALK, MOSS, PLUM, RUST), targets=TARGETS, limits=SMALL, tones=3,
        **{"area": "cloth", **place},
    )  # fmt: skip


@pytest.mark.parametrize(
    "place",
    [
        {"coat": "base"},
        {"coat": "light"},
        {"coat": "chips"},
        {"after": "base"},
        {"after": "varnish"},
        {"after": "preshade"},
    ],
)
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_what_is_written_reads_back(marked, paints_folder, place, ending):
    marked.write_bytes(marked.read_text("utf-8").replace("\n", ending).encode())
    before = marked.read_bytes().decode()
    found = found_in(marked, paints_folder, **place)
    for answer in found.answers:
        marked.write_bytes(before.encode())
        write_answer(marked, answer, area="cloth", **place, folders=(paints_folder,))
        text = marked.read_bytes().decode()
        scheme = load_scheme(marked, folders=[paints_folder])
        coats = scheme.areas[0].coats
        there = next(
            c for c in coats if c.mix.words() == answer.coat.mix.words() and c.coats == answer.coat.coats
        )
        assert there.total_film_um == pytest.approx(answer.coat.total_film_um)
        for line in before.split(ending):
            remark = line.partition("#")[2]
            assert remark in text
        assert ("\r\n" in text) == (ending == "\r\n")
        old = load_scheme_text(before, marked.with_name("old.toml"), paints_folder).areas
        assert scheme.areas[1].coats[0].mix.words() == old[1].coats[0].mix.words()
        names = [c.name for c in old[0].coats]
        if "coat" in place:
            assert [c.name for c in coats] == names
            assert there.name == place["coat"]
            kept = old[0].coats[names.index(place["coat"])]
            assert (there.where, there.patch, there.coverage) == (kept.where, kept.patch, kept.coverage)
        else:
            at = 0 if place["after"] == "preshade" else names.index(place["after"]) + 1
            assert [c.name for c in coats] == [*names[:at], "matched coat", *names[at:]]


def load_scheme_text(text, path, folder):
    path.write_bytes(text.encode())
    return load_scheme(path, folders=[folder])


def test_a_filter_and_a_preshade_are_written_too(marked, paints_folder):
    scheme = load_scheme(marked, folders=[paints_folder])
    preshade = dataclasses.replace(scheme.areas[0].preshade, passes=9)
    found = match(
        scheme, area="cloth", coat="base", paints=(MOSS,), targets=TARGETS, limits=SMALL, tones=3,
        filters=[(PLUM, 2)], preshades=[preshade],
    )  # fmt: skip
    answer = next(iter(found.answers))
    variant = found.variants[-1]
    forced = dataclasses.replace(
        answer,
        preshade=variant.preshade,
        extra=variant.extra,
        area=dataclasses.replace(answer.area, preshade=preshade),
    )
    write_answer(marked, forced, area="cloth", coat="base", folders=(paints_folder,))
    again = load_scheme(marked, folders=[paints_folder]).areas[0]
    assert again.preshade.passes == 9
    assert [c.name for c in again.coats][:2] == ["base", "filter"]
    assert again.coats[1].is_filter
    assert again.coats[1].coats == 2
    assert "# before: passes = 4" in marked.read_text("utf-8")


def test_a_scheme_that_would_not_read_back_is_left_alone(marked, paints_folder, tmp_path):
    found = found_in(marked, paints_folder, coat="base")
    before = marked.read_bytes()
    answer = found.answers[0]
    other = dataclasses.replace(PLUM, name="a paint that is on no shelf")
    mix = dataclasses.replace(answer.coat.mix, ingredients=((other, 1.0),))
    lost = dataclasses.replace(answer, coat=dataclasses.replace(answer.coat, mix=mix))
    with pytest.raises(LayersimError, match="left as it was"):
        write_answer(marked, lost, area="cloth", coat="base", folders=(paints_folder,))
    assert marked.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["marked.toml"]


@pytest.mark.parametrize(("area", "coat"), [("gone", "base"), ("cloth", "gone")])
def test_a_place_that_has_gone_is_told(marked, paints_folder, area, coat):
    answer = found_in(marked, paints_folder, coat="base").answers[0]
    with pytest.raises(LayersimError, match=r"no longer|there is no area"):
        with_answer(marked.read_text("utf-8"), answer, area=area, coat=coat)


def test_a_mix_in_a_table_of_its_own_is_not_torn_apart(marked, paints_folder):
    text = marked.read_text("utf-8")
    text = text.replace(
        'mix = { "moss green" = 4, "plum ink" = 1 }\nthinning = 1.0\n'
        "coats = 2  # two, thin\ndry_film_um = 0.8",
        'thinning = 1.0\ncoats = 2\n[area.coat.mix]\n"moss green" = 4\n"plum ink" = 1',
    )
    marked.write_text(text, encoding="utf-8")
    answer = found_in(marked, paints_folder, coat="base").answers[0]
    with pytest.raises(LayersimError, match="by hand"):
        write_answer(marked, answer, area="cloth", coat="base", folders=(paints_folder,))
    assert marked.read_text("utf-8") == text
