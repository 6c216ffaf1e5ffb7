"""The Python names: one list, all of them there; and answers that show, save and describe themselves."""

from __future__ import annotations

import copy
import dataclasses
import json
import pickle
import re
from pathlib import Path

import pytest

import layersim
from layersim.scheme.records import Scheme


def test_every_name_is_there_documented_and_known_to_type_checkers() -> None:
    source = Path(layersim.__file__).read_text(encoding="utf-8")
    typed = set(re.findall(r"^    from layersim\S* import \w+ as (\w+)", source, re.MULTILINE))
    assert typed == set(layersim.__all__)
    for name in layersim.__all__:
        assert getattr(layersim, name) is not None
        assert name in dir(layersim)
    for name in re.findall(r":(?:func|meth):`(\w+)", layersim.__doc__ or ""):
        assert name in layersim.__all__


def test_every_exception_can_be_caught_by_its_name() -> None:
    for name in ("LayersimError", "SchemeError", "UnknownNameError", "PaintFileError", "OutputError"):
        assert issubclass(getattr(layersim, name), Exception)
    with pytest.raises(AttributeError, match="no attribute 'NoSuchError'"):
        _ = layersim.NoSuchError  # type: ignore[attr-defined]


def test_a_prediction_is_used_by_names_and_fits_a_screen(rig: Scheme) -> None:
    seen = rig.predict(tones=3)
    assert seen.to_dict() == layersim.simulate(rig, tones=3).to_dict()
    assert rig["Cloth"]["filter"].is_filter
    with pytest.raises(layersim.UnknownNameError, match='Did you mean "filter"'):
        rig["cloth"]["filtr"]
    for record in (rig, rig["cloth"], rig["cloth"]["filter"], rig["cloth"].ground):
        assert len(repr(record)) < 500
        assert repr(pickle.loads(pickle.dumps(record))) == repr(copy.deepcopy(record)) == repr(record)
        assert dataclasses.asdict(record)
    assert seen["Cloth"] is seen.areas[0]
    assert seen["cloth"].stages[seen["cloth"].stage("filter")].name == "filter"
    with pytest.raises(layersim.UnknownNameError, match='Did you mean "cloth"'):
        seen["clot"]
    assert len(repr(seen)) < 500


def test_answers_are_saved_printed_copied_and_pickled(rig: Scheme, tmp_path: Path) -> None:
    for answer in (layersim.simulate(rig, tones=2, sites=1, draws=2), layersim.quantities(rig)):
        for ending in ("png", "pdf", "svg", "html", "json"):
            path = answer.save(str(tmp_path / f"x.{ending}"))
            assert path.stat().st_size > 500
        assert json.loads((tmp_path / "x.json").read_text(encoding="utf-8")) == answer.to_dict()
        assert rig.name in str(answer)
        assert len(repr(answer)) < 500
        assert "<table" in answer._repr_html_()
        assert str(pickle.loads(pickle.dumps(answer))) == str(copy.deepcopy(answer)) == str(answer)
        assert dataclasses.asdict(answer)
    with pytest.raises(layersim.OutputError, match="png, pdf, svg or html"):
        answer.save(tmp_path / "x.txt")
