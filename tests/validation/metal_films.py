"""Films of metal flakes against the same films traced ray by ray."""

from __future__ import annotations

import functools
from typing import NamedTuple

import numpy as np

from layersim import colour
from layersim.optics import cones, flakes, levels
from layersim.spectra import BANDS, FloatArray
from tests.oracle.flake_cases import Case, cases, kept
from tests.oracle.flakes import SEEN_AT_DEG, bin_of
from tests.validation.document import table


class Fast(NamedTuple):
    """What the package says of a case."""

    seen: FloatArray
    """R at 15, 45 and 110 degrees from the mirror direction, (3, c)."""
    whole: FloatArray
    """(c,)."""


def fast(case: Case, *, metal: float = 1.0, tilt: float = 1.0, rough: float = 0.0) -> Fast:
    """Return what the package says of a case, averaged over the judge's bins.

    `metal` and `tilt` multiply what flakes reflect and their slopes, `rough` adds to the share strewn evenly.
    """
    absorbs = [np.atleast_1d(film.K_per_um) for film in case.films]
    count = max(np.broadcast(K, film.metal).size for K, film in zip(absorbs, case.films, strict=True))
    level = levels.level_of(cones.even_ground(np.full((1, count), case.ground)))
    mirror = None
    for film, K in zip(case.films, absorbs, strict=True):
        sheet = None
        if film.cover_per_um:
            reflects = flakes.in_cone(np.broadcast_to(np.asarray(film.metal), (1, count)))
            sheet = flakes.FlakeSheet(
                np.array([film.cover_per_um]),
                np.minimum(reflects * metal, 1.0),
                np.array([(tilt * np.tan(np.radians(film.tilt_deg))) ** 2]),
                np.array([np.clip(film.rough + rough, 0.0, 1.0)]),
            )
        K_per_um = np.broadcast_to(K, (1, count))
        coat = flakes.coating(K_per_um=K_per_um, S_per_um=np.zeros((1, count)), sheet=sheet)
        level, mirror = flakes.lay(coat, film_um=np.array([[film.thickness_um]]), over=level, mirror=mirror)
    whole = levels.seen(level, sheen=0.0)
    if mirror is None:
        return Fast(np.tile(whole[0], (3, 1)), whole[0])
    sheen, air = np.array([[case.surface_slope / flakes.MATT_SLOPE]]), cones.directions()
    more = [
        sum(
            share * flakes.seen_more(mirror, even=whole, air=air, sheen=sheen, at=at)[0]
            for share, at in views
        )
        for views in _views()
    ]
    return Fast(whole[0] + np.array(more), whole[0])


@functools.cache
def _views() -> list[list[tuple[float, flakes.Direction]]]:
    """Return the views that fill each of the judge's bins, and what they count."""
    light = [-np.sqrt(0.5), 0.0, np.sqrt(0.5)]
    return [
        [(share, flakes.direction(light, way)) for way, share in zip(*bin_of(np.radians(eye)), strict=True)]
        for eye in SEEN_AT_DEG
    ]
