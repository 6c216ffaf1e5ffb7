"""K and S made for diffuse light: made over for two cones, they show the same films."""

from __future__ import annotations

import numpy as np
import pytest

from layersim import colour
from layersim.optics import cones
from layersim.optics.diffuse import made_for_cones
from layersim.spectra import FloatArray
from tests.judge.radiative_transfer import TUNING
from tests.validation.errors import VIEW
from tests.validation.models import TWO_CONES, TWO_FLUXES, Constants, Model
from tests.validation.stacks import PALETTES, _invented, _rendered, predicted
from tests.validation.swatches import COAT_UM, card, card_by, fitted


def off(said: FloatArray, true: FloatArray) -> FloatArray:
    return colour.delta_e_2000(colour.lab(said, VIEW), colour.lab(true, VIEW))


def test_textbook_constants_of_swatches_serve_in_stacks_once_made_over() -> None:
    """Fitted by the textbook to rendered swatches of tuning pigments, then stacks by radiative transfer."""
    diffuse = {name: fitted(TWO_FLUXES, name) for name in TUNING}
    over = {name: made_for_cones(K_per_um=K, S_per_um=S, coat_um=COAT_UM) for name, (K, S) in diffuse.items()}
    rng = np.random.default_rng(1931)
    stacks = [_rendered(_invented(PALETTES[0], rng, coats=4 + i % 3)) for i in range(2)]

    def mean(model: Model, constants: dict[str, Constants]) -> float:
        finish = [off(predicted(model, truth.stack, constants)[-1], truth.stages[-1]) for truth in stacks]
        return float(np.mean(finish))

    unmarked, textbook, marked = mean(TWO_CONES, diffuse), mean(TWO_FLUXES, diffuse), mean(TWO_CONES, over)
    assert marked < 1.4
    assert marked < 0.5 * textbook
    assert marked < 0.4 * unmarked


@pytest.mark.parametrize("name", ["iron oxide red", "phthalo green", "carbon black", "blue ink"])
def test_the_reference_films_look_as_by_the_textbook(name: str) -> None:
    K, S = fitted(TWO_FLUXES, name)
    over = made_for_cones(K_per_um=K, S_per_um=S, coat_um=COAT_UM)
    bare = card(name).bare
    textbook = card_by(TWO_FLUXES, (K, S), bare)
    as_they_are = off(card_by(TWO_CONES, (K, S), bare), textbook)
    made_over = off(card_by(TWO_CONES, over, bare), textbook)
    assert made_over.mean() < 0.4 * as_they_are.mean()
    assert made_over.mean() < 2.0


def test_nothing_stays_nothing_and_extremes_stay_finite() -> None:
    K = np.array([0.0, 0.0, 0.5, 1e-6, 50.0, 1e-4, 1000.0])
    S = np.array([0.0, 0.3, 0.0, 1e-6, 50.0, 20.0, 1000.0])
    K2, S2 = made_for_cones(K_per_um=K, S_per_um=S, coat_um=4.0)
    assert np.isfinite(K2).all()
    assert np.isfinite(S2).all()
    np.testing.assert_array_equal(K2 == 0.0, K == 0.0)
    np.testing.assert_array_equal(S2 == 0.0, S == 0.0)
    cones.medium(K_per_um=K2, S_per_um=S2)


def test_thickness_and_constants_scale_together() -> None:
    K, S = made_for_cones(K_per_um=[0.3, 0.02], S_per_um=[0.02, 0.2], coat_um=3.0)
    K10, S10 = made_for_cones(K_per_um=[0.03, 0.002], S_per_um=[0.002, 0.02], coat_um=30.0)
    np.testing.assert_allclose(K10 * 10.0, K, rtol=1e-4)
    np.testing.assert_allclose(S10 * 10.0, S, rtol=1e-4)
