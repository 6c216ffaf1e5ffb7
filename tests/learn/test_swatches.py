"""Logged spectra as swatches for the fit."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import LayersimError
from layersim.fitting.measured import fit_swatches
from layersim.learn.swatches import swatches_text
from layersim.log import Chip, Entry, Log
from layersim.measure.swatch import THIS_PAINT
from layersim.measure.swatchfile import read_swatches
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import AreaModel
from layersim.shelf import Shelf
from tests.examples import MOSS

TEXT = """\
format = "layersim scheme 1"
name = "steps"
[[area]]
name = "panel"
ground = "soot primer"
[area.preshade]
white = "chalk white"
passes = 6
[[area.coat]]
name = "first"
paint = "moss green"
thinning = 2
spread = 0
[[area.coat]]
name = "second"
paint = "moss green"
coats = 3
spread = 0
[[area.coat]]
name = "edge"
mix = { "moss green" = 3, "plum ink" = 1 }
where = { from = 60, edge = 10 }
"""


def logged(path: Path, shelf: Shelf) -> tuple[object, Log]:
    path.write_text(TEXT, encoding="utf-8")
    scheme = load_scheme(path, shelf)
    model = AreaModel(scheme, scheme.areas[0], tones=33, sites=1)
    seen = model.reflectance(np.zeros((1, len(model.factors))))[0]
    entries = []
    for stage, step in enumerate(("primer", "pre-shade", "first", "second", "edge")):
        chips = tuple(
            Chip(tone, reflectance=tuple(float(v) for v in seen[stage, place].round(6)))
            for tone, place in (("shadow", 0), ("mid", 16), ("light", 32))
        )
        entries.append(Entry(datetime(2026, 5, 1), "panel", step, chips=chips))
    return scheme, Log(path.with_suffix(".log.jsonl"), tuple(entries), ())


def test_spectra_before_and_after_a_step_are_swatches(tmp_path: Path, shelf: Shelf) -> None:
    scheme, log = logged(tmp_path / "steps.toml", shelf)
    file = tmp_path / "moss.toml"
    file.write_text(swatches_text(scheme, log, "Moss Green"), encoding="utf-8")  # type: ignore[arg-type]
    found = read_swatches(file)
    assert found.paint == "moss green"
    # Three tones of two steps, and of the edge those where most of it lands.
    assert len(found.swatches) == 8
    assert [swatch.coats for swatch in found.swatches[:6]] == [1.0, 1.0, 1.0, 3.0, 3.0, 3.0]
    assert found.swatches[0].thinning == 2.0
    for edge in found.swatches[6:]:
        assert dict(edge.parts) == {THIS_PAINT: 3.0, "plum ink": 1.0}
        assert 0.5 <= (edge.coats or 0.0) <= 1.0
    for swatch in found.swatches:
        assert found.ground(swatch.ground or "").reflectance is not None


def test_the_fit_finds_the_paint_from_the_log(tmp_path: Path, shelf: Shelf) -> None:
    scheme, log = logged(tmp_path / "steps.toml", shelf)
    file = tmp_path / "moss.toml"
    file.write_text(swatches_text(scheme, log, "moss green"), encoding="utf-8")  # type: ignore[arg-type]
    fit = fit_swatches(read_swatches(file), shelf)
    # The steps of the grounds lie within what surfaces in between bring in (matt on matt here).
    assert np.median(np.abs(np.log(fit.paint.K_per_um / MOSS.K_per_um))) < 0.10
    assert np.median(np.abs(np.log(fit.paint.S_per_um / MOSS.S_per_um))) < 0.15


def test_without_spectra_there_are_none(tmp_path: Path, shelf: Shelf) -> None:
    scheme, log = logged(tmp_path / "steps.toml", shelf)
    with pytest.raises(LayersimError, match='found no swatch of "rust"; expected two chips with spectra'):
        swatches_text(scheme, log, "rust")  # type: ignore[arg-type]
