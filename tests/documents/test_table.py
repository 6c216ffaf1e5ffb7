"""Values out of TOML: what is not as it should be is told with its line, key, and what was expected."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from layersim.documents.document import Document
from layersim.documents.table import LONGEST_TEXT, Table, shown
from layersim.errors import SchemeError
from layersim.names import LONGEST_NAME

Open = Callable[[str], Document]


@pytest.fixture
def opened(tmp_path: Path) -> Open:
    def from_text(text: str) -> Document:
        path = tmp_path / "x.toml"
        path.write_text(text, encoding="utf-8")
        return Document(path, what="scheme", error=SchemeError)

    return from_text


def complaint(document: Document, read: Callable[[Table], object]) -> str:
    """What is said when one value is asked for, without the file's name."""
    with document.gather():
        read(document.top)
    with pytest.raises(SchemeError) as caught:
        document.finish()
    return str(caught.value).removeprefix(f"{document.path}: ")


class TestText:
    def test_blanks_and_line_breaks_are_one_blank(self, opened: Open) -> None:
        top = opened('a = " navy \\t\\n  blue "\nb = """\none\ntwo\n"""').top
        assert (top.text("a"), top.text("b"), top.name("a")) == ("navy blue", "one two", "navy blue")

    def test_a_default_is_for_what_is_missing(self, opened: Open) -> None:
        top = opened('a = "x"').top
        assert (top.text("a", "d"), top.text("b", "d"), top.text("b", "")) == ("x", "d", "")

    def test_a_text_may_be_blank_only_where_the_default_is(self, opened: Open) -> None:
        document = opened('a = " "')
        assert document.top.text("a", "") == ""
        assert complaint(document, lambda top: top.text("a", "d")) == (
            "line 1, a: found an empty text; expected a text in quotes."
        )

    def test_missing(self, opened: Open) -> None:
        assert complaint(opened("b = 1"), lambda top: top.text("a")) == (
            "a: found nothing; expected a text in quotes. This key is missing."
        )

    @pytest.mark.parametrize(
        ("value", "found"),
        [
            ("5", "5; expected a text in quotes. Put it in quotes."),
            ("true", "true; expected a text in quotes. Put it in quotes."),
            ("[1, 2]", "a list of 2; expected a text in quotes."),
            ("{ x = 1 }", "a table; expected a text in quotes."),
            ("2024-01-31", "2024-01-31; expected a text in quotes."),
        ],
    )
    def test_another_kind_of_value(self, opened: Open, value: str, found: str) -> None:
        assert complaint(opened(f"a = {value}"), lambda top: top.text("a")) == f"line 1, a: found {found}"

    def test_control_characters_do_not_reach_the_terminal(self, opened: Open) -> None:
        assert complaint(opened('a = "\\u001b[2J"'), lambda top: top.text("a")) == (
            'line 1, a: found "\\x1b[2J"; expected a text without control characters.'
        )
        assert "without control" in complaint(opened('a = "x\\u009bx"'), lambda top: top.text("a"))

    def test_a_name_fits_on_a_strip_and_a_note_on_a_page(self, opened: Open) -> None:
        document = opened(f'a = "{"x" * (LONGEST_NAME + 1)}"\nb = "{"x" * (LONGEST_TEXT + 1)}"')
        assert len(document.top.text("a")) == LONGEST_NAME + 1
        assert complaint(document, lambda top: top.name("a")) == (
            "line 1, a: found a text of 101 letters; expected at most 100."
        )
        assert "found a text of 5001 letters" in complaint(document, lambda top: top.text("b"))


class TestChoice:
    def test_one_of_some(self, opened: Open) -> None:
        top = opened('a = "matt"').top
        assert (top.choice("a", ["gloss", "matt"]), top.choice("b", ["gloss", "matt"], "gloss")) == (
            "matt",
            "gloss",
        )

    def test_the_nearest_is_offered(self, opened: Open) -> None:
        assert complaint(opened('a = "mat"'), lambda top: top.choice("a", ["gloss", "matt"])) == (
            'line 1, a: found "mat"; expected one of "gloss", "matt". Did you mean "matt"?'
        )

    def test_or_all_are_named(self, opened: Open) -> None:
        wanted = 'expected one of "2", "10"'
        assert complaint(opened('a = "x"'), lambda top: top.choice("a", ["2", "10"])).endswith(f"{wanted}.")
        assert complaint(opened("a = 2"), lambda top: top.choice("a", ["2", "10"])) == (
            f"line 1, a: found 2; {wanted}. Put it in quotes."
        )
        assert wanted in complaint(opened("b = 2"), lambda top: top.choice("a", ["2", "10"]))


class TestFlag:
    def test_true_and_false(self, opened: Open) -> None:
        top = opened("a = true\nb = false").top
        assert (top.flag("a", False), top.flag("b", True), top.flag("c", True)) == (True, False, True)

    @pytest.mark.parametrize(("value", "found"), [('"yes"', 'the text "yes"'), ("1", "1")])
    def test_nothing_else(self, opened: Open, value: str, found: str) -> None:
        assert complaint(opened(f"a = {value}"), lambda top: top.flag("a", False)) == (
            f"line 1, a: found {found}; expected true or false, without quotes."
        )


class TestNumber:
    def test_numbers(self, opened: Open) -> None:
        top = opened("a = 3\nb = 0.5\nc = -1e3").top
        assert [top.number(key) for key in "abc"] == [3.0, 0.5, -1000.0]
        assert top.number("d", 7.0) == 7.0
        assert top.number("a", low=3.0, high=3.0) == 3.0

    @pytest.mark.parametrize(
        ("value", "range_", "words"),
        [
            ("-1", {"low": 0.0}, "found -1; expected a number of 0 or more."),
            ("101", {"low": 0.0, "high": 100.0}, "found 101; expected a number from 0 to 100."),
            ("0", {"above": 0.0, "high": 1.0}, "found 0; expected a number above 0, at most 1."),
            ("0", {"above": 0.0}, "found 0; expected a number above 0."),
            ("nan", {}, "found nan; expected a number (a finite one)."),
            ("inf", {"low": 0.0}, "found inf; expected a number of 0 or more (a finite one)."),
            ("1e999", {}, "found inf; expected a number (a finite one)."),
            ("true", {}, "found true; expected a number."),
            ('"three"', {}, 'found the text "three"; expected a number.'),
            (
                '"0,5"',
                {},
                'found the text "0,5"; expected a number. '
                "Write numbers without quotes, and decimals with a point.",
            ),
            ("[1]", {}, "found a list of 1; expected a number."),
            ("1979-05-27", {}, "found 1979-05-27; expected a number."),
            ("26", {"low": 0.0, "high": 1.0}, "found 26; expected a number from 0 to 1. 26 % is 0.26 here."),
            ("2.5", {"above": 0.0, "high": 1.0}, "found 2.5; expected a number above 0, at most 1. 2.5 % is"),
            (
                "0x" + "f" * 300,
                {},
                "found a number of more than 20 digits; expected a number (a finite one).",
            ),
            ("9" * 400, {}, "found a number of more than 20 digits; expected a number (a finite one)."),
        ],
    )
    def test_what_is_no_such_number(
        self, opened: Open, value: str, range_: dict[str, float], words: str
    ) -> None:
        message = complaint(opened(f"a = {value}"), lambda top: top.number("a", **range_))
        assert message.startswith(f"line 1, a: {words}")

    def test_whole_numbers(self, opened: Open) -> None:
        top = opened("a = 3\nb = 4.0").top
        assert (top.whole("a", low=1, high=5), top.whole("b", low=1, high=5)) == (3, 4)
        assert top.whole("c", 2, low=1, high=5) == 2
        for value in ("2.5", "0", "6", "true", "nan"):
            message = complaint(opened(f"a = {value}"), lambda top: top.whole("a", low=1, high=5))
            assert message.startswith(f"line 1, a: found {value}; expected a whole number from 1 to 5")

    def test_a_number_of_thousands_of_digits(self, opened: Open) -> None:
        with pytest.raises(SchemeError, match="there is a number of thousands of digits in this file"):
            opened("a = " + "9" * 5000)


class TestNumbers:
    def test_lists_and_single_numbers(self, opened: Open) -> None:
        top = opened("a = [1, 2.5]\nb = 3").top
        assert (top.numbers("a"), top.numbers("b")) == ([1.0, 2.5], [3.0])

    @pytest.mark.parametrize(
        ("value", "words"),
        [
            ("[]", "found an empty list; expected a list of numbers in square brackets."),
            ('"1, 2"', 'found the text "1, 2"; expected a list of numbers in square brackets.'),
            ("true", "found true; expected a list of numbers in square brackets."),
            ("[1, -2]", "found -2; expected a number of 0 or more at place 2 of the list."),
            ("[1, nan]", "found nan; expected a number of 0 or more at place 2 of the list (a finite one)."),
            ("[1, [2]]", "found a list of 1; expected a number of 0 or more at place 2 of the list."),
            ('["1"]', 'found the text "1"; expected a number of 0 or more at place 1 of the list.'),
        ],
    )
    def test_what_is_no_such_list(self, opened: Open, value: str, words: str) -> None:
        message = complaint(opened(f"\na = {value}"), lambda top: top.numbers("a", low=0.0))
        assert message.startswith(f"line 2, a: {words}")


class TestTables:
    def test_one(self, opened: Open) -> None:
        document = opened("[a]\nb = 1\n[c]\nd = {}")
        table = document.top.table("a")
        assert table is not None
        assert table.number("b") == 1.0
        assert document.top.table("x") is None
        assert "in [square brackets]" in complaint(opened("a = 1"), lambda top: top.table("a"))

    def test_many_are_told_apart_by_number_and_name(self, opened: Open) -> None:
        document = opened('[[a]]\nname = "one"\n[[a]]\n[[a.b]]\nn = 1\n[[a.b]]\nn = 2\n')
        one, two = document.top.tables("a")
        assert (one.where, two.where) == ('a 1 "one"', "a 2")
        last = two.tables("b")[1]
        assert last.where == "a 2, b 2"
        with document.gather():
            last.number("n", low=5.0)
        with document.gather():
            last.text("missing")
        with pytest.raises(SchemeError) as caught:
            document.finish()
        assert "line 7, a 2, b 2, n: found 2" in str(caught.value)
        assert "line 6, a 2, b 2, missing: found nothing" in str(caught.value)  # the line of its heading

    @pytest.mark.parametrize(("text", "found"), [("[a]\nb = 1", "a table"), ("a = [1]", "a list of 1")])
    def test_one_heading_where_many_are_wanted(self, opened: Open, text: str, found: str) -> None:
        assert complaint(opened(text), lambda top: top.tables("a")) == (
            f"line 1, a: found {found}; expected headings in double brackets, [[a]]."
        )

    def test_inside_another_the_whole_heading_is_named(self, opened: Open) -> None:
        document = opened("[[a]]\n[a.b]\n")
        with document.gather():
            document.top.tables("a")[0].tables("b")
        with pytest.raises(SchemeError, match=r"line 2, a 1, b: .* \[\[a\.b\]\]"):
            document.finish()

    def test_names_in_messages_are_harmless(self, opened: Open) -> None:
        [row] = opened('[[a]]\nname = "\\u001b[2J"').top.tables("a")
        assert row.where == 'a 1 "\\x1b[2J"'


class TestOtherKeys:
    def test_every_one_is_told_with_the_nearest_known(self, opened: Open) -> None:
        document = opened("coats = 1\nthining = 2\nzzz = 3\n")
        document.top.whole("coats", low=1, high=9)
        document.top.number("thinning", 0.0)
        document.top.no_other_keys()
        with pytest.raises(SchemeError) as caught:
            document.finish()
        assert str(caught.value).splitlines()[1:] == [
            '  - line 2, thining: found the key "thining"; expected a key known here. '
            'Did you mean "thinning"?',
            '  - line 3, zzz: found the key "zzz"; expected a key known here. '
            "The keys here are: coats, thinning.",
        ]

    def test_asking_whether_is_asking(self, opened: Open) -> None:
        document = opened("a = 1")
        assert "a" in document.top
        assert "b" not in document.top
        document.top.no_other_keys()
        document.finish()

    def test_a_file_full_of_them_takes_no_time(self, opened: Open) -> None:
        document = opened("".join(f"key{i} = 1\n" for i in range(20_000)))
        begin = time.process_time()
        document.top.no_other_keys()
        with pytest.raises(SchemeError, match=r"21 things to put right(.|\n)*\.\.\. and 1 more"):
            document.finish()
        assert time.process_time() - begin < 2.0


class TestDocument:
    def test_problems_come_in_the_order_of_the_file(self, opened: Open) -> None:
        document = opened("a = 1\nb = 2\nc = 3")
        for key in "cab":
            assert document.attempt(lambda key=key: document.top.text(key), "instead") == "instead"  # type: ignore[misc]
        with pytest.raises(SchemeError) as caught:
            document.finish()
        assert [problem.line for problem in caught.value.problems] == [1, 2, 3]

    def test_nothing_wrong_is_nothing_raised(self, opened: Open) -> None:
        opened("a = 1").finish()

    def test_brackets_too_deep(self, opened: Open) -> None:
        for opening, closing in (("[", "]"), ("{a=", "}")):
            with pytest.raises(SchemeError, match="brackets are nested too deeply to be a scheme"):
                opened("a = " + opening * 5000 + "1" + closing * 5000)

    def test_names_chained_too_deep(self, opened: Open) -> None:
        begin = time.process_time()
        with pytest.raises(SchemeError, match="names are joined by dots too deeply to be a scheme"):
            opened("a" + ".a" * 50_000 + " = 1")
        assert time.process_time() - begin < 1.0


class TestFormat:
    def test_the_right_one(self, opened: Open) -> None:
        opened('format = "layersim scheme 1"').check_format(1)

    def test_missing(self, opened: Open) -> None:
        message = complaint(opened("a = 1"), lambda top: top.document.check_format(1))
        assert message == (
            'format: found nothing; expected "layersim scheme 1". '
            'Write format = "layersim scheme 1" as its first line.'
        )

    @pytest.mark.parametrize("said", ["scheme 1", "layersim scheme", "1", "layersim scheme one"])
    def test_misspelt(self, opened: Open, said: str) -> None:
        message = complaint(opened(f'format = "{said}"'), lambda top: top.document.check_format(1))
        assert message == f'line 1, format: found "{said}"; expected "layersim scheme 1".'

    def test_not_even_a_text(self, opened: Open) -> None:
        message = complaint(opened("format = 1"), lambda top: top.document.check_format(1))
        assert message.startswith("line 1, format: found 1; expected a text in quotes.")

    @pytest.mark.parametrize("version", ["0", "2", "17"])
    def test_another_version_is_told_at_once(self, opened: Open, version: str) -> None:
        with pytest.raises(SchemeError) as caught:
            opened(f'format = "layersim scheme {version}"').check_format(1)
        assert f'line 1, format: found "layersim scheme {version}"; expected "layersim scheme 1".' in str(
            caught.value
        )
        assert "Another version of layersim wrote this file" in str(caught.value)
        assert not caught.value.other_kind

    def test_another_kind_is_told_at_once(self, opened: Open) -> None:
        with pytest.raises(SchemeError) as caught:
            opened('format = "layersim paint 1"').check_format(1)
        assert str(caught.value).endswith("This is a paint file, and a scheme file was asked for.")
        assert caught.value.other_kind


class TestShown:
    @pytest.mark.parametrize(
        ("value", "words"),
        [
            ("x" * 100, f'the text "{"x" * 57}..."'),
            (True, "true"),
            (False, "false"),
            ({}, "a table"),
            ([], "an empty list"),
            (0.1 + 0.2, "0.3"),
            (math.nan, "nan"),
            (10**30, "a number of more than 20 digits"),
            (-(10**20), "a number of more than 20 digits"),
            (7, "7"),
        ],
    )
    def test_anything(self, value: object, words: str) -> None:
        assert shown(value) == words

    def test_even_what_python_will_not_write_out(self) -> None:
        assert shown(16**5000) == "a number of more than 20 digits"
