"""What to be careful with, for the kinds of material that a scheme uses.

Short reminders of the trade's common practice, no assessment: label, safety data sheet, local rules and
licensed practice come first, always. What a paint is made of comes from its file (``carrier``,
``hazards``); where the file does not say, that is said instead.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from layersim.paint import Paint
from layersim.scheme.records import GreysGiven, GreysSprayed, Scheme


@dataclass(frozen=True)
class Caution:
    """One reminder and the paints that call for it."""

    key: str
    """Which one: "label", "mist", "metal", ... as in :func:`cautions`."""
    words: str
    paints: tuple[str, ...] = ()
    """Empty where it goes for all."""


NEVER_SPRAYED: Final = ("cadmium", "cobalt", "lead", "chromate")
"""Hazards of a paint whose pigment must not become mist or dust."""
LABEL: Final = (
    "Read the label and the safety data sheet of every product. They, local rules and licensed practice "
    "come before anything here; exposure is not assessed here."
)
MIST: Final = (
    "All spraying makes mist that can be breathed, water-borne paint too: extract it to the outside and wear "
    "a fitted respirator for particles, gloves and eye protection."
)
MIST_TWO_PACK: Final = (
    "All spraying makes mist that can be breathed, water-borne paint too: extract it to the outside, and "
    "wear gloves and eye protection. A respirator for particles is for the other paints, never for two-pack."
)
SOLVENT: Final = (
    "Solvent: add organic-vapour cartridges. Its vapour burns: no flames, sparks or heaters, and extraction "
    "that is made for it."
)
TWO_PACK: Final = (
    "Two-pack with isocyanate: air-fed breathing apparatus in a proper booth, never a hobby room. A filter "
    "mask is not enough. Its vapour burns: no flames, sparks or heaters."
)
GENERAL: Final = ("label", "mist", "air")
"""Keys of what goes for all spraying, whatever the material."""
PIGMENT_SPRAYED: Final = (
    "This scheme sprays a pigment that must never be sprayed: lay it by brush, or take another paint."
)
PIGMENT: Final = (
    "Never spray or dry-sand cadmium, cobalt, lead or chromate pigments: brush them on, or leave them."
)
OIL: Final = (
    "Oily rags heat themselves: dry them spread singly outdoors, or soak and seal them. The thinner's vapour "
    "burns: fresh air, no flames, sparks or heaters."
)
METAL: Final = (
    "Metal flakes: do not breathe their mist or sanding dust, and keep flames and sparks away, for fine "
    "metal burns. Some give off gas in water: open a bottle that has swollen slowly, outdoors."
)
AIR: Final = "Relieve the pressure before you open the airbrush or hose; drain the air tank."
UNKNOWN: Final = (
    "Its file does not say what carries it: see the label whether solvent or two-pack cautions apply."
)


def cautions(scheme: Scheme) -> tuple[Caution, ...]:
    """Return what a scheme's materials call for, the general first."""
    used = list(_used(scheme))
    every = [paint for paint, _ in used]
    sprayed = [paint for paint, by in used if by == "airbrush"]
    # Of a preshade known by its greys the paint is not known, but it was sprayed.
    any_spray = bool(sprayed) or any(isinstance(area.preshade, GreysGiven) for area in scheme.areas)
    toxic = set(NEVER_SPRAYED)
    two_pack = [p for p in every if p.carrier == "two-pack" or "isocyanate" in p.hazards]
    # Oil is thinned with a solvent, which the airbrush turns to vapour all at once.
    vapour = [
        p
        for p, by in used
        if p not in two_pack and (p.carrier == "solvent" or (p.carrier, by) == ("oil", "airbrush"))
    ]
    mist = MIST_TWO_PACK if two_pack else MIST
    rules = (
        ("pigment sprayed", PIGMENT_SPRAYED, [p for p in sprayed if toxic & set(p.hazards)]),
        ("pigment", PIGMENT, [p for p in every if toxic & set(p.hazards)]),
        ("metal", METAL, [p for p in every if p.flakes is not None]),
        ("two-pack", TWO_PACK, two_pack),
        ("solvent", SOLVENT, vapour),
        ("oil", OIL, [p for p in every if p.carrier == "oil"]),
        ("unknown", UNKNOWN, [p for p in every if not p.carrier]),
    )
    found = [Caution("label", LABEL), *([Caution("mist", mist)] if any_spray else [])]
    for key, words, paints in rules:
        if paints:
            found.append(Caution(key, words, tuple(dict.fromkeys(paint.name for paint in paints))))
    return (*found, *([Caution("air", AIR)] if any_spray else []))


def _used(scheme: Scheme) -> Iterable[tuple[Paint, str]]:
    """Return every paint of a scheme and what it is laid with."""
    for area in scheme.areas:
        if scheme.batch.primer_coats:
            yield area.ground, "airbrush"
        if isinstance(area.preshade, GreysSprayed):
            yield from ((paint, "airbrush") for paint, _ in area.preshade.mix.ingredients)
        for coat in area.coats:
            yield from ((paint, coat.by) for paint, _ in coat.mix.ingredients)
