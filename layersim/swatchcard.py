"""What one paint looks like by itself: masstone, undertone, let-down over black and white, hiding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from layersim import colour
from layersim.optics.film import contrast_ratio, film, opaque_reflectance, thickness_to_hide_um
from layersim.optics.stack import over_ground
from layersim.optics.surface import internal_from_seen, seen
from layersim.paint import Paint
from layersim.spectra import FloatArray

BLACK: Final = 0.01
"""Reflectance, as seen without gloss, of the card's black band (a printed or primed black; convention)."""
WHITE: Final = 0.80
"""Reflectance of the card's white band: the white of ISO 6504-1 and ASTM D2805."""
COATS: Final = (1, 2, 4, 8)


@dataclass(frozen=True, eq=False)
class SwatchCard:
    """One paint sprayed out over black and white.

    Parameters
    ----------
    paint : Paint
    coats : tuple of int
    masstone : ndarray, shape (31,)
        Reflectance of an opaque film, as seen.
    over_black, over_white : ndarray, shape (coats, 31)
        Reflectance as seen.
    contrast : ndarray, shape (coats,)
        Y over black ÷ Y over white.
    hides_at_um : float
        Dry film that reaches a contrast ratio of 0.98; may be infinite.
    """

    paint: Paint
    coats: tuple[int, ...]
    masstone: FloatArray
    over_black: FloatArray
    over_white: FloatArray
    contrast: FloatArray
    hides_at_um: float


def masstone(paint: Paint) -> FloatArray:
    """Return the reflectance of an opaque film of a paint, as seen at its own sheen.

    Parameters
    ----------
    paint : Paint

    Returns
    -------
    ndarray, shape (31,)
    """
    return seen(opaque_reflectance(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um), sheen=paint.sheen)


def swatch_card(paint: Paint, coats: tuple[int, ...] = COATS) -> SwatchCard:
    """Return what a paint looks like by itself, unthinned, in its suggested film.

    Parameters
    ----------
    paint : Paint
    coats : tuple of int

    Returns
    -------
    SwatchCard
    """
    X = paint.dry_film_um * np.array(coats, dtype=np.float64)
    one = film(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um, thickness_um=X[:, np.newaxis])
    grounds = internal_from_seen([BLACK, WHITE], sheen=0.0)
    weights = colour.luminance_weights()
    return SwatchCard(
        paint=paint,
        coats=coats,
        masstone=masstone(paint),
        over_black=seen(over_ground(one, grounds[0]), sheen=paint.sheen),
        over_white=seen(over_ground(one, grounds[1]), sheen=paint.sheen),
        contrast=contrast_ratio(
            K_per_um=paint.K_per_um, S_per_um=paint.S_per_um, thickness_um=X, luminance_weights=weights
        ),
        hides_at_um=float(
            thickness_to_hide_um(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um, luminance_weights=weights)
        ),
    )
