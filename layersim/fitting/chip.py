"""Colours of chips and models in a photograph, beside a 24-patch chart or grey cards.

With a chart the picture is calibrated as a photographed card's is: it is known what the camera's channels
see, and a spot's spectrum is a smooth one with its numbers. What three channels leave open of it is in doubt
under another light than the picture's. With m and P the mean and covariance of smooth spectra, t the
numbers, W their weights, N the covariance of all errors (X1) and J the slopes of L*a*b* by the spectrum,

    R = m + G (t - Wᵀ m),   G = P W (Wᵀ P W + N)⁻¹,   Cov(L*a*b*) = J (P - G Wᵀ P) Jᵀ          (X5)

(a Gaussian process: C. E. Rasmussen and C. K. I. Williams, 2006, chapter 2). With grey cards alone the
file's own primaries are trusted. Nothing tells how light falls off between the reference and the spot: what
lies close beside it is lit alike to some per cent, which goes into the range.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import NINETY
from layersim.colour import Viewing
from layersim.documents.points import SPOT_SIZE, Point
from layersim.errors import PhotographError
from layersim.fitting.bareground import ground_modes
from layersim.fitting.colours import Seen, seen_patches
from layersim.measure.calibrate import Calibration, calibrate_by_neutrals, lab_slope
from layersim.measure.card import Rect
from layersim.measure.cardreading import by_chart, finished_patch
from layersim.measure.channels import Channels
from layersim.measure.chart import FEWEST_PIXELS_WIDE, NoChart, read_chart
from layersim.measure.chartfind import whole_picture
from layersim.measure.patches import PatchReading, even_light, read_patch
from layersim.measure.photograph import Photograph, read_photograph
from layersim.measure.rectify import Placement
from layersim.spectra import BANDS, FloatArray

_LEAST_SIDE_PX: Final = 12.0
"""In a small picture a spot is wider than that, or no mean could be told."""
GREY_CARD: Final = 0.18
"""Reflectance of a photographer's grey card."""
_LIGHT: Final = 0.03
"""By how much the light on a spot may differ from that on a reference beside it (common practice, no
source)."""
_BENDS_MORE: Final = 5.0
"""As in :meth:`Seen.smoothest`: a spot's own spectrum may bend this many times as much as a ground's."""
_TONE: Final = 0.20
"""A maker's tone curve makes ln Y between a grey and a spot longer or shorter by this share (see the
tests)."""
_IN_PIXELS: Final = Placement(np.eye(3), 1.0)


@dataclass(frozen=True)
class Grey:
    """A grey card in a picture."""

    at: Point
    """Its middle, in per cent of width and height."""
    reflects: float = GREY_CARD


@dataclass(frozen=True, eq=False)
class Reference:
    """A photograph that is calibrated by something of known colour in it."""

    photograph: Photograph
    calibration: Calibration
    channels: Channels | None
    """What the camera's channels see, where there is a chart to tell."""
    greys: tuple[Grey, ...]
    notes: tuple[str, ...]
    """What a painter should know."""


@dataclass(frozen=True, eq=False)
class SeenSpot:
    """The colour of a spot of such a photograph."""

    lab: FloatArray
    """Shape (3,), under the light that was asked for."""
    covariance: FloatArray
    """Shape (3, 3): of its error."""
    notes: tuple[str, ...]
    """What is wrong with the spot, in words."""

    @property
    def doubt(self) -> float:
        """By how much each of L*, a* and b* may be off, nine times in ten."""
        return float(NINETY * np.sqrt(np.trace(self.covariance) / 3.0))

    @property
    def lightness_doubt(self) -> float:
        """The same of L* alone."""
        return float(NINETY * np.sqrt(self.covariance[0, 0]))


def read_reference(
    path: Path, *, greys: Sequence[Grey] = (), size: float = SPOT_SIZE, encoding: str = "profile"
) -> Reference:
    """Return a photograph calibrated by the 24-patch chart in it, or by grey cards.

    `greys`: where they lie; without any a chart is looked for. `size` as of :func:`spot_seen`. Raises
    PhotographError if the photograph cannot be read, or its reference not be found or trusted.
    """
    photograph = read_photograph(path, encoding=encoding)
    if greys:
        cards = [_spot(photograph, grey.at, size, what="grey card") for grey in greys]
        try:
            calibration = calibrate_by_neutrals(
                np.array([card.rgb for card in cards]),
                np.array([np.full(BANDS, grey.reflects) for grey in greys]),
                to_xyz_d50=photograph.to_xyz_d50,
            )
        except ValueError as fault:
            raise PhotographError(path, str(fault)) from None
        flags = [flag for card in cards for flag in card.flags]
        return Reference(
            photograph, calibration, None, tuple(greys), (*photograph.notes, *_flagged("grey card", flags))
        )
    chart = read_chart(photograph, _IN_PIXELS, even_light(whole_picture(photograph)), whole=None)
    if isinstance(chart, NoChart):
        raise PhotographError(
            path,
            f"{chart.why or _no_chart(photograph)}. A camera's own colours are made to please: photograph "
            "it and a whole 24-patch chart close together, square on, in one even light; or say where "
            "a grey card lies in the picture",
        )
    calibration, channels = by_chart(photograph, chart)
    return Reference(photograph, calibration, channels, (), (*photograph.notes, *chart.notes))


def _no_chart(photograph: Photograph) -> str:
    return (
        f"no 24-patch chart is found in the picture, of {photograph.width} × {photograph.height} pixels (its "
        f"patches must be {FEWEST_PIXELS_WIDE} wide or more)"
    )


def spot_seen(
    reference: Reference, at: Point, *, viewing: Viewing | None = None, size: float = SPOT_SIZE
) -> SeenSpot:
    """Return the colour of a square spot, with its range.

    `at`: its middle, in per cent of the picture's width and height. `viewing`: the light that it is wanted
    for, daylight by default; the picture may be taken in another. `size`: its side, in per cent of the
    longer side of the picture. Raises PhotographError if its colour cannot be read.
    """
    has_chart = reference.channels is not None
    reading = _spot(reference.photograph, at, size, what="spot", may_be_cut=has_chart)
    view = viewing or Viewing()
    patch = finished_patch("spot", "", 0.0, reading, reference.calibration)
    if reference.channels is not None:
        lab, covariance = _by_channels(seen_patches([patch], reference), view)
    else:
        lab, covariance = _by_greys(reference, patch.xyz, patch.xyz_noise + patch.xyz_calibration, view)
    return SeenSpot(lab, covariance, _flagged(f"spot at {at[0]:.4g},{at[1]:.4g}", reading.flags))


def _by_channels(seen: Seen, view: Viewing) -> tuple[FloatArray, FloatArray]:
    """Return L*a*b* and its covariance by (X5)."""
    R = seen.smoothest()
    for _ in range(2):
        seen = seen.looking_at(R)
        t, W = seen.values[0], seen.weights
        shared = seen.shared(R)[:, 0]
        N = seen.noise[0] + shared.T @ shared + _LIGHT**2 * np.outer(t, t)
        level = float(max(t.mean(), 2e-3))
        bends = _BENDS_MORE * ground_modes(level)
        P = bends.T @ bends + level**2
        G = P @ W @ np.linalg.inv(W.T @ P @ W + N)
        R = np.clip(level + G @ (t - level * W.sum(axis=0)), 1e-4, 1.0)[np.newaxis]
    lab = colour.lab(R[0], view)
    J = lab_slope(np.maximum(colour.xyz(R[0], view), 0.05), view.white) @ view.weights.T
    return lab, np.asarray(J @ (P - G @ W.T @ P) @ J.T)


def _by_greys(
    reference: Reference, xyz: FloatArray, off: FloatArray, view: Viewing
) -> tuple[FloatArray, FloatArray]:
    """Return L*a*b* and its covariance where nothing but greys is known."""
    own = reference.calibration.viewing
    unlike = relative_error(float(xyz[1]), reference.greys, holds_light=reference.photograph.holds_light)
    off = off + unlike**2 * np.outer(xyz, xyz)
    slope = lab_slope(np.maximum(xyz, 0.05), own.white)
    return colour.lab_alike(xyz, under=own, to=view), np.asarray(slope @ off @ slope.T)


def relative_error(Y: float, greys: Sequence[Grey], *, holds_light: bool) -> float:
    """Return by how much, relative, light and a maker's tone curve may change a spot of Y, 0 to 100.

    `greys` are what the picture is calibrated by; with none it is a chart, which tells the tone curve.
    `holds_light`: there is no tone curve.
    """
    away = min((abs(np.log(max(Y, 0.05) / (100.0 * grey.reflects))) for grey in greys), default=0.0)
    tone = 0.0 if holds_light or not greys else _TONE / np.sqrt(len(greys)) * away
    return float(np.hypot(_LIGHT, tone))


def _spot(
    photograph: Photograph, at: Point, size: float, *, what: str, may_be_cut: bool = False
) -> PatchReading:
    place = f"{what} at {at[0]:.4g},{at[1]:.4g}"
    if not (0.0 <= at[0] <= 100.0 and 0.0 <= at[1] <= 100.0):
        raise PhotographError(
            photograph.path, f"{place}: expected a point inside the picture, X,Y in per cent from 0 to 100"
        )
    side = max(size / 100.0 * max(photograph.width, photograph.height), _LEAST_SIDE_PX)
    x, y = at[0] / 100.0 * (photograph.width - 1), at[1] / 100.0 * (photograph.height - 1)
    rect = Rect(x - side / 2.0, y - side / 2.0, side, side)
    reading = read_patch(photograph, _IN_PIXELS, rect, even_light(rect), edge_share=0.0)
    # Where a channel stands at 0, the others still tell: a chart's channels say how much.
    if not (reading.usable or (reading.only_cut_off and may_be_cut)):
        raise PhotographError(
            photograph.path,
            f"{place}: its colour cannot be read ({', '.join(reading.flags)}). Point at an even, matt place, "
            "or photograph again without glare and a little darker or lighter",
        )
    return reading


def _flagged(what: str, flags: Sequence[str]) -> tuple[str, ...]:
    return tuple(f"{what}: {flag}" for flag in flags)
