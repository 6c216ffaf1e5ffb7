"""Simulated sprayers with a hidden film per coat, and the chips that their work gives."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import numpy as np

from layersim import colour
from layersim.estimate import Estimate
from layersim.log import Chip, Entry, Log
from layersim.scheme.ownfilms import with_factor
from layersim.scheme.records import Scheme
from layersim.scheme.simulate import AreaModel
from layersim.spectra import FloatArray

SCATTER = 0.05
"""Relative error of one coat's film around the sprayer's own, from one session to the next."""
CHIP_ERROR = 0.5
"""Error of a measured chip in each of L*, a*, b*."""
PLACES = {"shadow": 0, "mid": 16, "light": 32}
TONES = 33

# Thin films over a preshade, all left to the paint and so to the sprayer.
JOBS = (
    (5, '"moss green" = 1', 1.0, 2),
    (4, '"plum ink" = 1, "moss green" = 1', 0.5, 1),
    (6, '"rust" = 2, "plum ink" = 1', 1.0, 2),
    (5, '"rust" = 1, "moss green" = 2', 1.5, 3),
)


def scheme_text(job: int) -> str:
    """A scheme whose films are all the paints' own."""
    passes, mix, thinning, coats = JOBS[job]
    return f"""\
format = "layersim scheme 1"
name = "job {job}"
[hand]
film = 0.1
[[area]]
name = "panel"
primer = "soot primer"
[area.preshade]
white = "chalk white"
thinning = 8
passes = {passes}
[[area.coat]]
name = "base"
mix = {{ {mix} }}
thinning = {thinning}
coats = {coats}
[[area.coat]]
name = "filter"
paint = "plum ink"
thinning = 2
"""


def truth(
    scheme: Scheme,
    factor: float,
    luck: np.random.Generator,
    *,
    scatter: float = SCATTER,
    bottles: dict[tuple[object, ...], float] | None = None,
) -> FloatArray:
    """Return L*a*b* of every stage and tone, sprayed with a hidden film per coat; (stage, tone, 3).

    With `bottles`, parts and bottles are off, too, each bottle alike wherever it is used.
    """
    sprayed = with_factor(scheme, Estimate(factor, 0.0))
    model = AreaModel(sprayed, sprayed.areas[0], tones=TONES)
    z = np.zeros(len(model.factors))
    for column, one in enumerate(model.factors):
        if one.key[0] == "film":
            z[column] = luck.normal() * scatter / scheme.hand.film
        elif bottles is not None and one.key[0] == "paint":
            z[column] = bottles.setdefault(one.key, float(luck.normal()))
        elif bottles is not None and one.key[0] == "parts":
            z[column] = luck.normal()
    return colour.lab(model.reflectance(z[np.newaxis])[0], scheme.viewing)


def log_of(
    scheme: Scheme, lab: FloatArray, luck: np.random.Generator, *, chip_error: float = CHIP_ERROR
) -> Log:
    """Return the log of a job: three chips after the base and three of the finish."""
    entries = []
    for stage, step in ((2, "base"), (3, "filter")):
        chips = []
        for name, tone in PLACES.items():
            L, a, b = lab[stage, tone] + luck.normal(scale=chip_error, size=3)
            chips.append(Chip(name, lab=(float(np.clip(L, 0.0, 100.0)), float(a), float(b))))
        entries.append(Entry(datetime(2026, 5, 1), "panel", step, chips=tuple(chips)))
    return Log(Path("job.log.jsonl"), tuple(entries), ())


def miss(scheme: Scheme, factor: Estimate | None, real: FloatArray) -> float:
    """Return the mean ΔE00 between what is predicted of every stage and what came."""
    asked = scheme if factor is None else with_factor(scheme, factor)
    model = AreaModel(asked, asked.areas[0], tones=TONES)
    lab = colour.lab(model.reflectance(np.zeros((1, len(model.factors))))[0], scheme.viewing)
    return float(colour.delta_e_2000(lab[1:], real[1:]).mean())


def sequence(
    factor: float, schemes: Sequence[Scheme], seed: int
) -> tuple[list[tuple[Scheme, Log]], FloatArray]:
    """Return the logs of all schemes but the last, and what really came of the last."""
    luck = np.random.default_rng(seed)
    logged = [(scheme, log_of(scheme, truth(scheme, factor, luck), luck)) for scheme in schemes[:-1]]
    return logged, truth(schemes[-1], factor, luck)
