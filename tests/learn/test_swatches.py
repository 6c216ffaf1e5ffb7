"""Logged spectra as swatches for the fit."""

from __future__ import annotations

import dataclasses
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from layersim.errors import LayersimError, UnknownNameError
from layersim.estimate import Estimate
from layersim.fitting.measured import fit_swatches
from layersim.learn.beside import compared
from layersim.learn.swatches import FACTOR_COUNTED, swatches_text
from layersim.log import Chip, Entry, Log
from layersim.measure.swatch import THIS_PAINT
from layersim.measure.swatchfile import read_any_swatches
from layersim.paintfile import write_paint
from layersim.scheme.ownfilms import with_factor
from layersim.scheme.reading import load_scheme
from layersim.scheme.simulate import AreaModel
from layersim.shelf import Shelf
from tests.examples import GILT, MOSS, fill

TEXT = """\
format = "layersim scheme 1"
name = "steps"
[[area]]
name = "panel"
primer = "soot primer"
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
    for stage, step in enumerate(("primer", "preshade", "first", "second", "edge")):
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
    found = read_any_swatches(file)
    assert found.paint == "moss green"
    # Three tones of two steps, and of the edge those where most of it lands.
    assert len(found.swatches) == 8
    assert [swatch.coats for swatch in found.swatches[:6]] == [1.0, 1.0, 1.0, 3.0, 3.0, 3.0]
    assert found.swatches[0].thinning == 2.0
    for edge in found.swatches[6:]:
        assert dict(edge.parts) == {THIS_PAINT: 3.0, "plum ink": 1.0}
        assert 0.5 <= (edge.coats or 0.0) <= 1.0
    for swatch in found.swatches:
        assert next(g for g in found.grounds if g.name == swatch.ground).reflectance is not None


def test_no_swatch_lies_over_metal_which_was_read_from_one_side(tmp_path: Path) -> None:
    own = fill(tmp_path / "own")
    write_paint(GILT, own / "gilt.toml")
    _, log = logged(tmp_path / "steps.toml", Shelf([own]))
    gilded = TEXT.replace('paint = "moss green"', f'paint = "{GILT.name}"', 1)
    (tmp_path / "steps.toml").write_text(gilded, encoding="utf-8")
    with pytest.raises(LayersimError, match="over no metal"):
        swatches_text(load_scheme(tmp_path / "steps.toml", Shelf([own])), log, "moss green")


def test_the_fit_finds_the_paint_from_the_log(tmp_path: Path, shelf: Shelf) -> None:
    scheme, log = logged(tmp_path / "steps.toml", shelf)
    file = tmp_path / "moss.toml"
    file.write_text(swatches_text(scheme, log, "moss green"), encoding="utf-8")  # type: ignore[arg-type]
    fit = fit_swatches(read_any_swatches(file), shelf)
    off_K = np.abs(np.log(fit.paint.K_per_um / MOSS.K_per_um))
    off_S = np.abs(np.log(fit.paint.S_per_um / MOSS.S_per_um))
    # A thin coat keeps some of the sheen below it, which a swatch of one sheen cannot say. The films were
    # as told, but nobody knows this of coats that are only counted: they give way, and the fit says so.
    assert np.median(off_K) < 0.15
    assert np.median(off_S) < 0.15
    error_K, error_S = (
        np.sqrt(sum(getattr(doubt, name) ** 2 for doubt in fit.paint.doubts)) for name in ("log_K", "log_S")
    )
    assert np.median(off_K / error_K) < 2.0
    assert np.median(off_S / error_S) < 1.0


def test_a_film_that_the_scheme_gives_is_counted_in_the_paints_own_coats(
    tmp_path: Path, shelf: Shelf
) -> None:
    """It was measured by nobody, so that the fit must not take it for a measured film."""
    _, log = logged(tmp_path / "steps.toml", shelf)
    given = TEXT.replace("coats = 3\n", "coats = 3\ndry_film_um = 1.5\n")
    (tmp_path / "steps.toml").write_text(given, encoding="utf-8")
    file = tmp_path / "moss.toml"
    text = swatches_text(load_scheme(tmp_path / "steps.toml", shelf), log, "moss green")
    file.write_text(text, encoding="utf-8")
    swatch = read_any_swatches(file).swatches[3]
    assert swatch.dry_film_um is None
    assert swatch.coats == pytest.approx(3 * 1.5 / (MOSS.wet_film_um * MOSS.volume_solids), rel=1e-4)


def test_a_sprayers_factor_is_in_the_coats_and_that_is_said(tmp_path: Path, shelf: Shelf) -> None:
    scheme, log = logged(tmp_path / "steps.toml", shelf)
    assert FACTOR_COUNTED not in swatches_text(scheme, log, "moss green")  # type: ignore[arg-type]
    factored = with_factor(scheme, Estimate(0.8, 0.1))  # type: ignore[arg-type]
    text = swatches_text(factored, log, "moss green")
    assert FACTOR_COUNTED in text
    file = tmp_path / "moss.toml"
    file.write_text(text, encoding="utf-8")
    assert [swatch.coats for swatch in read_any_swatches(file).swatches[:4]] == pytest.approx(
        [0.8] * 3 + [2.4]
    )


def test_a_paint_fitted_from_the_log_makes_the_next_prediction_better(tmp_path: Path) -> None:
    """The bottle is not what the shelf says; what was sprayed with it is logged and fitted."""
    bottle = dataclasses.replace(MOSS, K_per_um=MOSS.K_per_um * 1.5, S_per_um=MOSS.S_per_um * 0.7)
    true, own = fill(tmp_path / "true"), fill(tmp_path / "own")
    write_paint(bottle, true / "moss-green.toml")
    path = tmp_path / "steps.toml"
    _, log = logged(path, Shelf([true]))
    scheme = load_scheme(path, Shelf([own]))

    def error(shelf: Shelf) -> float:
        return float(np.mean([one.delta_e for one in compared(load_scheme(path, shelf), log).rows]))

    before = error(Shelf([own]))
    file = tmp_path / "moss.toml"
    file.write_text(swatches_text(scheme, log, "moss green"), encoding="utf-8")
    write_paint(fit_swatches(read_any_swatches(file), Shelf([own])).paint, own / "moss-green.toml")
    assert error(Shelf([own])) < 0.5 * before


def test_without_spectra_there_are_none(tmp_path: Path, shelf: Shelf) -> None:
    scheme, log = logged(tmp_path / "steps.toml", shelf)
    none = Log(log.path, log.entries[:2], ())
    with pytest.raises(
        LayersimError, match='found no swatch of "moss green"; expected two chips with spectra'
    ):
        swatches_text(scheme, none, "moss green")  # type: ignore[arg-type]
    with pytest.raises(
        UnknownNameError, match=r'no paint "moss gren" in this scheme\. Did you mean "moss green"'
    ):
        swatches_text(scheme, log, "moss gren")  # type: ignore[arg-type]
