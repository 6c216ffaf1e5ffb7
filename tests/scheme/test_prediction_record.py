"""A prediction as a record: it prints in a few lines, and goes through pickle, copy and asdict."""

import copy
import dataclasses
import pickle

import numpy as np

from layersim.resources import demo_scheme
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import simulate

PREDICTION = simulate(load_scheme(demo_scheme()), tones=2, sites=1, draws=0)


def test_it_fits_a_screen() -> None:
    lines = repr(PREDICTION).splitlines()
    assert len(lines) == 1 + len(PREDICTION.areas)
    assert max(map(len, lines)) < 100
    assert all(area.name in line for area, line in zip(PREDICTION.areas, lines[1:], strict=True))


def test_it_can_be_kept_and_copied() -> None:
    for same in (pickle.loads(pickle.dumps(PREDICTION)), copy.deepcopy(PREDICTION)):
        assert same.areas[0].stages == PREDICTION.areas[0].stages
        np.testing.assert_array_equal(same.areas[0].lab, PREDICTION.areas[0].lab)
        assert same.scheme.times.drying == PREDICTION.scheme.times.drying


def test_it_becomes_a_dict() -> None:
    asked = dataclasses.asdict(PREDICTION)
    assert asked["areas"][0]["name"] == PREDICTION.areas[0].name
    assert asked["scheme"]["name"] == PREDICTION.scheme.name
