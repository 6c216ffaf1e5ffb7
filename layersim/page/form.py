"""The open scheme on a form in space: it is sprayed once, beside; then only colours of its points are sent."""

from __future__ import annotations

import functools
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layersim import colour
from layersim.errors import LayersimError
from layersim.figure.form import WHITE_FROM, read_form
from layersim.figure.forms import FORMS, form_path, usual_areas
from layersim.figure.look import LEAST_LIGHT
from layersim.figure.onform import STAGES, SprayedForm, paint_form, point_colours, spray_form
from layersim.meshfile import ENDINGS
from layersim.page.asked import Asked, text_of, with_bytes, with_json
from layersim.page.desk import desk_of, edits_of, revision_of
from layersim.page.edits import GoneError, changed_values
from layersim.page.kept import Kept
from layersim.page.live import become, viewing_of
from layersim.page.uploads import uploads_of
from layersim.scheme.records import Scheme

MOST_FORMS: Final = 3
"""Forms that can be painted at a time: one of a million triangles takes some 100 MB."""
SIDE_PX: Final = 300
UPS: Final = ("", "y", "z")


@dataclass(frozen=True, eq=False)
class _Shown:
    """A form that a page shows."""

    name: str
    sprayed: SprayedForm


def begin(app: Any) -> None:
    """Let the application keep the forms that were sprayed lately."""
    forms: Kept[_Shown] = Kept(MOST_FORMS, gone="this form is not kept any more; choose it again")
    app.state.forms = forms


def _forms(_: Request) -> Response:
    """Send what may be chosen."""
    return JSONResponse(
        {
            "forms": [[name, f"{name}: {form.what}"] for name, form in FORMS.items()],
            "white": list(WHITE_FROM),
            "stages": list(STAGES),
            "endings": list(ENDINGS),
        }
    )


def _upload(request: Request, raw: bytes) -> Any:
    """Keep a mesh."""
    uploads = uploads_of(request.app)
    found = uploads.keep(raw, name=request.query_params.get("name", ""))
    return {"id": found, "name": uploads.path(found).name}


def _spray(request: Request, asked: Asked) -> Any:
    """Begin to spray a form: {"form": one that comes with layersim, or "mesh": an upload, "white", "up"}."""
    app, uploads = request.app, uploads_of(request.app)
    built_in = text_of(asked, "form") if asked.get("form") else ""
    path = form_path(built_in) if built_in else uploads.path(text_of(asked, "mesh"))
    white, up = asked.get("white", "above"), asked.get("up", "")
    if white not in WHITE_FROM or up not in UPS:
        raise LayersimError(f"expected white from {', '.join(WHITE_FROM)}, and y or z up")
    names = [area.name for area in desk_of(request).scheme().areas]

    def then(sprayed: SprayedForm) -> dict[str, Any]:
        parts = sprayed.form.parts
        return {
            "id": app.state.forms.keep(_Shown(built_in or path.name, sprayed)),
            "name": built_in or path.name,
            "parts": parts,
            "areas": usual_areas(parts, names, form=built_in) or dict.fromkeys(parts, names[0]),
            "triangles": len(sprayed.form.faces),
        }

    arguments = {"path": path, "up": up, "white": white}
    return {"work": app.state.work.start("form", spray, arguments, then)}


def spray(*, progress: Any, path: Path, up: str, white: str) -> SprayedForm:
    """Return the form of a mesh file with white sprayed on."""
    progress(0.0, words="Reading the form")
    try:
        form = read_form(path, up=up)
        return spray_form(form, WHITE_FROM[white], progress=functools.partial(progress, words="Spraying"))
    except LayersimError as fault:  # the painter knows the file, not where it is kept here
        raise LayersimError(f"{fault}".replace(f"{path}", path.name)) from None


def _points(request: Request) -> Response:
    """Send a form as numbers of 4 bytes: how many points and triangles; of points places and light; triangles."""
    sprayed = request.app.state.forms.find(request.path_params["name"]).sprayed
    form = sprayed.form
    light = LEAST_LIGHT + (1.0 - LEAST_LIGHT) * sprayed.sky
    arrays = (
        np.array([len(form.points), len(form.faces)], "<u4"),
        np.asarray(form.points, "<f4"),
        np.asarray(light, "<f4"),
        np.asarray(form.faces, "<u4"),
    )
    return Response(b"".join(one.tobytes() for one in arrays), media_type="application/octet-stream")


def _colours(request: Request, asked: Asked) -> Any:
    """Send sRGB of each point and a byte that is 255: {"id", "areas", "stage", "edits", "revision", "lamp"}."""
    try:
        shown, scheme, viewing, areas = _asked(request, asked)
    except GoneError as fault:
        return JSONResponse({"error": f"{fault}"}, status_code=409)
    linear = point_colours(scheme, shown.sprayed, areas, viewing=viewing, stage=_stage(asked))
    levels = np.full((len(linear), 4), 255, np.uint8)
    levels[:, :3] = np.rint(255.0 * colour.encode_srgb(np.clip(linear, 0.0, 1.0)))
    return Response(levels.tobytes(), media_type="application/octet-stream")


def _picture(request: Request, asked: Asked) -> Any:
    """Send the form from four sides, for who cannot see it in space."""
    from PIL import Image

    try:
        shown, scheme, viewing, areas = _asked(request, asked)
    except GoneError as fault:
        return JSONResponse({"error": f"{fault}"}, status_code=409)
    found = paint_form(
        scheme, shown.sprayed, areas, name=shown.name, viewing=viewing, size_px=SIDE_PX,
        between="before the filter",
    )  # fmt: skip
    at = {"preshaded": 0, "before the filter": found.filter_stage or 0, "finished": -1}[_stage(asked)]
    file = io.BytesIO()
    Image.fromarray(found.stages[at].picture).save(file, format="png")
    return Response(file.getvalue(), media_type="image/png")


def _stage(asked: Asked) -> Any:
    stage = text_of(asked, "stage")
    if stage not in STAGES:
        raise LayersimError(f"stage: expected one of {', '.join(STAGES)}")
    return stage


def _asked(request: Request, asked: Asked) -> tuple[_Shown, Scheme, colour.Viewing, Mapping[str, str]]:
    """Return the form that a page asks for, and in what colours; raises GoneError where coats were moved."""
    desk, edits = desk_of(request), edits_of(asked)
    shown = request.app.state.forms.find(text_of(asked, "id"))
    with desk.lock:
        desk.check_rows(edits, revision_of(asked))
        text, values = desk.text, changed_values(desk.values, edits) if edits else desk.values
    scheme = desk.read(text, edit=functools.partial(become, values=values))
    areas, names = asked.get("areas"), {area.name for area in scheme.areas}
    if not isinstance(areas, dict):
        raise LayersimError("areas: expected which part of the form is which area")
    found = {part: area for part in shown.sprayed.form.parts if (area := areas.get(part)) in names}
    if not found:
        raise LayersimError("say of one part of the form at least which area it is")
    return shown, scheme, viewing_of(asked.get("lamp"), scheme), found


ROUTES: Final = [
    Route("/api/forms", _forms),
    Route("/api/upload/form", with_bytes(_upload), methods=["POST"]),
    Route("/api/form", with_json(_spray), methods=["POST"]),
    Route("/api/form/colours", with_json(_colours), methods=["POST"]),
    Route("/api/form/picture", with_json(_picture), methods=["POST"]),
    Route("/api/form/{name}/points", _points),
]
