"""The page's addresses, put together; each room of the page brings its own."""

from __future__ import annotations

import asyncio
import importlib
import logging
import threading
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Match, Mount, Route
from starlette.staticfiles import StaticFiles

from layersim.errors import LayersimError
from layersim.page.guard import Guard
from layersim.page.worker import place_of

STATIC: Final = Path(__file__).parent / "static"
BASE: Final = ("events", "work")
ROOMS: Final = (
    "desk", "live", "shelf", "targets", "decide", "fit", "chip", "brush", "figure", "form", "batch",
)  # fmt: skip
"""Modules of this package with ``ROUTES``, and ``begin(app)`` where they keep something.

The base is needed to serve anything; the others come in the order in which a page asks for them.
"""


def page_app(
    *, token: str, hosts: frozenset[str], scheme: Path | None, folder: Path, beside: bool = False
) -> Starlette:
    """Return the application: `scheme` is opened at once, `folder` is where files are listed and saved.

    Importing the rooms takes longer than sending the first page. With `beside`, that is done while the page
    is served already, and what is asked of a room waits until it is there.
    """
    coming = _Coming()
    app = Starlette(
        routes=[Route("/", _front), Mount("/static", StaticFiles(directory=STATIC))],
        middleware=[Middleware(Guard, token=token, hosts=hosts), Middleware(_Waits, coming=coming)],
        exception_handlers={
            LayersimError: _told,
            HTTPException: _refused,
            ClientDisconnect: _left,
            500: _fault,
        },
    )
    app.state.folder, app.state.scheme_asked = folder, scheme
    app.router.redirect_slashes = False
    coming.routes = app.router.routes
    _begin(app, BASE)
    if beside:
        threading.Thread(target=coming.run, args=(app,), daemon=True).start()
    else:
        _begin(app, ROOMS)
        coming.over = True
    return app


def _begin(app: Starlette, names: tuple[str, ...]) -> None:
    for name in names:
        room = importlib.import_module(f"layersim.page.{name}")
        if hasattr(room, "begin"):
            room.begin(app)
        app.router.routes.extend(room.ROUTES)


class _Coming:
    """Rooms that are still being imported."""

    def __init__(self) -> None:
        self.over = False
        self.fault: Exception | None = None
        self.routes: list[BaseRoute] = []

    def run(self, app: Starlette) -> None:
        try:
            _begin(app, ROOMS)
        except Exception as fault:  # told to every page that asks
            self.fault = fault
        finally:
            self.over = True

    def may_bring(self, scope: Any) -> bool:
        """Return whether what is asked for is not there, but may come."""
        return not self.over and all(route.matches(scope)[0] is Match.NONE for route in list(self.routes))


class _Waits:
    """Lets a request wait for the room it belongs to."""

    def __init__(self, app: Any, *, coming: _Coming) -> None:
        self.app, self.coming = app, coming

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        while scope["type"] == "http" and self.coming.may_bring(scope):
            await asyncio.sleep(0.01)
        if self.coming.fault is not None and scope["path"].startswith("/api/"):
            raise self.coming.fault
        await self.app(scope, receive, send)


def _front(_: Request) -> Response:
    return FileResponse(STATIC / "index.html")


def _told(_: Request, fault: Exception) -> Response:
    # A fault that another program or page may have made has a status of its own.
    return JSONResponse({"error": f"{fault}"}, status_code=getattr(fault, "status", 422))


def _refused(_: Request, fault: Exception) -> Response:
    assert isinstance(fault, HTTPException)
    usual = {404: "there is nothing here", 405: "this cannot be asked in this way"}
    words = usual.get(fault.status_code, fault.detail)
    return JSONResponse({"error": words}, status_code=fault.status_code, headers=fault.headers)


def _left(_: Request, __: Exception) -> Response:
    return Response(status_code=400)  # nobody is there any more to read it


def _fault(_: Request, fault: Exception) -> Response:
    logging.getLogger("layersim.page").error("layersim: a fault of the program: %s", place_of(fault))
    words = f"a fault of the program, not yours ({type(fault).__name__}). Nothing was changed."
    return JSONResponse({"error": words}, status_code=500)
