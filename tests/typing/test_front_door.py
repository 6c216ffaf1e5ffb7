"""The types that somebody's own program sees: mypy reads this file in `make check`, and pytest runs it."""

from __future__ import annotations

from typing import assert_type

import numpy as np
import numpy.typing as npt

import layersim


def test_a_scheme_and_its_prediction_have_types() -> None:
    scheme = layersim.load_scheme(layersim.demo_scheme())
    assert_type(scheme, layersim.Scheme)
    prediction = layersim.simulate(scheme, tones=3)
    assert_type(prediction, layersim.Prediction)
    assert_type(prediction.areas[0].lab, npt.NDArray[np.float64])


def test_a_paint_on_the_shelf_has_a_type() -> None:
    assert_type(layersim.Shelf.usual().find("airbrush white"), layersim.Paint)
