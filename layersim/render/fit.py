"""A fit as a picture: swatches beside what the paint makes of them, spectra, K and S with their band."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from layersim import colour
from layersim.fitting.doubts import NINETY
from layersim.fitting.result import Fit
from layersim.render.strip import Sheet
from layersim.spectra import BANDS, FloatArray, wavelengths_nm

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_FAINT: Final = "#666666"
_WIDTH: Final = 11.0
_ROW: Final = 0.38
_TOP: Final = 1.05
_LEAST_ROWS: Final = 12
_MOST_ROWS: Final = 40


def fit_figure(fit: Fit) -> Figure:
    """Return a fit as a figure.

    Left, one row a swatch: its colour as measured and as fitted, and ΔE00 between the two. Right: the
    spectra, and K and S with the range that holds 90 % of what the swatches allow.

    Parameters
    ----------
    fit : Fit

    Returns
    -------
    matplotlib.figure.Figure
    """
    foot = _foot(fit)
    shown = min(len(fit.names), _MOST_ROWS)
    rows = max(_LEAST_ROWS, shown)
    height = _TOP + _ROW * rows + 0.35 + 0.16 * len(foot)
    sheet = Sheet(_WIDTH, height, colour.Viewing())
    sheet.text(0.3, 0.36, f"{fit.paint.name}: fitted to swatches", size=15, weight="bold")
    source = "invented, measured by nobody; " if fit.paint.invented else ""
    sheet.text(0.3, 0.66, source + _shortened(fit.paint.provenance, 150), size=7.5, ink=_FAINT)
    for x, words in ((0.3, "swatch"), (2.72, "measured"), (3.42, "fitted"), (4.22, "ΔE00")):
        sheet.text(x, _TOP - 0.10, words, size=7, ink=_FAINT)
    for i, name in enumerate(fit.names[:shown]):
        y = _TOP + _ROW * i
        ink = "#222222" if fit.kept[i] else "#b00000"
        sheet.text(0.3, y + 0.16, _shortened(name, 42), size=7.5, ink=ink)
        for x, lab in ((2.72, fit.measured_lab[i]), (3.42, fit.fitted_lab[i])):
            sheet.tone(x, y, 0.70, _ROW - 0.05, lab, f"{lab[0]:.0f}")
        words = f"{fit.delta_e[i]:.1f}" + ("" if fit.kept[i] else "  left out")
        sheet.text(4.22, y + 0.16, words, size=7.5, ink=ink)
    if shown < len(fit.names):
        sheet.text(0.3, _TOP + _ROW * shown + 0.05, f"... and {len(fit.names) - shown} more", size=7)
    for row, line in enumerate(foot):
        sheet.text(0.3, height - 0.16 * (len(foot) - row) - 0.05, line, size=7, ink=_FAINT)
    figure = sheet.finish()
    low = (0.35 + 0.16 * len(foot) + 0.25) / height
    span = 1.0 - low - 0.95 / height
    _spectra(figure.add_axes((0.54, low + 0.55 * span, 0.43, 0.43 * span)), fit)
    _constants(figure.add_axes((0.54, low, 0.43, 0.43 * span)), fit)
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
    axes.set_ylabel("reflectance", fontsize=7)
    axes.set_ylim(0.0, None)
    _dress(axes, nm)


def _constants(axes: Axes, fit: Fit) -> None:
    nm = wavelengths_nm()
    spread = NINETY * np.sqrt(np.diag(fit.covariance))
    pairs = (
        ("absorption K", fit.paint.K_per_um, spread[:BANDS], "-", "black"),
        ("scattering S", fit.paint.S_per_um, spread[BANDS:], "--", "tab:orange"),
    )
    for label, values, wide, style, ink in pairs:
        axes.plot(nm, values, style, color=ink, linewidth=1.3, label=label)
        axes.fill_between(
            nm, values * np.exp(-wide), values * np.exp(wide), color=ink, alpha=0.18, linewidth=0
        )
    axes.set_yscale("log")
    highest = float(max(fit.paint.K_per_um.max(), fit.paint.S_per_um.max()))
    lowest = float(min(fit.paint.K_per_um.min(), fit.paint.S_per_um.min()))
    axes.set_ylim(max(0.5 * lowest, 1e-5 * highest), 3.0 * highest)
    axes.set_ylabel("per µm of dry film", fontsize=7)
    axes.set_xlabel("wavelength, nm; shaded: 90 % range", fontsize=7)
    _dress(axes, nm)


def _dress(axes: Axes, nm: FloatArray) -> None:
    axes.set_xlim(nm[0], nm[-1])
    axes.tick_params(labelsize=6.5)
    axes.legend(fontsize=6.5, frameon=False)
    axes.spines[["top", "right"]].set_visible(False)


def _foot(fit: Fit) -> list[str]:
    lines = [f"{fit.verdict.grade.capitalize()}: {fit.verdict.words}."]
    if fit.suggestion is not None:
        lines.append(
            f"One more swatch that would help most: {fit.suggestion.words} (ΔE00 {fit.verdict.reach:.1f} → "
            f"{fit.suggestion.reach:.1f})."
        )
    lines += [f"Left out: {outlier.words()}." for outlier in fit.outliers]
    lines += [f"Note: {notice}." for notice in fit.notices]
    return [piece for line in lines for piece in textwrap.wrap(line, 165)]


def _shortened(words: str, most: int) -> str:
    return words if len(words) <= most else words[: most - 1] + "…"
