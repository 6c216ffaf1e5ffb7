"""The shelf: folders searched in order, doubles told, and one bad file spoiling nothing."""

from __future__ import annotations

import dataclasses
import errno
from pathlib import Path

import pytest

from layersim.errors import PaintFileError, UnknownNameError
from layersim.names import slug
from layersim.paintfile import write_paint
from layersim.shelf import FOLDER_VARIABLE, Shelf, own_folder, starter_folder
from tests.examples import MOSS, PAINTS, RUST, fill


def put(folder: Path, name: str, *, file: str = "", solids: float = 0.25) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / (file or f"{slug(name)}.toml")
    write_paint(dataclasses.replace(RUST, name=name, volume_solids=solids), path)
    return path


class TestFind:
    def test_by_letters_and_digits_alone(self, shelf: Shelf) -> None:
        for name in ("moss green", "Moss Green", "moss-green", " MOSS_GREEN "):
            assert shelf.find(name).name == "moss green"

    def test_the_file_may_have_any_name(self, tmp_path: Path) -> None:
        path = put(tmp_path, "rust no. 2", file="bottle of last year.toml")
        assert Shelf([tmp_path]).place("Rust No 2").path == path

    def test_the_first_folder_wins_and_says_so(self, tmp_path: Path) -> None:
        one, two = put(tmp_path / "one", "rust", solids=0.5), put(tmp_path / "two", "rust", solids=0.1)
        shelf = Shelf([one.parent, two.parent])
        assert shelf.find("rust").volume_solids == 0.5
        assert shelf.find("rust").volume_solids == 0.5
        assert shelf.notices == [f'two paints are named "rust": {one} is used, not {two}']

    def test_in_one_folder_the_first_file_by_name_wins_and_says_so(self, tmp_path: Path) -> None:
        one = put(tmp_path, "rust", file="a.toml", solids=0.5)
        two = put(tmp_path, "Rust", file="b.toml", solids=0.1)
        shelf = Shelf([tmp_path])
        assert shelf.find("rust").volume_solids == 0.5
        assert shelf.notices == [f"one paint in two files: {one} is used, not {two}"]

    def test_many_doubles_of_two_folders_are_one_notice(self, tmp_path: Path) -> None:
        one, two = fill(tmp_path / "one"), fill(tmp_path / "two")
        shelf = Shelf([one, two])
        assert len(shelf.places()) == len(PAINTS)
        [notice] = shelf.notices
        assert notice.startswith(
            f"{len(PAINTS)} paints stand in {one} and {two}; the first is used: chalk-white"
        )

    def test_a_folder_given_twice_doubles_nothing(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        folder = fill(tmp_path / "one")
        (tmp_path / "link").symlink_to(folder)
        monkeypatch.chdir(tmp_path)
        shelf = Shelf([Path("one"), folder, tmp_path / "link"])
        assert shelf.folders == (Path("one"),)
        shelf.find("rust")
        shelf.places()
        assert shelf.notices == []

    def test_of_a_ground_primers_are_meant_first(self) -> None:
        starters = Shelf([starter_folder()])
        assert starters.nearest("black", rather="primer") == 'Did you mean "black primer"?'
        assert starters.nearest("black").startswith('Did you mean "black ink"')
        assert starters.nearest("majenta ink", rather="primer") == 'Did you mean "magenta ink"?'
        said = "The primers here are: black primer, grey primer, white primer."
        assert starters.nearest("zzz", rather="primer") == said
        assert starters.nearest("zzz") == "See them all with: layersim paints."

    def test_missing_names_the_nearest(self, shelf: Shelf) -> None:
        with pytest.raises(UnknownNameError) as caught:
            shelf.find("moss gren")
        assert str(caught.value) == 'no paint "moss gren" on the shelf. Did you mean "moss green"?'
        with pytest.raises(UnknownNameError) as caught:
            shelf.find("zzz")
        assert str(caught.value) == 'no paint "zzz" on the shelf. See them all with: layersim paints.'

    @pytest.mark.parametrize("name", ["", "!?", "../../etc/passwd", "x" * 5000, "a\0b", "\ud800"])
    def test_names_that_no_file_can_have(self, shelf: Shelf, name: str) -> None:
        with pytest.raises(UnknownNameError, match="no paint "):
            shelf.find(name)
        with pytest.raises(UnknownNameError, match="no paint "):
            Shelf.usual().find(name)

    def test_an_empty_shelf(self, tmp_path: Path) -> None:
        shelf = Shelf([tmp_path / "nowhere"])
        assert (shelf.places(), shelf.names(), shelf.notices) == ([], [], [])
        with pytest.raises(UnknownNameError, match="no paint"):
            shelf.find("rust")


class TestBrokenFiles:
    @pytest.fixture
    def broken(self, tmp_path: Path) -> Path:
        path = put(tmp_path / "one", "rust")
        path.write_text(path.read_text().replace("volume_solids = 0.25", "volume_solids = 25"))
        return path

    def test_it_matters_when_that_paint_is_asked_for(self, broken: Path) -> None:
        put(broken.parent, "moss")
        shelf = Shelf([broken.parent])
        assert shelf.find("moss").name == "moss"
        assert shelf.names() == ["moss"]
        with pytest.raises(PaintFileError, match=r"volume_solids: found 25; .* 25 % is 0\.25 here"):
            shelf.find("rust")

    def test_it_is_told_once_and_in_a_sentence(self, broken: Path) -> None:
        shelf = Shelf([broken.parent])
        shelf.places()
        shelf.names()
        [notice] = shelf.notices
        assert notice.startswith(f"left out: {broken}: line ")
        assert notice.endswith("25 % is 0.25 here")  # whoever prints it ends the sentence

    def test_a_sound_one_searched_first_is_used_all_the_same(self, tmp_path: Path, broken: Path) -> None:
        put(tmp_path / "first", "rust", solids=0.5)
        shelf = Shelf([tmp_path / "first", broken.parent])
        assert shelf.find("rust").volume_solids == 0.5
        assert shelf.find("rust").volume_solids == 0.5

    def test_a_sound_one_searched_later_does_not_stand_in_unasked(self, tmp_path: Path, broken: Path) -> None:
        put(tmp_path / "later", "rust")
        shelf = Shelf([broken.parent, tmp_path / "later"])
        with pytest.raises(PaintFileError):
            shelf.find("rust")

    def test_one_searched_later_never_hides_one_between(self, tmp_path: Path, broken: Path) -> None:
        put(tmp_path / "middle", "rust", solids=0.5)
        (tmp_path / "empty").mkdir()
        shelf = Shelf([tmp_path / "empty", tmp_path / "middle", broken.parent])
        for _ in range(2):  # the second time every folder has been read
            assert shelf.find("rust").volume_solids == 0.5

    def test_one_under_another_file_name_is_pointed_at(self, broken: Path) -> None:
        other = broken.rename(broken.with_name("bottle.toml"))
        shelf = Shelf([broken.parent])
        with pytest.raises(UnknownNameError) as caught:
            shelf.find("rust")
        assert str(caught.value).endswith(f" Files of paints that cannot be used: {other}.")

    def test_other_files_beside_the_paints_are_let_be(self, tmp_path: Path) -> None:
        put(tmp_path, "rust")
        (tmp_path / "scheme.toml").write_text('format = "layersim scheme 1"\n')
        (tmp_path / "._rust.toml").write_bytes(b"\0\5\x16\7")
        (tmp_path / "notes.txt").write_text("hello")
        (tmp_path / "rust.toml~").write_text("hello")
        shelf = Shelf([tmp_path])
        assert shelf.names() == ["rust"]
        assert shelf.notices == []

    def test_a_folder_named_like_a_paint(self, tmp_path: Path) -> None:
        (tmp_path / "rust.toml").mkdir()
        shelf = Shelf([tmp_path])
        assert shelf.names() == []
        assert shelf.notices == [
            f"left out: {tmp_path / 'rust.toml'}: this is a folder; expected a paint file"
        ]


class TestFolders:
    def test_one_that_cannot_be_read_is_told(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        put(tmp_path, "rust")

        def refuse(_: Path) -> None:
            raise PermissionError(errno.EACCES, "Permission denied")

        monkeypatch.setattr(Path, "iterdir", refuse)
        shelf = Shelf([tmp_path])
        assert shelf.names() == []
        assert shelf.notices == [f"{tmp_path}: this folder of paints cannot be read (Permission denied)"]

    def test_a_file_or_a_loop_where_a_folder_should_be_counts_as_empty_or_is_told(
        self, tmp_path: Path
    ) -> None:
        (tmp_path / "file").write_text("x")
        (tmp_path / "loop").symlink_to(tmp_path / "loop")
        shelf = Shelf([tmp_path / "file", tmp_path / "loop"])
        assert shelf.names() == []
        [notice] = shelf.notices
        assert str(tmp_path / "loop") in notice

    def test_the_usual_shelf_is_first_then_ones_own_then_the_starters(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
        assert Shelf.usual(tmp_path / "beside").folders == (tmp_path / "beside", tmp_path, starter_folder())

    def test_ones_own_folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("HOME", str(tmp_path))
        monkeypatch.setenv(FOLDER_VARIABLE, "~/bottles")
        assert own_folder() == tmp_path / "bottles"
        for nothing in ("", "  "):
            monkeypatch.setenv(FOLDER_VARIABLE, nothing)
            assert own_folder() == tmp_path / "layersim" / "paints"
        monkeypatch.setenv(FOLDER_VARIABLE, "~nobody-of-that-name/x")
        assert own_folder() == Path("~nobody-of-that-name/x")

    def test_a_folder_that_was_named_and_is_not_there_is_told(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "botles"))
        [notice] = Shelf.usual().notices
        assert notice == f"{FOLDER_VARIABLE} names the folder {tmp_path / 'botles'}, which is not there"
        monkeypatch.delenv(FOLDER_VARIABLE)
        monkeypatch.setenv("HOME", str(tmp_path))
        assert Shelf.usual().notices == []

    def test_ones_own_paint_wins_over_a_starter_of_its_name(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
        write_paint(dataclasses.replace(MOSS, name="Titanium White"), tmp_path / "mine.toml")
        shelf = Shelf.usual()
        place = shelf.place("titanium white")
        assert not place.starter
        assert place.path == tmp_path / "mine.toml"
        [notice] = shelf.notices
        assert f"{tmp_path / 'mine.toml'} is used, not {starter_folder() / 'titanium-white.toml'}" in notice

    def test_a_starter_is_found_without_reading_the_others(self, monkeypatch: pytest.MonkeyPatch) -> None:
        from layersim import shelf as module

        read: list[Path] = []
        real = module.read_paint
        monkeypatch.setattr(module, "read_paint", lambda path: read.append(path) or real(path))
        assert Shelf.usual().place("titanium white").starter
        assert [path.name for path in read] == ["titanium-white.toml"]


def test_a_paint_that_is_not_there_names_those_of_its_hue_and_use() -> None:
    shelf = Shelf.usual()
    assert "violet glaze" not in shelf.nearest("red glaze")
    assert shelf.nearest("red glaze").startswith("Nearest to red glaze: magenta ink (ink).")
    assert "See them with: layersim paints violet." in shelf.nearest("thin violet")
    assert shelf.nearest("light brown glaze").startswith(
        "Nearest to brown glaze: brown wash (wash), oil wash"
    )
    # No wash is green. Clear media have no hue to go by.
    assert shelf.nearest("green wash").startswith("Nearest to green: deep teal (paint), olive green (paint)")
    assert not any(word in shelf.nearest("dark blue") for word in ("medium", "varnish", "primer"))
    assert shelf.nearest("primer black") == 'Did you mean "black primer"?'
    assert shelf.nearest("xyz") == "See them all with: layersim paints."


def test_paints_are_found_by_kind_hue_use_and_lightness() -> None:
    shelf = Shelf.usual()
    asked = ("dark blue", "light blue paint", "mid", "blue glaze")
    found = {words: [place.paint.name for place in shelf.search(words)] for words in asked}
    dark = ["blue ink", "blue violet wash", "navy blue", "phthalo blue", "ultramarine blue", "violet glaze"]
    assert found["dark blue"] == dark
    assert found["light blue paint"] == ["pale blue grey", "sky blue"]
    assert {"turquoise", "warm red"} <= set(found["mid"])
    assert not {"bone", "navy blue"} & set(found["mid"])
    assert found["blue glaze"] == ["blue ink", "blue violet wash", "violet glaze"]


def test_many_broken_files_are_counted_after_the_first_few(tmp_path: Path) -> None:
    for i in range(40):
        (tmp_path / f"broken-{i:02}.toml").write_text("x = [", encoding="utf-8")
    shelf = Shelf([tmp_path])
    assert shelf.places() == []
    assert [notice.startswith("left out: ") for notice in shelf.notices] == [*[True] * 5, False]
    assert shelf.notices[-1] == f"35 more files in {tmp_path} cannot be used"
    with pytest.raises(PaintFileError):
        shelf.find("broken 39")
