"""Which mixes a scheme takes, and every step that uses each.

Steps whose recipes are the same are mixed together, since the cup is then cleaned once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layersim import chance
from layersim.plan.records import Use
from layersim.plan.steps import recipe_of
from layersim.plan.surfaces import AreaSurface, landing
from layersim.scheme.records import Area, GreysGiven, GreysSprayed, Mix, Scheme


@dataclass(frozen=True)
class Step:
    """One step on one area, before its mix is looked up among the others'."""

    area: int
    step: chance.Step
    name: str
    mix: Mix
    by: str
    film_um: float
    film_from: str
    landed: float
    placed: bool


@dataclass(frozen=True)
class Job:
    """One mix and every step that uses it."""

    mix: Mix
    by: str
    steps: tuple[Step, ...]
    uses: tuple[Use, ...]


def jobs_of(scheme: Scheme, surfaces: Sequence[AreaSurface], wanted: set[str]) -> tuple[list[Job], list[str]]:
    """Return the mixes of a scheme in order of work, and notices.

    Only mixes of the steps that `wanted` names are kept; all of them where it is empty.
    """
    notices: list[str] = []
    by_recipe: dict[object, list[Step]] = {}
    for index, area in enumerate(scheme.areas):
        for step in _steps(scheme, index, area, notices):
            by_recipe.setdefault(recipe_of(step.mix, step.by), []).append(step)
    jobs = []
    for steps in by_recipe.values():
        if wanted and not any(step.name in wanted for step in steps):
            continue
        uses = tuple(
            Use(
                area=scheme.areas[step.area].name,
                step=step.name,
                by=step.by,
                film_um=step.film_um,
                landed=step.landed,
                surface_cm2=surfaces[step.area].cm2.value * scheme.batch.models,
            )
            for step in steps
        )
        jobs.append(Job(steps[0].mix, steps[0].by, tuple(steps), uses))
    return jobs, notices


def _steps(scheme: Scheme, index: int, area: Area, notices: list[str]) -> Iterable[Step]:
    batch = scheme.batch
    if batch.primer_coats:
        mix = Mix(((area.ground, 1.0),))
        film = batch.primer_coats * area.ground.dry_film_um
        yield Step(index, "ground", "primer", mix, "airbrush", film, "paint", 1.0, placed=False)
    lands = landing(scheme, area)
    preshade = area.preshade
    if isinstance(preshade, GreysGiven):
        notices.append(f"{area.name}: the preshade is given by its greys, so its white is not counted")
    elif isinstance(preshade, GreysSprayed):
        yield Step(
            index, "preshade", "preshade", preshade.mix, "airbrush", preshade.total_film_um,
            preshade.film_from, lands.preshade, placed=True,
        )  # fmt: skip
    for number, coat in enumerate(area.coats):
        landed = lands.coats[number]
        if landed * coat.total_film_um <= 0.0:
            notices.append(f'{area.name}: "{coat.name}" lands nowhere, so it takes no paint')
            continue
        placed = not coat.where.everywhere or coat.patch is not None
        yield Step(
            index, number, coat.name, coat.mix, coat.by, coat.total_film_um, coat.film_from, landed, placed,
        )  # fmt: skip


def thinner_name(mix: Mix) -> str:
    """Return what thinner a mix takes, such as "thinner for water-borne paint"."""
    carriers = list(dict.fromkeys(paint.carrier for paint, _ in mix.ingredients if paint.carrier))
    words = {"water": "water-borne", "solvent": "solvent-borne", "oil": "oil", "two-pack": "two-pack"}
    return f"thinner for {' and '.join(words[c] for c in carriers)} paint" if carriers else "thinner"
