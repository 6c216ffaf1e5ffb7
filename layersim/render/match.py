"""A match as text and as a picture: the targets, the tones as they stand, and every answer under them."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.decide.answer import Answer
from layersim.decide.artwork import Artwork, Patch
from layersim.decide.correction import Corrections
from layersim.decide.match import Match
from layersim.decide.reach import Reach
from layersim.decide.recipes import unmixed_words
from layersim.decide.words import PLACE_WORDS, SCALE, change_words, light_words, size_words
from layersim.writers.sheet import FAINT, MARGIN, WIDTH, Sheet
from layersim.render.terminal import swatch
from layersim.spectra import FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Inches.
_LABELS: Final = 3.7
_BLOCK: Final = 0.34
_ROW: Final = 0.86
_ORDER: Final = (
    "Ordered by closeness and by how forgiving, number of paints, coats and drops, "
    "likeness under other lights."
)


def match_text(match: Match, reach: Reach | None, *, in_colour: bool) -> str:
    """Return a match as text.

    Parameters
    ----------
    match : Match
    reach : Reach or None
    in_colour : bool

    Returns
    -------
    str
    """
    view, counted = match.scheme.viewing, match.targets.counted
    place = match.place
    what = f'in place of "{place.replaced.name}"' if place.replaced else _after_words(match)
    rows = [f"{place.area.name}, {what}, under {light_words(view.light)}: searched {_space_words(match)}"]
    if unmixed := unmixed_words(match.shelf.paints, paints_at_most=match.limits.paints_at_most):
        rows.append(f"  {unmixed}")
    rows.append(f"  {'targets':<12} " + _blocks(match.targets.lab, counted, view, in_colour))
    now = colour.delta_e_2000(match.before.lab[-1, counted], match.targets.lab[counted])
    rows.append(
        f"  {'as it stands':<12} {_blocks(match.before.lab[-1], counted, view, in_colour)}"
        f"  ΔE00 mean {now.mean():.1f}, worst {now.max():.1f}"
    )
    rows.append(f"  {_ORDER}")
    for number, answer in enumerate(match.answers, start=1):
        rows += ["", *_answer_rows(number, answer, match, in_colour)]
    if reach is not None:
        rows += ["", *reach_rows(reach)]
    return "\n".join(rows)


def _after_words(match: Match) -> str:
    coats = match.place.area.coats
    return f'after "{coats[match.place.at - 1].name}"' if match.place.at else "on the bare pre-shade"


def _space_words(match: Match) -> str:
    paints, most = len(match.shelf.paints), max(match.findings.best)
    return (
        f"{match.findings.tally.recipes:,} recipes of {'1 to ' if most > 1 else ''}{most} of {paints} "
        f"paint{'' if paints == 1 else 's'}"
    )


def _blocks(lab: FloatArray, counted: npt.NDArray[np.bool_], view: colour.Viewing, in_colour: bool) -> str:
    cells = [
        swatch(value, view, f"{value[0]:^5.0f}", in_colour=in_colour) if asked else "  .  "
        for value, asked in zip(lab, counted, strict=True)
    ]
    return "".join(cells)


def _answer_rows(number: int, answer: Answer, match: Match, in_colour: bool) -> list[str]:
    view, counted = match.scheme.viewing, match.targets.counted
    return [
        f"{number:>2}. {answer.coat.words()}" + (f"; and {answer.change}" if answer.change else ""),
        f"    {'':<10} {_blocks(answer.prediction.lab[-1], counted, view, in_colour)}"
        f"  ΔE00 mean {answer.mean:.1f}, worst {answer.worst:.1f} ({size_words(answer.worst)})",
        f"    {'ΔE00':<10} " + _miss_cells(answer.delta_e, counted),
        "    " + _weighed_words(answer, known=match.wanted is not None),
    ]


def _miss_cells(delta_e: FloatArray, counted: npt.NDArray[np.bool_]) -> str:
    each = iter(delta_e)
    return "".join(f"{next(each):^5.1f}" if asked else "  .  " for asked in counted)


def _weighed_words(answer: Answer, *, known: bool) -> str:
    """Return how forgiving an answer is, and how like it stays under other lights."""
    words = []
    if answer.one_drop:
        words.append(f"one drop wrong moves the tones by ΔE00 {answer.one_drop:.1f}")
    words.append(f"one coat more by {answer.one_coat:.1f}")
    words.append(f"another session's film by {answer.film:.1f}")
    name, most = max(answer.lights.items(), key=lambda item: item[1])
    light = light_words(name)
    if known:
        words.append(f"under {light} it parts from the target by {most:.1f}")
    else:
        words.append(f"under {light} its own colour shifts by {most:.1f}")
    return "; ".join(words)


def reach_rows(reach: Reach) -> list[str]:
    """Return what is said of targets out of reach.

    Parameters
    ----------
    reach : Reach

    Returns
    -------
    list of str
    """
    if reach.reached:
        return ["The targets are reached."]
    rows = ["Out of reach over this pre-shade with these paints:"]
    for miss in reach.misses:
        rows.append(
            f"  {PLACE_WORDS.get(miss.place, miss.place)}: ΔE00 {miss.delta_e:.1f} away; from the target to "
            f"the best answer: {miss.direction}."
        )
        rows.append(f"    Why: {miss.why}.")
    if not reach.misses:
        rows.append("  the targets themselves come within sight, but tones between them do not.")
    if reach.remedies:
        rows.append(
            "  What would bring it nearer (half of mean and worst tone together; "
            f"{reach.now:.1f} now with up to two paints):"
        )
        rows += [f"    {remedy.closeness:.1f}  {remedy.what}" for remedy in reach.remedies]
    else:
        rows.append(
            "  Neither one more paint, another pre-shade, a glossier finish, more coats nor one less above "
            "would bring it much nearer."
        )
    return rows


def correction_text(found: Corrections, view: colour.Viewing, *, in_colour: bool) -> str:
    """Return a correction as text.

    Parameters
    ----------
    found : Corrections
    view : Viewing
    in_colour : bool

    Returns
    -------
    str
    """
    counted = found.targets.counted
    source = "the scheme's own predicted finish" if found.from_prediction else "the area's targets"
    rows = [
        f"What came out, against {source}:",
        f"  {'wanted':<10} {_blocks(found.targets.lab, counted, view, in_colour)}",
        f"  {'came out':<10} {_blocks(found.found, counted, view, in_colour)}"
        f"  ΔE00 mean {found.delta_e.mean():.1f}, worst {found.delta_e.max():.1f}",
    ]
    tones = np.flatnonzero(counted)
    middle = tones[len(tones) // 2]
    rows.append(f"  In words: {change_words(found.targets.lab[middle], found.found[middle])}.")
    if found.unmixed:
        rows.append(f"  {found.unmixed}")
    if found.smallest is None:
        rows += [
            "",
            "Leave it: no thin coat of these paints would bring it nearer by an amount worth spraying.",
        ]
        return "\n".join(rows)
    best = found.smallest
    rows += [
        "",
        f"Smallest correction: {best.coat.words()}",
        f"  {'then':<10} {_blocks(best.lab, counted, view, in_colour)}"
        f"  ΔE00 mean {best.delta_e.mean():.1f}, worst {best.delta_e.max():.1f}",
    ]
    for other in found.others:
        rows.append(
            f"  or: {other.coat.words()}: "
            f"ΔE00 mean {other.delta_e.mean():.1f}, worst {other.delta_e.max():.1f}"
        )
    rows.append("Try it on a spare first: the spectrum of what came out is estimated from its colour.")
    return "\n".join(rows)


def match_figure(match: Match, reach: Reach | None) -> Figure:
    """Return a match as a figure: targets on top, then each answer with its targets touching it.

    Parameters
    ----------
    match : Match
    reach : Reach or None

    Returns
    -------
    matplotlib.figure.Figure
    """
    unmixed = unmixed_words(match.shelf.paints, paints_at_most=match.limits.paints_at_most)
    rows = [*([unmixed] if unmixed else []), *([] if reach is None else reach_rows(reach))]
    notes = [p for row in rows for p in textwrap.wrap(row, 168, subsequent_indent="      ")]
    head = 1.75
    height = head + _ROW * len(match.answers) + 0.15 * len(notes) + 0.90
    view, counted = match.scheme.viewing, match.targets.counted
    sheet = Sheet(WIDTH, height, view)
    place = match.place
    what = f'in place of "{place.replaced.name}"' if place.replaced else _after_words(match)
    sheet.text(MARGIN, 0.42, f"{place.area.name}: {what}", size=14, weight="bold")
    sheet.text(
        MARGIN, 0.68,
        f"Matched under {light_words(view.light)}, {view.observer}° observer. Predicted, not measured. "
        f"Searched {_space_words(match)}.",
        size=8, ink=FAINT,
    )  # fmt: skip
    left = MARGIN + _LABELS
    width = (WIDTH - MARGIN - left - 1.35) / len(counted)
    sheet.text(left, 0.92, "◀ deepest shadow", size=7)
    sheet.text(left + width * len(counted), 0.92, "full highlight ▶", size=7, align="right")
    _row(sheet, match.targets.lab, counted, left, 1.02, width, _BLOCK)
    _row(sheet, match.before.lab[-1], counted, left, 1.02 + _BLOCK, width, _BLOCK)
    sheet.text(left - 0.1, 1.19, "targets", size=8, align="right")
    sheet.text(left - 0.1, 1.19 + _BLOCK, "as it stands", size=8, align="right")
    for number, answer in enumerate(match.answers, start=1):
        top = head + _ROW * (number - 1)
        sheet.line(MARGIN, WIDTH - MARGIN, top)
        words = textwrap.wrap(answer.coat.words() + (f"; and {answer.change}" if answer.change else ""), 56)
        sheet.text(MARGIN, top + 0.15, f"{number}", size=12, weight="bold")
        for i, line in enumerate(words[:3]):
            sheet.text(MARGIN + 0.25, top + 0.15 + 0.15 * i, line, size=7.5)
        under = textwrap.wrap(_weighed_words(answer, known=match.wanted is not None), 74)
        for i, line in enumerate(under[:3]):
            sheet.text(MARGIN + 0.25, top + 0.57 + 0.115 * i, line, size=6, ink=FAINT)
        # The target touches the answer, so that the eye judges the difference.
        _row(sheet, match.targets.lab, counted, left, top + 0.06, width, _BLOCK, plain=True)
        _row(sheet, answer.prediction.lab[-1], counted, left, top + 0.06 + _BLOCK, width, _BLOCK)
        each = iter(answer.delta_e)
        for tone, asked in enumerate(counted):
            if asked:
                sheet.text(
                    left + width * (tone + 0.5), top + 0.80, f"{next(each):.1f}", size=6.5, align="center"
                )
        right = left + width * len(counted) + 0.12
        sheet.text(right, top + 0.22, f"mean ΔE00 {answer.mean:.1f}", size=8)
        sheet.text(right, top + 0.40, f"worst {answer.worst:.1f}", size=8)
    y = head + _ROW * len(match.answers) + 0.1
    sheet.line(MARGIN, WIDTH - MARGIN, y)
    sheet.text(
        MARGIN, y + 0.16,
        f"In each pair the upper half is the target, the lower the answer; below it ΔE00: {SCALE}.",
        size=6.8, ink=FAINT,
    )  # fmt: skip
    sheet.text(MARGIN, y + 0.31, _ORDER, size=6.8, ink=FAINT)
    for i, line in enumerate(notes):
        sheet.text(MARGIN, y + 0.49 + 0.15 * i, line, size=6.8, ink=FAINT)
    return sheet.finish()


def _row(
    sheet: Sheet,
    lab: FloatArray,
    counted: npt.NDArray[np.bool_],
    left: float,
    top: float,
    width: float,
    height: float,
    *,
    plain: bool = False,
) -> None:
    for tone, (value, asked) in enumerate(zip(lab, counted, strict=True)):
        if asked:
            words = "" if plain or width < 0.25 else f"{value[0]:.0f}"
            sheet.tone(left + width * tone, top, width, height, value, words)


def artwork_figure(artwork: Artwork, colours: tuple[Patch, ...], chosen: Mapping[str, Patch]) -> Figure:
    """Return where a picture's colours come from: the picture with numbers, and its colours beside it.

    Parameters
    ----------
    artwork : Artwork
    colours : tuple of Patch
        Main colours; may be empty.
    chosen : mapping of str to Patch
        Targets proposed or pointed at.

    Returns
    -------
    matplotlib.figure.Figure
    """
    tall, wide = artwork.solid.shape
    shown_width = 6.0 if wide >= tall else 6.0 * wide / tall
    shown_height = shown_width * tall / wide
    rows = max(len(colours) + len(chosen) + 2, 5)
    height = max(shown_height + 1.0, 0.9 + 0.42 * rows)
    sheet = Sheet(shown_width + 4.4, height + 0.35, colour.Viewing())
    sheet.text(0.3, 0.35, f"Colours of {artwork.path.name}", size=13, weight="bold")
    figure = sheet.finish()
    total = sheet.width, sheet.height
    axes = figure.add_axes(
        (
            0.3 / total[0],
            1.0 - (0.6 + shown_height) / total[1],
            shown_width / total[0],
            shown_height / total[1],
        )
    )
    axes.imshow(np.where(artwork.solid[..., np.newaxis], colour.encode_srgb(artwork.linear), 1.0))
    axes.set_axis_off()
    x = shown_width + 0.6
    y = 0.75
    white = colour.Viewing().white

    def entry(mark: str, patch: Patch, words: str) -> None:
        nonlocal y
        rgb = colour.on_screen(colour.xyz_from_lab(patch.lab, white), white).rgb
        figure.patches.append(
            _box(figure, x / total[0], 1.0 - (y + 0.32) / total[1], 0.6 / total[0], 0.32 / total[1], rgb)
        )
        values = f"{colour.hex_of(rgb)}  L* {patch.lab[0]:.0f}  a* {patch.lab[1]:.0f}  b* {patch.lab[2]:.0f}"
        for line, at, size in ((f"{mark}  {words}".strip(), 0.09, 8), (values, 0.25, 7)):
            figure.text((x + 0.7) / total[0], 1.0 - (y + at) / total[1], line, fontsize=size, va="center")
        y += 0.42

    for patch in colours:
        entry(patch.name, patch, f"{100 * patch.share:.0f} % of the picture")
        _mark(axes, patch, patch.name, wide, tall)
    if colours and chosen:
        y += 0.15
    for name, patch in chosen.items():
        entry(name, patch, "target")
        if not colours or patch.name not in {one.name for one in colours}:
            _mark(axes, patch, name, wide, tall)
        else:
            figure.text(
                (x + 2.1) / total[0],
                1.0 - (y - 0.33) / total[1],
                f"(colour {patch.name})",
                fontsize=7,
                va="center",
            )
    figure.text(
        0.3 / total[0], 0.18 / total[1],
        "Printed art and screens are not measured colours: a direction, not a standard.",
        fontsize=7, color=FAINT, va="center",
    )  # fmt: skip
    return figure


def _box(figure: Figure, x: float, y: float, width: float, height: float, rgb: FloatArray) -> Any:
    from matplotlib.patches import Rectangle

    return Rectangle(
        (x, y), width, height, transform=figure.transFigure, facecolor=tuple(rgb), edgecolor="none"
    )


def _mark(axes: Any, patch: Patch, name: str, wide: int, tall: int) -> None:
    axes.annotate(
        name,
        (patch.at[0] * wide, patch.at[1] * tall),
        ha="center",
        va="center",
        fontsize=7.5,
        color="black",
        bbox={
            "boxstyle": "circle,pad=0.25" if len(name) < 3 else "round,pad=0.2",
            "fc": "white",
            "ec": "black",
            "lw": 0.8,
        },
    )
