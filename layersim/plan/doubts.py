"""What is uncertain about a batch, and what a mix is needed for when it turns out otherwise.

Each doubt is a column of normal deviates that shift the logarithm of an efficiency, a surface, a film
or the like.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from layersim.estimate import Estimate
from layersim.plan.jobs import Job, Step
from layersim.plan.records import Cause
from layersim.plan.surfaces import AreaSurface
from layersim.plan.volume import liquid_ml
from layersim.plan.volume import mix_ml as to_mix_ml
from layersim.scheme.records import Scheme
from layersim.spectra import FloatArray


class Doubts:
    """Everything that is uncertain about a batch, one column of normal deviates each.

    `figure`: surface of one model.
    """

    def __init__(
        self,
        scheme: Scheme,
        figure: Estimate | None,
        surfaces: Sequence[AreaSurface],
        jobs: Sequence[Job],
    ) -> None:
        self.scheme, self.batch, self.figure, self.surfaces = scheme, scheme.batch, figure, surfaces
        self.keys: dict[tuple[object, ...], tuple[int, str, str]] = {}
        made_up = sum(surface.cm2.value for surface in surfaces)
        self.all_of_it = figure is not None and abs(made_up / figure.value - 1.0) < 1e-6
        tools = {job.by for job in jobs}
        if "airbrush" in tools:
            self._add(("airbrush",), "transfer efficiency", "weigh a card and the cup: layersim weigh --card")
            self._add(("loss", "airbrush"), "what cup and hose keep", "weigh the cup clean and used up")
        if "brush" in tools:
            self._add(("brush",), "what the brush takes along", "weigh the palette before and after")
            self._add(("loss", "brush"), "what the palette keeps", "weigh the palette before and after")
        self._add(("drop",), "drop size", "weigh ten drops: layersim weigh --drops")
        if any(surfaces[step.area].of_figure for job in jobs for step in job.steps):
            self._add(("figure",), "surface of the model", "give surface_cm2, or a mesh")
        sprayer = scheme.batch.sprayer
        if sprayer is not None and sprayer.film_factor is not None:
            self._add(("own film",), "the sprayer's own film", "fit more swatches of it")
        for index, surface in enumerate(surfaces):
            if surface.cm2.error:
                name = scheme.areas[index].name
                self._add(("area", index), f"surface of {name}", "give its share or surface_cm2")
        for job in jobs:
            for step in job.steps:
                self._add_step(step)

    def _add_step(self, step: Step) -> None:
        area = self.scheme.areas[step.area].name
        if self.scheme.hand.film:
            name = f'film of "{step.name}" on {area}'
            self._add(("film", step.area, step.step), name, "spray a test strip and compare")
        if step.placed and self.batch.places_error:
            self._add(
                ("place", step.area, step.step),
                f'how much of {area} "{step.name}" lands on',
                "compare a sprayed model with the strip",
            )
        if self.batch.solids_error:
            for paint, _ in step.mix.ingredients:
                self._add(
                    ("solids", paint.name),
                    f"volume solids of {paint.name}",
                    f"dry a weighed drop of {paint.name}",
                )

    def _add(self, key: tuple[object, ...], what: str, advice: str) -> None:
        self.keys.setdefault(key, (len(self.keys), what, advice))

    def deviate(self, key: tuple[object, ...], z: FloatArray) -> FloatArray:
        """Return the column of one doubt, zeros where there is no such doubt."""
        return z[:, self.keys[key][0]] if key in self.keys else np.zeros(len(z))

    def columns_of(self, what: str) -> list[int]:
        """Return the columns that stand for one cause."""
        return [column for column, named, _ in self.keys.values() if named == what]

    def need_ml(self, job: Job, z: FloatArray) -> FloatArray:
        """Return what a mix is needed for, cleaning included and reserve left out, shape (row,)."""
        batch = self.batch
        by_brush = job.by == "brush"
        tool = batch.brush_efficiency if by_brush else batch.transfer_efficiency
        loss = batch.brush_loss_ml if by_brush else batch.loss_ml
        efficiency = np.minimum(1.0, tool.drawn(self.deviate((job.by,), z)))
        work = self.film_ml(job, z) / efficiency
        return to_mix_ml(
            work_ml=work,
            touch_up=batch.touch_up,
            loss_ml=loss.drawn(self.deviate(("loss", job.by), z)),
            reserve=0.0,
        )

    def film_ml(self, job: Job, z: FloatArray) -> FloatArray:
        """Return the liquid mix whose solids stay on the models, shape (row,)."""
        total = np.zeros(len(z))
        own = self.batch.sprayer.film_factor if self.batch.sprayer is not None else None
        for step, use in zip(job.steps, job.uses, strict=True):
            surface = self.surfaces[step.area]
            shift = self.surface_shift(step.area, z)
            if surface.of_figure and self.figure is not None:
                shift = shift + self.figure.error * self.deviate(("figure",), z)
            shift = shift + self.scheme.hand.film * self.deviate(("film", step.area, step.step), z)
            if own is not None and step.film_from == "paint" and step.by == "airbrush":
                shift = shift + own.error * self.deviate(("own film",), z)
            placed = self.batch.places_error * self.deviate(("place", step.area, step.step), z)
            # No coat lands on more than its whole area.
            landed = np.minimum(1.0, step.landed * np.exp(placed))
            film_um = step.film_um * landed * np.exp(shift)
            total = total + liquid_ml(
                surface_cm2=use.surface_cm2, dry_film_um=film_um, volume_solids=self._solids(step, z)
            )
        return total

    def surface_shift(self, area: int, z: FloatArray) -> FloatArray:
        """Return the shift of the logarithm of an area's surface, the whole model's left out."""
        own = self._alone(area, z)
        if not (self.surfaces[area].of_figure and self.all_of_it):
            return own
        # Shares that make up the model: what one area has more, the others have less.
        shared = [i for i, surface in enumerate(self.surfaces) if surface.of_figure]
        cm2 = np.array([self.surfaces[i].cm2.value for i in shared])
        drawn = np.exp(np.stack([self._alone(i, z) for i in shared], axis=-1))
        return np.asarray(own - np.log(drawn @ (cm2 / cm2.sum())))

    def _alone(self, area: int, z: FloatArray) -> FloatArray:
        return self.surfaces[area].cm2.error * self.deviate(("area", area), z)

    def _solids(self, step: Step, z: FloatArray) -> FloatArray:
        """Return the volume solids that a film is divided by.

        A film that came from a wet one has the very same solids in it, so that they cancel.
        """
        mix = step.mix
        if step.film_from != "dry":
            return np.full(len(z), mix.volume_solids)
        off = [
            np.exp(self.batch.solids_error * self.deviate(("solids", p.name), z)) for p, _ in mix.ingredients
        ]
        solids = np.minimum(1.0, mix.solids * np.stack(off, axis=-1))
        return np.asarray(solids @ mix.parts / mix.parts.sum() / (1.0 + mix.thinning))

    def causes(self, need: FloatArray) -> tuple[Cause, ...]:
        """Return what a need's range comes from; the last rows have one doubt each."""
        if need[0] <= 0.0 or not self.keys:
            return ()
        shift = np.log(need[-len(self.keys) :] / need[0])
        whole = float((shift**2).sum())
        if whole <= 0.0:
            return ()
        found = [Cause(what, advice, float(shift[i] ** 2 / whole)) for i, what, advice in self.keys.values()]
        return tuple(sorted((c for c in found if c.share > 0.0), key=lambda c: -c.share))
