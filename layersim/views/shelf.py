"""Which paints there are."""

from __future__ import annotations

from collections.abc import Sequence

from layersim import colour
from layersim.shelf import Place
from layersim.swatchcard import swatch_card
from layersim.views.parts import Cell, Part, TablePart, Tone, View, Words
from layersim.views.preview import screen_words


def view(places: Sequence[Place], *, own: str = "", notices: Sequence[str] = ()) -> View:
    """Return the page of some paints: each opaque, and one thin coat of it over black and over white."""
    viewing = colour.Viewing()
    rows: list[list[Cell]] = []
    for place in places:
        paint, card = place.paint, swatch_card(place.paint, coats=(1,))
        labs = [colour.lab(one, viewing) for one in (card.masstone, card.over_black[0], card.over_white[0])]
        source = (
            "starter, invented" if place.starter else f"{place.path}{', invented' if paint.invented else ''}"
        )
        rows.append(
            [
                *(Tone(lab, f"{lab[0]:4.0f} ") for lab in labs),
                paint.name,
                paint.kind,
                screen_words(labs[0], viewing),
                f"{100 * paint.volume_solids:.0f} %",
                f"{paint.dry_film_um:.1f} µm",
                source,
            ]
        )
    heads = ["opaque", "on black", "on white", "name", "kind", "screen", "solids", "one coat", "from"]
    foot = ["Numbers on colours are lightness L*. On black and on white: one unthinned coat."]
    if own:
        foot.append(f"Your own paints belong in {own}.")
    body: list[Part] = [Words(["No such paint is here."])]
    if rows:
        body = [TablePart(heads, rows, right=(6, 7)), Words(foot, kind="faint")]
    return View(title="Paints", aside=_count(places), parts=body, notices=tuple(notices))


def _count(places: Sequence[Place]) -> str:
    starters = sum(place.starter for place in places)
    return f"{len(places)} paint{'' if len(places) == 1 else 's'}, {len(places) - starters} of them your own"
