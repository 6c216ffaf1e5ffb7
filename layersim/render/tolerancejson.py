"""How forgiving a scheme is, as JSON for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

import numpy as np

from layersim.decide.tolerance import AreaTolerance, Tolerance, batch_words
from layersim.render.jsontext import json_text, rounded

FORMAT: Final = "layersim tolerance 1"
SHARES: Final = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Shares of the batches whose worst pair stays below what is written."""


def tolerance_json(result: Tolerance, *, notices: Sequence[str] = ()) -> str:
    """Return how forgiving a scheme is as JSON: every slip, and what a batch comes to.

    Parameters
    ----------
    result : Tolerance
    notices : sequence of str

    Returns
    -------
    str
    """
    return json_text(
        {
            "format": FORMAT,
            "scheme": result.scheme.name,
            "light": result.scheme.viewing.light,
            "models": result.models,
            "batches": result.batches,
            "seed": result.seed,
            "visible_delta_e_2000": result.visible,
            "hand": asdict(result.scheme.hand),
            "chance_of_a_visible_pair": round(result.chance, 5),
            "areas": [_area(area, result) for area in result.areas],
            "notices": list(notices),
        }
    )


def _area(area: AreaTolerance, result: Tolerance) -> dict[str, Any]:
    fit_mean, fit_most, pair_mean, pair_most = area.fit_error
    return {
        "name": area.name,
        "finish_lab": [rounded(lab, 3) for lab in area.lab],
        "slips": [
            {
                "step": slip.step,
                "kind": slip.kind,
                "what": slip.what,
                "mean_delta_e_2000": round(slip.delta_e, 3),
                "largest_delta_e_2000": round(slip.most, 3),
                "other_way_mean_delta_e_2000": round(slip.other, 3),
                "lightness_change": round(slip.darker, 3) + 0.0,
            }
            for slip in area.slips
        ],
        "worst_pair": {
            "delta_e_2000_below": [
                {"share": share, "delta_e_2000": round(float(value), 3)}
                for share, value in zip(SHARES, np.quantile(area.worst, SHARES), strict=True)
            ],
            "most_on_tone": rounded(area.tone_share, 4),
            "chance_visible": round(area.chance, 5),
            "chance_visible_error": round(area.chance_error, 5),
        },
        "habits": [
            {
                "habit": gain.habit,
                "chance_visible": round(gain.chance, 5),
                "worst_pair_delta_e_2000": round(gain.typical, 3),
            }
            for gain in area.gains
        ],
        "fit_error": {
            "mean_delta_e_2000": round(fit_mean, 3),
            "largest_delta_e_2000": round(fit_most, 3),
            "pair_mean_delta_e_2000": round(pair_mean, 3),
            "pair_largest_delta_e_2000": round(pair_most, 3),
        },
        "in_words": batch_words(area, result.models, result.visible),
    }
