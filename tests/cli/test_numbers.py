"""Numbers as people type them."""

from __future__ import annotations

import argparse

import pytest

from layersim.cli.arguments import whole_number
from layersim.cli.numbers import number
from layersim.documents.typed import comma_hint, plain_number, three_numbers


@pytest.mark.parametrize(
    ("text", "value"),
    [("1.5", 1.5), (" -2 ", -2.0), ("−2", -2.0), ("–0.5", -0.5), ("1e3", 1000.0)],
)
def test_a_minus_may_be_a_dash(text: str, value: float) -> None:
    assert number(text) == plain_number(text) == value


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1,5", "Write decimals with a point. Did you mean 1.5?"),
        ("1,5 ml", "expected a number, without its unit. Write decimals with a point."),
        ("nan", "expected a number"),
        ("inf", "expected a number"),
        ("1-2", "expected a number"),
        ("", "expected a number"),
    ],
)
def test_what_is_no_number_is_told(text: str, says: str) -> None:
    assert plain_number(text) is None
    with pytest.raises(argparse.ArgumentTypeError) as told:
        number(text)
    assert says in str(told.value)
    assert ("point" in str(told.value)) == ("," in text)
    assert bool(comma_hint(text)) == ("," in text)


@pytest.mark.parametrize("text", ["40,-5,10", "40 -5 10", "40, -5, 10", " 40;−5;10 ", "[40, -5, 10]"])
def test_three_numbers(text: str) -> None:
    assert three_numbers(text) == (40.0, -5.0, 10.0)


@pytest.mark.parametrize("text", ["40,-5", "40,-5,10,2", "40,,10", "40,5,-5,10", "a b c", "", "1,2,nan"])
def test_what_is_not_three_numbers(text: str) -> None:
    assert three_numbers(text) is None


@pytest.mark.parametrize("text", ["9" * 400, "-" + "9" * 5000, "1.5", "two"])
def test_no_whole_number(text: str) -> None:
    """Four hundred digits were a fault of the program where a float was made of them."""
    with pytest.raises(argparse.ArgumentTypeError, match="expected a whole number"):
        whole_number(text)
