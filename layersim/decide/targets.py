"""Colours to reach, tone by tone, and whether any surface at all can have them."""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.chance import NINETY, normal_hypercube
from layersim.documents.typed import ODD_QUOTES, three_numbers
from layersim.errors import LayersimError, quoted
from layersim.scheme.records import Targets
from layersim.scheme.targets import Target
from layersim.spectra import FloatArray

PLACE_WORDS: Final = {"shadow": "shadow", "mid": "mid-tone", "light": "light tone"}
"""The tones that a scheme's targets name, in words: "light" by itself may be a lamp's."""
_DIRECTIONS: Final = 4096
_DRAWS: Final = 256
# Lab given to one decimal, and the weights' own rounding, may miss the limit by this much XYZ.
_SLACK: Final = 0.05


@dataclass(frozen=True, eq=False)
class ToneTargets:
    """What every tone should look like.

    Between the targets given, L*a*b* is interpolated straight along the shade axis; beyond the
    first and the last given nothing is asked.
    """

    lab: FloatArray
    """Shape (tones, 3). Meaningless where not counted."""
    counted: npt.NDArray[np.bool_]
    """Shape (tones,)."""
    given: dict[str, int]
    """Place ("shadow") to its tone."""
    doubt: FloatArray = field(default_factory=lambda: np.array(0.0))
    """Shape (tones,), or (). By how much each of L*, a* and b* may be off, nine times in ten."""

    def drawn(self, z: FloatArray) -> FloatArray:
        """Return what the targets may be, shape (draws, tones, 3), by normal deviates of shape (draws, 3).

        All tones move together, as they do where one eye, screen or instrument gave them.
        """
        off = np.broadcast_to(self.doubt, len(self.lab))[:, np.newaxis] / NINETY
        return np.asarray(self.lab + off * z[:, np.newaxis])

    @cached_property
    def may_be_off(self) -> FloatArray:
        """ΔE00 by which each target may be off, nine times in ten, shape (tones,)."""
        there = self.drawn(normal_hypercube(3, _DRAWS, seed=0))
        return np.quantile(colour.delta_e_2000(there, self.lab), 0.9, axis=0)


def place_tone(place: str, tones: int) -> int:
    """Return the tone that a place stands for: the first, the middle or the last."""
    return {"shadow": 0, "mid": (tones - 1) // 2, "light": tones - 1}[place]


def tone_targets(targets: Targets, *, tones: int, viewing: colour.Viewing) -> ToneTargets:
    """Return the targets of every tone.

    `tones`: ≥ 2. Raises LayersimError if no target is given, or one that no surface can have under this
    light.

    >>> wanted = tone_targets(Targets(shadow=np.array([20.0, 0.0, 0.0]), light=np.array([60.0, 0.0, 8.0])),
    ...                       tones=5, viewing=colour.Viewing())
    >>> wanted.lab[2].tolist()
    [40.0, 0.0, 4.0]
    """
    seen = targets.under(viewing)
    known = seen.given
    if not known:
        raise LayersimError(
            "no target: found no colour to reach; expected shadow, mid or light under [area.targets], "
            'or --shadow, --mid, --light with "#rrggbb" or L,a,b'
        )
    for place, lab in known.items():
        if not surface_can_be(lab, viewing):
            L, a, b = (float(v) for v in lab)
            raise LayersimError(
                f"target for the {PLACE_WORDS[place]}: found L* {L:g}, a* {a:g}, b* {b:g}; expected a colour "
                f"that a surface can have under {viewing.light}: none that only reflects light is so "
                "strong at this lightness"
            )
    given = {place: place_tone(place, tones) for place in known}
    at = np.array(list(given.values()))
    values = np.array([known[place] for place in given])
    axis = np.arange(tones)
    lab_values = np.stack([np.interp(axis, at, values[:, i]) for i in range(3)], axis=-1)
    doubt = np.interp(axis, at, [seen.doubt(place) for place in given])
    return ToneTargets(
        lab=lab_values, counted=(axis >= at.min()) & (axis <= at.max()), given=given, doubt=doubt
    )


def surface_can_be(lab: FloatArray, viewing: colour.Viewing) -> bool:
    """Return whether some reflectance between 0 and 1 has this colour, as far as can be told.

    The colours of all such reflectances fill a convex body (the object-colour solid, whose rim are
    the optimal colours; G. Wyszecki and W. S. Stiles, Color Science, 1982, section 3.7). It is cut
    out here by planes in many directions, a little outside: what is turned away is impossible.

    `lab`: shape (3,).

    >>> surface_can_be(np.array([50.0, 20.0, 20.0]), colour.Viewing())
    True
    >>> surface_can_be(np.array([20.0, 0.0, 120.0]), colour.Viewing())
    False
    """
    xyz = colour.xyz_from_lab(lab, viewing.white)
    if not np.isfinite(xyz).all():
        return False
    # Directions spread evenly over a sphere, on Fibonacci's spiral.
    i = np.arange(_DIRECTIONS) + 0.5
    height, turn = 1.0 - 2.0 * i / _DIRECTIONS, np.pi * (1.0 + np.sqrt(5.0)) * i
    ring = np.sqrt(1.0 - height**2)
    normals = np.stack([ring * np.cos(turn), ring * np.sin(turn), height], axis=-1)
    furthest = np.maximum(normals @ viewing.weights.T, 0.0).sum(axis=-1)
    return bool((normals @ xyz <= furthest + _SLACK).all())


def colour_from(text: str, *, name: str) -> Target:
    """Return a colour typed as ``#rrggbb`` or ``L,a,b``; `name` says in messages where it was typed."""
    # Quotes that the command line did not know are no part of a colour.
    text = text.strip(ODD_QUOTES)
    if text.startswith("#"):
        with contextlib.suppress(ValueError):
            return Target(colour.lab_of_hex(text), on_screen=True)
    values = three_numbers(text)
    if values is not None and 0.0 <= values[0] <= 100.0 and all(abs(v) <= 200.0 for v in values):
        return Target(np.array(values))
    hint = ""
    if text in colour.LIGHTS:
        # --lamp names a lamp; here it is the target for the light end of the shade axis.
        hint = " The lamp to judge under stands in the scheme: lamp = ..."
    elif re.fullmatch("[0-9a-fA-F]{6}", text):
        hint = f' Did you mean "#{text}"?'
    elif text.count(",") > 2:
        hint = " Write decimals with a point."
    raise LayersimError(
        f'{name}: found {quoted(text)}; expected "#rrggbb" in quotes, or L,a,b such as 52,3,-20.{hint}'
    )
