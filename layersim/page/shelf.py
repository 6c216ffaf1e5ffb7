"""The shelf: all paints as swatches, found by words, and which of them the painter owns."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layersim import colour
from layersim.errors import InputFileError, LayersimError, UnknownNameError
from layersim.names import slug
from layersim.owned import mark, names_in, owned_file
from layersim.page.asked import Asked, with_json, yes_or_no
from layersim.page.css import css_of_swatches
from layersim.paint import KINDS
from layersim.shelf import HUE_WORDS, Place, Shelf, own_folder
from layersim.swatchcard import hue_of, masstone, swatch_card
from layersim.views import paint as paint_view
from layersim.views.shelf import none_words, source_words
from layersim.writers.html import content

MOST_WORDS: Final = 200
MOST_NAMES: Final = 500
"""Paints ticked at once."""
_VIEWING: Final = colour.Viewing()
# Two pages may tick at the same moment.
_writing: Final = threading.Lock()
_looks: dict[tuple[Path, int], dict[str, Any]] = {}


def shelf_of(app: Starlette) -> Shelf:
    """Return the shelf as it is now, the folders of the open scheme first."""
    return Shelf.usual(*getattr(getattr(app.state, "desk", None), "folders", ()))


def _shelf(request: Request) -> Response:
    shelf = shelf_of(request.app)
    words = request.query_params.get("words", "")[:MOST_WORDS]
    places = shelf.search(words)
    have = _owned(shelf)
    return JSONResponse(
        {
            "paints": [_told(place, owned=place.paint.name in have["owned"]) for place in places],
            "none": "" if places else none_words(shelf, words),
            "kinds": list(KINDS),
            "hues": list(dict.fromkeys(HUE_WORDS.values())),
            "folder": str(own_folder()),
            "owned_file": have["file"],
            "notices": [*shelf.notices, *have["notices"]],
        }
    )


def _told(place: Place, *, owned: bool) -> dict[str, Any]:
    paint = place.paint
    return {
        "name": paint.name,
        "kind": paint.kind,
        "own": not place.starter,
        "invented": paint.invented,
        "owned": owned,
        "note": paint.note,
        "source": source_words(place),
        **_look(place),
    }


def _look(place: Place) -> dict[str, Any]:
    """Return a paint's colours, kept for as long as its file is not written again."""
    key = (place.path, place.path.stat().st_mtime_ns)
    if key not in _looks:
        _looks[key] = {
            "hue": hue_of(place.paint),
            "lightness": round(float(colour.lab(masstone(place.paint), _VIEWING)[0]), 1),
            **css_of_swatches(place.paint, _VIEWING),
        }
    return _looks[key]


def _paint(request: Request) -> Response:
    """Send a paint's own page, as `layersim paint` shows it."""
    shelf = shelf_of(request.app)
    place = shelf.place(request.query_params.get("name", ""))
    view = paint_view.view(swatch_card(place.paint), place.path, notices=tuple(shelf.notices))
    return JSONResponse({"name": place.paint.name, "html": content(view)})


def _owned(shelf: Shelf) -> dict[str, Any]:
    """Return the names of paints owned, as the shelf has them, and what in their file is none."""
    path = owned_file()
    found: dict[str, Any] = {"file": str(path), "owned": [], "notices": []}
    if not path.exists():
        return found
    try:
        lines = names_in(path)
    except InputFileError as fault:
        return found | {"notices": [str(fault)]}
    names = {slug(place.paint.name): place.paint.name for place in shelf.places()}
    for line, name in lines:
        try:
            known = names.get(slug(name)) or shelf.find(name).name
        except LayersimError as fault:
            found["notices"].append(f"{path}: line {line}: {fault}")
        else:
            found["owned"].append(known)
    return found


def _get_owned(request: Request) -> Response:
    return JSONResponse(_owned(shelf_of(request.app)))


def _set_owned(request: Request, asked: Asked) -> Any:
    """Tick paints or take the tick away: {"names": [...], "owned": true or false}."""
    names, shelf = asked.get("names"), shelf_of(request.app)
    if not isinstance(names, list) or not 0 < len(names) <= MOST_NAMES:
        raise LayersimError(f"names: expected 1 to {MOST_NAMES} names of paints")
    if not all(isinstance(name, str) for name in names):
        raise UnknownNameError("names: expected names of paints")
    with _writing:
        mark(owned_file(), [shelf.find(name).name for name in names], owned=yes_or_no(asked, "owned"))
        answer = _owned(shelf)
    tell = getattr(request.app.state, "tell", None)
    if tell is not None:
        tell({"kind": "owned", "owned": answer["owned"]})
    return answer


ROUTES: Final = [
    Route("/api/shelf", _shelf),
    Route("/api/paint", _paint),
    Route("/api/owned", _get_owned, methods=["GET"]),
    Route("/api/owned", with_json(_set_owned), methods=["POST"]),
]
