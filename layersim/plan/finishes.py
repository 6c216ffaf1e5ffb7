"""What rounding a recipe to whole drops does to the finished tones."""

from __future__ import annotations

import dataclasses
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import Step
from layersim.plan import rounding
from layersim.plan.jobs import Job
from layersim.scheme.records import Area, Coat, GreysSprayed, Mix, Scheme
from layersim.scheme.simulate import simulate
from layersim.spectra import FloatArray

_TONES: Final = 9


class Finishes:
    """The finished tones of each area, worked out once, and those with a mix's whole drops."""

    def __init__(self, scheme: Scheme) -> None:
        self.scheme = scheme
        self._lab: dict[int, FloatArray] = {}

    def rounding_delta_e(self, job: Job, rounded: rounding.Rounded) -> float:
        """Return the largest ΔE00 of a finished tone that rounding to drops makes."""
        if rounded.error == 0.0:
            return 0.0
        paints = len(job.mix.ingredients)
        drops = rounded.drops[:paints]
        thinning = float(rounded.drops[paints:].sum() / drops.sum())
        worst = 0.0
        for index in dict.fromkeys(step.area for step in job.steps):
            mine = {step.step for step in job.steps if step.area == index}
            counted = {paint.name: float(n) for (paint, _), n in zip(job.mix.ingredients, drops, strict=True)}
            area = with_drops(self.scheme.areas[index], mine, counted, thinning)
            shift = colour.delta_e_2000(self._finish(area), self._before(index))
            worst = max(worst, float(shift.max()))
        return worst

    def _before(self, index: int) -> FloatArray:
        if index not in self._lab:
            self._lab[index] = self._finish(self.scheme.areas[index])
        return self._lab[index]

    def _finish(self, area: Area) -> FloatArray:
        one = dataclasses.replace(self.scheme, areas=(area,))
        return np.asarray(simulate(one, tones=_TONES, draws=0).areas[0].lab[-1])


def with_drops(area: Area, steps: set[Step], drops: dict[str, float], thinning: float) -> Area:
    """Return an area whose steps are mixed with these drops and sprayed as wet as before."""

    def mixed(old: Mix, film_um: float) -> tuple[Mix, float]:
        new = Mix(tuple((paint, drops[paint.name]) for paint, _ in old.ingredients), thinning)
        return new, film_um * new.volume_solids / old.volume_solids

    def coat(number: int, old: Coat) -> Coat:
        if number not in steps:
            return old
        mix, film = mixed(old.mix, old.dry_film_um)
        return dataclasses.replace(old, mix=mix, dry_film_um=film)

    preshade = area.preshade
    if isinstance(preshade, GreysSprayed) and "preshade" in steps:
        mix, film = mixed(preshade.mix, preshade.dry_film_um)
        preshade = dataclasses.replace(preshade, mix=mix, dry_film_um=film)
    coats = tuple(coat(number, old) for number, old in enumerate(area.coats))
    return dataclasses.replace(area, preshade=preshade, coats=coats)
