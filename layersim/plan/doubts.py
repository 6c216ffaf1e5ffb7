"""What is uncertain about a batch, and what a mix is needed for when it turns out otherwise.

Each doubt is a column of normal deviates that shift the logarithm of an efficiency, a surface, a film
or the like. That one sprayer lays all its films thicker or thinner counts as it does in a prediction.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, Literal

import numpy as np

from layersim.chance import Factor, Source
from layersim.estimate import Estimate
from layersim.plan.jobs import Job, Step
from layersim.plan.records import QuantityCause
from layersim.plan.surfaces import AreaSurface
from layersim.plan.volume import liquid_ml
from layersim.plan.volume import mix_ml as to_mix_ml
from layersim.scheme.factors import factors_of, own_film_key
from layersim.scheme.ownfilms import own_film
from layersim.scheme.records import Scheme
from layersim.spectra import FloatArray

_LOSS: Final = {"airbrush": Source("loss", name="airbrush"), "brush": Source("loss", name="brush")}


class Doubts:
    """Everything that is uncertain about a batch."""

    def __init__(
        self,
        scheme: Scheme,
        figure: Estimate | None,
        surfaces: Sequence[AreaSurface],
        jobs: Sequence[Job],
    ) -> None:
        self.scheme, self.batch, self.figure, self.surfaces = scheme, scheme.batch, figure, surfaces
        made_up = sum(surface.cm2.value for surface in surfaces)
        self.all_of_it = figure is not None and abs(made_up / figure.value - 1.0) < 1e-6
        self.factors = {factor.key: factor for factor in _factors(scheme, surfaces, jobs)}
        self.columns = {key: column for column, key in enumerate(self.factors)}

    def deviate(self, key: Source, z: FloatArray) -> FloatArray:
        """Return the column of one doubt, zeros where there is no such doubt."""
        return z[:, self.columns[key]] if key in self.columns else np.zeros(len(z))

    def columns_of(self, what: str) -> list[int]:
        """Return the columns that stand for one cause."""
        return [self.columns[key] for key, factor in self.factors.items() if factor.what == what]

    def need_ml(self, job: Job, z: FloatArray) -> FloatArray:
        """Return what a mix is needed for, cleaning included and reserve left out, shape (row,)."""
        batch = self.batch
        by_brush = job.by == "brush"
        tool = batch.brush_efficiency if by_brush else batch.transfer_efficiency
        loss = batch.brush_loss_ml if by_brush else batch.loss_ml
        efficiency = np.minimum(1.0, tool.drawn(self.deviate(Source("brush" if by_brush else "airbrush"), z)))
        work = self.film_ml(job, z) / efficiency
        return to_mix_ml(
            work_ml=work,
            touch_up=batch.touch_up,
            loss_ml=loss.drawn(self.deviate(_LOSS[job.by], z)),
            reserve=0.0,
        )

    def film_ml(self, job: Job, z: FloatArray) -> FloatArray:
        """Return the liquid mix whose solids stay on the models, shape (row,)."""
        total = np.zeros(len(z))
        own = own_film(self.batch.sprayer)
        for step, use in zip(job.steps, job.uses, strict=True):
            surface = self.surfaces[step.area]
            shift = self.surface_shift(step.area, z)
            if surface.of_figure and self.figure is not None:
                shift = shift + self.figure.error * self.deviate(Source("figure"), z)
            shift = shift + self.scheme.hand.film * self.deviate(_key("film", step), z)
            if step.film_from == "paint" and step.by == "airbrush":
                shift = shift + own.error * self.deviate(own_film_key(self.batch.sprayer), z)
            placed = self.batch.places_error * self.deviate(_key("place", step), z)
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
        return self.surfaces[area].cm2.error * self.deviate(Source("area", number=area), z)

    def _solids(self, step: Step, z: FloatArray) -> FloatArray:
        """Return the volume solids that a film is divided by.

        A film that came from a wet one has the very same solids in it, so that they cancel.
        """
        mix = step.mix
        if step.film_from != "dry":
            return np.full(len(z), mix.volume_solids)
        z_of = [self.deviate(Source("solids", name=paint.name), z) for paint, _ in mix.ingredients]
        off = [np.exp(self.batch.solids_error * one) for one in z_of]
        solids = np.minimum(1.0, mix.solids * np.stack(off, axis=-1))
        return np.asarray(solids @ mix.parts / mix.parts.sum() / (1.0 + mix.thinning))

    def causes(self, need: FloatArray) -> tuple[QuantityCause, ...]:
        """Return what a need's range comes from; the last rows have one doubt each."""
        if need[0] <= 0.0 or not self.factors:
            return ()
        shift = np.log(need[-len(self.factors) :] / need[0]) ** 2
        shares = shift / max(float(shift.sum()), np.finfo(float).tiny)
        found = [
            QuantityCause(one.what, one.advice, float(share))
            for one, share in zip(self.factors.values(), shares, strict=True)
            if share > 0.0
        ]
        return tuple(sorted(found, key=lambda cause: -cause.share))


def _factors(scheme: Scheme, surfaces: Sequence[AreaSurface], jobs: Sequence[Job]) -> Iterator[Factor]:
    """Yield each doubt; of the same key, the last."""
    batch, steps = scheme.batch, [step for job in jobs for step in job.steps]
    tools = {job.by for job in jobs}
    palette = "weigh the palette before and after"
    if "airbrush" in tools:
        yield Factor(
            Source("airbrush"), "transfer efficiency", "weigh a card and the cup: layersim weigh --card"
        )
        yield Factor(_LOSS["airbrush"], "what cup and hose keep", "weigh the cup clean and used up")
    if "brush" in tools:
        yield Factor(Source("brush"), "what the brush takes along", palette)
        yield Factor(_LOSS["brush"], "what the palette keeps", palette)
    yield Factor(Source("drop"), "drop size", "weigh ten drops: layersim weigh --drops")
    if any(surfaces[step.area].of_figure for step in steps):
        yield Factor(Source("figure"), "surface of the model", "give surface_cm2, or a mesh")
    for area in scheme.areas:
        yield from (factor for factor in factors_of(scheme, area) if factor.key.kind == "own film")
    for index, surface in enumerate(surfaces):
        if surface.cm2.error:
            what = f"surface of {scheme.areas[index].name}"
            yield Factor(Source("area", number=index), what, "give its share or surface_cm2")
    for step in steps:
        area_name = scheme.areas[step.area].name
        if scheme.hand.film:
            what = f'film of "{step.name}" on {area_name}'
            yield Factor(_key("film", step), what, "spray a test strip and compare")
        if step.placed and batch.places_error:
            what = f'how much of {area_name} "{step.name}" lands on'
            yield Factor(_key("place", step), what, "compare a sprayed model with the strip")
        if batch.solids_error:
            for paint, _ in step.mix.ingredients:
                what, advice = f"volume solids of {paint.name}", f"dry a weighed drop of {paint.name}"
                yield Factor(Source("solids", name=paint.name), what, advice)


def _key(kind: Literal["film", "place"], step: Step) -> Source:
    return Source(kind, step.step, number=step.area)
