"""Long work, beside: done by processes of their own, with progress and stop.

``app.state.work.start(kind, function, arguments)`` has ``function(progress=..., **arguments)`` called in a
worker process. `function` stands at the top of a module, and all that goes there and back can be pickled;
``progress(done, every, words)`` may be called at any time. What comes back must do as JSON, or `then` makes
that of it, in this process: a worker only works out, since it may be ended at any moment; `then` is where a
file is written.
"""

from __future__ import annotations

import logging
import pickle
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layersim.errors import LayersimError, UnknownNameError
from layersim.page.worker import FAULT, PROGRESS, RESULT, TOLD, place_of

MOST_RUNNING: Final = 2
MOST_WAITING: Final = 20
MOST_KEPT: Final = 20
"""Jobs that are done, and can still be asked for."""

_STOPPED: Final = "stopped"
_OVER: Final = ("done", "failed", _STOPPED)

Function = Callable[..., Any]


class Workers:
    """Jobs that wait, run and are done."""

    def __init__(self, tell: Callable[[dict[str, Any]], None]) -> None:
        self._tell = tell
        self._lock = threading.RLock()
        self._jobs: dict[str, _Task] = {}
        self._waiting: deque[_Task] = deque()
        self._running: set[_Task] = set()
        self._spare: subprocess.Popen[bytes] | None = None
        self._begun, self._closed = 0, False

    def start(
        self,
        kind: str,
        function: Function,
        arguments: dict[str, Any],
        then: Callable[[Any], dict[str, Any]] | None = None,
    ) -> str:
        """Begin a job, or let it wait for its turn, and return its name."""
        with self._lock:
            if self._closed or len(self._waiting) >= MOST_WAITING:
                raise LayersimError("too much is waiting to be worked out; stop some of it, or wait a moment")
            self._begun += 1
            job = _Task(f"{self._begun}", kind, pickle.dumps((function, arguments)), then)
            self._jobs[job.name] = job
            self._waiting.append(job)
            self._forget()
            self._begin()
        return job.name

    def told(self, name: str) -> dict[str, Any]:
        """Return how a job stands."""
        return self._job(name).told()

    def stop(self, name: str) -> dict[str, Any]:
        """End a job, whether it waits or runs; one that is over stays as it is."""
        job = self._job(name)
        with self._lock:
            if job.state in _OVER:
                return job.told()
            job.state = _STOPPED
            if job in self._waiting:
                self._waiting.remove(job)
            if job.process is not None:
                job.process.kill()
        self._tell({"kind": "work", **job.told()})
        return job.told()

    def warm(self) -> None:
        """Have a process ready for the next job."""
        with self._lock:
            if self._spare is None and not self._closed:
                self._spare = _process()

    def close(self) -> None:
        """End all jobs and every process."""
        with self._lock:
            self._closed = True
            self._waiting.clear()
            processes = [job.process for job in self._running if job.process is not None]
            processes += [self._spare] if self._spare is not None else []
            self._spare = None
        for process in processes:
            process.kill()
        for process in processes:
            _let_go(process)

    def _job(self, name: str) -> _Task:
        with self._lock:
            if name not in self._jobs:
                raise UnknownNameError("this piece of work is not there any more; start it again")
            return self._jobs[name]

    def _forget(self) -> None:
        over = [job for job in self._jobs.values() if job.state in _OVER]
        for job in over[:-MOST_KEPT]:
            del self._jobs[job.name]

    def _begin(self) -> None:
        while self._waiting and len(self._running) < MOST_RUNNING and not self._closed:
            job = self._waiting.popleft()
            job.process, self._spare = self._spare or _process(), None
            job.state = "running"
            self._running.add(job)
            threading.Thread(target=self._run, args=(job,), daemon=True).start()

    def _run(self, job: _Task) -> None:
        assert job.process is not None
        try:
            state, more = self._answer(job, job.process)
        except LayersimError as fault:
            state, more = "failed", {"error": f"{fault}"}
        except Exception as fault:
            state, more = "failed", _fault(type(fault).__name__, place_of(fault))
        _let_go(job.process)
        with self._lock:
            self._running.discard(job)
            news = job.state != _STOPPED and not self._closed
            if news:
                job.state, job.more, job.done = state, more, 1.0
            self._begin()
            self.warm()
        if news:
            self._tell({"kind": "work", **job.told()})

    def _answer(self, job: _Task, process: subprocess.Popen[bytes]) -> tuple[str, dict[str, Any]]:
        """Return how a job ended, and tell how it goes until then."""
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(job.asked)
            process.stdin.flush()
            while True:
                sort, *said = pickle.load(process.stdout)
                if sort != PROGRESS:
                    break
                with self._lock:
                    job.done, job.words = said
                    news = job.state != _STOPPED
                if news:
                    self._tell({"kind": "work", **job.told()})
        except (EOFError, OSError, ValueError, pickle.UnpicklingError):  # a line just closed
            words = "it was ended from outside, perhaps for lack of memory; ask for less at once"
            return "failed", {"error": words}
        if sort == RESULT:
            return "done", {"result": said[0] if job.then is None else job.then(said[0])}
        if sort == TOLD:
            return "failed", {"error": said[0]}
        assert sort == FAULT
        return "failed", _fault(*said)


class _Task:
    def __init__(
        self, name: str, kind: str, asked: bytes, then: Callable[[Any], dict[str, Any]] | None
    ) -> None:
        self.name, self.what, self.asked, self.then = name, kind, asked, then
        self.state, self.done, self.words = "waiting", 0.0, ""
        self.more: dict[str, Any] = {}
        self.process: subprocess.Popen[bytes] | None = None

    def told(self) -> dict[str, Any]:
        """Return what a page is told of it."""
        return {
            "id": self.name,
            "what": self.what,
            "state": self.state,
            "done": round(self.done, 3),
            "words": self.words,
            **self.more,
        }


def _fault(name: str, details: str) -> dict[str, Any]:
    logging.getLogger("layersim.page").error("layersim: a fault of the program: %s", details)
    return {"error": f"a fault of the program, not yours ({name}). Nothing was changed."}


def _process() -> subprocess.Popen[bytes]:
    """Start a worker. It gets no Ctrl-C of the terminal: its parent ends it."""
    # Modules come from where this process has them, not from the folder it is called in.
    program = f"import sys; sys.path[:] = {sys.path!r}; from layersim.page.worker import main; main()"
    apart: dict[str, Any]
    if sys.platform == "win32":
        apart = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
    else:
        apart = {"start_new_session": True}
    return subprocess.Popen(
        [sys.executable, "-P", "-c", program],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        **apart,
    )


def _let_go(process: subprocess.Popen[bytes]) -> None:
    """Wait for the end of a process that has said all; it is ended if it does not end by itself."""
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            try:
                pipe.close()
            except OSError:
                continue  # what was still to be written has nobody to read it
    try:
        process.wait(timeout=2)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def begin(app: Starlette) -> None:
    """Give the application its work."""
    app.state.work = Workers(app.state.tell)


def _told(request: Request) -> Response:
    return JSONResponse(request.app.state.work.told(request.path_params["name"]))


def _stop(request: Request) -> Response:
    return JSONResponse(request.app.state.work.stop(request.path_params["name"]))


ROUTES: Final = [
    Route("/api/work/{name}", _told, methods=["GET"]),
    Route("/api/work/{name}/stop", _stop, methods=["POST"]),
]
