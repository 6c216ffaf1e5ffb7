"""Recipes and places as painters write them and this program prints them, in files and in choices."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

_NUMBER = r"(\d{1,9}(?:[.,]\d{1,9})?)"
_PART = re.compile(rf"{_NUMBER}\s*(?:drops?\s+(?:of\s+)?|x\s+|×\s*|parts?\s+(?:of\s+)?)?(.+)")
_THINNED = re.compile(rf",?\s*thinned\s+{_NUMBER}\s*:\s*1\s*$", re.IGNORECASE)
_PLACE: Mapping[str, str] = {
    "edge": rf"\bedge\s*=?\s*{_NUMBER}",
    "up_to": rf"\b(?:up\s+)?to\s*=?\s*{_NUMBER}",
    "from": rf"\bfrom\s*=?\s*{_NUMBER}",
}


def figure(text: str) -> float:
    """Return a number written with a point or a comma."""
    return float(text.replace(",", "."))


def mix_of(text: str) -> tuple[dict[str, float], float | None] | None:
    """Return the parts of a recipe, and its thinning where it says so; None for a text that is no recipe.

    >>> mix_of("5 navy blue : 1 blue ink, thinned 2:1")
    ({'navy blue': 5.0, 'blue ink': 1.0}, 2.0)
    >>> mix_of("half a pot") is None
    True
    """
    thinned = _THINNED.search(text)
    mix: dict[str, float] = {}
    for part in re.split(r"\s*[:+]\s*", text[: thinned.start()] if thinned else text):
        found = _PART.fullmatch(part.strip())
        if found is None:
            return None
        name = found[2].strip().strip("\"'")
        mix[name] = mix.get(name, 0.0) + figure(found[1])
    return mix, figure(thinned[1]) if thinned else None


def looks_like_mix(text: str) -> bool:
    """Return whether a text is a recipe rather than the name of one paint."""
    return text.startswith("{") or re.match(r"\d", text) is not None or bool(re.search(r"[:+]\s*\d", text))


def place_of(text: str) -> dict[str, float] | None:
    """Return a place along the shade axis; None for a text that is no place.

    >>> place_of("from L* 60 up, edge 10"), place_of("up to 40"), place_of("L* 30 to 60"), place_of("dark")
    ({'edge': 10.0, 'from': 60.0}, {'up_to': 40.0}, {'up_to': 60.0, 'from': 30.0}, None)
    """
    words = re.sub(r"\bl\*", " ", text.lower().replace("_", " "))
    place: dict[str, float] = {}
    for key, pattern in _PLACE.items():
        if found := re.search(pattern, words):
            place[key] = figure(found[1])
            words = words[: found.start()] + " " + words[found.end() :]
    if "up_to" in place and "from" not in place and (bare := re.fullmatch(rf"\s*{_NUMBER}[,\s]*", words)):
        return {**place, "from": figure(bare[1])}
    return place if place and re.sub(r"\b(up|and)\b|[,\s]", "", words) == "" else None


def coats_of(text: str) -> float | None:
    """Return a number of coats said in words; None for other texts.

    >>> coats_of("half a coat"), coats_of("1.5 coats"), coats_of("many")
    (0.5, 1.5, None)
    """
    if re.fullmatch(r"\s*half(\s+a\s+coat)?\s*", text, re.IGNORECASE):
        return 0.5
    found = re.fullmatch(rf"\s*{_NUMBER}\s*coats?\s*", text, re.IGNORECASE)
    return figure(found[1]) if found else None


def name_of_step(coat: dict[str, Any]) -> str:
    """Return the name of a step as the file gives it: its own, else its first paint's."""
    for key in ("name", "paint"):
        if key in coat:
            return str(coat[key])
    mix = coat.get("mix", {})
    parts: Any = (mix_of(mix) or ({}, None))[0] if isinstance(mix, str) else mix
    entries = parts.items() if isinstance(parts, dict) else ()
    return next((name for name, share in entries if isinstance(share, int | float) and share > 0), "")
