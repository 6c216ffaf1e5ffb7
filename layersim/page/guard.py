"""Who is let in: this machine's own page, and nobody else.

The page listens on the loopback address only. Another web page in the same browser, another user of the
machine and a name that is made to point here are kept out: the Host must be ours, a request that comes from a
page must come from ours, and everything below ``/api/`` needs a token that only who was given the page's
address has. The token travels in the address behind the ``#``, which no browser sends, and then in a header,
which no other page can set.
"""

from __future__ import annotations

import asyncio
import hmac
import json
from typing import Any, Final

from starlette.exceptions import HTTPException

TOKEN_HEADER: Final = b"x-layersim-token"
MOST_BODY_BYTES: Final = 1 * 2**20
MOST_UPLOAD_BYTES: Final = 64 * 2**20
UPLOADS: Final = "/api/upload/"
"""Paths below which a picture may be sent."""
BODY_SECONDS: Final = 60.0
"""A body must have come in this time; this machine sends to itself."""
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; "
    "img-src 'self' blob: data:; connect-src 'self'; font-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS: Final = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)
_OURS: Final = frozenset(name for name, _ in HEADERS)

_Headers = dict[bytes, list[bytes]]


class Guard:
    """Let through what comes from our own page, and put our headers on every answer."""

    def __init__(self, app: Any, *, token: str, hosts: frozenset[str]) -> None:
        self.app, self.token = app, token.encode()
        self.hosts = frozenset(host.encode() for host in hosts)
        self.origins = frozenset(f"http://{host}".encode() for host in hosts)

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Answer one request; as ASGI has it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def with_headers(message: Any) -> None:
            if message["type"] == "http.response.start":
                kept = [pair for pair in message.get("headers", []) if pair[0].lower() not in _OURS]
                message = {**message, "headers": [*kept, *HEADERS]}
            await send(message)

        refused = self._refused(scope)
        if refused:
            await _say(with_headers, *refused)
            return
        await self.app(scope, _bounded(receive, _most(scope)), with_headers)

    def _refused(self, scope: Any) -> tuple[int, str] | None:
        headers: _Headers = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.lower(), []).append(value)
        hosts = headers.get(b"host", [])
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            return 421, "this page answers to its own address only"
        if not self._from_us(scope, headers):
            return 403, "another page may not ask here"
        if _climbs(scope["path"]):
            return 404, "there is nothing here"
        if scope["path"].startswith("/api/"):
            given = headers.get(TOKEN_HEADER, [])
            if len(given) != 1 or not hmac.compare_digest(given[0], self.token):
                return 401, "this page was opened without its key; open it again from layersim"
        for length in headers.get(b"content-length", []):
            if not length.isdigit() or len(length) > 18 or int(length) > _most(scope):
                return 413, _too_large_words(_most(scope))
        return None

    def _from_us(self, scope: Any, headers: _Headers) -> bool:
        """Return whether a request comes from our page, from the painter's own hand, or from no browser.

        The front page alone may be come to from elsewhere, as a page of its own: it holds nothing, and the
        file that opens it for the painter counts as elsewhere.
        """
        if any(one.lower() not in self.origins for one in headers.get(b"origin", [])):
            return False
        front = (scope["method"], scope["path"], headers.get(b"sec-fetch-dest"))
        if front == ("GET", "/", [b"document"]) and headers.get(b"sec-fetch-mode") == [b"navigate"]:
            return True
        return all(one in (b"none", b"same-origin") for one in headers.get(b"sec-fetch-site", []))


def _climbs(path: str) -> bool:
    """Return whether a path, decoded, may lead elsewhere than it seems to."""
    return ".." in path.split("/") or any(letter in '\\:%"<>|' or letter < " " for letter in path)


def _most(scope: Any) -> int:
    return MOST_UPLOAD_BYTES if scope["path"].startswith(UPLOADS) else MOST_BODY_BYTES


def _too_large_words(most: int) -> str:
    return f"this is too large; expected at most {most // 2**20} MB"


def _bounded(receive: Any, most: int) -> Any:
    """Return what receives a body that neither goes on for ever nor comes for ever."""
    so_far, whole = 0, False
    until: float | None = None

    async def bounded() -> Any:
        nonlocal so_far, whole, until
        if whole:  # what comes now is only that the page went away, and that may take as long as it likes
            return await receive()
        now = asyncio.get_running_loop().time()
        until = now + BODY_SECONDS if until is None else until
        try:
            message = await asyncio.wait_for(receive(), max(0.0, until - now))
        except TimeoutError:
            raise HTTPException(408, "this came too slowly; send it again") from None
        so_far += len(message.get("body", b""))
        whole = not message.get("more_body", False)
        if so_far > most:
            raise HTTPException(413, _too_large_words(most))
        return message

    return bounded


async def _say(send: Any, status: int, words: str) -> None:
    body = json.dumps({"error": words}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
