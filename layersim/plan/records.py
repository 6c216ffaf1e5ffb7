"""What comes out: how much of each mix, of each paint, and of everything, with ranges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from layersim.estimate import Estimate
from layersim.paint import Paint
from layersim.plan.cautions import Caution
from layersim.plan.surfaces import AreaSurface
from layersim.scheme.records import Mix, Scheme
from layersim.shown import Shown

LEAST_DROPS: Final = 5
"""A part of fewer drops cannot be repeated (common practice, no source)."""
SURE: Final = 0.9
"""Share of cases in which the larger amount named for a mix lasts."""


@dataclass(frozen=True)
class Use:
    """One step that uses a mix."""

    area: str
    step: str
    by: str
    """"airbrush" or "brush"."""
    film_um: float
    """Dry film of all its coats, where it lands in full."""
    landed: float
    """0..1. Share of that film, averaged over the area."""
    surface_cm2: float
    """Of the area, on all models together."""


@dataclass(frozen=True)
class Part:
    """One ingredient of a mix as it is measured out."""

    name: str
    """The paint's, or "thinner" with what it must suit."""
    paint: Paint | None
    """None for thinner."""
    drops: int
    """In each filling."""
    ml: float
    """In all fillings together."""


@dataclass(frozen=True)
class Amount:
    """As much of a mix as is made in whole drops."""

    parts: tuple[Part, ...]
    fillings: int
    """How often the cup is filled, each time with the same drops."""
    mix_ml: float
    """In all fillings together."""
    enough: float
    """0..1. Share of cases in which it lasts."""


@dataclass(frozen=True)
class QuantityCause:
    """One reason why a quantity may turn out otherwise."""

    what: str
    advice: str
    """In words: the cause, and what would narrow it."""
    share: float
    """0..1. Of the variance of the quantity's logarithm."""


class Warned(NamedTuple):
    """Something to mind about a mix: "few", "ratio" or "carriers", and in words."""

    key: str
    words: str


@dataclass(frozen=True)
class MixQuantity:
    """How much of one mix to make."""

    name: str
    """Of the steps that use it."""
    mix: Mix
    uses: tuple[Use, ...]
    volume_solids: float
    """Of the mix as applied."""
    work_ml: float
    """What the bench takes, touching up left out."""
    need_ml: float
    need_low_ml: float
    need_high_ml: float
    """With touching up and what the cup keeps, and the range that holds 90 %."""
    mix_ml: float
    """In whole drops, reserve included."""
    fillings: int
    """How often the cup is filled, each time with the same drops."""
    parts: tuple[Part, ...]
    enough: float
    """0..1. Share of cases in which the mix lasts."""
    sure: Amount
    """Whole drops in the same ratio or near it that last in :data:`SURE` of all cases, and hardly more: of
    one paint alone, not a drop more. The mix itself where that lasts."""
    rounding_delta_e: float
    """Largest ΔE00 of a finished tone between the recipe and these drops."""
    causes: tuple[QuantityCause, ...]
    """Largest first."""
    warnings: tuple[Warned, ...]

    @property
    def few(self) -> tuple[Part, ...]:
        """Parts of a ratio that have too few drops to be repeated."""
        return tuple(part for part in self.parts if part.drops < LEAST_DROPS) if len(self.parts) > 1 else ()

    @property
    def repeatable_ml(self) -> float:
        """What one filling comes to that has :data:`LEAST_DROPS` of each part."""
        fewest = min(part.drops for part in self.parts)
        return self.mix_ml / self.fillings * max(1.0, LEAST_DROPS / fewest)


@dataclass(frozen=True)
class Total:
    """One paint or thinner over all mixes."""

    name: str
    paint: Paint | None
    """None for thinner."""
    mix_ml: float
    """In whole drops, reserve included."""
    need_low_ml: float
    need_high_ml: float
    """Range of the need, which holds 90 %."""


@dataclass(frozen=True)
class Quantities(Shown):
    """Everything a batch takes."""

    scheme: Scheme
    figure_cm2: Estimate | None
    """Surface of one model; None where every area gives its own."""
    surfaces: tuple[AreaSurface, ...]
    mixes: tuple[MixQuantity, ...]
    """In order of work."""
    totals: tuple[Total, ...]
    """Paints by name, then thinners."""
    need_ml: float
    need_low_ml: float
    need_high_ml: float
    """All mixes together, with the range that holds 90 %."""
    causes: tuple[QuantityCause, ...]
    """Of that range, largest first."""
    known_low_ml: float
    known_high_ml: float
    """What the range would be if the first cause were known."""
    cautions: tuple[Caution, ...]
    notices: tuple[str, ...]
