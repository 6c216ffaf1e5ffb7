"""The films of one's own sprayer, where a scheme leaves the film to the paint.

Such a film is the paint's own, times a factor of the sprayer and the hand that holds it. The factor is one
for all coats: who sprays thick does so everywhere. What sets one coat apart from the next is the hand's
scatter.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import Final, TypeVar

from layersim.errors import quoted
from layersim.estimate import Estimate
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Scheme
from layersim.sprayer import Sprayer

Step = TypeVar("Step", Coat, GreysSprayed)
UNMEASURED: Final = Estimate(1.0, 0.30, "nobody measured it: half to twice in the extreme (an assumption)")
"""Film factor of a sprayer of which no profile says one."""


def takes_own_film(step: Coat | GreysGiven | GreysSprayed | None) -> bool:
    """Return whether a step's film is left to the paint, and so to the sprayer that lays it."""
    if isinstance(step, Coat):
        return step.film_from == "paint" and step.by == "airbrush"
    return isinstance(step, GreysSprayed) and step.film_from == "paint"


def own_film(sprayer: Sprayer | None) -> Estimate:
    """Return the film factor of a sprayer, which may not be known."""
    return UNMEASURED if sprayer is None or sprayer.film_factor is None else sprayer.film_factor


def unmoved_words(area: Area, sprayer: Sprayer | None) -> str:
    """Return which sprayed films of an area the sprayer's own does not change, and why; empty for none."""
    if sprayer is None or sprayer.film_factor is None:
        return ""
    sprayed: list[tuple[str, Coat | GreysSprayed]] = []
    if isinstance(area.preshade, GreysSprayed):
        sprayed.append(("preshade", area.preshade))
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
    """
    factor = own_film(scheme.batch.sprayer).value
    return own_films_changed(scheme, lambda film_um: film_um * factor)


def with_factor(scheme: Scheme, factor: Estimate) -> Scheme:
    """Return a scheme with another film factor than its sprayer's, put to what its paints suggest."""
    sprayer = Sprayer(name="the sprayer", film_factor=factor)
    was = own_film(scheme.batch.sprayer).value
    batch = dataclasses.replace(scheme.batch, sprayer=sprayer)
    return own_films_changed(
        dataclasses.replace(scheme, batch=batch), lambda film_um: film_um * factor.value / was
    )


def with_own_scatter(scheme: Scheme) -> Scheme:
    """Return a scheme whose hand is as uneven from coat to coat as its sprayer's profile says.

    How far the scatter itself is off counts as well: the mean square of s exp(e z) is s² exp(2e²).
    """
    sprayer = scheme.batch.sprayer
    if sprayer is None or sprayer.film_scatter is None:
        return scheme
    film = min(sprayer.film_scatter.value * math.exp(sprayer.film_scatter.error**2), 1.0)
    if film > scheme.hand.film:
        told = (
            f"ranges are wider than without the profile of {quoted(sprayer.name)}: it says that films vary "
            f"by {100 * film:.0f} % from coat to coat ({sprayer.film_scatter.basis}), where "
            f"{100 * scheme.hand.film:.0f} % are assumed of a hand that nobody measured"
        )
        scheme = dataclasses.replace(scheme, notices=(*scheme.notices, told))
    return dataclasses.replace(scheme, hand=dataclasses.replace(scheme.hand, film=film))


def own_films_changed(scheme: Scheme, change: Callable[[float], float]) -> Scheme:
    """Return a scheme with every film that stands for a paint's own changed.

    `change` gives the new dry film of one coat for the old, µm.
    """

    def changed(step: Step) -> Step:
        if not takes_own_film(step):
            return step
        return dataclasses.replace(step, dry_film_um=change(step.dry_film_um))

    def area(one: Area) -> Area:
        preshade = changed(one.preshade) if isinstance(one.preshade, GreysSprayed) else one.preshade
        return dataclasses.replace(one, preshade=preshade, coats=tuple(changed(coat) for coat in one.coats))

    return dataclasses.replace(scheme, areas=tuple(area(one) for one in scheme.areas))
