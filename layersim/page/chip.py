"""A chip, or the greys of a preshade, read off a photograph beside a 24-patch chart or grey cards."""

from __future__ import annotations

import io
import threading
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layersim import colour
from layersim.errors import LayersimError
from layersim.fitting.chip import GREY_CARD, SPOT_SIZE, Grey, Reference, read_reference, spot_seen
from layersim.measure.photograph import Photograph
from layersim.page.asked import Asked, number_of, text_of, with_bytes, with_json
from layersim.page.css import css_of_one
from layersim.page.fitwork import small_picture
from layersim.page.uploads import uploads_of
from layersim.views.preview import lab_words

MOST_GREYS: Final = 6
MOST_SIZE: Final = 50.0


class Chips:
    """The photograph that spots are read of just now, opened once: that takes a second or two."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._asked: tuple[str, tuple[Grey, ...]] | None = None
        self._reference: Reference | None = None

    def reference(self, app: Any, name: str, greys: tuple[Grey, ...]) -> Reference:
        """Return a photograph and what tells its colours; raises LayersimError if nothing does."""
        uploads = uploads_of(app)
        with self._lock:
            path = uploads.path(name)
            if self._asked != (name, greys) or self._reference is None:
                self._reference = None
                with uploads.by_bare_names():
                    self._reference = read_reference(path, greys=greys)
                self._asked = (name, greys)
            return self._reference


def begin(app: Any) -> None:
    """Let the application keep the photograph that is read just now."""
    app.state.chips = Chips()


def _upload(request: Request, raw: bytes) -> Any:
    """Keep a photograph of a chip or a model, and say how large it is."""
    from layersim.measure.photograph import read_photograph

    uploads = uploads_of(request.app)
    found = uploads.keep(raw, name=request.query_params.get("name", ""))
    path = uploads.path(found)
    try:
        with uploads.by_bare_names():
            photograph = read_photograph(path)
    except LayersimError:
        uploads.drop(found)
        raise
    (path.parent / "seen.jpg").write_bytes(_jpeg(photograph))
    return {
        "id": found,
        "name": path.name,
        "width": photograph.width,
        "height": photograph.height,
        "size": SPOT_SIZE,
        "grey_card": GREY_CARD,
    }


def _jpeg(photograph: Photograph) -> bytes:
    file = io.BytesIO()
    small_picture(photograph).save(file, format="jpeg", quality=88)
    return file.getvalue()


def _picture(request: Request) -> Response:
    path = uploads_of(request.app).path(request.path_params["name"]).parent / "seen.jpg"
    if not path.is_file():
        raise LayersimError("this picture is no photograph of a chip")
    return Response(path.read_bytes(), media_type="image/jpeg")


def _spot(request: Request, asked: Asked) -> Any:
    """Return the colour of a spot: {"id", "x", "y", "size", "light", "greys": [{"x", "y", "reflects"}]}."""
    name = text_of(asked, "id")
    at = _point(asked)
    size = number_of(asked, "size", low=0.1, high=MOST_SIZE) if "size" in asked else SPOT_SIZE
    viewing = colour.Viewing(text_of(asked, "light")) if asked.get("light") else colour.Viewing()
    reference = request.app.state.chips.reference(request.app, name, _greys(asked.get("greys") or []))
    with uploads_of(request.app).by_bare_names():
        spot = spot_seen(reference, at, viewing=viewing, size=size)
    return {
        "lab": [round(float(value), 2) for value in spot.lab],
        "lab_words": lab_words(spot.lab),
        "hex": colour.hex_of(colour.lab_on_screen(spot.lab, viewing).rgb),
        "css": css_of_one(spot.lab, viewing),
        "light": viewing.light,
        "doubt": round(spot.doubt, 2),
        "lightness_doubt": round(spot.lightness_doubt, 2),
        "words": [*reference.notes, *spot.notes],
    }


def _point(asked: Asked) -> tuple[float, float]:
    return number_of(asked, "x", low=0.0, high=100.0), number_of(asked, "y", low=0.0, high=100.0)


def _greys(given: Any) -> tuple[Grey, ...]:
    if not isinstance(given, list) or len(given) > MOST_GREYS or not all(isinstance(g, dict) for g in given):
        raise LayersimError(f"greys: expected where grey cards lie in the picture, {MOST_GREYS} at most")
    return tuple(
        Grey(_point(one), number_of(one, "reflects", low=0.01, high=1.0) if "reflects" in one else GREY_CARD)
        for one in given
    )


ROUTES: Final = [
    Route("/api/upload/chip", with_bytes(_upload), methods=["POST"]),
    Route("/api/chip", with_json(_spot), methods=["POST"]),
    Route("/api/chip/{name}/picture", _picture),
]
