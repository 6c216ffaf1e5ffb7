"""What one paint looks like by itself: masstone, undertone, let-down over black and white, hiding.

Metal looks different from every side: everything here is its look at 45 degrees from the mirror direction,
but for what is asked at others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, TypeAlias

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
# Not for metal, which is dark only as long as it is turned away.
_BROWN_HUES: Final = (30.0, 95.0)
_BROWN_TO: Final = 50.0
_WHITE_FROM: Final = 80.0
_BLACK_TO: Final = 30.0
_DARK_TO: Final = 38.0
_LIGHT_FROM: Final = 65.0
_OPAQUE_UM: Final = 1e6
"""Film of a metal that is taken for an opaque one."""
# Less light (of 1) than this is taken as none: over black a pure dye returns only what rounding leaves, and
# the ratio of two roundings must not say how well it hides.
_NONE: Final = 1e-12


Film: TypeAlias = cones.Medium | flakes.Coating
"""What a film is laid with: with flakes, or without."""


@dataclass(frozen=True, eq=False)
class SwatchAtAngle:
    """A metal paint, seen at some degrees from the mirror direction; reflectances as of the card itself."""

    degrees: float
    masstone: FloatArray
    over_black: FloatArray
    over_white: FloatArray


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
    angles: tuple[SwatchAtAngle, ...] = ()
    """Of metal, from near the mirror direction to far from it; empty for others."""


def masstone(paint: Paint, *, degrees: float = flakes.TURNED) -> FloatArray:
    """Return the reflectance of an opaque film of a paint, as seen at its own sheen, shape (31,)."""
    film = _film(paint)
    if isinstance(film, flakes.Coating):
        return _over(film, np.array(_OPAQUE_UM), 0.0, sheen=paint.sheen, degrees=degrees)
    return cones.seen(cones.endless(film), sheen=paint.sheen)


def swatch_card(paint: Paint, coats: tuple[int, ...] = COATS) -> SwatchCard:
    """Return what a paint looks like by itself, unthinned, in its suggested film."""
    film, X = _film(paint), paint.dry_film_um * np.array(coats, dtype=np.float64)

    def over(ground: float, degrees: float = flakes.TURNED) -> FloatArray:
        return _over(film, X, ground, sheen=paint.sheen, degrees=degrees)

    def hides(thickness_um: FloatArray) -> npt.NDArray[np.bool_]:
        return np.asarray(contrast(film, thickness_um) >= HIDING)

    angles = flakes.ANGLES_DEG if paint.flakes is not None else ()
    return SwatchCard(
        paint=paint,
        coats=coats,
        masstone=masstone(paint),
        over_black=over(BLACK),
        over_white=over(WHITE),
        contrast=contrast(film, X),
        hides_at_um=float(least_film_um(hides, shape=())),
        angles=tuple(
            SwatchAtAngle(one, masstone(paint, degrees=one), over(BLACK, one), over(WHITE, one))
            for one in angles
        ),
    )


def one_coat(paint: Paint) -> tuple[FloatArray, FloatArray]:
    """Return the reflectances of one unthinned coat, as seen over the card's black and over its white."""
    film, X = _film(paint), np.array(paint.dry_film_um)
    over_black, over_white = (_over(film, X, ground, sheen=paint.sheen) for ground in (BLACK, WHITE))
    return over_black, over_white


def _film(paint: Paint) -> Film:
    """Return a paint ready to be laid."""
    own = paint.flakes
    if own is None:
        return cones.medium(K_per_um=paint.K_per_um, S_per_um=paint.S_per_um)
    sheet = flakes.sheet_of(
        refractive_index(own.metal), cover_per_um=own.cover_per_um, tilt_deg=own.tilt_deg, rough=own.rough
    )
    return flakes.coating(
        K_per_um=paint.K_per_um[np.newaxis], S_per_um=paint.S_per_um[np.newaxis], sheet=sheet
    )


def _over(
    film: Film, thickness_um: FloatArray, ground: float, *, sheen: float, degrees: float = flakes.TURNED
) -> FloatArray:
    """Return reflectances as seen, shape (..., 31), over a ground of some reflectance without gloss."""
    if isinstance(film, cones.Medium):
        below = cones.ground_from_seen(np.full(BANDS, ground), sheen=0.0)
        laid = cones.lay(film, thickness_um=thickness_um[..., np.newaxis], over=below)
        return cones.seen(laid, sheen=sheen)
    bare = levels.level_of(cones.ground_from_seen(np.full((1, BANDS, 1), ground), sheen=0.0))
    film_um = thickness_um.reshape(1, 1, -1)
    level, mirror = flakes.lay(film, film_um=film_um, over=bare, mirror=None)
    seen = flakes.seen(level, mirror, sheen=np.array(sheen), at=flakes.turned(degrees))
    return np.asarray(seen[0].T.reshape(*thickness_um.shape, BANDS))


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
    shines = paint.flakes is not None
    if chroma < colour.GREY_CHROMA:
        # No metal is white: it is a grey that shines.
        return "white" if L > _WHITE_FROM and not shines else "black" if L < _BLACK_TO else "grey"
    if not shines and L < _BROWN_TO and _BROWN_HUES[0] < hue < _BROWN_HUES[1]:
        return "brown"
    return next(word for end, word in _HUES if hue < end)


def brightness(film: Film, thickness_um: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return Y, 0..1, of films over black and over the standards' white, without gloss."""
    weights = colour.luminance_weights()
    over_black, over_white = (_over(film, thickness_um, ground, sheen=0.0) for ground in (0.0, WHITE))
    return over_black @ weights, over_white @ weights
