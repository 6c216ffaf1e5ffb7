"""The page begins, is told things, comes back, and ends without leaving anything behind."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from layersim.cli import main
from layersim.page import opening
from layersim.page.events import Events
from layersim.page.opening import WayIn, has_screen, leading_file
from tests.page.running import LONGEST_SECONDS, Running, Start


def children(pid: int) -> list[int]:
    return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def workers(pid: int) -> list[int]:
    """Wait for the warmed worker, and return the processes that a page has started."""
    end = time.monotonic() + LONGEST_SECONDS
    while not (found := children(pid)):
        assert time.monotonic() < end
        time.sleep(0.1)
    return found


def gone(pid: int) -> bool:
    end = time.monotonic() + 10
    while time.monotonic() < end:
        try:
            if Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z":
                return True
        except FileNotFoundError:
            return True
        time.sleep(0.05)
    return False


_open: list[Listening] = []


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    """Lines that are left open are closed."""
    yield
    while _open:
        one = _open.pop()
        one.answer.close()
        one.line.close()


class Listening:
    """A page that listens to what the program says."""

    def __init__(self, running: Running) -> None:
        self.line = running.line()
        self.line.request("GET", "/api/events", headers={"X-Layersim-Token": running.key})
        self.answer = self.line.getresponse()
        _open.append(self)
        assert self.answer.status == 200
        assert self.answer.readline() == b"\n", "it says at once that it is there"

    def next(self) -> dict[str, Any] | None:
        """Return the next event but what is said of the scheme, None where the line has ended."""
        while line := self.answer.readline():
            if line.strip() and json.loads(line)["kind"] != "scheme":
                return dict(json.loads(line))
        return None


def test_it_says_its_address_and_serves_the_page(running: Running) -> None:
    line = running.line()
    line.request("GET", "/")
    answer = line.getresponse()
    assert answer.status == 200
    assert b"/static/main.js" in answer.read()
    line.close()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_it_cleanly_with_pages_open(running: Running, number: int) -> None:
    listening = [Listening(running) for _ in range(3)]
    held = workers(running.process.pid)
    begun = time.monotonic()
    running.process.send_signal(number)
    assert [one.next() for one in listening] == [None] * 3
    said = running.process.communicate(timeout=LONGEST_SECONDS)[0]
    assert running.process.returncode == 0
    assert said.endswith("The page has ended.\n")
    assert "Traceback" not in said
    assert time.monotonic() - begun < 5
    assert all(gone(pid) for pid in held)


def test_stop_on_the_page_tells_every_page_and_ends(running: Running) -> None:
    listening = [Listening(running) for _ in range(2)]
    held = workers(running.process.pid)
    assert running.ask("/api/stop", {})[0] == 200
    assert [one.next() for one in listening] == [{"kind": "stopped"}] * 2
    running.process.communicate(timeout=LONGEST_SECONDS)
    assert running.process.returncode == 0
    assert all(gone(pid) for pid in held)


def test_no_worker_is_left_where_it_is_killed(running: Running) -> None:
    held = workers(running.process.pid)
    running.process.kill()
    assert all(gone(pid) for pid in held)


def test_a_fifth_page_takes_the_place_of_the_first(running: Running) -> None:
    """A browser has six lines to one address: pages that only listen must not hold them all."""
    listening = [Listening(running) for _ in range(5)]
    assert listening[0].next() is None
    running.ask("/api/stop", {})
    assert [one.next() for one in listening[1:]] == [{"kind": "stopped"}] * 4


def test_a_closed_laptop_comes_back(running: Running) -> None:
    """Stopped for a while, as a machine that sleeps: events go on, and requests are answered."""
    listening = Listening(running)
    os.kill(running.process.pid, signal.SIGSTOP)
    time.sleep(1.5)
    os.kill(running.process.pid, signal.SIGCONT)
    assert running.ask("/api/shelf")[0] == 200
    running.ask("/api/stop", {})
    assert listening.next() == {"kind": "stopped"}


def test_a_second_one_runs_beside(start: Start) -> None:
    first, second = start(), start()
    assert first.port != second.port
    assert first.ask("/api/shelf")[0] == second.ask("/api/shelf")[0] == 200
    first.stop()
    assert second.ask("/api/shelf")[0] == 200


def test_a_port_that_is_asked_for_is_taken_and_freed(start: Start) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    first = start("--port", f"{port}")
    assert first.port == port
    assert first.ask("/api/shelf")[0] == 200
    first.stop()
    assert start("--port", f"{port}").port == port


def test_a_taken_port_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert main(["open", "--no-browser", "--folder", str(tmp_path), "--port", f"{port}"]) == 2
    said = capsys.readouterr().err
    assert f"--port {port}: this port cannot be used (address already in use)" in said
    assert "Leave --port out" in said


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--port", "65536"], "expected a number from 1 to 65535"),
        (["--port", "-1"], "expected a number from 1 to 65535"),
        (["--port", "many"], "whole number"),
        (["--folder", "not-there"], "there is no such folder"),
        (["not-there.toml"], "no such file"),
    ],
)
def test_what_cannot_be_opened_is_told(
    words: list[str], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["open", "--no-browser", *words]) == 2
    assert told in capsys.readouterr().err


def test_nothing_is_kept_by_importing_what_help_needs() -> None:
    program = (
        "import sys; import layersim.cli.open; print([m for m in ('uvicorn', 'numpy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_what_an_icon_began_ends_by_itself_when_no_page_is_open(tmp_path: Path) -> None:
    program = (
        "import layersim.cli.open as command; from layersim.cli import main; command.ALONE_SECONDS = 1.0\n"
        f"raise SystemExit(main(['open', '--no-browser', '--while-open', '--folder', {str(tmp_path)!r}]))"
    )
    asked = [sys.executable, "-c", program]
    done = subprocess.run(asked, capture_output=True, text=True, timeout=LONGEST_SECONDS, check=True)
    assert done.stdout.endswith("The page has ended.\n")


def test_who_listens_is_not_alone() -> None:
    events = Events()
    time.sleep(0.02)
    assert events.alone_seconds() >= 0.02

    async def listens() -> float:
        lines = events.begin()
        await anext(lines)
        return events.alone_seconds()

    assert asyncio.run(listens()) == 0.0


def test_the_first_page_waits_for_no_room() -> None:
    """What is imported before the first page is the server alone; the rooms come while the page loads."""
    program = (
        "import sys, importlib, layersim.page.serve, layersim.page.opening\n"
        "from layersim.page.app import BASE\n"
        "for name in BASE: importlib.import_module(f'layersim.page.{name}')\n"
        "print([m for m in ('numpy', 'tomlkit', 'layersim.scheme', 'PIL', 'cv2') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_what_is_asked_before_the_rooms_are_there_waits_for_them(start: Start) -> None:
    """The first request of a fresh page comes long before all is imported, and is answered well."""
    one = start()
    assert one.ask("/api/scheme")[0] == 200
    assert one.ask("/api/not-there")[0] == 404


class TestBrowser:
    def test_the_file_that_leads_there_is_for_its_user_alone(self, tmp_path: Path) -> None:
        file = leading_file("http://127.0.0.1:1/#key=a<b", tmp_path)
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        assert "url=http://127.0.0.1:1/#key=a&lt;b" in file.read_text(encoding="utf-8")

    def test_the_key_stands_in_no_command(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        asked: list[str] = []
        monkeypatch.setattr(opening.webbrowser, "open", asked.append)
        monkeypatch.setenv("HOME", str(tmp_path))
        one = WayIn()
        one._open("http://127.0.0.1:1/#key=secret")
        assert asked[0].startswith("file://")
        assert "secret" not in asked[0]
        assert len(list(tmp_path.glob("layersim-opens-*.html"))) == 1
        one.done()
        assert list(tmp_path.iterdir()) == []

    def test_a_browser_that_cannot_be_opened_is_no_fault(self, monkeypatch: pytest.MonkeyPatch) -> None:
        def fails(_: str) -> None:
            raise opening.webbrowser.Error

        monkeypatch.setattr(opening.webbrowser, "open", fails)
        one = WayIn()
        one._open("http://127.0.0.1:1/")
        one.done()

    def test_without_a_screen_no_browser_is_asked(self) -> None:
        assert not has_screen("linux", {})
        assert has_screen("linux", {"WAYLAND_DISPLAY": "wayland-0"})
        assert has_screen("darwin", {})

    def test_a_real_browser_is_led_to_the_page(self, chromium: Any, running: Running, tmp_path: Path) -> None:
        file = leading_file(running.address, tmp_path)
        with contextlib.closing(chromium.new_context()) as context:
            page = context.new_page()
            page.goto(file.as_uri())
            page.wait_for_url(f"http://{running.host}/**")
            page.wait_for_function("sessionStorage.getItem('layersim-key')")
            assert page.evaluate("sessionStorage.getItem('layersim-key')") == running.key
            assert running.key not in page.url
