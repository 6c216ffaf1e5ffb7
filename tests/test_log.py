"""The log: what it keeps, that it is never lost, and what it says of lines that are no entries."""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from types import MappingProxyType

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layersim.errors import LogFileError, OutputError
from layersim.log import (
    FORMAT,
    MOST_LOG_BYTES,
    Chip,
    Entry,
    EntryError,
    Log,
    add_entry,
    entry_from,
    entry_line,
    log_path,
    read_log,
    take_back,
)

ROOT = Path(__file__).parent.parent
DAY = datetime(2026, 5, 1, 18, 30)
FULL = Entry(
    at=DAY,
    area="wax cloth",
    step="base",
    coats=3,
    drops=MappingProxyType({"navy blue": 15.0, "thinner": 18.0}),
    pressure_bar=1.2,
    cup_loss_g=1.05,
    card_gain_g=0.11,
    sprayer="fine needle",
    photograph="day one.jpg",
    chips=(Chip("mid", lab=(31.5, 2.0, -18.25)), Chip(62.5, reflectance=tuple([0.25] * 31))),
    note="tip dry, cleaned twice; µ and ü",
    scheme='format = "layersim scheme 1"\r\nname = "ü"\n\n\t# two  blanks\n',
    film_factor=0.82,
)

texts = st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=40).map(
    lambda t: " ".join(t.split())
)
entries = st.builds(
    Entry,
    at=st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)).map(lambda d: d.replace(microsecond=0)),
    # Not filter(bool), which old hypothesis applies to the text before it is mapped.
    area=texts.map(lambda text: text or "x"),
    step=texts.map(lambda text: text or "x"),
    coats=st.none() | st.integers(1, 100),
    drops=st.dictionaries(texts, st.floats(0, 1e6), max_size=3).map(MappingProxyType),
    pressure_bar=st.none() | st.floats(0.01, 20.0),
    note=texts,
    scheme=st.text(st.characters(exclude_categories=["Cs"]), max_size=80),
    film_factor=st.none() | st.floats(0.01, 100.0),
    chips=st.lists(
        st.builds(
            Chip,
            tone=st.sampled_from(["shadow", "mid", "light"]) | st.floats(0.0, 100.0),
            lab=st.tuples(st.floats(0, 100), st.floats(-200, 200), st.floats(-200, 200)),
        ),
        max_size=2,
    ).map(tuple),
)


@given(entries)
def test_every_entry_reads_back_as_it_was(entry: Entry) -> None:
    line = entry_line(entry)
    assert "\n" not in line
    assert line.isascii()
    assert entry_from(json.loads(line)) == entry


def test_a_full_entry_reads_back(tmp_path: Path) -> None:
    path = log_path(tmp_path / "tide.toml")
    assert read_log(path).entries == ()
    add_entry(path, FULL)
    add_entry(path, Entry(DAY, "straps", "filter"))
    log = read_log(path)
    assert log.entries == (FULL, Entry(DAY, "straps", "filter"))
    assert log.aside == ()


def test_what_is_there_is_only_added_to(tmp_path: Path) -> None:
    path = tmp_path / "a.log.jsonl"
    before = b""
    for number in range(5):
        add_entry(path, Entry(DAY, "a", "b", coats=number + 1))
        now = path.read_bytes()
        assert now.startswith(before)
        before = now


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(st.lists(entries, min_size=1, max_size=4), st.data())
def test_a_log_torn_anywhere_loses_only_what_was_not_finished(
    tmp_path: Path, some: list[Entry], data: st.DataObject
) -> None:
    path = tmp_path / "torn.log.jsonl"
    path.unlink(missing_ok=True)
    lengths = []
    for entry in some:
        add_entry(path, entry)
        lengths.append(path.stat().st_size)
    whole = path.read_bytes()
    cut = data.draw(st.integers(0, len(whole)))
    path.write_bytes(whole[:cut])
    # All of an entry is there when its brace is, whether the line break is or not.
    finished = sum(length - 1 <= cut for length in lengths)
    log = read_log(path)
    assert log.entries == tuple(some[:finished])
    assert len(log.aside) <= 1
    # And the next entry stands whole after it, the torn piece untouched before it.
    add_entry(path, FULL)
    assert path.read_bytes().startswith(whole[:cut])
    assert read_log(path).entries == (*some[:finished], FULL)


KILLS = 200


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
def test_a_writer_killed_two_hundred_times_loses_no_finished_entry(tmp_path: Path) -> None:
    """Killed at random moments; what it had said was written is in the log each time, once and in order."""
    path = tmp_path / "killed.log.jsonl"
    command = [sys.executable, "-m", "tests.killed_writer", str(path), str(KILLS), "7"]
    done = subprocess.run(command, capture_output=True, cwd=ROOT, check=True, timeout=240)
    rounds = json.loads(done.stdout)
    assert len(rounds) == KILLS
    told: set[int] = set()
    for one in rounds:
        told |= set(one["told"])
        assert told <= set(one["read"])
        assert one["read"] == sorted(set(one["read"]))
    # Enough of them were killed in the middle of their work.
    assert sum(bool(one["told"]) for one in rounds) > KILLS / 5
    assert len(told) > KILLS / 4
    # The log goes on as if nothing had been.
    add_entry(path, FULL)
    assert read_log(path).entries[-1] == FULL


def test_two_writers_at_once_mix_nothing(tmp_path: Path) -> None:
    path = tmp_path / "two.log.jsonl"

    def write(name: str) -> None:
        for number in range(40):
            add_entry(path, Entry(DAY, name, "base", note=str(number)))

    threads = [threading.Thread(target=write, args=(name,)) for name in ("one", "two")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    log = read_log(path)
    assert log.aside == ()
    for name in ("one", "two"):
        assert [e.note for e in log.entries if e.area == name] == [str(n) for n in range(40)]


# ---------------------------------------------------------------- lines that are no entries


def odd_chip(key: str) -> bytes:
    """Return an entry's line whose chip has something that cannot be."""
    chip = f'{{"tone": "mid", "lab": [1, 2, 3], {key}}}'
    start = '{"layersim log": 1, "at": "2026-05-01T18:30:00", "area": "cloth", "step": "base", "chips": ['
    return f"{start}{chip}]}}".encode()


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b'{"layersim log": 1, "at": "2026', "no entry, or a damaged one"),
        (b"\x00\x00\x00\x00", "no entry, or a damaged one"),
        (b"\xff\xfe", "no entry, or a damaged one"),
        (b"[1, 2]", "JSON of another kind"),
        (b"{}", '"layersim log": found nothing; expected 1'),
        (b'{"layersim log": 2}', '"layersim log": found 2; expected 1'),
        (odd_chip('"light": []'), "chips 1, light: found"),
        (odd_chip('"observer": {}'), "chips 1, observer: found"),
        (odd_chip('"tone": 1' + 400 * "0"), "chips 1, tone: found"),
    ],
)
def test_a_damaged_line_is_set_aside_and_kept(tmp_path: Path, line: bytes, why: str) -> None:
    path = tmp_path / "a.log.jsonl"
    add_entry(path, FULL)
    with path.open("ab") as out:
        out.write(line + b"\n")
    add_entry(path, FULL)
    log = read_log(path)
    assert log.entries == (FULL, FULL)
    assert [aside.line for aside in log.aside] == [2]
    assert why in log.aside[0].why
    assert line in path.read_bytes()


BASE = {"layersim log": FORMAT, "at": "2026-05-01", "area": "a", "step": "b"}


def test_what_a_chip_leaves_empty_is_not_there() -> None:
    """As of an entry's own keys: other programs write null for what they don't know."""
    chip = {"tone": "mid", "lab": [50, 0, 0], "reflectance": None, "doubt": None}
    assert entry_from({**BASE, "chips": [chip]}).chips == (Chip("mid", lab=(50.0, 0.0, 0.0)),)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"at": "yesterday"}, 'at: found the text "yesterday"; expected a date'),
        ({"at": 5}, "at: found 5; expected a text"),
        ({"area": " "}, "area: found an empty text; expected a text"),
        ({"step": None}, "step: found nothing; expected a text"),
        ({"coats": 0}, "coats: found 0; expected a whole number from 1 to 100"),
        ({"coats": True}, "coats: found true; expected a whole number"),
        ({"coats": 1.5}, "coats: found 1.5; expected a whole number"),
        ({"drops": [3]}, "drops: found a list of 1; expected drops by the names"),
        ({"drops": {"navy": -1}}, "drops, navy: found -1; expected a number from 0"),
        ({"pressure_bar": 90}, "pressure_bar: found 90; expected a number above 0, at most 20"),
        ({"cup_loss_g": "much"}, 'cup_loss_g: found the text "much"; expected a number'),
        ({"chips": {}}, "chips: found a table; expected a list"),
        ({"chips": [{"tone": "midd", "lab": [1, 2, 3]}]}, 'Did you mean "mid"?'),
        ({"chips": [{"tone": 140, "lab": [1, 2, 3]}]}, "chips 1, tone: found 140"),
        ({"chips": [{"tone": "mid"}]}, "both or neither of lab and reflectance"),
        ({"chips": [{"tone": "mid", "lab": [1, 2]}]}, "chips 1, lab: found a list of 2; expected 3 numbers"),
        (
            {"chips": [{"tone": "mid", "lab": [140, 0, 0]}]},
            "a lightness L of 140; expected one from 0 to 100",
        ),
        ({"chips": [{"tone": "mid", "lab": [1, 2, 3], "light": "D66"}]}, 'Did you mean "D65"?'),
        ({"chips": [{"tone": "mid", "reflectance": [0.1] * 30}]}, "found a list of 30; expected 31 numbers"),
        (
            {"chips": [{"tone": "mid", "reflectance": [45.0] * 31}]},
            "found 45; expected a number from -0.1 to 2 at place 1",
        ),
        ({"note": "x" * 6000}, "expected at most 5000"),
        ({"scheme": 3}, "scheme: found 3; expected the text of a scheme"),
        ({"scheme": "x" * 1_000_001}, "scheme: found 1000001 letters; expected at most 1000000"),
        ({"film_factor": 0}, "film_factor: found 0; expected a number above 0, at most 100"),
        ({"preasure_bar": 1}, 'Did you mean "pressure_bar"?'),
    ],
)
def test_what_an_entry_cannot_say(change: dict[str, object], message: str) -> None:
    with pytest.raises(EntryError) as caught:
        entry_from(BASE | change)
    assert message in str(caught.value)


def test_a_bad_entry_is_refused_before_it_is_written(tmp_path: Path) -> None:
    path = tmp_path / "a.log.jsonl"
    with pytest.raises(EntryError, match="coats: found 0"):
        add_entry(path, Entry(DAY, "a", "b", coats=0))
    assert not path.exists()


class TestTakeBack:
    def test_the_last_entry_counts_no_more_and_its_line_stays(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        wrong = dataclasses.replace(FULL, coats=30)
        for entry in (FULL, wrong):
            add_entry(path, entry)
        before = path.read_bytes()
        assert take_back(path, at=DAY) == wrong
        assert path.read_bytes().startswith(before)
        assert read_log(path) == Log(path, (FULL,), ())
        # What is entered anew counts; then the one before it is the last.
        anew = Entry(DAY, "straps", "base")
        add_entry(path, anew)
        assert read_log(path).entries == (FULL, anew)
        assert [take_back(path, at=DAY) for _ in range(3)] == [anew, FULL, None]
        assert read_log(path).entries == ()

    def test_of_two_that_are_alike_one_is_left(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        for _ in range(2):
            add_entry(path, FULL)
        take_back(path, at=DAY)
        assert read_log(path).entries == (FULL,)

    def test_of_two_that_are_alike_the_later_is_taken_back(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        between = Entry(DAY, "straps", "base")
        for entry in (FULL, between, FULL):
            add_entry(path, entry)
        assert take_back(path, at=DAY) == FULL
        assert read_log(path).entries == (FULL, between)

    @pytest.mark.parametrize(
        "newest", [b'{"layersim log": 1, "at', b"\x00\x00\n", b'{"layersim log": 1}\n \n']
    )
    def test_a_newest_line_that_is_no_entry_is_told_and_nothing_taken(
        self, tmp_path: Path, newest: bytes
    ) -> None:
        path = tmp_path / "a.log.jsonl"
        some = [FULL, Entry(DAY, "straps", "base")]
        for entry in some:
            add_entry(path, entry)
        sound = path.read_bytes()
        path.write_bytes(sound + newest)
        with pytest.raises(LogFileError) as told:
            take_back(path, at=DAY)
        aside = read_log(path).aside[0]
        assert path.read_bytes() == sound + newest
        assert f"nothing was taken back: line 3, {aside.text}, does not count as it is" in str(told.value)
        assert aside.why in str(told.value)
        assert "To take back the entry before it, delete line 3" in str(told.value)
        # What it says is so.
        path.write_bytes(sound)
        assert take_back(path, at=DAY) == some[1]

    def test_a_damaged_line_is_not_passed_over_by_taking_back_again(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        add_entry(path, FULL)
        path.write_bytes(path.read_bytes() + b'{"layersim log": 1, "at')
        again = Entry(DAY, "straps", "base")
        add_entry(path, again)
        assert take_back(path, at=DAY) == again
        with pytest.raises(LogFileError, match="nothing was taken back: line 2, "):
            take_back(path, at=DAY)
        assert read_log(path).entries == (FULL,)

    def test_where_all_is_damaged_no_entry_before_it_is_spoken_of(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        path.write_bytes(b"{")
        with pytest.raises(LogFileError, match="nothing was taken back: line 1, ") as told:
            take_back(path, at=DAY)
        assert "before it" not in str(told.value)
        assert path.read_bytes() == b"{"

    def test_a_take_back_is_undone_by_deleting_its_line(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        add_entry(path, FULL)
        take_back(path, at=DAY)
        lines = path.read_bytes().splitlines(keepends=True)
        path.write_bytes(b"".join(lines[:-1]))
        assert read_log(path) == Log(path, (FULL,), ())

    def test_where_there_is_nothing_nothing_is_written(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        assert take_back(path, at=DAY) is None
        assert not path.exists()
        with pytest.raises(LogFileError, match="this is a folder"):
            take_back(tmp_path, at=DAY)

    def test_torn_anywhere_it_takes_back_all_or_nothing(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        some = [FULL, Entry(DAY, "straps", "base")]
        for entry in some:
            add_entry(path, entry)
        kept = path.stat().st_size
        take_back(path, at=DAY)
        whole = path.read_bytes()
        for cut in range(kept, len(whole) + 1):
            path.write_bytes(whole[:cut])
            done = cut >= len(whole) - 1
            assert read_log(path).entries == tuple(some[:1] if done else some)
            assert len(read_log(path).aside) == (kept < cut and not done)

    def test_lines_deleted_by_hand_move_nothing(self, tmp_path: Path) -> None:
        path = tmp_path / "a.log.jsonl"
        some = [dataclasses.replace(FULL, coats=n) for n in (1, 2, 3)]
        for entry in some:
            add_entry(path, entry)
        take_back(path, at=DAY)
        lines = path.read_bytes().splitlines(keepends=True)
        path.write_bytes(b"".join(lines[1:]))
        assert read_log(path).entries == (some[1],)
        path.write_bytes(b"".join(lines[:2] + lines[3:]))
        log = read_log(path)
        assert log.entries == tuple(some[:2])
        assert "expected an entry further up that stands" in log.aside[0].why


def test_places_that_are_no_log(tmp_path: Path) -> None:
    with pytest.raises(LogFileError, match="this is a folder; expected a log file"):
        read_log(tmp_path)
    with pytest.raises(OutputError, match="this is no ordinary file"):
        add_entry(tmp_path, FULL)
    with pytest.raises(OutputError, match="this log cannot be written"):
        add_entry(tmp_path / "nowhere" / "a.log.jsonl", FULL)
    with pytest.raises(LogFileError, match="there is no folder"):
        read_log(tmp_path / "nowhere" / "a.log.jsonl")
    plain = tmp_path / "plain"
    plain.write_text("x")
    for impossible in (plain / "a.log.jsonl", tmp_path / ("x" * 300), Path("a\0b")):
        with pytest.raises(LogFileError, match="cannot be read"):
            read_log(impossible)
        with pytest.raises(OutputError, match="cannot be written"):
            add_entry(impossible, FULL)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes")
@pytest.mark.parametrize("place", ["pipe", "/dev/zero"])
def test_a_pipe_or_device_is_no_log(tmp_path: Path, place: str) -> None:
    path = tmp_path / place
    if place == "pipe":
        os.mkfifo(path)
    for read in (read_log, lambda it: take_back(it, at=DAY)):
        with pytest.raises(LogFileError, match="this is no ordinary file"):
            read(path)
    with pytest.raises(OutputError, match="this is no ordinary file"):
        add_entry(path, FULL)


def test_a_file_too_large_for_a_log_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "a.log.jsonl"
    with path.open("wb") as file:
        file.truncate(MOST_LOG_BYTES + 1)
    with pytest.raises(LogFileError, match="too large"):
        read_log(path)


def test_a_full_disk_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.log.jsonl"
    add_entry(path, FULL)
    before = path.read_bytes()

    def fails_half_way(real: Callable[[int, bytes], int]) -> Callable[[int, bytes], int]:
        calls: list[int] = []

        def write(handle: int, content: bytes) -> int:
            calls.append(handle)
            if len(calls) > 1:
                raise OSError(28, "No space left on device")
            return real(handle, content[:20])

        return write

    with monkeypatch.context() as only_here:
        only_here.setattr(os, "write", fails_half_way(os.write))
        with pytest.raises(OutputError, match="cannot be written \\(no space left on device\\)"):
            add_entry(path, FULL)
    # Nothing of it is left, so that the entry before it can still be taken back.
    assert path.read_bytes() == before
    assert take_back(path, at=DAY) == FULL
