"""What one paint looks like by itself, and how surely that is known."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Final

from layersim import colour
from layersim.optics.flakes import flop_index
from layersim.optics.surface import SHEENS
from layersim.paint import film_words
from layersim.spectra import FloatArray, wavelengths_nm
from layersim.swatchcard import SwatchAtAngle, SwatchCard
from layersim.views import metal
from layersim.views.parts import Beside, Cell, Curve, Part, Plot, Row, Strips, TablePart, Tone, View, Words
from layersim.views.preview import lab_words, screen_words, tones
from layersim.views.words import counted

if TYPE_CHECKING:
    from layersim.paint import Paint

_DAYLIGHT: Final = colour.Viewing()
_MOST_FILM_UM = 1000.0
"""Dry film that nobody sprays."""


def view(card: SwatchCard, path: Path | None = None, notices: tuple[str, ...] = ()) -> View:
    """Return a paint's page; `path` is the file it comes from."""
    # It needs the fit's own model, which a preview does not and should not wait for.
    from layersim.views.doubtwords import how_sure

    paint = card.paint
    heads = [counted(coats, "coat") for coats in card.coats]
    films = [film_words(coats * paint.dry_film_um) for coats in card.coats]
    looks = {_look(one): one for one in card.angles or (card,)}
    judged, rows = [], []
    for look, one in looks.items():
        rows.append(_in_numbers(f"opaque (masstone){look}", _lab(one.masstone)))
    # Metal covers in a coat or two: the first tells what the rest do.
    told = heads if not card.angles else heads[:1]
    for ground in ("white", "black"):
        for look, one in looks.items():
            labs = _lab(one.over_white if ground == "white" else one.over_black)
            judged.append(Row(f"over {ground}{look}", tones(labs), judged=True))
            rows += [
                _in_numbers(f"{head} over {ground}{look}", lab) for head, lab in zip(told, labs, strict=False)
            ]
    numbers = [Row("dry film", films), Row("contrast ratio", [f"{ratio:.2f}" for ratio in card.contrast])]
    about: list[Part] = [
        Words([*_flakes_lines(card), _film_line(paint), *([paint.note] if paint.note else [])]),
        Strips([*judged, *numbers], ticks=heads),
        TablePart(["", "L*", "screen", "L* a* b*"], rows),
    ]
    if card.angles:
        lighter = metal.lighter_words(*(_lab(one.masstone) for one in card.angles))
        said = [metal.LOOKS_EXPLAINED, metal.FLOP_EXPLAINED, *lighter]
        about.append(Words(said, kind="faint"))
    sure = [_hiding_line(card), *how_sure(paint)]
    if path is not None:
        sure.append(f"From {path}")
    return View(
        title=paint.name,
        aside=f"{paint.kind}; {source_words(paint)}",
        parts=[Beside(about, _plots(card)), Words(sure)],
        notices=notices,
    )


def _look(seen: SwatchCard | SwatchAtAngle) -> str:
    return f", {metal.look_words(seen.degrees)}" if isinstance(seen, SwatchAtAngle) else ""


def _lab(reflectance: FloatArray) -> FloatArray:
    """Return L*a*b* in daylight, of metal lighter than white, too."""
    return colour.lab_from_xyz(colour.xyz(reflectance, _DAYLIGHT), _DAYLIGHT.white)


def _in_numbers(words: str, lab: FloatArray) -> list[Cell]:
    return [words, Tone(lab, f" {lab[0]:.0f} "), screen_words(lab, _DAYLIGHT), lab_words(lab)]


def _flakes_lines(card: SwatchCard) -> list[str]:
    """Return of metal what its flakes are, how far they cover, and how it flops; nothing of others."""
    own = card.paint.flakes
    if own is None:
        return []
    covered = 1.0 - math.exp(-own.cover_per_um * card.paint.dry_film_um)
    near, turned, far = (_lab(one.masstone)[0] for one in card.angles)
    flop = float(flop_index(L_near=near, L_turned=turned, L_far=far))
    return [
        f"Flakes of {own.metal}, tilted by about {own.tilt_deg:g}°; those of one coat cover "
        f"{100 * covered:.0f} % of what lies below. Opaque, its {metal.FLOP} is {flop:.0f}."
    ]


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


def _plots(card: SwatchCard) -> list[Part]:
    nm, paint = wavelengths_nm(), card.paint
    largest = max(float(paint.K_per_um.max()), float(paint.S_per_um.max()))
    curves = [
        Curve(card.masstone, "opaque"),
        Curve(card.over_white[0], f"{card.coats[0]} coat over white", ink="#1f77b4", style="dashes"),
        Curve(card.over_black[0], f"{card.coats[0]} coat over black", ink="#d62728", style="dashes"),
    ]
    if card.angles:
        inks = ("#1f77b4", "#222222", "#d62728")
        curves = [
            Curve(one.masstone, metal.look_words(one.degrees), ink=ink)
            for one, ink in zip(card.angles, inks, strict=True)
        ]
    beside, binder = (", opaque, beside a perfect white", " of the binder") if card.angles else ("", "")
    seen = Plot(f"Reflectance{beside}", nm, curves, top=None if card.angles else 1.0)
    constants = Plot(
        f"Absorption K and scattering S{binder}, per µm of dry film",
        nm,
        [
            Curve(paint.K_per_um, "absorption K"),
            Curve(paint.S_per_um, "scattering S", ink="#ff7f0e", style="dashes"),
        ],
        top=1.1 * largest if largest > 0.0 else 1.0,
        foot="wavelength, nm",
    )
    # A binder that is clear has nothing to show.
    return [seen] if card.angles and largest == 0.0 else [seen, constants]
