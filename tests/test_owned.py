"""Which paints somebody owns: a text file that people and the page write by turns."""

from __future__ import annotations

from pathlib import Path

import pytest

from layersim.errors import InputFileError, LayersimError, OutputError, UnknownNameError
from layersim.owned import colours_owned, mark, names_in, owned_file
from layersim.shelf import Shelf, own_folder


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    return tmp_path / "mine.txt"


def test_it_stands_among_the_users_own_paints_and_is_no_paint() -> None:
    mark(owned_file(), ["bone"], owned=True)

    assert owned_file().parent == own_folder()
    assert Shelf.usual().notices == []


class TestMark:
    def test_the_file_is_made_and_says_what_it_is(self, mine: Path) -> None:
        mark(mine, ["bone", "navy blue"], owned=True)

        assert mine.read_text("utf-8").startswith("# The paints that you own")
        assert [name for _, name in names_in(mine)] == ["bone", "navy blue"]

    def test_what_a_person_wrote_stays(self, mine: Path) -> None:
        mine.write_text('# drawer 2\nbone   # nearly empty\n\n"Navy Blue"\na paint of old\n', "utf-8")

        mark(mine, ["crimson", "BONE"], owned=True)
        mark(mine, ["navy-blue"], owned=False)

        assert mine.read_text("utf-8") == "# drawer 2\nbone   # nearly empty\n\na paint of old\ncrimson\n"

    def test_marked_twice_is_marked_once_and_unmarked_is_gone(self, mine: Path) -> None:
        for _ in range(2):
            mark(mine, ["bone"], owned=True)
        assert len(names_in(mine)) == 1
        for _ in range(2):
            mark(mine, ["bone"], owned=False)
        assert names_in(mine) == []

    def test_an_empty_file_is_as_good_as_none(self, mine: Path) -> None:
        mine.touch()
        mark(mine, ["bone"], owned=True)
        assert [name for _, name in names_in(mine)] == ["bone"]

    def test_a_file_of_another_kind_is_not_written_over(self, mine: Path) -> None:
        mine.write_bytes(b"PK\x03\x04 a letter")
        with pytest.raises(InputFileError, match="zip archive"):
            mark(mine, ["bone"], owned=True)
        assert mine.read_bytes() == b"PK\x03\x04 a letter"

    def test_a_folder_in_its_place_is_told(self, mine: Path) -> None:
        mine.mkdir()
        with pytest.raises((InputFileError, OutputError), match="folder"):
            mark(mine, ["bone"], owned=True)


class TestColoursOwned:
    def test_each_once_and_none_that_does_not_colour(self, mine: Path) -> None:
        mine.write_text("bone\nmatt varnish\nBone\nblack primer\ncrimson # red\n", "utf-8")

        assert [paint.name for paint in colours_owned(mine, Shelf.usual())] == ["bone", "crimson"]

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("bone\n\nturkoise\n", 'line 3: no paint "turkoise" on the shelf. Did you mean "turquoise"?'),
            ("# nothing yet\n", "found no name of a paint that colours"),
            ("matt varnish\n", "found no name of a paint that colours"),
        ],
    )
    def test_a_slip_is_told(self, mine: Path, text: str, says: str) -> None:
        mine.write_text(text, "utf-8")
        with pytest.raises(LayersimError, match=says.replace("?", r"\?")) as told:
            colours_owned(mine, Shelf.usual())
        assert str(mine) in str(told.value)

    def test_before_the_first_tick_it_says_how_to_begin(self) -> None:
        with pytest.raises(InputFileError, match="Tick what you own on the shelf of the page"):
            colours_owned(owned_file(), Shelf.usual())

    def test_another_file_that_is_not_there_is_told_as_any(self, mine: Path) -> None:
        with pytest.raises(InputFileError, match="there is no such file; expected a list of paints"):
            colours_owned(mine, Shelf.usual())

    def test_an_unknown_name_keeps_its_kind_of_error(self, mine: Path) -> None:
        mine.write_text("zzzz\n", "utf-8")
        with pytest.raises(UnknownNameError):
            colours_owned(mine, Shelf.usual())
