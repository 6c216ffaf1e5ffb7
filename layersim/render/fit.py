"""A fit as a picture: swatches beside what the paint makes of them, and how surely coats of it are known."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from layersim import colour
from layersim.decide.words import SCALE
from layersim.estimate import NINETY
from layersim.fitting.doubts import TYPICAL_COATS, TYPICAL_GROUNDS, Typical, typical_stacks
from layersim.fitting.result import Fit
from layersim.fitting.two_constant import predict
from layersim.optics import cones
from layersim.paint import film_words
from layersim.render.fitwords import advice, grade_words
from layersim.render.sheet import FAINT, MARGIN, WIDTH, Sheet
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_BAD: Final = "#b00000"
_ROW: Final = 0.36
_BLOCKS_AT: Final = 2.35
_BLOCK: Final = 0.95
_MOST_ROWS: Final = 40
# Typical coats: a row for each tone, a column for each number of coats.
_TONE_ROW: Final = 0.58
_TONE: Final = 0.40
_TONE_WIDTH: Final = 0.72
_TONES_AT: Final = 1.75
_TONE_WORDS: Final = ("over a dark tone", "over a middle tone", "over a light tone")
_PLOTS_AT: Final = 5.95
_PLOTS_WIDTH: Final = WIDTH - _PLOTS_AT - MARGIN
_LEAST_PLOT: Final = 1.15
# Where on the axis of wavelengths each colour of light is named, nm (customary, from memory).
_LIGHTS: Final = {
    "violet": 420.0,
    "blue": 470.0,
    "green": 530.0,
    "yellow": 579.0,
    "orange": 607.0,
    "red": 660.0,
}
# A band that leaves the sky open must not press the curve itself to the floor.
_HIGHEST: Final = 2.5
_LINE: Final = 0.16


def fit_figure(fit: Fit, *, coat_um: float | None = None) -> Figure:
    """Return a fit as a figure.

    At the top the verdict. Left, one row a swatch, its colour as it was and as the fitted paint gives it,
    touching each other, and ΔE00 between the two; below that, typical coats with the range that holds nine
    of ten outcomes. Right, the spectra, and K and S with their range.

    Parameters
    ----------
    fit : Fit
    coat_um : float, optional, µm
        Dry film of one typical coat; an unthinned one by default.

    Returns
    -------
    matplotlib.figure.Figure
    """
    coat_um = fit.paint.dry_film_um if coat_um is None else coat_um
    head, foot = _head(fit), _foot(fit)
    shown = min(len(fit.names), _MOST_ROWS)
    top = 0.92 + _LINE * len(head) + 0.18
    tones_at = top + 0.40 + _ROW * shown + (0.2 if shown < len(fit.names) else 0.0) + 0.25
    bottom = tones_at + 0.62 + _TONE_ROW * len(TYPICAL_GROUNDS)
    bottom = max(bottom, top + 3 * (_LEAST_PLOT + 0.55))
    sheet = Sheet(WIDTH, bottom + 0.2 + _LINE * len(foot) + 0.1, colour.Viewing())
    sheet.text(MARGIN, 0.36, fit.paint.name, size=15, weight="bold")
    sheet.text(MARGIN, 0.68, f"{grade_words(fit)}.", size=11, weight="bold")
    for row, line in enumerate(head):
        sheet.text(MARGIN, 0.92 + _LINE * row, line)
    _draw_swatches(sheet, fit, shown, top)
    _draw_tones(
        sheet,
        fit,
        typical_stacks(*_logs(fit), coat_um=coat_um, sheen=fit.paint.share_seen),
        coat_um,
        tones_at,
    )
    sheet.line(MARGIN, WIDTH - MARGIN, bottom + 0.12)
    for row, line in enumerate(foot):
        sheet.text(MARGIN, bottom + 0.26 + _LINE * row, line, size=6.8, ink=FAINT)
    _draw_plots(sheet, fit, top, bottom)
    return _finished(sheet, fit, top, bottom)


def _head(fit: Fit) -> list[str]:
    lines = [f"{_first_up(fit.verdict.words)}.", advice(fit)]
    lines += [f"Left out: {outlier.words()}." for outlier in fit.outliers]
    return [piece for line in lines for piece in textwrap.wrap(line, 150)]


def _first_up(words: str) -> str:
    return words[:1].upper() + words[1:]


def _logs(fit: Fit) -> tuple[FloatArray, FloatArray]:
    return np.log(fit.paint.K_per_um), np.log(fit.paint.S_per_um)


# --- left ------------------------------------------------------------------------------------------


def _draw_swatches(sheet: Sheet, fit: Fit, shown: int, top: float) -> None:
    seen = "photographed" if fit.measured is None else "measured"
    sheet.text(MARGIN, top, "Your swatches, and what this paint gives there", size=8.5, weight="bold")
    heads = ((_BLOCKS_AT + _BLOCK / 2, seen), (_BLOCKS_AT + 1.5 * _BLOCK, "fitted"))
    for x, words in heads:
        sheet.text(x, top + 0.24, words, size=7, ink=FAINT, align="center")
    sheet.text(_BLOCKS_AT + 2 * _BLOCK + 0.12, top + 0.24, "ΔE00", size=7, ink=FAINT)
    for i, name in enumerate(fit.names[:shown]):
        y = top + 0.36 + _ROW * i
        ink = "#222222" if fit.kept[i] else _BAD
        sheet.text(MARGIN, y + 0.155, _shortened(name, 34), size=7.5, ink=ink)
        for x, lab in ((_BLOCKS_AT, fit.measured_lab[i]), (_BLOCKS_AT + _BLOCK, fit.fitted_lab[i])):
            sheet.tone(x, y, _BLOCK, _ROW - 0.05, lab, f"{lab[0]:.0f}")
        words = f"{fit.delta_e[i]:.1f}" + ("" if fit.kept[i] else "  left out")
        sheet.text(_BLOCKS_AT + 2 * _BLOCK + 0.12, y + 0.155, words, size=7.5, ink=ink)
    if shown < len(fit.names):
        y = top + 0.36 + _ROW * shown
        sheet.text(MARGIN, y + 0.1, f"... and {len(fit.names) - shown} more", size=7)


def _draw_tones(sheet: Sheet, fit: Fit, typical: Typical, coat_um: float, top: float) -> None:
    unknowns = np.concatenate([*_logs(fit), np.zeros(len(typical.films.names))])
    seen = predict(typical.films, unknowns) + fit.paint.share_seen * cones.directions().k1
    labs = colour.lab(seen, sheet.viewing)
    spread = NINETY * typical.spread(fit.covariance)
    words = "How surely coats of it are known: each lies within ± ΔE00, nine times in ten"
    sheet.text(MARGIN, top, words, size=8.5, weight="bold")
    for column, coats in enumerate(TYPICAL_COATS):
        x = _TONES_AT + _TONE_WIDTH * (column + 0.5)
        what = "half a coat" if coats == 0.5 else f"{coats:g} coat{'' if coats == 1 else 's'}"
        sheet.text(x, top + 0.22, what, size=7, ink=FAINT, align="center")
        sheet.text(x, top + 0.35, film_words(coats * coat_um), size=6, ink=FAINT, align="center")
    for i, lab in enumerate(labs):
        row, column = divmod(i, len(TYPICAL_COATS))
        x, y = _TONES_AT + _TONE_WIDTH * column, top + 0.46 + _TONE_ROW * row
        if column == 0:
            sheet.text(MARGIN, y + _TONE / 2, _TONE_WORDS[row], size=7.5)
        reach = float(np.hypot.reduce(spread[i]))
        sheet.tone(x, y, _TONE_WIDTH, _TONE, lab, f"{lab[0]:.0f}", f"± {reach:.1f}")
        # Lightness runs through its range; hue and chroma stay what they are.
        ends = lab + np.array([[-1.0], [0.0], [1.0]]) * np.array([spread[i, 0], 0.0, 0.0])
        third = (_TONE_WIDTH - 0.06) / 3
        for part, fill in enumerate(sheet.screen(np.clip(ends, [0.0, -200, -200], [100, 200, 200])).rgb):
            sheet.block(x + 0.03 + third * part, y + _TONE + 0.03, third + 0.006, 0.09, fill.tolist())


# --- right -----------------------------------------------------------------------------------------


def _plots(top: float, bottom: float) -> list[tuple[float, float]]:
    """Return where each of the three plots begins and how high it is, inches."""
    each = (bottom - top) / 3.0
    return [(top + each * i + 0.20, each - 0.58) for i in range(3)]


def _draw_plots(sheet: Sheet, fit: Fit, top: float, bottom: float) -> None:
    """Write what each plot shows above it."""
    beside = ", and as measured" if fit.measured is not None else ""
    titles = (
        f"Reflectance of each swatch, as fitted{beside}",
        "Absorption K, per µm of dry film: what it takes away",
        "Scattering S, per µm of dry film: what it sends back, and so hides",
    )
    for (y, _), words in zip(_plots(top, bottom), titles, strict=True):
        sheet.text(_PLOTS_AT, y - 0.20, words, size=8.5, weight="bold")
    nm = wavelengths_nm()
    y, high = _plots(top, bottom)[-1]
    for light, at in _LIGHTS.items():
        x = _PLOTS_AT + _PLOTS_WIDTH * (at - nm[0]) / (nm[-1] - nm[0])
        sheet.text(x, y + high + 0.25, light, size=6.5, ink=FAINT, align="center")
    words = "colour of the light, and wavelength in nm; shaded: holds the truth nine times in ten"
    sheet.text(_PLOTS_AT + _PLOTS_WIDTH / 2, y + high + 0.39, words, size=6.5, ink=FAINT, align="center")


def _finished(sheet: Sheet, fit: Fit, top: float, bottom: float) -> Figure:
    figure = sheet.finish()
    boxes = [
        (_PLOTS_AT / WIDTH, 1.0 - (y + high) / sheet.height, _PLOTS_WIDTH / WIDTH, high / sheet.height)
        for y, high in _plots(top, bottom)
    ]
    spectra, absorption, scattering = (figure.add_axes(box) for box in boxes)
    _spectra(spectra, fit)
    wide = NINETY * np.sqrt(np.diag(fit.covariance))
    _constant(absorption, fit.paint.K_per_um, wide[:BANDS], "black")
    _constant(scattering, fit.paint.S_per_um, wide[BANDS : 2 * BANDS], "tab:orange")
    return figure


def _spectra(axes: Axes, fit: Fit) -> None:
    nm = wavelengths_nm()
    view = colour.Viewing()
    for i in range(min(len(fit.names), _MOST_ROWS)):
        ink = colour.on_screen(colour.xyz_from_lab(fit.fitted_lab[i], view.white), view.white).rgb
        # Light colours would vanish on paper.
        ink = ink * min(1.0, 0.62 / max(float(ink @ np.array([0.30, 0.59, 0.11])), 1e-6))
        style = "-" if fit.kept[i] else ":"
        axes.plot(nm, fit.fitted[i], style, color=ink, linewidth=1.3, label="fitted" if i == 0 else None)
        if fit.measured is not None:
            mark = "o" if fit.kept[i] else "x"
            label = "measured" if i == 0 else None
            axes.plot(nm, fit.measured[i], mark, color=ink, markersize=2.6, label=label)
    axes.set_ylim(0.0, None)
    if fit.measured is not None:
        axes.legend(fontsize=6.5, frameon=False)
    _dress(axes, nm)


def _constant(axes: Axes, values: FloatArray, wide: FloatArray, ink: str) -> None:
    nm = wavelengths_nm()
    high = values * np.exp(np.minimum(wide, 50.0))
    axes.plot(nm, values, "-", color=ink, linewidth=1.3)
    axes.fill_between(nm, values * np.exp(-wide), high, color=ink, alpha=0.18, linewidth=0)
    largest = float(values.max())
    axes.set_ylim(0.0, min(1.08 * float(high.max()), _HIGHEST * largest))
    _dress(axes, nm)


def _dress(axes: Axes, nm: FloatArray) -> None:
    axes.set_xlim(nm[0], nm[-1])
    axes.tick_params(labelsize=6.5)
    axes.spines[["top", "right"]].set_visible(False)


# --- foot ------------------------------------------------------------------------------------------


def _foot(fit: Fit) -> list[str]:
    source = "Invented, measured by nobody; " if fit.paint.invented else "From: "
    lines = [
        f"{source}{fit.paint.provenance}.",
        "Numbers on blocks: lightness L* (D65, 2°). The bar under a block runs through its range, darkest to "
        f"lightest. ΔE00: {SCALE}. A dog-ear marks a colour outside what screens can show.",
    ]
    lines += [f"Note: {notice}." for notice in fit.notices]
    return [piece for line in lines for piece in textwrap.wrap(line, 178)]


def _shortened(words: str, most: int) -> str:
    return words if len(words) <= most else words[: most - 1] + "…"
