"""A scheme seen on the painter's own model: the answer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal, Protocol, TypeAlias

import numpy as np

from layersim import colour
from layersim.errors import LayersimError
from layersim.figure.areas import Cover
from layersim.figure.repaint import TONES, Picture, SeenArea, eight_bits, repainted, seen_area, table
from layersim.figure.seen import ModelPhotograph
from layersim.fitting.greys import LEAST
from layersim.scheme.prediction import AreaPrediction, Stage
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import simulate
from layersim.shown import Shown

Between: TypeAlias = Literal["every stage", "before the filter", "none"]
NO_DATA: Final = {"json": False}
"""Of pictures: JSON has what is read off them."""
AS_PHOTOGRAPHED: Final = "as photographed"
SIDE_PX: Final = 640
"""Pixels of the longer side of the pictures of each stage."""


@dataclass(frozen=True, eq=False)
class StagePicture:
    """The model after a stage of each area."""

    done: tuple[tuple[str, str], ...]
    """Area and stage."""
    picture: Picture = field(metadata=NO_DATA)
    """Small, in the photograph's own encoding."""


@dataclass(frozen=True, eq=False)
class Figure(Shown):
    """A photograph of a model in the colours of a scheme."""

    scheme: Scheme
    viewing: colour.Viewing
    model: ModelPhotograph = field(metadata=NO_DATA)
    areas: tuple[SeenArea, ...]
    stages: tuple[StagePicture, ...]
    """As photographed first, the finish last."""
    filter_stage: int | None
    """Index of the stage just before the first filter; None where there is none."""
    finished: Picture = field(metadata=NO_DATA)
    """The whole photograph, 8 bits, in its own encoding."""
    stretched: bool
    notices: tuple[str, ...]


def paint_figure(
    scheme: Scheme,
    model: ModelPhotograph,
    covers: Mapping[str, Cover],
    *,
    viewing: colour.Viewing | None = None,
    stretch: bool = False,
    side_px: int = SIDE_PX,
    between: Between = "every stage",
) -> Figure:
    """Return a photograph of the preshaded model in the colours that a scheme will have.

    `covers` says by the names of areas where they are. With `stretch`, the darkest and the lightest of each
    area in the picture stand for the ends of its shade axis, whatever light fell on them. Pictures of stages
    have at most `side_px` a side; between the first and the last, there are those asked for. Raises
    LayersimError where an area is all of one tone, and cannot be stretched.
    """
    prediction = simulate(scheme, tones=TONES, viewing=viewing, draws=0, reasons=False)
    found = painted(
        prediction.areas, scheme, model, covers, viewing=prediction.viewing, stretch=stretch, side_px=side_px,
        between=between,
    )  # fmt: skip
    return replace(found, notices=(*prediction.notices, *found.notices))


def painted(
    predicted: Iterable[AreaPrediction],
    scheme: Scheme,
    model: ModelPhotograph,
    covers: Mapping[str, Cover],
    *,
    viewing: colour.Viewing,
    stretch: bool,
    side_px: int,
    between: Between,
) -> Figure:
    """Return the same as :func:`paint_figure` of areas predicted already, :data:`TONES` tones each."""
    areas = [area for area in predicted if area.name in covers]
    bins = model.bins
    seen = {area.name: seen_area(area, model, covers[area.name], viewing=viewing) for area in areas}
    for name, one in seen.items():
        if stretch and one.seen[1] - one.seen[0] < LEAST:
            raise LayersimError(
                f"{name}: all of it is L* {one.seen[0]:.0f} in the picture; expected a darkest and a "
                "lightest place to stretch between"
            )
    ends = {name: one.seen if stretch else one.axis for name, one in seen.items()}
    # The photograph itself is the bare preshade, or stands for it: that is not shown anew.
    course = course_of(areas)

    def tables(at: tuple[int, ...]) -> dict[str, Picture]:
        return {
            area.name: table(area, stage, model, viewing=viewing, ends=ends[area.name])
            for area, stage in zip(areas, at, strict=True)
        }

    whole = eight_bits(model)
    small = smaller(whole, side_px)
    small_covers = {name: smaller(cover, side_px) for name, cover in covers.items()}
    # A mean of pixels is light, so bins are found anew.
    small_bins = bins if small is whole else model.bins_of(smaller(model.photograph.levels, side_px))
    asked, before = asked_stages(course, before_filter(areas, course), between)
    each = [tables(at) for at in asked]
    pictures = [
        StagePicture(done(areas, at), repainted(small, small_bins, small_covers, becomes))
        for at, becomes in zip(asked, each, strict=True)
    ]
    return Figure(
        scheme=scheme,
        viewing=viewing,
        model=model,
        areas=tuple(seen.values()),
        stages=(StagePicture(tuple((area.name, AS_PHOTOGRAPHED) for area in areas), small), *pictures),
        filter_stage=before,
        finished=pictures[-1].picture if small is whole else repainted(whole, bins, covers, each[-1]),
        stretched=stretch,
        notices=model.notes,
    )


Course: TypeAlias = list[tuple[int, ...]]
"""Which stage each area is at, for each picture after the first."""


class Staged(Protocol):
    """An area with its stages, predicted or not."""

    @property
    def name(self) -> str:
        """Of the area."""

    @property
    def stages(self) -> tuple[Stage, ...]:
        """From the primer to the finish."""

    @property
    def filter_span(self) -> tuple[int, int] | None:
        """As of :func:`layersim.scheme.prediction.filter_span`."""


def bare_stage(area: Staged) -> int:
    """Return the stage of an area that no coat lies on yet: its preshade, or the primer of one without."""
    return int(len(area.stages) > 1 and area.stages[1].name == "preshade")


def course_of(areas: Sequence[Staged]) -> Course:
    """Return how areas go on together, coat by coat: their first filters all at once.

    Else the picture before the filter of one area would lack coats of another.
    """
    bare = [bare_stage(area) for area in areas]
    spans = [area.filter_span for area in areas]
    before = [span and span[0] - stage for span, stage in zip(spans, bare, strict=True)]
    latest = max((coats for coats in before if coats is not None), default=0)
    waits = [0 if coats is None else latest - coats for coats in before]
    ends = [len(area.stages) - 1 for area in areas]
    each = list(zip(bare, waits, ends, strict=True))
    last = max(end - stage + wait for stage, wait, end in each)
    return [
        tuple(min(stage + max(coats - wait, 0), end) for stage, wait, end in each)
        for coats in range(min(1, last), last + 1)
    ]


def done(areas: Sequence[Staged], at: tuple[int, ...]) -> tuple[tuple[str, str], ...]:
    """Return the names of areas and of the stages that they are at."""
    return tuple((area.name, area.stages[stage].name) for area, stage in zip(areas, at, strict=True))


def asked_stages(course: Course, before: int | None, between: Between) -> tuple[Course, int | None]:
    """Return what to show, and which picture is then the one before the filter.

    `before` is as of :func:`before_filter`.
    """
    if between == "none" or (between == "before the filter" and before is None):
        return course[-1:], None
    if between == "before the filter" and before is not None:
        return list(dict.fromkeys((course[max(before - 1, 0)], course[-1]))), min(before, 1)
    return course, before


def before_filter(areas: Sequence[Staged], course: Course) -> int | None:
    """Return which picture, the first being 0, is just before the first filters; None where there is none."""
    for i, at in enumerate(course):
        if any(a.filter_span and stage > a.filter_span[0] for a, stage in zip(areas, at, strict=True)):
            return i
    return None


def smaller(picture: Any, side_px: int) -> Any:
    """Return a picture, or a cover, with at most so many pixels a side."""
    import cv2

    height, width = picture.shape[:2]
    scale = side_px / max(height, width)
    if scale >= 1.0:
        return picture
    size = (max(round(width * scale), 1), max(round(height * scale), 1))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
