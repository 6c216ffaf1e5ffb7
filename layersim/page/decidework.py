"""What a worker process decides: matches, corrections, comparisons, and how forgiving a scheme is."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Any

from layersim.decide import preshades
from layersim.decide.choices import Choice, asked_in_words, checked_choices, choices_of, known_areas
from layersim.decide.compare import compare
from layersim.decide.correction import correct
from layersim.decide.match import filters_of, match, planned
from layersim.decide.reach import reach_of
from layersim.decide.recipes import Limits
from layersim.decide.tolerance import BATCHES, tolerance, usual_models
from layersim.decide.writing import Written
from layersim.page.opened import read
from layersim.paint import Paint
from layersim.scheme.records import Targets
from layersim.spectra import FloatArray
from layersim.views import compare as compare_view
from layersim.views import correct as correct_view
from layersim.views import match as match_view
from layersim.views import tolerance as tolerance_view
from layersim.views.parts import Part, View, notice_lines
from layersim.writers.html import content, fragment

Progress = Callable[..., None]
Source = dict[str, Any]


def find_match(
    *,
    progress: Progress,
    source: Source,
    area: str,
    coat: str | None,
    after: str | None,
    paints: Sequence[Paint],
    limits: Limits,
    targets: Targets | None,
    notes: Sequence[str],
    filters: Sequence[Paint],
    other_preshades: bool,
    as_planned: bool,
    quick: bool,
) -> dict[str, Any]:
    """Return the answers of a match, each as HTML and as what it would write."""
    began = time.perf_counter()
    scheme = read(source)

    def searched(done: float, every: float) -> None:
        progress(0.85 * done, every, "trying recipes")

    like = planned(scheme, area=area, coat=coat, after=after, tones=9) if as_planned else None
    found = match(
        scheme,
        area=area,
        coat=coat,
        after=after,
        paints=paints,
        targets=targets,
        wanted=like,
        limits=limits,
        filters=filters_of(filters),
        preshades=preshades.preshades_to_try(scheme, area) if other_preshades else (),
        quick=quick,
        progress=searched,
    )
    progress(0.9, 1.0, "looking at what is within reach")
    reach = reach_of(found)
    tally = found.findings.tally
    took = time.perf_counter() - began
    searched_words = match_view.search_words(
        took, skipped=tally.skipped, quicker="", every="a thorough search tries all"
    )
    page = match_view.view(found, reach, [*notes, searched_words])
    return {
        **_about(page),
        "area": area,
        "coat": coat,
        "after": after,
        "head": _html(match_view.head_parts(found), page),
        "answers": [
            {
                "recipe": answer.coat.words(),
                "html": _html(match_view.answer_parts(number, answer, found), page),
                "written": Written(answer.coat, answer.extra, answer.preshade),
            }
            for number, answer in enumerate(found.answers, start=1)
        ],
        "foot": _html(match_view.foot_parts(found, reach), page),
    }


def find_correction(
    *,
    progress: Progress,
    source: Source,
    area: str,
    found: dict[str, FloatArray],
    doubts: dict[str, float],
    notes: Sequence[str],
    paints: Sequence[Paint],
    limits: Limits,
    against_plan: bool,
) -> dict[str, Any]:
    """Return the smallest correction, as HTML and as what it would write.

    `found` and `doubts` as of :func:`layersim.decide.correction.correct`.
    """
    scheme = read(source)
    progress(0.05, 1.0, "asking what went wrong")
    steps = iter(range(len(limits.coats)))
    at = next(steps)

    def searched(done: float, every: float) -> None:
        nonlocal at
        progress((at + done / max(every, 1)) / len(limits.coats), 1.0, "trying thin coats")
        if done >= every:
            at = next(steps, at)

    corrections = correct(
        scheme,
        area=area,
        found=found,
        doubts=doubts,
        paints=paints,
        targets=Targets() if against_plan else None,
        limits=limits,
        progress=searched,
    )
    page = correct_view.view(corrections, notices=notes)
    tried = [one for one in (corrections.smallest, *corrections.others) if one is not None]
    return {
        **_about(page),
        "area": area,
        "coat": None,
        "after": None,
        "head": _html(correct_view.head_parts(corrections), page),
        "answers": [
            {
                "recipe": one.coat.words(),
                "html": _html(correct_view.answer_parts(one, corrections), page),
                "written": Written(one.coat),
            }
            for one in tried
        ],
        "foot": _html(correct_view.foot_parts(corrections), page),
    }


def find_difference(
    *,
    progress: Progress,
    source: Source,
    first: str | None,
    names: tuple[str, str],
    choices: Sequence[str],
    areas: Sequence[str],
) -> dict[str, Any]:
    """Return whether it matters: an earlier text of the scheme beside it, or it beside changes of it."""
    progress(0.05, 1.0, "spraying both with the same hand")
    chosen: tuple[Choice, ...]
    if first is None:
        plain = read(source)
        known_areas(plain, areas)
        wanted = [asked_in_words(text) for text in choices]
        chosen = choices_of(
            source["path"], wanted, areas=areas, folders=source["folders"], text=source["text"]
        )
    else:
        chosen = (Choice(names[0], read({**source, "text": first})), Choice(names[1], read(source)))
    comparison = compare(checked_choices(chosen), areas=areas)
    page = compare_view.view(comparison)
    return {
        **_about(page),
        "verdicts": [
            {
                "area": area.name,
                "words": [compare_view.verdict_words(area, one) for one in area.differences],
            }
            for area in comparison.areas
        ],
        "html": content(page),
    }


def find_tolerance(*, progress: Progress, source: Source, models: int | None) -> dict[str, Any]:
    """Return how forgiving the scheme is, as HTML."""
    progress(0.05, 1.0, "spraying batches")
    scheme = read(source)
    page = tolerance_view.view(tolerance(scheme, models=models or usual_models(scheme), batches=BATCHES))
    return {**_about(page), "html": content(page)}


def _about(page: View) -> dict[str, Any]:
    return {"title": page.title, "aside": page.aside, "notices": notice_lines(page)}


def _html(parts: Sequence[Part], page: View) -> str:
    return "\n".join(fragment(part, page.viewing) for part in parts)
