"""Photographed cards without photographs: readings as an ideal camera with noise would give them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from layersim.colour import Viewing, xyz
from layersim.fitting.photographed import fit_readings
from layersim.fitting.result import Fit
from layersim.measure.calibrate import Calibration
from layersim.measure.card import CardLayout, standard_card
from layersim.measure.cardreading import CardReading, PhotographedPatch
from layersim.measure.channels import Channels
from layersim.measure.chart import ChartReading
from layersim.measure.chart24 import chart_reflectances
from layersim.measure.patches import PatchReading, even_light
from layersim.measure.photoswatch import PhotographedSet, from_layout
from layersim.measure.processing import learn_camera
from layersim.measure.rectify import Placement
from layersim.measure.tone import ToneCurve
from layersim.shelf import Shelf
from layersim.spectra import FloatArray, wavelengths_nm
from tests.fitting.painter import BARE, COAT_UM, model_reflectance, violet

LAYOUT = standard_card()
NOISE = 2e-3
SHELF = Shelf([])


LED_NM = (455.0, 590.0)
"""Peaks of an invented lamp that is no bulb."""


def sensitivities(lamp_nm: tuple[float, ...] = ()) -> FloatArray:
    """Return an invented camera under an invented lamp, a white giving 1 in each channel, shape (31, 3).

    A bulb; with `lamp_nm`, a lamp with peaks there.
    """
    nm = wavelengths_nm()[:, np.newaxis]
    peaks = [np.exp(-0.5 * ((nm - at) / 35.0) ** 2) for at in lamp_nm]
    lamp = 0.1 + np.sum(peaks, axis=0) if peaks else 0.3 + (nm - 400.0) / 300.0
    w = lamp * (np.exp(-0.5 * ((nm - np.array([600.0, 540.0, 460.0])) / [38.0, 42.0, 30.0]) ** 2) + 0.02)
    return np.asarray(w / w.sum(axis=0))


def spectra(K: FloatArray, S: FloatArray, layout: CardLayout = LAYOUT) -> dict[str, FloatArray]:
    """Return the reflectance of each place of a card, by the product's own model."""
    return {
        p.name: BARE[p.ground]
        if p.coats == 0.0
        else model_reflectance(K, S, ground=p.ground, thickness_um=p.coats * COAT_UM)
        for p in layout.patches
    }


def patch_reading(rgb: FloatArray, sd: float) -> PatchReading:
    return PatchReading(rgb, sd**2 * np.eye(3), (), True, np.zeros(3))


def reading(
    seen: dict[str, FloatArray],
    *,
    chart: bool = True,
    noise: float = NOISE,
    seed: int = 0,
    lamp_nm: tuple[float, ...] = (),
    layout: CardLayout = LAYOUT,
) -> CardReading:
    """Return a card's reading; with a chart the camera is its own, without one it is an eye under D65."""
    rng = np.random.default_rng(seed)
    weights = sensitivities(lamp_nm) if chart else Viewing().weights / Viewing().white
    view = Viewing("A") if chart else Viewing()
    sigma = 0.3 if chart else 1.0
    calibration = Calibration(
        reference="chart" if chart else "neutrals",
        viewing=view,
        tone=ToneCurve("as read", np.zeros(3)),
        matrix=_matrix(weights, view),
        sigma_lab=sigma**2 * np.eye(3),
        sigma_lch=np.zeros(3),
        sigma_lch_per_chroma=np.zeros(3),
        mean_de00=0.8,
    )
    patches = []
    for place in layout.patches:
        truth = seen[place.name] @ weights
        sd = noise * (0.05 + float(truth.max()))
        rgb = np.maximum(truth + sd * rng.standard_normal(3), 1e-5)
        value = calibration.xyz(rgb)
        slope = calibration.slope(rgb)
        patches.append(
            PhotographedPatch(
                name=place.name,
                ground=place.ground,
                coats=place.coats,
                rgb=rgb,
                rgb_covariance=sd**2 * np.eye(3),
                xyz=value,
                xyz_noise=sd**2 * slope @ slope.T,
                xyz_calibration=calibration.error_covariance(value),
                flags=(),
                usable=True,
                cut_off=np.zeros(3),
                only_cut_off=False,
                limit=np.zeros(3, dtype=np.bool_),
            )
        )
    of_chart = chart_reflectances() @ weights
    on_chart = tuple(
        patch_reading(rgb + noise * rng.standard_normal(3) * rgb, noise * float(rgb.max()))
        for rgb in of_chart
    )
    return CardReading(
        path=Path("card.jpg"),
        layout=layout,
        patches=tuple(patches),
        calibration=calibration,
        light=even_light(layout.whole),
        placement=Placement(np.eye(3), 1.0),
        notes=(),
        chart=ChartReading(on_chart, np.zeros((4, 2)), (), np.zeros((24, 4, 2))) if chart else None,
        channels=_channels(on_chart) if chart else None,
    )


def _channels(chart: tuple[PatchReading, ...]) -> Channels:
    return learn_camera(
        np.array([patch.rgb for patch in chart]),
        np.array([patch.covariance for patch in chart]),
        chart_reflectances(),
        grey=np.arange(24) >= 18,
        linear=True,
    )[1]


def _matrix(weights: FloatArray, view: Viewing) -> FloatArray:
    chart = chart_reflectances()
    return np.asarray(np.linalg.lstsq(chart @ weights, xyz(chart, view), rcond=None)[0])


def with_patch(card: CardReading, name: str, **changes: object) -> CardReading:
    """Return a reading with one patch changed."""
    return replace(
        card,
        patches=tuple(
            replace(p, **changes) if p.name == name else p  # type: ignore[arg-type]
            for p in card.patches
        ),
    )


def card_set(**keys: object) -> PhotographedSet:
    """Return the swatches of the standard card, an unthinned paint with a coat of 3 µm."""
    grounds, swatches = from_layout(LAYOUT, sheen=0.0)
    given: dict[str, object] = {
        "grounds": grounds,
        "swatches": swatches,
        "photograph": Path("card.jpg"),
        **keys,
    }
    return PhotographedSet(
        paint="test violet",
        kind="paint",
        volume_solids=0.3,
        wet_film_um=COAT_UM / 0.3,
        sheen=0.0,
        layout=LAYOUT,
        invented=True,
        **given,  # type: ignore[arg-type]
    )


def fitted(card: CardReading, swatches: PhotographedSet | None = None) -> Fit:
    return fit_readings(swatches or card_set(), (card,), SHELF)


def two_lamps() -> tuple[CardReading, CardReading]:
    """Return one card of the tests' violet under two lamps."""
    seen = spectra(*violet())
    return reading(seen), reading(seen, lamp_nm=LED_NM, seed=1)
