"""See and decide what thin coats of paint do over a pre-shade, before spraying.

The commands' counterparts in Python:

=============================  ==========================================================
``layersim preview SCHEME``    :func:`load_scheme`, :func:`simulate`, :func:`save_strips`
``layersim check SCHEME``      :func:`load_scheme`
``layersim paints``            :meth:`Shelf.places`
``layersim paint NAME``        :meth:`Shelf.find`, :func:`swatch_card`
=============================  ==========================================================

Names are imported when they are first used, so that ``import layersim`` costs nothing.

Examples
--------
>>> import layersim
>>> scheme = layersim.load_scheme(layersim.demo_scheme())
>>> prediction = layersim.simulate(scheme, tones=5)
>>> prediction.areas[0].lab.shape  # stages, tones, L*a*b*
(8, 5, 3)
"""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:  # importing `typing` would take longer than the rest of this module
    from typing import Any

    from layersim.colour import Viewing as Viewing
    from layersim.errors import LayersimError as LayersimError
    from layersim.paint import Doubt as Doubt
    from layersim.paint import Paint as Paint
    from layersim.paintfile import read_paint as read_paint
    from layersim.paintfile import write_paint as write_paint
    from layersim.render.strip import save_strips as save_strips
    from layersim.render.strip import strip_figure as strip_figure
    from layersim.render.tojson import predictions_json as predictions_json
    from layersim.resources import demo_scheme as demo_scheme
    from layersim.scheme.prediction import Prediction as Prediction
    from layersim.scheme.reading import load_scheme as load_scheme
    from layersim.scheme.records import Scheme as Scheme
    from layersim.scheme.simulate import simulate as simulate
    from layersim.shelf import Shelf as Shelf
    from layersim.swatchcard import swatch_card as swatch_card

_HOMES = {
    "Doubt": "paint",
    "LayersimError": "errors",
    "Paint": "paint",
    "Prediction": "scheme.prediction",
    "Scheme": "scheme.records",
    "Shelf": "shelf",
    "Viewing": "colour",
    "demo_scheme": "resources",
    "load_scheme": "scheme.reading",
    "predictions_json": "render.tojson",
    "read_paint": "paintfile",
    "save_strips": "render.strip",
    "simulate": "scheme.simulate",
    "strip_figure": "render.strip",
    "swatch_card": "swatchcard",
    "write_paint": "paintfile",
}

__all__ = [  # spelt out, so that type checkers can read it
    "Doubt",
    "LayersimError",
    "Paint",
    "Prediction",
    "Scheme",
    "Shelf",
    "Viewing",
    "demo_scheme",
    "load_scheme",
    "predictions_json",
    "read_paint",
    "save_strips",
    "simulate",
    "strip_figure",
    "swatch_card",
    "write_paint",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'layersim' has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module(f"layersim.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return __all__
