"""See and decide what thin coats of paint do over a preshade, before spraying.

>>> import layersim
>>> scheme = layersim.load_scheme(layersim.demo_scheme())
>>> prediction = scheme.predict(tones=5)
>>> prediction["wax cloth"].lab.shape  # stages, tones, L*a*b*
(8, 5, 3)

Every answer shows itself: ``print(prediction)``, ``prediction.save("strip.png")`` (or .pdf, .svg, .html,
.json) and ``prediction.to_dict()``. The commands' counterparts:

==============================  ========================================================================
``layersim preview SCHEME``     :func:`load_scheme`, :meth:`Scheme.predict`, :func:`simulate`
``layersim check SCHEME``       :func:`load_scheme`
``layersim compare SCHEME``     :func:`choices`, :func:`compare`
``layersim tolerance SCHEME``   :func:`tolerance`
``layersim match SCHEME``       :func:`match`, :func:`reach_of`, :func:`read_artwork`
``layersim correct SCHEME``     :func:`correct`
``layersim quantities SCHEME``  :func:`quantities`, :func:`purchases`, :func:`cautions`
``layersim order SCHEME``       :func:`order`
``layersim card SCHEME``        :func:`bench_card`
``layersim log SCHEME``         :func:`add_entry`, :func:`read_log`, :func:`compared`, :func:`learn_films`
``layersim weigh SPRAYER``      :func:`transfer_efficiency`, :func:`drop_size_ul`, :func:`write_sprayer`
``layersim paints``             :meth:`Shelf.places`
``layersim paint NAME``         :meth:`Shelf.find`, :func:`swatch_card`
``layersim fit SWATCHES``       :func:`read_any_swatches`, :func:`fit_swatches`, :func:`fit_metal`,
                                :func:`fit_photograph`, :func:`write_paint`
==============================  ========================================================================

Names are imported when they are first used, so that ``import layersim`` costs nothing.
"""

from __future__ import annotations

TYPE_CHECKING = False
if TYPE_CHECKING:  # importing `typing` would take longer than the rest of this module
    from typing import Any

    from layersim.bench.content import bench_card as bench_card
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
    from layersim.fitting.metal import fit_metal as fit_metal
    from layersim.fitting.photographed import fit_photograph as fit_photograph
    from layersim.learn.beside import compared as compared
    from layersim.learn.films import learn_films as learn_films
    from layersim.learn.swatches import swatches_text as swatches_text
    from layersim.log import Entry as Entry
    from layersim.log import add_entry as add_entry
    from layersim.log import log_path as log_path
    from layersim.log import read_log as read_log
    from layersim.measure.swatchfile import read_any_swatches as read_any_swatches
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
    from layersim.resources import demo_scheme as demo_scheme
    from layersim.scheme.prediction import AreaPrediction as AreaPrediction
    from layersim.scheme.prediction import Prediction as Prediction
    from layersim.scheme.reading import load_scheme as load_scheme
    from layersim.scheme.records import Area as Area
    from layersim.scheme.records import Coat as Coat
    from layersim.scheme.records import Mix as Mix
    from layersim.scheme.records import Scheme as Scheme
    from layersim.scheme.records import Targets as Targets
    from layersim.scheme.simulate import simulate as simulate
    from layersim.shelf import Shelf as Shelf
    from layersim.sprayer import Sprayer as Sprayer
    from layersim.sprayer import read_sprayer as read_sprayer
    from layersim.sprayer import write_sprayer as write_sprayer
    from layersim.swatchcard import swatch_card as swatch_card
    from layersim.version import VERSION as __version__  # noqa: N811

_HOMES = {
    "bench.content": "bench_card",
    "colour": "Viewing",
    "decide.artwork": "read_artwork",
    "decide.choices": "Choice choices",
    "decide.compare": "compare",
    "decide.correction": "correct",
    "decide.match": "match",
    "decide.reach": "reach_of",
    "decide.recipes": "Limits",
    "decide.tolerance": "tolerance",
    "errors": "LayersimError",
    "fitting.measured": "fit_swatches",
    "fitting.metal": "fit_metal",
    "fitting.photographed": "fit_photograph",
    "learn.films": "learn_films",
    "learn.beside": "compared",
    "learn.swatches": "swatches_text",
    "log": "Entry add_entry log_path read_log",
    "measure.swatchfile": "read_any_swatches",
    "paint": "Doubt Paint",
    "paintfile": "read_paint write_paint",
    "plan.cautions": "cautions",
    "plan.order": "order",
    "plan.quantities": "quantities",
    "plan.shopping": "purchases",
    "plan.weighing": "drop_size_ul transfer_efficiency",
    "resources": "demo_scheme",
    "scheme.prediction": "AreaPrediction Prediction",
    "scheme.reading": "load_scheme",
    "scheme.records": "Area Coat Mix Scheme Targets",
    "scheme.simulate": "simulate",
    "shelf": "Shelf",
    "sprayer": "Sprayer read_sprayer write_sprayer",
    "swatchcard": "swatch_card",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = ["__version__", *sorted(_HOME_OF)]


def __getattr__(name: str) -> Any:
    import importlib

    if name == "__version__":
        return importlib.import_module("layersim.version").VERSION
    home = _HOME_OF.get(name)
    if home is None and name.endswith("Error"):
        home = "errors"  # every exception, without a list of them here
    module = None if home is None else importlib.import_module(f"layersim.{home}")
    if module is None or not hasattr(module, name):
        raise AttributeError(f"module 'layersim' has no attribute {name!r}")
    return getattr(module, name)


def __dir__() -> list[str]:
    return __all__
