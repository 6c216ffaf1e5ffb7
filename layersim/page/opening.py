"""Open the page in the browser."""

from __future__ import annotations

import threading
import webbrowser


def open_browser(address: str) -> None:
    """Open an address in the usual browser, without waiting for it."""
    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
