"""The steps of a scheme as work at the bench: how long each takes, with what, and what must dry first."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from layersim import colour
from layersim.errors import Problem, SchemeError
from layersim.scheme.records import Area, Coat, GreysSprayed, Mix, Scheme
from layersim.scheme.times import Drying, Times
from layersim.swatchcard import masstone

_MINUTE_S = 60
_HOUR_S = 3600
_CLEAR = ("varnish", "medium")
HANDLING: Final = 0.25
"""Share of a coat's time that goes into picking up and turning a model, however small the area is; common
practice, no source. The rest goes by the area's share of the surface."""


@dataclass(frozen=True)
class BenchStep:
    """One step on one area of every model of the batch."""

    area: int
    """Index of its area."""
    area_name: str
    name: str
    kind: str
    """What it asks of the film below: "paint", "wash" or "varnish"."""
    mix: Mix | None
    """None for a preshade of which only the greys are known."""
    recipe: object
    """Steps with the same recipe can be done with one filling."""
    by: str
    """"airbrush" or "brush"."""
    coats: int
    round_s: int
    """Laying one coat on all models, seconds."""
    drying: Drying
    hard_edge: bool = False
    """Whether it is laid up to a mask on its own area."""
    whole: bool = False
    """Whether all areas with this recipe get it at once, as they do primer and white."""
    part: int = 1
    """Which part of a step that is too long for one sitting."""
    parts: int = 1
    split: str = "coats"
    """What the parts share out: "coats" or "models"."""

    @property
    def label(self) -> str:
        """Its name, with the part of it where it is done in parts."""
        return (
            self.name if self.parts == 1 else f"{self.name} ({self.split}, part {self.part} of {self.parts})"
        )


def seconds(minutes: float) -> int:
    """Return minutes in whole seconds, rounded up."""
    return math.ceil(minutes * _MINUTE_S - 1e-9)


def work_s(steps: Iterable[BenchStep]) -> int:
    """Return how long steps take that are done together, coat by coat over all of them.

    The next coat waits until the last one has flashed off.

    Returns seconds.
    """
    together = list(steps)
    most = max(step.coats for step in together)
    total = 0
    for number in range(most):
        laid = sum(step.round_s for step in together if step.coats > number)
        waits = [seconds(step.drying.flash_min) for step in together if step.coats > number + 1]
        total += max([laid, *waits])
    return total


def rest_s(before: BenchStep, after: BenchStep) -> int:
    """Return how long a step must rest before the next one on its area, seconds."""
    if after.part > 1:
        return seconds(before.drying.flash_min) if after.split == "coats" else 0
    dry = before.drying
    rest = seconds(dry.recoat_min)
    if after.kind == "varnish":
        rest = max(rest, hours_s(dry.varnish_h))
    elif after.kind == "wash":
        rest = max(rest, hours_s(dry.wash_h))
    return max(rest, hours_s(dry.mask_h)) if after.hard_edge else rest


def stands_s(steps: Iterable[BenchStep]) -> int:
    """Return how long the mix that was sprayed may stand in the airbrush, seconds.

    As long as its coats flash off: what has dried on the model has dried at the needle, too (common
    practice, no source; the number itself is ``flash_min`` of :mod:`layersim.scheme.times`).

    The steps are done together.
    """
    return min(seconds(step.drying.flash_min) for step in steps)


def hours_s(hours: float) -> int:
    """Return hours in whole seconds."""
    return math.ceil(hours * _HOUR_S - 1e-9)


def steps_of(scheme: Scheme) -> tuple[tuple[BenchStep, ...], ...]:
    """Return the steps of each area, in order of work.

    Raises SchemeError if a step takes longer than a sitting on one model.
    """
    given, shares = _given_preshades(scheme), _shares(scheme)
    chains = [list(_area_steps(scheme, i, area, given, shares[i])) for i, area in enumerate(scheme.areas)]
    every = [step for chain in chains for step in chain]

    def together_s(step: BenchStep) -> int:
        """Return how long one coat takes on all that is done at once."""
        alike = [other for other in every if other.whole and other.recipe == step.recipe]
        return sum(other.round_s for other in alike) if step.whole else step.round_s

    return tuple(
        tuple(part for step in chain for part in _parts(scheme, step, together_s(step))) for chain in chains
    )


def _shares(scheme: Scheme) -> list[float]:
    """Return each area's share of a model's surface; those that say nothing share what is left equally."""
    extents = [area.extent for area in scheme.areas]
    surfaces = [extent.surface_cm2.value for extent in extents if extent.surface_cm2 is not None]
    if len(surfaces) == len(extents):
        return [surface / sum(surfaces) for surface in surfaces]
    # A mesh is not read for this: what it is asked for is minutes.
    figure = scheme.batch.sized.value if scheme.batch.mesh is None else math.inf
    shares = [
        extent.surface_cm2.value / figure if extent.surface_cm2 is not None else extent.share
        for extent in extents
    ]
    each = max(0.0, 1.0 - sum(share or 0.0 for share in shares)) / max(1, shares.count(None))
    return [each if share is None else min(share, 1.0) for share in shares]


def cleans_out(before: Mix | None, after: Mix | None) -> bool:
    """Return whether the airbrush must be stripped and cleaned between two mixes, not just rinsed.

    So where the carrier changes, before a clear coat, and before a paint that a trace of the last one
    would darken visibly (lighter than it by more than L* 20, as opaque films); common practice, no source.
    """
    if before is None or after is None:
        return before is not after
    if _carriers(before) != _carriers(after):
        return True
    if _is_clear(after):
        return not _is_clear(before)
    return not _is_clear(before) and _lightness(after) - _lightness(before) > 20.0


def _carriers(mix: Mix) -> set[str]:
    return {paint.carrier for paint, _ in mix.ingredients}


def _is_clear(mix: Mix) -> bool:
    return all(paint.kind in _CLEAR for paint, _ in mix.ingredients)


def _lightness(mix: Mix) -> float:
    """Return the least L* of its paints' masstones: the darkest is what stains."""
    view = colour.Viewing()
    return min(float(colour.lab(masstone(paint), view)[0]) for paint, _ in mix.ingredients)


def _given_preshades(scheme: Scheme) -> dict[str, Mix]:
    """Return, by ground, the white that a preshade of known greys may share with a sprayed one."""
    return {
        area.ground.name: area.preshade.mix
        for area in reversed(scheme.areas)
        if isinstance(area.preshade, GreysSprayed)
    }


def _area_steps(
    scheme: Scheme, index: int, area: Area, given: dict[str, Mix], share: float
) -> Iterable[BenchStep]:
    times, models = scheme.times, scheme.batch.models

    def step(
        name: str, mix: Mix | None, coats: int, minutes: float, *, by: str = "airbrush", kind: str = "paint",
        hard_edge: bool = False, whole: bool = False,
    ) -> BenchStep:  # fmt: skip
        # On the whole model, picking up and turning is shared by all areas.
        part = share if whole else HANDLING + (1.0 - HANDLING) * share
        return BenchStep(
            area=index,
            area_name=area.name,
            name=name,
            kind=kind,
            mix=mix,
            recipe=recipe_of(mix, by) if mix is not None else ("white from above", area.ground.name),
            by=by,
            coats=coats,
            round_s=seconds(minutes * models * part),
            drying=_drying(times, mix) if mix is not None else times.drying_of(area.ground),
            hard_edge=hard_edge,
            whole=whole,
        )

    if scheme.batch.primer_coats:
        primer = Mix(((area.ground, 1.0),))
        yield step("primer", primer, scheme.batch.primer_coats, times.airbrush_min, whole=True)
    if isinstance(area.preshade, GreysSprayed):
        yield step("preshade", area.preshade.mix, 1, times.pass_min * area.preshade.passes, whole=True)
    elif area.preshade is not None:
        # Greys alone do not say how they were sprayed: as one coat.
        yield step("preshade", given.get(area.ground.name), 1, times.airbrush_min, whole=True)
    for coat in area.coats:
        per_model = times.airbrush_min if coat.by == "airbrush" else times.brush_min
        hard = not coat.where.everywhere and coat.where.edge == 0.0
        yield step(coat.name, coat.mix, coat.coats, per_model, by=coat.by, kind=_kind(coat), hard_edge=hard)


def _kind(coat: Coat) -> str:
    kinds = {paint.kind for paint, _ in coat.mix.ingredients}
    if kinds <= set(_CLEAR):
        return "varnish"
    oil = any(paint.carrier in ("oil", "solvent") for paint, _ in coat.mix.ingredients)
    return "wash" if "wash" in kinds and (coat.by == "brush" or oil) else "paint"


def _drying(times: Times, mix: Mix) -> Drying:
    slowest = Drying()
    for paint, _ in mix.ingredients:
        slowest = slowest.or_longer(times.drying_of(paint))
    return slowest


def recipe_of(mix: Mix, by: str) -> object:
    """Return what steps share that are mixed together."""
    largest = float(mix.parts.max())
    parts = frozenset((paint.name, round(part / largest, 9)) for paint, part in mix.ingredients)
    return (parts, round(mix.thinning, 9), by)


def prepare_most_s(scheme: Scheme, step: BenchStep) -> int:
    """Return the longest that getting ready for a step can take, seconds, cleaning afterwards included."""
    times = scheme.times
    masks = len(scheme.areas) - 1 if times.between == "mask" and step.by == "airbrush" else 0
    masking = seconds(times.mask_min * scheme.batch.models) * (masks + step.hard_edge)
    changing = max(times.flush_min, times.clean_out_min) + times.clean_out_min + times.fill_min
    return masking + seconds(times.set_up_min) + seconds(changing)


def _parts(scheme: Scheme, step: BenchStep, together_s: int) -> list[BenchStep]:
    """Return a step in as few parts as fit into a sitting each: by coats, else by models.

    `together_s` is how long one coat takes on everything that is done at once with it.
    """
    room = hours_s(scheme.times.session_h) - prepare_most_s(scheme, step)
    for parts in range(1, step.coats + 1):
        if work_s([replace(step, coats=math.ceil(step.coats / parts), round_s=together_s)]) <= room:
            each = [step.coats // parts + (1 if i < step.coats % parts else 0) for i in range(parts)]
            return [replace(step, coats=n, part=i + 1, parts=parts) for i, n in enumerate(each)]
    models = scheme.batch.models

    def some(seconds: int, parts: int) -> int:
        return math.ceil(seconds * math.ceil(models / parts) / models)

    for parts in range(2, models + 1):
        # Each area of a whole model is rounded up by itself.
        most = some(together_s, parts) + len(scheme.areas) * step.whole
        if work_s([replace(step, round_s=most)]) <= room:
            fewer = replace(step, round_s=some(step.round_s, parts), parts=parts, split="models")
            return [replace(fewer, part=i + 1) for i in range(parts)]
    needed = (work_s([replace(step, round_s=together_s // models)]) + prepare_most_s(scheme, step)) / _HOUR_S
    masks = step.hard_edge or (
        scheme.times.between == "mask" and len(scheme.areas) > 1 and step.by == "airbrush"
    )
    masking = f"masking {models} models and " if masks else ""
    problem = Problem(
        f'[times], session_h, for area "{step.area_name}", "{step.name}"',
        f"{scheme.times.session_h:g} h",
        f"at least {math.ceil(needed * 10.0) / 10.0:g} h, which it takes on one model, "
        f"with {masking}cleaning",
        hint="Sit longer, or split the batch.",
    )
    raise SchemeError(scheme.path or scheme.name, [problem])


def unsaid_carriers(scheme: Scheme) -> tuple[str, ...]:
    """Return the paints whose files do not say what carries them."""
    return tuple(dict.fromkeys(paint.name for paint in scheme.paints if not paint.carrier))
