"""What a metal's fit says: the verdict, its flakes, reading by reading, and coats from three sides."""

from __future__ import annotations

from collections.abc import Sequence

from layersim.chance import NINETY
from layersim.fitting.doubts import TYPICAL_COATS
from layersim.fitting.metal import MetalFit
from layersim.measure.card import coats_in_words
from layersim.optics.flakes import ANGLES_DEG
from layersim.paint import film_words
from layersim.spectra import wavelengths_nm
from layersim.views.fit import GRADES, TONES, constant, curves, seen_as, swatches
from layersim.views.metal import LOOKS_EXPLAINED, lighter_words, look_words
from layersim.views.notices import sentences
from layersim.views.paint import source_words
from layersim.views.parts import Beside, Cell, Part, Plot, Row, Strips, TablePart, Tone, View, Words
from layersim.views.preview import lightness_words
from layersim.views.words import SCALE


def view(fit: MetalFit, notices: Sequence[str] = ()) -> View:
    """Return a metal's page."""
    flakes = fit.paint.flakes
    assert flakes is not None, "it is a metal"
    said = sentences([fit.verdict.words], first="")
    said += ["That goes for half a coat to four, unthinned, from three sides."]
    said += sentences([*fit.notices, *notices])
    ranges: list[list[Cell]] = [
        ["metal", flakes.metal, ""],
        ["tilt, one standard deviation", fit.tilt_deg.words("degrees"), "4 lies very flat, 12 hardly"],
        ["strewn evenly (rough)", fit.rough.words(), "more for finer flakes"],
        ["cover", fit.cover_per_um.words("per µm"), f"one coat is {film_words(fit.coat_um)} dry"],
    ]
    left: list[Part] = [
        Words(["Its flakes, with ranges that hold nine times in ten"], kind="strong"),
        TablePart(["", "", ""], ranges),
        Words([f"Your readings, as {seen_as(fit)} and as this paint gives them"], kind="strong"),
        swatches(fit),
        Words(
            ["How surely coats of it are known: each lies within ± ΔE00, nine times in ten"], kind="strong"
        ),
        *_coats(fit),
    ]
    foot = [
        f"From: {source_words(fit.paint)}. Numbers on blocks: lightness L* (D65, 2°). ΔE00: {SCALE}.",
        LOOKS_EXPLAINED,
        *lighter_words(fit.measured_lab, fit.coats_lab),
    ]
    return View(
        title=f"{fit.paint.name}: a metal, fitted to {len(fit.names)} readings",
        parts=[
            Words([f"{GRADES[fit.verdict.grade]}."], kind="strong"),
            Words(said),
            Beside(left, _plots(fit)),
            Words(foot, kind="faint"),
        ],
    )


def _coats(fit: MetalFit) -> list[Part]:
    found: list[Part] = []
    heads = [coats_in_words(coats) for coats in TYPICAL_COATS]
    for i, angle in enumerate(ANGLES_DEG):
        rows = []
        for tone, labs, off in zip(TONES, fit.coats_lab[:, i], fit.coats_off[:, i], strict=True):
            cells: list[Cell] = [
                Tone(lab, lightness_words(lab[0]), f"± {own:.1f}") for lab, own in zip(labs, off, strict=True)
            ]
            rows.append(Row(tone, cells))
        found += [Words([look_words(angle).capitalize()]), Strips(rows, ticks=heads)]
    return found


def _plots(fit: MetalFit) -> list[Part]:
    nm = wavelengths_nm()
    beside = "" if fit.measured is None else ", and as measured"
    return [
        Plot(f"Reflectance of each reading, as fitted{beside}", nm, curves(fit)),
        constant(
            "Absorption K of the binder, per µm of dry film: its tint",
            fit.paint.K_per_um,
            NINETY * fit.log_K_error,
            "#000000",
            "wavelength, nm; shaded: holds the truth nine times in ten",
        ),
    ]
