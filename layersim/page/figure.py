"""The open scheme on a photograph of the painter's own model, at the size of a screen."""

from __future__ import annotations

import dataclasses
import io
import json
import threading
from collections.abc import Sequence
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layersim.errors import LayersimError
from layersim.figure.areas import MOST_CORNERS, AreaPlace, Cover, cover_of
from layersim.figure.figure import Between, Figure, painted, smaller
from layersim.figure.repaint import TONES, in_srgb
from layersim.figure.seen import ModelPhotograph
from layersim.page.asked import Asked, text_of, with_json, yes_or_no
from layersim.page.chip import greys_of
from layersim.page.desk import Desk, desk_of, edits_of, revision_of
from layersim.page.edits import GoneError, Values, changed_values
from layersim.page.kept import Memory
from layersim.page.live import read_alone, viewing_of
from layersim.page.uploads import uploads_of
from layersim.scheme.prediction import Prediction
from layersim.scheme.simulate import simulate
from layersim.views.figure import seen_words

SIDE_PX: Final = 900
MOST_KEPT: Final = 60
"""Areas whose prediction is kept."""
STAGES: Final = ("photograph", "before the filter", "finished")


class Models:
    """The photograph that is painted on just now, made small once."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._asked: Any = None
        self._model: ModelPhotograph | None = None
        self.predicted: Memory[Prediction] = Memory(MOST_KEPT)

    def model(self, app: Any, asked: Asked) -> ModelPhotograph:
        """Return the photograph of {"id", "greys"}; raises LayersimError where nothing tells its greys."""
        name, greys = text_of(asked, "id"), greys_of(asked.get("greys") or [])
        with self._lock:
            if self._asked != (name, greys) or self._model is None:
                self._model = None
                found = app.state.chips.reference(app, name, greys)
                photograph = dataclasses.replace(
                    found.photograph, levels=smaller(found.photograph.levels, SIDE_PX)
                )
                self._model = ModelPhotograph(photograph, found.calibration, found.notes)
                self._asked = (name, greys)
            return self._model


def begin(app: Any) -> None:
    """Let the application keep the photograph that is painted on just now."""
    app.state.models = Models()


def _picture(request: Request, asked: Asked) -> Any:
    """Send the photograph at a stage: {"id", "greys", "places", "stretch", "stage", "edits", "lamp"}."""
    stage = text_of(asked, "stage")
    if stage not in STAGES:
        raise LayersimError(f"stage: expected one of {', '.join(STAGES)}")
    found = _figure(request, asked, "before the filter" if stage == "before the filter" else "none")
    if isinstance(found, Response):
        return found
    before = found.filter_stage or 0
    shown = found.stages[{"photograph": 0, "before the filter": before, "finished": -1}[stage]]
    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(in_srgb(found.model.photograph, shown.picture)).save(
        file, format="jpeg", quality=92, subsampling=0
    )
    return Response(file.getvalue(), media_type="image/jpeg")


def _words(request: Request, asked: Asked) -> Any:
    """Return what the photograph shows of each area's preshade, in sentences."""
    found = _figure(request, asked, "none")
    if isinstance(found, Response):
        return found
    return {"words": [seen_words(area, found, stretch=_TICK, greys=_GREYS) for area in found.areas]}


_TICK: Final = "tick “Stretch to the picture”"
_GREYS: Final = "choose “greys I know” under its Preshade, and set {:.0f} and {:.0f}"


def _figure(request: Request, asked: Asked, between: Between) -> Figure | Response:
    desk, app = desk_of(request), request.app
    with uploads_of(app).by_bare_names():
        model = app.state.models.model(app, asked)
    edits = edits_of(asked)
    with desk.lock:
        try:
            desk.check_rows(edits, revision_of(asked))
            text, values = desk.text, changed_values(desk.values, edits) if edits else desk.values
        except GoneError as fault:
            return JSONResponse({"error": str(fault)}, status_code=409)
        sign = desk.shelf_sign
    names = [name for area in values["area"] if isinstance(name := area.get("name"), str)]
    covers = _covers(asked, names, model)
    if not covers:
        raise LayersimError("point at the corners of an area in the photograph first, three at least")
    rest = {key: value for key, value in values.items() if key not in ("area", "note")}
    common = json.dumps([rest, str(desk.file), hash(sign), asked.get("lamp")], default=str)
    found, memory = [], app.state.models.predicted
    for area in values["area"]:
        if area.get("name") not in covers:
            continue
        key = common + json.dumps(area, default=str)
        # Only this area is read and worked out: the others are as they were.
        prediction = memory.get(key) or _predicted(desk, text, values, area, asked)
        memory.put(key, prediction)
        found.append(prediction)
    return painted(
        [one.areas[0] for one in found],
        found[0].scheme,
        model,
        covers,
        viewing=found[0].viewing,
        stretch=yes_or_no(asked, "stretch"),
        side_px=SIDE_PX,
        between=between,
    )


def _predicted(desk: Desk, text: str, values: Values, area: Values, asked: Asked) -> Prediction:
    scheme = read_alone(desk, text, values, area)
    viewing = viewing_of(asked.get("lamp"), scheme)
    return simulate(scheme, tones=TONES, viewing=viewing, draws=0, reasons=False)


def _covers(asked: Asked, names: Sequence[str], model: ModelPhotograph) -> dict[str, Cover]:
    """Return where areas are, by the polygons that a page sent: {"area": [[x, y] in per cent, ...]}."""
    places = asked.get("places")
    if not isinstance(places, dict):
        raise LayersimError("places: expected the corners of areas")
    found = {}
    for name in names:
        corners = places.get(name)
        if not isinstance(corners, list) or len(corners) < 3:
            continue
        if len(corners) > MOST_CORNERS or not all(map(_is_corner, corners)):
            raise LayersimError(f"{name}: expected 3 to {MOST_CORNERS} corners in per cent of the picture")
        pairs = tuple((float(x), float(y)) for x, y in corners)
        photograph = model.photograph
        found[name] = cover_of(
            AreaPlace(name, corners=pairs), height=photograph.height, width=photograph.width
        )
    return found


def _is_corner(given: Any) -> bool:
    return (
        isinstance(given, list)
        and len(given) == 2
        and all(type(value) in (int, float) and 0.0 <= value <= 100.0 for value in given)
    )


ROUTES: Final = [
    Route("/api/figure", with_json(_picture), methods=["POST"]),
    Route("/api/figure/words", with_json(_words), methods=["POST"]),
]
