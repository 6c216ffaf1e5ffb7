"""Films with and without one's own sprayer's factor."""

from __future__ import annotations

import dataclasses
from typing import TypeVar

from layersim.estimate import Estimate
from layersim.scheme.ownfilms import takes_own_film, with_own_films
from layersim.scheme.records import Coat, GreysSprayed, Scheme
from layersim.sprayer import Sprayer

Step = TypeVar("Step", Coat, GreysSprayed)


def without_sprayer(scheme: Scheme) -> Scheme:
    """Return a scheme with the films that its paints suggest, whatever its sprayer's profile says.

    Parameters
    ----------
    scheme : Scheme

    Returns
    -------
    Scheme
    """
    sprayer = scheme.batch.sprayer
    if sprayer is None or sprayer.film_factor is None:
        return scheme
    factor = sprayer.film_factor.value

    def bare(step: Step) -> Step:
        if not takes_own_film(step):
            return step
        return dataclasses.replace(step, dry_film_um=step.dry_film_um / factor)

    areas = tuple(
        dataclasses.replace(
            area,
            coats=tuple(bare(coat) for coat in area.coats),
            preshade=bare(area.preshade) if isinstance(area.preshade, GreysSprayed) else area.preshade,
        )
        for area in scheme.areas
    )
    batch = dataclasses.replace(scheme.batch, sprayer=None)
    return dataclasses.replace(scheme, areas=areas, batch=batch)


def with_factor(scheme: Scheme, factor: Estimate) -> Scheme:
    """Return a scheme with a film factor put to the films that its paints suggest.

    Parameters
    ----------
    scheme : Scheme
        Without a sprayer (:func:`without_sprayer`).
    factor : Estimate

    Returns
    -------
    Scheme
    """
    sprayer = Sprayer(name="the sprayer", film_factor=factor)
    return with_own_films(
        dataclasses.replace(scheme, batch=dataclasses.replace(scheme.batch, sprayer=sprayer))
    )
