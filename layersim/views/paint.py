"""What one paint looks like by itself, and how surely that is known."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from layersim import colour
from layersim.optics.flakes import ANGLES_DEG, TURNED, flop_index
from layersim.optics.surface import SHEENS
from layersim.paint import film_words
from layersim.spectra import wavelengths_nm
from layersim.swatchcard import SwatchCard
from layersim.views.parts import Beside, Cell, Curve, Part, Plot, Row, Strips, TablePart, Tone, View, Words
from layersim.views.preview import lab_words, screen_words, tones
from layersim.views.words import counted

if TYPE_CHECKING:
    from layersim.paint import Paint

_MOST_FILM_UM = 1000.0
"""Dry film that nobody sprays."""


def view(card: SwatchCard, path: Path | None = None, notices: tuple[str, ...] = ()) -> View:
    """Return a paint's page; `path` is the file it comes from."""
    # It needs the fit's own model, which a preview does not and should not wait for.
    from layersim.views.doubtwords import how_sure

    paint, viewing = card.paint, colour.Viewing()
    opaque = colour.lab(card.masstone, viewing)
    heads = [counted(coats, "coat") for coats in card.coats]
    films = [film_words(coats * paint.dry_film_um) for coats in card.coats]
    white, black = colour.lab(card.over_white, viewing), colour.lab(card.over_black, viewing)
    strips = Strips(
        [
            Row("over white", tones(white), judged=True),
            Row("over black", tones(black), judged=True),
            Row("dry film", films),
            Row("contrast ratio", [f"{ratio:.2f}" for ratio in card.contrast]),
        ],
        ticks=heads,
    )
    rows: list[list[Cell]] = [
        [
            "opaque (masstone)",
            Tone(opaque, f" {opaque[0]:.0f} "),
            screen_words(opaque, viewing),
            lab_words(opaque),
        ]
    ]
    for words, labs in (("over white", white), ("over black", black)):
        for head, lab in zip(heads, labs, strict=True):
            rows.append(
                [f"{head} {words}", Tone(lab, f" {lab[0]:.0f} "), screen_words(lab, viewing), lab_words(lab)]
            )
    about: list[Part] = [
        Words([_film_line(paint), *([paint.note] if paint.note else [])]),
        strips,
        TablePart(["", "L*", "screen", "L* a* b*"], rows),
    ]
    said = [*_angle_lines(card), _hiding_line(card), *how_sure(paint)]
    if path is not None:
        said.append(f"From {path}")
    return View(
        title=paint.name,
        aside=f"{paint.kind}; {source_words(paint)}",
        parts=[Beside(about, _plots(card)), Words(said)],
        notices=notices,
    )


def source_words(paint: Paint) -> str:
    """Return where a paint's figures come from."""
    return "invented: plausible, but nobody measured it" if paint.invented else paint.provenance


def sheen_words(sheen: float) -> str:
    """Return a sheen by its name, or its share where no name fits.

    >>> sheen_words(1.0), sheen_words(0.6)
    ('matt', '0.6 (0 gloss, 1 matt)')
    """
    return next((word for word, share in SHEENS.items() if share == sheen), f"{sheen:g} (0 gloss, 1 matt)")


def _film_line(paint: Paint) -> str:
    return (
        f"Volume solids {100 * paint.volume_solids:.0f} %. One unthinned coat is "
        f"{film_words(paint.dry_film_um)} dry "
        f"({paint.wet_film_um:g} µm wet). Sheen: {sheen_words(paint.sheen)}."
    )


def _hiding_line(card: SwatchCard) -> str:
    if card.hides_at_um < _MOST_FILM_UM:
        count = math.ceil(card.hides_at_um / card.paint.dry_film_um)
        return (
            f"Hides (contrast ratio 0.98) at {film_words(card.hides_at_um)} dry: about {count} such "
            f"coat{'' if count == 1 else 's'}."
        )
    if math.isfinite(card.hides_at_um):
        return "It hides at no film that anybody sprays: use it as a glaze."
    return "It never hides: a clear material."


def _angle_lines(card: SwatchCard) -> list[str]:
    if not card.angles:
        return []
    near, turned, far = (float(lab[0]) for lab in card.angles)
    flop = float(flop_index(L_near=near, L_turned=turned, L_far=far))
    angles = "{:.0f}, {:.0f} and {:.0f}".format(*ANGLES_DEG)
    return [
        f"A metal looks otherwise from every side: {angles} degrees from the mirror direction its L* is "
        f"{near:.0f}, {turned:.0f} and {far:.0f}. All else here is as seen at {TURNED:.0f}. Flop index "
        f"{flop:.1f}: a colour without flakes has 0, the strongest metallics of cars 15 to 17."
    ]


def _plots(card: SwatchCard) -> list[Part]:
    nm, paint = wavelengths_nm(), card.paint
    largest = max(float(paint.K_per_um.max()), float(paint.S_per_um.max()))
    return [
        Plot(
            "Reflectance",
            nm,
            [
                Curve(card.masstone, "opaque"),
                Curve(card.over_white[0], f"{card.coats[0]} coat over white", ink="#1f77b4", style="dashes"),
                Curve(card.over_black[0], f"{card.coats[0]} coat over black", ink="#d62728", style="dashes"),
            ],
            top=1.0,
        ),
        Plot(
            f"Absorption K and scattering S{' of its binder' if paint.flakes else ''}, per µm of dry film",
            nm,
            [
                Curve(paint.K_per_um, "absorption K"),
                Curve(paint.S_per_um, "scattering S", ink="#ff7f0e", style="dashes"),
            ],
            top=1.1 * largest if largest > 0.0 else 1.0,
            foot="wavelength, nm",
        ),
    ]
