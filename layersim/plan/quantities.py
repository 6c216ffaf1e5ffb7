"""How much of everything a batch takes: millilitres and whole drops of each mix, with a range.

For each mix the volume is that of :mod:`layersim.plan.volume`, summed over every step that uses it.
What is uncertain is drawn as in a prediction, a Latin hypercube of normal deviates that shift the
logarithms of efficiency, surface, films and the rest; the range holds 90 % of the draws. Each deviate
alone, at one standard deviation, tells what the range comes from.

Two steps whose recipes are the same are mixed together, since the cup is then cleaned once.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from layersim.paint import Paint
from layersim.plan import rounding
from layersim.plan.doubts import Doubts
from layersim.plan.finishes import Finishes
from layersim.plan.jobs import Job, jobs_of, thinner_name
from layersim.plan.records import MixQuantity, Part, Quantities, Total
from layersim.plan.surfaces import area_surfaces
from layersim.scheme.prediction import COVERED
from layersim.scheme.records import Mix, Scheme
from layersim.scheme.simulate import normal_hypercube
from layersim.spectra import FloatArray

DRAWS: Final = 1000
LEAST_DROPS: Final = 5
"""A part of fewer drops cannot be repeated (common practice, no source)."""
_UL_PER_ML: Final = 1000.0


def quantities(scheme: Scheme, *, steps: Sequence[str] = (), draws: int = DRAWS, seed: int = 0) -> Quantities:
    """Return how much of everything to mix for a scheme's batch.

    Parameters
    ----------
    scheme : Scheme
    steps : sequence of str
        Only mixes that these steps use; all by default.
    draws : int, ≥ 2
        How often what is uncertain is drawn.
    seed : int

    Returns
    -------
    Quantities

    Raises
    ------
    SchemeError
        If the areas are more than the model, or a pre-shade is none.
    MeshFileError
        If a mesh is named and cannot be used.
    ValueError
        If there are fewer than two draws.
    """
    if draws < 2:
        raise ValueError("at least two draws are needed")
    figure, surfaces = area_surfaces(scheme)
    jobs, notices = jobs_of(scheme, surfaces, set(steps))
    doubts = Doubts(scheme, figure, surfaces, jobs)
    z = np.concatenate(
        [
            np.zeros((1, len(doubts.keys))),
            normal_hypercube(len(doubts.keys), draws, seed=seed),
            np.eye(len(doubts.keys)),
        ]
    )
    needs = np.stack([doubts.need_ml(job, z) for job in jobs]) if jobs else np.zeros((0, len(z)))
    drop_ml = scheme.batch.drop_ul.drawn(doubts.deviate(("drop",), z[1 : 1 + draws])) / _UL_PER_ML
    before = Finishes(scheme)
    mixes = tuple(
        _mix_quantity(scheme, job, need, drop_ml, doubts, before)
        for job, need in zip(jobs, needs, strict=True)
    )
    total = needs.sum(axis=0)
    causes = doubts.causes(total)
    known_z = z[1 : 1 + draws].copy()
    if causes:
        known_z[:, doubts.columns_of(causes[0].what)] = 0.0
    known = sum((doubts.need_ml(job, known_z) for job in jobs), np.zeros(draws))
    low, high = covered_range(total[1 : 1 + draws], total[0])
    known_low, known_high = covered_range(known, total[0])
    return Quantities(
        scheme=scheme,
        figure_cm2=figure,
        surfaces=surfaces,
        mixes=mixes,
        totals=_totals(mixes, needs[:, : 1 + draws]),
        need_ml=float(total[0]),
        need_low_ml=low,
        need_high_ml=high,
        causes=causes,
        known_low_ml=known_low,
        known_high_ml=known_high,
        notices=tuple(dict.fromkeys((*scheme.notices, *notices))),
    )


def _mix_quantity(
    scheme: Scheme, job: Job, need: FloatArray, drop_ml: FloatArray, doubts: Doubts, before: Finishes
) -> MixQuantity:
    batch, mix = scheme.batch, job.mix
    drop = batch.drop_ul.value / _UL_PER_ML
    draws = need[1 : 1 + len(drop_ml)]
    asked_ml = float(need[0]) * (1.0 + batch.reserve)
    paint_parts = float(mix.parts.sum())
    rounded = rounding.whole_drops(
        parts=mix.parts,
        thinner=mix.thinning * paint_parts,
        need_drops=float(need[0]) / drop,
        ask_drops=asked_ml / drop,
        cup_drops=batch.cup_ml / drop if job.by == "airbrush" else np.inf,
    )
    names = [paint for paint, _ in mix.ingredients]
    parts = [
        Part(paint.name, paint, int(n), float(n) * rounded.fillings * drop)
        for paint, n in zip(names, rounded.drops, strict=False)
    ]
    if mix.thinning:
        n = int(rounded.drops[-1])
        parts.append(Part(thinner_name(mix), None, n, n * rounded.fillings * drop))
    total_drops = int(rounded.drops.sum()) * rounded.fillings
    low, high = covered_range(draws, need[0])
    zero = np.zeros((1, len(doubts.keys)))
    work = (
        doubts.film_ml(job, zero)
        / (batch.brush_efficiency if job.by == "brush" else batch.transfer_efficiency).value
    )
    return MixQuantity(
        name=" and ".join(dict.fromkeys(step.name for step in job.steps)),
        mix=mix,
        uses=job.uses,
        volume_solids=mix.volume_solids,
        work_ml=float(work[0]),
        need_ml=float(need[0]),
        need_low_ml=low,
        need_high_ml=high,
        mix_ml=total_drops * drop,
        fillings=rounded.fillings,
        parts=tuple(parts),
        enough=float((draws <= total_drops * drop_ml).mean()),
        rounding_delta_e=before.rounding_delta_e(job, rounded),
        causes=doubts.causes(need),
        warnings=tuple(_warnings(mix, parts, rounded, drop)),
    )


def _warnings(mix: Mix, parts: Sequence[Part], rounded: rounding.Rounded, drop_ml: float) -> Iterable[str]:
    if len(parts) > 1:
        least = min(parts, key=lambda part: part.drops)
        if least.drops < LEAST_DROPS:
            count = "1 drop" if least.drops == 1 else f"{least.drops} drops"
            larger = int(rounded.drops.sum()) * drop_ml * LEAST_DROPS / least.drops
            yield (
                f"{count} of {least.name} cannot be repeated: weigh it, or mix {larger:.2g} ml, "
                f"which has {LEAST_DROPS}"
            )
    if rounded.error > rounding.NOTED_ERROR:
        yield f"whole drops are {rounded.error:.0%} off the recipe's ratio"
    if len({paint.carrier for paint, _ in mix.ingredients if paint.carrier}) > 1:
        yield "paints with different carriers in one mix: try a drop of it first"


def _totals(mixes: Sequence[MixQuantity], needs: FloatArray) -> tuple[Total, ...]:
    """Return every paint, then every thinner, over all mixes; `needs` has the prediction first."""
    rows: dict[str, tuple[Paint | None, float, FloatArray]] = {}
    for quantity, need in zip(mixes, needs, strict=True):
        for part in quantity.parts:
            before = rows.get(part.name, (part.paint, 0.0, np.zeros(needs.shape[1])))
            share = part.ml / quantity.mix_ml
            rows[part.name] = (part.paint, before[1] + part.ml, before[2] + need * share)
    totals = [
        Total(name, paint, ml, *covered_range(need[1:], need[0])) for name, (paint, ml, need) in rows.items()
    ]
    return tuple(sorted(totals, key=lambda total: (total.paint is None, total.name)))


def covered_range(draws: FloatArray, central: float) -> tuple[float, float]:
    """Return the range that holds 90 % of draws, widened to the central value where a bend left it out."""
    tail = (1.0 - COVERED) / 2.0
    low, high = np.quantile(draws, [tail, 1.0 - tail])
    return min(float(low), float(central)), max(float(high), float(central))
