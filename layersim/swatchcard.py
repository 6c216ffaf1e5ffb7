"""What one paint looks like by itself: masstone, undertone, let-down over black and white, hiding.

A metal is shown as it is seen 45 degrees from the mirror direction.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.metals import refractive_index
from layersim.optics import cones, flakes, levels
from layersim.optics.hiding import least_film_um
from layersim.paint import Paint
from layersim.shown import Shown
from layersim.spectra import BANDS, FloatArray

BLACK: Final = 0.01
"""Reflectance, as seen without gloss, of the card's black band (a printed or primed black; convention)."""
WHITE: Final = 0.80
"""Reflectance of the card's white band: the white of ISO 6504-1 and ASTM D2805."""
HIDING: Final = 0.98
"""Contrast ratio at which a film hides (ISO 6504-1, ASTM D2805)."""
COATS: Final = (1, 2, 4, 8)
# Ends of CIELAB hue angles that people name so, in degrees, and where a warm colour is called brown (common
# practice, no source).
_HUES: Final = (
    (20.0, "pink or red"),
    (45.0, "red"),
    (70.0, "orange"),
    (105.0, "yellow"),
    (170.0, "green"),
    (225.0, "turquoise or green"),
    (300.0, "blue"),
    (340.0, "violet"),
    (360.0, "pink or red"),
)
_BROWN_HUES: Final = (30.0, 95.0)
_BROWN_TO: Final = 50.0
_WHITE_FROM: Final = 80.0
_BLACK_TO: Final = 30.0
_DARK_TO: Final = 38.0
_LIGHT_FROM: Final = 65.0
_OPAQUE_UM: Final = 1e6
# Less light (of 1) than this is taken as none: over black a pure dye returns only what rounding leaves, and
# the ratio of two roundings must not say how well it hides.
_NONE: Final = 1e-12


@dataclass(frozen=True, eq=False)
class SwatchCard(Shown):
    """One paint sprayed out over black and white."""

    paint: Paint
    coats: tuple[int, ...]
    masstone: FloatArray
    """Reflectance of an opaque film, as seen, shape (31,)."""
    over_black: FloatArray
    over_white: FloatArray
    """Reflectance as seen, shape (coats, 31)."""
    contrast: FloatArray
    """Y over black ÷ Y over white, shape (coats,)."""
    hides_at_um: float
    """Dry film that reaches a contrast ratio of 0.98; may be infinite."""
    angles: tuple[FloatArray, ...] = ()
    """L*a*b* of an opaque metal at :data:`layersim.optics.flakes.ANGLES_DEG`; empty for other paints."""


Film = cones.Medium | flakes.Coating
"""What films of a paint are made of; a metal's is a coating of one row."""


def masstone(paint: Paint) -> FloatArray:
    """Return the reflectance of an opaque film of a paint, as seen at its own sheen, shape (31,)."""
    film = film_of(paint)
    if isinstance(film, cones.Medium):
        return cones.seen(cones.endless(film), sheen=paint.sheen)
    return _over(film, np.array(_OPAQUE_UM), BLACK, sheen=paint.sheen)


def swatch_card(paint: Paint, coats: tuple[int, ...] = COATS) -> SwatchCard:
    """Return what a paint looks like by itself, unthinned, in its suggested film."""
    film = film_of(paint)
    X = paint.dry_film_um * np.array(coats, dtype=np.float64)
    over_black, over_white = (_over(film, X, ground, sheen=paint.sheen) for ground in (BLACK, WHITE))

    def hides(thickness_um: FloatArray) -> npt.NDArray[np.bool_]:
        return np.asarray(contrast(film, thickness_um) >= HIDING)

    return SwatchCard(
        paint=paint,
        coats=coats,
        masstone=masstone(paint),
        over_black=over_black,
        over_white=over_white,
        contrast=contrast(film, X),
        hides_at_um=float(least_film_um(hides, shape=())),
        angles=_by_angle(paint, film) if isinstance(film, flakes.Coating) else (),
    )


def one_coat(paint: Paint) -> tuple[FloatArray, FloatArray]:
    """Return the reflectances of one unthinned coat, as seen over the card's black and over its white."""
    film, X = film_of(paint), np.array(paint.dry_film_um)
    over_black, over_white = (_over(film, X, ground, sheen=paint.sheen) for ground in (BLACK, WHITE))
    return over_black, over_white


def film_of(paint: Paint) -> Film:
    """Return what films of a paint are made of."""
    own = paint.flakes
    if own is None:
        return cones.medium(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um)
    sheet = flakes.FlakeSheet(
        np.array([own.cover_per_um]),
        flakes.in_cone(refractive_index(own.metal))[np.newaxis],
        np.tan(np.radians([own.tilt_deg])) ** 2,
        np.array([own.rough]),
    )
    return flakes.coating(
        K_per_um=paint.K_per_um[np.newaxis], S_per_um=paint.S_per_um[np.newaxis], sheet=sheet
    )


def _over(film: Film, thickness_um: FloatArray, ground: float, *, sheen: float) -> FloatArray:
    """Return reflectances as seen, shape (..., 31), over a ground of some reflectance without gloss."""
    if isinstance(film, flakes.Coating):
        # No swatch is shown lighter than white.
        return np.minimum(_metal_over(film, thickness_um, ground, sheen=sheen), 1.0)
    below = cones.ground_from_seen(np.full(BANDS, ground), sheen=0.0)
    return cones.seen(cones.lay(film, thickness_um=thickness_um[..., np.newaxis], over=below), sheen=sheen)


def _metal_over(
    film: flakes.Coating,
    thickness_um: FloatArray,
    ground: float,
    *,
    sheen: float,
    degrees: float = flakes.TURNED,
) -> FloatArray:
    """Return reflectances of a metal's films as seen from some degrees, beside a perfect white."""
    below = levels.level_of(cones.ground_from_seen(np.full((1, BANDS, 1), ground), sheen=0.0))
    level, mirror = flakes.lay(film, film_um=thickness_um.reshape(1, 1, -1), over=below, mirror=None)
    assert mirror is not None
    seen, surface = levels.seen(level, sheen=sheen), cones.directions()
    seen = seen + flakes.seen_more(
        mirror,
        even=seen - sheen * surface.k1,
        air=surface,
        sheen=np.array(sheen),
        at=flakes.turned(degrees),
    )
    return np.asarray(np.moveaxis(seen[0], 0, -1).reshape(*thickness_um.shape, BANDS))


def _by_angle(paint: Paint, film: flakes.Coating) -> tuple[FloatArray, ...]:
    viewing, opaque = colour.Viewing(), np.array(_OPAQUE_UM)
    return tuple(
        colour.lab_from_xyz(
            colour.xyz(_metal_over(film, opaque, BLACK, sheen=paint.sheen, degrees=angle), viewing),
            viewing.white,
        )
        for angle in flakes.ANGLES_DEG
    )


def contrast(film: Film, thickness_um: FloatArray) -> FloatArray:
    """Return Y over black ÷ Y over white of films, measured without gloss over the standards' white."""
    Y_black, Y_white = brightness(film, thickness_um)
    Y_black = np.where(Y_black > _NONE, Y_black, 0.0)
    # A paint that returns nothing over either is as opaque as can be.
    return np.asarray(np.divide(Y_black, Y_white, out=np.ones_like(Y_white), where=Y_white > _NONE))


def lightness_of(paint: Paint) -> str:
    """Return the word for how light an opaque film of a paint is: dark, mid or light."""
    L = float(colour.lab(masstone(paint), colour.Viewing())[0])
    return "dark" if L < _DARK_TO else "light" if L > _LIGHT_FROM else "mid"


def hue_of(paint: Paint) -> str:
    """Return the word for the hue of an opaque film of a paint: red, yellow, ... or white, grey, black.

    >>> from layersim import Shelf
    >>> hue_of(Shelf.usual().find("navy blue"))
    'blue'
    """
    lab = colour.lab(masstone(paint), colour.Viewing())
    L, chroma, hue = colour.lch(lab)
    if chroma < colour.GREY_CHROMA:
        return "white" if L > _WHITE_FROM else "black" if L < _BLACK_TO else "grey"
    if L < _BROWN_TO and _BROWN_HUES[0] < hue < _BROWN_HUES[1]:
        return "brown"
    return next(word for end, word in _HUES if hue < end)


def brightness(film: Film, thickness_um: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return Y, 0..1, of films over black and over the standards' white, without gloss."""
    weights = colour.luminance_weights()
    over_black, over_white = (_over(film, thickness_um, ground, sheen=0.0) for ground in (0.0, WHITE))
    return over_black @ weights, over_white @ weights
