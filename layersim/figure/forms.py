"""The forms that come with layersim, and which area of a scheme each part of a form is where nobody says."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from layersim.errors import UnknownNameError, nearest_hint, quoted
from layersim.resources import data_folder


@dataclass(frozen=True)
class BuiltIn:
    """A form that comes with layersim."""

    what: str
    parts: Mapping[str, int | None]
    """Its parts, and which of a scheme's areas each is where no name tells; None stays as preshaded."""


FORMS: Final[Mapping[str, BuiltIn]] = {
    "ball": BuiltIn("a plain ball", {"ball": 0}),
    "bust": BuiltIn("a helmet over a draped collar", {"cloth": 0, "straps": 1, "helmet": 3, "glass": 2}),
    "drape": BuiltIn("a cloth that hangs over a post", {"cloth": 0, "post": 1}),
    "facets": BuiltIn("a figure in flat plates", {"plates": 0, "joints": 1, "glass": 2}),
    "lamplighter": BuiltIn(
        "a hooded figure in a long coat", {"cloth": 0, "straps": 1, "glass": 2, "face": None}
    ),
}
"""By name, which is that of its file in data/forms, too."""


def built_in() -> tuple[str, ...]:
    """Return the names of the forms that come with layersim."""
    return tuple(FORMS)


def form_path(name: str) -> Path:
    """Return the file of a form that comes with layersim; raises UnknownNameError.

    >>> form_path("ball").name
    'ball.glb'
    """
    if name not in FORMS:
        hint = nearest_hint(name, FORMS, listed=False)
        listed = f"The forms that come with layersim are {', '.join(FORMS)}."
        raise UnknownNameError(f"there is no file and no form {quoted(name)}. {f'{hint} {listed}'.strip()}")
    return data_folder() / "forms" / f"{name}.glb"


def usual_areas(parts: Sequence[str], areas: Sequence[str], *, form: str = "") -> dict[str, str]:
    """Return which area each part is, by their names, where nobody says; parts that are none are left out.

    A part is the area that has all of its words, or whose words it has all. What is left of a `form` that
    comes with layersim goes by the order of the areas, and a form of one part is the first area.

    >>> usual_areas(["Cloth.001", "strap_left"], ["wax cloth", "strap", "glass"])
    {'Cloth.001': 'wax cloth', 'strap_left': 'strap'}
    >>> usual_areas(["cloth", "straps", "helmet", "glass"], ["hide", "glass"], form="bust")
    {'cloth': 'hide', 'straps': 'glass', 'helmet': 'glass', 'glass': 'glass'}
    """
    found = {}
    order = FORMS[form].parts if form in FORMS else dict.fromkeys(parts, 0 if len(parts) == 1 else None)
    for part in parts:
        alike = [area for area in areas if _alike(part, area)]
        at = order.get(part)
        if alike:
            found[part] = min(alike, key=lambda area: _words(area) != _words(part))
        elif at is not None:
            found[part] = areas[min(at, len(areas) - 1)]
    return found


def _alike(part: str, area: str) -> bool:
    one, two = _words(part), _words(area)
    return bool(one and two) and (one <= two or two <= one)


def _words(name: str) -> set[str]:
    return set(re.findall(r"[^\W\d_]+", name.casefold()))
