"""What a scheme predicts: the colour of every stage and tone, and how sure that is."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final, TypeVar

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.names import named
from layersim.optics.flakes import ANGLES_DEG, flop_index
from layersim.scheme.records import Scheme, Targets
from layersim.shown import Shown
from layersim.spectra import FloatArray

_Seen = TypeVar("_Seen", "AtAngle", "Shine")
CAUSES_SHOWN: Final = 3
_LEAST_CAUSE: Final = 0.05
"""ΔE00 below which a cause is not worth its words."""


@dataclass(frozen=True)
class Stage:
    """One row of the strip: what was just done."""

    name: str
    recipe: str
    """In words."""
    is_filter: bool = False
    is_metal: bool = False
    """Whether flakes of metal were laid."""


def filter_span(stages: Sequence[Stage]) -> tuple[int, int] | None:
    """Return the stages just before the first and just after the last filter; None where there is none."""
    marked = [i for i, stage in enumerate(stages) if stage.is_filter]
    return (marked[0] - 1, marked[-1]) if marked else None


@dataclass(frozen=True)
class Cause:
    """One reason why the finished tones may turn out otherwise."""

    what: str
    """In words, such as ``film of "base"``."""
    advice: str
    """What would narrow it."""
    delta_e: float
    """Mean ΔE00 over the finished tones for one standard deviation."""


@dataclass(frozen=True, eq=False)
class AtAngle:
    """An area with metal, seen at some degrees from the mirror direction; arrays as of the area itself."""

    degrees: float
    reflectance: FloatArray = dataclasses.field(metadata={"json": False})
    """Beside a perfect white, which metals outshine near the mirror direction, (stages, tones, 31)."""
    xyz: FloatArray
    lab: FloatArray
    lab_low: FloatArray | None
    lab_high: FloatArray | None


@dataclass(frozen=True, eq=False)
class Shine:
    """What of an area's colours has a direction, so that they can be had for any light and eye.

    Seen from a direction it is even + share · lobe, with :func:`layersim.optics.flakes.lobe`.
    """

    even: FloatArray
    """Reflectance without it, (stages, tones, 31)."""
    share: FloatArray
    """(stages, tones, 31)."""
    slopes: FloatArray
    """Variances of the slopes of its flakes and of the surface, (stages, tones, 2)."""


@dataclass(frozen=True, eq=False)
class AreaPrediction:
    """The stages and tones of one area."""

    name: str
    stages: tuple[Stage, ...]
    shade: FloatArray
    """Lightness of the bare preshade at each tone, (tones,); 0..100 where there is none."""
    has_preshade: bool
    reflectance: FloatArray
    """As seen, the surface's own share included, (stages, tones, 31)."""
    xyz: FloatArray
    """(stages, tones, 3)."""
    lab: FloatArray
    """(stages, tones, 3)."""
    lab_low: FloatArray | None
    """Lower end of the 90 % range of each coordinate by itself, (stages, tones, 3); None without draws."""
    lab_high: FloatArray | None
    """Upper end."""
    reach: FloatArray | None
    """ΔE00 within which 90 % of outcomes lie around `lab`, (stages, tones); None without draws."""
    mottle: FloatArray
    """Mean ΔE00 of sites around their average, (stages, tones): how blotchy sprayed films are close up."""
    sheen: FloatArray
    """Share of the surface's reflection that reaches the eye, (stages, tones)."""
    causes: tuple[Cause, ...]
    """Largest first."""
    targets: Targets
    angles: tuple[AtAngle, ...] = ()
    """An area with metal from near the mirror direction to far from it; the area's own arrays are those at 45
    degrees. Empty where it looks alike from all sides."""
    shine: Shine | None = dataclasses.field(default=None, metadata={"json": False})
    """None where it looks alike from all sides."""
    finished: bool = True
    """Whether the last stage is the finish; not where :meth:`only` left it out."""

    JSON_ALSO: ClassVar = ("flop_index",)

    def __repr__(self) -> str:
        finish = self.lab[-1, :, 0]
        size = f"{len(self.stages)} stages × {len(self.shade)} tones"
        return f"<AreaPrediction {self.name!r}: {size}, finish L* {finish[0]:.0f} to {finish[-1]:.0f}>"

    @property
    def filter_span(self) -> tuple[int, int] | None:
        """Stages just before the first and just after the last filter; None where there is none."""
        return filter_span(self.stages)

    @property
    def after_filter(self) -> tuple[str, ...]:
        """Names of the stages that come after the last filter; empty without a filter."""
        span = self.filter_span
        return () if span is None else tuple(stage.name for stage in self.stages[span[1] + 1 :])

    def looks(self) -> FloatArray:
        """Return L*a*b* of the finish at :data:`~layersim.optics.flakes.ANGLES_DEG`, (look, tones, 3).

        Without metal all looks are alike.
        """
        same = (self.lab[-1],) * len(ANGLES_DEG)
        return np.stack([angle.lab[-1] for angle in self.angles] or same)

    def stage(self, name: str) -> int:
        """Return the index of the stage of a name; raises UnknownNameError if there is none."""
        return self.stages.index(named(self.stages, name, kind="stages"))

    @property
    def main_causes(self) -> tuple[Cause, ...]:
        """The few causes that matter most, for whoever shows a prediction."""
        return tuple(cause for cause in self.causes[:CAUSES_SHOWN] if cause.delta_e >= _LEAST_CAUSE)

    def filter_shift(self) -> FloatArray | None:
        """Return ΔE00 between before and after the filter, shape (tones,); None without a filter."""
        span = self.filter_span
        return None if span is None else colour.delta_e_2000(self.lab[span[0]], self.lab[span[1]])

    def target_misses(self) -> dict[str, tuple[int, FloatArray, float]]:
        """Return, for each target given, its tone, its L*a*b* and ΔE00 of the finished tone from it."""
        last = len(self.shade) - 1
        places = {"shadow": 0, "mid": last // 2, "light": last}
        misses = {}
        for key, tone in places.items():
            wanted = getattr(self.targets, key)
            if wanted is not None:
                misses[key] = (tone, wanted, float(colour.delta_e_2000(self.lab[-1, tone], wanted)))
        return misses

    @property
    def flop_index(self) -> FloatArray | None:
        """How much lighter metal is near the mirror direction than far from it, (stages, tones).

        The trade's flop index (:func:`layersim.optics.flakes.flop_index`); None without metal.
        """
        if not self.angles:
            return None
        near, turned, far = (angle.lab[..., 0] for angle in self.angles)
        return flop_index(L_near=near, L_turned=turned, L_far=far)

    def only(self, keep: npt.ArrayLike) -> AreaPrediction:
        """Return the same area with some of its stages.

        What is said of the finish (targets, causes) goes with the last stage, and what is said of the
        filter with the stages just before and after it.

        `keep` has the indices of the stages, rising.
        """
        rows = np.asarray(keep, dtype=int)
        finished = self.finished and len(self.stages) - 1 in rows
        whole_filter = self.filter_span is not None and set(self.filter_span) <= set(rows.tolist())
        per_stage = ("reflectance", "xyz", "lab", "lab_low", "lab_high", "reach", "mottle", "sheen")
        values = {name: getattr(self, name) for name in per_stage}
        return dataclasses.replace(
            self,
            stages=tuple(
                self.stages[i] if whole_filter else dataclasses.replace(self.stages[i], is_filter=False)
                for i in rows
            ),
            causes=self.causes if finished else (),
            targets=self.targets if finished else Targets(),
            finished=finished,
            angles=tuple(_some(angle, rows) for angle in self.angles),
            shine=self.shine and _some(self.shine, rows),
            **{name: value[rows] for name, value in values.items() if value is not None},
        )


def _some(record: _Seen, rows: npt.NDArray[np.intp]) -> _Seen:
    """Return a record with some stages of its arrays."""
    values = {one.name: getattr(record, one.name) for one in dataclasses.fields(record)}
    kept: dict[str, Any] = {
        name: value[rows] for name, value in values.items() if isinstance(value, np.ndarray)
    }
    return dataclasses.replace(record, **kept)


@dataclass(frozen=True)
class Prediction(Shown):
    """Everything a scheme predicts under one light."""

    scheme: Scheme
    viewing: colour.Viewing
    areas: tuple[AreaPrediction, ...]
    notices: tuple[str, ...] = ()
    """What the user should know."""

    def __getitem__(self, area: str) -> AreaPrediction:
        """Return the area of a name; raises UnknownNameError, with the nearest one, if there is none."""
        return named(self.areas, area, kind="areas")

    def __repr__(self) -> str:
        areas = "".join(f"\n  {area!r}" for area in self.areas)
        return f"<Prediction of {self.scheme.name!r} under {self.viewing.light}>{areas}"
