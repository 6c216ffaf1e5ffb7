"""The open scheme on a form in space: it is sprayed once, beside, then only its points' colours are sent."""

from __future__ import annotations

import functools
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from layersim import colour
from layersim.errors import LayersimError
from layersim.figure.form import WHITE_FROM, read_form
from layersim.figure.forms import FORMS, form_path, usual_areas
from layersim.figure.look import ABOVE_DEG, DOME
from layersim.figure.onform import STAGES, FormStage, PointColours, point_colours, turning
from layersim.figure.paintedarea import PaintedArea
from layersim.figure.sprayed import SprayedForm, spray_form
from layersim.meshfile import ENDINGS
from layersim.optics import flakes
from layersim.page.asked import Asked, number_of, text_of, with_bytes, with_json
from layersim.page.desk import desk_of, edits_of, revision_of
from layersim.page.edits import changed_values
from layersim.page.kept import Kept, Memory, new_name
from layersim.page.live import area_keys, become, viewing_of
from layersim.page.uploads import uploads_of
from layersim.scheme.records import Area, Scheme
from layersim.spectra import FloatArray

MOST_FORMS: Final = 3
"""Forms that can be painted at a time: one of a million triangles takes some 100 MB."""
MOST_AREAS: Final = 12
"""Areas of forms that are kept painted."""
MOST_LOOKS: Final = 4
"""Stages and lamps that are kept of each: of a form of a million triangles one takes some 30 MB."""
SIDE_PX: Final = 300
UPS: Final = ("", "y", "z")


@dataclass(frozen=True, eq=False)
class _Shown:
    """A form that a page shows."""

    sprayed: SprayedForm
    key: str = field(default_factory=new_name)


class _Painted(PaintedArea):
    """An area of a form that is painted once at each stage."""

    def __init__(self, *of: Any) -> None:
        super().__init__(*of)
        self._known = Memory[FloatArray](MOST_LOOKS)

    def colours(self, viewing: colour.Viewing, stage: int) -> FloatArray:
        key = f"{viewing} {stage}"
        found = self._known.get(key)
        if found is None:
            found = super().colours(viewing, stage)
            self._known.put(key, found)
        return found


def begin(app: Any) -> None:
    """Let the application keep the forms that were sprayed lately."""
    forms: Kept[_Shown] = Kept(MOST_FORMS, gone="this form is not kept any more; choose it again")
    app.state.forms = forms
    app.state.painted = Memory[_Painted](MOST_AREAS)


def _forms(_: Request) -> Response:
    """Send what may be chosen."""
    return JSONResponse(
        {
            "forms": [[name, f"{name}: {form.what}"] for name, form in FORMS.items()],
            "white": list(WHITE_FROM),
            "stages": list(STAGES),
            "endings": list(ENDINGS),
            "studio": {"dome": DOME, "above_deg": ABOVE_DEG},
        }
    )


def _upload(request: Request, raw: bytes) -> Any:
    """Keep a mesh."""
    uploads = uploads_of(request.app)
    found = uploads.keep(raw, name=request.query_params.get("name", ""))
    return {"id": found, "name": uploads.path(found).name}


def _spray(request: Request, asked: Asked) -> Any:
    """Begin to spray a form white.

    {"form": one that comes with layersim} or {"mesh": an upload, "up", "front"}; "white": from where.
    """
    app, uploads = request.app, uploads_of(request.app)
    built_in = text_of(asked, "form") if asked.get("form") else ""
    path = form_path(built_in) if built_in else uploads.path(text_of(asked, "mesh"))
    white, up = asked.get("white", ["above"]), asked.get("up", "")
    if not isinstance(white, list) or not white or up not in UPS:
        raise LayersimError("expected from where white comes, and y or z up")
    if not all(one in tuple(WHITE_FROM) for one in white) or len(white) > len(WHITE_FROM):
        raise LayersimError(f"white: expected some of {', '.join(WHITE_FROM)}")
    front = number_of({"front": 0, **asked}, "front", low=-360.0, high=360.0)
    names = [area.name for area in desk_of(request).scheme().areas]

    def then(sprayed: SprayedForm) -> dict[str, Any]:
        parts = sprayed.form.parts
        return {
            "id": app.state.forms.keep(_Shown(sprayed)),
            "name": built_in or path.name,
            "parts": parts,
            "areas": usual_areas(parts, names, form=built_in) or dict.fromkeys(parts, names[0]),
            "triangles": len(sprayed.form.faces),
        }

    arguments = {"path": path, "up": up, "front_deg": front, "white": white}
    return {"work": app.state.work.start("form", spray, arguments, then)}


def spray(*, progress: Any, path: Path, up: str, front_deg: float, white: Sequence[str]) -> SprayedForm:
    """Return the form of a mesh file with white sprayed on."""
    progress(0.0, words="Reading the form")
    try:
        form = read_form(path, up=up, front_deg=front_deg)
        strokes = [stroke for side in white for stroke in WHITE_FROM[side]]
        return spray_form(form, strokes, progress=functools.partial(progress, words="Spraying"))
    except LayersimError as fault:  # the painter knows the file, not where it is kept here
        raise LayersimError(f"{fault}".replace(f"{path}", path.name)) from None


def _points(request: Request) -> Response:
    """Send a form in numbers of 4 bytes.

    Counts of points and triangles; of points their places, normals and shares of the dome; the triangles.
    """
    sprayed = request.app.state.forms.find(request.path_params["name"]).sprayed
    form = sprayed.form
    arrays = (
        np.array([len(form.points), len(form.faces)], "<u4"),
        *(np.asarray(one, "<f4") for one in (form.points, form.normals, sprayed.sky)),
        np.asarray(form.faces, "<u4"),
    )
    return Response(b"".join(one.tobytes() for one in arrays), media_type="application/octet-stream")


def _colours(request: Request, asked: Asked) -> Any:
    """Send the points' colours: as of :class:`_Asked`.

    Red, green, blue (sRGB) and 255 of each, as bytes. Where there is metal that is what looks alike from all
    sides, and then come six numbers of 4 bytes for each: linear red, green and blue of what does not; of the
    lobe that it is in (:func:`layersim.optics.flakes.lobe`) the variance, the height, and the surface's
    variance.
    """
    found = _Asked(request, asked).colours()
    levels = np.full((len(found.even), 4), 255, np.uint8)
    levels[:, :3] = np.rint(255.0 * colour.encode_srgb(np.clip(found.even, 0.0, 1.0)))
    content = levels.tobytes()
    if found.shine is not None and found.slopes is not None:
        variance, surface = found.slopes.T
        lobe = (flakes.lobe_variance(variance, surface), flakes.lobe_height(variance, surface), surface)
        content += np.column_stack([found.shine, *lobe]).astype("<f4").tobytes()
    return Response(content, media_type="application/octet-stream")


def _picture(request: Request, asked: Asked) -> Any:
    """Send the form from four sides, for who cannot see it in space: as of :class:`_Asked`."""
    from PIL import Image

    one = _Asked(request, asked)
    sides = turning(one.shown.sprayed, one.colours(), views=4, size_px=SIDE_PX)
    file = io.BytesIO()
    Image.fromarray(np.hstack(sides)).save(file, format="png")
    return Response(file.getvalue(), media_type="image/png")


class _Asked:
    """What a page asks to see: {"id", "areas": {part: area}, "stage", "edits", "revision", "lamp"}.

    Raises GoneError where coats were moved meanwhile.
    """

    def __init__(self, request: Request, asked: Asked) -> None:
        desk, edits, lamp = desk_of(request), edits_of(asked), asked.get("lamp")
        self.shown: _Shown = request.app.state.forms.find(text_of(asked, "id"))
        stage = text_of(asked, "stage")
        if stage not in STAGES:
            raise LayersimError(f"stage: expected one of {', '.join(STAGES)}")
        self.stage: FormStage = stage
        with desk.lock:
            desk.check_rows(edits, revision_of(asked))
            text, values = desk.text, changed_values(desk.values, edits) if edits else desk.values
            sign = desk.shelf_sign
        self.scheme = desk.read(text, edit=functools.partial(become, values=values))
        self.viewing = viewing_of(lamp, self.scheme)
        given = asked.get("areas")
        if not isinstance(given, dict):
            raise LayersimError("areas: expected which part of the form is which area")
        names = [area.name for area in self.scheme.areas]
        self.areas = {
            part: area for part in self.shown.sprayed.form.parts if (area := given.get(part)) in names
        }
        if not self.areas:
            raise LayersimError("say of one part of the form at least which area it is")
        key_of = area_keys(desk, values, hash(sign), self.shown.key)
        self._keys = dict(zip(names, map(key_of, values["area"]), strict=True))
        self._painted: Memory[_Painted] = request.app.state.painted

    def colours(self) -> PointColours:
        """Return the colours of the form's points."""
        return point_colours(
            self.scheme,
            self.shown.sprayed,
            self.areas,
            viewing=self.viewing,
            stage=self.stage,
            paint=self._paint,
        )

    def _paint(
        self, scheme: Scheme, area: Area, sprayed: SprayedForm, here: npt.NDArray[np.int64]
    ) -> _Painted:
        """Only the area that is changed is painted anew."""
        key = f"{self._keys[area.name]} {hash(here.tobytes())}"
        found = self._painted.get(key) or _Painted(scheme, area, sprayed, here)
        self._painted.put(key, found)
        return found


ROUTES: Final = [
    Route("/api/forms", _forms),
    Route("/api/upload/form", with_bytes(_upload), methods=["POST"]),
    Route("/api/form", with_json(_spray), methods=["POST"]),
    Route("/api/form/colours", with_json(_colours), methods=["POST"]),
    Route("/api/form/picture", with_json(_picture), methods=["POST"]),
    Route("/api/form/{name}/points", _points),
]
