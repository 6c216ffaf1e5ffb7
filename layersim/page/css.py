"""Colours as a style sheet writes them: ``lab()`` of CSS Color 4, so that a wide screen shows what it can.

CSS has its Lab under D50 and its screens' white at D65, and adapts between the two by Bradford's matrix. So
a colour is brought from the light that it is judged under to D50 by that same matrix: the white of any light
is the screen's white, as for an eye used to that light. :func:`layersim.colour.on_screen` does so for sRGB.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.optics.flakes import ANGLES_DEG
from layersim.paint import Paint
from layersim.swatchcard import masstone
from layersim.views.shelf import swatches

_CSS: Final = colour.Viewing("D50")


def css_of_xyz(values: npt.ArrayLike, viewing: colour.Viewing) -> list[str]:
    """Return the colours of XYZ seen under a light, shape (n, 3), as texts; what is too bright is dimmed.

    >>> css_of_xyz([colour.Viewing().white * 0.5], colour.Viewing())
    ['lab(76.07 0 0)']
    """
    return _texts(colour.lab_alike(colour.dimmed(values, viewing.white), under=viewing, to=_CSS))


def css_of_lab(lab: npt.ArrayLike, viewing: colour.Viewing) -> list[str]:
    """Return the colours of L*a*b* under a light, shape (n, 3), as texts.

    >>> css_of_lab([[53.2, 80.1, 67.2]], colour.Viewing())
    ['lab(54.25 80.82 69.89)']
    """
    return css_of_xyz(colour.xyz_from_lab(lab, viewing.white), viewing)


def css_of_swatches(paint: Paint, viewing: colour.Viewing) -> dict[str, str]:
    """Return a paint's swatches by the names that the page has for them: opaque, over black, over white.

    Of metal the opaque one runs from near its glint to where it is turned away.
    """
    names = ("masstone_css", "over_black_css", "over_white_css")
    css = dict(zip(names, css_of_lab(swatches(paint, viewing), viewing), strict=True))
    if paint.flakes is not None:
        looks = colour.xyz([masstone(paint, degrees=degrees) for degrees in ANGLES_DEG], viewing)
        css["masstone_css"] = f"linear-gradient(to bottom, {', '.join(css_of_xyz(looks, viewing))})"
    return css


def css_of_one(lab: npt.ArrayLike, viewing: colour.Viewing) -> str:
    """Return one colour of L*a*b* under a light, shape (3,), as a text."""
    return css_of_lab(np.asarray(lab, dtype=np.float64)[np.newaxis], viewing)[0]


def _texts(lab: npt.NDArray[np.float64]) -> list[str]:
    # A hundredth is finer than any eye or screen; adding 0 makes a minus before it go.
    rows = (np.round(lab, 2) + 0.0).tolist()
    return [f"lab({min(max(L, 0.0), 100.0):g} {a:g} {b:g})" for L, a, b in rows]
