"""What went wrong, by chips of a finish: which step was forgotten or doubled, and how thick the films were.

Each explanation is a scheme with one step once too often or too seldom, or none. How far the finish strays
from it by hand, bottles and films, chip and film model is taken as normal, and linear in what varies. So the
odds are Bayes' theorem with normal likelihoods, and the films those of a linear Gaussian model (C. M. Bishop,
Pattern Recognition and Machine Learning, 2006, section 3.3; section from memory)

    odds ∝ prior · N(y; f, C),   C = Jᵀ J + σ² I,   d = J C⁻¹ (y - f)                              (Z3)

with the chips' colours y, those predicted f, the rows of J what one standard deviation of each cause does to
them, and the deviations d that are likeliest then.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from layersim import colour
from layersim.chance import NINETY
from layersim.decide.batch import Bench
from layersim.scheme.ownfilms import own_film
from layersim.scheme.records import Area, Scheme
from layersim.spectra import FloatArray

SLIP: Final = 0.02
"""Chance of each single slip before the chips are seen, of those who ask (common practice, no source)."""
CHIP_ERROR: Final = 1.4
"""Standard deviation of each of L*, a* and b* of a chip, by its reading and the film model (estimated)."""


@dataclass(frozen=True)
class Explanation:
    """One way in which the finish may have come about."""

    kind: Literal["planned", "fewer", "more"]
    step: str
    """That had a coat or a pass fewer or more."""
    odds: float
    """Chance that it was so, all others seen beside it."""
    film: float
    """Factor over the films of all coats together that is likeliest then."""
    delta_e: float
    """Mean ΔE00 of the chips from it, with its films."""


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """What explains some chips, and the area as it was most likely painted."""

    explanations: tuple[Explanation, ...]
    """Likeliest first."""
    area: Area


def diagnosed(
    scheme: Scheme,
    area: Area,
    chips: Mapping[int, FloatArray],
    *,
    tones: int,
    doubts: Mapping[int, float] | None = None,
) -> Diagnosis:
    """Return what explains chips of the finish.

    `chips`: L*a*b*, shape (3,), by the index of the tone. `doubts`: by how much each of L*, a* and b* of a
    chip may be off, nine times in ten, of those that were not measured.
    """
    bench = Bench(scheme, area, tones=tones)
    at = list(chips)
    found = np.array([chips[tone] for tone in at])
    spread = bench.session(scheme.hand)
    # One day's spray is thicker or thinner in all coats alike, besides each coat's own error.
    together = np.zeros(len(spread))
    together[bench.films] = np.hypot(scheme.hand.film, own_film(scheme.batch.sprayer).error)
    rows = np.vstack([np.diag(spread), together])
    J = (bench.finish(rows)[:, at] - bench.lab[at]).reshape(len(rows), -1)
    error = np.repeat([np.hypot(CHIP_ERROR, (doubts or {}).get(tone, 0.0) / NINETY) for tone in at], 3)
    C = J.T @ J + np.diag(error**2)
    slips = [(step, change) for step in bench.steps if step != "greys" for change in (-1, 1)]
    tried: list[tuple[object, int]] = [(None, 0), *slips]
    weights, moved, lab = [], [], []
    for step, change in tried:
        there = bench.slip(step, change)[at] if change else bench.lab[at]
        off = (found - there).reshape(-1)
        pull = np.linalg.solve(C, off)
        prior = SLIP if change else max(1.0 - SLIP * len(slips), SLIP)
        weights.append(np.log(prior) - 0.5 * off @ pull)
        moved.append(J @ pull)
        lab.append(there + (J.T @ moved[-1]).reshape(there.shape))
    odds = np.exp(np.array(weights) - max(weights))
    odds = odds / odds.sum()
    films = [dict(zip(bench.steps, (rows.T @ d)[bench.films], strict=True)) for d in moved]
    names = dict(zip(bench.steps, bench.step_names, strict=True))
    explanations = [
        Explanation(
            kind="planned" if not change else "more" if change > 0 else "fewer",
            step=names.get(step, ""),
            odds=float(share),
            film=float(np.exp(np.mean([v for s, v in film.items() if isinstance(s, int)] or [0.0]))),
            delta_e=float(colour.delta_e_2000(there, found).mean()),
        )
        for (step, change), share, film, there in zip(tried, odds, films, lab, strict=True)
    ]
    best = int(odds.argmax())
    step, change = tried[best]
    coats = [
        replace(coat, dry_film_um=coat.dry_film_um * float(np.exp(films[best].get(i, 0.0))))
        for i, coat in enumerate(area.coats)
    ]
    if isinstance(step, int):
        count = coats[step].coats + change
        # A coat that was forgotten leaves no film; its place in the order stays.
        coats[step] = replace(coats[step], coats=count) if count else replace(coats[step], dry_film_um=0.0)
    order = np.argsort(-odds, kind="stable")
    return Diagnosis(tuple(explanations[i] for i in order), replace(area, coats=tuple(coats)))
