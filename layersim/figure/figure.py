"""A scheme seen on the painter's own model: the answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal, TypeAlias

import numpy as np

from layersim import colour
from layersim.errors import LayersimError
from layersim.figure.areas import Cover
from layersim.figure.repaint import TONES, Picture, SeenArea, eight_bits, repainted, seen_area, table
from layersim.figure.seen import ModelPhotograph
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import simulate
from layersim.shown import Shown

Between: TypeAlias = Literal["every stage", "before the filter", "none"]
NO_DATA: Final = {"json": False}
"""Of pictures: JSON has what is read off them."""
AS_PHOTOGRAPHED: Final = "as photographed"
_LEAST: Final = 1.0
"""L* that lies between an area's darkest and lightest at least, if they are to be ends of its preshade."""
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
    view = viewing or scheme.viewing
    prediction = simulate(scheme, tones=TONES, viewing=view, draws=0, reasons=False)
    areas = [area for area in prediction.areas if area.name in covers]
    bins = model.bins_of(model.photograph.levels)
    seen = {area.name: seen_area(area, bins, covers[area.name], viewing=view) for area in areas}
    for name, one in seen.items():
        if stretch and one.seen[1] - one.seen[0] < _LEAST:
            raise LayersimError(
                f"{name}: all of it is L* {one.seen[0]:.0f} in the picture; expected a darkest and a "
                "lightest place to stretch between"
            )
    ends = {name: one.seen if stretch else one.axis for name, one in seen.items()}

    def tables(stage: int) -> dict[str, Picture]:
        return {
            area.name: table(
                area, min(stage, len(area.stages) - 1), model, viewing=view, ends=ends[area.name]
            )
            for area in areas
        }

    whole = eight_bits(model)
    last = max(len(area.stages) for area in areas) - 1
    small = smaller(whole, side_px)
    small_covers = {name: smaller(cover, side_px) for name, cover in covers.items()}
    # A mean of pixels is light, so bins are found anew.
    small_bins = bins if small is whole else model.bins_of(smaller(model.photograph.levels, side_px))
    # The photograph itself is the bare preshade, or stands for it: primer and preshade are not shown anew.
    first = min(sum(stage.name in ("primer", "preshade") for stage in area.stages) for area in areas)
    stages = list(range(min(first, last), last + 1))
    before = before_filter(areas, stages[0])
    stages, before = asked_stages(stages, before, between)
    each = {stage: tables(stage) for stage in stages}
    pictures = [
        StagePicture(
            tuple((area.name, area.stages[min(stage, len(area.stages) - 1)].name) for area in areas),
            repainted(small, small_bins, small_covers, each[stage]),
        )
        for stage in each
    ]
    return Figure(
        scheme=scheme,
        viewing=view,
        model=model,
        areas=tuple(seen.values()),
        stages=(StagePicture(tuple((area.name, AS_PHOTOGRAPHED) for area in areas), small), *pictures),
        filter_stage=before,
        finished=pictures[-1].picture if small is whole else repainted(whole, bins, covers, each[last]),
        stretched=stretch,
        notices=(*prediction.notices, *model.notes),
    )


def asked_stages(stages: list[int], before: int | None, between: Between) -> tuple[list[int], int | None]:
    """Return which stages to show, and which picture is then the one before the filter.

    `stages` rise; `before` is as of :func:`before_filter`.
    """
    if between == "none" or (between == "before the filter" and before is None):
        return [stages[-1]], None
    if between == "before the filter" and before is not None:
        return sorted({stages[-1], stages[max(before - 1, 0)]}), min(before, 1)
    return stages, before


def before_filter(areas: list[AreaPrediction], first: int) -> int | None:
    """Return which picture is just before the first filter; `first` is the stage of the second picture."""
    spans = [area.filter_span for area in areas if area.filter_span is not None]
    return max(min(span[0] for span in spans) - first + 1, 0) if spans else None


def smaller(picture: Any, side_px: int) -> Any:
    """Return a picture, or a cover, with at most so many pixels a side."""
    import cv2

    height, width = picture.shape[:2]
    scale = side_px / max(height, width)
    if scale >= 1.0:
        return picture
    size = (max(round(width * scale), 1), max(round(height * scale), 1))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
