"""Areas that are marked in a photograph on the page: by their corners, or by strokes of a brush that grow."""

from __future__ import annotations

import io
import json
import threading
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from starlette.requests import Request
from starlette.routing import Route

from layersim.errors import LayersimError
from layersim.figure.areas import MOST_CORNERS, AreaPlace, Cover, cover_of
from layersim.figure.brush import BrushStroke, Canvas, canvas_of, grown
from layersim.figure.figure import smaller
from layersim.files import write_whole
from layersim.names import slug
from layersim.page.asked import Asked, number_of, text_of, with_json, yes_or_no
from layersim.page.chip import greys_of
from layersim.page.desk import desk_of
from layersim.page.kept import Memory
from layersim.page.opened import own_file
from layersim.page.uploads import uploads_of

SIDE_PX: Final = 900
"""Of the copy that is painted on, which is as large as a screen."""
MOST_STROKES: Final = 400
MOST_POINTS: Final = 2000
"""Of one stroke."""
_WIDEST: Final = 25.0
_MOST_KEPT: Final = 8
_SLACK_PX: Final = 0.7
"""So far an outline that is shown may run beside its area."""


class Marked:
    """The photograph that is painted on just now, and what was marked in it last."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.covers: Memory[dict[str, Cover]] = Memory(_MOST_KEPT)
        self._name = ""
        self._canvas: Canvas | None = None

    def canvas(self, app: Any, name: str) -> Canvas:
        """Return an upload, made ready for the brush."""
        from PIL import Image

        path = uploads_of(app).path(name)
        if self._name != name or self._canvas is None:
            with Image.open(path.parent / "seen.jpg") as image:
                self._canvas = canvas_of(smaller(np.asarray(image.convert("RGB")), SIDE_PX))
            self._name = name
        return self._canvas


def begin(app: Any) -> None:
    """Let the application keep the photograph that is painted on just now."""
    app.state.marked = Marked()


def marked_covers(app: Any, asked: Asked, names: Sequence[str]) -> dict[str, Cover]:
    """Return what {"id", "places", "strokes"} mark in a photograph, of the areas that there are.

    "places" are polygons, {"area": [[x, y], ...]}; "strokes" is a list of {"area", "points", "wide"}, in
    order, and one without an area takes away. All in per cent. Areas that nothing marks are left out.
    """
    marked, name = app.state.marked, text_of(asked, "id")
    places, strokes = _places_of(asked, names), _strokes_of(asked, names)
    key = json.dumps([name, [repr(one) for one in (*places, *strokes)]])
    with marked.lock:
        found: dict[str, Cover] | None = marked.covers.get(key)
        if found is None:
            canvas = marked.canvas(app, name)
            height, width = canvas.fine.shape[:2]
            outlined = {place.area: cover_of(place, height=height, width=width) for place in places}
            found = grown(canvas, strokes, outlined=outlined)
            marked.covers.put(key, found)
    return {area: cover for area in names if area in found and ((cover := found[area]) > 127).any()}


def _places_of(asked: Asked, names: Sequence[str]) -> list[AreaPlace]:
    places = asked.get("places")
    if not isinstance(places, dict):
        raise LayersimError("places: expected the corners of areas")
    found = []
    for name in names:
        corners = places.get(name)
        if not isinstance(corners, list) or len(corners) < 3:
            continue
        if len(corners) > MOST_CORNERS or not all(map(_is_point, corners)):
            raise LayersimError(f"{name}: expected 3 to {MOST_CORNERS} corners in per cent of the picture")
        found.append(AreaPlace(name, corners=tuple((float(x), float(y)) for x, y in corners)))
    return found


def _strokes_of(asked: Asked, names: Sequence[str]) -> list[BrushStroke]:
    strokes = asked.get("strokes", [])
    if not isinstance(strokes, list) or len(strokes) > MOST_STROKES:
        raise LayersimError(f"strokes: expected at most {MOST_STROKES} strokes of the brush")
    found = []
    for one in strokes:
        points = one.get("points") if isinstance(one, dict) else None
        if (
            not isinstance(points, list)
            or not 0 < len(points) <= MOST_POINTS
            or not all(map(_is_point, points))
        ):
            raise LayersimError(
                f"strokes: expected 1 to {MOST_POINTS} points of each, in per cent of the picture"
            )
        area = None if one.get("area") is None else text_of(one, "area")
        wide = number_of(one, "wide", low=0.0, high=_WIDEST)
        if area is None or area in names:
            found.append(BrushStroke(area, tuple((float(x), float(y)) for x, y in points), wide))
    return found


def _is_point(given: Any) -> bool:
    return (
        isinstance(given, list)
        and len(given) == 2
        and all(type(value) in (int, float) and 0.0 <= value <= 100.0 for value in given)
    )


def _names(request: Request) -> list[str]:
    desk = desk_of(request)
    with desk.lock:
        return [name for area in desk.values["area"] if isinstance(name := area.get("name"), str)]


def _outlines(request: Request, asked: Asked) -> Any:
    """Return the outlines of what is marked, by areas: polygons in per cent."""
    import cv2

    found = {}
    for name, cover in marked_covers(request.app, asked, _names(request)).items():
        height, width = cover.shape
        lines, _ = cv2.findContours((cover > 127).astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        # Pixels have their middles at half numbers.
        smooth = [cv2.approxPolyDP(line, _SLACK_PX, closed=True)[:, 0] + 0.5 for line in lines]
        per_cent = [np.round(line * 100.0 / [width, height], 2).tolist() for line in smooth]
        found[name] = [line for line in per_cent if len(line) > 2]
    return {"outlines": found}


def _masks(request: Request, asked: Asked) -> Any:
    """Write a mask of each area beside the scheme, and say how the command takes them: {"greys", "replace"}.

    Files that are there already, and are others, are written over only with {"replace": true}.
    """
    from PIL import Image

    app, scheme = request.app, own_file(request.app)
    names = _names(request)
    covers = marked_covers(app, asked, names)
    if not covers:
        raise LayersimError("mark an area in the photograph first")
    # Two names may be one name of a file.
    endings = {name: slug(name) for name in covers}
    if len(set(endings.values())) < len(endings):
        endings = {name: f"{names.index(name) + 1}-{ending}" for name, ending in endings.items()}
    paths = {name: scheme.with_name(f"{scheme.stem}-{endings[name]}.png") for name in covers}
    contents = {}
    for name, cover in covers.items():
        file = io.BytesIO()
        Image.fromarray(cover).save(file, format="png")
        contents[name] = file.getvalue()
    others = [p.name for n, p in paths.items() if p.exists() and p.read_bytes() != contents[n]]
    if others and not yes_or_no(asked, "replace"):
        return {"written": False, "words": f"{', '.join(others)}: there already."}
    for name, path in paths.items():
        write_whole(path, contents[name])
    words = ["layersim", "figure", scheme.name, uploads_of(app).path(text_of(asked, "id")).name]
    for grey in greys_of(asked.get("greys") or []):
        words += ["--grey", f"{grey.at[0]:.4g},{grey.at[1]:.4g}"]
    for name, path in paths.items():
        words += ["--area", f"{name}={path.name}"]
    return {
        "written": True,
        "words": f"Written beside the scheme: {', '.join(path.name for path in paths.values())}.",
        "command": " ".join(map(_quoted, words)),
    }


def _quoted(word: str) -> str:
    """Return a word as it is typed, in the quotes that every shell takes."""
    return f'"{word}"' if " " in word else word


ROUTES: Final = [
    Route("/api/figure/areas", with_json(_outlines), methods=["POST"]),
    Route("/api/figure/masks", with_json(_masks), methods=["POST"]),
]
