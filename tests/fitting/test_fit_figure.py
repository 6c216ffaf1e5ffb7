"""The picture and the words of a fit."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from layersim import colour
from layersim.chance import NINETY
from layersim.fitting.doubts import TYPICAL_COATS, TYPICAL_GROUNDS
from layersim.fitting.measured import fit_swatches
from layersim.fitting.result import Fit
from layersim.render.fit import fit_figure
from layersim.render.fitwords import fit_text
from layersim.shelf import Shelf
from layersim.spectra import BANDS
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
    for name, off in zip(fit.names, fit.delta_e, strict=True):
        assert name in words
        assert f"\n{off:.1f}" in words
    assert words.count("  left out") == 1
    assert 'Left out: "2 over black"' in words
    assert "Usable, but not yet good." in words
    assert "of 6 swatches did not agree" in words


def test_the_two_halves_of_a_swatch_touch_and_have_its_colours() -> None:
    fit = spoilt()
    view = colour.Viewing()
    [blocks] = fit_figure(fit).axes[0].collections
    fills = [tuple(np.round(fill[:3], 6)) for fill in blocks.get_facecolors()]
    for i in range(len(fit.names)):
        halves = []
        for lab in (fit.measured_lab[i], fit.fitted_lab[i]):
            shown = colour.on_screen(colour.xyz_from_lab(lab, view.white), view.white)
            at = fills.index(tuple(np.round(shown.rgb, 6)))
            halves.append(blocks.get_paths()[at].get_extents())
        assert halves[0].y0 == halves[1].y0
        assert halves[0].x1 == pytest.approx(halves[1].x0, abs=0.01)


def test_the_picture_draws_the_spectra_and_the_constants_with_their_band_on_plain_axes() -> None:
    fit = fit_swatches(six(*violet()), Shelf([]))
    _, spectra, absorption, scattering = fit_figure(fit).axes
    assert len(spectra.lines) == 2 * len(fit.names)
    np.testing.assert_allclose(spectra.lines[0].get_ydata(), fit.fitted[0])
    wide = NINETY * np.sqrt(np.diag(fit.covariance))
    for axes, values, spread in (
        (absorption, fit.paint.K_per_um, wide[:BANDS]),
        (scattering, fit.paint.S_per_um, wide[BANDS : 2 * BANDS]),
    ):
        assert axes.get_yscale() == "linear"
        np.testing.assert_allclose(axes.lines[0].get_ydata(), values)
        [band] = axes.collections
        edges = band.get_paths()[0].vertices[:, 1]
        assert edges.min() == pytest.approx((values * np.exp(-spread)).min())
        assert edges.max() == pytest.approx((values * np.exp(spread)).max())
        assert axes.get_ylim()[1] > edges.max()


def test_the_ranges_of_typical_coats_are_those_of_the_verdict() -> None:
    """The root mean square of the numbers drawn is the one number that the verdict gives."""
    fit = fit_swatches(six(*violet()), Shelf([]))
    drawn = [float(word.removeprefix("± ")) for word in words_of(fit).splitlines() if word.startswith("± ")]
    assert len(drawn) == len(TYPICAL_COATS) * len(TYPICAL_GROUNDS)
    assert np.sqrt(np.mean(np.square(drawn))) == pytest.approx(fit.verdict.reach, abs=0.04)


def test_many_swatches_and_a_band_that_knows_nothing_stay_on_the_page() -> None:
    fit = fit_swatches(six(*violet()), Shelf([]))
    many = 9
    open_sky = dataclasses.replace(
        fit,
        names=tuple(f"{name} {i}" for i in range(many) for name in fit.names),
        measured=None,
        **{
            key: np.concatenate([getattr(fit, key)] * many)
            for key in ("fitted", "measured_lab", "fitted_lab")
        },
        **{key: np.concatenate([getattr(fit, key)] * many) for key in ("delta_e", "kept")},
        covariance=4.0 * np.eye(2 * BANDS),
    )
    figure = fit_figure(open_sky, coat_um=1.0)
    assert "... and 14 more" in "\n".join(text.get_text() for text in figure.axes[0].texts)
    assert figure.axes[2].get_ylim()[1] < 3.0 * fit.paint.K_per_um.max()
    assert figure.axes[1].get_legend() is None


def test_the_words_tell_the_verdict_and_the_left_out() -> None:
    words = fit_text(spoilt(), in_colour=False)
    assert "left out" in words
    assert 'Left out: "2 over black"' in words
    assert "Usable, but not yet good" in words
    assert "\x1b[" not in words
    assert "\x1b[" in fit_text(spoilt(), in_colour=True)
