"""Targets from the artwork: a picture is dropped, and spots of it are pointed at."""

from __future__ import annotations

import io
import threading
import tomllib
from typing import Any, Final

import numpy as np
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layersim import colour
from layersim.decide.artwork import Artwork, Patch, main_colours, proposed_targets, read_artwork
from layersim.decide.spot import spot_in
from layersim.decide.targets import PLACE_WORDS
from layersim.decide.writing import target_words
from layersim.documents.points import MOST_SIZE, SPOT_SIZE
from layersim.errors import LayersimError
from layersim.page.asked import Asked, number_of, text_of, with_bytes, with_json
from layersim.page.css import css_of_one
from layersim.page.kept import Kept
from layersim.page.uploads import uploads_of
from layersim.views.artwork import sentences
from layersim.views.preview import lab_words

MOST_PICTURES: Final = 4
"""Pictures that spots can be read of at a time."""
_DAYLIGHT: Final = colour.Viewing()
# While a picture is decoded, the process's standard error is shut: one at a time.
_reading: Final = threading.Lock()


def begin(app: Any) -> None:
    """Let the application keep pictures as colours alone: nothing else that their files hold is kept."""
    pictures: Kept[Artwork] = Kept(MOST_PICTURES, gone="this picture is not kept any more; drop it again")
    app.state.pictures = pictures


def _upload(request: Request, raw: bytes) -> Any:
    """Read a picture, and propose targets from its main colours, as `layersim match --artwork` does."""
    uploads, pictures = uploads_of(request.app), request.app.state.pictures
    found = uploads.keep(raw, name=request.query_params.get("name", ""))
    with uploads.by_bare_names(), _reading:
        path = uploads.path(found)
        try:
            picture = read_artwork(path)
        finally:
            uploads.drop(found)
    pictures.keep(picture, name=found)
    proposed = proposed_targets(picture, main_colours(picture))
    height, width = picture.solid.shape
    return {
        "id": found,
        "name": path.name,
        "width": width,
        "height": height,
        "size": SPOT_SIZE,
        "most_size": MOST_SIZE,
        "words": sentences(picture, {}, proposed=False),
        "proposed": {place: _told(picture, patch, place) for place, patch in proposed.items()},
    }


def _spot(request: Request, asked: Asked) -> Any:
    """Return the colour of a spot: {"id", "x", "y" in per cent, "place", "size" in per cent}."""
    picture = request.app.state.pictures.find(text_of(asked, "id"))
    place, size = text_of(asked, "place"), _size(asked)
    return _told(picture, artwork_spot(picture, asked, place), place) | {"size": size}


def artwork_spot(picture: Artwork, asked: Any, place: str) -> Patch:
    """Return the spot of a picture that a page points at: {"x", "y", "size"} in per cent."""
    if not isinstance(asked, dict):
        raise LayersimError(f"{place}: expected where it is in the picture")
    at = (number_of(asked, "x", low=0.0, high=100.0), number_of(asked, "y", low=0.0, high=100.0))
    return spot_in(picture, at, size=_size(asked), name=place)


def _size(asked: Asked) -> float:
    return number_of(asked, "size", low=0.0, high=MOST_SIZE) if "size" in asked else SPOT_SIZE


def _told(picture: Artwork, patch: Patch, place: str) -> dict[str, Any]:
    # What is said of any picture is said beside it; here what goes for this spot.
    of_picture = set(sentences(picture, {}, proposed=False))
    words = [one for one in sentences(picture, {place: patch}, proposed=False) if one not in of_picture]
    return {
        "place": place,
        "place_words": PLACE_WORDS.get(place, place),
        "hex": colour.hex_of(colour.lab_on_screen(patch.lab, _DAYLIGHT).rgb),
        "value": _written(patch),
        "css": css_of_one(patch.lab, _DAYLIGHT),
        "lab": [round(float(value), 2) for value in patch.lab],
        "lab_words": lab_words(patch.lab),
        "x": round(100.0 * patch.at[0], 2),
        "y": round(100.0 * patch.at[1], 2),
        "spread": round(patch.spread, 1),
        "words": words,
    }


def _written(patch: Patch) -> Any:
    """Return a target as a scheme says it: a colour, with its doubt where that is not the usual one."""
    return tomllib.loads(f"it = {target_words(patch.target)}")["it"]


def _picture(request: Request) -> Response:
    """Send a picture as it was read: its colours, and nothing else that its file held."""
    from PIL import Image

    picture = request.app.state.pictures.find(request.path_params["name"])
    rgb = np.where(picture.solid[..., np.newaxis], colour.encode_srgb(picture.linear), 1.0)
    file = io.BytesIO()
    Image.fromarray((rgb * 255.0 + 0.5).astype("uint8")).save(file, format="png")
    return Response(file.getvalue(), media_type="image/png")


ROUTES: Final = [
    Route("/api/upload/artwork", with_bytes(_upload), methods=["POST"]),
    Route("/api/picture/{name}", _picture),
    Route("/api/spot", with_json(_spot), methods=["POST"]),
]
