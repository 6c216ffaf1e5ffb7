"""Recipes that come nearest to the targets, what cannot be reached, and why."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from layersim import colour
from layersim.decide.answer import Answer
from layersim.decide.eye import DISTURBS, SEEN
from layersim.decide.match import Match
from layersim.decide.reach import MORE_COATS, Miss, Reach, Remedy
from layersim.decide.targets import PLACE_WORDS, ToneTargets
from layersim.errors import quoted
from layersim.paint import Paint, mixable
from layersim.scheme.records import GreysGiven, Preshade
from layersim.spectra import FloatArray
from layersim.views.parts import Cell, Heading, Part, Row, Strips, Tone, View, Words
from layersim.views.preview import ENDS, lightness_words
from layersim.views.tolerance import chance_words
from layersim.views.words import SCALE, change_words, hue_words, joined, light_words, size_words

# Names given as examples of many.
_FEW: Final = 3
_ORDER = (
    "Ordered by the chance that they look right on the batch, and by closeness, their number of paints, "
    "coats and drops, and how alike they stay under other lights."
)


def view(match: Match, reach: Reach | None = None, notices: Sequence[str] = ()) -> View:
    """Return the page of a match."""
    place, viewing = match.place, match.scheme.viewing
    what = f'in place of "{place.replaced.name}"' if place.replaced else _after(match)
    parts = head_parts(match)
    for number, answer in enumerate(match.answers, start=1):
        parts += answer_parts(number, answer, match)
    parts += foot_parts(match, reach)
    return View(
        title=f"{place.area.name}: {what}",
        aside=f"Matched under {light_words(viewing.light)}, {viewing.observer}° observer. Searched "
        f"{_space(match)}. "
        "Predicted, not measured.",
        parts=parts,
        notices=[*match.scheme.notices, *notices],
        viewing=viewing,
    )


def head_parts(match: Match) -> list[Part]:
    """Return what stands before the answers: the targets, and what is there now."""
    counted = match.targets.counted
    now = colour.delta_e_2000(match.before.lab[-1, counted], match.targets.lab[counted])
    wanted = Row("targets", blocks(match.targets.lab, counted), judged=True)
    stands = Row(
        "as it stands",
        blocks(match.before.lab[-1], counted),
        f"ΔE00 mean {now.mean():.1f}, worst {now.max():.1f}",
        judged=True,
    )
    parts: list[Part] = [Strips([wanted, stands], ends=ENDS)]
    if unmixed := unmixed_words(match.shelf.paints, paints_at_most=match.limits.paints_at_most):
        parts.append(Words([unmixed]))
    return parts


def foot_parts(match: Match, reach: Reach | None) -> list[Part]:
    """Return what stands behind the answers: what is within reach, and how they are ordered."""
    parts: list[Part] = [] if reach is None else [Heading("Within reach"), *reach_parts(reach)]
    return [*parts, Words([_ORDER, _right_words(match), f"ΔE00: {SCALE}."], kind="faint")]


def search_words(took_s: float, *, skipped: int, quicker: str, every: str) -> str:
    """Return how long a search took, and whether it can have missed anything.

    `quicker` is a sentence on a faster way, `every` says how all recipes are tried.
    """
    if skipped:
        return (
            f"Searched in {took_s:.1f} s. {skipped:,} recipes of three paints were left out, and a better "
            f"one may be among them: {every}."
        )
    return (
        f"Searched in {took_s:.1f} s: every recipe within these limits, and the closest is among the "
        f"answers.{quicker}"
    )


def blocks(lab: FloatArray, counted: npt.NDArray[np.bool_]) -> list[Cell]:
    """Return blocks of the tones that are asked for, and empty places for the others."""
    return [
        Tone(one, lightness_words(one[0])) if asked else "" for one, asked in zip(lab, counted, strict=True)
    ]


def _after(match: Match) -> str:
    coats = match.place.area.coats
    return f'after "{coats[match.place.at - 1].name}"' if match.place.at else "on the bare preshade"


def _none_is_right(match: Match) -> bool:
    return match.within > DISTURBS + SEEN


def _right_words(match: Match) -> str:
    begins = "An answer looks right"
    if _none_is_right(match):
        begins = "No answer looks right. Nobody tells one from the closest"
    beyond = ", which nobody tells from the closest" if DISTURBS < match.within <= DISTURBS + SEEN else ""
    return (
        f"{begins} where its mean and its worst tone, half of each, are within ΔE00 {match.within:.1f} of "
        f"the targets{beyond}; hand, bottles, film model and targets ({doubt_words(match.targets)}) are in "
        "doubt."
    )


def doubt_words(targets: ToneTargets) -> str:
    """Return by how much targets may be off: "± 3 in L*, a* and b*, nine times in ten"."""
    doubts = np.broadcast_to(targets.doubt, len(targets.lab))[list(targets.given.values())]
    low, high = (f"{value:.2g}" for value in (doubts.min(), doubts.max()))
    return f"± {low if low == high else f'{low} to {high}'} in L*, a* and b*, nine times in ten"


def _space(match: Match) -> str:
    paints, most = len(match.shelf.paints), max(match.findings.best)
    return (
        f"{match.findings.tally.recipes:,} recipes of {'1 to ' if most > 1 else ''}{most} of {paints} "
        f"paint{'' if paints == 1 else 's'}"
    )


def answer_parts(number: int, answer: Answer, match: Match) -> list[Part]:
    """Return one answer beside the targets."""
    counted = match.targets.counted
    each = iter(answer.delta_e)
    rows = [
        # The target touches the answer, so that the eye judges the difference.
        Row("target", blocks(match.targets.lab, counted), judged=True),
        Row(
            "answer",
            blocks(answer.prediction.lab[-1], counted),
            f"ΔE00 mean {answer.mean:.1f}, worst {answer.worst:.1f} ({size_words(answer.worst)})",
            judged=True,
        ),
        Row("ΔE00", [f"{next(each):.1f}" if asked else "" for asked in counted]),
    ]
    recipe = "; and ".join([f"{number}.  {answer.coat.words()}", *_change_words(answer)])
    return [
        Words([recipe], kind="strong"),
        Strips(rows),
        Words([_weighed(answer, match)], kind="faint"),
    ]


def _weighed(answer: Answer, match: Match) -> str:
    """Return how forgiving an answer is, and how like it stays under other lights."""
    right = "it looks right on the batch"
    if _none_is_right(match):
        right = "nobody tells it from the closest on the batch"
    said = [f"chance that {right}: {chance_words(answer.chance)}"]
    said += [f"one drop wrong moves the tones by ΔE00 {answer.one_drop:.1f}"] if answer.one_drop else []
    said += [f"one coat more by {answer.one_coat:.1f}", f"another session's film by {answer.film:.1f}"]
    name, most = max(answer.lights.items(), key=lambda item: item[1])
    does = "it parts from the target" if match.wanted is not None else "its own colour shifts"
    words = "; ".join([*said, f"under {light_words(name)} {does} by {most:.1f}"])
    return f"{words[0].upper()}{words[1:]}."


def reach_parts(reach: Reach) -> list[Part]:
    """Return what is said of targets out of reach, and of what would bring them nearer."""
    if reach.reached:
        near = (
            f": the worst tone is ΔE00 {reach.in_doubt:.1f} away, and they may be off by as much themselves"
            if reach.in_doubt
            else ""
        )
        return [Words([f"The targets are reached{near}."])]
    lines = [
        f"{PLACE_WORDS.get(miss.place, miss.place)}: ΔE00 {miss.delta_e:.1f} away; from the target to the "
        f"best answer: {change_words(miss.target, miss.lab)}. Why: {why_words(miss)}."
        for miss in reach.misses
    ]
    parts: list[Part] = [Words(["Out of reach over this preshade with these paints:"], kind="strong")]
    parts.append(
        Words(lines or ["The targets themselves come near, but tones between them do not."], kind="list")
    )
    if reach.remedies:
        title = (
            f"What would bring it nearer (half of mean and worst tone together; {reach.now:.1f} now "
            "with up to two paints):"
        )
        listed = [f"{remedy.closeness:.1f}  {remedy_words(remedy)}" for remedy in reach.remedies]
        return [*parts, Words([title], kind="strong"), Words(listed, kind="list")]
    none = (
        "Neither one more paint, another preshade, a glossier finish, more coats nor one less above "
        "would bring it "
        "much nearer."
    )
    return [*parts, Words([none])]


def why_words(miss: Miss) -> str:
    """Return why no recipe is at a target."""
    why, above = miss.why, miss.why.above
    said = {
        "above": "",
        "together": f"this tone by itself can be reached (ΔE00 {why.nearest:.1f}), but not with the others "
        "in one coat",
        "lighter": f"lighter than these paints reach over this preshade, which is L* {miss.shade:.0f} here: "
        f"the lightest of them leaves L* {why.most:.0f} after {miss.coats} coats, "
        f"{why.asked - why.most:.0f} short",
        "darker": f"darker than these paints reach: the darkest of them leaves L* {why.most:.0f} after "
        f"{miss.coats} coats{_finish_words(miss)}",
        "grey": f"a grey that no mix of two here comes closer to than ΔE00 {why.nearest:.1f}",
        "pale": f"no paint or mix of two here has half this chroma (C* {why.asked:.0f}) at this lightness",
        "hue": "this hue is missing: the nearest strong colour that they make at this lightness has its "
        + ("" if why.other is None else hue_words(miss.target, why.other) or "hue, but not its chroma"),
        "chroma": f"more chroma than they have at this hue and lightness: C* {why.most:.0f} at most, and C* "
        f"{why.asked:.0f} asked",
        "neon": "no ordinary paint is so strong at this hue and lightness: it is a fluorescent one, or of "
        "a screen",
        "near": f"no paint or mix of two comes closer than ΔE00 {why.nearest:.1f} here",
    }[why.kind]
    if above is None:
        return said
    name = quoted(above.coat)
    if not above.is_cause:
        return f"{said}; without {name} above, this tone comes within ΔE00 {above.nearest:.1f}"
    return (
        f"{name} above keeps it away: without it this tone comes within ΔE00 {above.nearest:.1f}; from that "
        f"to the same under {name}: {change_words(above.bare, above.under)}"
    )


def _finish_words(miss: Miss) -> str:
    """Return how dark a tone could become under glossier finishes."""
    if not miss.why.finishes:
        return ""
    rows = [f"L* {L:.0f} with a {name} finish" for name, L in miss.why.finishes]
    reached = any(miss.why.asked >= L - 1.0 for _, L in miss.why.finishes)
    cause = "the haze of the finish is what keeps it so light" if reached else "a glossier finish is darker"
    return f"; {cause}: this tone could be as dark as {joined(rows)}"


def remedy_words(remedy: Remedy) -> str:
    """Return what would bring the tones nearer."""
    if remedy.kind == "paint":
        beside = f", mixed with {remedy.beside.name}" if remedy.beside else ""
        carried = f" (so carried by {remedy.carrier}, too)" if remedy.carrier else ""
        return f"one more paint: {remedy.name}{beside}{carried}"
    if remedy.preshade is not None:
        words = preshade_words(remedy.preshade)
        if isinstance(remedy.preshade, GreysGiven):
            return words
        lifted = ", its shadows lifted" if remedy.lifted else ""
        return f"{words}{lifted} (L* {remedy.shade[0]:.0f} to {remedy.shade[1]:.0f})"
    return {
        "two": "two coats in its place: " + ", then ".join(coat.words() for coat in remedy.two),
        "finish": f"a {remedy.name} finish instead of {quoted(remedy.coat)}",
        "varnish": f"a {remedy.name} varnish over it all",
        "coats": f"an opaque mix: {MORE_COATS[0]} to {MORE_COATS[-1]} coats",
        "without": f"without {quoted(remedy.name)}",
    }[remedy.kind]


def preshade_words(preshade: Preshade) -> str:
    """Return a preshade in words."""
    if isinstance(preshade, GreysGiven):
        return f"a preshade from L* {preshade.darkest:g} to {preshade.lightest:g}"
    return f"a preshade of {preshade.passes} passes"


def _change_words(answer: Answer) -> list[str]:
    """Return what else of the scheme would change."""
    said = [] if answer.preshade is None else [preshade_words(answer.preshade)]
    for coat in answer.extra:
        coats = f"{coat.coats} coat{'' if coat.coats == 1 else 's'}"
        said.append(f"a filter after it: {coat.mix.words()}, {coats}")
    return said


def unmixed_words(paints: Sequence[Paint], *, paints_at_most: int) -> str:
    """Return which mixes were left out for their carriers, in a sentence; empty where none was."""
    if paints_at_most < 2 or mixable(paints):
        return ""
    carried: dict[str, list[str]] = {}
    for paint in paints:
        if paint.carrier:
            carried.setdefault(paint.carrier, []).append(paint.name)
    apart = "Coats of their own may follow each other."
    if not any(mixable(pair) for pair in itertools.combinations(paints, 2)):
        rows = ", ".join(f"{name} by {carrier}" for carrier, (name,) in carried.items())
        return (
            "No two of these paints can be mixed in one film, since each is carried by something else "
            f"({rows}): each is tried by itself. {apart}"
        )
    commonest = max(carried, key=lambda carrier: len(carried[carrier]))
    rows = ", ".join(
        f"by {carrier}" + ("" if carrier == commonest else f" ({_some(names)})")
        for carrier, names in carried.items()
    )
    return f"Not mixed with each other in one film: paints carried {rows}. {apart}"


def _some(names: Sequence[str]) -> str:
    """Return the first few of some names."""
    return ", ".join(names[:_FEW]) + (", ..." if len(names) > _FEW else "")
