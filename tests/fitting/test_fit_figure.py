"""The picture and the words of a fit."""

from __future__ import annotations

import dataclasses

import numpy as np

from layersim.fitting.measured import fit_swatches
from layersim.fitting.result import Fit
from layersim.render.fit import fit_figure
from layersim.render.fitwords import fit_text
from layersim.shelf import Shelf
from tests.fitting.painter import six, violet


def spoilt() -> Fit:
    of = six(*violet())
    rows = list(of.swatches)
    rows[1] = dataclasses.replace(rows[1], reflectance=np.minimum(rows[1].reflectance + 0.1, 1.0))
    return fit_swatches(dataclasses.replace(of, swatches=tuple(rows)), Shelf([]))


def words_of(fit: Fit) -> str:
    return "\n".join(text.get_text() for axes in fit_figure(fit).axes for text in axes.texts)


def test_the_picture_tells_every_swatch_and_what_was_left_out() -> None:
    fit = spoilt()
    words = words_of(fit)
    for name in fit.names:
        assert name in words
    assert words.count("  left out") == 1
    assert 'Left out: "2 over black"' in words
    assert "Usable: " in words


def test_the_picture_draws_the_spectra_and_the_constants_with_their_band() -> None:
    fit = fit_swatches(six(*violet()), Shelf([]))
    _, spectra, constants = fit_figure(fit).axes
    assert len(spectra.lines) == 2 * len(fit.names)
    np.testing.assert_allclose(spectra.lines[0].get_ydata(), fit.fitted[0])
    np.testing.assert_allclose(constants.lines[0].get_ydata(), fit.paint.K_per_um)
    assert len(constants.collections) == 2


def test_the_words_tell_the_verdict_and_the_left_out() -> None:
    words = fit_text(spoilt(), in_colour=False)
    assert "left out" in words
    assert 'Left out: "2 over black"' in words
    assert "Usable, but not yet good" in words
    assert "\x1b[" not in words
    assert "\x1b[" in fit_text(spoilt(), in_colour=True)
