"""The films of one's own sprayer, where a scheme leaves the film to the paint."""

from __future__ import annotations

import dataclasses

from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Scheme


def takes_own_film(step: Coat | GreysGiven | GreysSprayed | None) -> bool:
    """Return whether a step's film is left to the paint, and so to the sprayer that lays it."""
    if isinstance(step, Coat):
        return step.film_from == "paint" and step.by == "airbrush"
    return isinstance(step, GreysSprayed) and step.film_from == "paint"


def with_own_films(scheme: Scheme) -> Scheme:
    """Return a scheme with every film that stands for a paint's own scaled to the sprayer's.

    A film that the scheme itself gives stays as it is, and so does what is brushed.

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

    def scaled(coat: Coat) -> Coat:
        if not takes_own_film(coat):
            return coat
        return dataclasses.replace(coat, dry_film_um=coat.dry_film_um * factor)

    def area(one: Area) -> Area:
        preshade = one.preshade
        if isinstance(preshade, GreysSprayed) and takes_own_film(preshade):
            preshade = dataclasses.replace(preshade, dry_film_um=preshade.dry_film_um * factor)
        return dataclasses.replace(one, preshade=preshade, coats=tuple(scaled(coat) for coat in one.coats))

    return dataclasses.replace(scheme, areas=tuple(area(one) for one in scheme.areas))
