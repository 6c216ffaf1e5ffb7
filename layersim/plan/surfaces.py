"""How much surface each area of a scheme has on one model, and how much of it a coat lands on.

The shade axis is the lightness of the bare preshade, in even steps from shadow to highlight. How much
surface a model has at each lightness is not known; **every step of the strip is taken to have the same
share of the surface**. That assumption is in the range: it may be off by ``places_error``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim.errors import Problem, SchemeError
from layersim.estimate import COMMON_PRACTICE, Estimate
from layersim.plan.mesh import mesh_surface
from layersim.scheme.batch import EQUAL_ERROR, Batch
from layersim.scheme.records import Area, Coat, Scheme
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray

AXIS_STEPS: Final = 65
"""Steps of the axis over which a coat's share is averaged."""


@dataclass(frozen=True)
class AreaSurface:
    """The surface of one area on one model."""

    name: str
    cm2: Estimate
    """Its error leaves out the whole figure's, where it is a share of that."""
    of_figure: bool
    """Whether it is a share of the whole figure, whose error it then has, too."""


def figure_surface(batch: Batch) -> Estimate:
    """Return the surface of one model: as given, from a mesh, or from its size class, cm².

    Raises MeshFileError if a mesh is named and cannot be used.
    """
    if batch.mesh is not None:
        return mesh_surface(batch.mesh, unit_mm=batch.mesh_mm)
    return batch.sized


def area_surfaces(scheme: Scheme) -> tuple[Estimate | None, tuple[AreaSurface, ...]]:
    """Return the surface of one model and of each of its areas.

    Returns none where every area gives its own surface. Raises SchemeError if the areas are more than
    the whole. Raises MeshFileError if a mesh is named and cannot be used.
    """
    batch, areas = scheme.batch, scheme.areas
    whole = None if all(area.extent.surface_cm2 for area in areas) else figure_surface(batch)
    taken = sum(area.extent.share or 0.0 for area in areas)
    if whole is not None:
        taken += sum(a.extent.surface_cm2.value / whole.value for a in areas if a.extent.surface_cm2)
    left_over = [area for area in areas if not area.extent.surface_cm2 and area.extent.share is None]
    if whole is not None and (taken > 1.0 + 1e-9 or (left_over and taken > 1.0 - 1e-9)):
        named = f" and nothing is left for {left_over[0].name!r}".replace("'", '"') if left_over else ""
        found = f"areas that make up {100 * taken:.0f} % of the {cm2_words(whole.value)} of a model{named}"
        expected = "at most all of it. Give smaller shares, or a larger surface in [batch]"
        raise SchemeError(scheme.path or scheme.name, [Problem("share or surface_cm2", found, expected)])
    each = (1.0 - taken) / len(left_over) if left_over else 0.0
    return whole, tuple(_area_surface(area, whole, each, batch, alone=len(areas) == 1) for area in areas)


def _area_surface(
    area: Area, whole: Estimate | None, each: float, batch: Batch, *, alone: bool
) -> AreaSurface:
    if area.extent.surface_cm2 is not None or whole is None:
        return AreaSurface(area.name, area.extent.surface_cm2 or Estimate(0.0, 0.0), of_figure=False)
    if area.extent.share is not None:
        basis = f"{100 * area.extent.share:.0f} % of the model, as given; error assumed"
        return AreaSurface(
            area.name,
            Estimate(whole.value * area.extent.share, batch.shares_error, basis),
            of_figure=True,
        )
    if alone:
        return AreaSurface(area.name, Estimate(whole.value, 0.0, "the whole model"), of_figure=True)
    basis = f"an equal part of what is left, {100 * each:.0f} % of the model: a guess ({COMMON_PRACTICE})"
    return AreaSurface(area.name, Estimate(whole.value * each, EQUAL_ERROR, basis), of_figure=True)


@dataclass(frozen=True, eq=False)
class Landing:
    """Which share of its full film a step leaves on an area, averaged over the area's surface."""

    preshade: float
    coats: tuple[float, ...]


def landing(scheme: Scheme, area: Area) -> Landing:
    """Return what lands of each step of an area, over even steps of the shade axis.

    Raises SchemeError if the preshade does not get lighter from shadow to highlight.
    """
    model = AreaModel(scheme, area, tones=AXIS_STEPS, sites=1)

    def of(coat: Coat) -> float:
        return coat.coverage * _mean(coat.where.film_share(model.shade))

    return Landing(preshade=_mean(model.exposure), coats=tuple(of(coat) for coat in area.coats))


def _mean(along_axis: FloatArray) -> float:
    return float(np.trapezoid(along_axis, dx=1.0 / (len(along_axis) - 1)))


def cm2_words(cm2: float) -> str:
    """Return a surface in words, three digits and never a power of ten.

    >>> cm2_words(4.149), cm2_words(52_800.0)
    ('4.15 cm²', '52800 cm²')
    """
    return f"{cm2:.3g} cm²" if cm2 < 999.5 else f"{cm2:.0f} cm²"
