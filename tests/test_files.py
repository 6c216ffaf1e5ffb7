"""Reading and writing files: every way it can go wrong is one sentence, and nothing is half-written."""

from __future__ import annotations

import errno
import os
import stat
import tempfile
import threading
import time
from pathlib import Path

import pytest

from layersim.errors import InputFileError, OutputError, SchemeError
from layersim.files import LARGEST_TEXT_BYTES, check_writable, inside_folder, read_text, write_whole


def complaint(path: Path) -> str:
    with pytest.raises(SchemeError) as caught:
        read_text(path, what="scheme", error=SchemeError)
    message = str(caught.value)
    shown = str(path).replace("\0", "\\x00")
    assert message.startswith(f"{shown}: ")
    return message.removeprefix(f"{shown}: ")


class TestRead:
    def test_text_comes_as_it_is_without_the_mark_that_some_editors_put_first(self, tmp_path: Path) -> None:
        path = tmp_path / "x.toml"
        path.write_bytes(b'\xef\xbb\xbfname = "\xc2\xb5"\r\n')
        assert read_text(path, what="scheme") == 'name = "µ"\r\n'

    def test_missing(self, tmp_path: Path) -> None:
        assert (
            complaint(tmp_path / "x.toml") == f"there is no such file; expected a scheme file in {tmp_path}"
        )

    def test_missing_with_a_near_name_beside_it(self, tmp_path: Path) -> None:
        for name in ("my-scheme.toml", "other.toml", "my-scheme.png"):
            (tmp_path / name).write_text("x")
        (tmp_path / "my-schem.toml.d").mkdir()
        for wrong in ("my-schme.toml", "my-scheme.tml", "my-scheme"):
            assert complaint(tmp_path / wrong) == (
                f'there is no such file; expected a scheme file in {tmp_path}. Did you mean "my-scheme.toml"?'
            )
        assert complaint(tmp_path / "zzz.toml").endswith("The files here are: my-scheme.toml, other.toml.")

    def test_missing_with_its_folder(self, tmp_path: Path) -> None:
        folder = tmp_path / "no"
        message = complaint(folder / "x.toml")
        assert message == (
            f"there is no such file; expected a scheme file in {folder}, a folder that is not there either"
        )

    @pytest.mark.parametrize("name", ["x.**", "x.[a", "x.", "x*?.toml"])
    def test_missing_with_letters_that_mean_something_to_a_shell(self, tmp_path: Path, name: str) -> None:
        assert complaint(tmp_path / name) == f"there is no such file; expected a scheme file in {tmp_path}"

    def test_a_folder(self, tmp_path: Path) -> None:
        assert complaint(tmp_path) == "this is a folder; expected a scheme file"

    def test_empty_or_blank(self, tmp_path: Path) -> None:
        path = tmp_path / "x.toml"
        for content in (b"", b" \n\t\r\n", b"\xef\xbb\xbf", b"\xef\xbb\xbf\n"):
            path.write_bytes(content)
            assert complaint(path) == "this file is empty; expected a scheme"

    def test_not_utf8(self, tmp_path: Path) -> None:
        path = tmp_path / "x.toml"
        path.write_bytes(b'format = "layersim scheme 1"\nname = "caf\xe9"\n')
        assert complaint(path) == (
            "line 2: found the byte 0xe9, which is no UTF-8 text; "
            "expected a scheme saved as UTF-8 (most editors offer it under Save as, Encoding)"
        )
        path.write_text("name = 1", encoding="utf-16")
        assert "line 1: found the byte 0xff, which is no UTF-8 text" in complaint(path)

    def test_too_large(self, tmp_path: Path) -> None:
        path = tmp_path / "x.toml"
        path.write_bytes(b"# " + b"x" * 5_000_000)
        assert complaint(path) == (
            "this file is too large (more than 4 MB); expected a scheme file. Was another file meant?"
        )
        path.write_bytes(b"x" * LARGEST_TEXT_BYTES)
        assert len(read_text(path, what="scheme")) == LARGEST_TEXT_BYTES

    def test_a_pipe_or_device_is_not_waited_for(self, tmp_path: Path) -> None:
        os.mkfifo(tmp_path / "pipe.toml")
        for path in (tmp_path / "pipe.toml", Path("/dev/zero")):
            assert complaint(path) == "this is not an ordinary file; expected a scheme file"

    def test_no_permission(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        # Tests may run as root, whom no mode keeps out.
        path = tmp_path / "x.toml"
        path.write_text("x")

        def refuse(*_: object, **__: object) -> None:
            raise PermissionError(errno.EACCES, "Permission denied", str(path))

        monkeypatch.setattr(os, "open", refuse)
        assert complaint(path) == "you have no permission to read this file"
        monkeypatch.setattr(Path, "is_dir", refuse)  # no permission to look into the folder
        assert complaint(path) == "you have no permission to read this file"

    def test_a_failing_disk(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        path = tmp_path / "x.toml"
        path.write_text("x")

        def fail(*_: object, **__: object) -> None:
            raise OSError(errno.EIO, "Input/output error")

        monkeypatch.setattr(os, "open", fail)
        assert complaint(path) == "this file cannot be read (input/output error)"

    def test_names_no_file_can_have(self, tmp_path: Path) -> None:
        assert complaint(tmp_path / ("x" * 300)) == "this file cannot be read (file name too long)"
        assert "embedded null" in complaint(tmp_path / "a\0b")

    def test_a_link_that_leads_back_to_itself(self, tmp_path: Path) -> None:
        (tmp_path / "loop.toml").symlink_to(tmp_path / "loop.toml")
        assert "this file cannot be read (" in complaint(tmp_path / "loop.toml")

    def test_a_link_to_nothing(self, tmp_path: Path) -> None:
        (tmp_path / "link.toml").symlink_to(tmp_path / "gone.toml")
        assert complaint(tmp_path / "link.toml").startswith("there is no such file")

    def test_the_usual_error_is_that_of_any_file(self, tmp_path: Path) -> None:
        with pytest.raises(InputFileError):
            read_text(tmp_path, what="spectral")


class TestWrite:
    def test_text_and_bytes(self, tmp_path: Path) -> None:
        write_whole(tmp_path / "a", "µ\n")
        assert (tmp_path / "a").read_bytes() == b"\xc2\xb5\n"
        write_whole(tmp_path / "a", b"\x00\xff")
        assert (tmp_path / "a").read_bytes() == b"\x00\xff"
        assert [p.name for p in tmp_path.iterdir()] == ["a"]

    def test_a_new_file_gets_the_usual_mode_and_an_old_one_keeps_its_own(self, tmp_path: Path) -> None:
        before = os.umask(0o027)
        try:
            write_whole(tmp_path / "new", "x")
            assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o640
            (tmp_path / "new").chmod(0o604)
            write_whole(tmp_path / "new", "y")
            assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o604
        finally:
            os.umask(before)

    def test_a_link_is_followed_not_replaced(self, tmp_path: Path) -> None:
        (tmp_path / "kept").mkdir()
        (tmp_path / "kept" / "real").write_text("old")
        (tmp_path / "link").symlink_to(tmp_path / "kept" / "real")
        write_whole(tmp_path / "link", "new")
        assert (tmp_path / "link").is_symlink()
        assert (tmp_path / "kept" / "real").read_text() == "new"

    def test_a_pipe_is_written_into_not_replaced(self, tmp_path: Path) -> None:
        pipe = tmp_path / "pipe"
        os.mkfifo(pipe)
        read: list[bytes] = []
        reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()), daemon=True)
        reader.start()
        write_whole(pipe, "x")
        reader.join(10.0)
        assert read == [b"x"]
        assert stat.S_ISFIFO(pipe.stat().st_mode)

    def test_a_name_as_long_as_names_may_be(self, tmp_path: Path) -> None:
        write_whole(tmp_path / ("x" * 255), "x")
        assert (tmp_path / ("x" * 255)).read_text() == "x"

    @pytest.mark.parametrize("step", ["fsync", "replace", "write", "chmod"])
    @pytest.mark.parametrize(
        ("fault", "words"),
        [
            (OSError(errno.ENOSPC, "No space left on device"), "no space left on device"),
            (PermissionError(errno.EACCES, "Permission denied"), "permission denied"),
        ],
    )
    def test_what_fails_leaves_the_old_file_whole_and_nothing_beside_it(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, fault: OSError, words: str
    ) -> None:
        path = tmp_path / "x.toml"
        path.write_text("old")
        _break(monkeypatch, step, fault)
        with pytest.raises(OutputError) as caught:
            write_whole(path, "new")
        assert str(caught.value) == f"{path}: this file cannot be written ({words})"
        assert {p.name: p.read_text() for p in tmp_path.iterdir()} == {"x.toml": "old"}

    @pytest.mark.parametrize("step", ["fsync", "replace"])
    def test_an_interruption_leaves_nothing_behind_either(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
    ) -> None:
        path = tmp_path / "x.toml"
        path.write_text("old")
        _break(monkeypatch, step, KeyboardInterrupt())
        with pytest.raises(KeyboardInterrupt):
            write_whole(path, "new")
        assert {p.name: p.read_text() for p in tmp_path.iterdir()} == {"x.toml": "old"}

    def test_a_process_that_dies_while_writing_leaves_the_old_file_whole(self, tmp_path: Path) -> None:
        path = tmp_path / "x.toml"
        path.write_text("old")
        child = os.fork()
        if child == 0:  # pragma: no cover - dies at once
            os.fsync = lambda _: os._exit(9)  # type: ignore[assignment, return-value]
            write_whole(path, "new")
            os._exit(0)
        assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
        assert path.read_text() == "old"
        # What it leaves is hidden, and no reader of *.toml takes it for one.
        [left] = [p.name for p in tmp_path.iterdir() if p.name != "x.toml"]
        assert left.startswith(".layersim-")
        assert left.endswith(".part")

    def test_a_folder_that_may_not_be_written(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def refuse(**_: object) -> None:
            raise PermissionError(errno.EACCES, "Permission denied")

        monkeypatch.setattr(tempfile, "mkstemp", refuse)
        with pytest.raises(OutputError, match=r"this file cannot be written \(permission denied\)"):
            write_whole(tmp_path / "x", "x")

    @pytest.mark.parametrize("write", [lambda path: write_whole(path, "x"), check_writable])
    def test_places_where_no_file_can_be(self, tmp_path: Path, write: object) -> None:
        assert callable(write)
        with pytest.raises(OutputError, match="this is a folder; give the name of a file to write"):
            write(tmp_path)
        with pytest.raises(
            OutputError, match=rf"there is no folder {tmp_path / 'no'} to write into; make it"
        ):
            write(tmp_path / "no" / "x")
        (tmp_path / "file").write_text("x")
        with pytest.raises(OutputError, match=rf"there is no folder {tmp_path / 'file'} to write into"):
            write(tmp_path / "file" / "x")
        with pytest.raises(OutputError, match="name too long"):
            write(tmp_path / ("x" * 300))
        with pytest.raises(OutputError, match="null byte"):
            write(tmp_path / "a\0b")

    def test_looking_writes_nothing(self, tmp_path: Path) -> None:
        check_writable(tmp_path / "x")
        assert list(tmp_path.iterdir()) == []


def _break(monkeypatch: pytest.MonkeyPatch, step: str, fault: BaseException) -> None:
    def fail(*_: object, **__: object) -> None:
        raise fault

    if step == "fsync":
        monkeypatch.setattr(os, "fsync", fail)
    elif step == "write":
        real = os.fdopen

        def full(*args: object, **kwargs: object) -> object:
            file = real(*args, **kwargs)  # type: ignore[call-overload]
            os.close(os.dup(file.fileno()))
            return _Full(file, fault)

        monkeypatch.setattr(os, "fdopen", full)
    else:
        monkeypatch.setattr(Path, step, fail)


class _Full:
    """A file on a disk that is full."""

    def __init__(self, file: object, fault: BaseException) -> None:
        self.file, self.fault = file, fault

    def __enter__(self) -> _Full:
        return self

    def __exit__(self, *_: object) -> None:
        self.file.close()  # type: ignore[attr-defined]

    def write(self, _: bytes) -> None:
        raise self.fault


class TestInsideFolder:
    @pytest.mark.parametrize("name", ["paints", "a/b", "./paints", "a/../paints", ".", "paints/"])
    def test_below_is_fine(self, tmp_path: Path, name: str) -> None:
        assert inside_folder(name, tmp_path) == tmp_path / name

    @pytest.mark.parametrize("name", ["..", "../x", "a/../../x", "/etc", "", " ", "a\0b"])
    def test_beyond_is_not(self, tmp_path: Path, name: str) -> None:
        assert inside_folder(name, tmp_path) is None

    def test_nor_through_a_link(self, tmp_path: Path) -> None:
        (tmp_path / "here").mkdir()
        (tmp_path / "there").mkdir()
        (tmp_path / "here" / "link").symlink_to(tmp_path / "there")
        assert inside_folder("link", tmp_path / "here") is None
        assert inside_folder("link/x.toml", tmp_path / "here") is None

    def test_nor_through_a_link_to_itself(self, tmp_path: Path) -> None:
        (tmp_path / "loop").symlink_to(tmp_path / "loop")
        assert inside_folder("loop", tmp_path) is None

    def test_a_folder_that_is_itself_a_link(self, tmp_path: Path) -> None:
        (tmp_path / "real" / "paints").mkdir(parents=True)
        (tmp_path / "link").symlink_to(tmp_path / "real")
        assert inside_folder("paints", tmp_path / "link") == tmp_path / "link" / "paints"


def test_what_a_killed_write_left_goes_at_the_next_one(tmp_path):
    old, young, other = (tmp_path / name for name in (".layersim-a.part", ".layersim-b.part", ".my-a.part"))
    link = tmp_path / ".layersim-c.part"
    for path in (old, young, other):
        path.write_text("half", encoding="utf-8")
    link.symlink_to(other)
    long_ago = time.time() - 7200.0
    for path in (old, other):
        os.utime(path, (long_ago, long_ago))
    write_whole(tmp_path / "scheme.toml", "whole")
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(
        [young.name, other.name, link.name, "scheme.toml"]
    )
