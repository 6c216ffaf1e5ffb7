"""A comparison as JSON, for other programs."""

from __future__ import annotations

from typing import Any, Final

from layersim.chance import COVERED
from layersim.decide.choices import Choice
from layersim.decide.compare import (
    AreaComparison,
    ChoiceInArea,
    Comparison,
    Difference,
    difference_words,
    target_words,
)
from layersim.render.comparison import letter
from layersim.render.jsontext import json_text, rounded
from layersim.render.tojson import seen_json, stages_json, targets_json
from layersim.spectra import FloatArray, wavelengths_nm

FORMAT: Final = "layersim comparison 1"


def comparison_json(comparison: Comparison) -> str:
    """Return a comparison as JSON: every choice's stages and tones, and how far apart they end.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
    """
    return json_text(
        {
            "format": FORMAT,
            "wavelength_nm": wavelengths_nm().astype(int).tolist(),
            "range_holds": COVERED,
            "choices": [_choice(index, choice) for index, choice in enumerate(comparison.choices)],
            "areas": [_area(area, comparison) for area in comparison.areas],
            "same_in_every_choice": list(comparison.same),
            "notices": list(comparison.notices),
        }
    )


def _choice(index: int, choice: Choice) -> dict[str, Any]:
    viewing = choice.scheme.viewing
    return {
        "letter": letter(index),
        "name": choice.name,
        "scheme": choice.scheme.name,
        "changes": list(choice.changes),
        "light": viewing.light,
        "observer_degrees": int(viewing.observer),
    }


def _area(area: AreaComparison, comparison: Comparison) -> dict[str, Any]:
    return {
        "name": area.name,
        "stages": [
            {"name": row.name, "in_choices": [letter(k) for k, s in enumerate(row.stages) if s is not None]}
            for row in area.rows
        ],
        "choices": [
            _choice_in_area(index, one, comparison.choices[index]) for index, one in enumerate(area.choices)
        ],
        "differences": [_difference(area, difference) for difference in area.differences],
        "targets_in_words": target_words(area),
    }


def _choice_in_area(index: int, one: ChoiceInArea, choice: Choice) -> dict[str, Any]:
    area, viewing = one.area, choice.scheme.viewing
    return {
        "letter": letter(index),
        **stages_json(area, lambda stage, tone: seen_json(area, stage, tone, viewing)),
        "repeat_delta_e_2000": rounded(one.repeat, 3),
        "targets": targets_json(area),
    }


def _difference(area: AreaComparison, difference: Difference) -> dict[str, Any]:
    before = difference.before_delta_e
    return {
        "first": letter(difference.first),
        "second": letter(difference.second),
        "delta_e_2000": rounded(difference.delta_e, 3),
        "within": _pairs(difference.low, difference.high),
        "within_if_hands_differ": _pairs(difference.apart_low, difference.apart_high),
        "happens_anyway_delta_e_2000": rounded(difference.own, 3),
        "matters": [bool(one) for one in difference.matters],
        "change_lch": [rounded(one, 3) for one in difference.change],
        "change_lch_low": [rounded(one, 3) for one in difference.change_low],
        "change_lch_high": [rounded(one, 3) for one in difference.change_high],
        "before_filter_delta_e_2000": None if before is None else rounded(before, 3),
        "delta_e_2000_under": {light: rounded(shift, 3) for light, shift in difference.under.items()},
        "in_words": difference_words(area, difference),
    }


def _pairs(low: FloatArray, high: FloatArray) -> list[list[float]]:
    return [list(pair) for pair in zip(rounded(low, 3), rounded(high, 3), strict=True)]
