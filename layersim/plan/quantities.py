"""How much of everything a batch takes: millilitres and whole drops of each mix, with a range.

For each mix the volume is that of :mod:`layersim.plan.volume`, summed over every step that uses it.
What is uncertain is drawn as in a prediction, a Latin hypercube of normal deviates that shift the
logarithms of efficiency, surface, films and the rest; the range holds 90 % of the draws. Each deviate
alone, at one standard deviation, tells what the range comes from.

Beside the amount that is likely to do stands one that lasts nine times in ten.

Two steps whose recipes are the same are mixed together, since the cup is then cleaned once.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from layersim.chance import Source, check_counts, normal_hypercube, range_of
from layersim.paint import Paint, mixable
from layersim.plan import rounding
from layersim.plan.cautions import cautions
from layersim.plan.doubts import Doubts
from layersim.plan.finishes import Finishes
from layersim.plan.jobs import Job, jobs_of, thinner_name
from layersim.plan.records import (
    LEAST_DROPS,
    SURE,
    Amount,
    MixQuantity,
    Part,
    Quantities,
    Total,
    Warned,
)
from layersim.plan.surfaces import area_surfaces
from layersim.plan.volume import ml_words
from layersim.scheme.batch import Batch
from layersim.scheme.records import Scheme
from layersim.spectra import FloatArray

DRAWS: Final = 1000
_UL_PER_ML: Final = 1000.0


def quantities(scheme: Scheme, *, steps: Sequence[str] = (), draws: int = DRAWS, seed: int = 0) -> Quantities:
    """Return how much of everything to mix for a scheme's batch.

    Only mixes that `steps` use are counted; by default all. What is uncertain is drawn `draws` times. Raises
    SchemeError if the areas are more than the model, or a preshade is none, MeshFileError if a mesh is named
    and cannot be used, and ValueError if there are fewer than two draws.
    """
    check_counts(draws=draws, least_draws=2)
    figure, surfaces = area_surfaces(scheme)
    jobs, notices = jobs_of(scheme, surfaces, set(steps))
    doubts = Doubts(scheme, figure, surfaces, jobs)
    z = np.concatenate(
        [
            np.zeros((1, len(doubts.factors))),
            normal_hypercube(len(doubts.factors), draws, seed=seed),
            np.eye(len(doubts.factors)),
        ]
    )
    needs = np.stack([doubts.need_ml(job, z) for job in jobs]) if jobs else np.zeros((0, len(z)))
    drop_ml = scheme.batch.drop_ul.drawn(doubts.deviate(Source("drop"), z[1 : 1 + draws])) / _UL_PER_ML
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
        cautions=cautions(scheme),
        notices=tuple(dict.fromkeys((*scheme.notices, *notices))),
    )


def _mix_quantity(
    scheme: Scheme, job: Job, need: FloatArray, drop_ml: FloatArray, doubts: Doubts, before: Finishes
) -> MixQuantity:
    batch, mix = scheme.batch, job.mix
    draws = need[1 : 1 + len(drop_ml)]
    amount, rounded = _amount(
        batch, job, draws, drop_ml, least_ml=float(need[0]), asked_ml=float(need[0]) * (1.0 + batch.reserve)
    )
    low, high = covered_range(draws, need[0])
    zero = np.zeros((1, len(doubts.factors)))
    work = (
        doubts.film_ml(job, zero)
        / (batch.brush_efficiency if job.by == "brush" else batch.transfer_efficiency).value
    )
    found = MixQuantity(
        name=" and ".join(dict.fromkeys(step.name for step in job.steps)),
        mix=mix,
        uses=job.uses,
        volume_solids=mix.volume_solids,
        work_ml=float(work[0]),
        need_ml=float(need[0]),
        need_low_ml=low,
        need_high_ml=high,
        mix_ml=amount.mix_ml,
        fillings=amount.fillings,
        parts=amount.parts,
        enough=amount.enough,
        sure=_sure(batch, job, draws, drop_ml, amount),
        rounding_delta_e=before.rounding_delta_e(job, rounded),
        causes=doubts.causes(need),
        warnings=(),
    )
    return dataclasses.replace(found, warnings=tuple(_warnings(found, rounded.error)))


def _amount(
    batch: Batch, job: Job, draws: FloatArray, drop_ml: FloatArray, *, least_ml: float, asked_ml: float
) -> tuple[Amount, rounding.Rounded]:
    """Return whole drops of a mix that are at least so much, and in how many of the draws they last."""
    mix, drop = job.mix, batch.drop_ul.value / _UL_PER_ML
    rounded = rounding.whole_drops(
        parts=mix.parts,
        thinner=mix.thinning * float(mix.parts.sum()),
        need_drops=least_ml / drop,
        ask_drops=asked_ml / drop,
        cup_drops=batch.cup_ml / drop if job.by == "airbrush" else np.inf,
    )
    parts = [
        Part(paint.name, paint, int(n), float(n) * rounded.fillings * drop)
        for (paint, _), n in zip(mix.ingredients, rounded.drops, strict=False)
    ]
    if mix.thinning:
        n = int(rounded.drops[-1])
        parts.append(Part(thinner_name(mix), None, n, n * rounded.fillings * drop))
    drops = int(rounded.drops.sum()) * rounded.fillings
    enough = float((draws <= drops * drop_ml).mean())
    return Amount(tuple(parts), rounded.fillings, drops * drop, enough), rounded


def _sure(batch: Batch, job: Job, draws: FloatArray, drop_ml: FloatArray, amount: Amount) -> Amount:
    """Return the mix if it lasts in :data:`SURE` of the draws, or else whole drops that just do."""
    if amount.enough >= SURE:
        return amount
    # Need and drop of one draw belong together: so many drops would just have been enough in it.
    drops = float(np.quantile(draws / drop_ml, SURE, method="inverted_cdf")) * (1.0 + 1e-12)
    ml = drops * batch.drop_ul.value / _UL_PER_ML
    return _amount(batch, job, draws, drop_ml, least_ml=ml, asked_ml=ml)[0]


def _warnings(found: MixQuantity, ratio_error: float) -> Iterable[Warned]:
    if found.few:
        names = [f"{part.drops} of {'thinner' if part.paint is None else part.name}" for part in found.few]
        unit = "drop" if found.few[0].drops == 1 else "drops"
        names[0] = names[0].replace(" of ", f" {unit} of ", 1)
        yield Warned(
            "few",
            f"{', '.join(names)} cannot be repeated: weigh {'it' if len(names) == 1 else 'them'}, or mix "
            f"{ml_words(found.repeatable_ml)}, which has at least {LEAST_DROPS}",
        )
    if ratio_error > rounding.NOTED_ERROR:
        yield Warned("ratio", f"whole drops are {100 * ratio_error:.0f} % off the recipe's ratio")
    if not mixable(paint for paint, _ in found.mix.ingredients):
        yield Warned("carriers", "paints with different carriers in one mix: try a drop of it first")


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
    low, high = range_of(draws, central)
    return float(low), float(high)
