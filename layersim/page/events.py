"""What the program tells open pages by itself: one line of JSON an event, for as long as a page is open."""

from __future__ import annotations

import asyncio
import contextlib
import json
import threading
import time
from collections.abc import AsyncIterator
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from layersim.errors import LayersimError

BEAT_SECONDS: Final = 15.0
"""An empty line is sent so often, by which a page sees that the program is still there."""
MOST_LISTENERS: Final = 4
"""A browser holds six lines to one address at most. Of more pages, the first to come has to come again."""
MOST_WAITING: Final = 1000
"""Lines a page may be behind; one that is further behind is let go, and comes again."""


class Events:
    """Hands what happens to every page that listens. Anything may be told from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._listeners: list[_Listener] = []
        self._closed = False
        self._heard = time.monotonic()
        self.ever = False
        """Whether a page has ever listened."""

    def tell(self, event: dict[str, Any]) -> None:
        """Send an event to all open pages."""
        line = json.dumps(event, ensure_ascii=False) + "\n"
        with self._lock:
            listeners = list(self._listeners)
        for listener in listeners:
            listener.put(line)

    def begin(self) -> AsyncIterator[str]:
        """Return the lines of one page that begins to listen, in that page's own loop."""
        listener = _Listener()
        with self._lock:
            self._listeners.append(listener)
            self.ever = True
            too_many = self._listeners[:-MOST_LISTENERS]
            if self._closed:
                too_many = [listener]
        for one in too_many:
            one.put(None)
        return self._lines(listener)

    def close(self) -> None:
        """Let all pages go, and take no more."""
        with self._lock:
            self._closed, listeners = True, list(self._listeners)
        for listener in listeners:
            listener.put(None)

    def alone_seconds(self) -> float:
        """Return for how long no page has been listening."""
        with self._lock:
            return 0.0 if self._listeners else time.monotonic() - self._heard

    async def _lines(self, listener: _Listener) -> AsyncIterator[str]:
        try:
            yield "\n"
            while (line := await listener.next()) is not None:
                yield line
        finally:
            with self._lock:
                self._listeners.remove(listener)
                self._heard = time.monotonic()


class _Listener:
    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._queue: asyncio.Queue[str | None] = asyncio.Queue()

    def put(self, line: str | None) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has ended, and the page with it
            self._loop.call_soon_threadsafe(self._put, line)

    async def next(self) -> str | None:
        try:
            return await asyncio.wait_for(self._queue.get(), BEAT_SECONDS)
        except TimeoutError:
            return "\n"

    def _put(self, line: str | None) -> None:
        if line is None or self._queue.qsize() >= MOST_WAITING:
            while not self._queue.empty():
                self._queue.get_nowait()
            line = None
        self._queue.put_nowait(line)


def begin(app: Starlette) -> None:
    """Give the application its events; `app.state.stop` ends the program where one runs it."""
    app.state.events = Events()
    app.state.tell = app.state.events.tell
    app.state.stop = None


async def _events(request: Request) -> Response:
    lines = request.app.state.events.begin()
    return StreamingResponse(lines, media_type="application/x-ndjson")


def _stop(request: Request) -> Response:
    """End the program; every page is told."""
    stop = request.app.state.stop
    if stop is None:
        raise LayersimError("this page was not started by layersim open; end it where it was started")
    request.app.state.tell({"kind": "stopped"})
    stop()
    return JSONResponse({})


ROUTES: Final = [Route("/api/events", _events), Route("/api/stop", _stop, methods=["POST"])]
