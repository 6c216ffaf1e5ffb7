"""The page as a painter starts it: `layersim open` in a process of its own."""

from __future__ import annotations

import contextlib
import http.client
import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

LONGEST_SECONDS = 30


@dataclass(frozen=True)
class Running:
    """A page that runs."""

    process: subprocess.Popen[str]
    address: str
    """What a painter opens: the page's address with its key."""
    port: int
    key: str
    folder: Path

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.port}"

    def line(self) -> http.client.HTTPConnection:
        """Return a new line to it."""
        return http.client.HTTPConnection("127.0.0.1", self.port, timeout=LONGEST_SECONDS)

    def ask(self, path: str, body: Any = None, *, method: str | None = None) -> tuple[int, Any]:
        """Ask with the key, and return the status and what came."""
        headers = {"X-Layersim-Token": self.key}
        with contextlib.closing(self.line()) as line:
            sent = None if body is None else json.dumps(body).encode()
            line.request(method or ("GET" if body is None else "POST"), path, sent, headers)
            answer = line.getresponse()
            content = answer.read()
        kind = answer.headers.get("content-type", "")
        return answer.status, json.loads(content) if kind.startswith("application/json") else content

    def stop(self) -> str:
        """End it as Ctrl-C does, and return all it said."""
        if self.process.poll() is None:
            self.process.terminate()
        return self.process.communicate(timeout=LONGEST_SECONDS)[0]


def begin(folder: Path, *words: str) -> Running:
    """Start a page, and wait until it can be opened."""
    process = subprocess.Popen(
        [sys.executable, "-m", "layersim", "open", *words, "--folder", str(folder), "--no-browser"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        stdin=subprocess.DEVNULL,
        text=True,
        cwd=Path(__file__).parents[2],
    )
    assert process.stdout is not None
    said = ""
    while "#key=" not in said.rpartition("http://")[2] or not said.endswith("\n"):
        line = process.stdout.readline()
        said += line
        assert line, f"it ended before it could be opened: {said}"
    address = next(word for word in said.split() if word.startswith("http://"))
    front, _, key = address.partition("/#key=")
    return Running(process, address, int(front.rpartition(":")[2]), key, folder)


Start = Callable[..., Running]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Start pages: with words of the command line, in a folder if one is given."""
    begun: list[Running] = []

    def started(*words: str, folder: Path | None = None) -> Running:
        where = folder or tmp_path / "folder"
        where.mkdir(exist_ok=True)
        begun.append(begin(where, *words))
        return begun[-1]

    yield started
    for one in begun:
        if one.process.poll() is None:
            one.process.kill()
        one.process.communicate(timeout=LONGEST_SECONDS)


@pytest.fixture
def running(start: Start) -> Running:
    """A page that has just been started in an empty folder."""
    return start()
