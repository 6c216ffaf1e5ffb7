"""Transfer efficiency and drop size from a small balance.

A card is weighed before spraying and when dry, and the cup before and after. By the regulators'
definition (:mod:`layersim.plan.volume`), with gains and losses of mass,

    η = Δcard / (Δcup · w)                                                                 (W1)
    w = m_dry / m_wet = v ρ_dry / ρ_wet         solids by mass of the mix as sprayed        (W2)
    drop = m / (n ρ)                                                                        (W3)

The error is that of the **next** job, not of the mean: its logarithm's variance is

    σ² = max(t s, b)² (1 + 1/n) + σ_common²                                                (W4)

with s the scatter of n runs (for a single run an assumption), t how much wider 90 % of Student's
distribution is than the normal's (its tables), b what the balance alone would scatter, and σ_common
what all runs share: solids, density.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

from layersim.chance import NINETY
from layersim.errors import LayersimError
from layersim.estimate import Estimate
from layersim.sprayer import MOST_ERROR

ONE_RUN: Final = 0.15
"""Scatter from run to run where only one was weighed (an assumption)."""
SOLIDS_ERROR: Final = 0.10
"""Relative error of solids that were taken from a paint's file (an assumption)."""
DENSITY_ERROR: Final = 0.05
"""Relative error of a density that was not measured (an assumption)."""
MOST_RUNS: Final = 100
DROP_UL: Final = (1.0, 1000.0)
"""No dropper gives less or more than this, nor does a sprayer's profile hold it."""
LEAST_TRANSFER: Final = 0.001
# Student's t, 95th percentile, for 1, 2, 3 ... degrees of freedom (tables; beyond them the normal's is near).
_STUDENT: Final = (6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812)


class Run(NamedTuple):
    """One card: what it gained when dry, and what the cup lost, in grams."""

    card_gain_g: float
    cup_loss_g: float


def mass_solids(*, volume_solids: float, dry_density: float, wet_density: float) -> float:
    """Return solids by mass from solids by volume, equation (W2).

    Both are shares, 0..1. Raises LayersimError if more mass would stay than there was.

    >>> round(mass_solids(volume_solids=0.28, dry_density=1.6, wet_density=1.17), 3)
    0.383
    """
    share = volume_solids * dry_density / wet_density
    if not 0.0 < share <= 1.0:
        raise LayersimError(
            f"solids: found {100 * volume_solids:.0f} % by volume at {dry_density:g} g/ml dry and "
            f"{wet_density:g} g/ml wet, which makes {100 * share:.0f} % by mass; expected 100 % at most"
        )
    return share


def transfer_efficiency(
    runs: Sequence[Run], *, solids_by_mass: float, solids_error: float, balance_g: float
) -> Estimate:
    """Return the transfer efficiency from cards and cups, equations (W1) and (W4).

    `solids_by_mass` is a share of the mix as sprayed, thinner included. `solids_error` is one standard
    deviation of it, relative, and `balance_g` that of one weighing. Raises LayersimError if a weighing cannot
    be: nothing gained or lost, more on the card than was sprayed, hardly anything of it, or less than the
    balance can tell.

    >>> cards = [Run(0.105, 1.00)]
    >>> found = transfer_efficiency(cards, solids_by_mass=0.30, solids_error=0.0, balance_g=0.001)
    >>> round(found.value, 6)
    0.35
    """
    _check_count(len(runs), "card")
    if not 0.0 < solids_by_mass <= 1.0:
        raise LayersimError(f"solids: found {solids_by_mass:g}; expected a share above 0, at most 1")
    logs, floors = [], []
    for number, run in enumerate(runs, start=1):
        where = f"card {number}"
        for grams, what in ((run.card_gain_g, "gain of the card"), (run.cup_loss_g, "loss of the cup")):
            _check_weight(grams, where, what, balance_g)
        sprayed = run.cup_loss_g * solids_by_mass
        if run.card_gain_g > sprayed:
            raise LayersimError(
                f"{where}: found {run.card_gain_g:g} g dry on the card from {run.cup_loss_g:g} g of paint "
                f"with {sprayed:.3g} g of solids; expected no more than that. Was the card dry, and are the "
                "solids those of the thinned mix?"
            )
        logs.append(math.log(run.card_gain_g / sprayed))
        floors.append(_balance_error(balance_g, run.card_gain_g, run.cup_loss_g))
    count = "one card" if len(runs) == 1 else f"{len(runs)} cards"
    found = _next_job(logs, floors, common=solids_error, basis=f"{count} and the cup weighed")
    if found.value < LEAST_TRANSFER:
        raise LayersimError(
            f"cards: found a transfer efficiency of {found.value:.2g}; expected {LEAST_TRANSFER:g} or more. "
            "Are all weights in grams, the card's gain first?"
        )
    return found


def drop_size_ul(
    weights_g: Sequence[float], *, drops: int, density: float, density_error: float, balance_g: float
) -> Estimate:
    """Return the size of a drop, equations (W3) and (W4), µl.

    Each of `weights_g` is that of `drops` together. `density_error` is one standard deviation of the density,
    relative, and `balance_g` that of one weighing. Raises LayersimError if a weight cannot be, is less than
    the balance can tell, or makes no drop.

    >>> round(drop_size_ul([0.50], drops=10, density=1.0, density_error=0.0, balance_g=0.001).value, 6)
    50.0
    """
    _check_count(len(weights_g), "weighing")
    if drops < 1:
        raise LayersimError(f"drops: found {drops}; expected one or more")
    if not 0.1 <= density <= 20.0:
        raise LayersimError(f"density: found {density:g} g/ml; expected one from 0.1 to 20")
    logs, floors = [], []
    for number, grams in enumerate(weights_g, start=1):
        _check_weight(grams, f"weighing {number}", f"weight of {drops} drops", balance_g)
        logs.append(math.log(grams / (drops * density) * 1000.0))
        floors.append(_balance_error(balance_g, grams))
    often = "once" if len(weights_g) == 1 else f"{len(weights_g)} times"
    found = _next_job(logs, floors, common=density_error, basis=f"{drops} drops weighed {often}")
    if not DROP_UL[0] <= found.value <= DROP_UL[1]:
        raise LayersimError(
            f"drops: found {found.value:.0f} µl a drop; expected {DROP_UL[0]:g} to {DROP_UL[1]:g}. One is "
            "about 50 µl, ten are half a gram: are the weights in grams, and the drops rightly counted?"
        )
    return found


def _next_job(logs: Sequence[float], floors: Sequence[float], *, common: float, basis: str) -> Estimate:
    n = len(logs)
    mean = sum(logs) / n
    floor = math.sqrt(sum(f * f for f in floors) / n)
    if n == 1:
        scatter = ONE_RUN
        basis += "; scatter assumed"
    else:
        wider = _STUDENT[n - 2] / NINETY if n - 2 < len(_STUDENT) else 1.0
        scatter = wider * math.sqrt(sum((x - mean) ** 2 for x in logs) / (n - 1))
    error = math.sqrt(max(scatter, floor) ** 2 * (1.0 + 1.0 / n) + common**2)
    if error > MOST_ERROR:
        each = ", ".join(f"{math.exp(x):.3g}" for x in logs)
        raise LayersimError(
            f"{basis}: found {each}, too far apart to learn from; expected weighings of the same work. "
            "Is one mistyped? Else weigh some more."
        )
    return Estimate(math.exp(mean), error, basis)


def _balance_error(balance_g: float, *differences: float) -> float:
    """Return the relative error of a ratio of differences, each of two weighings."""
    return math.sqrt(sum(2.0 * (balance_g / grams) ** 2 for grams in differences))


def _check_count(count: int, what: str) -> None:
    if not 1 <= count <= MOST_RUNS:
        raise LayersimError(f"{what}s: found {count}; expected from 1 to {MOST_RUNS}")


def _check_weight(grams: float, where: str, what: str, balance_g: float) -> None:
    if not 0.0 < grams < 1e6:
        raise LayersimError(f"{where}: found a {what} of {grams:g} g; expected more than nothing")
    if grams < 3.0 * balance_g:
        raise LayersimError(
            f"{where}: found a {what} of {grams:g} g on a balance that is sure to {balance_g:g} g; expected "
            f"at least {3.0 * balance_g:g} g. Spray or drop more, or use a finer balance."
        )
