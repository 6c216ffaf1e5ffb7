"""What is said of a colour that was read off a photograph, or off a screen."""

from __future__ import annotations

from layersim.fitting.chip import SeenSpot
from layersim.fitting.greys import SeenGreys
from layersim.log import SCREEN_DOUBT


def seen_words(spot: SeenSpot, *, by_greys: bool) -> str:
    """Return a spot's colour, with its range."""
    L, a, b = (round(float(value), 2) + 0.0 for value in spot.lab)
    by = "the grey cards" if by_greys else "the chart"
    return (
        f"L* {L:.1f} ± {spot.lightness_doubt:.1f}, a* {a:.1f}, b* {b:.1f}, all three ± {spot.doubt:.1f} on "
        f"average, by {by} in the picture"
    )


def screen_words(place: str, *, typed: bool = True) -> str:
    """Return what to know of a colour off a screen; `typed`: on the command line, not on the page."""
    other = ": FILE@X,Y" if typed else ""
    return (
        f"{place}: a colour off a screen may be off by {SCREEN_DOUBT:.0f} either way, and counts for little. "
        f"Photographed beside a 24-patch chart it is read from the picture{other}"
    )


def greys_words(greys: SeenGreys) -> str:
    """Return a preshade's greys, with their range."""
    ends = f"L* {greys.darkest:.0f} in the shadow and {greys.lightest:.0f} in the light"
    return f"{ends}, each ± {greys.doubt:.1f}"
