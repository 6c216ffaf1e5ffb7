"""A photographed card as numbers: every patch's RGB and XYZ with what is known of their errors."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.colour import Viewing
from layersim.errors import PhotographError
from layersim.measure.calibrate import (
    Calibration,
    calibrate_by_chart,
    calibrate_by_neutrals,
    calibrate_by_trust,
)
from layersim.measure.card import CardLayout
from layersim.measure.chart import ChartReading, chart_reflectances, read_chart
from layersim.measure.patches import LightField, PatchReading, read_light, read_patch
from layersim.measure.photograph import Photograph, read_photograph
from layersim.measure.rectify import Placement, place_card
from layersim.spectra import FloatArray

REFERENCES: Final = ("best", "chart", "neutrals", "none")
"""What to calibrate by; "best" is a chart, or else neutrals, and never none."""

_WORST_CHART_DE00: Final = 6.0
_PAPER_REFLECTANCE: Final = 0.85  # uncoated white paper, common practice, no source; only by trust
_FIRST_GREY: Final = 18
# How far below 0 red, green and blue would stand for colours too pure for sRGB, of the brightest
# channel: means
# over thin films of the paints that data/generate/paint_families.py draws; three quarters of it is how far
# they scatter. Cyans lie farthest out.
_BELOW_ZERO: Final = np.array([0.21, 0.042, 0.032])
# Share of pixels at 0 from which on a reading is only the most that a channel can be. JPEG blurs what
# noise has spread and the file has cut, so that even a median stands too high: on tuning pigments by less
# than a thousandth of white below this share, by up to nine thousandths above it, and nowhere too low.
_PARTLY: Final = 0.15
_WHOLLY: Final = 0.6  # share from which on all of it lies below 0


@dataclass(frozen=True, eq=False)
class PhotographedPatch:
    """One patch of a photographed card.

    Parameters
    ----------
    name, ground : str
    coats : float
        0 for bare ground.
    rgb : ndarray, shape (3,)
        Linear camera RGB, freed of uneven light; no tone or matrix applied.
    rgb_covariance : ndarray, shape (3, 3)
        Of its noise.
    xyz : ndarray, shape (3,)
        Under the calibration's light; Y = 100 for a perfect white.
    xyz_noise : ndarray, shape (3, 3)
        Covariance that the noise makes: independent from patch to patch.
    xyz_calibration : ndarray, shape (3, 3)
        Covariance of the calibration's error: shared by patches of like colour, so averaging over
        patches does not lessen it.
    flags : tuple of str
        What is wrong with it, in words.
    usable : bool
        False where its numbers must not be used (they may then be NaN).
    cut_off : ndarray, shape (3,)
        Where channels stand at 0 because the colour is too pure for the file: how far below `rgb` they are
        likely to be; else 0. It is known to three quarters of itself, and they are not above `rgb`.
    only_cut_off : bool
        True where `usable` is False for no other reason.
    """

    name: str
    ground: str
    coats: float
    rgb: FloatArray
    rgb_covariance: FloatArray
    xyz: FloatArray
    xyz_noise: FloatArray
    xyz_calibration: FloatArray
    flags: tuple[str, ...]
    usable: bool
    cut_off: FloatArray
    only_cut_off: bool

    @property
    def tells(self) -> bool:
        """Return whether any of its numbers may be used, be it only those that are not cut off."""
        return self.usable or self.only_cut_off


@dataclass(frozen=True, eq=False)
class CardReading:
    """All that a photograph of a card says.

    Parameters
    ----------
    path : Path
    layout : CardLayout
    patches : tuple of PhotographedPatch
        In the layout's order.
    calibration : Calibration
    light : LightField
    placement : Placement
    notes : tuple of str
        What a user should know, the file's notes first.
    chart : ChartReading or None
        The chart that was calibrated by.
    """

    path: Path
    layout: CardLayout
    patches: tuple[PhotographedPatch, ...]
    calibration: Calibration
    light: LightField
    placement: Placement
    notes: tuple[str, ...]
    chart: ChartReading | None = None


def photograph_card(
    path: Path,
    layout: CardLayout,
    *,
    corners_px: npt.ArrayLike | None = None,
    chart_corners_px: npt.ArrayLike | None = None,
    reference: str = "best",
    encoding: str = "profile",
    viewing: Viewing | None = None,
) -> CardReading:
    """Return what a photograph of a card says.

    Parameters
    ----------
    path : Path
    layout : CardLayout
    corners_px : array_like, shape (4, 2), optional
        The card's corners, for a card without tags or with hidden ones: pixels of the upright
        picture, clockwise from the card's upper left.
    chart_corners_px : array_like, shape (4, 2), optional
        Outer corners of a chart's four corner patches, clockwise, where it is not found by itself.
    reference : str
        One of :data:`REFERENCES`. "none" trusts the camera, with very wide errors.
    encoding : str
        How levels become light; see :func:`layersim.measure.photograph.read_photograph`.
    viewing : Viewing, optional
        Light and observer of the XYZ. By default the light under which the chart's left-out patches
        are predicted best; D65 where there is no chart. The answer's ``calibration.viewing`` tells.

    Returns
    -------
    CardReading

    Raises
    ------
    PhotographError
        If the photograph cannot be read, the card not be found, or no reference be trusted.
    """
    if reference not in REFERENCES:
        raise PhotographError(path, f'no reference "{reference}"; there are {", ".join(REFERENCES)}')
    photograph = read_photograph(path, encoding=encoding)
    placement = place_card(photograph, layout, corners_px=corners_px)
    light = read_light(photograph, placement, layout.whole, layout.surround)
    readings = [read_patch(photograph, placement, patch.rect, light) for patch in layout.patches]
    neutrals = [read_patch(photograph, placement, neutral.rect, light) for neutral in layout.neutrals]
    chart = None
    if reference in ("best", "chart"):
        chart = _chart(photograph, placement, light, layout, chart_corners_px)
    calibration = _calibration(photograph, layout, light, chart, neutrals, reference, viewing)
    notes = [*photograph.notes, *placement.notes, *_light_notes(light)]
    notes += [*(chart.notes if chart is not None else ()), *calibration.notes]
    return CardReading(
        path=path,
        layout=layout,
        patches=tuple(
            _finished(patch.name, patch.ground, patch.coats, reading, calibration)
            for patch, reading in zip(layout.patches, readings, strict=True)
        ),
        calibration=calibration,
        light=light,
        placement=placement,
        notes=tuple(notes),
        chart=chart,
    )


def _finished(
    name: str, ground: str, coats: float, reading: PatchReading, calibration: Calibration
) -> PhotographedPatch:
    nothing = np.full((3, 3), np.nan)
    value, noise, error = np.full(3, np.nan), nothing, nothing
    if np.isfinite(reading.rgb).all():
        value = calibration.xyz(reading.rgb)
        slope = calibration.slope(reading.rgb)
        noise = slope @ reading.covariance @ slope.T
        error = calibration.error_covariance(value)
    return PhotographedPatch(
        name=name,
        ground=ground,
        coats=coats,
        rgb=reading.rgb,
        rgb_covariance=reading.covariance,
        xyz=value,
        xyz_noise=noise,
        xyz_calibration=error,
        flags=reading.flags,
        usable=reading.usable,
        cut_off=_BELOW_ZERO * np.nan_to_num(reading.rgb).max() * _below_zero(reading.cut_off),
        only_cut_off=reading.only_cut_off,
    )


def _below_zero(share: FloatArray) -> FloatArray:
    """Return how much of a patch lies below 0, where a share of its pixels stands there."""
    return np.where(share > _PARTLY, np.minimum(share / _WHOLLY, 1.0), 0.0)


def _chart(
    photograph: Photograph,
    placement: Placement,
    light: LightField,
    layout: CardLayout,
    corners_px: npt.ArrayLike | None,
) -> ChartReading | None:
    if corners_px is None and layout.chart is not None:
        corners_px = placement.pixels(layout.chart.corners_mm)
    return read_chart(photograph, placement, light, whole=layout.whole, corners_px=corners_px)


def _calibration(
    photograph: Photograph,
    layout: CardLayout,
    light: LightField,
    chart: ChartReading | None,
    neutrals: list[PatchReading],
    reference: str,
    viewing: Viewing | None,
) -> Calibration:
    path = photograph.path
    if chart is not None:
        usable = np.array([patch.usable for patch in chart.patches])
        rgb = np.array([patch.rgb for patch in chart.patches])[usable]
        try:
            calibration = calibrate_by_chart(
                rgb,
                chart_reflectances()[usable],
                grey=(np.arange(len(usable)) >= _FIRST_GREY)[usable],
                viewing=viewing,
            )
        except ValueError as fault:
            raise PhotographError(path, f"{fault}. {'; '.join(chart.notes)}".rstrip(" .") + ".") from None
        if calibration.mean_de00 > _WORST_CHART_DE00:
            raise PhotographError(
                path,
                f"the chart's colours are missed by ΔE00 {calibration.mean_de00:.1f} on average; expected "
                f"{_WORST_CHART_DE00:g} or less. Is it faded, partly covered, another kind, in mixed light?",
            )
        return calibration
    if reference == "chart":
        raise PhotographError(
            path,
            "no 24-patch chart is found in the picture; is it whole, flat beside the card, sharp, not in "
            "shadow? Otherwise give the outer corners of its four corner patches: chart_corners_px",
        )
    if reference in ("best", "neutrals"):
        return _by_neutrals(photograph, layout, neutrals, reference, viewing)
    paper = light.middle_rgb / _PAPER_REFLECTANCE if light.middle_rgb is not None else np.ones(3)
    return calibrate_by_trust(paper, to_xyz_d50=photograph.to_xyz_d50, viewing=viewing)


def _by_neutrals(
    photograph: Photograph,
    layout: CardLayout,
    neutrals: list[PatchReading],
    reference: str,
    viewing: Viewing | None,
) -> Calibration:
    good = [i for i, reading in enumerate(neutrals) if reading.usable]
    if not good:
        why = "; ".join(
            f"{neutral.name}: {', '.join(reading.flags)}"
            for neutral, reading in zip(layout.neutrals, neutrals, strict=True)
        )
        sought = "no chart and no usable neutral" if reference == "best" else "no usable neutral"
        raise PhotographError(
            photograph.path,
            f"{sought} in the picture{f' ({why})' if why else ''}: a camera's colours are not trusted "
            'without a reference. Lay one beside the card, or say reference "none" and accept a wide band.',
        )
    try:
        return calibrate_by_neutrals(
            np.array([neutrals[i].rgb for i in good]),
            np.array([layout.neutrals[i].reflectance for i in good]),
            to_xyz_d50=photograph.to_xyz_d50,
            viewing=viewing,
        )
    except ValueError as fault:
        raise PhotographError(photograph.path, f"{fault}") from None


def _light_notes(light: LightField) -> list[str]:
    if light.order == 0:
        return ["uneven light could not be corrected: too little bare surround is seen"]
    notes = [f"light falls off by {100 * (-light.falloff):.0f} % over the card; corrected"]
    if len(light.odd_mm) > 0:
        notes.append(
            f"{len(light.odd_mm)} places of the bare surround were left out (shadow, glare, overspray)"
        )
    return notes
