"""What to mix for a batch, as JSON for other programs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Final

from layersim.chance import COVERED
from layersim.estimate import Estimate
from layersim.plan.cautions import Caution
from layersim.plan.records import Cause, MixQuantity, Part, Quantities
from layersim.plan.shopping import Purchase

FORMAT: Final = "layersim quantities 1"


def quantities_json(
    found: Quantities, *, bought: Sequence[Purchase], warned: Sequence[Caution], notices: Sequence[str] = ()
) -> str:
    """Return quantities as JSON.

    Parameters
    ----------
    found : Quantities
    bought : sequence of Purchase
    warned : sequence of Caution
    notices : sequence of str
        Besides those of `found`.

    Returns
    -------
    str
    """
    batch = found.scheme.batch
    content = {
        "format": FORMAT,
        "scheme": found.scheme.name,
        "range_holds": COVERED,
        "models": batch.models,
        "figure_cm2": None if found.figure_cm2 is None else _estimate(found.figure_cm2),
        "areas": [{"name": one.name, "cm2_a_model": _estimate(one.cm2)} for one in found.surfaces],
        "assumptions": {
            "transfer_efficiency": _estimate(batch.transfer_efficiency),
            "brush_efficiency": _estimate(batch.brush_efficiency),
            "drop_ul": _estimate(batch.drop_ul),
            "loss_ml": _estimate(batch.loss_ml),
            "brush_loss_ml": _estimate(batch.brush_loss_ml),
            "cup_ml": batch.cup_ml,
            "touch_up": batch.touch_up,
            "reserve": batch.reserve,
            "primer_coats": batch.primer_coats,
            "sprayer": None if batch.sprayer is None else batch.sprayer.name,
            "surface": "every step of the shade axis has the same share of the surface",
        },
        "mixes": [_mix(one) for one in found.mixes],
        "totals": [
            {
                "name": one.total.name,
                "mix_ml": _rounded(one.total.mix_ml),
                "need_ml_within": [_rounded(one.total.need_low_ml), _rounded(one.total.need_high_ml)],
                "owned_ml": one.owned_ml,
                "short_ml": _rounded(one.short_ml),
            }
            for one in bought
        ],
        "need_ml": _rounded(found.need_ml),
        "need_ml_within": [_rounded(found.need_low_ml), _rounded(found.need_high_ml)],
        "need_ml_within_if_first_cause_known": [_rounded(found.known_low_ml), _rounded(found.known_high_ml)],
        "causes": _causes(found.causes),
        "cautions": [{"key": c.key, "words": c.words, "paints": list(c.paints)} for c in warned],
        "notices": [*found.notices, *notices],
    }
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def _mix(quantity: MixQuantity) -> dict[str, Any]:
    return {
        "name": quantity.name,
        "recipe": quantity.mix.words(),
        "volume_solids": _rounded(quantity.volume_solids),
        "uses": [
            {
                "area": use.area,
                "step": use.step,
                "by": use.by,
                "dry_film_um": _rounded(use.film_um),
                "share_landed": _rounded(use.landed),
                "surface_cm2": _rounded(use.surface_cm2),
            }
            for use in quantity.uses
        ],
        "work_ml": _rounded(quantity.work_ml),
        "need_ml": _rounded(quantity.need_ml),
        "need_ml_within": [_rounded(quantity.need_low_ml), _rounded(quantity.need_high_ml)],
        "mix_ml": _rounded(quantity.mix_ml),
        "fillings": quantity.fillings,
        "parts": _parts(quantity.parts),
        "enough": round(quantity.enough, 3),
        "sure": {
            "enough": round(quantity.sure.enough, 3),
            "mix_ml": _rounded(quantity.sure.mix_ml),
            "fillings": quantity.sure.fillings,
            "parts": _parts(quantity.sure.parts),
        },
        "rounding_delta_e_2000": round(quantity.rounding_delta_e, 3),
        "causes": _causes(quantity.causes),
        "warnings": [warning.words for warning in quantity.warnings],
    }


def _parts(parts: Sequence[Part]) -> list[dict[str, Any]]:
    return [
        {
            "name": part.name,
            "thinner": part.paint is None,
            "drops_a_filling": part.drops,
            "ml": _rounded(part.ml),
        }
        for part in parts
    ]


def _causes(causes: Sequence[Cause]) -> list[dict[str, Any]]:
    return [{"what": c.what, "advice": c.advice, "share": round(c.share, 4)} for c in causes]


def _estimate(estimate: Estimate) -> dict[str, Any]:
    return {
        "value": _rounded(estimate.value),
        "within": [_rounded(estimate.low), _rounded(estimate.high)],
        "basis": estimate.basis,
    }


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")
