"""Where a coat lands: names that give a place and are found again, and words for all else."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim.scheme.records import Where
from layersim.views.place import PLACES, place_of, place_words

shades = st.tuples(st.floats(5, 40), st.floats(70, 95))
ends = st.one_of(st.none(), st.integers(0, 100).map(float))


@given(shade=shades)
@pytest.mark.parametrize("name", PLACES)
def test_a_name_gives_a_place_that_has_this_name(name: str, shade: tuple[float, float]) -> None:
    where = PLACES[name].on(shade)
    assert place_of(where, shade) == name
    assert place_words(where, shade) == PLACES[name].words


@given(shade=shades, first=ends, last=ends)
def test_any_place_has_words_without_a_figure(
    shade: tuple[float, float], first: float | None, last: float | None
) -> None:
    words = place_words(Where(first, last), shade)
    assert words
    assert not any(letter.isdigit() for letter in words)


def test_what_reaches_further_is_said_to_be_more() -> None:
    said = [place_words(Where(None, float(L)), [20.0, 90.0]) for L in (24, 50, 60, 75, 83, 89)]
    assert said == [
        "the darkest sliver",
        "the darkest two fifths",
        "the darkest half",
        "the darkest three quarters",
        "the darkest nine tenths",
        "nearly everywhere",
    ]
