"""Which paints there are."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from layersim import colour
from layersim.paint import KINDS, Paint
from layersim.shelf import Place, Shelf
from layersim.spectra import FloatArray
from layersim.swatchcard import masstone, one_coat
from layersim.views.metal import LOOKS_EXPLAINED
from layersim.views.parts import Cell, Part, TablePart, Tone, View, Words
from layersim.views.preview import screen_words

NONE: Final = "No such paint is here."


def view(places: Sequence[Place], *, own: str = "", notices: Sequence[str] = (), none: str = NONE) -> View:
    """Return the page of some paints: each opaque, and one thin coat of it over black and over white.

    `none` is what to say if there are none.
    """
    viewing = colour.Viewing()
    rows: list[list[Cell]] = []
    for place in sorted(places, key=_order):
        paint = place.paint
        labs = swatches(paint, viewing)
        rows.append(
            [
                *(Tone(lab, f"{lab[0]:4.0f} ") for lab in labs),
                paint.name,
                paint.kind,
                screen_words(labs[0], viewing),
                f"{100 * paint.volume_solids:.0f} %",
                f"{paint.dry_film_um:.1f} µm",
                source_words(place),
            ]
        )
    heads = ["opaque", "on black", "on white", "name", "kind", "screen", "solids", "one coat", "from"]
    foot = ["Numbers on colours are lightness L*. On black and on white: one unthinned coat."]
    if any(place.paint.flakes is not None for place in places):
        foot.append(LOOKS_EXPLAINED)
    if own:
        foot.append(f"Your own paints belong in {own}.")
    body: list[Part] = [Words([none])]
    if rows:
        body = [TablePart(heads, rows, right=(6, 7)), Words(foot, kind="faint")]
    return View(title="Paints", aside=_count(places), parts=body, notices=tuple(notices))


def _order(place: Place) -> tuple[int, bool, float, float]:
    """Return by what a shelf is sorted: kind, colours before greys, hue round the circle, lightness."""
    L, chroma, hue = colour.lch(colour.lab(masstone(place.paint), colour.Viewing()))
    grey = bool(chroma < colour.GREY_CHROMA)
    return KINDS.index(place.paint.kind), grey, 0.0 if grey else 30.0 * (hue // 30.0), float(L)


def swatches(paint: Paint, viewing: colour.Viewing) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return L*a*b* of a paint opaque, and of one thin coat of it over black and over white."""
    black, white = one_coat(paint)
    return (
        colour.lab(masstone(paint), viewing),
        colour.lab(black, viewing),
        colour.lab(white, viewing),
    )


def none_words(shelf: Shelf, words: str) -> str:
    """Return what to say where a search for some words found no paint."""
    return f"{NONE} {shelf.nearest(words)}"


def source_words(place: Place) -> str:
    """Return where a paint on the shelf comes from."""
    if place.starter:
        return "starter, invented"
    return f"{place.path}{', invented' if place.paint.invented else ''}"


def _count(places: Sequence[Place]) -> str:
    starters = sum(place.starter for place in places)
    return f"{len(places)} paint{'' if len(places) == 1 else 's'}, {len(places) - starters} of them your own"
