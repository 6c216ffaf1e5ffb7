"""The tree of what users can put right, and how its messages read."""

from __future__ import annotations

import inspect

import pytest

from layersim import errors
from layersim.errors import (
    MOST_SHOWN,
    Fault,
    InputFileError,
    LayersimError,
    Problem,
    SchemeError,
    nearest_hint,
    quoted,
)


class TestTree:
    def test_everything_stands_below_one_base(self) -> None:
        kinds = [
            kind for _, kind in inspect.getmembers(errors, inspect.isclass) if issubclass(kind, Exception)
        ]
        assert len(kinds) > 5
        assert all(issubclass(kind, LayersimError) for kind in kinds if kind is not Fault)

    def test_the_drawing_names_every_one(self) -> None:
        for name, kind in inspect.getmembers(errors, inspect.isclass):
            if issubclass(kind, Exception):
                assert name in (errors.__doc__ or ""), name

    def test_the_base_is_no_fault_of_the_program(self) -> None:
        assert not issubclass(LayersimError, (OSError, ValueError))


class TestInputFileError:
    def test_one_problem_reads_as_one_sentence(self) -> None:
        problem = Problem("coats", "0", "a whole number from 1 to 100", line=7, hint="This key is missing.")
        error = SchemeError("rig.toml", [problem])
        assert str(error) == (
            "rig.toml: line 7, coats: found 0; expected a whole number from 1 to 100. This key is missing."
        )
        assert error.problems == (problem,)
        assert str(error.path) == "rig.toml"

    def test_without_a_line_or_hint_neither_is_said(self) -> None:
        assert str(Problem("name", "nothing", "a text")) == "name: found nothing; expected a text."

    def test_several_problems_are_counted_and_listed(self) -> None:
        error = SchemeError("rig.toml", [Problem("a", "1", "2"), Problem("b", "3", "4")])
        assert str(error).splitlines() == [
            "rig.toml: 2 things to put right:",
            "  - a: found 1; expected 2.",
            "  - b: found 3; expected 4.",
        ]

    def test_more_than_anybody_reads_are_cut(self) -> None:
        error = SchemeError("rig.toml", [Problem(f"k{i}", "1", "2") for i in range(MOST_SHOWN + 5)])
        rows = str(error).splitlines()
        assert len(rows) == MOST_SHOWN + 2
        assert rows[-1] == "  ... and 5 more"
        assert len(error.problems) == MOST_SHOWN + 5

    def test_a_text_alone_will_do(self) -> None:
        error = InputFileError("x", "this is a folder")
        assert str(error) == "x: this is a folder"
        assert error.problems == ()


class TestNearestHint:
    @pytest.mark.parametrize(
        ("written", "meant"),
        [("navy bleu", "navy blue"), ("NAVY BLUE", "navy blue"), ("d65", "D65"), ("navyblue", "navy blue")],
    )
    def test_the_nearest_name_is_offered(self, written: str, meant: str) -> None:
        assert nearest_hint(written, ["navy blue", "D65", "bone"]) == f'Did you mean "{meant}"?'

    def test_far_names_are_listed_sorted_and_cut(self) -> None:
        names = [f"paint {i:02}" for i in range(30)]
        hint = nearest_hint("zzz", reversed(names), kind="paints", most=3)
        assert hint == "The paints here are: paint 00, paint 01, paint 02 and 27 more."

    @pytest.mark.parametrize("name", ["white", "whit", "WHITE"])
    def test_names_that_have_a_word_in_common_are_offered(self, name: str) -> None:
        known = ["airbrush white", "carbon black", "titanium white", "white primer", "whitest white"]
        hint = nearest_hint(name, known, listed=False)
        assert hint == 'Did you mean "airbrush white", "titanium white" or "white primer"?'

    def test_the_ending_of_a_file_is_no_word(self) -> None:
        assert nearest_hint("zzz.toml", ["my-scheme.toml", "other.toml"], listed=False) == ""

    def test_or_not_listed(self) -> None:
        assert nearest_hint("zzz", ["navy blue"], listed=False) == ""

    def test_nothing_known_is_nothing_said(self) -> None:
        assert nearest_hint("navy", []) == ""

    def test_a_name_as_long_as_a_file_takes_no_time(self) -> None:
        assert "navy blue" in nearest_hint("x" * 4_000_000, ["navy blue"])


class TestQuoted:
    @pytest.mark.parametrize(
        ("text", "shown"),
        [
            ("navy blue", '"navy blue"'),
            ("bleu d’été µ", '"bleu d’été µ"'),
            ("a\nb", '"a\\nb"'),
            ("\x1b[2J", '"\\x1b[2J"'),
            ("\u202eeno", '"\\u202eeno"'),  # turns the writing round
            ("x" * 61, '"' + "x" * 57 + '..."'),
        ],
    )
    def test_it_is_short_and_harmless(self, text: str, shown: str) -> None:
        assert quoted(text) == shown
