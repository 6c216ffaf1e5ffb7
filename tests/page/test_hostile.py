"""Whoever is not the painter's own page gets nothing, and whatever is sent, the page goes on."""

from __future__ import annotations

import contextlib
import json
import socket
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from layersim.page.guard import HEADERS, MOST_BODY_BYTES
from layersim.page.serve import HEAD_SECONDS
from tests.page.running import Running, begin

PRIVATE = "/api/shelf"


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """One page for all of these: each test finds it as the one before left it."""
    started = begin(tmp_path_factory.mktemp("hostile"))
    yield started
    assert started.process.poll() is None, "it did not live to the end"
    said = started.stop()
    assert "Traceback" not in said
    assert "a fault of the program" not in said
    assert said.endswith("The page has ended.\n")


def sent(running: Running, raw: bytes, *, seconds: float = 10.0) -> bytes:
    """Send bytes as they are, and return what comes until the other side ends or a time is over."""
    got = b""
    at = ("127.0.0.1", running.port)
    with socket.create_connection(at, timeout=seconds) as line, contextlib.suppress(OSError):
        line.sendall(raw)
        while piece := line.recv(65536):
            got += piece
    return got


def status(answer: bytes) -> int:
    return int(answer.split(b" ", 2)[1])


def request(
    running: Running, *lines: str, target: str = PRIVATE, method: str = "GET", body: bytes = b""
) -> int:
    """Ask with the header lines given and no others; return the status."""
    head = "\r\n".join([f"{method} {target} HTTP/1.1", *lines, "Connection: close", "", ""])
    return status(sent(running, head.encode("latin-1") + body))


def good(running: Running, **others: Any) -> list[str]:
    """Return the header lines of our own page."""
    return [f"Host: {running.host}", f"X-Layersim-Token: {running.key}"]


def test_our_own_page_is_let_in(one: Running) -> None:
    assert request(one, *good(one)) == 200
    ours = ["Sec-Fetch-Site: same-origin", f"Origin: http://{one.host}"]
    assert request(one, *good(one), *ours) == 200


@pytest.mark.parametrize(
    "hosts",
    [
        [],
        ["evil.example"],
        ["evil.example:{port}"],
        ["127.0.0.1"],
        ["127.0.0.1:1"],
        ["localhost:{port}"],
        ["127.0.0.1.evil.example:{port}"],
        ["127.0.0.1:{port}.evil.example"],
        ["evil.example@127.0.0.1:{port}"],
        ["127.0.0.2:{port}"],
        ["0.0.0.0:{port}"],
        ["[::1]:{port}"],
        ["2130706433:{port}"],
        ["127.0.0.1:{port}", "evil.example"],
        ["127.0.0.1:{port}", "127.0.0.1:{port}"],
        ["127.0.0.1:{port}, evil.example"],
        ["127.0.0.1:{port}\xe9"],
    ],
)
@pytest.mark.parametrize("target", ["/", PRIVATE, "/static/api.js"])
def test_a_name_made_to_point_here_gets_nothing(one: Running, hosts: list[str], target: str) -> None:
    """What a page elsewhere can do whose name is made to lead to this machine: its name stands in Host."""
    lines = [f"Host: {host.format(port=one.port)}" for host in hosts]
    assert request(one, *lines, f"X-Layersim-Token: {one.key}", target=target) in (400, 421)


def test_a_host_in_the_target_is_no_way_round(one: Running) -> None:
    assert request(one, *good(one), target=f"http://evil.example{PRIVATE}") == 404
    lines = ["Host: evil.example", f"X-Layersim-Token: {one.key}"]
    assert request(one, *lines, target=f"http://{one.host}{PRIVATE}") == 421


@pytest.mark.parametrize(
    "line",
    [
        "Origin: null",
        "Origin: http://evil.example",
        "Origin: https://127.0.0.1:{port}",
        "Origin: http://127.0.0.1:1",
        "Origin: http://localhost:{port}",
        "Origin: http://127.0.0.1:{port}.evil.example",
        "Origin: http://127.0.0.1:{port}\r\nOrigin: http://evil.example",
        "Sec-Fetch-Site: cross-site",
        "Sec-Fetch-Site: same-site",
        "Sec-Fetch-Site: same-origin\r\nSec-Fetch-Site: cross-site",
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST", "OPTIONS", "DELETE"])
def test_another_page_gets_nothing_even_with_the_key(one: Running, line: str, method: str) -> None:
    assert request(one, *good(one), line.format(port=one.port), method=method) == 403


def test_the_front_page_alone_may_be_come_to_from_elsewhere(one: Running) -> None:
    way = ["Sec-Fetch-Site: cross-site", "Sec-Fetch-Mode: navigate", "Sec-Fetch-Dest: document"]
    host = f"Host: {one.host}"
    assert request(one, host, *way, target="/") == 200
    assert request(one, host, *way[:2], "Sec-Fetch-Dest: iframe", target="/") == 403
    assert (
        request(one, host, *way[:1], "Sec-Fetch-Mode: no-cors", "Sec-Fetch-Dest: script", target="/") == 403
    )
    assert request(one, *good(one), *way) == 403
    assert request(one, host, *way, target="/static/api.js") == 403


@pytest.mark.parametrize(
    "lines",
    [
        [],
        ["X-Layersim-Token: "],
        ["X-Layersim-Token: wrong"],
        ["X-Layersim-Token: {key}x"],
        ["X-Layersim-Token: {short}"],
        ["X-Layersim-Token: {key}", "X-Layersim-Token: {key}"],
        ["X-Layersim-Token: wrong", "X-Layersim-Token: {key}"],
        ["X-Layersim-Token: {key}, {key}"],
        ["X-Layersim-Token: \xff"],
        ["Cookie: key={key}"],
        ["Authorization: Bearer {key}"],
    ],
)
def test_without_the_one_key_there_is_nothing(one: Running, lines: list[str]) -> None:
    keys = [line.format(key=one.key, short=one.key[:-1]) for line in lines]
    for target in (PRIVATE, f"{PRIVATE}?key={one.key}", "/api/not-there", "/api/events", "/api/stop"):
        assert request(one, f"Host: {one.host}", *keys, target=target) == 401
    assert request(one, f"Host: {one.host}", *keys, target="/api/stop", method="POST") == 401


def test_the_key_is_long_and_another_each_time(one: Running, running: Running) -> None:
    assert len(one.key) >= 40
    assert one.key != running.key
    assert request(running, f"Host: {running.host}", f"X-Layersim-Token: {one.key}") == 401


CLIMBS = [
    "/static/../app.py",
    "/static/..%2fapp.py",
    "/static/%2e%2e/app.py",
    "/static/%2e%2e%2fapp.py",
    "/static/.%2e/app.py",
    "/static/%252e%252e%252fapp.py",
    "/static/..%5capp.py",
    "/static/..\\app.py",
    "/static/%c0%ae%c0%ae/app.py",
    "/static/..%00/app.py",
    "/static/api.js%00.html",
    "/static//etc/passwd",
    "/static/%2fetc%2fpasswd",
    "/static/....//....//app.py",
    "/static/./../app.py",
    "/static",
    "/static/",
    "/static/C:%5cWindows%5cwin.ini",
    "/static/file:///etc/passwd",
    "/%2e%2e/%2e%2e/etc/passwd",
    "/..;/app.py",
    "//etc/passwd",
    "/static/" + "../" * 2000 + "etc/passwd",
    "/static/" + "a" * 5000,
]


@pytest.mark.parametrize("target", CLIMBS, ids=[target[:40] for target in CLIMBS])
def test_no_path_climbs(one: Running, target: str) -> None:
    assert request(one, *good(one), target=target) == 404


def test_a_body_too_large_is_refused_before_it_comes(one: Running) -> None:
    for length in (MOST_BODY_BYTES + 1, 10**17, 10**40):
        assert request(one, *good(one), f"Content-Length: {length}", method="POST") in (400, 413)
    for length in ("-1", "ten", "1e9", "0x10"):
        assert request(one, *good(one), f"Content-Length: {length}", method="POST") in (400, 413)


def test_an_endless_body_comes_to_an_end(one: Running) -> None:
    """In pieces whose number nobody said: it is cut where it is too large, whatever asks for it."""
    piece = b"10000\r\n" + b"x" * 65536 + b"\r\n"
    for target, method in (
        ("/api/owned", "POST"),
        (PRIVATE, "GET"),
        ("/", "GET"),
        ("/api/not-there", "POST"),
    ):
        head = "\r\n".join([f"{method} {target} HTTP/1.1", *good(one), "Transfer-Encoding: chunked", "", ""])
        went, begun = 0, time.monotonic()
        with socket.create_connection(("127.0.0.1", one.port), timeout=30) as line:
            line.sendall(head.encode())
            with contextlib.suppress(OSError):
                while time.monotonic() - begun < HEAD_SECONDS + 10:
                    line.sendall(piece)
                    went += 1
                    time.sleep(0.01)
        assert time.monotonic() - begun < HEAD_SECONDS + 5, target
        assert went > 1


def test_a_body_in_pieces_is_refused_where_it_is_too_large(one: Running) -> None:
    head = "\r\n".join(["POST /api/owned HTTP/1.1", *good(one), "Transfer-Encoding: chunked", "", ""])
    piece = b"10000\r\n" + b"x" * 65536 + b"\r\n"
    assert status(sent(one, head.encode() + piece * 17 + b"0\r\n\r\n", seconds=15)) == 413
    small = b'2\r\n{"\r\n4\r\na":1\r\n1\r\n}\r\n0\r\n\r\n'
    assert status(sent(one, head.encode() + small, seconds=2)) == 422


def test_who_never_finishes_is_let_go(one: Running) -> None:
    """Heads that are never sent whole, one letter at a time or none at all."""
    lines = [socket.create_connection(("127.0.0.1", one.port), timeout=30) for _ in range(50)]
    begun = time.monotonic()
    for line in lines[:25]:
        line.sendall(b"GET / HTT")
    while time.monotonic() - begun < HEAD_SECONDS + 1.5:
        time.sleep(0.5)
        for line in lines[:25]:
            with contextlib.suppress(OSError):
                line.sendall(b"P")
    for line in lines:
        line.settimeout(2)
        with contextlib.suppress(ConnectionError):
            while line.recv(4096):
                pass
        line.close()
    assert one.ask(PRIVATE)[0] == 200


GARBAGE = [
    b"\r\n\r\n",
    b"hello\r\n\r\n",
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    b"GET\r\n\r\n",
    b"GET / HTTP/9.9\r\n\r\n",
    b"GET /\xff\xfe HTTP/1.1\r\nHost: x\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost : x\r\n\r\n",
    b"GET / HTTP/1.1\r\nX: a\x00b\r\n\r\n",
    b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 20000 + b"\r\n",
    b"GET / HTTP/1.1\r\nX: " + b"y" * 200_000 + b"\r\n\r\n",
    b"GET /" + b"a" * 200_000 + b" HTTP/1.1\r\n\r\n",
    b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nab",
    b"POST / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n",
    b"POST / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
    bytes(range(256)) * 40,
]


@pytest.mark.parametrize("raw", GARBAGE, ids=range(len(GARBAGE)))
def test_what_is_no_request_is_refused(one: Running, raw: bytes) -> None:
    answer = sent(one, raw, seconds=HEAD_SECONDS + 5) if raw.strip() else b""
    assert not answer or 400 <= status(answer) < 500
    assert one.ask(PRIVATE)[0] == 200


def test_a_request_hidden_behind_another_is_let_in_by_itself(one: Running) -> None:
    """Two requests at once in one line: the second has no key, and is refused as it would be alone."""
    first = "\r\n".join([f"GET {PRIVATE} HTTP/1.1", *good(one), "", ""])
    second = "\r\n".join([f"GET {PRIVATE} HTTP/1.1", f"Host: {one.host}", "Connection: close", "", ""])
    answer = sent(one, (first + second).encode())
    assert answer.count(b"HTTP/1.1 200") == 1
    assert answer.count(b"HTTP/1.1 401") == 1


def test_no_websocket_is_opened(one: Running) -> None:
    upgrade = [
        "Upgrade: websocket",
        "Sec-WebSocket-Version: 13",
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
    ]
    head = "\r\n".join(
        [f"GET {PRIVATE} HTTP/1.1", f"Host: {one.host}", *upgrade, "Connection: upgrade", "", ""]
    )
    assert status(sent(one, head.encode(), seconds=1)) == 401
    other = ["Host: evil.example", *upgrade, "Connection: upgrade"]
    assert status(sent(one, "\r\n".join(["GET / HTTP/1.1", *other, "", ""]).encode(), seconds=1)) == 421


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "FOO"])
def test_odd_methods_do_nothing(one: Running, method: str) -> None:
    assert request(one, *good(one), method=method) == 405
    assert request(one, *good(one), method=method, target="/") == 405


@pytest.mark.parametrize("body", [b"", b"[]", b"null", b"{", b"[" * 100_000, b"\xff", b'{"a":1e999}', b"NaN"])
def test_what_is_no_table_is_told(one: Running, body: bytes) -> None:
    length = f"Content-Length: {len(body)}"
    assert request(one, *good(one), length, target="/api/owned", method="POST", body=body) == 422


def test_a_thousand_at_once_are_all_answered(one: Running) -> None:
    def once(_: int) -> int:
        for _ in range(20):  # the system may let a line wait; what it must not do is answer wrongly
            with contextlib.suppress(OSError):
                return request(one, *good(one), target="/static/api.js")
        return 0

    with ThreadPoolExecutor(200) as many:
        assert set(many.map(once, range(1000))) == {200}
    assert one.ask(PRIVATE)[0] == 200


def test_a_thousand_open_lines_leave_room_for_the_painter(one: Running) -> None:
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft < 1200:
        resource.setrlimit(resource.RLIMIT_NOFILE, (min(1200, hard), hard))
    lines = [socket.create_connection(("127.0.0.1", one.port), timeout=30) for _ in range(1000)]
    try:
        assert one.ask(PRIVATE)[0] == 200
    finally:
        for line in lines:
            line.close()
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def test_every_answer_has_our_headers(one: Running) -> None:
    for target, keys in (
        ("/", []),
        ("/static/api.js", []),
        (PRIVATE, good(one)[1:]),
        (PRIVATE, []),
        ("/no", []),
    ):
        head = "\r\n".join(
            [f"GET {target} HTTP/1.1", f"Host: {one.host}", *keys, "Connection: close", "", ""]
        )
        answer = sent(one, head.encode()).split(b"\r\n\r\n", 1)[0]
        for name, value in HEADERS:
            assert answer.count(name + b": " + value) == 1, (target, name)
        assert b"set-cookie" not in answer
        assert b"access-control" not in answer
        assert b"\r\nserver:" not in answer


def test_the_policy_lets_nothing_in_from_elsewhere() -> None:
    policy = dict(HEADERS)[b"content-security-policy"].decode()
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == "'self'"
    assert rules["style-src"] == "'self'"
    assert rules["connect-src"] == "'self'"
    assert "http" not in policy
    assert "unsafe-eval" not in policy


def test_nothing_of_a_name_is_taken_for_markup(one: Running) -> None:
    """A name comes back as JSON that no browser takes for a page."""
    name = "<img src=x onerror=alert(1)>"
    head = ["POST /api/owned HTTP/1.1", *good(one)]
    body = json.dumps({"names": [name], "owned": True}).encode()
    raw = "\r\n".join([*head, f"Content-Length: {len(body)}", "Connection: close", "", ""]).encode() + body
    answer = sent(one, raw)
    assert status(answer) == 422
    assert b"content-type: application/json" in answer
    assert b"nosniff" in answer


def test_only_this_machine_is_listened_to(one: Running) -> None:
    listening = [row.split() for row in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    ours = [row[1] for row in listening if row[3] == "0A" and int(row[1].split(":")[1], 16) == one.port]
    assert ours == [f"0100007F:{one.port:04X}"]


def test_memory_stays_small_under_all_of_this(one: Running) -> None:
    def sends(_: int) -> None:
        with contextlib.suppress(OSError):
            request(
                one,
                *good(one),
                f"Content-Length: {2**20}",
                target="/api/owned",
                method="POST",
                body=b"x" * 2**20,
            )

    threads = [threading.Thread(target=sends, args=(i,)) for i in range(40)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    status_file = Path(f"/proc/{one.process.pid}/status").read_text()
    used = int(next(row for row in status_file.splitlines() if row.startswith("VmRSS")).split()[1])
    assert used < 300 * 1024
