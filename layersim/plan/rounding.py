"""From parts to whole drops: enough of them, in the parts' ratio or nearly so, and few to pour away.

Drops are the whole numbers

    nᵢ(s) = max(1, ⌊s pᵢ + ½⌋)                                                              (R1)

of some scale s, so that a larger scale never takes less of anything. Of all that cover the need N, those
are taken whose total n is nearest to what is asked for, A (the need with its reserve), and whose ratio
is nearest to the parts': the least

    |ln(n / A)| + 4 min(e, ¼)                                                               (R2)

where e is the largest relative error of a part: 5 % off the ratio counts as much as a fifth too many. An
error beyond a quarter counts no more: drops cannot make such a mix, and pouring away more would not
help. The ratio of the paints counts in full, the share of the thinner half, since thinner changes the
film alone. A recipe that is written in whole drops stays as it is: its multiples come first, up to twice what
is asked for, but no more than a dozen drops above it. Both N and A rise with the batch, and of two totals the
larger gains on the smaller as they do, so that a larger batch never takes less.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from layersim.spectra import FloatArray

IntArray = npt.NDArray[np.int64]

RATIO_WEIGHT: Final = 4.0
WORST_ERROR: Final = 0.25
NOTED_ERROR: Final = 0.05
"""A ratio further off than this is worth a warning: a scheme's own default for parts by the drop."""
_MOST_OVER: Final = (1.0, 6.0, 400.0)
"""Totals looked at: up to twice what is asked for and six drops, but no more than 400 above it."""
_MOST_FILLINGS_TRIED: Final = 100
_MOST_OVER_EXACT: Final = (1.0, 12.0)
"""Of a recipe in whole drops: up to twice what is asked for, but no more than a dozen drops above it."""
_EXACT: Final = 1e-9


class Rounded(NamedTuple):
    """Whole drops of each part in one filling of the cup, and how many such fillings."""

    drops: IntArray
    fillings: int
    error: float
    """Largest relative error of a part (of the thinner, half of it)."""

    @property
    def total(self) -> IntArray:
        """Drops of each part in all fillings together."""
        return np.asarray(self.drops * self.fillings)


def whole_drops(
    *,
    parts: npt.ArrayLike,
    thinner: float,
    need_drops: float,
    ask_drops: float | None = None,
    cup_drops: float = math.inf,
) -> Rounded:
    """Return the whole drops to mix.

    `parts` of the paints have the shape (m,) and are above 0; `thinner` counts on the same scale. There are
    at least `need_drops` in all, better `ask_drops`: the need with its reserve, or by default the need. No
    more than `cup_drops` are mixed at a time; a cup that cannot hold one drop of each part does not count.
    Returns drops of the paints in their order, then of the thinner, if there is any. Raises ValueError if
    there are no parts, or one is not above zero.

    >>> whole_drops(parts=[5, 1], thinner=6.0, need_drops=20.0).drops.tolist()
    [10, 2, 12]
    >>> whole_drops(parts=[1], thinner=0.0, need_drops=3.2).drops.tolist()
    [4]
    >>> whole_drops(parts=[4, 1], thinner=7.5, need_drops=12.8, ask_drops=14.1).drops.tolist()
    [4, 1, 8]
    >>> whole_drops(parts=[4, 1], thinner=5.0, need_drops=100.0, cup_drops=40).fillings
    3
    """
    p = np.asarray(parts, dtype=np.float64)
    if p.ndim != 1 or p.size == 0 or not (p > 0.0).all() or not np.isfinite(p).all() or thinner < 0.0:
        raise ValueError("parts above zero are needed, and no negative thinner")
    p = np.append(p, thinner) if thinner > 0.0 else p
    # A hair less, so that a need of exactly 20 drops that came out as 20.000000000001 takes 20.
    need = max(need_drops * (1.0 - 1e-12), 1e-9)
    ask = max(need, need_drops if ask_drops is None else ask_drops)
    cup = math.floor(cup_drops * (1.0 + 1e-12)) if math.isfinite(cup_drops) else math.inf
    if cup >= p.size and math.isfinite(cup):
        first = math.ceil(ask * (1.0 - 1e-12) / cup)
        for fillings in range(first, first + _MOST_FILLINGS_TRIED):
            # A batch beyond the cup gets all it asks for: else one filling more could hold less in all.
            least = need if fillings == 1 else ask
            found = _one_filling(p, thinner > 0.0, least / fillings, ask / fillings, cup)
            if found is not None:
                return Rounded(found[0], fillings, found[1])
    found = _one_filling(p, thinner > 0.0, need, ask, math.inf)
    if found is None:  # pragma: no cover - without a cup there is always a scale large enough
        raise AssertionError
    return Rounded(found[0], 1, found[1])


def _one_filling(
    p: FloatArray, thinned: bool, need: float, ask: float, most: float
) -> tuple[IntArray, float] | None:
    """Return drops and their error that cover the need and fit the cup; None where there are none."""
    share, some, at_most = _MOST_OVER
    window = min(most, ask + min(share * ask + some, at_most))
    drops = _candidates(p, need, window)
    totals = drops.sum(axis=1)
    kept = (totals >= need) & (totals <= window)
    if not kept.any():
        # Parts that only come in large steps: the first that is enough, however much it is over.
        kept = (totals >= need) & (totals <= most)
        if not kept.any():
            return None
        kept[np.argmax(kept) + 1 :] = False
    drops, totals = drops[kept], totals[kept]
    errors = ratio_error(drops=drops, parts=p, thinned=thinned)
    cost = np.abs(np.log(totals / ask)) + RATIO_WEIGHT * np.minimum(errors, WORST_ERROR)
    if bool((np.abs(p - p.round()) < _EXACT).all()):
        share, drops_over = _MOST_OVER_EXACT
        exact = (totals <= ask + min(share * ask, drops_over)) & (errors < _EXACT)
        cost[~exact & exact.any()] = np.inf
    best = int(np.argmin(cost.round(12)))
    return drops[best], float(errors[best])


def _candidates(p: FloatArray, least: float, window: float) -> IntArray:
    """Return every set of drops (R1) whose total may lie in the window, by rising scale."""
    total = p.sum()
    low = max(0.0, (least - p.size) / total)
    high = (max(window, least) + 2.0 * p.size + 2.0) / total
    steps = [
        (np.arange(math.floor(low * part), math.ceil(high * part) + 1) + 0.5) / part for part in p.tolist()
    ]
    scales = np.unique(np.concatenate([[low], *steps]))
    counts = np.floor(scales[:, np.newaxis] * p + 0.5 + 1e-9).astype(np.int64)
    return np.asarray(np.maximum(1, counts))


def ratio_error(*, drops: npt.ArrayLike, parts: npt.ArrayLike, thinned: bool) -> FloatArray:
    """Return the largest relative error of a part, for rows of drops.

    `drops` have the shape (..., m) and `parts` (m,), the thinner last, if there is any. Returns shape (...).

    >>> float(ratio_error(drops=[10, 2, 12], parts=[5, 1, 6], thinned=True))
    0.0
    """
    n, p = np.asarray(drops, dtype=np.float64), np.asarray(parts, dtype=np.float64)
    paints = slice(0, p.size - 1) if thinned else slice(0, p.size)
    n_paint, p_paint = n[..., paints], p[paints]
    shares = n_paint / n_paint.sum(axis=-1, keepdims=True) / (p_paint / p_paint.sum())
    error = np.abs(np.log(shares)).max(axis=-1)
    if thinned:
        thin = n[..., -1] / n_paint.sum(axis=-1) / (p[-1] / p_paint.sum())
        error = np.maximum(error, 0.5 * np.abs(np.log(thin)))
    return np.asarray(error)
