"""Where keys stand in a text, and what people who never wrote TOML slip on."""

from __future__ import annotations

import time
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layersim.documents.syntax import Address, lines_of, syntax_problem, too_deep
from layersim.resources import demo_scheme
from tests.optics.ranges import LAW

NESTED = '''\
# [not.a.heading]
top = 1
"quoted top" = 2
note = """
[[area]]
coats = 9
"""
other = \'\'\'
[[area]]\'\'\'
dotted.key = 3   # """ in a remark opens nothing, nor does [ or {

[hand]
film = 0.1

[[area]]
name = "one" # first
list = [
  1, # ]
  [2],
]
[area.preshade]
passes = 3
[[area.coat]]
coats = 1
mix = { "navy blue" = 5, bone = 1 }
[[area.coat]]
coats = 2

[[area]]
  [[ area . coat ]]
  coats = 3
  [[area."coat"]]
  "coats" = 4
'''


class TestLines:
    @pytest.mark.parametrize(
        ("address", "line"),
        [
            (("top",), 2),
            (("quoted top",), 3),
            (("note",), 4),
            (("other",), 8),
            (("dotted",), 10),
            (("dotted", "key"), 10),
            (("hand",), 12),
            (("hand", "film"), 13),
            (("area", 0), 15),
            (("area", 0, "name"), 16),
            (("area", 0, "list"), 17),
            (("area", 0, "preshade"), 21),
            (("area", 0, "preshade", "passes"), 22),
            (("area", 0, "coat", 0), 23),
            (("area", 0, "coat", 0, "coats"), 24),
            (("area", 0, "coat", 0, "mix"), 25),
            (("area", 0, "coat", 1), 26),
            (("area", 0, "coat", 1, "coats"), 27),
            (("area", 1), 29),
            (("area", 1, "coat", 0), 30),
            (("area", 1, "coat", 0, "coats"), 31),
            (("area", 1, "coat", 1), 32),
            (("area", 1, "coat", 1, "coats"), 33),
        ],
    )
    def test_every_key_and_heading(self, address: Address, line: int) -> None:
        assert lines_of(NESTED)[address] == line

    def test_nothing_else_is_a_key(self) -> None:
        assert {address[0] for address in lines_of(NESTED)} == {
            "top", "quoted top", "note", "other", "dotted", "hand", "area",
        }  # fmt: skip

    def test_every_address_is_that_of_a_value(self) -> None:
        for text in (NESTED, demo_scheme().read_text(encoding="utf-8")):
            values = tomllib.loads(text)
            lines = text.split("\n")
            for address, number in lines_of(text).items():
                value: Any = values
                for part in address:
                    value = value[part]
                last = next(part for part in reversed(address) if isinstance(part, str))
                assert last in lines[number - 1]

    def test_odd_line_ends_shift_nothing(self) -> None:
        # Editors count these as one line; so does TOML.
        text = "# a\x0c \u2028 \x85 b\r\nname = 1\r\n"
        assert lines_of(text.replace("\x0c", ""))[("name",)] == 2

    def test_it_takes_time_that_grows_with_the_text(self) -> None:
        begin = time.process_time()
        lines_of('"' * 200_000 + "\n" + "[" * 200_000 + "\n" + "a." * 100_000 + "= 1\n" + " " * 200_000)
        assert time.process_time() - begin < 5.0

    @LAW
    @given(st.text(alphabet="ab[]{}=\"'#.\\\n ,", max_size=80))
    def test_any_text_has_lines(self, text: str) -> None:
        assert all(1 <= line <= text.count("\n") + 1 for line in lines_of(text).values())


def complaint(text: str) -> str:
    with pytest.raises(tomllib.TOMLDecodeError) as caught:
        tomllib.loads(text)
    return str(syntax_problem(text, caught.value))


class TestSyntax:
    @pytest.mark.parametrize(
        ("line", "words"),
        [
            ("coats 3", 'expected a line such as name = "value".'),
            (
                "name: base",
                'expected a line such as name = "value". Write an equals sign instead of the colon.',
            ),
            ("navy blue = 5", 'Names with blanks stand in quotes ("navy blue" = 5)'),
            ("mix = { navy blue = 5 }", 'Names with blanks stand in quotes ("navy blue" = 5)'),
            ("grün = 5", "Names with letters beyond a-z stand in quotes."),
            ("name = “base”", 'Use straight quotes: "like this".'),
            ("paint = navy blue", 'Put texts in quotes: name = "like this".'),
            ('name = "base', "expected a closing quote."),
            ("name = 'base", "expected a closing quote."),
            ('paints = "C:\\mine"', "expected / instead of \\. Or put the text in 'single quotes'."),
            ('file = "C:\\Users\\me"', "expected / instead of \\. Or put the text in 'single quotes'."),
            ("film = 0,5", "Write decimals with a point: 0.5, not 0,5."),
            ("film = .5", "Write a zero before the point: 0.5, not .5."),
            ("film = 5.", "Write a digit after the point: 5.0 or 5, not 5."),
            ("coats = 03", "Write no zero before a number: 3, not 03."),
            ("film = 0.8 µm", "Write the number alone, without a unit."),
            ("film = 0.8um  # thin", "Write the number alone, without a unit."),
            ("thinning = 3:1", "of thinner to one drop of paint alone: thinning = 1 for 1:1, 3 for 3:1."),
            ("coverage = 80%", "Write a share instead of per cent: 0.8, not 80 %."),
            ("filter = True", "Write true or false, in small letters."),
            ("filter = yes", "Write true or false, in small letters."),
            ("coats == 3", "One equals sign is enough."),
            ("coats =", "The value is missing after the equals sign."),
            ("coats = # three", "The value is missing after the equals sign."),
            ("coats = 3 film = 2", "every key begins a line of its own."),
            ("greys = [30, 80", "A [ is not closed, or a comma is missing between two values."),
            ("greys = [30 80]", "expected a comma or a closing ]."),
            ("greys = [30,, 80]", "There is a comma too many."),
            ('mix = { "a" = 5, }', "Leave out the comma before }."),
            (
                'mix = { "a" = 5\n"b" = 1 }',
                "{ and } stand on the same line, with a comma between two entries.",
            ),
            ("[area", "A heading closes with as many brackets as it opens with."),
            ("[[area]", "A heading closes with as many brackets as it opens with."),
            ("coats = 1\ncoats = 2", "expected each key and heading once."),
            ("[area]\n[area]", "has a heading in [[double brackets]], each time."),
            ("[area]\n[[area]]", "has a heading in [[double brackets]], each time."),
            ("name = 'a\x01'", "expected no invisible character."),
        ],
    )
    @pytest.mark.parametrize("before", ["", "# a remark\n\n"])
    @pytest.mark.parametrize("after", ["", "\n", "\n\nlast = 1\n"])
    def test_the_slips_of_people(self, line: str, words: str, before: str, after: str) -> None:
        message = complaint(before + line + after)
        assert words in message
        first = before.count("\n") + 1
        at = int(message.split(",")[0].removeprefix("line "))
        # An unclosed list is only missed where something else begins.
        late = 2 if line == "greys = [30, 80" and after else 0
        assert first <= at <= first + line.count("\n") + late
        assert "TOML (" not in message

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            (
                '[photo]\nfile = "a"\nsize = 1\nfile = "b"\n',
                'line 4, column 11: found "file = "b""; expected each key and heading once. "file" stands '
                "twice in [photo], first in line 2; is the heading [photo.other] missing above the second?",
            ),
            (
                "[[area]]\na.b = 1\n[[area]]\na.b = 1\na.b = 2\n",
                '"b" stands twice in [[area]], first in line 4; is a heading such as [[area]] missing above',
            ),
            (
                "[other]\nx = 1\nx = 2",
                '"x" stands twice in [other], first in line 2; is a heading missing above',
            ),
            (
                "x = 1\n\nx = 2",
                '"x" stands twice above the first heading, first in line 1; is a heading missing',
            ),
        ],
    )
    def test_a_key_that_stands_twice_may_lack_a_heading(self, text: str, words: str) -> None:
        with pytest.raises(tomllib.TOMLDecodeError) as caught:
            tomllib.loads(text)
        problem = syntax_problem(text, caught.value, {"file": ("[third.sub]", "[photo.other]")})
        assert words in str(problem)
        assert "[[double brackets]]" not in str(problem)

    def test_the_line_is_shown_as_it_stands(self) -> None:
        assert complaint('format = "x"\n  coats 3\n') == (
            'line 2, column 9: found "coats 3"; expected a line such as name = "value".'
        )

    def test_at_the_end_of_the_file_it_is_the_last_line_that_is_shown(self) -> None:
        assert complaint('format = "x"\nname =\n\n\n').startswith('line 2, column 7: found "name ="')
        assert complaint('format = "x"\nname = [1\n\n\n').startswith(
            'line 2, the end of the file: found "name'
        )

    def test_of_a_text_of_several_lines_it_is_the_first(self) -> None:
        message = complaint('a = 1\nnote = """and so\non and\non')
        assert message.startswith('line 2, the end of the file: found "note = """and so"; expected a closing')

    def test_of_a_line_as_long_as_a_file_it_is_the_part_around_the_fault(self) -> None:
        begin = time.process_time()
        message = complaint("a = [" + "1, " * 100_000 + "x, " + "1, " * 100_000 + "]")
        assert len(message) < 300
        assert "1, x, 1" in message
        assert time.process_time() - begin < 5.0

    def test_what_is_invisible_is_made_visible(self) -> None:
        assert r'found "a\x00b = 1"' in complaint("a\0b = 1")

    @LAW
    @given(st.text(alphabet="ab1[]{}=\"'#.\\\n ,:%“µ", min_size=1, max_size=60))
    def test_any_text_that_is_no_toml_gets_a_line_and_a_reason(self, text: str) -> None:
        try:
            tomllib.loads(text)
        except tomllib.TOMLDecodeError as fault:
            problem = syntax_problem(text, fault)
            assert problem.line is not None
            assert 1 <= problem.line <= text.count("\n") + 1
            assert problem.expected


class TestDepth:
    @pytest.mark.parametrize("part", ["a", '"b c"', "'d'"])
    def test_a_chain_of_names_is_told_before_it_is_read(self, part: str) -> None:
        assert too_deep("a" + ".a" * 40 + " = 1") or part != "a"
        assert not too_deep(f"{part}.{part}.{part} = 1")

    def test_sentences_and_numbers_are_no_chains(self) -> None:
        assert not too_deep("# " + "." * 200)
        assert not too_deep("K = [" + "0.123, " * 500 + "]")
        assert not too_deep("# One. Two. Three. " * 20)
