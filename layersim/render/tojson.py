"""A prediction as JSON, for other programs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from layersim import colour
from layersim.scheme.prediction import COVERED, AreaPrediction, Prediction
from layersim.spectra import FloatArray, wavelengths_nm

FORMAT: Final = "layersim prediction 1"


def predictions_json(predictions: Sequence[Prediction]) -> str:
    """Return predictions, one a light, as JSON: each area, stage and tone, its spectrum, colour, range.

    Parameters
    ----------
    predictions : sequence of Prediction

    Returns
    -------
    str
    """
    content = {
        "format": FORMAT,
        "wavelength_nm": wavelengths_nm().astype(int).tolist(),
        "range_holds": COVERED,
        "predictions": [_prediction(prediction) for prediction in predictions],
    }
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def _prediction(prediction: Prediction) -> dict[str, Any]:
    return {
        "scheme": prediction.scheme.name,
        "light": prediction.viewing.light,
        "observer_degrees": int(prediction.viewing.observer),
        "white_xyz": _rounded(prediction.viewing.white, 4),
        "notices": list(prediction.notices),
        "areas": [_area(area, prediction.viewing) for area in prediction.areas],
    }


def _area(area: AreaPrediction, viewing: colour.Viewing) -> dict[str, Any]:
    shift, span = area.filter_shift(), area.filter_span
    return {
        "name": area.name,
        "shade_axis": "pre-shade L*" if area.has_preshade else "facing the light, per cent",
        "shade": _rounded(area.shade, 3),
        "stages": [
            {
                "name": stage.name,
                "recipe": stage.recipe,
                "tones": [_tone(area, i, tone, viewing) for tone in range(len(area.shade))],
            }
            for i, stage in enumerate(area.stages)
        ],
        "filter": None
        if span is None or shift is None
        else {
            "before": area.stages[span[0]].name,
            "after": area.stages[span[1]].name,
            "delta_e_2000": _rounded(shift, 3),
        },
        "targets": {
            key: {"tone": tone, "lab": _rounded(wanted, 3), "delta_e_2000": round(miss, 3)}
            for key, (tone, wanted, miss) in area.target_misses().items()
        },
        "doubts": [
            {"what": c.what, "advice": c.advice, "delta_e_2000": round(c.delta_e, 3)} for c in area.causes
        ],
    }


def _tone(area: AreaPrediction, stage: int, tone: int, viewing: colour.Viewing) -> dict[str, Any]:
    shown = colour.on_screen(area.xyz[stage, tone], viewing.white)
    return {
        "reflectance": _rounded(area.reflectance[stage, tone], 6),
        "xyz": _rounded(area.xyz[stage, tone], 4),
        "lab": _rounded(area.lab[stage, tone], 3),
        "lab_low": _rounded(area.lab_low[stage, tone], 3),
        "lab_high": _rounded(area.lab_high[stage, tone], 3),
        "delta_e_2000_within": round(float(area.reach[stage, tone]), 3),
        "mottle_delta_e_2000": round(float(area.mottle[stage, tone]), 3),
        "sheen": round(float(area.sheen[stage, tone]), 4),
        "srgb": colour.hex_of(shown.rgb),
        "on_screen": bool(shown.shown),
    }


def _rounded(values: FloatArray, digits: int) -> list[float]:
    # Adding zero turns a rounded −0.0 into 0.0.
    return [float(v) for v in np.round(values, digits) + 0.0]
