"""What is said and shown of each answer, as data: titles, sentences, tables, strips. One file an answer."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from layersim.views.parts import View

OF: Final = {
    "BenchCard": "card",
    "Comparison": "compare",
    "Corrections": "correct",
    "Figure": "figure",
    "Fit": "fit",
    "FormFigure": "figure",
    "Match": "match",
    "MetalFit": "metalfit",
    "Order": "order",
    "Prediction": "preview",
    "Quantities": "quantities",
    "SwatchCard": "paint",
    "Tolerance": "tolerance",
}
"""Which file here shows which answer, by the name of its class; its data is called the same."""


def of(answer: Any) -> View:
    """Return what is shown of an answer. Raises KeyError for what is no answer."""
    module = importlib.import_module(f"layersim.views.{name_of(answer)}")
    view: View = module.view(answer)
    return view


def name_of(answer: Any) -> str:
    """Return what an answer goes by, as file, as data and as command."""
    return OF[type(answer).__name__]
