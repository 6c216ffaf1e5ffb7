"""What a fit says: the verdict first, then swatch by swatch, then how surely coats of the paint are known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from layersim import colour
from layersim.chance import NINETY
from layersim.errors import quoted
from layersim.fitting.doubts import TYPICAL_COATS, TYPICAL_GROUNDS, typical_stacks
from layersim.fitting.metal import MetalFit
from layersim.fitting.result import Fit
from layersim.fitting.two_constant import predict
from layersim.measure.card import coats_in_words
from layersim.optics import cones
from layersim.paint import film_words
from layersim.spectra import BANDS, FloatArray, wavelengths_nm
from layersim.views.notices import sentences
from layersim.views.paint import source_words
from layersim.views.parts import Beside, Cell, Curve, Part, Plot, Row, Strips, Tone, View, Words
from layersim.views.preview import lightness_words
from layersim.views.words import SCALE

GRADES: Final = {
    "good": "Good enough to plan with",
    "usable": "Usable, but not yet good",
    "doubtful": "Doubtful: do not plan with it yet",
}
_MOST_ROWS: Final = 40
TONES: Final = ("over a dark tone", "over a middle tone", "over a light tone")
# A band that leaves the sky open must not press the curve itself to the floor.
_HIGHEST: Final = 2.5


def view(fit: Fit, notices: Sequence[str] = (), *, typed: bool = True) -> View:
    """Return a fit's page; without `typed` it names no command to type."""
    unthinned = "; see layersim paint for unthinned" if typed else "; the shelf shows it unthinned"
    said = sentences([fit.verdict.words], first="")
    said += [f"Left out: {outlier.words()}." for outlier in fit.outliers]
    said += [f"That goes for half a coat to four, thinned as the swatches were{unthinned}."]
    said += [advice(fit)]
    doubtful = [one for one in fit.notices if any(quoted(name) in one for name in fit.odd_films)]
    others = [one for one in (*fit.notices, *notices) if one not in doubtful]
    foot = [
        f"From: {source_words(fit.paint)}. Numbers on blocks: lightness L* (D65, 2°). ΔE00: {SCALE}.",
    ]
    left = [
        Words([_swatches_title(fit)], kind="strong"),
        swatches(fit),
        *_coats(fit),
    ]
    return View(
        title=f"{fit.paint.name}: {_count(fit)}",
        parts=[
            Words([f"{GRADES[fit.verdict.grade]}."], kind="strong"),
            *([Words(sentences(doubtful, first=""), kind="warning")] if doubtful else []),
            Words([*said, *sentences(others)]),
            Beside(left, _plots(fit)),
            Words(foot, kind="faint"),
        ],
    )


def _count(fit: Fit) -> str:
    what = "swatch" if fit.measured is not None else "patch of a photograph"
    if len(fit.names) != 1:
        what = what.replace("swatch", "swatches").replace("patch ", "patches ")
    return f"fitted to {len(fit.names)} {what}"


def advice(fit: Fit) -> str:
    """Return what would narrow the range most, as sentences."""
    if fit.suggestion is None:
        swatch = "" if fit.remedy else "No single further swatch would narrow it much."
    else:
        swatch = (
            f"One more swatch would help most: {fit.suggestion.words}. It should bring ΔE00 "
            f"{fit.verdict.reach:.1f} down to {fit.suggestion.reach:.1f}."
        )
    return " ".join(part for part in (fit.remedy, swatch) if part)


def _swatches_title(fit: Fit) -> str:
    return f"Your swatches, as {seen_as(fit)} and as this paint gives them"


def seen_as(fit: Fit | MetalFit) -> str:
    """Return how swatches were looked at."""
    return "photographed" if fit.measured is None else "measured"


def swatches(fit: Fit | MetalFit) -> Strips:
    """Return each swatch as it was seen and as the paint gives it."""
    rows = []
    for i, name in enumerate(fit.names[:_MOST_ROWS]):
        pair = [Tone(lab, lightness_words(lab[0])) for lab in (fit.measured_lab[i], fit.fitted_lab[i])]
        said = f"ΔE00 {fit.delta_e[i]:.1f}{'' if fit.kept[i] else ', left out'}"
        rows.append(Row(name, pair, after=said))
    if len(fit.names) > _MOST_ROWS:
        rows.append(Row(f"... and {len(fit.names) - _MOST_ROWS} more", ["", ""]))
    return Strips(rows, ticks=[seen_as(fit), "fitted"], apart=True)


def _coats(fit: Fit) -> list[Part]:
    """Return typical coats over typical grounds, with the range that holds nine of ten outcomes."""
    logs = np.log(fit.paint.K_per_um), np.log(fit.paint.S_per_um)
    typical = typical_stacks(*logs, coat_um=fit.coat_um, sheen=fit.paint.share_seen)
    unknowns = np.concatenate([*logs, np.zeros(len(typical.films.names))])
    seen = predict(typical.films, unknowns) + fit.paint.share_seen * cones.directions().k1
    spread = NINETY * typical.spread(fit.covariance)
    cells: list[Cell] = []
    for lab, own in zip(colour.lab(seen, colour.Viewing()), spread, strict=True):
        lightness = (max(lab[0] - own[0], 0.0), min(lab[0] + own[0], 100.0))
        cells.append(Tone(lab, lightness_words(lab[0]), f"± {np.hypot.reduce(own):.1f}", lightness))
    wide = len(TYPICAL_COATS)
    rows = [Row(TONES[i], cells[wide * i : wide * (i + 1)]) for i in range(len(TYPICAL_GROUNDS))]
    heads = [coats_in_words(n) for n in TYPICAL_COATS]
    rows.append(Row("dry film", [film_words(n * fit.coat_um) for n in TYPICAL_COATS]))
    title = "How surely coats of it are known: each lies within ± ΔE00, nine times in ten"
    return [Words([title], kind="strong"), Strips(rows, ticks=heads)]


def _plots(fit: Fit) -> list[Part]:
    nm = wavelengths_nm()
    beside = "" if fit.measured is None else ", and as measured"
    wide = NINETY * np.sqrt(np.diag(fit.covariance))
    foot = "wavelength, nm; shaded: holds the truth nine times in ten"
    return [
        Plot(f"Reflectance of each swatch, as fitted{beside}", nm, curves(fit)),
        constant(
            "Absorption K, per µm of dry film: what it takes away",
            fit.paint.K_per_um,
            wide[:BANDS],
            "#000000",
        ),
        constant(
            "Scattering S, per µm of dry film: what it sends back, and so hides",
            fit.paint.S_per_um,
            wide[BANDS : 2 * BANDS],
            "#c06000",
            foot,
        ),
    ]


def curves(fit: Fit | MetalFit) -> list[Curve]:
    """Return the spectrum of each swatch, as fitted and, where there is one, as measured."""
    found: list[Curve] = []
    for i in range(min(len(fit.names), _MOST_ROWS)):
        rgb = colour.lab_on_screen(fit.fitted_lab[i], colour.Viewing()).rgb
        # Light colours would vanish on paper.
        rgb = rgb * min(1.0, 0.62 / max(float(rgb @ np.array([0.30, 0.59, 0.11])), 1e-6))
        ink = colour.hex_of(rgb)
        label = "fitted" if i == 0 and fit.measured is not None else ""
        found.append(Curve(fit.fitted[i], label, ink=ink, style="line" if fit.kept[i] else "dashes"))
        if fit.measured is not None:
            found.append(Curve(fit.measured[i], "measured" if i == 0 else "", ink=ink, style="dots"))
    return found


def constant(title: str, values: FloatArray, wide: FloatArray, ink: str, foot: str = "") -> Plot:
    """Return a constant over the wavelengths; `wide` is half of its range, in ln."""
    high = values * np.exp(np.minimum(wide, 50.0))
    band = Curve(values, low=values * np.exp(-wide), high=high, ink=ink)
    top = min(1.08 * float(high.max()), _HIGHEST * float(values.max()))
    return Plot(title, wavelengths_nm(), [band], top=top, foot=foot)
