"""A photographed card as numbers: every patch's RGB and XYZ with what is known of their errors."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim.errors import PhotographError
from layersim.measure.calibrate import (
    Calibration,
    calibrate_by_chart,
    calibrate_by_neutrals,
    calibrate_by_trust,
)
from layersim.measure.card import CardLayout
from layersim.measure.channels import Channels
from layersim.measure.chart import ChartReading, NoChart, read_chart
from layersim.measure.chart24 import chart_reflectances
from layersim.measure.chartspoilt import spoilt_words
from layersim.measure.patches import BESIDE_SPOILT, LightField, PatchReading, read_light, read_patch
from layersim.measure.photograph import COARSE_STEP, Photograph, read_photograph
from layersim.measure.processing import learn_camera
from layersim.measure.rectify import Placement, place_card
from layersim.spectra import FloatArray

REFERENCES: Final = ("best", "chart", "neutrals", "none")
"""What to calibrate by; "best" is a chart, or else neutrals, and never none."""

FEWEST_CHART_PATCHES: Final = 16
_WORST_CHART_DE00: Final = 6.0
# u of (N3) from which on a picture is called processed: rendered pictures without a look, of three specimens
# of the chart, came to 0.005 to 0.035, with looks that were not wholly undone to 0.04 to 0.07.
_PROCESSED: Final = 0.045
_POOR_CHART_DE00: Final = 3.0  # rendered charts, also such as differ from the published one, came to less
_PAPER_REFLECTANCE: Final = 0.85  # uncoated white paper, common practice, no source; only by trust
_FIRST_GREY: Final = 18
# Of full scale. Three stops below clipping: noise and the file's rounding are then as large as what is asked.
_DARK_PAPER: Final = 0.12
_UNLIKE: Final = 1.5  # neutrals whose reflectances differ by less may look alike
_ALIKE: Final = 0.2  # of the difference of ln reflectance that a camera must show at the least
_LIKE_PAPER: Final = 0.15
# How far below 0 red, green and blue would stand for colours too pure for sRGB, of the brightest channel:
# means over thin films of the paints that data/generate/paint_families.py draws; three quarters of it is how
# far they scatter. Cyans lie farthest out.
_BELOW_ZERO: Final = np.array([0.21, 0.042, 0.032])
# Share of pixels at 0 from which on a reading is too high. JPEG blurs what noise has spread and the file has
# cut, so that even a median stands too high: on tuning pigments by less than a thousandth of white below this
# share, by up to nine thousandths above it, and nowhere too low.
_PARTLY: Final = 0.15
# Share of pixels at 0 from which on a reading is only the most that a channel can be. With fewer it lies
# about 0: so much below what is read, of the brightest channel and of white (set on tuning pigments).
_WHOLLY: Final = 0.6
_NEAR_ZERO: Final = 0.015
_NEAR_ZERO_DARK: Final = 0.0015
# The same of a chart's patches: share of pixels at 0 above which a mean is off, and by how much of its
# brightest channel (assumptions).
_CHART_CUT: Final = 0.03
_CHART_CUT_OFF: Final = 0.04


@dataclass(frozen=True, eq=False)
class PhotographedPatch:
    """One patch of a photographed card."""

    name: str
    ground: str
    coats: float
    """0 for bare ground."""
    rgb: FloatArray
    """Shape (3,): linear camera RGB, freed of uneven light; no tone or matrix applied."""
    rgb_covariance: FloatArray
    """Shape (3, 3): of its noise."""
    xyz: FloatArray
    """Shape (3,): under the calibration's light; Y = 100 for a perfect white."""
    xyz_noise: FloatArray
    """Shape (3, 3): covariance that the noise makes: independent from patch to patch."""
    xyz_calibration: FloatArray
    """Shape (3, 3): covariance of the calibration's error: shared by patches of like colour, so averaging
    over patches does not lessen it.
    """
    flags: tuple[str, ...]
    """What is wrong with it, in words."""
    usable: bool
    """False where its numbers must not be used (they may then be NaN)."""
    cut_off: FloatArray
    """Shape (3,): where channels stand at 0 because the colour is too pure or too dark for the file: how
    far below `rgb` they are likely to be; else 0. It is known to three quarters of itself.
    """
    only_cut_off: bool
    """True where `usable` is False for no other reason."""
    limit: npt.NDArray[np.bool_]
    """Shape (3,): where `rgb` is only the most that a channel can be, since nearly all pixels stand at 0."""

    @property
    def tells(self) -> bool:
        """Return whether any of its numbers may be used, be it only those that are not cut off."""
        return self.usable or self.only_cut_off


@dataclass(frozen=True, eq=False)
class CardReading:
    """All that a photograph of a card says."""

    path: Path
    layout: CardLayout
    patches: tuple[PhotographedPatch, ...]
    """In the layout's order."""
    calibration: Calibration
    light: LightField
    placement: Placement
    notes: tuple[str, ...]
    """What a user should know, the file's notes first."""
    chart: ChartReading | None = None
    """The chart that was calibrated by."""
    channels: Channels | None = None
    """What the camera's channels see, where there is a chart to tell."""

    @property
    def spoilt(self) -> str:
        """What is wrong with the colours of the whole picture, so that no range tells it; else nothing."""
        if self.chart is None:
            return "no chart in it tells what the camera did to its colours"
        if self.channels is not None and self.channels.misfit.light >= _PROCESSED:
            return "the camera has changed its colours beyond what the chart can undo"
        if self.light.lifted:
            return "the camera has lightened what lies beside dark places, which no chart shows"
        if self.calibration.mean_de00 >= _POOR_CHART_DE00:
            return f"its chart's colours are off by ΔE00 {self.calibration.mean_de00:.1f} on average"
        return ""


def photograph_card(
    path: Path,
    layout: CardLayout,
    *,
    corners_px: npt.ArrayLike | None = None,
    chart_corners_px: npt.ArrayLike | None = None,
    reference: str = "best",
    encoding: str = "profile",
) -> CardReading:
    """Return what a photograph of a card says.

    `corners_px` are the card's corners, shape (4, 2), if its marks are not all seen: pixels of the upright
    picture, clockwise from the card's upper left. `chart_corners_px` are the outer corners of a chart's
    corner patches, clockwise, if it is not found by itself. `reference` is one of :data:`REFERENCES`, and
    `encoding` one of :data:`layersim.measure.photograph.ENCODINGS`. Raises PhotographError if the photograph
    can't be read, the card is not found, or no reference can be trusted.
    """
    return card_in(
        read_photograph(path, encoding=encoding),
        layout,
        corners_px=corners_px,
        chart_corners_px=chart_corners_px,
        reference=reference,
    )


def card_in(
    photograph: Photograph,
    layout: CardLayout,
    *,
    corners_px: npt.ArrayLike | None = None,
    chart_corners_px: npt.ArrayLike | None = None,
    reference: str = "best",
) -> CardReading:
    """Return what a photograph that was read says of a card; as :func:`photograph_card`."""
    placement = place_card(photograph, layout, corners_px=corners_px)
    light = read_light(photograph, placement, layout.whole, layout.surround)
    readings = [read_patch(photograph, placement, patch.rect, light) for patch in layout.patches]
    neutrals = [read_patch(photograph, placement, neutral.rect, light) for neutral in layout.neutrals]
    sought: ChartReading | NoChart = NoChart()
    if reference in ("best", "chart"):
        sought = chart_in(photograph, placement, light, layout, chart_corners_px)
    chart = sought if isinstance(sought, ChartReading) else None
    calibration, channels = _calibration(photograph, layout, light, sought, neutrals, reference)
    beside = [
        p.name for p, found in zip(layout.patches, readings, strict=True) if BESIDE_SPOILT in found.flags
    ]
    # Where the light could be corrected, its notes cover what lies beside places.
    if light.order > 0:
        readings = [
            replace(found, flags=tuple(flag for flag in found.flags if flag != BESIDE_SPOILT))
            for found in readings
        ]
    notes = [*photograph.notes, *placement.notes, *_light_notes(photograph, light, beside)]
    notes += [*_chart_notes(sought, calibration, reference), *_processed_notes(channels)]
    return CardReading(
        path=photograph.path,
        layout=layout,
        patches=tuple(
            finished_patch(patch.name, patch.ground, patch.coats, reading, calibration)
            for patch, reading in zip(layout.patches, readings, strict=True)
        ),
        calibration=calibration,
        light=light,
        placement=placement,
        notes=tuple(notes),
        chart=chart,
        channels=channels,
    )


def finished_patch(
    name: str, ground: str, coats: float, reading: PatchReading, calibration: Calibration
) -> PhotographedPatch:
    """Return a patch with its colour by a calibration."""
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
        cut_off=_below_zero(reading),
        only_cut_off=reading.only_cut_off,
        limit=reading.cut_off > _WHOLLY,
    )


def _below_zero(reading: PatchReading) -> FloatArray:
    """Return how far below what is read channels are likely to be."""
    share, brightest = reading.cut_off, float(np.nan_to_num(reading.rgb).max())
    near = _NEAR_ZERO_DARK + _NEAR_ZERO * brightest
    return np.where(share > _WHOLLY, _BELOW_ZERO * brightest, np.where(share > _PARTLY, near, 0.0))


def chart_in(
    photograph: Photograph,
    placement: Placement,
    light: LightField,
    layout: CardLayout,
    corners_px: npt.ArrayLike | None,
) -> ChartReading | NoChart:
    """Return what a photograph says of a chart on or beside a card; as :func:`read_chart`."""
    if corners_px is None and layout.chart is not None:
        corners_px = placement.pixels(layout.chart.corners_mm)
    return read_chart(photograph, placement, light, whole=layout.whole, corners_px=corners_px)


def _calibration(
    photograph: Photograph,
    layout: CardLayout,
    light: LightField,
    chart: ChartReading | NoChart,
    neutrals: list[PatchReading],
    reference: str,
) -> tuple[Calibration, Channels | None]:
    path = photograph.path
    if isinstance(chart, ChartReading):
        seen = [reading.usable for reading in neutrals]
        instead = ""
        if sum(seen) > 1 and all(seen) and not _bare_places(layout, light, neutrals):
            instead = ' The neutrals on the card do instead, less well: reference = "neutrals".'
        return by_chart(photograph, chart, instead=instead)
    if reference == "chart":
        raise PhotographError(
            path,
            f"{chart.why or _NO_CHART}. Lay the whole chart flat beside the card, in even light, and "
            "photograph both sharply. Or say where the outer corners of its corner patches are in this "
            "picture: chart_corners_px = [[x, y], [x, y], [x, y], [x, y]]",
        )
    if reference in ("best", "neutrals"):
        return _by_neutrals(photograph, layout, light, chart, neutrals, reference), None
    paper = light.middle_rgb / _PAPER_REFLECTANCE if light.middle_rgb is not None else np.ones(3)
    return calibrate_by_trust(paper, to_xyz_d50=photograph.to_xyz_d50), None


def by_chart(
    photograph: Photograph, chart: ChartReading, *, instead: str = ""
) -> tuple[Calibration, Channels]:
    """Return the calibration by a chart, and what the camera's channels see.

    Raises PhotographError where the chart's colours are too far off, or too few of its patches can be used;
    `instead` then says what else there is.
    """
    path = photograph.path
    usable = np.array([patch.usable for patch in chart.patches])
    if usable.sum() < FEWEST_CHART_PATCHES:
        why, remedy = spoilt_words(chart.patches)
        raise PhotographError(
            path,
            f"only {usable.sum()} of the chart's patches can be used; expected {FEWEST_CHART_PATCHES} or more"
            f". Not used: {why}. Photograph again with {remedy}.{instead}",
        )
    rgb = np.array([patch.rgb for patch in chart.patches])[usable]
    published, grey = chart_reflectances()[usable], (np.arange(len(usable)) >= _FIRST_GREY)[usable]
    tone, channels = learn_camera(
        rgb, _chart_noise(chart)[usable], published, grey=grey, linear=photograph.holds_light
    )
    calibration = calibrate_by_chart(rgb, published, tone=tone)
    if calibration.mean_de00 > _WORST_CHART_DE00:
        raise PhotographError(
            path,
            f"the chart's colours are off by ΔE00 {calibration.mean_de00:.1f} on average; expected "
            f"{_WORST_CHART_DE00:g} or less. Photograph a clean 24-patch chart in one kind of light, "
            "with no shadow on it and nothing lying on it, and set the camera to raw.",
        )
    return calibration, channels


def _chart_noise(chart: ChartReading) -> FloatArray:
    """Return the covariance of the chart's patches, shape (24, 3, 3).

    Where part of a patch's pixels stand at 0, its mean is too high by an unknown little.
    """
    return np.stack(
        [
            p.covariance + np.diag(np.where(p.cut_off > _CHART_CUT, _CHART_CUT_OFF * p.rgb.max(), 0.0) ** 2)
            for p in chart.patches
        ]
    )


_NO_CHART: Final = "no 24-patch chart is found in the picture"


def _by_neutrals(
    photograph: Photograph,
    layout: CardLayout,
    light: LightField,
    chart: NoChart,
    neutrals: list[PatchReading],
    reference: str,
) -> Calibration:
    good = [i for i, reading in enumerate(neutrals) if reading.usable]
    no_chart = f"{chart.why or _NO_CHART}, and " if reference == "best" else ""
    if not good:
        why = "; ".join(
            f"{neutral.name}: {', '.join(reading.flags)}"
            for neutral, reading in zip(layout.neutrals, neutrals, strict=True)
        )
        raise PhotographError(
            photograph.path,
            f"{no_chart}no neutral can be used{f' ({why})' if why else ''}. A camera's own colours are made "
            'to please. Lay a 24-patch chart beside the card, or say reference = "none" and accept a wide '
            "range.",
        )
    bare = _bare_places(layout, light, neutrals)
    if bare:
        remedy = "Photograph again with the whole chart in the picture, or glue" if no_chart else "Glue"
        raise PhotographError(
            photograph.path,
            f"{no_chart}the places for neutrals ({', '.join(bare[1])}) {bare[0]}. {remedy} neutrals of known "
            "reflectance onto them.",
        )
    try:
        return calibrate_by_neutrals(
            np.array([neutrals[i].rgb for i in good]),
            np.array([layout.neutrals[i].reflectance for i in good]),
            to_xyz_d50=photograph.to_xyz_d50,
        )
    except ValueError as fault:
        raise PhotographError(photograph.path, f"{no_chart}{fault}") from None


def _bare_places(
    layout: CardLayout, light: LightField, neutrals: list[PatchReading]
) -> tuple[str, list[str]] | None:
    """Return what is wrong with places whose neutrals should differ but look alike, and their names."""
    seen = [
        (neutral.name, float(np.mean(neutral.reflectance)), float(reading.rgb.mean()))
        for neutral, reading in zip(layout.neutrals, neutrals, strict=True)
        if reading.usable
    ]
    alike = {
        name: level
        for name, said, level in seen
        for _, other_said, other in seen
        if abs(np.log(said / other_said)) > np.log(_UNLIKE)
        and abs(np.log(max(level, 1e-6) / max(other, 1e-6))) < _ALIKE * abs(np.log(said / other_said))
    }
    if not alike:
        return None
    paper = light.middle_rgb.mean() if light.middle_rgb is not None else np.nan
    like_paper = all(abs(level / paper - 1.0) < _LIKE_PAPER for level in alike.values())
    return "look like bare paper" if like_paper else "look all alike", list(alike)


# Cameras without a look came to 0.04 at the most, one that made colours 25 % stronger to 0.25.
_STRONGER: Final = 0.10


def _chart_notes(chart: ChartReading | NoChart, calibration: Calibration, reference: str) -> tuple[str, ...]:
    if isinstance(chart, ChartReading):
        stronger = float(np.exp(calibration.tone.look.log_saturation)) - 1.0
        notes = chart.notes
        if stronger >= _STRONGER:
            notes += (
                f"the camera has made colours {100 * stronger:.0f} % stronger than they are. The chart tells "
                "by how much, and they were brought back; the camera's plain picture style, or raw, is surer",
            )
        if calibration.mean_de00 < _POOR_CHART_DE00:
            return notes
        return (
            *notes,
            f"the chart's colours are off by ΔE00 {calibration.mean_de00:.1f} on average, where 1 to 2 is "
            "usual, and the range is wider for it: is there a soft shadow on the chart, more than one kind "
            "of light, or is the chart faded?",
        )
    if reference == "none":
        return (
            "nothing in the picture tells its colours: the camera's own were taken, as asked, and the range "
            "is wide",
        )
    by = "the camera's own colours were used, its neutrals set right"
    if reference == "neutrals":
        return (f"calibrated by the neutrals, as asked: {by}",)
    if not chart.why:
        return (f"no chart in the frame: {by}",)
    return (f"{chart.why}: {by}. A whole chart, evenly lit, tells more",)


def _processed_notes(channels: Channels | None) -> list[str]:
    """Return a warning of a picture that was processed beyond what can be undone."""
    if channels is None or channels.misfit.light < _PROCESSED:
        return []
    return [
        f"the camera has changed colours by {100 * channels.misfit.light:.0f} % and more beyond what the "
        "chart can undo, and the range is wider for it: set the camera to raw, or turn its picture "
        "styles, HDR and scene modes off, and photograph again"
    ]


def _light_notes(photograph: Photograph, light: LightField, beside: list[str]) -> list[str]:
    if light.order == 0:
        return ["uneven light could not be corrected: too little bare surround is seen"]
    notes = []
    dark = light.middle_rgb is not None and float(light.middle_rgb.max()) < _DARK_PAPER
    if light.middle_rgb is not None and dark:
        notes.append(
            f"the picture is under-exposed: the card's bare paper has {100 * light.middle_rgb.max():.0f} % "
            "of the most light that the file can hold. Photograph again so that it is light, but not clipped"
        )
    if light.lifted:
        notes.append(
            f"the card's bare paper is {100 * light.lifted:.0f} % lighter beside dark places than beside "
            "light ones, as HDR and other local tone mapping make it: turn HDR and scene modes off, or set "
            "the camera to raw, and photograph again"
        )
    if round(-100 * light.falloff) > 0:
        notes.append(f"light falls off by {100 * (-light.falloff):.0f} % over the card; corrected")
    # In a dark picture the file's rounding alone makes paper uneven, in a strongly compressed one the blocks.
    if len(light.odd_mm) > 0 and not dark:
        causes = "compression, " if photograph.mean_step >= COARSE_STEP else ""
        near = f"; it may lie on {', '.join(beside)}, too" if beside else ""
        notes.append(
            f"{len(light.odd_mm)} places of the bare surround were left out ({causes}shadow, glare, "
            f"overspray){near}"
        )
    return notes
