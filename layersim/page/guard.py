"""Who is let in: this machine's own page, and nobody else.

The page listens on the loopback address only. Another web page in the same browser, another user of the machine
and a name that is made to point here are kept out: the Host must be ours, a request that comes from a page must
come from ours, and everything below ``/api/`` needs a token that only who was given the page's address has. The
token travels in the address behind the ``#``, which no browser sends, and then in a header, which no other page
can set.
"""

from __future__ import annotations

import hmac
import json
from typing import Any, Final

TOKEN_HEADER: Final = b"x-layersim-token"
MOST_BODY_BYTES: Final = 1 * 2**20
MOST_UPLOAD_BYTES: Final = 64 * 2**20
UPLOADS: Final = "/api/upload/"
"""Paths below which a picture may be sent."""
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


class Guard:
    """Let through what comes from our own page, and put our headers on every answer."""

    def __init__(self, app: Any, *, token: str, hosts: frozenset[str]) -> None:
        self.app, self.token, self.hosts = app, token.encode(), hosts
        self.origins = frozenset(f"http://{host}" for host in hosts)

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Answer one request; as ASGI has it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def with_headers(message: Any) -> None:
            if message["type"] == "http.response.start":
                ours = {name for name, _ in HEADERS}
                kept = [pair for pair in message.get("headers", []) if pair[0].lower() not in ours]
                message = {**message, "headers": [*kept, *HEADERS]}
            await send(message)

        refused = self._refused(scope)
        if refused:
            await _say(with_headers, *refused)
            return
        most = MOST_UPLOAD_BYTES if scope["path"].startswith(UPLOADS) else MOST_BODY_BYTES
        await self.app(scope, _bounded(receive, most), with_headers)

    def _refused(self, scope: Any) -> tuple[int, str] | None:
        headers: dict[bytes, list[bytes]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.lower(), []).append(value)
        if [one.decode("latin-1").lower() for one in headers.get(b"host", [])] not in [[h] for h in self.hosts]:
            return 421, "this page answers to its own address only"
        origins = [one.decode("latin-1").lower() for one in headers.get(b"origin", [])]
        if any(one not in self.origins for one in origins):
            return 403, "another page may not ask here"
        site = headers.get(b"sec-fetch-site", [b"none"])
        if any(one not in (b"none", b"same-origin") for one in site):
            return 403, "another page may not ask here"
        if scope["path"].startswith("/api/"):
            given = headers.get(TOKEN_HEADER, [])
            if len(given) != 1 or not hmac.compare_digest(given[0], self.token):
                return 401, "this page was opened without its key; open it again from layersim"
        most = MOST_UPLOAD_BYTES if scope["path"].startswith(UPLOADS) else MOST_BODY_BYTES
        length = headers.get(b"content-length", [b"0"])[0]
        if not length.isdigit() or int(length[:20]) > most:
            return 413, f"this is too large; expected at most {most // 2**20} MB"
        return None


class TooLarge(Exception):
    """A body went on beyond what it may be."""


def _bounded(receive: Any, most: int) -> Any:
    so_far = 0

    async def bounded() -> Any:
        nonlocal so_far
        message = await receive()
        so_far += len(message.get("body", b""))
        if so_far > most:
            raise TooLarge
        return message

    return bounded


async def _say(send: Any, status: int, words: str) -> None:
    body = json.dumps({"error": words}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
