"""A page opened in headless Chromium, where it is installed, at a phone's width."""

from __future__ import annotations

import json
import shutil
import subprocess
from html import escape
from pathlib import Path
from urllib.parse import urlsplit

CHROMIUM = shutil.which("chromium")
PHONE_WIDTH = 390
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # What the browser asks for on its own account gets nowhere.
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
)
_FLAGS = ("--headless", "--hide-scrollbars", *FLAGS)
# The browser itself is no narrower than 500 pixels, so the page lies in a frame of a phone's width.
_FRAME = """<!DOCTYPE html><html><body style="margin:0">
<iframe src="{name}" style="border:0;width:{width}px;height:800px"></iframe><pre id="said"></pre>
<script>window.addEventListener("message", function (e) {{
document.getElementById("said").textContent = e.data; }});</script></body></html>"""


def ask(page: str, script: str, folder: Path, *, times: int = 1) -> dict[str, object]:
    """Open a page at a phone's width, run a script in it, and return what its function `answer` returns.

    With more times, the page is opened so often with one browser profile, and the last answer counts.
    """
    said: dict[str, object] = {}
    asking = f"<script>{script}\nwindow.parent.postMessage(JSON.stringify(answer()), '*');</script></body>"
    (folder / "page.html").write_text(page.replace("</body>", asking), encoding="utf-8")
    frame = _FRAME.format(name="page.html", width=PHONE_WIDTH)
    (folder / "frame.html").write_text(frame, encoding="utf-8")
    for _ in range(times):
        done = _run(folder, "--virtual-time-budget=4000", "--dump-dom", (folder / "frame.html").as_uri())
        text = done.stdout.decode().split('<pre id="said">', 1)[1].split("</pre>", 1)[0]
        for sign in "<>&":
            text = text.replace(escape(sign), sign)
        said = json.loads(text)
    return said


def hosts_asked(page: str, folder: Path) -> set[str]:
    """Return the hosts that the browser asks for something while a page is open, its own errands included."""
    (folder / "page.html").write_text(page, encoding="utf-8")
    log = folder / "net.json"
    address = (folder / "page.html").as_uri()
    _run(folder, f"--log-net-log={log}", "--virtual-time-budget=4000", "--dump-dom", address)
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    urls = [event["params"]["url"] for event in events if "url" in event.get("params", {})]
    return {host for url in urls if (host := urlsplit(url).hostname)}


def _run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[bytes]:
    profile = folder / "profile"
    profile.mkdir(exist_ok=True)
    command = [str(CHROMIUM), *_FLAGS, f"--user-data-dir={profile}", *arguments]
    return subprocess.run(command, capture_output=True, timeout=120, check=True)
