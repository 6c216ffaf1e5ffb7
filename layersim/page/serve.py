"""Serve the page on this machine alone, until it is stopped."""

from __future__ import annotations

import contextlib
import logging
import secrets
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Any, Final

import h11
import uvicorn
from anyio import to_thread
from uvicorn.protocols.http.h11_impl import H11Protocol

from layersim.errors import LayersimError
from layersim.page.app import page_app

ADDRESS: Final = "127.0.0.1"
HEAD_SECONDS: Final = 10.0
"""Who has not said in this time what it wants is let go; so is who goes on sending after it was answered."""
MOST_LINES: Final = 1500
"""Requests open at once; one more is told to come again."""
MOST_AT_WORK: Final = 8
"""Requests worked out at once, in threads; the others wait their turn."""
MOST_FILES: Final = 4096
_SIGNALS: Final = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")


def serve(
    *,
    scheme: Path | None,
    folder: Path,
    port: int,
    ready: Callable[[str], None],
    opened: Callable[[], None] = lambda: None,
    alone_seconds: float | None = None,
) -> None:
    """Serve the page until it is stopped; `ready` is called with its address once it can be opened.

    `opened` is called when a page has been opened. Port 0 takes a free one. With `alone_seconds`, it ends by
    itself when no page has been open for so long. Raises LayersimError where the port is taken.
    """
    with _listening(port) as line:
        at = line.getsockname()[1]
        hosts = frozenset({f"{ADDRESS}:{at}"} | ({ADDRESS} if at == 80 else set()))
        token = secrets.token_urlsafe(32)
        app = page_app(token=token, hosts=hosts, scheme=scheme, folder=folder, beside=True)
        logging.getLogger("uvicorn").setLevel(logging.CRITICAL)
        config = uvicorn.Config(
            app,
            http=_Line,
            ws="none",
            loop="asyncio",
            lifespan="off",
            log_config=None,
            access_log=False,
            server_header=False,
            date_header=False,
            proxy_headers=False,
            backlog=MOST_LINES,
            limit_concurrency=_most_lines(),
            timeout_keep_alive=15,
            timeout_graceful_shutdown=2,
        )
        server = _Server(
            config,
            app.state,
            ready=lambda: ready(f"http://{ADDRESS}:{at}/#key={token}"),
            opened=opened,
            alone_seconds=alone_seconds,
        )
        app.state.stop = server.stop
        try:
            server.run(sockets=[line])
        finally:
            app.state.work.close()


class _Server(uvicorn.Server):
    """Ends on a signal without a word, lets go of pages that listen, and says when it can be asked."""

    def __init__(
        self,
        config: uvicorn.Config,
        state: Any,
        *,
        ready: Callable[[], None],
        opened: Callable[[], None],
        alone_seconds: float | None,
    ) -> None:
        super().__init__(config)
        self._state, self._ready, self._alone_seconds = state, ready, alone_seconds
        self._opened: Callable[[], None] | None = opened

    def stop(self) -> None:
        self.should_exit = True

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        to_thread.current_default_thread_limiter().total_tokens = MOST_AT_WORK
        await super().startup(sockets)
        self._ready()

    async def on_tick(self, counter: int) -> bool:
        if counter == 20:  # two seconds on: the first page has come, and the worker is in nobody's way
            threading.Thread(target=self._state.work.warm, daemon=True).start()
        if self._opened is not None and self._state.events.ever:
            self._opened()
            self._opened = None
        if self._alone_seconds is not None and self._state.events.alone_seconds() > self._alone_seconds:
            return True
        return await super().on_tick(counter)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._state.events.close()
        await super().shutdown(sockets)

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Let a signal end the page in good order; as uvicorn has it, it would be raised again at the end."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        numbers = [getattr(signal, name) for name in _SIGNALS if hasattr(signal, name)]
        before = {number: signal.signal(number, self.handle_exit) for number in numbers}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:  # noqa: ARG002
        self.should_exit = True


class _Line(H11Protocol):
    """A line to one who asks, which is not kept for those who never finish."""

    _late: Any = None

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        self._watch()

    def send_400_response(self, msg: str) -> None:
        super().send_400_response(msg)
        # A body may turn out to be garbage while its head is worked on: then nobody waits for that answer.
        if self.cycle is not None and not self.cycle.response_complete:
            self.cycle.disconnected = True
            self.cycle.message_event.set()

    def on_response_complete(self) -> None:
        super().on_response_complete()
        if self.conn.our_state is h11.DONE and self.conn.their_state is not h11.DONE:
            # It was answered before it had sent all: it may read the answer, but not send for ever.
            self.loop.call_later(HEAD_SECONDS, self.transport.abort)

    def connection_lost(self, exc: Exception | None) -> None:
        if self._late is not None:
            self._late.cancel()
        super().connection_lost(exc)

    def _watch(self) -> None:
        waits = self.conn.their_state is h11.IDLE
        if waits and self._late is None:
            self._late = self.loop.call_later(HEAD_SECONDS, self.transport.abort)
        elif not waits and self._late is not None:
            self._late.cancel()
            self._late = None


@contextlib.contextmanager
def _listening(port: int) -> Iterator[socket.socket]:
    line = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    with line:
        if sys.platform == "win32":
            # There, another program could otherwise listen on the same port beside us.
            line.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            line.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            line.bind((ADDRESS, port))
            line.listen(MOST_LINES)
        except OSError as fault:
            why = (fault.strerror or f"{fault}").lower()
            raise LayersimError(
                f"--port {port}: this port cannot be used ({why}). Leave --port out, and a free one is taken"
            ) from None
        yield line


def _most_lines() -> int:
    """Return how many lines may be open, and allow this process as many where the system does."""
    try:
        import resource
    except ImportError:  # not on Windows, which has no such limit
        return MOST_LINES
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MOST_FILES if hard == resource.RLIM_INFINITY else min(hard, MOST_FILES)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
            soft = wanted
    return MOST_LINES if soft == resource.RLIM_INFINITY else max(16, min(MOST_LINES, soft - 100))
