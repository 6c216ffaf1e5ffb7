"""See and decide what thin coats of paint do over a pre-shade, before spraying.

The commands' counterparts in Python:

==============================  ========================================================================
``layersim preview SCHEME``     :func:`load_scheme`, :func:`simulate`, :func:`save_strips`
``layersim compare SCHEME``     :func:`choices`, :func:`compare`, :func:`comparison_figure`
``layersim tolerance SCHEME``   :func:`tolerance`, :func:`tolerance_figure`
``layersim check SCHEME``       :func:`load_scheme`
``layersim paints``             :meth:`Shelf.places`
``layersim paint NAME``         :meth:`Shelf.find`, :func:`swatch_card`
``layersim fit SWATCHES``       :func:`read_any_swatches`, :func:`fit_swatches`, :func:`fit_photograph`,
                                :func:`fit_figure`, :func:`write_paint`
``layersim quantities SCHEME``  :func:`quantities`, :func:`purchases`, :func:`cautions`
``layersim order SCHEME``       :func:`order`, :func:`gantt_figure`
``layersim card SCHEME``        :func:`bench_card`, :func:`bench_html`, :func:`bench_figures`
``layersim log SCHEME``         :func:`add_entry`, :func:`read_log`, :func:`compared`, :func:`learn_films`
``layersim weigh SPRAYER``      :func:`transfer_efficiency`, :func:`drop_size_ul`, :func:`write_sprayer`
``layersim match SCHEME``       :func:`match`, :func:`reach_of`, :func:`match_figure`
``layersim correct SCHEME``     :func:`correct`
==============================  ========================================================================

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
    from layersim.decide.artwork import read_artwork as read_artwork
    from layersim.decide.choices import Choice as Choice
    from layersim.decide.choices import choices as choices
    from layersim.decide.compare import compare as compare
    from layersim.decide.correction import correct as correct
    from layersim.decide.match import match as match
    from layersim.decide.reach import reach_of as reach_of
    from layersim.decide.recipes import Limits as Limits
    from layersim.decide.tolerance import tolerance as tolerance
    from layersim.errors import LayersimError as LayersimError
    from layersim.fitting.measured import fit_swatches as fit_swatches
    from layersim.fitting.photographed import fit_photograph as fit_photograph
    from layersim.learn.beside import compared as compared
    from layersim.learn.films import learn_films as learn_films
    from layersim.learn.swatches import swatches_text as swatches_text
    from layersim.log import Entry as Entry
    from layersim.log import add_entry as add_entry
    from layersim.log import log_path as log_path
    from layersim.log import read_log as read_log
    from layersim.measure.swatchfile import read_any_swatches as read_any_swatches
    from layersim.measure.swatchfile import read_swatches as read_swatches
    from layersim.paint import Doubt as Doubt
    from layersim.paint import Paint as Paint
    from layersim.paintfile import read_paint as read_paint
    from layersim.paintfile import write_paint as write_paint
    from layersim.plan.cautions import cautions as cautions
    from layersim.plan.order import order as order
    from layersim.plan.quantities import quantities as quantities
    from layersim.plan.shopping import purchases as purchases
    from layersim.plan.weighing import drop_size_ul as drop_size_ul
    from layersim.plan.weighing import transfer_efficiency as transfer_efficiency
    from layersim.render.benchcard import bench_card as bench_card
    from layersim.render.benchpage import bench_html as bench_html
    from layersim.render.benchprint import bench_figures as bench_figures
    from layersim.render.comparison import comparison_figure as comparison_figure
    from layersim.render.fit import fit_figure as fit_figure
    from layersim.render.gantt import gantt_figure as gantt_figure
    from layersim.render.match import match_figure as match_figure
    from layersim.render.strip import save_strips as save_strips
    from layersim.render.strip import strip_figure as strip_figure
    from layersim.render.tojson import predictions_json as predictions_json
    from layersim.render.tolerance import tolerance_figure as tolerance_figure
    from layersim.resources import demo_scheme as demo_scheme
    from layersim.scheme.prediction import Prediction as Prediction
    from layersim.scheme.reading import load_scheme as load_scheme
    from layersim.scheme.records import Scheme as Scheme
    from layersim.scheme.simulate import simulate as simulate
    from layersim.shelf import Shelf as Shelf
    from layersim.sprayer import Sprayer as Sprayer
    from layersim.sprayer import read_sprayer as read_sprayer
    from layersim.sprayer import write_sprayer as write_sprayer
    from layersim.swatchcard import swatch_card as swatch_card

_HOMES = {
    "Choice": "decide.choices",
    "Doubt": "paint",
    "Entry": "log",
    "LayersimError": "errors",
    "Limits": "decide.recipes",
    "Paint": "paint",
    "Prediction": "scheme.prediction",
    "Scheme": "scheme.records",
    "Shelf": "shelf",
    "Sprayer": "sprayer",
    "Viewing": "colour",
    "add_entry": "log",
    "bench_card": "render.benchcard",
    "bench_figures": "render.benchprint",
    "bench_html": "render.benchpage",
    "cautions": "plan.cautions",
    "choices": "decide.choices",
    "compare": "decide.compare",
    "compared": "learn.beside",
    "comparison_figure": "render.comparison",
    "correct": "decide.correction",
    "demo_scheme": "resources",
    "drop_size_ul": "plan.weighing",
    "fit_figure": "render.fit",
    "fit_photograph": "fitting.photographed",
    "fit_swatches": "fitting.measured",
    "gantt_figure": "render.gantt",
    "learn_films": "learn.films",
    "load_scheme": "scheme.reading",
    "log_path": "log",
    "match": "decide.match",
    "match_figure": "render.match",
    "order": "plan.order",
    "predictions_json": "render.tojson",
    "purchases": "plan.shopping",
    "quantities": "plan.quantities",
    "reach_of": "decide.reach",
    "read_any_swatches": "measure.swatchfile",
    "read_artwork": "decide.artwork",
    "read_log": "log",
    "read_paint": "paintfile",
    "read_sprayer": "sprayer",
    "read_swatches": "measure.swatchfile",
    "save_strips": "render.strip",
    "simulate": "scheme.simulate",
    "strip_figure": "render.strip",
    "swatch_card": "swatchcard",
    "swatches_text": "learn.swatches",
    "tolerance": "decide.tolerance",
    "tolerance_figure": "render.tolerance",
    "transfer_efficiency": "plan.weighing",
    "write_paint": "paintfile",
    "write_sprayer": "sprayer",
}

__all__ = [  # spelt out, so that type checkers can read it
    "Choice",
    "Doubt",
    "Entry",
    "LayersimError",
    "Limits",
    "Paint",
    "Prediction",
    "Scheme",
    "Shelf",
    "Sprayer",
    "Viewing",
    "add_entry",
    "bench_card",
    "bench_figures",
    "bench_html",
    "cautions",
    "choices",
    "compare",
    "compared",
    "comparison_figure",
    "correct",
    "demo_scheme",
    "drop_size_ul",
    "fit_figure",
    "fit_photograph",
    "fit_swatches",
    "gantt_figure",
    "learn_films",
    "load_scheme",
    "log_path",
    "match",
    "match_figure",
    "order",
    "predictions_json",
    "purchases",
    "quantities",
    "reach_of",
    "read_any_swatches",
    "read_artwork",
    "read_log",
    "read_paint",
    "read_sprayer",
    "read_swatches",
    "save_strips",
    "simulate",
    "strip_figure",
    "swatch_card",
    "swatches_text",
    "tolerance",
    "tolerance_figure",
    "transfer_efficiency",
    "write_paint",
    "write_sprayer",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'layersim' has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module(f"layersim.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return __all__
