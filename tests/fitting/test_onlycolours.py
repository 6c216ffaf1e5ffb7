"""Smoothest spectra of colours."""

from __future__ import annotations

import numpy as np

from layersim import colour
from layersim.fitting import onlycolours
from tests.validation import real_stacks
from tests.validation.errors import VIEW
from tests.validation.models import TWO_CONES


def test_they_have_the_colours_that_were_asked_for() -> None:
    lab = np.array([[91.0, -22.0, 68.0], [45.0, 41.0, -24.0], [60.0, -4.0, -43.0], [18.0, 2.0, -1.0]])
    np.testing.assert_allclose(colour.lab(onlycolours.smoothest(lab), VIEW), lab, atol=1e-6)


def test_a_grey_is_flat() -> None:
    flat = np.full((1, 31), 0.3)
    np.testing.assert_allclose(onlycolours.smoothest(colour.lab(flat, VIEW)), flat, atol=1e-9)


def test_no_other_spectrum_of_the_colour_is_smoother() -> None:
    lab = np.array([[55.0, 30.0, 20.0]])
    found = onlycolours.smoothest(lab)[0]
    weights = colour.xyz(np.eye(31), VIEW)
    # A bump that no eye sees, laid on it.
    bump = np.linalg.svd(weights.T)[2][-1]

    def bends(R: np.ndarray) -> float:
        return float((np.diff(np.log(R / (1.0 - R))) ** 2).sum())

    for size in (-0.01, 0.01):
        other = found + size * bump
        np.testing.assert_allclose(colour.lab(other, VIEW), lab[0], atol=1e-6)
        assert bends(other) > bends(found)


def test_smoothest_spectra_are_told_from_a_paint_s_own() -> None:
    lab = np.array([[91.0, -22.0, 68.0], [45.0, 41.0, -24.0], [60.0, -4.0, -43.0]])
    smooth = onlycolours.smoothest(lab)
    assert onlycolours.only_colours(smooth)
    assert onlycolours.only_colours(np.round(smooth, 4))
    # One measured among them is enough: an absorption edge is steeper than any smoothest curve.
    edge = 0.05 + 0.7 / (1.0 + np.exp(-(np.linspace(400.0, 700.0, 31) - 580.0) / 8.0))
    assert not onlycolours.only_colours(np.vstack([smooth, edge]))
    assert not onlycolours.only_colours(np.vstack([smooth, np.full(31, -0.001)]))
    # Greys are flat whoever measured them.
    assert not onlycolours.only_colours(np.stack([np.full(31, 0.03), np.linspace(0.74, 0.82, 31)]))


def test_slopes_of_colours_are_their_derivatives() -> None:
    seen = onlycolours.ColoursOnly()
    R = onlycolours.smoothest(np.array([[60.0, -4.0, -43.0], [25.0, 20.0, 5.0]]))
    step = 1e-6
    slopes = seen.slopes(R)
    for band in (0, 12, 30):
        moved = R.copy()
        moved[:, band] += step
        change = (seen.observe(moved) - seen.observe(R)) / step
        np.testing.assert_allclose(slopes[..., band], change, rtol=1e-4, atol=1e-9)
    # An error of one per cent everywhere is a third of one per cent of each cube root.
    np.testing.assert_allclose(seen.noise(R, 0.01 * R), 0.01 / 3.0 * seen.observe(R))


def test_stacks_known_by_their_colours_alone_are_predicted_as_well_as_real_ones_allow() -> None:
    """Printed layers in every order (validation/measured); K and S from 128 stacks of them leave 2.0."""
    found, used, refused = real_stacks.fits(over_black=True, film_error=None, reading=real_stacks.READING)
    assert refused == 0
    names = [stack for stack in real_stacks.board().lab if stack not in used]
    seen = real_stacks.laid(
        {letter: (p.K_per_um, p.S_per_um) for letter, p in found.items()}, TWO_CONES, names
    )
    off = colour.delta_e_2000(colour.lab(seen, VIEW), np.stack([real_stacks.board().lab[n] for n in names]))
    assert off.mean() < 2.8
