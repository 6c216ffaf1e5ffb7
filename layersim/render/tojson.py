"""A prediction as JSON, for other programs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from layersim import colour
from layersim.chance import COVERED
from layersim.render.jsontext import json_text, rounded
from layersim.scheme.prediction import AreaPrediction, Prediction
from layersim.spectra import wavelengths_nm

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
    return json_text(content)


def _prediction(prediction: Prediction) -> dict[str, Any]:
    return {
        "scheme": prediction.scheme.name,
        "light": prediction.viewing.light,
        "observer_degrees": int(prediction.viewing.observer),
        "white_xyz": rounded(prediction.viewing.white, 4),
        "notices": list(prediction.notices),
        "areas": [_area(area, prediction.viewing) for area in prediction.areas],
    }


def _area(area: AreaPrediction, viewing: colour.Viewing) -> dict[str, Any]:
    shift, span = area.filter_shift(), area.filter_span
    return {
        "name": area.name,
        **stages_json(area, lambda stage, tone: _tone(area, stage, tone, viewing)),
        "filter": None
        if span is None or shift is None
        else {
            "before": area.stages[span[0]].name,
            "after": area.stages[span[1]].name,
            "delta_e_2000": rounded(shift, 3),
        },
        "targets": targets_json(area),
        "doubts": [
            {"what": c.what, "advice": c.advice, "delta_e_2000": round(c.delta_e, 3)} for c in area.causes
        ],
    }


def stages_json(area: AreaPrediction, tone_json: Callable[[int, int], dict[str, Any]]) -> dict[str, Any]:
    """Return an area's shade axis, and its stages with what is said of every tone.

    Parameters
    ----------
    area : AreaPrediction
    tone_json : callable of (stage, tone)

    Returns
    -------
    dict
    """
    return {
        "shade_axis": "pre-shade L*" if area.has_preshade else "facing the light, per cent",
        "shade": rounded(area.shade, 3),
        "stages": [
            {
                "name": stage.name,
                "recipe": stage.recipe,
                "tones": [tone_json(i, tone) for tone in range(len(area.shade))],
            }
            for i, stage in enumerate(area.stages)
        ],
    }


def targets_json(area: AreaPrediction) -> dict[str, Any]:
    """Return an area's targets and how far its finish is from them.

    Parameters
    ----------
    area : AreaPrediction

    Returns
    -------
    dict
    """
    return {
        key: {"tone": tone, "lab": rounded(wanted, 3), "delta_e_2000": round(miss, 3)}
        for key, (tone, wanted, miss) in area.target_misses().items()
    }


def _tone(area: AreaPrediction, stage: int, tone: int, viewing: colour.Viewing) -> dict[str, Any]:
    return {
        **seen_json(area, stage, tone, viewing),
        "lab_low": rounded(area.lab_low[stage, tone], 3),
        "lab_high": rounded(area.lab_high[stage, tone], 3),
        "delta_e_2000_within": round(float(area.reach[stage, tone]), 3),
        "mottle_delta_e_2000": round(float(area.mottle[stage, tone]), 3),
    }


def seen_json(area: AreaPrediction, stage: int, tone: int, viewing: colour.Viewing) -> dict[str, Any]:
    """Return what is seen of one tone after one stage: its spectrum and its colour.

    Parameters
    ----------
    area : AreaPrediction
    stage, tone : int
    viewing : Viewing
        The light that the prediction is for.

    Returns
    -------
    dict
    """
    shown = colour.on_screen(area.xyz[stage, tone], viewing.white)
    return {
        "reflectance": rounded(area.reflectance[stage, tone], 6),
        "xyz": rounded(area.xyz[stage, tone], 4),
        "lab": rounded(area.lab[stage, tone], 3),
        "sheen": round(float(area.sheen[stage, tone]), 4),
        "srgb": colour.hex_of(shown.rgb),
        "on_screen": bool(shown.shown),
    }
