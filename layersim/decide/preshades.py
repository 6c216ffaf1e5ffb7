"""Preshades that may be sprayed instead of the one that an area has."""

from __future__ import annotations

import dataclasses

from layersim.errors import LayersimError
from layersim.names import named
from layersim.scheme.records import GreysGiven, GreysSprayed, Preshade, Scheme


def other_preshades(preshade: Preshade | None) -> tuple[Preshade, ...]:
    """Return what may be sprayed instead of a preshade: darker, lighter, or with lifted shadows."""
    tried: list[Preshade] = []
    if isinstance(preshade, GreysSprayed):
        passes = (max(1, round(preshade.passes * share)) for share in (0.5, 1.75))
        tried += [dataclasses.replace(preshade, passes=number) for number in passes]
        tried.append(dataclasses.replace(preshade, reach=min(0.5, preshade.reach + 0.1)))
    elif isinstance(preshade, GreysGiven):
        for low, high in ((12.0, 8.0), (-12.0, -12.0), (12.0, 0.0)):
            dark, light = max(0.0, preshade.darkest + low), min(97.0, preshade.lightest + high)
            if dark < light:
                tried.append(dataclasses.replace(preshade, darkest=dark, lightest=light))
    return tuple(one for one in dict.fromkeys(tried) if one != preshade)


def preshades_to_try(scheme: Scheme, area: str) -> tuple[Preshade, ...]:
    """Return the same for an area by its name; raises LayersimError for one that has none."""
    found = other_preshades(named(scheme.areas, area, kind="areas").preshade)
    if not found:
        raise LayersimError("other preshades: found an area without a preshade; expected one to change")
    return found
