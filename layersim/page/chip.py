"""A chip, or the greys of a preshade, read off a photograph beside a 24-patch chart or grey cards."""

from __future__ import annotations

import io
import threading
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layersim import colour
from layersim.documents.points import MOST_SIZE, SPOT_SIZE, Point
from layersim.errors import LayersimError, UnknownNameError
from layersim.figure.greys import hand_error
from layersim.fitting.chip import GREY_CARD, Grey, Reference, SeenSpot, read_reference, spot_seen
from layersim.fitting.greys import SeenGreys, seen_greys
from layersim.measure.photograph import Photograph
from layersim.page.asked import Asked, number_of, text_of, with_bytes, with_json
from layersim.page.css import css_of_one
from layersim.page.fitwork import small_picture
from layersim.page.uploads import uploads_of
from layersim.scheme.records import GreysGiven, Scheme
from layersim.views.chip import greys_words, seen_words
from layersim.views.notices import sentences

MOST_GREYS: Final = 6


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
    """Return the colour of a spot, as of :func:`spot_of`; {"lamp"} that it is wanted for."""
    viewing = colour.Viewing(text_of(asked, "lamp")) if asked.get("lamp") else colour.Viewing()
    spot, words = spot_of(request.app, asked, viewing)
    return {**_told(spot, viewing), "doubt": round(spot.doubt, 2), "words": words}


def spot_of(app: Any, asked: Asked, viewing: colour.Viewing) -> tuple[SeenSpot, list[str]]:
    """Return a spot of a photograph, and what to know of it, its colour first.

    {"id", "x", "y", "size", "greys": [{"x", "y", "reflects"}]}.
    """
    name, at, greys = text_of(asked, "id"), _point(asked), greys_of(asked.get("greys") or [])
    size = number_of(asked, "size", low=0.1, high=MOST_SIZE) if "size" in asked else SPOT_SIZE
    reference = app.state.chips.reference(app, name, greys)
    uploads = uploads_of(app)
    with uploads.by_bare_names():
        spot = spot_seen(reference, at, viewing=viewing, size=size)
    about = [seen_words(spot, by_greys=bool(greys)), *reference.notes, *spot.notes]
    return spot, [f"{uploads.path(name).name}: {words}" for words in about]


def _told(spot: SeenSpot, viewing: colour.Viewing) -> dict[str, Any]:
    return {
        "lab": [round(float(value), 2) for value in spot.lab],
        "hex": colour.hex_of(colour.lab_on_screen(spot.lab, viewing).rgb),
        "css": css_of_one(spot.lab, viewing),
        "lamp": viewing.light,
    }


def _preshade(request: Request, asked: Asked) -> Any:
    """Return the greys of a preshade, and the changes that write them into an area of the scheme.

    {"shadow", "light": spots as of :func:`spot_of`, "area": its number}.
    """
    viewing, found = colour.Viewing(), {}
    for place in ("shadow", "light"):
        at = asked.get(place)
        if not isinstance(at, dict):
            raise LayersimError(f"{place}: expected where it is in the photograph")
        found[place], _ = spot_of(request.app, at, viewing)
    greys = seen_greys(**found)
    desk = request.app.state.desk
    with desk.lock:
        scheme, number = desk.scheme(), int(number_of(asked, "area", low=0, high=1e6))
        if number >= len(scheme.areas):
            raise UnknownNameError("this area is not there any more; look at the scheme again")
        edits = greys_edits(greys, scheme, number)
    return {
        "title": greys_words(greys),
        "warnings": sentences(greys.notes, first=""),
        **{place: _told(spot, viewing) for place, spot in found.items()},
        "edits": edits,
        "what": f"greys of {scheme.areas[number].name} off a photograph",
    }


def greys_edits(greys: SeenGreys, scheme: Scheme, number: int) -> list[dict[str, Any]]:
    """Return the changes of a scheme that write an area's greys into it."""
    at, value = ["area", number, "preshade"], [round(greys.darkest), round(greys.lightest)]
    put: dict[str, Any] = {"at": [*at, "greys"], "value": value}
    area = scheme.areas[number]
    error = hand_error(scheme, {area.name: greys})
    given = isinstance(area.preshade, GreysGiven)
    return [
        {"do": "set", **(put if given else {"at": at, "value": {"greys": value}})},
        {"do": "set", "at": ["hand", "greys"], "value": round(error, 1)},
    ]


def _point(asked: Asked) -> Point:
    return number_of(asked, "x", low=0.0, high=100.0), number_of(asked, "y", low=0.0, high=100.0)


def greys_of(given: Any) -> tuple[Grey, ...]:
    """Return the grey cards that a page pointed at."""
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
    Route("/api/greys", with_json(_preshade), methods=["POST"]),
]
