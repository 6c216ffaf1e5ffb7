"""Colour differences in a painter's words.

Nothing is said that the numbers do not say: each word stands for a range, and the ranges meet. When a
difference is seen and when it disturbs is measured (:mod:`layersim.decide.eye`); the other steps are common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.decide.eye import DISTURBS, GREY_CHROMA, SEEN

STRIKING: Final = 5.0
"""ΔE00 from which a difference is striking (common practice, no source)."""
SCALE: Final = (
    f"half of all people see ΔE00 {SEEN:g} side by side, and find {DISTURBS:g} too much "
    f"(Paravina et al. 2015); from {STRIKING:g} it is striking (common practice, no source)"
)
"""What the size of a ΔE00 means, for the foot of every picture."""
LEAST_LIGHTNESS: Final = 0.5
LEAST_TURN: Final = 3.0
LEAST_GIVEN_BACK: Final = 0.15
"""Share of the chroma below which it is not worth saying what a later step does to its change."""

# Upper end of the range in which each word holds, for a difference ΔE00.
_SIZES: Final = (
    (SEEN, "not to be seen"),
    (DISTURBS, "to be seen side by side only"),
    (STRIKING, "plain to see"),
    (np.inf, "striking"),
)
_LIGHTNESS: Final = ((1.5, "a trace "), (4.0, "a little "), (10.0, ""), (np.inf, "much "))
# Shares of the chroma; each word holds halfway to its neighbours.
_SHARES: Final = (
    (0.05, ""),
    (0.15, "a tenth"),
    (0.225, "a fifth"),
    (0.29, "a quarter"),
    (0.415, "a third"),
    (0.58, "half"),
    (0.71, "two thirds"),
    (0.85, "three quarters"),
)
_LIGHTS: Final = {
    "D65": "daylight",
    "D50": "warm daylight",
    "A": "a bulb",
    "LED-B1": "a warm LED lamp",
    "LED-B3": "a neutral LED lamp",
    "LED-B5": "a cool LED lamp",
    "FL2": "a cool white tube",
    "FL11": "a narrow-band tube",
}
# Unique hues in CIELAB: the mean angles, under daylight, of colours that CIECAM02 gives the hues 20.14,
# 90, 164.25 and 237.53 (CIE 159:2004), J 30 to 80 and C 20 to 50. Single ones are up to 6 off.
_HUES: Final = ((23.0, "red"), (92.0, "yellow"), (162.0, "green"), (254.0, "blue"))


def size_words(delta_e: float) -> str:
    """Return how plain a difference is.

    >>> size_words(0.79), size_words(0.8)
    ('not to be seen', 'to be seen side by side only')
    """
    return next(word for end, word in _SIZES if delta_e < end)


def light_words(light: str) -> str:
    """Return a light in words, its name after them.

    `light` is one of :data:`layersim.colour.LIGHTS`.

    >>> light_words("A"), light_words("D65")
    ('a bulb (A)', 'daylight (D65)')
    """
    return f"{_LIGHTS[light]} ({light})"


# What lies between each of these and the next.
_BETWEEN: Final = {
    "red": "orange",
    "yellow": "yellowish green",
    "green": "bluish green",
    "blue": "violet",
}
_NEAR_NEUTRAL: Final = 2.0 * GREY_CHROMA
"""Two colours below this chroma, one of them a grey, are told apart by their tints."""
_LEAST_TINT: Final = 0.7
"""Change of a* and b* together below which nothing is said of it."""


def lightness_words(first: float, second: float) -> str:
    """Return how lightness changes from a first L* to a second; empty where it hardly does.

    >>> lightness_words(46.0, 52.0), lightness_words(20.0, 19.0)
    ('lighter (L* 46 to 52)', 'a trace darker (L* 20.0 to 19.0)')
    """
    change = second - first
    if abs(change) < LEAST_LIGHTNESS:
        return ""
    word = next(word for end, word in _LIGHTNESS if abs(change) < end)
    digits = 1 if abs(change) < 2.0 else 0
    ends = f"L* {first:.{digits}f} to {second:.{digits}f}"
    return f"{word}{'lighter' if change > 0 else 'darker'} ({ends})"


def chroma_words(first: float, second: float) -> str:
    """Return how chroma changes from a first C* to a second; empty where it hardly does.

    >>> chroma_words(30.0, 20.0)
    'loses a third of its chroma (C* 30 to 20)'
    >>> chroma_words(20.0, 30.0), chroma_words(10.0, 30.0)
    ('gains half as much chroma again (C* 20 to 30)', 'has 3 times the chroma (C* 10 to 30)')
    >>> chroma_words(30.0, 40.0)
    'gains a third more chroma (C* 30 to 40)'
    """
    digits = 1 if abs(second - first) < 2.0 else 0
    ends = f"(C* {first:.{digits}f} to {second:.{digits}f})"
    if _near_neutral(first, second):
        return ""
    if second < GREY_CHROMA:
        return f"turns grey {ends}"
    if first < GREY_CHROMA:
        return f"turns from a grey into a colour {ends}"
    change = (second - first) / first
    share = next((word for end, word in _SHARES if abs(change) < end), None)
    if share == "":
        return ""
    if change < 0.0:
        return f"loses {share or 'nearly all'} of its chroma {ends}"
    if share is not None:
        more = "half as much chroma again" if share == "half" else f"{share} more chroma"
        return f"gains {more} {ends}"
    return f"has {_times(second / first)} the chroma {ends}"


def _near_neutral(first: float, second: float) -> bool:
    return min(first, second) < GREY_CHROMA and max(first, second) < _NEAR_NEUTRAL


def tint_words(first: npt.ArrayLike, second: npt.ArrayLike) -> str:
    """Return how the tint of a grey, or nearly one, turns; both are L*a*b*, shape (3,). Empty for others.

    >>> tint_words([50.0, -2.0, -3.0], [48.0, 3.0, -4.5])
    'tint turned towards violet (a* -2.0 to 3.0, b* -3.0 to -4.5)'
    """
    one, two = np.asarray(first, dtype=float), np.asarray(second, dtype=float)
    _, size, hue = (float(v) for v in colour.lch(two - one))
    if not _near_neutral(float(colour.lch(one)[1]), float(colour.lch(two)[1])) or size < _LEAST_TINT:
        return ""
    below = min(range(4), key=lambda i: (hue - _HUES[i][0]) % 360.0)
    (start, name), (end, after) = _HUES[below], _HUES[(below + 1) % 4]
    share = ((hue - start) % 360.0) / ((end - start) % 360.0)
    towards_it = name if share < 0.25 else after if share > 0.75 else _BETWEEN[name]
    ends = (f"{'ab'[i - 1]}* {one[i]:.1f} to {two[i]:.1f}" for i in (1, 2))
    return f"tint turned towards {towards_it} ({', '.join(ends)})"


def _times(ratio: float) -> str:
    return "twice" if ratio < 2.5 else f"{ratio:.0f} times"


def hue_words(first: npt.ArrayLike, second: npt.ArrayLike) -> str:
    """Return how hue turns from a first L*a*b*, shape (3,), to a second; empty for greys and small turns.

    >>> hue_words([50.0, 0.0, 30.0], [50.0, 15.0, 26.0])
    'hue turned 30° towards red'
    """
    one, two = colour.lch(first), colour.lch(second)
    turn = float((two[2] - one[2] + 180.0) % 360.0 - 180.0)
    if min(one[1], two[1]) < GREY_CHROMA or abs(turn) < LEAST_TURN:
        return ""
    return f"hue turned {abs(turn):.0f}° towards {towards(float(two[2]), turn)}"


def towards(hue: float, turn: float) -> str:
    """Return the next of red, yellow, green and blue from a hue in the direction of a turn.

    >>> towards(60.0, -5.0), towards(60.0, 5.0)
    ('red', 'yellow')
    """
    if turn > 0:
        return min(_HUES, key=lambda entry: (entry[0] - hue) % 360.0)[1]
    return min(_HUES, key=lambda entry: (hue - entry[0]) % 360.0)[1]


def change_words(first: npt.ArrayLike, second: npt.ArrayLike) -> str:
    """Return all that changes from one colour to another, in one phrase.

    Both are L*a*b*, shape (3,).

    >>> change_words([50.0, 0.0, 30.0], [56.0, 0.0, 20.0])
    'lighter (L* 50 to 56), loses a third of its chroma (C* 30 to 20)'
    >>> change_words([50.0, 0.0, 0.0], [50.1, 0.0, 0.0])
    'hardly changes'
    """
    one, two = colour.lch(first), colour.lch(second)
    words = [
        lightness_words(float(one[0]), float(two[0])),
        chroma_words(float(one[1]), float(two[1])),
        hue_words(first, second),
        tint_words(first, second),
    ]
    return ", ".join(word for word in words if word) or "hardly changes"


def given_back_words(before: float, after: float, *, step: str) -> str:
    """Return what a later step does to a change of chroma; empty where there was hardly one.

    `before` and `after` are the relative change of chroma between two choices before the step and at the end:
    -0.3 is a loss of three tenths. `step` names the step ("the filter").

    >>> given_back_words(-0.35, -0.10, step="the filter")
    'before the filter it had lost a third of its chroma; the filter gives back most of it'
    >>> given_back_words(1.0, 0.7, step="the filter")
    'before the filter it had twice the chroma; the filter takes some of that gain away'
    """
    if abs(before) < LEAST_GIVEN_BACK:
        return ""
    share = next((word for end, word in _SHARES if abs(before) < end), None)
    if before < 0.0:
        had, back = f"had lost {share or 'nearly all'} of its chroma", "gives back {} of it"
    elif share is None:
        had, back = f"had {_times(1.0 + before)} the chroma", "takes {} of that gain away"
    else:
        more = "half as much chroma again" if share == "half" else f"{share} more chroma"
        had, back = f"had {more}", "takes {} of that gain away"
    kept = after / before
    if kept < -0.15:
        does = f"{step} turns that into a {'gain' if before < 0 else 'loss'}"
    elif kept <= 0.10:
        does = f"{step} {back.format('all')}"
    elif kept <= 0.40:
        does = f"{step} {back.format('most')}"
    elif kept <= 0.60:
        does = f"{step} {back.format('half')}"
    elif kept <= 0.85:
        does = f"{step} {back.format('some')}"
    elif kept <= 1.15:
        does = f"{step} leaves it so"
    else:
        does = f"{step} makes it more"
    return f"before {step} it {had}; {does}"


def lamp_words(light: str) -> str:
    """Return a light by its name, and what it is.

    >>> lamp_words("D65")
    'D65 (average daylight)'
    """
    return f"{light} ({colour.LIGHTS[light].split(';')[0]})"


def models_words(models: int) -> str:
    """Return how many models there are.

    >>> models_words(1), models_words(10)
    ('one model', '10 models')
    """
    return "one model" if models == 1 else f"{models} models"


def counted(number: int, word: str) -> str:
    """Return a number of things.

    >>> counted(1, "coat"), counted(2, "coat")
    ('1 coat', '2 coats')
    """
    return f"{number} {word}{'' if number == 1 else 's'}"


def joined(words: Sequence[str]) -> str:
    """Return words as a list in a sentence.

    >>> joined(["red"]), joined(["red", "green", "blue"])
    ('red', 'red, green and blue')
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
