"""A fit in words for a terminal, as a painter would read it."""

from __future__ import annotations

from typing import Final

from layersim import colour
from layersim.fitting.result import Fit
from layersim.render.terminal import swatch

_GRADE_WORDS: Final = {
    "good": "Good enough to plan with",
    "usable": "Usable, but not yet good",
    "doubtful": "Doubtful: do not plan with it yet",
}


def fit_text(fit: Fit, *, in_colour: bool) -> str:
    """Return a fit as a table of swatches with its verdict.

    Parameters
    ----------
    fit : Fit
    in_colour : bool

    Returns
    -------
    str
    """
    view = colour.Viewing()
    wide = max(len(name) for name in fit.names)
    what = "swatch" if fit.measured is not None else "patch of a photograph"
    count = f"{len(fit.names)} {what}" if len(fit.names) == 1 else _many(len(fit.names), what)
    rows = [
        f"{fit.paint.name}: fitted to {count}",
        f"  {'':<{wide}}  {'measured' if fit.measured is not None else 'photo   '} fitted  ΔE00",
    ]
    for i, name in enumerate(fit.names):
        blocks = " ".join(
            swatch(lab, view, f"  L* {lab[0]:<3.0f}", in_colour=in_colour)
            for lab in (fit.measured_lab[i], fit.fitted_lab[i])
        )
        tail = "" if fit.kept[i] else "   left out"
        rows.append(f"  {name:<{wide}}  {blocks} {fit.delta_e[i]:5.1f}{tail}")
    rows.append("")
    rows += [f"Left out: {outlier.words()}." for outlier in fit.outliers]
    rows.append(f"{grade_words(fit)}: {fit.verdict.words}.")
    rows.append(
        "That goes for half a coat to four, thinned as the swatches were; see layersim paint for unthinned."
    )
    rows.append(advice(fit))
    rows += [f"Note: {notice}." for notice in fit.notices]
    return "\n".join(rows)


def grade_words(fit: Fit) -> str:
    """Return whether a fit is good enough, in a few words.

    Parameters
    ----------
    fit : Fit

    Returns
    -------
    str
    """
    return _GRADE_WORDS[fit.verdict.grade]


def advice(fit: Fit) -> str:
    """Return what would narrow the range most, as sentences.

    Parameters
    ----------
    fit : Fit

    Returns
    -------
    str
    """
    if fit.suggestion is None:
        swatch = "No single further swatch would narrow it much."
    else:
        swatch = (
            f"One more swatch would help most: {fit.suggestion.words}. It should bring ΔE00 "
            f"{fit.verdict.reach:.1f} down to {fit.suggestion.reach:.1f}."
        )
    return " ".join(part for part in (fit.remedy, swatch) if part)


def _many(count: int, what: str) -> str:
    first, *rest = what.split(" ", 1)
    return " ".join([str(count), f"{first}es", *rest])
