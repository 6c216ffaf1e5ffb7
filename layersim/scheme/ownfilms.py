"""The films of one's own sprayer, where a scheme leaves the film to the paint."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import TypeVar

from layersim.errors import quoted
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Scheme
from layersim.sprayer import Sprayer

Step = TypeVar("Step", Coat, GreysSprayed)


def takes_own_film(step: Coat | GreysGiven | GreysSprayed | None) -> bool:
    """Return whether a step's film is left to the paint, and so to the sprayer that lays it."""
    if isinstance(step, Coat):
        return step.film_from == "paint" and step.by == "airbrush"
    return isinstance(step, GreysSprayed) and step.film_from == "paint"


def unmoved_words(area: Area, sprayer: Sprayer | None) -> str:
    """Return which sprayed films of an area the sprayer's own does not change, and why.

    Parameters
    ----------
    area : Area
    sprayer : Sprayer or None

    Returns
    -------
    str
        Empty where there is none, or nobody knows the sprayer's film.
    """
    if sprayer is None or sprayer.film_factor is None:
        return ""
    sprayed: list[tuple[str, Coat | GreysSprayed]] = []
    if isinstance(area.preshade, GreysSprayed):
        sprayed.append(("pre-shade", area.preshade))
    sprayed += [(coat.name, coat) for coat in area.coats if coat.by == "airbrush"]
    given = [(name, f"{step.film_from}_film_um") for name, step in sprayed if not takes_own_film(step)]
    if not given:
        return ""
    names = ", ".join(dict.fromkeys(name for name, _ in given))
    keys = " or ".join(dict.fromkeys(key for _, key in given))
    return (
        f"{area.name}: the film per coat of {quoted(sprayer.name)} does not count for {names}, where {keys} "
        f"gives the film; take {keys} out to have it count"
    )


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
    return own_films_changed(scheme, lambda film_um: film_um * factor)


def own_films_changed(scheme: Scheme, change: Callable[[float], float]) -> Scheme:
    """Return a scheme with every film that stands for a paint's own changed.

    Parameters
    ----------
    scheme : Scheme
    change : callable
        Gives the new dry film of one coat for the old, µm.

    Returns
    -------
    Scheme
    """

    def changed(step: Step) -> Step:
        return (
            dataclasses.replace(step, dry_film_um=change(step.dry_film_um)) if takes_own_film(step) else step
        )

    def area(one: Area) -> Area:
        preshade = changed(one.preshade) if isinstance(one.preshade, GreysSprayed) else one.preshade
        return dataclasses.replace(one, preshade=preshade, coats=tuple(changed(coat) for coat in one.coats))

    return dataclasses.replace(scheme, areas=tuple(area(one) for one in scheme.areas))
