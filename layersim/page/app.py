"""The page's addresses, put together; each room of the page brings its own."""

from __future__ import annotations

import importlib
import logging
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from layersim.errors import LayersimError
from layersim.page.guard import Guard

STATIC: Final = Path(__file__).parent / "static"
ROOMS: Final = ("events", "work", "desk", "live", "shelf", "targets", "decide", "fit", "chip", "batch")
"""Modules of this package with ``ROUTES``, and ``begin(app)`` where they keep something."""


def page_app(*, token: str, hosts: frozenset[str], scheme: Path | None, folder: Path) -> Starlette:
    """Return the application: `scheme` is opened at once, `folder` is where files are listed and saved."""
    rooms = [importlib.import_module(f"layersim.page.{name}") for name in ROOMS]
    routes: list[Any] = [Route("/", _front)]
    for room in rooms:
        routes += room.ROUTES
    app = Starlette(
        routes=[*routes, Mount("/static", StaticFiles(directory=STATIC))],
        middleware=[Middleware(Guard, token=token, hosts=hosts)],
        exception_handlers={
            LayersimError: _told,
            HTTPException: _refused,
            500: _fault,
        },
    )
    app.state.folder, app.state.scheme_asked = folder, scheme
    for room in rooms:
        if hasattr(room, "begin"):
            room.begin(app)
    return app


def _front(_: Request) -> Response:
    return FileResponse(STATIC / "index.html")


def _told(_: Request, fault: Exception) -> Response:
    return JSONResponse({"error": f"{fault}"}, status_code=422)


def _refused(_: Request, fault: Exception) -> Response:
    assert isinstance(fault, HTTPException)
    usual = {404: "there is nothing here", 405: "this cannot be asked in this way"}
    words = usual.get(fault.status_code, fault.detail)
    return JSONResponse({"error": words}, status_code=fault.status_code, headers=fault.headers)


def _fault(_: Request, fault: Exception) -> Response:
    logging.getLogger("layersim.page").error("a fault of the program", exc_info=fault)
    words = f"a fault of the program, not yours ({type(fault).__name__}). Nothing was changed."
    return JSONResponse({"error": words}, status_code=500)
