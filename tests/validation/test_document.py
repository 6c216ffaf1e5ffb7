"""Tables go between their markers and nowhere else."""

from pathlib import Path

import pytest

from tests.validation.document import rewrite, table, written_into

PAGE = """# A page

Words.

<!-- table: one -->
old
<!-- end -->

More.

<!-- table: two -->
<!-- end -->
"""


def test_words_are_kept_and_tables_replaced() -> None:
    got = written_into(PAGE, {"one": r"new \1 \n", "two": "2"})
    assert got == PAGE.replace("old", r"new \1 \n").replace("two -->\n", "two -->\n2\n")


def test_writing_again_changes_nothing() -> None:
    once = written_into(PAGE, {"one": "1", "two": "2"})
    assert written_into(once, {"one": "1", "two": "2"}) == once


def test_a_table_without_markers_is_added_at_the_end() -> None:
    got = written_into(PAGE, {"three": "3"})
    assert got == PAGE + "\n<!-- table: three -->\n3\n<!-- end -->\n"


def test_markers_that_stand_there_twice_are_refused() -> None:
    with pytest.raises(ValueError, match="table one stand there 2 times"):
        written_into(PAGE + PAGE, {"one": "1"})


def test_a_missing_page_is_made(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    rewrite(page, {"one": table(["what", "how much"], [["this", "1"], ["that", "2"]])})
    assert page.read_text(encoding="utf-8").splitlines() == [
        "# Validation",
        "",
        "<!-- table: one -->",
        "| what | how much |",
        "|---|---:|",
        "| this | 1 |",
        "| that | 2 |",
        "<!-- end -->",
    ]
    assert [path.name for path in tmp_path.iterdir()] == ["page.md"]
