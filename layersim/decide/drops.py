"""How many drops of paint a batch takes: one drop wrong is judged in the mix that would be made."""

from __future__ import annotations

import math
from collections.abc import Iterable

from layersim.scheme.records import Area, Coat, Scheme


def drops_needed(scheme: Scheme, area: Area, coat: Coat, *, landed: float) -> float:
    """Return how many drops of paint a coat takes on all models, with the reserve; thinner not counted.

    `landed` is the share of its film that the area gets on average. As :mod:`layersim.plan.volume` has it,
    but without its doubts; a mesh counts as its size class.
    """
    batch, extent = scheme.batch, area.extent
    each = 1.0 / max(1, len(scheme.areas))
    share = each if extent.share is None else extent.share
    cm2 = extent.surface_cm2.value if extent.surface_cm2 else batch.sized.value * share
    stays = batch.brush_efficiency if coat.by == "brush" else batch.transfer_efficiency
    loss = batch.brush_loss_ml if coat.by == "brush" else batch.loss_ml
    wet_cm = 1e-4 * coat.total_film_um / coat.mix.volume_solids
    ml = cm2 * batch.models * wet_cm * landed * (1.0 + batch.touch_up) / stays.value + loss.value
    return ml * (1.0 + batch.reserve) * 1000.0 / batch.drop_ul.value / (1.0 + coat.mix.thinning)


def fold(need: float, parts: Iterable[float]) -> int:
    """Return how many times a ratio in whole drops is mixed: the least that gives the drops needed.

    >>> fold(7.0, (4, 1)), fold(2.0, (4, 1))
    (2, 1)
    """
    return max(1, math.ceil(need * (1.0 - 1e-12) / sum(parts)))
