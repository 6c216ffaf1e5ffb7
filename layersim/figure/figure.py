"""A scheme seen on the painter's own model: the answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from layersim import colour
from layersim.figure.areas import Cover
from layersim.figure.repaint import TONES, Picture, SeenArea, eight_bits, repainted, seen_area, table
from layersim.figure.seen import ModelPhotograph
from layersim.scheme.prediction import AreaPrediction
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import simulate

_SIDE: Final = 640
"""Pixels of the longer side of the pictures of each stage."""


@dataclass(frozen=True, eq=False)
class StagePicture:
    """The model after a stage of each area."""

    done: tuple[tuple[str, str], ...]
    """Area and stage."""
    picture: Picture
    """Small, in the photograph's own encoding."""


@dataclass(frozen=True, eq=False)
class Figure:
    """A photograph of a model in the colours of a scheme."""

    scheme: Scheme
    viewing: colour.Viewing
    model: ModelPhotograph
    areas: tuple[SeenArea, ...]
    stages: tuple[StagePicture, ...]
    """As photographed first, the finish last."""
    filter_stage: int | None
    """Index of the stage just before the first filter; None where there is none."""
    finished: Picture
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
) -> Figure:
    """Return a photograph of the preshaded model in the colours that a scheme will have.

    `covers` says by the names of areas where they are. With `stretch`, the darkest and the lightest of each
    area in the picture stand for the ends of its shade axis, whatever light fell on them.
    """
    view = viewing or scheme.viewing
    prediction = simulate(scheme, tones=TONES, viewing=view, draws=0, reasons=False)
    areas = [area for area in prediction.areas if area.name in covers]
    bins = model.bins_of(model.photograph.levels)
    seen = {area.name: seen_area(area, bins, covers[area.name], viewing=view) for area in areas}
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
    small = _smaller(whole)
    small_covers = {name: _smaller(cover) for name, cover in covers.items()}
    # A mean of pixels is light, so bins are found anew.
    small_bins = model.bins_of(_smaller(model.photograph.levels))
    # The photograph itself is the bare preshade, or stands for it: primer and preshade are not shown anew.
    first = min(sum(stage.name in ("primer", "preshade") for stage in area.stages) for area in areas)
    each = {stage: tables(stage) for stage in range(min(first, last), last + 1)}
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
        stages=(StagePicture(tuple((area.name, "as photographed") for area in areas), small), *pictures),
        filter_stage=before_filter(areas, min(each)),
        finished=repainted(whole, bins, covers, each[last]),
        stretched=stretch,
        notices=(*prediction.notices, *model.notes),
    )


def before_filter(areas: list[AreaPrediction], first: int) -> int | None:
    """Return which picture is just before the first filter; `first` is the stage of the second picture."""
    spans = [area.filter_span for area in areas if area.filter_span is not None]
    return max(min(span[0] for span in spans) - first + 1, 0) if spans else None


def _smaller(picture: Any) -> Any:
    import cv2

    height, width = picture.shape[:2]
    scale = _SIDE / max(height, width)
    if scale >= 1.0:
        return picture
    size = (max(round(width * scale), 1), max(round(height * scale), 1))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA))
