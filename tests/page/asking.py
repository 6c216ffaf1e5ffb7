"""Asks a page's rooms without a browser or a network."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from layersim.page.app import page_app

HOST = "127.0.0.1:5000"
KEY = "a key"


class Asking:
    """Sends requests to one application, with its key."""

    def __init__(self, client: Any, app: Any) -> None:
        self.client, self.app = client, app

    def get(self, path: str, **query: str) -> Any:
        return self._good(self.client.get(path, params=query or None))

    def post(self, path: str, asked: Any) -> Any:
        body = {"content": asked} if isinstance(asked, bytes) else {"json": asked}
        return self._good(self.client.post(path, **body))

    def refused(self, method: str, path: str, asked: Any = None) -> str:
        """Return the sentence with which something is refused."""
        body = (
            {"content": asked} if isinstance(asked, bytes) else {"json": asked} if asked is not None else {}
        )
        answer = self.client.request(method, path, **body)
        assert answer.status_code == 422, answer.text
        return str(answer.json()["error"])

    def worked(self, name: str) -> Any:
        """Wait for a piece of work, and return what came out."""
        for _ in range(1200):
            told = self.get(f"/api/work/{name}")
            if told["state"] not in ("waiting", "running"):
                assert told["state"] == "done", told
                return told["result"]
            time.sleep(0.05)
        raise AssertionError(f"it never ended: {told}")

    @staticmethod
    def _good(answer: Any) -> Any:
        assert answer.status_code == 200, answer.text
        return answer.json()


@pytest.fixture
def asking(tmp_path: Path) -> Iterator[Asking]:
    """A page that has just been started in an empty folder."""
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from starlette.testclient import TestClient
    folder = tmp_path / "folder"
    folder.mkdir()
    app = page_app(token=KEY, hosts=frozenset({HOST}), scheme=None, folder=folder)
    with TestClient(app, base_url=f"http://{HOST}", headers={"X-Layersim-Token": KEY}) as client:
        yield Asking(client, app)
    app.state.work.close()
