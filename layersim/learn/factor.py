"""Films with and without one's own sprayer's factor."""

from __future__ import annotations

import dataclasses

from layersim.estimate import Estimate
from layersim.scheme.ownfilms import own_films_changed, with_own_films
from layersim.scheme.records import Scheme
from layersim.sprayer import Sprayer


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
    batch = dataclasses.replace(scheme.batch, sprayer=None)
    return dataclasses.replace(own_films_changed(scheme, lambda film_um: film_um / factor), batch=batch)


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
