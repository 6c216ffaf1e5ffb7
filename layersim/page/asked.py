"""What a page sends along: JSON or a picture, read first, then worked on in a thread."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from layersim.errors import LayersimError

Asked = dict[str, Any]


def with_json(answer: Callable[[Request, Asked], Any]) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that gives `answer` the table of JSON a page sent, and sends what it returns."""

    async def endpoint(request: Request) -> Response:
        asked = table_in(await request.body())
        found = await run_in_threadpool(answer, request, asked)
        return found if isinstance(found, Response) else JSONResponse(found)

    return endpoint


def with_bytes(answer: Callable[[Request, bytes], Any]) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that gives `answer` the bytes that a page sent, and sends what it returns."""

    async def endpoint(request: Request) -> Response:
        raw = await request.body()
        return JSONResponse(await run_in_threadpool(answer, request, raw))

    return endpoint


def table_in(raw: bytes) -> Asked:
    """Return the table that a body holds as JSON; raises LayersimError if it holds none."""
    try:
        asked = json.loads(raw)
        # Half of a pair of code units is a text that can be neither written nor sent back.
        json.dumps(asked, ensure_ascii=False).encode()
    except (ValueError, RecursionError):
        asked = None
    if not isinstance(asked, dict):
        raise LayersimError("the page sent something else than a table of JSON; load it again")
    return asked


def text_of(asked: Asked, key: str, *, most: int = 200) -> str:
    """Return a text that a page must have sent."""
    value = asked.get(key)
    if not isinstance(value, str) or not 0 < len(value) <= most:
        raise LayersimError(f"{key}: found no text of 1 to {most} letters")
    return value


def number_of(asked: Asked, key: str, *, low: float, high: float) -> float:
    """Return a number that a page must have sent."""
    value = asked.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise LayersimError(f"{key}: expected a number from {low:g} to {high:g}")
    return float(value)


def yes_or_no(asked: Asked, key: str) -> bool:
    """Return what a page said of something: true or false, false where it said nothing."""
    value = asked.get(key, False)
    if not isinstance(value, bool):
        raise LayersimError(f"{key}: expected true or false")
    return value
