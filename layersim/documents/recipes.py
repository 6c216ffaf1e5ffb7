"""Recipes and places as painters write them and this program prints them, in files and in choices."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

_NUMBER = r"(\d{1,9}(?:[.,]\d{1,9})?)"
_PART = re.compile(rf"{_NUMBER}\s*(?:drops?\s+(?:of\s+)?|x\s+|×\s*|parts?\s+(?:of\s+)?)?(.+)")
_THINNED = re.compile(rf"thinned\s+{_NUMBER}\s*:\s*1\s*", re.IGNORECASE)
_FILM = re.compile(rf"(?:under )?{_NUMBER}\s*[µμu]m dry\s*")
_PLACE: Mapping[str, str] = {
    "edge": rf"\bedge\s*=?\s*{_NUMBER}",
    "up_to": rf"\b(?:up\s+)?to\s*=?\s*{_NUMBER}",
    "from": rf"\bfrom\s*=?\s*{_NUMBER}",
}


def figure(text: str) -> float:
    """Return a number written with a point or a comma."""
    return float(text.replace(",", "."))


def mix_of(text: str) -> tuple[dict[str, float], dict[str, Any]] | None:
    """Return the parts of a recipe, and what else it says: thinning, coats, where; None for other texts.

    A film that was printed behind it is left out: it is worked out anew.

    >>> mix_of("5 navy blue : 1 blue ink, thinned 2:1")
    ({'navy blue': 5.0, 'blue ink': 1.0}, {'thinning': 2.0})
    >>> mix_of("3 bone : 1 sky blue, thinned 1.5:1, 2 coats, 2.3 µm dry, from L* 76 up")[1]
    {'thinning': 1.5, 'coats': 2.0, 'where': {'from': 76.0}}
    >>> mix_of("phthalo green, thinned 1:1, 1 coat, 1.7 µm dry")
    ({'phthalo green': 1.0}, {'thinning': 1.0, 'coats': 1.0})
    >>> mix_of("half a pot") is None
    True
    """
    recipe, *behind = re.split(r",\s+", re.sub(r",?\s*\b(thinned)\b", r", \1", text, flags=re.IGNORECASE))
    rest: dict[str, Any] = {}
    for piece in behind:
        if thinned := _THINNED.fullmatch(piece):
            rest["thinning"] = figure(thinned[1])
        elif (coats := coats_of(piece)) is not None:
            rest["coats"] = coats
        elif place := place_of(piece):
            rest["where"] = {**rest.get("where", {}), **place}
        elif not _FILM.fullmatch(piece):
            return None
    if behind and recipe.strip() and not re.search(r"[\d:+]", recipe):  # one paint by itself
        return {recipe.strip().strip("\"'"): 1.0}, rest
    mix: dict[str, float] = {}
    for part in re.split(r"\s*[:+]\s*", recipe):
        found = _PART.fullmatch(part.strip())
        if found is None:
            return None
        name = found[2].strip().strip("\"'")
        mix[name] = mix.get(name, 0.0) + figure(found[1])
    return mix, rest


def looks_like_mix(text: str) -> bool:
    """Return whether a text is a recipe rather than the name of one paint."""
    if text.startswith("{") or re.match(r"\d", text) or re.search(r"[:+]\s*\d", text):
        return True
    return ", " in text and mix_of(text) is not None


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
