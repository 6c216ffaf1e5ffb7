"""A scheme seen on a form in space: the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from layersim import colour
from layersim.figure.figure import (
    NO_DATA,
    Between,
    StagePicture,
    asked_stages,
    bare_stage,
    before_filter,
    course_of,
    done,
)
from layersim.figure.form import FROM_ABOVE, Form, Stroke, sprayed
from layersim.figure.look import NOTHING, SIDES, Side, look, open_sky
from layersim.figure.repaint import TONES, Picture, along_axis
from layersim.meshfile import triangle_areas
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import GreysSprayed, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.shown import Shown
from layersim.spectra import FloatArray

STEPS: Final = 1024
"""Shares of the full white that are told apart."""
BARE: Final = "the rest"
"""What no area is, and stays as preshaded."""
SIZE_PX: Final = 420
_WALL: Final = 0.18
"""Reflectance of what stands behind the form, a neutral middle grey."""


@dataclass(frozen=True, eq=False)
class FormFigure(Shown):
    """A form in the colours of a scheme."""

    scheme: Scheme
    viewing: colour.Viewing
    name: str
    areas: Mapping[str, str]
    """Which area each of the form's parts is, by name."""
    surface: Mapping[str, float]
    """Which share of the form's surface each area has."""
    stages: tuple[StagePicture, ...]
    """Preshaded first, finished last; sides beside each other, in sRGB."""
    filter_stage: int | None
    linear: FloatArray = field(metadata=NO_DATA)
    """Linear sRGB of each of the form's points when it is finished, shape (n, 3)."""
    notices: tuple[str, ...]


def paint_form(
    scheme: Scheme,
    form: Form,
    areas: Mapping[str, str],
    *,
    name: str,
    viewing: colour.Viewing | None = None,
    strokes: Sequence[Stroke] = FROM_ABOVE,
    size_px: int = SIZE_PX,
    between: Between = "every stage",
) -> FormFigure:
    """Return a form in the colours that a scheme will have.

    `areas` says of the form's parts by name which area of the scheme they are; others stay as preshaded. Each
    side is a picture of `size_px` either way; between the first and the last stage there are those asked for.
    """
    view = viewing or scheme.viewing
    notices: list[str] = list(scheme.notices)
    models = [AreaModel(scheme, area, tones=TONES) for area in scheme.areas if area.name in areas.values()]
    predicted = [model.predict(view, 0, notices, reasons=False) for model in models]
    shares = sprayed(form, strokes)
    sky = open_sky(form)
    looks = [look(form, shares, sky, around_deg=turn, size_px=size_px) for turn in SIDES.values()]
    course, preshaded = course_of(predicted), tuple(map(bare_stage, predicted))
    index = {area.name: i for i, area in enumerate(predicted)}
    # The last row stands for what no area is.
    row_of = np.array([index.get(areas.get(part, ""), len(predicted)) for part in form.parts])

    def tables(at: tuple[int, ...]) -> FloatArray:
        # The last row stands for what no area is.
        rows = zip((*predicted, predicted[0]), (*models, models[0]), (*at, preshaded[0]), strict=True)
        return np.stack([_table(*row, view) for row in rows])

    asked, before = asked_stages(course, before_filter(predicted, course), between)
    stages = [
        StagePicture(done(predicted, at), np.hstack([_picture(one, tables(at), row_of) for one in looks]))
        for at in (preshaded, *asked)
    ]
    of_point = np.zeros(len(form.points), dtype=np.int64)
    of_point[form.faces] = row_of[form.part_of][:, np.newaxis]
    return FormFigure(
        scheme=scheme,
        viewing=view,
        name=name,
        areas=dict(areas),
        surface=_surface(form, areas),
        stages=tuple(stages),
        filter_stage=before,
        linear=tables(course[-1])[of_point, _step(shares)],
        notices=tuple(dict.fromkeys(notices)),
    )


def _surface(form: Form, areas: Mapping[str, str]) -> dict[str, float]:
    each = triangle_areas(form.points, form.faces)
    of_part = np.bincount(form.part_of, each, minlength=len(form.parts)) / each.sum()
    found = dict.fromkeys(areas.values(), 0.0)
    for part, share in zip(form.parts, of_part, strict=True):
        if part in areas:
            found[areas[part]] += float(share)
    return found


def _step(share: FloatArray) -> np.ndarray:
    return np.asarray(np.rint(share * (STEPS - 1)), dtype=np.int64)


def _table(area: AreaPrediction, model: AreaModel, stage: int, view: colour.Viewing) -> FloatArray:
    """Return the linear sRGB of each share of the full white, shape (STEPS, 3)."""
    share = np.linspace(0.0, 1.0, STEPS)
    exposure = (
        model.exposure if isinstance(model.area.preshade, GreysSprayed) else np.linspace(0.0, 1.0, TONES)
    )
    low = float(exposure[0])
    # What drifts into the deepest shadow is there already; spray adds the rest.
    at = np.interp(low + (1.0 - low) * share, exposure, area.shade)
    xyz = along_axis(at, area.shade, area.xyz[stage])
    return colour.decode_srgb(colour.on_screen(xyz, view.white).rgb)


def _picture(seen: Side, tables: FloatArray, row_of: np.ndarray) -> Picture:
    """Return what a side shows, in encoded sRGB, 8 bits."""
    fine = np.full((*seen.share.shape, 3), _WALL)
    there = seen.part != NOTHING
    fine[there] = (
        tables[row_of[seen.part[there]], _step(seen.share[there])] * seen.light[there][:, np.newaxis]
    )
    height, width = (n // 2 for n in seen.share.shape)
    linear = fine.reshape(height, 2, width, 2, 3).mean(axis=(1, 3))
    return np.asarray(np.rint(255.0 * colour.encode_srgb(np.clip(linear, 0.0, 1.0))), dtype=np.uint8)
