"""Long work beside: it is done, told, stopped, and leaves nothing behind."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from layersim.errors import LayersimError, UnknownNameError
from layersim.page.work import MOST_KEPT, MOST_RUNNING, MOST_WAITING, Workers
from tests.page import jobs

LONGEST = 20.0


@pytest.fixture
def told() -> list[dict[str, Any]]:
    return []


@pytest.fixture
def work(told: list[dict[str, Any]]) -> Iterator[Workers]:
    one = Workers(told.append)
    yield one
    one.close()


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + LONGEST
    while not true():
        assert time.monotonic() < end, "it takes too long"
        time.sleep(0.02)


def outcome(work: Workers, name: str) -> dict[str, Any]:
    until(lambda: work.told(name)["state"] in ("done", "failed", "stopped"))
    return work.told(name)


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return "Z" not in Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]


def test_what_comes_out_is_kept_and_told(work: Workers, told: list[dict[str, Any]]) -> None:
    name = work.start("adding", jobs.adds, {"a": 2, "b": 3})
    assert outcome(work, name)["result"] == {"sum": 5}
    until(lambda: "result" in told[-1])
    assert {event["kind"] for event in told} == {"work"}
    assert [event["done"] for event in told] == [0.5, 1.0]
    assert told[0]["words"] == "half of it"
    assert told[-1] == {"kind": "work", **work.told(name)}


def test_what_comes_out_may_be_finished_here(work: Workers) -> None:
    name = work.start("adding", jobs.adds, {"a": 2, "b": 3}, then=lambda found: {"pid": os.getpid(), **found})
    assert outcome(work, name)["result"] == {"pid": os.getpid(), "sum": 5}


def test_a_fault_of_the_painter_is_told_in_its_own_words(work: Workers) -> None:
    found = outcome(work, work.start("x", jobs.tells, {}))
    assert (found["state"], found["error"]) == ("failed", "the second coat has no paint")


def test_a_fault_of_the_program_says_so(work: Workers, caplog: pytest.LogCaptureFixture) -> None:
    found = outcome(work, work.start("x", jobs.fails, {}))
    assert "a fault of the program, not yours (ZeroDivisionError)" in found["error"]
    assert "jobs.py" in caplog.text


def test_a_worker_that_is_gone_is_told_and_the_next_one_works(work: Workers) -> None:
    assert "ended from outside" in outcome(work, work.start("x", jobs.dies, {}))["error"]
    assert outcome(work, work.start("adding", jobs.adds, {"a": 1, "b": 1}))["result"] == {"sum": 2}


def test_what_a_library_prints_is_no_answer(work: Workers) -> None:
    assert outcome(work, work.start("x", jobs.prints, {}))["result"] == {"ok": 1}


def test_stop_ends_the_process_at_once(work: Workers, told: list[dict[str, Any]], tmp_path: Path) -> None:
    marker = tmp_path / "pid"
    name = work.start("waiting", jobs.waits, {"marker": str(marker)})
    until(lambda: marker.exists() and marker.read_text() != "")
    pid = int(marker.read_text())
    assert work.stop(name)["state"] == "stopped"
    until(lambda: not alive(pid))
    time.sleep(0.3)
    assert told[-1]["state"] == "stopped", "nothing more is told of it"
    assert work.stop(name)["state"] == "stopped"


def test_no_more_run_than_may_and_the_others_wait(work: Workers) -> None:
    names = [work.start("waiting", jobs.waits, {}) for _ in range(MOST_RUNNING + 2)]
    states = [work.told(name)["state"] for name in names]
    assert states == ["running"] * MOST_RUNNING + ["waiting"] * 2
    work.stop(names[-1])
    assert work.told(names[-1])["state"] == "stopped"
    work.stop(names[0])
    until(lambda: work.told(names[MOST_RUNNING])["state"] == "running")


def test_too_much_is_refused_in_words(work: Workers) -> None:
    for _ in range(MOST_RUNNING + MOST_WAITING):
        work.start("waiting", jobs.waits, {})
    with pytest.raises(LayersimError, match="too much is waiting"):
        work.start("waiting", jobs.waits, {})


def test_what_is_long_over_is_forgotten(work: Workers) -> None:
    first = work.start("x", jobs.tells, {})
    work.stop(first)
    for _ in range(MOST_KEPT + 1):
        work.stop(work.start("x", jobs.waits, {}))
    with pytest.raises(UnknownNameError, match="not there any more"):
        work.told(first)


def test_close_leaves_no_process(told: list[dict[str, Any]], tmp_path: Path) -> None:
    work = Workers(told.append)
    marker = tmp_path / "pid"
    work.warm()
    work.start("waiting", jobs.waits, {"marker": str(marker)})
    work.warm()
    until(lambda: marker.exists() and marker.read_text() != "")
    spare = work._spare
    assert spare is not None
    work.close()
    assert not alive(int(marker.read_text()))
    assert not alive(spare.pid)
    assert told == [] or told[-1]["state"] == "running"
    with pytest.raises(LayersimError):
        work.start("x", jobs.tells, {})


def test_modules_come_from_where_this_process_has_them(
    work: Workers, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not from the folder of the painter's schemes, where a file may have the name of a module."""
    for name in ("numpy", "layersim", "pickle", "json"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('a stranger was imported')\n")
    monkeypatch.chdir(tmp_path)
    import layersim

    assert outcome(work, work.start("x", jobs.where, {}))["result"]["file"] == layersim.__file__


def test_many_threads_may_ask_at_once(work: Workers) -> None:
    names: list[str] = []
    threads = [
        threading.Thread(target=lambda i=i: names.append(work.start("a", jobs.adds, {"a": i, "b": 0})))
        for i in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcome(work, name)["result"]["sum"] for name in names) == list(range(6))
