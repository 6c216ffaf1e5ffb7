"""Predictions and paints as text for a terminal, in colour where it can show it."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

import numpy as np

from layersim import colour
from layersim.chance import COVERED
from layersim.decide.words import PLACE_WORDS, joined
from layersim.optics.surface import SHEENS
from layersim.paint import film_words
from layersim.scheme.prediction import AreaPrediction, Prediction
from layersim.shelf import Place
from layersim.spectra import FloatArray
from layersim.swatchcard import SwatchCard, masstone

_CELL = 6
_BEYOND = "  (outside what screens show; nearest given)"


def shows_colour(stream: TextIO) -> bool:
    """Return whether a stream is a terminal that shows colours.

    Honours the environment variables NO_COLOR (no-color.org) and FORCE_COLOR.

    Parameters
    ----------
    stream : text stream

    Returns
    -------
    bool
    """
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return stream.isatty() and os.environ.get("TERM", "") not in ("", "dumb")


def swatch(lab: FloatArray, viewing: colour.Viewing, words: str, *, in_colour: bool) -> str:
    """Return some words on the background of a colour.

    Parameters
    ----------
    lab : ndarray, shape (3,)
    viewing : Viewing
    words : str
    in_colour : bool
        Without colour the words come back as they are.

    Returns
    -------
    str
    """
    if not in_colour:
        return words
    shown = colour.on_screen(colour.xyz_from_lab(lab, viewing.white), viewing.white)
    r, g, b = (round(float(v) * 255) for v in shown.rgb)
    ink = "30" if lab[0] > 50.0 else "97"  # either way a contrast of 4.5 or more
    return f"\x1b[48;2;{r};{g};{b}m\x1b[{ink}m{words}\x1b[0m"


def axis_words(*, has_preshade: bool, viewing: colour.Viewing) -> str:
    """Return what the scale over the tones is.

    Parameters
    ----------
    has_preshade : bool
    viewing : Viewing
        Under which the tones are shown; the scale is daylight's under any.

    Returns
    -------
    str

    Examples
    --------
    >>> axis_words(has_preshade=True, viewing=colour.Viewing())
    'pre-shade L*'
    >>> axis_words(has_preshade=True, viewing=colour.Viewing("A"))
    'pre-shade L* (D65)'
    """
    if not has_preshade:
        return "facing the light, %"
    return "pre-shade L*" if viewing == colour.Viewing() else "pre-shade L* (D65)"


def lightness_words(L: float) -> str:
    """Return a lightness as a whole number; the same twice is the same number, whatever rounding left of it.

    Parameters
    ----------
    L : float

    Returns
    -------
    str

    Examples
    --------
    >>> lightness_words(73.5), lightness_words(73.4999999)
    ('74', '74')
    """
    return f"{round(float(L), 4):.0f}"


def prediction_text(prediction: Prediction, *, in_colour: bool) -> str:
    """Return a prediction as a table of stages and tones, with what it says in words.

    Parameters
    ----------
    prediction : Prediction
    in_colour : bool

    Returns
    -------
    str
    """
    view = prediction.viewing
    rows = [
        f"{prediction.scheme.name}: predicted under {view.light} ({colour.LIGHTS[view.light]})",
        "Numbers in the blocks are lightness L*; ± is the colour difference ΔE00 that holds "
        f"{100 * COVERED:.0f} % of what may come out (hand, bottles, model), averaged over the tones.",
    ]
    for area in prediction.areas:
        rows += ["", *_area_rows(area, view, in_colour)]
    return "\n".join(rows)


def _area_rows(area: AreaPrediction, view: colour.Viewing, in_colour: bool) -> list[str]:
    axis = axis_words(has_preshade=area.has_preshade, viewing=view)
    wide = max(14, len(axis), *(len(stage.name) for stage in area.stages))
    rows = [
        f"{area.name}    (deepest shadow on the left, full highlight on the right)",
        f"  {axis:<{wide}} " + "".join(lightness_words(shade).center(_CELL) for shade in area.shade),
    ]
    shown = colour.on_screen(area.xyz, view.white).shown
    for index, stage in enumerate(area.stages):
        blocks = "".join(
            swatch(
                lab,
                view,
                f"{lightness_words(lab[0])}{'' if inside else '*'}".center(_CELL),
                in_colour=in_colour,
            )
            for lab, inside in zip(area.lab[index], shown[index], strict=True)
        )
        rows.append(f"  {stage.name:<{wide}} {blocks}  ±{area.reach[index].mean():.1f}  {stage.recipe}")
    if not shown.all():
        rows.append("  * Outside what screens show: the real colour has more chroma than the block.")
    rows += _finish_rows(area, view, in_colour)
    shift = area.filter_shift()
    if shift is not None:
        still = f", before {joined(area.after_filter)}," if area.after_filter else ""
        rows.append(f"  The filter{still} moves the tones by ΔE00 {', '.join(f'{d:.1f}' for d in shift)}.")
    for key, (_, wanted, miss) in area.target_misses().items():
        block = swatch(wanted, view, "      ", in_colour=in_colour)
        rows.append(f"  Target for the {PLACE_WORDS[key]}: ΔE00 {miss:.1f} away {block}".rstrip())
    if area.main_causes:
        worst = (f"{cause.what} (ΔE00 {cause.delta_e:.1f}): {cause.advice}" for cause in area.main_causes)
        rows.append(f"  Most in doubt: {'; '.join(worst)}.")
    return rows


def _finish_rows(area: AreaPrediction, view: colour.Viewing, in_colour: bool) -> list[str]:
    last = len(area.shade) - 1
    rows = []
    what = "Finished" if area.finished else f"After {area.stages[-1].name}:"
    for word, tone in dict.fromkeys((("shadow", 0), ("mid", last // 2), ("light", last))):
        lab = area.lab[-1, tone]
        shown = colour.on_screen(colour.xyz_from_lab(lab, view.white), view.white)
        block = swatch(lab, view, "      ", in_colour=in_colour)
        beyond = "" if shown.shown else _BEYOND
        low, high = area.lab_low[-1, tone, 0], area.lab_high[-1, tone, 0]
        rows.append(
            f"  {what} {PLACE_WORDS[word]:<10} {block} {colour.hex_of(shown.rgb)}  {_lab_words(lab)}"
            f"  L* {low:.0f} to {high:.0f}{beyond}"
        )
    return rows


def _lab_words(lab: FloatArray) -> str:
    # Adding zero turns a rounded -0.0 into 0.0.
    L, a, b = np.round(lab, 1) + 0.0
    return f"Lab {L:5.1f} {a:6.1f} {b:6.1f}"


def lights_text(predictions: Sequence[Prediction]) -> str:
    """Return how far the finished tones under each light look from those under the first.

    Each Lab is relative to its own light's white, as an eye used to that light sees it.

    Parameters
    ----------
    predictions : sequence of Prediction, one a light

    Returns
    -------
    str
    """
    first = predictions[0]
    what = "Finished tones" if all(area.finished for area in first.areas) else "Tones of the last stage shown"
    rows = [f"{what}, beside those under {first.viewing.light}, for an eye used to each light (ΔE00):"]
    for other in predictions[1:]:
        for one, two in zip(first.areas, other.areas, strict=True):
            shift = colour.delta_e_2000(one.lab[-1], two.lab[-1])
            rows.append(f"  {other.viewing.light:<7} {one.name:<16} " + " ".join(f"{d:5.1f}" for d in shift))
    return "\n".join(rows)


def shelf_text(places: list[Place], *, in_colour: bool) -> str:
    """Return the paints of a shelf as a table.

    Parameters
    ----------
    places : list of Place
    in_colour : bool

    Returns
    -------
    str
    """
    view = colour.Viewing()
    if not places:
        return "The shelf is empty."
    wide = max(len(place.paint.name) for place in places)
    rows = [f"{'':8}{'name':<{wide}}  {'kind':<8} {'solids':>6}  {'one coat':>8}  from"]
    for place in places:
        paint = place.paint
        lab = colour.lab(masstone(paint), view)
        source = (
            "starter, invented" if place.starter else f"{place.path}{', invented' if paint.invented else ''}"
        )
        rows.append(
            f"{swatch(lab, view, '      ', in_colour=in_colour)}  {paint.name:<{wide}}  {paint.kind:<8} "
            f"{100 * paint.volume_solids:>4.0f} %  {paint.dry_film_um:>5.1f} µm  {source}"
        )
    return "\n".join(rows)


def card_text(card: SwatchCard, path: Path, *, in_colour: bool) -> str:
    """Return what one paint looks like by itself.

    Parameters
    ----------
    card : SwatchCard
    path : Path
        The file it comes from.
    in_colour : bool

    Returns
    -------
    str
    """
    # It needs the fit's own model, which a preview does not and should not wait for.
    from layersim.render.doubtwords import how_sure

    paint, view = card.paint, colour.Viewing()
    invented = "invented: plausible, measured by nobody" if paint.invented else paint.provenance
    rows = [
        f"{paint.name} ({paint.kind}; {invented})",
        f"  volume solids {100 * paint.volume_solids:.0f} %, one unthinned coat "
        f"{film_words(paint.dry_film_um)} dry ({paint.wet_film_um:g} µm wet), "
        f"sheen {sheen_words(paint.sheen)}",
    ]
    if paint.note:
        rows.append(f"  {paint.note}")

    def row(words: str, reflectance: FloatArray, tail: str = "") -> str:
        lab = colour.lab(reflectance, view)
        shown = colour.on_screen(colour.xyz_from_lab(lab, view.white), view.white)
        block = swatch(lab, view, "      ", in_colour=in_colour)
        beyond = "" if shown.shown else _BEYOND
        return f"  {words:<22} {block} {colour.hex_of(shown.rgb)}  {_lab_words(lab)}{tail}{beyond}"

    rows.append(row("masstone (opaque)", card.masstone))
    for name, over in (("white", card.over_white), ("black", card.over_black)):
        for i, coats in enumerate(card.coats):
            tail = f"   contrast ratio {card.contrast[i]:.2f}" if name == "black" else ""
            word = "coat" if coats == 1 else "coats"
            rows.append(row(f"{coats} {word} over {name}", over[i], tail))
    if card.hides_at_um < 1000.0:
        count = math.ceil(card.hides_at_um / paint.dry_film_um)
        rows.append(
            f"  Hides (contrast ratio 0.98) at {film_words(card.hides_at_um)} dry: about {count} such "
            f"coat{'' if count == 1 else 's'}."
        )
    elif math.isfinite(card.hides_at_um):
        rows.append("  Hides at no film that anybody sprays: use it as a glaze.")
    else:
        rows.append("  Never hides: a clear material.")
    rows += [f"  {line}" for line in how_sure(paint)]
    rows.append(f"  From {path}")
    return "\n".join(rows)


def sheen_words(sheen: float) -> str:
    """Return the trade's word for a sheen, or its number.

    Parameters
    ----------
    sheen : float

    Returns
    -------
    str

    Examples
    --------
    >>> sheen_words(1.0), sheen_words(0.6)
    ('matt', '0.6 (0 gloss, 1 matt)')
    """
    return next((word for word, share in SHEENS.items() if share == sheen), f"{sheen:g} (0 gloss, 1 matt)")
