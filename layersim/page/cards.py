"""What the page shows of a scheme: areas and coats as cards, with the colours of their paints."""

from __future__ import annotations

from typing import Any, Final

from layersim import colour
from layersim.decide.targets import PLACE_WORDS
from layersim.documents.recipes import coats_of, name_of_step
from layersim.errors import LayersimError
from layersim.optics.surface import SHEENS
from layersim.page.css import css_of_one, css_of_swatches
from layersim.page.edits import Values
from layersim.paint import Paint
from layersim.scheme.reading import COAT_KEYS
from layersim.scheme.records import Area, Coat, GreysGiven, GreysSprayed, Mix, Scheme, Targets, Where
from layersim.scheme.simulate import AreaModel
from layersim.scheme.targets import PLACES
from layersim.views import place
from layersim.views.preview import ENDS
from layersim.views.words import light_words

_VIEWING: Final = colour.Viewing()
_IN_TEXT: Final = {
    "note": "the note",
    "observer": "the observer",
    "paints": "the folder of paints",
    "hand": "[hand], how exactly you work",
    "batch": "[batch], how many models there are and how the paint gets onto them",
    "times": "[times], how long things take",
}
_COAT_IN_TEXT: Final = tuple(key for key in COAT_KEYS if key in ("spread", "by", "on_form"))

TERMS: Final[dict[str, Any]] = {
    "lamps": [[light, light_words(light)] for light in colour.LIGHTS],
    "sheens": [[words, share] for words, share in SHEENS.items()],
    "places": [[name, one.words] for name, one in place.PLACES.items()],
    "ends": list(ENDS),
    "tones": PLACE_WORDS,
    "edge": Where().edge,
}
"""Lamps, sheens, named places and tones in the words that everything else of the program has for them."""

_looks: dict[str, tuple[Paint, dict[str, str]]] = {}


def paint_look(paint: Paint) -> dict[str, str]:
    """Return a paint's colours: opaque, one thin coat over black, and one over white."""
    kept = _looks.get(paint.name)
    if kept is None or kept[0] is not paint:
        _looks[paint.name] = kept = (paint, css_of_swatches(paint, _VIEWING))
    return kept[1]


def area_cards(scheme: Scheme, values: Values) -> list[dict[str, Any]]:
    """Return the cards of all areas.

    `values` are the tables of the scheme's text, and `scheme` is that text read with every coat switched on,
    so that its coats are those of the text.
    """
    tables = values["area"]
    return [
        _area(index, area, table, scheme)
        for index, (area, table) in enumerate(zip(scheme.areas, tables, strict=True))
    ]


def text_only(values: Values) -> list[str]:
    """Return, as sentences, what a scheme says that is changed in its text and not on the page."""
    there = [words for key, words in _IN_TEXT.items() if key in values]
    said = [f"{words[0].upper()}{words[1:]}: change it in the text file." for words in there]
    for area in values.get("area", []):
        for coat in area.get("coat", []):
            keys = [key for key in _COAT_IN_TEXT if key in coat]
            if keys:
                step = f'{area.get("name", "")}, "{name_of_step(coat)}"'
                said.append(f"{step}: {' and '.join(keys)}: change it in the text file.")
    return said


def _area(index: int, area: Area, table: Values, scheme: Scheme) -> dict[str, Any]:
    given = table.get("targets", {})
    targets = {key: _target(key, area.targets, given, scheme.viewing) for key in PLACES}
    greys = _greys(scheme, area)
    return {
        "index": index,
        "name": area.name,
        "primer": {"name": area.ground.name, "css": paint_look(area.ground)["masstone_css"]},
        "preshade": _preshade(area, table.get("preshade", {})),
        "coats": [
            _coat(number, coat, row, greys)
            for number, (coat, row) in enumerate(zip(area.coats, table.get("coat", []), strict=True))
        ],
        "places": {name: _where(one.on(greys)) for name, one in place.PLACES.items()},
        "targets": targets,
        "has_match_target": any(targets.values()),
    }


def _preshade(area: Area, table: Values) -> dict[str, Any]:
    preshade = area.preshade
    if isinstance(preshade, GreysGiven):
        return {"kind": "given", **table, "greys": [preshade.darkest, preshade.lightest]}
    if isinstance(preshade, GreysSprayed):
        white = preshade.mix.ingredients[0][0]
        return {
            "kind": "sprayed",
            **table,
            "white": white.name,
            "thinning": preshade.mix.thinning,
            "passes": preshade.passes,
            "reach": preshade.reach,
            "css": paint_look(white)["masstone_css"],
        }
    return {"kind": "none"}


def _greys(scheme: Scheme, area: Area) -> tuple[float, float]:
    """Return the lightness L* of an area's bare preshade in the deepest shadow and at the full highlight."""
    try:
        shade = AreaModel(scheme, area, tones=2).shade
    except LayersimError:  # told where its colours are worked out
        return 0.0, 100.0
    return float(shade[0]), float(shade[-1])


def _where(where: Where) -> dict[str, Any] | None:
    """Return where a coat lands as a scheme's table says it, None for everywhere."""
    if where.everywhere:
        return None
    table = {"from": where.lightest_from, "up_to": where.darkest_up_to, "edge": where.edge}
    return {key: value for key, value in table.items() if value is not None}


def _coat(index: int, coat: Coat, table: Values, greys: tuple[float, float]) -> dict[str, Any]:
    said, wet = table.get("coats", 1), table.get("wet_film_um")
    return {
        "index": index,
        "name": coat.name,
        "parts": [
            {"paint": paint.name, "drops": drops, "kind": paint.kind, **paint_look(paint)}
            for paint, drops in coat.mix.ingredients
        ],
        "mixed": "mix" in table,
        "thinning": coat.mix.thinning,
        "coats": coats_of(said) if isinstance(said, str) else said,
        "dry_film_um": table.get("dry_film_um") if wet is None else round(wet * coat.mix.volume_solids, 3),
        "by_wet_film": wet is not None,
        "film_usual_um": _usual_film_um(coat.mix),
        "filter": coat.is_filter,
        "off": table.get("off") is True,
        "patch": coat.patch,
        "coverage": None if coat.patch is None else coat.coverage,
        "where": _where(coat.where),
        "place": place.place_of(coat.where, greys),
        "place_words": place.place_words(coat.where, greys),
        "sheen": coat.sheen,
    }


def _usual_film_um(mix: Mix) -> float:
    return round(mix.wet_film_um * mix.volume_solids, 3)


def _target(key: str, targets: Targets, given: Values, viewing: colour.Viewing) -> dict[str, Any] | None:
    lab = targets.under(viewing).given.get(key)
    if lab is None:
        return None
    said = given.get(key)
    colour_said, doubt = (said.get("colour"), said.get("doubt")) if isinstance(said, dict) else (said, None)
    return {"text": colour_said, "doubt": doubt, "css": css_of_one(lab, viewing)}
