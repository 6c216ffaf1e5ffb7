"""One paint by itself: masstone, and coats over a card with a black and a white band."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from layersim import colour
from layersim.paint import film_words
from layersim.writers.sheet import Sheet
from layersim.spectra import FloatArray, wavelengths_nm
from layersim.swatchcard import SwatchCard

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_FAINT: Final = "#666666"


def card_figure(card: SwatchCard) -> Figure:
    """Return a paint's card as a figure: colours on the left, reflectance and K, S on the right.

    Parameters
    ----------
    card : SwatchCard

    Returns
    -------
    matplotlib.figure.Figure
    """
    view = colour.Viewing()
    sheet = Sheet(9.0, 4.2, view)
    paint = card.paint
    sheet.text(0.3, 0.36, paint.name, size=15, weight="bold")
    source = "invented: plausible, measured by nobody" if paint.invented else paint.provenance
    sheet.text(0.3, 0.64, f"{paint.kind}; {source}", size=8, ink=_FAINT)
    bands = (("over white", card.over_white, 0.9), ("over black", card.over_black, 1.75))
    for words, spectra, y in bands:
        sheet.text(0.3, y + 0.40, words, size=8)
        for i, reflectance in enumerate(spectra):
            lab = colour.lab(reflectance, view)
            sheet.tone(1.2 + 0.75 * i, y, 0.75, 0.8, lab, f"{lab[0]:.0f}")
    for i, coats in enumerate(card.coats):
        x = 1.575 + 0.75 * i
        sheet.text(x, 2.66, f"{coats} coat{'' if coats == 1 else 's'}", size=7.5, align="center")
        film = film_words(coats * paint.dry_film_um)
        sheet.text(x, 2.82, film, size=6.5, ink=_FAINT, align="center")
        sheet.text(x, 2.98, f"ratio {card.contrast[i]:.2f}", size=6.5, ink=_FAINT, align="center")
    opaque = colour.lab(card.masstone, view)
    sheet.text(0.3, 3.45, "masstone", size=8)
    sheet.tone(1.2, 3.2, 3.0, 0.5, opaque, f"opaque film, L* {opaque[0]:.0f}")
    sheet.text(
        0.3,
        3.9,
        "Numbers in blocks: lightness L* (D65, 2°). Ratio: Y over black ÷ Y over white; 0.98 hides.",
        size=6.5,
        ink=_FAINT,
    )
    figure = sheet.finish()
    _spectra(figure, card)
    return figure


def _spectra(figure: Figure, card: SwatchCard) -> None:
    nm = wavelengths_nm()
    top = figure.add_axes((0.57, 0.58, 0.39, 0.30))
    _line(top, nm, card.masstone, "masstone", "-", "black")
    _line(top, nm, card.over_white[0], f"{card.coats[0]} coat over white", "--", "tab:blue")
    _line(top, nm, card.over_black[0], f"{card.coats[0]} coat over black", ":", "tab:red")
    top.set_ylim(0.0, 1.0)
    top.set_ylabel("reflectance", fontsize=7)
    bottom = figure.add_axes((0.57, 0.14, 0.39, 0.32))
    _line(bottom, nm, card.paint.K_per_um, "absorption K", "-", "black")
    _line(bottom, nm, card.paint.S_per_um, "scattering S", "--", "tab:orange")
    largest = max(card.paint.K_per_um.max(), card.paint.S_per_um.max())
    bottom.set_ylim(0.0, 1.1 * largest if largest > 0.0 else 1.0)
    bottom.set_ylabel("per µm of dry film", fontsize=7)
    bottom.set_xlabel("wavelength, nm", fontsize=7)
    for axes in (top, bottom):
        axes.set_xlim(nm[0], nm[-1])
        axes.tick_params(labelsize=6.5)
        axes.legend(fontsize=6.5, frameon=False)
        axes.spines[["top", "right"]].set_visible(False)


def _line(axes: Axes, nm: FloatArray, values: FloatArray, label: str, style: str, ink: str) -> None:
    axes.plot(nm, np.asarray(values), style, color=ink, label=label, linewidth=1.3)
