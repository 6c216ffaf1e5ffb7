"""Targets from a picture: the spot's own mean, and nothing of a file that means harm."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from layersim import colour
from layersim.decide.artwork import main_colours, proposed_targets, read_artwork
from layersim.page.uploads import MOST_KEPT, PREFIX, Uploads, plain_name

from . import pictures
from .asking import Asking, asking

__all__ = ["asking"]
UPLOAD = "/api/upload/artwork?name=cover.png"


def spot(asking: Asking, found: str, x: float, y: float, **more: Any) -> Any:
    return asking.post("/api/spot", {"id": found, "x": x, "y": y, "place": "mid", **more})


class TestSpot:
    @pytest.mark.parametrize(("x", "place"), [(16, "shadow"), (50, "mid"), (83, "light")])
    def test_a_flat_field_is_its_own_colour(self, asking: Asking, x: float, place: str) -> None:
        got = asking.post(UPLOAD, pictures.artwork())
        told = spot(asking, got["id"], x, 50)
        assert told["hex"] == "#{:02x}{:02x}{:02x}".format(*pictures.COLOURS[place])
        assert told["spread"] == 0.0

    def test_light_is_averaged_and_not_the_numbers_of_the_file(self, asking: Asking) -> None:
        """Half black and half white reflect half the light: #bcbcbc (IEC 61966-2-1), not #808080."""
        pixels = np.zeros((100, 100, 3), dtype=np.uint8)
        pixels[:, 50:] = 255
        got = asking.post(UPLOAD, pictures.png(pixels))
        told = spot(asking, got["id"], 50, 50, size=20)
        assert told["hex"] == "#bcbcbc"
        assert told["spread"] > 30.0
        assert any("point at a smaller region" in one for one in told["words"])

    def test_what_is_proposed_is_what_match_proposes(self, asking: Asking, tmp_path: Any) -> None:
        path = tmp_path / "cover.png"
        path.write_bytes(pictures.artwork(noisy=True))
        picture = read_artwork(path)
        got = asking.post(UPLOAD, path.read_bytes())
        for place, patch in proposed_targets(picture, main_colours(picture)).items():
            assert got["proposed"][place]["lab"] == pytest.approx(patch.lab, abs=0.01)
            assert colour.lab_of_hex(got["proposed"][place]["hex"]) == pytest.approx(patch.lab, abs=0.6)

    @pytest.mark.parametrize(
        "asked",
        [
            {},
            {"id": "nobody", "x": 1, "y": 1, "place": "mid"},
            {"id": 3, "x": 1, "y": 1, "place": "mid"},
            {"x": 101, "y": 1, "place": "mid"},
            {"x": "1", "y": 1, "place": "mid"},
            {"x": 1, "y": None, "place": "mid"},
            {"x": 1, "y": 1, "size": 0, "place": "mid"},
            {"x": 1, "y": 1, "size": 99, "place": "mid"},
        ],
    )
    def test_what_points_nowhere_is_refused(self, asking: Asking, asked: Any) -> None:
        found = asking.post(UPLOAD, pictures.artwork())["id"]
        assert asking.refused("POST", "/api/spot", {"id": found, **asked} if "x" in asked else asked)


class TestUpload:
    @pytest.mark.parametrize("what", list(pictures.HOSTILE))
    def test_what_is_no_picture_is_told_and_nothing_stays(self, asking: Asking, what: str) -> None:
        words = asking.refused("POST", UPLOAD, pictures.HOSTILE[what])
        assert "layersim-page-" not in words
        uploads = asking.app.state.uploads
        assert uploads._folder is None or not list(uploads._folder.iterdir())

    def test_nothing_but_the_colours_is_kept(self, asking: Asking) -> None:
        file = io.BytesIO()
        exif = Image.Exif()
        exif[0x010E] = "a secret place"
        Image.new("RGB", (64, 48), (200, 30, 30)).save(file, format="jpeg", exif=exif)
        found = asking.post(UPLOAD, file.getvalue())["id"]
        answer = asking.client.get(f"/api/picture/{found}")
        assert answer.headers["content-type"] == "image/png"
        assert b"secret" not in answer.content
        assert Image.open(io.BytesIO(answer.content)).size == (64, 48)
        assert not list(asking.app.state.uploads._folder.iterdir())

    def test_a_picture_that_is_gone_is_told(self, asking: Asking) -> None:
        first = asking.post(UPLOAD, pictures.artwork())["id"]
        for _ in range(4):
            asking.post(UPLOAD, pictures.artwork())
        assert "drop it again" in asking.refused("GET", f"/api/picture/{first}")


class TestUploads:
    @pytest.mark.parametrize(
        "name",
        ["../../etc/passwd", "..", "/", "C:\\x\\y.png", "a\nb.png", "\x00", "." * 99, "é" * 500 + ".jpg"],
    )
    def test_no_name_leads_out_of_its_folder(self, name: str) -> None:
        uploads = Uploads()
        path = uploads.path(uploads.keep(b"x", name=name))
        assert uploads._folder is not None
        assert path.is_file()
        assert path.resolve().parent.parent == uploads._folder.resolve()
        assert plain_name(name) == path.name

    def test_only_a_few_are_kept_and_none_after_the_end(self) -> None:
        uploads = Uploads()
        names = [uploads.keep(b"x", name="a.png") for _ in range(MOST_KEPT + 3)]
        folder = uploads._folder
        assert folder is not None
        assert len(list(folder.iterdir())) == MOST_KEPT
        assert uploads.path(names[-1]).is_file()
        del uploads
        assert not folder.exists()

    def test_what_a_killed_run_left_is_swept_and_a_running_ones_is_not(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
        ended = subprocess.Popen([sys.executable, "-c", ""])
        ended.wait()
        left = tmp_path / f"{PREFIX}{ended.pid}-x"
        running = tmp_path / f"{PREFIX}{os.getpid()}-x"
        for folder in (left, running, tmp_path / f"{PREFIX}other"):
            folder.mkdir()
        uploads = Uploads()
        uploads.keep(b"x", name="a.png")
        assert not left.exists()
        assert running.exists()
        assert (tmp_path / f"{PREFIX}other").exists()
