"""A darker and a lighter preshade than an area has, to be tried instead."""

from __future__ import annotations

import dataclasses
from typing import Final

from layersim.errors import LayersimError
from layersim.names import named
from layersim.scheme.records import GreysGiven, GreysSprayed, Preshade, Scheme

_PASSES: Final = (0.6, 1.6)
"""Passes of the white, over those that are planned."""
_STEP: Final = 10.0
"""L* by which known greys are moved."""
_LIGHTEST: Final = 97.0


def other_preshades(scheme: Scheme, area: str) -> list[Preshade]:
    """Return a darker and a lighter preshade; raises LayersimError for an area that has none."""
    preshade = named(scheme.areas, area, kind="areas").preshade
    if isinstance(preshade, GreysSprayed):
        return [
            dataclasses.replace(preshade, passes=max(1, round(preshade.passes * share))) for share in _PASSES
        ]
    if isinstance(preshade, GreysGiven):
        moved = [
            (max(0.0, preshade.darkest + step), min(_LIGHTEST, preshade.lightest + step))
            for step in (-_STEP, _STEP)
        ]
        return [
            dataclasses.replace(preshade, darkest=dark, lightest=light)
            for dark, light in moved
            if dark < light
        ]
    raise LayersimError("other preshades: found an area without a preshade; expected one to change")
