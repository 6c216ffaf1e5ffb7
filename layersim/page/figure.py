"""The open scheme on a photograph of the painter's own model, at the size of a screen."""

from __future__ import annotations

import dataclasses
import io
import threading
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from layersim.errors import LayersimError
from layersim.figure.areas import Cover
from layersim.figure.figure import Between, Figure, painted, smaller
from layersim.figure.greys import greys_seen
from layersim.figure.repaint import TONES, SeenArea, in_srgb
from layersim.figure.seen import ModelPhotograph
from layersim.page.asked import Asked, text_of, with_json, yes_or_no
from layersim.page.brush import SIDE_PX, marked_covers
from layersim.page.chip import greys_edits, greys_of
from layersim.page.desk import Desk, desk_of, edits_of, revision_of
from layersim.page.edits import Values, changed_values
from layersim.page.kept import Memory
from layersim.page.live import area_keys, read_alone, viewing_of
from layersim.page.uploads import uploads_of
from layersim.scheme.prediction import Prediction
from layersim.scheme.records import GreysGiven, Scheme
from layersim.scheme.simulate import simulate
from layersim.views.chip import greys_words
from layersim.views.figure import seen_words

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
                self._model = ModelPhotograph(photograph, found.calibration, found.notes, found.greys)
                self._asked = (name, greys)
            return self._model


def begin(app: Any) -> None:
    """Let the application keep the photograph that is painted on just now."""
    app.state.models = Models()


def _picture(request: Request, asked: Asked) -> Any:
    """Send the photograph at a stage: {"stage", "edits", "lamp", "stretch"}, and what marks areas."""
    stage = text_of(asked, "stage")
    if stage not in STAGES:
        raise LayersimError(f"stage: expected one of {', '.join(STAGES)}")
    found = _figure(request, asked, "before the filter" if stage == "before the filter" else "none")
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
    scheme = desk_of(request).scheme()
    names = [area.name for area in scheme.areas]
    return {
        "areas": [
            {
                "name": area.name,
                "words": seen_words(area, found, stretch=_TICK, greys=_GREYS),
                **(_greys(area, found, scheme, names.index(area.name)) if area.name in names else {}),
            }
            for area in found.areas
        ]
    }


_TICK: Final = "tick “Stretch to the picture”"
_GREYS: Final = "press “Use these greys”"


def _greys(area: SeenArea, figure: Figure, scheme: Scheme, number: int) -> dict[str, Any]:
    """Return what writes an area's greys into the scheme; nothing where they are in it."""
    greys, now = greys_seen(area, figure.model), scheme.areas[number].preshade
    if greys.notes:
        return {}
    if isinstance(now, GreysGiven) and (now.darkest, now.lightest) == (
        round(greys.darkest),
        round(greys.lightest),
    ):
        return {}
    return {
        "greys": greys_words(greys),
        "edits": greys_edits(greys, scheme, number),
        "what": f"greys of {area.name} off a photograph",
    }


def _figure(request: Request, asked: Asked, between: Between) -> Figure:
    desk, app = desk_of(request), request.app
    with uploads_of(app).by_bare_names():
        model = app.state.models.model(app, asked)
    edits = edits_of(asked)
    with desk.lock:
        desk.check_rows(edits, revision_of(asked))
        text, values = desk.text, changed_values(desk.values, edits) if edits else desk.values
        sign = desk.shelf_sign
    names = [name for area in values["area"] if isinstance(name := area.get("name"), str)]
    covers = _covers(app, asked, names, model)
    if not covers:
        raise LayersimError("paint an area in the photograph first, or point at three of its corners")
    key_of = area_keys(desk, values, hash(sign), asked.get("lamp"))
    found, memory = [], app.state.models.predicted
    for area in values["area"]:
        if area.get("name") not in covers:
            continue
        key = key_of(area)
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


def _covers(app: Any, asked: Asked, names: Sequence[str], model: ModelPhotograph) -> dict[str, Cover]:
    """Return where areas are, as large as the model's picture."""
    import cv2

    size = model.photograph.width, model.photograph.height
    return {
        name: np.asarray(cv2.resize(cover, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
        for name, cover in marked_covers(app, asked, names).items()
    }


ROUTES: Final = [
    Route("/api/figure", with_json(_picture), methods=["POST"]),
    Route("/api/figure/words", with_json(_words), methods=["POST"]),
]
