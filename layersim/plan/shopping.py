"""What a batch takes of each paint, against what somebody owns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from layersim.names import slug
from layersim.plan.records import Quantities, Total
from layersim.scheme.batch import Owned, unknown_owned


@dataclass(frozen=True)
class Purchase:
    """One paint or thinner: what is taken, what is there."""

    total: Total
    owned_ml: float | None
    """None where nobody said; 0 for a paint that is not in the list."""

    @property
    def short_ml(self) -> float:
        """What is missing of the amount to mix, ml; 0 where nobody said what is owned."""
        short = 0.0 if self.owned_ml is None else self.total.mix_ml - self.owned_ml
        # Drops summed up are never short by a rounding error alone.
        return short if short > 1e-6 else 0.0

    @property
    def words(self) -> str:
        """What to do about it: "enough", "may run short", "buy 3.2 ml or more"; empty where unknown."""
        if self.owned_ml is None:
            return ""
        if self.short_ml > 0.0:
            return f"buy {_rounded_up(self.short_ml)} ml or more"
        return "may run short" if self.owned_ml < self.total.need_high_ml else "enough"


def purchases(found: Quantities) -> tuple[tuple[Purchase, ...], tuple[str, ...]]:
    """Return every paint and thinner against what is owned, and names that look like slips.

    Returns notices.
    """
    owned = found.scheme.batch.owned
    if owned is None:
        return tuple(Purchase(total, None) for total in found.totals), ()
    notices = unknown_owned(owned, {slug(total.name): total.name for total in found.totals})
    return tuple(Purchase(total, _amount(total, owned)) for total in found.totals), tuple(notices)


def _amount(total: Total, owned: Sequence[Owned]) -> float | None:
    by_name = {slug(entry.name): entry.ml for entry in owned}
    if total.paint is None:
        # Nobody lists tap water: a thinner counts only where it is named.
        return by_name.get(slug(total.name))
    return by_name.get(slug(total.name), 0.0)


def _rounded_up(ml: float) -> str:
    """Return millilitres rounded up, so that what is bought is enough."""
    digits = 2 if ml < 1.0 else 1 if ml < 100.0 else 0
    return f"{math.ceil(ml * 10**digits - 1e-9) / 10**digits:.{digits}f}"
