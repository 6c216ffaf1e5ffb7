"""A scheme seen on a form in space: the answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias, get_args

import numpy as np
import numpy.typing as npt

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
from layersim.figure.form import FROM_ABOVE, Form, Stroke
from layersim.figure.look import NOTHING, SIDES, Side, lamp_for, look
from layersim.figure.paintedarea import PaintedArea
from layersim.figure.repaint import Picture
from layersim.figure.sprayed import SprayedForm, spray_form
from layersim.meshfile import triangle_areas
from layersim.optics import flakes
from layersim.scheme.records import Area, Scheme
from layersim.shown import Shown
from layersim.spectra import FloatArray

FormStage: TypeAlias = Literal["preshaded", "before the filter", "finished"]
Paint: TypeAlias = Callable[[Scheme, Area, SprayedForm, npt.NDArray[np.int64]], PaintedArea]
STAGES: Final[tuple[FormStage, ...]] = get_args(FormStage)
NO_AREA: Final = -1
"""What no area is, and stays as preshaded."""
SIZE_PX: Final = 420
AROUND: Final = 8
"""Views of a form that turns once."""
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
    colours: PointColours = field(metadata=NO_DATA)
    """Of the form's points when it is finished."""
    notices: tuple[str, ...]
    white_from: tuple[str, ...]
    """From where white is sprayed, of :data:`layersim.figure.form.WHITE_FROM`; twice for twice as much."""
    around: Picture = field(metadata=NO_DATA)
    """The finished form turning: :data:`AROUND` views beside each other, of half a side's size."""


def point_colours(
    scheme: Scheme,
    sprayed: SprayedForm,
    areas: Mapping[str, str],
    *,
    viewing: colour.Viewing | None = None,
    stage: FormStage = "finished",
    paint: Paint = PaintedArea,
) -> PointColours:
    """Return the colours of the form's points at a stage.

    `areas` as of :func:`paint_form`. Before the filter of a scheme without one is finished. `paint` gives
    areas painted, for who keeps some.
    """
    painter = _Painter(scheme, sprayed, areas, viewing or scheme.viewing, paint)
    return painter.colours(painter.at(stage))


def paint_form(
    scheme: Scheme,
    form: Form | SprayedForm,
    areas: Mapping[str, str],
    *,
    name: str,
    viewing: colour.Viewing | None = None,
    strokes: Sequence[Stroke] = FROM_ABOVE,
    white_from: Sequence[str] = ("above",),
    size_px: int = SIZE_PX,
    between: Between = "every stage",
    progress: Callable[[str, int, int], None] = lambda *_: None,
) -> FormFigure:
    """Return a form in the colours that a scheme will have.

    `areas` says of the form's parts by name which area of the scheme they are; others stay as preshaded. Each
    side is a picture of `size_px` either way; between the first and the last stage there are those asked for.
    A form that is sprayed already needs no `strokes`; `white_from` says where they came from. `progress` is
    told what is done, and how many of how many steps of it.
    """
    sprayed_form = form if isinstance(form, SprayedForm) else spray_form(form, strokes)
    painter = _Painter(scheme, sprayed_form, areas, viewing or scheme.viewing)
    form = sprayed_form.form
    looks = []
    for turn in SIDES.values():
        looks.append(look(form, sprayed_form.sky, around_deg=turn, size_px=size_px))
        progress("looking", len(looks), len(SIDES))
    asked, before = asked_stages(painter.course, painter.before, between)
    stages = []
    for at in (painter.preshaded, *asked):
        colours = painter.colours(at)
        picture = np.hstack([_picture(one, colours) for one in looks])
        stages.append(StagePicture(done(painter.painted, at), picture))
        progress("pictures", len(stages), len(asked) + 1)
    bare = [f"{part} is no area, and stays as preshaded" for part in form.parts if part not in areas]
    around = turning(sprayed_form, colours, views=AROUND, size_px=max(size_px // 2, 1), progress=progress)
    return FormFigure(
        scheme=scheme,
        viewing=painter.viewing,
        name=name,
        areas=dict(areas),
        surface=_surface(form, areas),
        stages=tuple(stages),
        filter_stage=before,
        colours=colours,
        notices=(*scheme.notices, *bare),
        white_from=tuple(white_from),
        around=np.hstack(around),
    )


@dataclass(frozen=True, eq=False)
class PointColours:
    """Linear sRGB of the points of a form; light that metals send back in a direction stands by itself."""

    even: FloatArray
    """What looks alike from all sides, shape (n, 3)."""
    shine: FloatArray | None = None
    """What does not, (n, 3); None where nothing is metal."""
    slopes: FloatArray | None = None
    """Variances of the slopes of its flakes and of the surface, (n, 2)."""

    def turned(self) -> FloatArray:
        """Return the points as they are seen at 45 degrees from the mirror direction, shape (n, 3)."""
        if self.shine is None or self.slopes is None:
            return self.even
        return _within(self.even + self.shine * flakes.usual_lobe(self.slopes)[:, np.newaxis])


def turning(
    sprayed: SprayedForm,
    colours: PointColours,
    *,
    views: int,
    size_px: int,
    progress: Callable[[str, int, int], None] = lambda *_: None,
) -> list[Picture]:
    """Return pictures of a form that turns once, from its front on, its left side first.

    `progress` as of :func:`paint_form`.
    """
    pictures = []
    for i in range(views):
        seen = look(sprayed.form, sprayed.sky, around_deg=360.0 * i / views, size_px=size_px)
        pictures.append(_picture(seen, colours))
        progress("the turntable", i + 1, views)
    return pictures


class _Painter:
    """The areas of a form, ready to be worked out at any stage."""

    def __init__(
        self,
        scheme: Scheme,
        sprayed: SprayedForm,
        areas: Mapping[str, str],
        viewing: colour.Viewing,
        paint: Paint = PaintedArea,
    ) -> None:
        self.viewing = viewing
        form = sprayed.form
        there = [area for area in scheme.areas if area.name in areas.values()]
        index = {area.name: i for i, area in enumerate(there)}
        area_of_part = np.array([index.get(areas.get(part, ""), NO_AREA) for part in form.parts])
        area_of_point = area_of_part[form.part_of_point]
        self.count = len(area_of_point)
        self.painted = [
            paint(scheme, area, sprayed, np.flatnonzero(area_of_point == i)) for i, area in enumerate(there)
        ]
        self.rest = paint(scheme, there[0], sprayed, np.flatnonzero(area_of_point == NO_AREA))
        self.course = course_of(self.painted)
        self.preshaded = tuple(map(bare_stage, self.painted))
        self.before = before_filter(self.painted, self.course)

    def at(self, stage: FormStage) -> tuple[int, ...]:
        """Return which stage of its own each area is at."""
        if stage == "preshaded" or (stage == "before the filter" and self.before == 0):
            return self.preshaded
        if stage == "before the filter" and self.before is not None:
            return self.course[self.before - 1]
        return self.course[-1]

    def colours(self, at: tuple[int, ...]) -> PointColours:
        """Return the colours of the points, each area at a stage."""
        xyz, shine, slopes = np.zeros((self.count, 3)), np.zeros((self.count, 3)), np.zeros((self.count, 2))
        metal = False
        for one, stage in zip((*self.painted, self.rest), (*at, self.preshaded[0]), strict=True):
            found = one.colours(self.viewing, stage)
            xyz[one.here] = found[:, :3]
            if found.shape[1] > 3:
                metal = True
                shine[one.here], slopes[one.here] = found[:, 3:6], found[:, 6:]
        even = self._linear(xyz)
        return PointColours(even, self._linear(shine), slopes) if metal else PointColours(even)

    def _linear(self, xyz: FloatArray) -> FloatArray:
        return colour.decode_srgb(colour.on_screen(xyz, self.viewing.white).rgb)


def _surface(form: Form, areas: Mapping[str, str]) -> dict[str, float]:
    each = triangle_areas(form.points, form.faces)
    of_part = np.bincount(form.part_of, each, minlength=len(form.parts)) / each.sum()
    found = dict.fromkeys(areas.values(), 0.0)
    for part, share in zip(form.parts, of_part, strict=True):
        if part in areas:
            found[areas[part]] += float(share)
    return found


def _within(linear: FloatArray) -> FloatArray:
    """Return linear sRGB (n, 3) dimmed where it outshines white, so that it keeps its hue."""
    return np.asarray(linear / np.maximum(linear.max(axis=1, keepdims=True), 1.0))


def _picture(seen: Side, colours: PointColours) -> Picture:
    """Return what a side shows of points of these colours, in encoded sRGB, 8 bits."""
    fine = np.full((*seen.part.shape, 3), _WALL)
    there = seen.part != NOTHING
    shown = seen.on_pixels(colours.even) * seen.light[:, np.newaxis]
    if colours.shine is not None and colours.slopes is not None:
        at = flakes.direction(lamp_for(seen.toward), seen.toward, normal=seen.normals)
        slopes = seen.on_pixels(colours.slopes)
        # The dome is all around, so that of it facets send what they would send together.
        glint = seen.dome + seen.lamp * flakes.lobe(at, *slopes.T)
        shown += seen.on_pixels(colours.shine) * glint[:, np.newaxis]
        shown = _within(shown)
    fine[there] = shown
    linear = 0.25 * (fine[::2, ::2] + fine[::2, 1::2] + fine[1::2, ::2] + fine[1::2, 1::2])
    return np.asarray(np.rint(255.0 * colour.encode_srgb(np.clip(linear, 0.0, 1.0))), dtype=np.uint8)
